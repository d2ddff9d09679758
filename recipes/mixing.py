"""The mixing list of a plan: every bottle to be made for it, what to weigh for it, and from which lot.

What the pots take as powder is taken off the lots first, so two things that draw on one lot are counted together. A
powder lot weaker than the studio's standard is weighed in more: amount x 100 / strength.
"""

from dataclasses import replace
from decimal import ROUND_CEILING, Decimal

from studio.naming import joined
from studio.units import write_pct

from .holding import key_of, powder_lots
from .meaning import painted
from .measuring import THOUSANDTH, finest, rounded
from .offers import SAME_STRENGTH, wanted_strength, written
from .plans import Making, Weigh

BOTTLES = [Decimal(each) for each in (50, 100, 250, 500, 1000, 1500, 2000, 3000, 4000, 5000)]  # mL; g of a dry mix
LARGER = 4  # a bottle is made so many times as large at most, where its powder could not be weighed again otherwise
MARGIN = Decimal("1.05")  # of a run's stock: what clings to bottle and syringe; common practice, no source
ROUND_ML = ((Decimal(200), Decimal(10)), (Decimal(1000), Decimal(50)))  # up to so much, in steps of; else of 100 mL


def mixing_list(lines, totals, shelf, bench):
    """[Making]: the bottles that are missing, short or past their date, then what is only thinned or dissolved.

    `lines`: those with an amount, of all pots. `shelf`: what `lots_for` gave. `bench`: the tools.
    """
    larder = Larder(shelf, totals)
    made = [_bottle(group, larder, bench) for group in _missing(lines) + _short(lines, totals)]
    fresh = [_fresh(group, bench) for group in _to_thin(lines)]
    anew = [
        replace(one, why="past its date") for group in _past(lines, totals) if (one := _bottle(group, larder, bench))
    ]
    return [one for one in made if one is not None] + fresh + anew


def grouped(lines, key):
    found = {}
    for line in lines:
        found.setdefault(key(line), []).append(line)
    return list(found.values())


def is_made(line):
    """Whether what a line is taken from is made up here, rather than bought."""
    if line.lot is not None:
        return bool(line.lot.solution_id)
    return bool(line.ingredient.solution_id or line.unit == "mL" and line.ingredient.strength_pct)


def _missing(lines):
    without = [line for line in lines if line.lot is None and is_made(line)]
    return grouped(without, lambda line: (line.substance, line.ingredient.strength_pct))


def _short(lines, totals):
    return _of_lots(lines, {total.lot.pk for total in totals if total.short > 0})


def _past(lines, totals):
    past = {total.lot.pk for total in totals if total.past and not total.short}
    return _of_lots(lines, past)


def _of_lots(lines, pks):
    made = [line for line in lines if line.lot is not None and line.lot.pk in pks and is_made(line)]
    return grouped(made, lambda line: line.lot.pk)


# --- one bottle


def _bottle(lines, larder, bench, whole_run=False):
    """The `Making` of a bottle that these lines take from; None where nobody knows what should be in it.

    `whole_run`: as much as all of it takes and a little more, instead of a usual bottle.
    """
    line = lines[0]
    strength = None
    if line.ingredient.solution_id or line.lot is not None:
        master = line.lot.solution if line.lot is not None else line.ingredient.solution
        holds = [(part.dye or part.assistant, part.g_per_100) for part in larder.parts_of(master)]
    else:
        strength = line.ingredient.strength_pct
        master = larder.master_of(line.substance, strength)
        holds = [(line.substance, strength)]
    if not holds:
        return None
    if strength is None and line.ingredient.strength_pct is not None and len(holds) == 1:
        strength = holds[0][1]
    need = sum(_of_new(each, strength, bench) for each in lines)
    volume = _round_up(need * MARGIN) if whole_run else usual_volume(need, [pct for _, pct in holds], bench)
    parts = tuple(part for substance, pct in holds for part in larder.take(substance, pct * volume / 100, bench))
    keys = tuple(dict.fromkeys(each.ingredient.pk for each in lines))
    return Making(_name(line, master, strength), volume, line.unit, need, parts, strength, master, line.substance, keys)


def _of_new(line, strength_pct, bench):
    """How much a line takes of a bottle that is as strong as it is meant to be, which the one at hand may not be; as
    the plan tells it, or would tell it of that bottle.
    """
    if line.unit != "mL" or not line.dye_g or not strength_pct:
        return line.told
    exact = 100 * line.dye_g / strength_pct
    if abs(exact / line.exact - 1) <= SAME_STRENGTH:
        return line.told
    return rounded(exact, bench.step(exact, "mL")) or finest(exact)


def usual_volume(need, strengths=(), bench=None):
    """A usual bottle's (mL; g of a dry mix), with so much in it; a larger one where that lets its powder be weighed
    again. `need` itself where none is so large. `strengths`: g in 100 of each part of its master; `bench`: the tools.
    """
    enough = [each for each in BOTTLES if each >= need] or [need]
    fit = [
        each
        for each in enough
        if each <= enough[0] * LARGER and all(bench.repeats(pct * each / 100, "g") for pct in strengths)
    ]
    return (fit or enough)[0]


def _name(line, master, strength):
    if strength is None:
        return str(master or line.substance)
    return f"{line.substance}, {write_pct(strength)}"


