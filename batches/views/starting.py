"""Beginning a run: from a recipe, or with nothing but pots."""

from dataclasses import replace
from uuid import uuid4

from django.db.models import F
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from batches import beginning, colourways, next_time, plan_loads, plan_sheet
from batches.forms.plan_asked import PlanAsked
from batches.forms.starting import BareForm
from batches.models import BatchYarn
from batches.yarns import NOT_SAID, Yarn
from recipes import moving, two_lots
from recipes.models import Recipe
from studio.models import Vessel
from studio.once import only_once
from studio.units import write_count

KEEPS = ("plan", "bench", "start", "ties")  # the buttons that make a run of a plan


@require_GET
def new_run(request):
    """Where a run begins: the standards of the colourways, or the vessels as they usually stand."""
    found = Recipe.objects.filter(colourway__standard=F("pk"), colourway__retired=False)
    standards = list(found.select_related("colourway").order_by("colourway__name"))
    colourways.with_dyes(standards)
    context = {
        "here": "journal",
        "standards": [(recipe, colourways.segments_of(recipe)[0]) for recipe in standards],
        "vessels": [
            {
                "pk": vessel.pk,
                "how_many": vessel.how_many,
                "skeins": vessel.skeins,
                "words": usual_words(vessel),
                "form": BareForm(auto_id=f"vessel{vessel.pk}_%s"),
            }
            for vessel in Vessel.objects.filter(retired=False)
        ],
    }
    return render(request, "batches/new_run.html", context)


def usual_words(vessel):
    """ "8 jars, 1 skein each": a vessel as it usually stands."""
    skeins = vessel.skeins or 1
    each = write_count(skeins, "skein")
    return f"{vessel.how_many} × {vessel.name}, {each} each" if vessel.how_many > 1 else f"{vessel.name}, {each}"


@require_http_methods(["GET", "POST"])
def bare(request):
    """Start with no recipe, no colourway and no lot: the sink is open at once."""
    form = BareForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        return only_once(
            request,
            form.cleaned_data["once"],
            lambda: start_bare(request.user, form.cleaned_data, request.POST.get("do")),
        )
    status = 422 if form.is_bound else 200
    return render(request, "batches/bare_run.html", {"here": "journal", "form": form}, status=status)


def start_bare(person, said, what):
    skeins = said["skeins"] or None
    yarn = said["yarn"] or Yarn.in_words(BatchYarn.Source.UNLABELLED, NOT_SAID)
    if skeins is None and said["lot"]:
        # How much of a lot went in is not known, so none of it can be taken from the shelf: it is said later.
        yarn = Yarn.in_words(BatchYarn.Source.UNLABELLED, NOT_SAID)
    run = beginning.bare(
        yarn, skeins, said["pots"], by=person, day=timezone.localdate(), vessel=said["vessel"], title=said["title"]
    )
    return start(run, person, what)


def start(run, person, what):
    """Start a run; the address of what comes next: the sink, or the labels for its ties where `what` asks for them."""
    run.start(by=person)
    if what == "ties":
        return reverse("batches:ties", args=[run.code])
    return reverse("batches:sink", args=[run.batches.order_by("number").first().pk])


@require_http_methods(["GET", "POST"])
def plan_run(request, recipe_pk):
    """Work out a recipe for yarn and pots; then keep the plan, or start it."""
    recipe = get_object_or_404(Recipe.objects.select_related("colourway"), pk=recipe_pk)
    asked = PlanAsked(recipe, sent(request))
    if asked.asked_for_more():
        return render(request, "batches/plan.html", plan_context(recipe, asked))
    worked = pots = None
    if asked.is_valid():
        worked, pots = work_out(recipe, asked)
    if worked is not None and request.POST.get("do") in KEEPS:
        return only_once(
            request,
            asked.form.cleaned_data["once"],
            lambda: keep(request.user, recipe, asked, worked, pots, request.POST["do"]),
        )
    status = 422 if asked.data is not None and worked is None else 200
    return render(request, "batches/plan.html", plan_context(recipe, asked, worked, pots), status=status)


def sent(request):
    """What the page was sent with; or what an address says in its stead, as one has who comes back with a bottle."""
    if request.method == "POST":
        return request.POST
    if "yarn-TOTAL_FORMS" not in request.GET:
        return None
    data = request.GET.copy()
    data["once"] = str(uuid4())
    return data


