"""Samples in a row: of one version's dyes in other shares or depths, of skeins pulled in turn, of a lot's strength.

Each sample is a pot of a run with a label of its own, planned as any pot is; skeins pulled in turn share one pot.
"""

from dataclasses import dataclass, field, replace
from decimal import Decimal

from django.db import transaction
from django.db.models import Exists, F, OuterRef
from django.utils import timezone

from recipes import gradients, meaning
from recipes.holding import powder_lots
from recipes.models import Ingredient, Recipe, RecipeStep
from recipes.offers import from_bottle, ingredients_of, lots_for, with_steps, written
from recipes.plans import Line, Load
from studio.units import NO_BREAK_SPACE, write_count, write_pct

from . import beginning, depth, verdicts
from .models import PhotoTaken, PlanLine, StrengthTest, promised_by_lot
from .triangle import Cell, triangle_of

LONGEST_LABEL = 60
MOST_MIXED = 5  # versions named whose dye is only in a bottle of several
FEWEST, MOST = 2, 3  # dyes of a family
AFTER_DYEING = (RecipeStep.Kind.COOL, RecipeStep.Kind.RINSE, RecipeStep.Kind.WASH, RecipeStep.Kind.DRY)


@dataclass(frozen=True)
class Sample:
    """One sample of a series: what sets it apart, and what its dyes are multiplied by."""

    label: str
    factors: dict = field(default_factory=dict)  # {dye pk: times what the version says}
    words: dict = field(default_factory=dict)  # {dye pk: how that is said, "110 % of"}


# --- what a version gives to work with


def depths_in(recipe):
    """{Dye: depth [%]} of a version, on the yarn that it is written for.

    Raises ValueError where it has no dye, or one whose amount nobody wrote.
    """
    found = meaning.dyes_g(with_steps(recipe))
    if not found:
        raise ValueError("There is no dye in this version: write one first.")
    for dye, grams in found:
        if grams is None:
            raise ValueError(f"{dye} goes in by eye in this version: write its amount first, then vary it.")
    return {dye: 100 * grams / recipe.fibre_g for dye, grams in found}


def family_of(recipe, *, steps, total_pct):
    """[Sample]: the two or three dyes of a version in all shares of so many steps, as deep together each time."""
    depths = depths_in(recipe)
    if not FEWEST <= len(depths) <= MOST:
        raise ValueError(f"A colour family is of two or three dyes, and this version has {len(depths)}.")
    rows = gradients.between_two(steps) if len(depths) == FEWEST else gradients.between_three(steps)
    return [_in_shares(shares, depths, total_pct) for shares in rows]


def _in_shares(shares, depths, total_pct):
    factors = gradients.share_factors(shares, depths.values(), total_pct)
    return Sample(share_label(shares, depths), dict(zip((dye.pk for dye in depths), factors, strict=True)))


def share_label(shares, dyes):
    """ "75 % Ochre, 25 % Rust"; "Rust alone"; by numbers only where the names are too long for a label."""
    there = [(share, dye) for share, dye in zip(shares, dyes, strict=True) if share]
    if len(there) == 1:
        return f"{there[0][1].name[: LONGEST_LABEL - 6]} alone"
    words = ", ".join(f"{write_pct(100 * share, 3)}{NO_BREAK_SPACE}{dye.name}" for share, dye in there)
    return words if len(words) <= LONGEST_LABEL else " : ".join(write_pct(100 * share, 3) for share in shares)


def steps_of_depth(recipe, depths_pct):
    """[Sample]: all dyes of a version together at each of these depths [%], in the version's own shares."""
    return [Sample(depth_label(depth), _factors(recipe, depth)) for depth in depths_pct]


def depth_label(depth_pct):
    return f"{write_pct(depth_pct, 3)} owf"


def _factors(recipe, depth_pct):
    depths = depths_in(recipe)
    times = Decimal(depth_pct) / sum(depths.values())
    return dict.fromkeys((dye.pk for dye in depths), times)


def rungs_of(recipe, lot, percents):
    """[Sample] of a ladder: so many percent of the dye of `lot`, which is taken for 100 % strong whatever it was said
    to be. `lot`: with `strength_now`. Raises ValueError where the version has no such dye.
    """
    if not any(each.dye_id == lot.dye_id for each in ingredients_of(with_steps(recipe))):
        raise ValueError(f"{recipe} has no line of {lot.dye}: choose a version that names it by itself.")
    as_said = lot.strength_now / 100
    end = f" of the {lot.dye.name}"[: LONGEST_LABEL - 8]
    return [
        Sample(f"{write_pct(pct)}{end}", {lot.dye_id: pct / 100 * as_said}, {lot.dye_id: f"{write_pct(pct)} of"})
        for pct in percents
    ]


# --- planned


