"""What all pots of a plan take together, and what of it is short."""

from decimal import Decimal

from studio.units import write_g, write_ml, write_pct

from . import dyeing
from .measuring import strength_of
from .offers import written
from .plans import LotTotal, Shortage

BOTTLES_ML = [Decimal(each) for each in (50, 100, 250, 500, 1000, 2000, 5000)]


def totals_of(pots, choices):
    """[LotTotal]: what all pots take of each lot."""
    found = {}
    for line in _measured(pots):
        if line.lot is not None:
            found.setdefault(line.lot.pk, []).append(line)
    return [_total(lines, choices) for lines in found.values()]


def _total(lines, choices):
    lot, free = lines[0].lot, choices[lines[0].ingredient.pk][0].free
    exact, told = (sum(getattr(line, name) for line in lines) for name in ("exact", "told"))
    return LotTotal(lot, lines[0].substance, lines[0].unit, exact, told, free)


def shortages_of(pots, totals, choices):
    """[Shortage]: what has no lot, and what has too little; with how to make it up where it is a bottle."""
    missing = {}
    for line in _measured(pots):
        if line.lot is None and line.substance is not None:
            missing.setdefault((line.substance, line.ingredient.strength_pct), []).append(line)
    short = [_missing(lines, choices) for lines in missing.values()]
    by_lot = {line.lot.pk: line for line in _measured(pots) if line.lot is not None}
    return short + [_short(total, by_lot[total.lot.pk], choices) for total in totals if total.short > 0]


def _missing(lines, choices):
    line, need = lines[0], sum(each.told for each in lines)
    name = _name(line.ingredient, None)
    there = len(choices[line.ingredient.pk]) > 1
    none = f"There is no bottle of {name}" if line.unit == "mL" and line.ingredient.dye_id else f"There is no {name}"
    sentence = f"{none}, and {written(need, line.unit)} is needed."
    if there and not line.ingredient.dye_id:
        sentence += " Choose another lot."
    return Shortage(sentence, line.substance, None, need, line.unit, **_make(line, need, choices))


def _short(total, line, choices):
    name = _name(line.ingredient, total.lot)
    sentence = (
        f"{name} is {written(total.short, total.unit)} short: {written(total.told, total.unit)} is needed and "
        f"{written(max(total.free, Decimal(0)), total.unit)} is free."
    )
    return Shortage(sentence, total.substance, total.lot, total.short, total.unit, **_make(line, total.told, choices))


def _make(line, need, choices):
    """How a bottle that is short would be made up: {make, make_ml, make_pct, make_g}."""
    if line.unit != "mL" or (line.lot is not None and not line.lot.solution_id):
        return {}
    volume = next((each for each in BOTTLES_ML if each >= need), need)
    if line.ingredient.solution_id:
        parts = line.ingredient.solution.parts.all()
        weigh = [f"{write_g(part.g_per_100 * volume / 100)} of {part.dye or part.assistant}" for part in parts]
        if not weigh:
            return {}
        words = f"To make {write_ml(volume)}, take {', '.join(weigh)} and bring it to {write_ml(volume)} with water."
        return {"make": words, "make_ml": volume}
    strength = line.ingredient.strength_pct or strength_of(line)
    powder = [offer for offer in choices[line.ingredient.pk] if offer.lot and not offer.lot.solution_id]
    grams = dyeing.powder_for_stock_g(volume, strength)
    if powder:
        grams = powder[0].amount_of(grams)
    have = f" You have {write_g(sum(offer.free for offer in powder))}." if powder else " There is no powder of it."
    words = (
        f"To make {write_ml(volume)} of {write_pct(strength)}, weigh {write_g(grams)} of powder and bring it to "
        f"{write_ml(volume)} with water.{have}"
    )
    return {"make": words, "make_ml": volume, "make_pct": strength, "make_g": grams}


def _measured(pots):
    return [line for pot in pots for line in pot.lines if line.exact is not None and not line.water]


def _name(ingredient, lot):
    """ "Ochre, 1 %" for a bottle of one dye; else the substance's name."""
    name = str(ingredient.substance)
    if ingredient.strength_pct is not None and (lot is None or lot.solution_id):
        return f"{name}, {write_pct(ingredient.strength_pct)}"
    return name
