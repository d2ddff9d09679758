"""One line of a plan as the hands measure it: from which lot how much, rounded to the tool, and how surely."""

from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal

from studio.units import write_ml, write_pct

from .holding import dyes_in
from .meaning import dyes_of_mix, own_unit, painted
from .offers import SAME_STRENGTH, from_bottle, wanted_strength
from .surer import strength_that_would_do, why_unsure

THOUSANDTH = Decimal("0.001")
DISSOLVE = "Dissolve it first."  # dry on the yarn it leaves specks; common practice, no source


def unit_of(ingredient, lot):
    if lot is not None:
        return lot.unit
    return "mL" if from_bottle(ingredient) and ingredient.strength_pct else own_unit(ingredient)


def to_measure(ingredient, own, offer):
    """(exact amount in the lot's unit, note, problem) for `own` of a substance."""
    mix = ingredient.solution_id and own_unit(ingredient) == "mL"
    if not painted(ingredient) or not mix and ingredient.strength_pct is None:
        if offer.lot is not None:
            dry = from_bottle(ingredient) and offer.lot.dye_id
            return offer.amount_of(own), DISSOLVE if dry else "", ""
        in_ml = unit_of(ingredient, None) == "mL" and ingredient.strength_pct and not ingredient.solution_id
        return (own / wanted_strength(ingredient) if in_ml else own), "", ""
    return _to_paint(ingredient, own / wanted_strength(ingredient), offer)


def _to_paint(ingredient, volume, offer):
    """What is painted keeps its strength and its volume (mL): a stronger bottle is thinned first, a weaker one said."""
    if offer.lot is None:
        return volume, "", ""
    wanted = wanted_strength(ingredient)
    amount = offer.amount_of(volume * wanted)
    to_be = "" if ingredient.solution_id else f" for {write_pct(ingredient.strength_pct)}"
    if not offer.lot.solution_id:
        return amount, f"Dissolve first: bring it to {write_ml(volume)} with water{to_be}.", ""
    apart = offer.per_unit / wanted - 1
    if abs(apart) <= SAME_STRENGTH:
        return volume, "", ""
    if apart > 0:
        return amount, f"Dilute first: bring it to {write_ml(volume)} with water{to_be}.", ""
    here, meant = write_pct(offer.per_unit * 100), write_pct(wanted * 100)
    weak = f"This bottle is {here}, weaker than the {meant} wanted"
    if ingredient.solution_id:
        weak = f"This bottle is only {here} as strong as its mix says"
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


def told(line, bench, offers=()):
    """As the tool at hand can measure it; never silently nothing, nor less surely than the studio wants.

    `bench`: a `Bench`. `offers`: what the shelf has for this line.
    """
    amount, unsure = rounded(line.exact, bench.step(line.exact, line.unit)), why_unsure(line, bench, offers)
    line = replace(line, weaker_pct=strength_that_would_do(line, bench, offers) if unsure else None)
    if not amount:
        return replace(line, told=finest(line.exact), problem=f"{line.problem} {unsure}".strip())
    return replace(line, told=amount, note=f"{line.note} {unsure}".strip())


def finest(amount):
    """What no tool at hand shows, as a thousandth would: never nothing."""
    return max(THOUSANDTH, rounded(amount, THOUSANDTH))


def rounded(amount, step):
    return (amount / step).quantize(Decimal(1), ROUND_HALF_UP) * step
