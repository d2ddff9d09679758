"""What one jar or bottle has too little of, taken from two: as much as the first has, and the rest from another.

Each pot gets the same part of both, so that pots that should match do. The two together hold the dye of the whole.
"""

from collections import defaultdict
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal

from studio import writing
from studio.naming import lot_among

from .meaning import painted
from .measuring import to_measure
from .offers import SAME_STRENGTH, Offer, alike, wanted_strength


@dataclass(frozen=True)
class Rest:
    """Two lots for one line. `share`: how much of it (0 to 1) the first one has for it."""

    ingredient: object
    first: Offer
    offer: Offer
    share: Decimal

    def of_first(self, own, bench):
        """(so much of the first lot, in its unit; what that holds of `own`): in steps of the tool, never more than its
        share.
        """
        whole = to_measure(self.ingredient, own, self.first)[0]
        step = bench.step(whole * self.share, self.first.lot.unit)
        amount = (whole * self.share / step).to_integral_value(ROUND_FLOOR) * step
        return amount, own * amount / whole if amount else Decimal(0)


def rests_of(ingredients, needs, choices, wanted):
    """{ingredient pk: Rest} where the lot to take first has too little, and somebody takes the rest from another.

    `needs`: {ingredient pk: of the substance for all pots}. `choices`: {ingredient pk: [Offer, the first to take]}.
    `wanted`: {ingredient pk: lot pk}; said of one line it is meant of all that take the same.
    """
    lots = {alike(each): wanted[each.pk] for each in ingredients if each.pk in wanted}
    takes, found = defaultdict(list), {}
    for each in ingredients:
        first, *others = choices[each.pk]
        if first.lot is not None and needs[each.pk]:
            other = next((one for one in others if one.lot.pk == lots.get(alike(each)) and may_join(first, one)), None)
            takes[first.lot.pk].append((each, to_measure(each, needs[each.pk], first)[0], first, other))
    for lines in takes.values():
        whole, parted = (sum(one[1] for one in lines if bool(one[3]) is joined) for joined in (False, True))
        left = max(lines[0][2].free - whole, Decimal(0))
        if left < parted:
            share = left / parted
            found |= {each.pk: Rest(each, first, other, share) for each, _, first, other in lines if other is not None}
    return found


def with_the_rest(total, ingredient, choices, totals):
    """The `Offer` of another lot that has what is short of this `LotTotal`, the nearest in strength; None of none.

    `ingredient`: of a line that takes from it. `totals`: what the plan takes of each lot.
    """
    first, *others = choices[ingredient.pk]
    if first.lot is None or first.lot.pk != total.lot.pk:
        return None  # it is short of the rest itself
    taken = {one.lot.pk: one.told for one in totals}
    own = first.per_unit * total.short
    fit = [
        one
        for one in others
        if may_join(first, one)
        and not one.lot.is_past()
        and one.free - taken.get(one.lot.pk, 0) >= one.amount_of(own)
        and not (painted(ingredient) and one.per_unit < wanted_strength(ingredient) * (1 - SAME_STRENGTH))
    ]
    return min(fit, key=lambda one: abs((one.per_unit / first.per_unit).ln()), default=None)


def may_join(first, other):
    """Whether one offer can give what another lacks: both are poured, or both are weighed."""
    return other.lot is not None and first.lot is not None and other.lot.unit == first.lot.unit


def which_of(lot):
    """ "lot T-2209", "bottle 3", "the bottle of 9 Oct": which one, where another of its name was spoken of."""
    if not lot.solution_id:
        return lot_among(lot)
    return f"bottle {lot.number}" if lot.number else f"the bottle of {writing.day(lot.came_at)}"