def plan_context(recipe, asked, worked=None, pots=None):
    context = {"here": "journal", "recipe": recipe, **asked.context()}
    context["notes"] = next_time.open_notes(recipe.colourway)
    if worked is None:
        return context | {"chosen": said_lots(asked.data or {})}
    said = worked.wishes.rest
    address = plan_sheet.address_of(reverse("batches:plan", args=[recipe.pk]), asked.data)
    return context | {
        **plan_shown(worked, pots, address, max(asked.days)),
        "days": plan_loads.days_of(asked.pots, asked.days, pots),
        "planned_for": plan_loads.asked_in_words(asked.to_dye, asked.pots),
        "asks": worked.moved.asks_hold or worked.moved.asks_scales or asked.parts["move"].asked_otherwise,
        "asks_open": asked.data.get("do") == "propose",  # to be changed by hand next
        "wanted": sum(skeins for _, skeins in asked.wanted),
        "spares": asked.spares,
        "yarn_over_pots": len(asked.wanted) > 1 and len(asked.pots) > 1,
        "rests": [one for one in worked.shortages if one.rest is not None and one.ingredient.pk not in said],
        "mind": plan_loads.to_mind(asked.pots, asked.days, pots, asked.twice_meant),
        "other_versions": moving.versions_for(recipe, [one.base for one in worked.moved.bases]),
    }


def plan_shown(worked, pots, address, last_day):
    """What `_plan_worked.html` shows of a plan for yarn of the shelf. `address`: leads back to all that was asked."""
    of_yarn = {"short_yarn": beginning.short_yarn(pots), "choices": choices_of(worked)}
    return plan_sheet.shown(worked, last_day, back=address) | of_yarn


def chosen_lots(data, name="choose"):
    """{ingredient key: lot key} of the selects named choose-12; of those named rest-12, where to take what it lacks."""
    found = {}
    for box, value in data.items():
        before, _, key = box.partition("-")
        if before == name and _is_key(key) and _is_key(value):
            found[int(key)] = int(value)
    return found


def said_lots(data):
    """[(name of a select, what it stands at)] of the lots that were chosen, for a page that does not ask for them."""
    return [(f"{name}-{key}", lot) for name in ("choose", "rest") for key, lot in chosen_lots(data, name).items()]


def _is_key(text):
    return text.isdecimal() and len(text) < 18


def work_out(recipe, asked):
    """(Plan, the pots' yarn as [[(Yarn, skeins)]]), or (None, None) with the form saying why."""
    vessels, chosen = [pot.vessel for pot in asked.pots], chosen_lots(asked.data)
    wishes = replace(asked.wishes(), rest=chosen_lots(asked.data, "rest"))
    try:
        return beginning.work_out(recipe, asked.to_dye, vessels, chosen, wishes, asked.sizes, asked.days)
    except ValueError as problem:
        asked.blame(str(problem))
        return None, None


def choices_of(worked):
    """For each ingredient with more than one lot to take: its name, key and offers, the taken one first; and where
    somebody takes from two, `rests`, the offers that what the first lacks can come from, and the `rest` they chose.
    """
    said = worked.wishes.rest
    lines = {line.ingredient.pk: line for pot in worked.pots for line in pot.lines if line.ingredient is not None}
    return [
        {
            "key": key,
            "name": lines[key].ingredient.name,
            "offers": offers,
            "rest": said.get(key),
            "rests": [offer for offer in offers[1:] if two_lots.may_join(offers[0], offer)] if key in said else (),
        }
        for key, offers in worked.choices.items()
        if len(offers) > 1 and key in lines
    ]


def keep(person, recipe, asked, worked, pots, what):
    """Write the plan down, a run for each day; start the first day unless all is only to be kept. Where to go next."""
    said = {"day": asked.form.cleaned_data["day"], "days": asked.days, "spares": asked.spares}
    run = beginning.from_recipe(recipe, worked, pots, by=person, **said)
    return go_on(run, person, what)


def go_on(run, person, what):
    """Start a run that was just planned, unless it is only to be kept (`what`). The address of what comes next."""
    if what in ("plan", "bench"):
        return reverse("batches:bench-sheet" if what == "bench" else "batches:run", args=[run.code])
    return start(run, person, what)
