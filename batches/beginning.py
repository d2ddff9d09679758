"""How a run begins: from a recipe worked out for yarn and pots, or bare; and what is said later of a bare one."""

from dataclasses import replace
from decimal import Decimal

from django.db import IntegrityError, transaction
from django.utils import timezone

from recipes import planning
from recipes.models import Colourway, Method
from recipes.offers import lots_for
from recipes.plans import Load
from studio.models import Studio, Tool, Vessel

from . import loading
from .models import Entry, PlanLine, Run, Stamp, promised_by_lot

METHODS = {
    Vessel.Kind.POT: Method.POT,
    Vessel.Kind.JAR: Method.JAR,
    Vessel.Kind.PAN: Method.PAN,
    Vessel.Kind.TABLE: Method.PAINTED,
}


def work_out(recipe, wanted, vessels, chosen=None, wishes=None, sizes=None, days=None):
    """(`recipes.plans.Plan`, the pots' yarn as [[(Yarn, skeins)]]) of a recipe for this yarn. Nothing is stored.

    `wanted`: pairs of a `Yarn` and its skeins. `vessels`: that of each pot, None where it is not one of the shelf.
    `sizes`: skeins of each pot; None: as equal as they come. `days`: the day of each pot, as for `from_recipe`.
    `chosen`: {ingredient key: lot key} where a person chose the lot. `wishes`: a `recipes.plans.Wishes`. Raises
    ValueError with a sentence where the yarn does not fill the pots, or nothing can be reckoned.
    """
    pots = loading.fill(wanted, len(vessels)) if sizes is None else loading.share(wanted, sizes)
    called = loading.numbered(days or [None] * len(vessels))
    loads = [
        replace(load_of(pot, vessel), day=day, number=number)
        for pot, vessel, (day, number) in zip(pots, vessels, called, strict=True)
    ]
    return reckon(recipe, loads, promised_by_lot(), chosen, wishes=wishes), pots


def reckon(recipe, loads, promised, chosen=None, **more):
    """The `recipes.plans.Plan` of these loads with what the shelf has. `promised`: {lot key: amount} of other plans.

    `more`: `wishes` and `gather`, as `recipes.planning.plan` takes them.
    """
    return planning.plan(
        recipe,
        loads,
        lots_for(recipe, promised=promised),
        tools=list(Tool.objects.filter(retired=False)),
        studio=Studio.get(),
        chosen=chosen,
        **more,
    )


def load_of(pot, vessel, times=None):
    """The `recipes.plans.Load` of a pot's yarn, as [(Yarn, skeins)]. `times`: {dye key: times what the recipe says}."""
    weight = sum((yarn.grams(skeins) for yarn, skeins in pot), Decimal(0))
    bases, base_g = {}, {}
    for yarn, skeins in pot:
        if yarn.base:
            bases[yarn.base.pk] = yarn.base
            base_g[yarn.base.pk] = base_g.get(yarn.base.pk, 0) + yarn.grams(skeins)
    return Load(
        fibre_g=weight,
        skeins=sum(skeins for _, skeins in pot),
        vessel=vessel,
        bases=tuple(bases.values()),
        base_g=base_g,
        dye_factors=times or {},
    )


def takes(vessel, recipe, skein_g):
    """How many skeins of so many g this vessel takes: as the shelf says, else by its fill and the recipe's ratio.

    None where neither says it; 0 where it is smaller than one skein.
    """
    if vessel.skeins is not None:
        return vessel.skeins
    fill_ml, ratio = vessel.fill_ml or vessel.volume_ml, recipe.liquor_ratio
    return None if fill_ml is None or ratio is None or not skein_g else loading.fits(fill_ml, ratio, skein_g)


def short_yarn(pots):
    """Sentences for the yarns of these pots of which there is less than they take."""
    wanted = {}
    for pot in pots:
        for yarn, skeins in pot:
            wanted[yarn] = wanted.get(yarn, 0) + skeins
    promised = promised_by_lot()
    said = [yarn.short(skeins, promised.get(yarn.lot and yarn.lot.pk, Decimal(0))) for yarn, skeins in wanted.items()]
    return [sentence for sentence in said if sentence]


def from_recipe(recipe, worked, pots, *, by, day, days=None, spares=0, clock=timezone.now):
    """The planned run of what `work_out` gave.

    `days`: the day of each pot, where they are not all dyed on `day`: a run is a day's work, so each day is a run, and
    the later ones name the first, which is answered. `spares`: how many of the skeins are beyond those wanted.
    """
    by_day = {}
    for pot, yarn, own_day in zip(worked.pots, pots, days or [day] * len(pots), strict=True):
        by_day.setdefault(own_day, []).append(_facts(pot, yarn, worked.wishes))
    of = {"colourway": recipe.colourway, "recipe": recipe, "method": recipe.method}
    first = None
    with transaction.atomic():
        for own_day in sorted(by_day):
            said = {"spares": spares} if first is None else {"day_one": first}
            run = Run.plan(by=by, day=own_day, pots=by_day[own_day], clock=clock, **of, **said)
            first = first or run
    return first


def _facts(pot, yarn, wishes):
    """What a planned pot is told of itself."""
    return {
        "hold": wishes.hold,
        "scales": wishes.scales,
        "vessel": pot.load.vessel,
        "label": pot.load.label,
        "fibre_g": pot.load.fibre_g,
        "water_ml": pot.water_ml,
        "yarns": [one.row(skeins) for one, skeins in yarn],
        "lines": [PlanLine(**line.facts()) for line in pot.lines],
    }


def bare(yarn, skeins, pots, *, by, day, vessel=None, title="", clock=timezone.now):
    """A planned run of so many pots with no recipe. `skeins` of `yarn` in each; None where nobody counted."""
    each = {"vessel": vessel, "fibre_g": yarn.grams(skeins)}
    facts = [each | {"yarns": [yarn.row(skeins)]} for _ in range(pots)]
    return Run.plan(by=by, day=day, pots=facts, title=title, method=method_for(vessel), clock=clock)


def method_for(vessel):
    """The usual method in a vessel of this kind."""
    return METHODS.get(vessel.kind, Method.OTHER) if vessel else Method.POT


def call_it(run, *, by, colourway=None, title="", make_colourway=False):
    """Call a run that began without a colourway: by one, by a new one of that title, or by the title alone.

    Raises ValueError where somebody was quicker to make a colourway of this name.
    """
    with transaction.atomic():
        if colourway is None and make_colourway:
            try:
                with transaction.atomic():
                    colourway = Colourway.objects.create(name=title, made_at=timezone.now(), by=by)
            except IntegrityError:
                raise ValueError("There is a colourway of this name already: choose it above.") from None
        run.colourway = colourway
        if colourway is None:
            run.title = title
        run.save(update_fields=["colourway", "title"])


def say_yarn(yarns, *, skeins, by, lot=None, base=None):
    """Say what these unlabelled yarns of a run were: of a lot of the shelf, or of a base. The log tells it.

    Raises ValueError where that was said already.
    """
    with transaction.atomic():
        for yarn in yarns:
            if lot:
                yarn.turn_out_to_be(lot, skeins, by=by)
            else:
                yarn.turn_out_to_be_of(base, skeins)
            Entry.log_words(yarn.batch, Stamp(by=by, words=f"The yarn is {lot or base}."))