def work_out(recipe, samples, yarn, vessel=None, chosen=None):
    """(Plan, the pots' yarn) of one sample to a pot. `yarn`: a `Yarn` of the sample's size. Nothing is stored."""
    loads = [_load(yarn, vessel, 1, label=one.label, dye_factors=one.factors, dye_words=one.words) for one in samples]
    return beginning.reckon(recipe, loads, promised_by_lot(), chosen), [[(yarn, 1)] for _ in samples]


def pull_in_turn(recipe, depths_pct, yarn, vessel=None, chosen=None):
    """(Plan, the pot's yarn) of one pot out of which a skein is taken at each of these depths [%], the palest first.

    Raises ValueError as `gradients.pulled` does.
    """
    stages = gradients.pulled(depths_pct, yarn.skein_g)
    loads = [_load(yarn, vessel, stage.skeins_in, dye_factors=_factors(recipe, stage.more_pct)) for stage in stages]
    promised = promised_by_lot()
    whole = beginning.reckon(recipe, loads[:1], promised, chosen)

    def gather(pots):
        return [_in_one_pot(whole.pots[0], pots, stages)]

    worked = beginning.reckon(recipe, loads, promised, chosen, gather=gather)
    return replace(worked, warnings=whole.warnings), [[(yarn, len(stages))]]


def _in_one_pot(pot, pots, stages):
    """One `PotPlan`: its own lines up to the end of the dyeing, then for each further skein more dye and a wait."""
    lines = pots[0].lines
    end = _end_of_dyeing(lines)
    wait = next((line for line in reversed(lines[:end]) if line.step == RecipeStep.Kind.HOLD), None)
    found = [*lines[:end], _take_out(stages[0])]
    for stage, after in zip(stages[1:], pots[1:], strict=True):
        still_in = f"on {write_count(stage.skeins_in, 'skein')} still in"
        found += [replace(line, basis=f"{line.basis}, {still_in}") for line in after.lines if line.dyes]
        found += [wait] if wait is not None else []
        found.append(_take_out(stage))
    found += lines[end:]
    found = [replace(line, position=place) for place, line in enumerate(found, 1)]
    return replace(pot, lines=found, dye_g=sum((each.dye_g for each in pots), Decimal(0)))


def _take_out(stage):
    words = f"Take skein {stage.number} out, {depth_label(stage.depth_pct)}, once the bath is clear"
    return Line(0, RecipeStep.Kind.OTHER, words)


def _end_of_dyeing(lines):
    """Where the rinsing begins: after the last dye, and what is heated and held after it."""
    last = max(place for place, line in enumerate(lines) if line.dyes)
    after = (place for place, line in enumerate(lines) if place > last and line.step in AFTER_DYEING)
    return next(after, len(lines))


def _load(yarn, vessel, skeins, **facts):
    bases = (yarn.base,) if yarn.base else ()
    return Load(fibre_g=yarn.grams(skeins), vessel=vessel, bases=bases, sample=True, **facts)


# --- how strong a powder lot is


def versions_with(dye):
    """The standards of the colourways that have a line of this dye, and the other versions of it after them."""
    found = Recipe.objects.filter(steps__ingredients__dye=dye, colourway__retired=False).select_related("colourway")
    return found.distinct().order_by("colourway__name", "-number")


def only_in_a_mix(dye):
    """[(standard version, the bottle of several dyes)] where this dye has no line of its own.

    No sample of such a version can have more of it alone.
    """
    own = Ingredient.objects.filter(step__recipe=OuterRef("step__recipe"), dye=dye)
    mixed = Ingredient.objects.filter(solution__parts__dye=dye, step__recipe=F("step__recipe__colourway__standard"))
    lines = mixed.filter(~Exists(own), step__recipe__colourway__retired=False)
    lines = lines.select_related("step__recipe__colourway", "solution").order_by("step__recipe__colourway__name", "pk")
    return [(line.step.recipe, line.solution) for line in lines[:MOST_MIXED]]


def taking(recipe, lot, chosen=None):
    """{ingredient pk: lot pk} so that the dye of a powder lot comes from it, or out of a bottle made of it alone: the
    one that is `chosen`, as {ingredient pk: lot pk}, else where the version takes it from a bottle the first.
    """
    found = {}
    for each, offers in _offers_by_line(recipe):
        if each.dye_id != lot.dye_id:
            continue
        own = [offer.lot for offer in offers if set(powder_lots(offer.lot)) == {lot.pk}]
        bottles = [one for one in own if one.is_bottle and (one.on_hand > 0)]
        usual = (bottles[0] if bottles and from_bottle(each) else lot).pk
        wanted = (chosen or {}).get(each.pk)
        found[each.pk] = wanted if wanted in {one.pk for one in bottles} else usual
    return found


def _offers_by_line(recipe):
    offers = lots_for(recipe)
    return [(each, offers.get(each.pk, [])) for each in ingredients_of(recipe)]