class Larder:
    """What bottles are made of, lot by lot, while it is shared out."""

    def __init__(self, shelf, totals):
        self.shelf = shelf
        self.taken = {total.lot.pk: total.told for total in totals}
        self.in_use = {pk for total in totals for pk in powder_lots(total.lot)}

    def parts_of(self, master):
        known = self.shelf.masters.get(master.pk)
        return list((known or master).parts.all())

    def master_of(self, substance, strength_pct):
        """The master that holds this alone, so strong; None where nobody described one."""
        for master in self.shelf.masters.values():
            part = master.only_part
            if part is not None and (key_of(part), part.g_per_100) == (key_of(substance), strength_pct):
                return master
        return None

    def take(self, substance, grams, bench):
        """[Weigh] for so much at the studio's standard strength: of one lot where one has enough, else of several."""
        offers = self.shelf.powders.get(key_of(substance), [])
        offers = sorted(offers, key=lambda offer: offer.lot.pk not in self.in_use)  # one lot for a run, where it can be
        enough = [offer for offer in offers if self.left(offer) >= offer.amount_of(grams)]
        found = []
        for offer in enough[:1] or offers:
            amount = min(offer.amount_of(grams), max(self.left(offer), Decimal(0)))
            if amount > 0:
                self.taken[offer.lot.pk] = self.taken.get(offer.lot.pk, Decimal(0)) + amount
                grams -= amount * offer.per_unit
                found.append(_weigh(substance, offer.lot, amount, offer.lot.unit, bench))
        if grams > THOUSANDTH / 2:
            unit = getattr(substance, "unit", "g")
            found.append(_weigh(substance, None, grams, unit, bench))
        return found

    def left(self, offer):
        return offer.free - self.taken.get(offer.lot.pk, Decimal(0))


def _weigh(substance, lot, amount, unit, bench):
    told = rounded(amount, bench.step(amount, unit)) or finest(amount)
    return Weigh(substance, lot, amount, told, unit, sure=bench.repeats(amount, unit))


def run_stock(pots, totals, shelf, bench):
    """[Making]: for each bottle that the pots take from, all of it made at once, with a small margin.

    Made from one lot on the first day, it is the same in the last pot as in the first.
    """
    lines = [line for pot in pots for line in pot.lines if line.exact is not None and not line.water and is_made(line)]
    groups = grouped([line for line in lines if not _thinned_ml(line)], _bottle_key)
    made = [(_bottle(group, Larder(shelf, totals), bench, whole_run=True), group) for group in groups]
    return [
        replace(making, each=_by_pot(group, making.strength_pct, pots, bench))
        for making, group in made
        if making is not None and making.unit == "mL"
    ]


def _bottle_key(line):
    """What lines that one bottle would do for have in common: the master of what they take, or what it would hold."""
    return (line.lot.solution_id,) if line.lot is not None else (line.substance, line.ingredient.strength_pct)


def _by_pot(lines, strength_pct, pots, bench):
    """How much each pot takes of the bottle that these lines take from."""
    mine = {id(line) for line in lines}
    taken = [[_of_new(line, strength_pct, bench) for line in pot.lines if id(line) in mine] for pot in pots]
    return tuple(sum(each, Decimal(0)) for each in taken)


def _round_up(volume):
    step = next((step for most, step in ROUND_ML if volume <= most), Decimal(100))
    return (volume / step).to_integral_value(ROUND_CEILING) * step


# --- what is made fresh beside the pot


def _to_thin(lines):
    """Painted lines whose lot is stronger than they are painted, or powder."""
    fit = [line for line in lines if line.lot is not None and painted(line.ingredient) and _thinned_ml(line)]
    return grouped(fit, lambda line: (line.lot.pk, line.ingredient.strength_pct))


def _thinned_ml(line):
    """The volume (mL) that a painted line is brought to; None where it is painted as it is."""
    if line.ingredient.solution_id or line.ingredient.strength_pct is None or line.dye_g is None:
        return None
    volume = line.dye_g / wanted_strength(line.ingredient)
    if line.unit == "mL" and volume <= line.exact * (1 + SAME_STRENGTH):
        return None
    return volume


def _fresh(lines, bench):
    line, strength = lines[0], lines[0].ingredient.strength_pct
    volume = sum(_thinned_ml(each) for each in lines)
    exact, told = (sum(getattr(each, name) for each in lines) for name in ("exact", "told"))
    if abs(told / exact - 1) > SAME_STRENGTH:  # of all at once more can be measured than of each by itself
        told = rounded(exact, bench.step(exact, line.unit)) or finest(exact)
    part = Weigh(line.substance, line.lot, exact, told, line.unit)
    keys = tuple(dict.fromkeys(each.ingredient.pk for each in lines))
    how = "dissolve" if line.unit == "g" else "thin"
    name = _name(line, None, strength)
    return Making(name, volume, "mL", volume, (part,), strength, None, line.substance, keys, how=how)


# --- in words


def in_words(making):
    """ "To make 250 mL of 1 %, weigh 2.5 g of powder and bring it to 250 mL with water." """
    volume = written(making.volume, making.unit)
    if making.strength_pct is not None and len({part.substance for part in making.parts}) == 1:
        weigh = joined([f"{written(part.told, part.unit)} of {_what(part)}" for part in making.parts])
        return (
            f"To make {volume} of {write_pct(making.strength_pct)}, weigh {weigh} and bring it to {volume} with water."
        )
    weigh = ", ".join(f"{written(part.told, part.unit)} of {part.substance}" for part in making.parts)
    if making.unit == "g":
        return f"To make {volume}, mix {weigh}."
    return f"To make {volume}, take {weigh} and bring it to {volume} with water."


def _what(part):
    return "powder" if part.unit == "g" and not hasattr(part.substance, "unit") else str(part.substance)
