"""Beginning a run: from a recipe, or with nothing but pots."""

from decimal import Decimal

from django.db.models import F
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from batches import loading
from batches.forms.starting import BareForm, PlanForm, YarnRows, method_for
from batches.models import BatchYarn, PlanLine, Run, promised_by_lot
from recipes import planning
from recipes.models import Recipe
from studio.forms.rows import asked_for_more, with_one_more
from studio.models import Studio, Tool, Vessel
from studio.once import only_once

NOT_SAID = "Yarn not said yet"


@require_GET
def new_run(request):
    """Where a run begins: the standards of the colourways, or the vessels as they usually stand."""
    standards = Recipe.objects.filter(colourway__standard=F("pk"), colourway__retired=False)
    context = {
        "here": "journal",
        "standards": standards.select_related("colourway").order_by("colourway__name"),
        "vessels": [
            {
                "pk": vessel.pk,
                "how_many": vessel.how_many,
                "skeins": vessel.skeins,
                "words": usual_words(vessel),
                "form": BareForm(),
            }
            for vessel in Vessel.objects.filter(retired=False)
        ],
    }
    return render(request, "batches/new_run.html", context)


def usual_words(vessel):
    """ "8 jars, 1 skein each": a vessel as it usually stands."""
    skeins = vessel.skeins or 1
    each = f"{skeins} skein{'' if skeins == 1 else 's'}"
    return f"{vessel.how_many} × {vessel.name}, {each} each" if vessel.how_many > 1 else f"{vessel.name}, {each}"


@require_http_methods(["GET", "POST"])
def bare(request):
    """Start with no recipe, no colourway and no lot: the sink is open at once."""
    form = BareForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        return only_once(request, form.cleaned_data["once"], lambda: start_bare(request.user, form.cleaned_data))
    status = 422 if form.is_bound else 200
    return render(request, "batches/bare_run.html", {"here": "journal", "form": form}, status=status)


def start_bare(person, said):
    vessel, lot, skeins = said["vessel"], said["lot"], said["skeins"] or None
    pots = [{"vessel": vessel, **bare_pot(lot, skeins)} for _ in range(said["pots"])]
    run = Run.plan(by=person, day=timezone.localdate(), pots=pots, title=said["title"], method=method_for(vessel))
    run.start(by=person)
    return reverse("batches:sink", args=[run.batches.order_by("number").first().pk])


def bare_pot(lot, skeins):
    """The yarn and its weight in one pot, as far as anybody said."""
    if lot is None or skeins is None:
        yarn = BatchYarn(source=BatchYarn.Source.UNLABELLED, words=NOT_SAID, skeins=skeins)
        return {"yarns": [yarn], "fibre_g": None}
    return {"yarns": [yarn_row(lot, skeins)], "fibre_g": lot.skein_g * skeins}


def yarn_row(lot, skeins):
    return BatchYarn(
        source=BatchYarn.Source.LOT,
        lot=lot,
        base_id=lot.base_id,
        skeins=skeins,
        grams=lot.skein_g * skeins,
        skein_g=lot.skein_g,
        skein_m=lot.skein_m,
    )


@require_http_methods(["GET", "POST"])
def plan_run(request, recipe_pk):
    """Work out a recipe for yarn and pots; then keep the plan, or start it."""
    recipe = get_object_or_404(Recipe.objects.select_related("colourway"), pk=recipe_pk)
    data = request.POST if request.method == "POST" else None
    if data is not None and asked_for_more(data, "yarn"):
        rows = YarnRows(with_one_more(data, "yarn", most=6), prefix="yarn").unjudged()
        context = plan_context(recipe, PlanForm(data).unjudged(), rows)
        return render(request, "batches/plan.html", context)
    form, yarns = PlanForm(data), YarnRows(data, prefix="yarn")
    worked = pots = None
    if data is not None and form.is_valid() & yarns.is_valid():
        worked, pots = work_out(recipe, form, yarns, chosen_lots(data))
    if worked is not None and data.get("do") in ("plan", "start"):
        return only_once(
            request,
            form.cleaned_data["once"],
            lambda: keep(request.user, recipe, form.cleaned_data, worked, pots, data["do"]),
        )
    status = 422 if data is not None and worked is None else 200
    return render(request, "batches/plan.html", plan_context(recipe, form, yarns, worked, pots), status=status)