def not_told_apart(worked, percents, dye):
    """Why these samples could come out alike, as a sentence; "" where the hands can tell each from the next.

    The amount of the dye that is measured has to follow the percents to half of the least step between them.
    """
    told = [sum(line.told for line in pot.lines if line.substance == dye and line.told) for pot in worked.pots]
    if not told or not all(told):
        return ""
    steps = list(zip(told, told[1:], percents, percents[1:], strict=False))
    off = [abs((after / before) / (high / low) - 1) * 2 >= high / low - 1 for before, after, low, high in steps]
    if not any(off):
        return ""
    unit = next(line.unit for pot in worked.pots for line in pot.lines if line.substance == dye)
    said = ", ".join(written(amount, unit) for amount in told)
    return (
        f"So small an amount of {dye} can't be measured finely enough to tell these samples apart: {said}. Make a weak "
        "bottle of this lot alone and plan them again from it, or make the samples heavier."
    )


def begin_ladder(recipe, worked, pots, percents, lot, *, by, day, clock=timezone.now):
    """The planned run of a strength test, and what it tests."""
    with transaction.atomic():
        run = beginning.from_recipe(recipe, worked, pots, by=by, day=day, clock=clock)
        standard = verdicts.to_match(recipe.colourway)
        batches = run.batches.order_by("number")
        StrengthTest.of_run(
            run,
            lot=lot,
            before_pct=lot.strength_now,
            percents=dict(zip(batches, percents, strict=True)),
            beside=standard and standard.run,
        )
    return run


def match_in_words(match):
    """What to say once a sample was picked."""
    lot, said = match.test.lot, match.words.capitalize()
    strength = match.strength_pct
    if strength is None:
        return f"{said}: the strength of {lot} stays as it was."
    return f"{said}: {lot} is {write_pct(strength, 3)} strong from here on."


# --- a run's samples


@dataclass(frozen=True)
class Shown:
    """One sample as the run's page shows it. `photo`: the newest dry one that shows it alone, or None."""

    batch: object
    photo: object
    segments: list
    as_planned: bool = False  # whether the segments are what is planned, as nothing went in yet
    dyes: set = field(default_factory=set)  # of its plan

    @property
    def dye_g(self):
        """What is known of its dye."""
        return sum((segment.share for segment in self.segments if segment.share is not None), Decimal(0))


def in_a_triangle(samples):
    """The `Triangle` of a run's samples, or None. `samples`: what `samples_of` gave."""
    return triangle_of(
        [(Cell(one.batch.number, one.batch.label, one.segments, one.photo), one.dyes) for one in samples]
    )


def plan_in_a_triangle(worked):
    """The `Triangle` of a worked-out plan of samples, or None."""
    return triangle_of(
        [(Cell(pot.number, pot.load.label, pot.segments()), {dye for dye, _ in pot.dyes}) for pot in worked.pots]
    )


def samples_of(run, batches, photos):
    """[Shown] of a run whose pots have labels; [] of any other. `photos`: what `photos.photos_of` gave.

    Costs three queries where there are labels, and none where there are not.
    """
    labelled = [batch for batch in batches if batch.label]
    if not labelled:
        return []
    fed = depth.fed_of_batches(labelled)
    planned = depth.planned_by("batch", PlanLine.objects.filter(batch__run=run))
    dry = [photo for photo in photos if photo.stage == PhotoTaken.Stage.DRY]
    alone = {photo.pots[0].pk: photo for photo in dry if len(photo.pots) == 1}
    return _in_one_order(
        Shown(
            batch,
            alone.get(batch.pk),
            depth.segments(fed.get(batch.pk) or planned.get(batch.pk) or []),
            not fed.get(batch.pk),
            {one.dye for one in planned.get(batch.pk, [])},
        )
        for batch in labelled
    )


def _in_one_order(samples):
    """Samples with the dyes of all bars in the same order, so that neighbours can be compared."""
    samples = list(samples)
    places = {name: place for place, name in enumerate(_names(samples))}
    return [replace(one, segments=sorted(one.segments, key=lambda segment: places[segment.name])) for one in samples]


def _names(samples):
    return dict.fromkeys(segment.name for one in samples for segment in one.segments)


def most_dye_g(samples):
    """On which scale the bars of a run's samples stand: so much dye is as wide as any; None where nothing is known."""
    return max((one.dye_g for one in samples), default=None) or None


def test_of(run):
    """{test, rungs, said, dyed, beside, kept} of a run that tests a lot's strength; None of any other.

    `beside`: the pot that its samples are laid beside, None without one; `kept`: where the snippet of that pot is.
    """
    test = StrengthTest.objects.filter(run=run).select_related("lot__dye").first()
    if test is None:
        return None
    beside = verdicts.of_run(test.beside_id) if test.beside_id else None
    return {
        "test": test,
        "rungs": list(test.rungs.select_related("batch")),
        "said": test.matches.select_related("low", "high", "correction", "by").last(),
        "dyed": test.dyed,
        "beside": beside,
        "kept": verdicts.snippet_of(beside) if beside else "",
    }
