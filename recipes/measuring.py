"""One line of a plan as the hands measure it: from which lot how much, rounded to the tool, and how surely."""

from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal

from studio.models import Tool
from studio.units import NO_BREAK_SPACE, write_g, write_ml, write_pct

from . import precision
from .meaning import dyes_of_mix, own_unit, painted
from .offers import SAME_STRENGTH, dyes_in, from_bottle, wanted_strength, written

THOUSANDTH = Decimal("0.001")
REPEATS_PCT = 10  # dye measured less surely than this is said
LEAST_ML = 10  # what a weaker bottle is chosen for: enough to read in any syringe
STRENGTHS = [Decimal(each) for each in ("5", "2", "1", "0.5", "0.2", "0.1", "0.05", "0.02", "0.01")]


def unit_of(ingredient, lot):
    if lot is not None:
        return lot.unit
    return "mL" if from_bottle(ingredient) and ingredient.strength_pct else own_unit(ingredient)


def to_measure(ingredient, own, offer):
    """(exact amount in the lot's unit, note, problem) for `own` of a substance."""
    if ingredient.solution_id or ingredient.strength_pct is None or not painted(ingredient):
        if offer.lot is not None:
            return offer.amount_of(own), "", ""
        in_ml = unit_of(ingredient, None) == "mL" and ingredient.strength_pct and not ingredient.solution_id
        return (own / wanted_strength(ingredient) if in_ml else own), "", ""
    volume = own / wanted_strength(ingredient)
    if offer.lot is None:
        return volume, "", ""
    amount = offer.amount_of(own)
    if not offer.lot.solution_id:
        said = f"Dissolve first: bring it to {write_ml(volume)} with water for {write_pct(ingredient.strength_pct)}."
        return amount, said, ""
    apart = offer.per_unit / wanted_strength(ingredient) - 1
    if abs(apart) <= SAME_STRENGTH:
        return volume, "", ""
    if apart > 0:
        return (
            amount,
            f"Dilute first: bring it to {write_ml(volume)} with water for {write_pct(ingredient.strength_pct)}.",
            "",
        )
    here, wanted = write_pct(offer.per_unit * 100), write_pct(ingredient.strength_pct)
    weak = f"This bottle is {here}, weaker than the {wanted} wanted"
    return volume, "", f"{weak}: make a stronger one, or expect a paler colour."


def dyes_of(ingredient, lot, exact, own=None):
    """Pairs of a dye and its g in an exact amount of a lot; the g are None where the amount is by eye."""
    if lot is not None:
        return tuple((dye, None if exact is None else round(exact * grams, 9)) for dye, grams in dyes_in(lot).items())
    if ingredient.dye_id:
        return ((ingredient.dye, own),)
    if ingredient.solution_id:
        parts = dyes_of_mix(ingredient.solution)
        return tuple((dye, None if own is None else own * grams) for dye, grams in parts.items())
    return ()


def told(line, tools):
    """As the tool at hand can measure it; never silently nothing."""
    step = Tool.step_for(line.exact, line.unit, tools)
    told = rounded(line.exact, step)
    weaker = _weaker_bottle(line)
    if not told:
        what = "weigh" if line.unit == "g" else "measure"
        steps = f"on a {write_g(step)} scale" if line.unit == "g" else f"in steps of {write_ml(step)}"
        said = f"Too little to {what}: {written(line.exact, line.unit)} {steps}{f'; use {weaker}' if weaker else ''}."
        told = max(THOUSANDTH, rounded(line.exact, THOUSANDTH))
        return replace(line, told=told, problem=line.problem or said)
    u = precision.weighing_u(step) if line.unit == "g" else precision.reading_u(step)
    off = precision.relative_pct(u, line.exact)
    if line.dye_g is not None and off > REPEATS_PCT and not line.note:
        surer = f"; {weaker} would be surer" if weaker else ""
        return replace(line, told=told, note=f"Repeats to \u00b1 {off:.0f}{NO_BREAK_SPACE}% with this tool{surer}.")
    return replace(line, told=told)


def _weaker_bottle(line):
    """ "a 0.1 % bottle": the strongest usual one of which this dye would be enough to measure; "" where none is."""
    if not line.ingredient.dye_id or not line.dye_g:
        return ""
    most = line.dye_g * 100 / LEAST_ML
    now = strength_of(line) if line.unit == "mL" else Decimal(100)
    strength = next((each for each in STRENGTHS if each <= most and each < now), None)
    return f"a {write_pct(strength)} bottle" if strength else ""


def strength_of(line):
    """The strength of a line's bottle (%), from its dye and its volume."""
    return line.dye_g * 100 / line.exact if line.dye_g and line.exact else line.ingredient.strength_pct or Decimal(1)


def rounded(amount, step):
    return (amount / step).quantize(Decimal(1), ROUND_HALF_UP) * step
