"""Planning samples in a row, and testing how strong a new powder lot is."""

from uuid import uuid4

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from batches import beginning, plan_sheet, series, strength
from batches.forms.series import DepthsForm, FamilyForm, LadderForm, MatchForm, PulledForm
from batches.models import StrengthTest
from batches.samples import plan_in_a_triangle
from batches.verdicts import snippet_of, to_match
from batches.views.run import run_page, the_run
from batches.views.starting import KEEPS, chosen_lots, go_on, plan_shown
from recipes.models import Recipe
from studio.models import Lot
from studio.once import only_once

KINDS = {"shares": FamilyForm, "depths": DepthsForm, "pulled": PulledForm}
WORDS = {"shares": "Shares of its dyes", "depths": "Pale to deep", "pulled": "Skeins pulled in turn"}


@require_http_methods(["GET", "POST"])
def samples(request, recipe_pk):
    """Plan a series of samples of a version. `?kind=` is one of `KINDS`."""
    recipe = get_object_or_404(Recipe.objects.select_related("colourway"), pk=recipe_pk)
    context = {"here": "colourways", "recipe": recipe}
    try:
        depths = series.depths_in(recipe)
    except ValueError as problem:
        return render(request, "batches/series.html", context | {"problem": str(problem)})
    kinds = [kind for kind in KINDS if kind != "shares" or series.FEWEST <= len(depths) <= series.MOST]
    kind = request.GET.get("kind") if request.GET.get("kind") in kinds else kinds[0]
    form = KINDS[kind](_asked(request), recipe=recipe)
    context |= {
        "kind": kind,
        "kinds": [(key, WORDS[key]) for key in kinds],
        "depths": list(depths.items()),
        "total_pct": sum(depths.values()),
    }

    def begin(worked, pots):
        return beginning.from_recipe(recipe, worked, pots, by=request.user, day=form.cleaned_data["day"])

    return _plan(request, form, lambda: recipe, begin, "batches/series.html", context)


@require_http_methods(["GET", "POST"])
def ladder(request, pk):
    """Plan samples that find out how strong a powder lot is. `?recipe=` is the version to begin with."""
    lots = Lot.objects.with_facts().with_on_hand().select_related("dye")
    lot = get_object_or_404(lots, pk=pk, dye__isnull=False)
    versions = strength.versions_with(lot.dye)
    asked = next((each for each in versions if str(each.pk) == request.GET.get("recipe")), None)
    data = _asked(request)
    first = asked or next((each for each in versions if each.colourway.standard_id == each.pk), None)
    form = LadderForm(data, powder=lot, versions=versions, initial={"recipe": first})
    shown = form.cleaned_data.get("recipe") if form.is_bound and form.is_valid() else first
    beside = to_match(shown.colourway) if shown else None
    context = {
        "here": "shelf",
        "lot": lot,
        "versions": versions,
        "mixed": strength.only_in_a_mix(lot.dye),
        "beside": beside,
        "snippet": snippet_of(beside) if beside else "",
        "shown": shown,
        "before": StrengthTest.objects.filter(lot=lot).select_related("run__colourway").order_by("-pk")[:5],
    }

    def begin(worked, pots):
        said = form.cleaned_data
        facts = {"by": request.user, "day": said["day"]}
        return strength.begin_ladder(said["recipe"], worked, pots, form.percents(), lot, **facts)

    return _plan(request, form, lambda: form.cleaned_data["recipe"], begin, "batches/ladder.html", context)


def _asked(request):
    """What was typed, as a QueryDict: sent, or in the address that leads back here from making a bottle; or None."""
    if request.method == "POST":
        data = request.POST.copy()
    elif "lot" in request.GET:
        data = request.GET.copy()
        data["once"] = str(uuid4())
    else:
        return None
    if "kind" in request.GET:
        data["kind"] = request.GET["kind"]
    return data


def _plan(request, form, recipe, begin, template, context):
    """Show the form, what it comes to, or keep it. `recipe()`: the version, once the form is good. `begin(worked,
    pots)` makes the planned run.
    """
    worked = pots = None
    if form.is_bound and form.is_valid():
        try:
            worked, pots = form.plan(recipe(), chosen_lots(form.data))
        except ValueError as problem:
            form.add_error(form.blamed, str(problem))
    if worked is not None and request.POST.get("do") in KEEPS:
        return only_once(
            request,
            form.cleaned_data["once"],
            lambda: go_on(begin(worked, pots), request.user, request.POST["do"]),
        )
    context |= {"form": form, "forms": [form]}
    if worked is None and form.is_bound:
        context["chosen"] = chosen_lots(form.data).items()
    if worked is not None:
        address = plan_sheet.address_of(request.path, form.data)
        context |= plan_shown(worked, pots, address, form.cleaned_data["day"])
        context["triangle"] = plan_in_a_triangle(worked)
        tested = form.tested(recipe())
        context["choices"] = [choice for choice in context["choices"] if choice["key"] not in tested]
    return render(request, template, context, status=422 if form.is_bound and worked is None else 200)


@require_POST
def match(request, code):
    """Say which sample of a strength test matched; what can't be taken comes back on the run's page."""
    the = the_run(code)
    test = get_object_or_404(StrengthTest.objects.select_related("lot__dye"), run=the)
    form = MatchForm(request.POST, test=test, rungs=list(test.rungs.select_related("batch")))
    said = form.keep(by=request.user) if form.is_valid() else None
    if said is None:
        return run_page(request, the, form)
    messages.success(request, strength.match_in_words(said))
    return redirect(f"{reverse('batches:run', args=[code])}#samples")
