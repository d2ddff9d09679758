"""Samples in a row: of one version's dyes in other shares or depths, and of skeins pulled in turn.

Each sample is a pot of a run with a label of its own, planned as any pot is; skeins pulled in turn share one pot.
"""

from dataclasses import dataclass, field, replace
from decimal import Decimal

from recipes import gradients, meaning
from recipes.models import RecipeStep
from recipes.offers import with_steps
from recipes.plans import Line, Load
from studio.units import NO_BREAK_SPACE, write_count, write_pct

from . import beginning
from .models import promised_by_lot

LONGEST_LABEL = 60
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