def plan_context(recipe, form, yarns, worked=None, pots=None):
    return {
        "here": "journal",
        "powder": bool(worked) and any(weighs_powder(line) for pot in worked.pots for line in pot.lines),
        "acid": bool(worked) and any(is_acid(line.substance) for pot in worked.pots for line in pot.lines),
        "recipe": recipe,
        "form": form,
        "yarns": yarns,
        "worked": worked,
        "forms": [form, yarns],
        "short_yarn": short_yarn(pots) if pots else [],
        "mixed": loading.mixed_pots(pots) if pots else [],
        "table": table_of(worked) if worked else [],
        "choices": choices_of(worked) if worked else [],
    }


def weighs_powder(line):
    return line.lot is not None and line.lot.dye_id is not None


def is_acid(substance):
    return getattr(substance, "kind", "") == "acid"


def chosen_lots(data):
    """{ingredient key: lot key} of the selects named choose-12."""
    found = {}
    for name, value in data.items():
        key = name.removeprefix("choose-")
        if name.startswith("choose-") and key.isdecimal() and value.isdecimal() and len(value) < 18:
            found[int(key)] = int(value)
    return found


def work_out(recipe, form, yarns, chosen):
    """(Plan, the pots' yarn as [[(lot, skeins)]]), or (None, None) with the form saying why."""
    said = form.cleaned_data
    wanted = [(row["lot"], row["skeins"]) for row in yarns.filled() if row.get("lot")]
    if not wanted:
        yarns.forms[0].add_error("lot", "Choose the yarn to dye.")
        return None, None
    try:
        pots = loading.fill(wanted, said["pots"])
        loads = [load_of(pot, said["vessel"]) for pot in pots]
        worked = planning.plan(
            recipe,
            loads,
            planning.lots_for(recipe, promised=promised_by_lot()),
            tools=list(Tool.objects.filter(retired=False)),
            studio=Studio.get(),
            chosen=chosen,
        )
    except ValueError as problem:
        form.add_error("pots", str(problem))
        return None, None
    return worked, pots


def load_of(pot, vessel):
    weight = sum((lot.skein_g * skeins for lot, skeins in pot), Decimal(0))
    bases = tuple({lot.base_id: lot.base for lot, _ in pot}.values())
    return planning.Load(fibre_g=weight, skeins=sum(skeins for _, skeins in pot), vessel=vessel, bases=bases)


def short_yarn(pots):
    """Sentences for yarn lots that do not hold what the plan takes."""
    wanted = {}
    for pot in pots:
        for lot, skeins in pot:
            wanted.setdefault(lot.pk, [lot, 0])[1] += skeins
    promised = promised_by_lot()
    said = []
    for lot, skeins in wanted.values():
        free = int((lot.on_hand - promised.get(lot.pk, Decimal(0))) // lot.skein_g)
        if free < skeins:
            said.append(f"{lot}: {skeins} skeins wanted, {max(free, 0)} free.")
    return said


def table_of(worked):
    """Rows of the plan's table: one for each line of the recipe, with an amount for each pot."""
    return [
        {
            "line": lines[0],
            "told": [line.told for line in lines],
            "alike": len({line.told for line in lines}) == 1,
            "total": sum(line.told for line in lines) if all(line.told is not None for line in lines) else None,
            "exact": sum(line.exact for line in lines) if all(line.exact is not None for line in lines) else None,
            "problems": list(dict.fromkeys(line.problem for line in lines if line.problem)),
            "notes": list(dict.fromkeys(line.note for line in lines if line.note)),
        }
        for lines in zip(*(pot.lines for pot in worked.pots), strict=True)
    ]


def choices_of(worked):
    """For each ingredient with more than one lot to take: its name, key and offers, the taken one first."""
    lines = {line.ingredient.pk: line for line in worked.pots[0].lines if line.ingredient is not None}
    return [
        {"key": key, "name": lines[key].ingredient.name, "offers": offers}
        for key, offers in worked.choices.items()
        if len(offers) > 1 and key in lines
    ]


def keep(person, recipe, said, worked, pots, what):
    """Write the plan down as a run; start it where that was asked. The address of its page."""
    facts = [
        {
            "vessel": pot.load.vessel,
            "fibre_g": pot.load.fibre_g,
            "water_ml": pot.water_ml,
            "yarns": [yarn_row(lot, skeins) for lot, skeins in yarn],
            "lines": [PlanLine(**line.facts()) for line in pot.lines],
        }
        for pot, yarn in zip(worked.pots, pots, strict=True)
    ]
    run = Run.plan(
        by=person, day=said["day"], pots=facts, colourway=recipe.colourway, recipe=recipe, method=recipe.method
    )
    if what == "start":
        run.start(by=person)
        return reverse("batches:sink", args=[run.batches.order_by("number").first().pk])
    return reverse("batches:run", args=[run.code])
