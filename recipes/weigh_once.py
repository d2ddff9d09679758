"""A powder of several pots, weighed once: dissolved in a round volume, of which each pot is poured its share.

A scale is off by the same for much and for little, so one weighing of all of it is the surer one. What a pot is told is
its share of what was weighed, by what is poured, and the shares add up to it exactly.
"""

from dataclasses import replace
from decimal import Decimal

from studio.models import Dye
from studio.money import split
from studio.units import write_g, write_ml

from .meaning import painted
from .measuring import DISSOLVE, rounded
from .mixing import grouped
from .models import How
from .plans import Once
from .surer import unsure_words, why_unsure

VOLUMES_ML = [Decimal(each) for each in (50, 100, 150, 200, 250, 300, 400, 500, 600, 800, 1000, 1500, 2000)]
STRONGEST_DYE_PCT, STRONGEST_OTHER_PCT = 5, 20  # what dissolves without trouble; common practice, no source
SAME_PCT = 1  # pours this near to their share are as good as it; common practice, no source
PLACES = 3  # of a told amount


def shared_out(pots, bench, wanted, shelf):
    """(the pots, [Once]): what could be weighed once for all pots, and the pots with what is to be.

    `pots`: [PotPlan]. `wanted`: ingredient pks of those that are to be weighed once.
    """
    fit = [((place, line.position), line) for place, pot in enumerate(pots) for line in pot.lines if _fits(line)]
    groups = grouped(fit, lambda one: one[1].ingredient.pk)
    found = [_once(group, bench, wanted) for group in groups if len(group) > 1 and _of_one_lot(group)]
    found = [one for one in found if one is not None]
    chosen = {one.ingredient.pk: one for one in found if one.chosen}
    if not chosen:
        return pots, found
    shared = [
        [_told(line, (place, line.position), chosen, bench, shelf) for line in pot.lines]
        for place, pot in enumerate(pots)
    ]
    return [replace(pot, lines=lines) for pot, lines in zip(pots, shared, strict=True)], found


def _fits(line):
    """Whether a line is powder that may as well go in dissolved."""
    if line.ingredient is None or line.unit != "g" or not line.exact or line.ingredient.solution_id:
        return False
    made = line.lot is not None and line.lot.solution_id
    return not made and line.ingredient.how != How.SPRINKLED and not painted(line.ingredient)


def _of_one_lot(group):
    return len({line.lot and line.lot.pk for _, line in group}) == 1


def _once(group, bench, wanted):
    lines = [line for _, line in group]
    exact = sum(line.exact for line in lines)
    total = rounded(exact, bench.step(exact, "g"))
    poured = _poured([line.exact for line in lines], exact, lines[0].substance, bench) if total else None
    if poured is None:
        return None
    volume, pours = poured
    told = split(total, pours, PLACES)
    if not all(told):
        return None
    unsure = any(not bench.repeats(line.exact, "g") for line in lines)
    return Once(
        lines[0].ingredient,
        lines[0].substance,
        lines[0].lot,
        exact,
        total,
        volume,
        {where: (grams, pour) for (where, _), grams, pour in zip(group, told, pours, strict=True)},
        chosen=lines[0].ingredient.pk in wanted,
        surer=unsure and bench.repeats(exact, "g"),
    )


def _poured(amounts, exact, substance, bench):
    """(mL to dissolve it to, [mL for each]): the least round volume whose shares can be poured; None where none can."""
    strongest = STRONGEST_DYE_PCT if isinstance(substance, Dye) else STRONGEST_OTHER_PCT
    found = []
    for volume in VOLUMES_ML:
        pours = _pours(volume, amounts, exact, bench)
        if pours is None:
            continue
        apart = max(abs(pour / volume / (own / exact) - 1) * 100 for pour, own in zip(pours, amounts, strict=True))
        sure = all(bench.repeats(pour, "mL") for pour in pours)
        if sure and apart <= SAME_PCT and 100 * exact <= strongest * volume:
            return volume, pours
        found.append((not sure, apart > SAME_PCT, 100 * exact > strongest * volume, apart, volume, pours))
    return min(found)[-2:] if found else None


def _pours(volume, amounts, exact, bench):
    """What each is poured, in steps of the tool for it; they add up to the volume. None where one would get nothing."""
    step = max(bench.step(volume * own / exact, "mL") for own in amounts)
    if volume % step:
        return None
    pours = [steps * step for steps in split(volume / step, amounts, 0)]
    return pours if all(pours) else None


def _told(line, where, chosen, bench, shelf):
    once = chosen.get(line.ingredient.pk) if line.ingredient is not None else None
    if once is None or not _fits(line):
        return line
    told, pour_ml = once.pots[where]
    line = replace(line, note=line.note.replace(DISSOLVE, "").strip())  # it is dissolved for all of them
    own = why_unsure(line, bench, shelf.get(line.ingredient.pk, ()))
    all_of_it = why_unsure(replace(line, exact=once.exact, dyes=()), bench)
    poured = unsure_words(pour_ml, "mL", bench)
    said = (
        f"Weighed once for all {once.among}: {write_g(once.told)}, dissolved to {write_ml(once.volume_ml)}. "
        f"Pour {write_ml(pour_ml)} of it in here."
    )
    note, problem = (text.replace(own, "").strip() if own else text for text in (line.note, line.problem))
    said = " ".join(part for part in (said, note, all_of_it, poured and f"{poured}.") if part)
    return replace(line, told=told, pour_ml=pour_ml, note=said, problem=problem, weaker_pct=None)
