"""The colour bar: the dyes of a bath as widths of one bar. Plain numbers in, percentages out.

Widths are by mass. A pinch that would vanish keeps a least width, so every dye that went in can be seen; dye
that nobody weighed has no width of its own, so it gets a fixed one and is hatched where it is drawn.
"""

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

LEAST = Decimal(2)  # percent of the bar: about 7 px on the narrowest phone
UNWEIGHED = Decimal(8)
HUNDREDTH = Decimal("0.01")
HEX = re.compile(r"#[0-9a-fA-F]{6}")


@dataclass(frozen=True)
class Segment:
    """One dye of a colour bar.

    ``share``: its mass in any unit, the same for all segments of a bar; None where nobody weighed it.
    ``fill``: its colour as "#rrggbb", or "" where nobody noted one. ``amount``: what to write by its name.
    """

    name: str
    fill: str = ""
    share: Decimal | None = None
    unweighed: bool = False
    amount: str = ""


def safe_fill(fill):
    """A colour as a drawing may have it; "none" of whatever is not "#rrggbb"."""
    return fill if isinstance(fill, str) and HEX.fullmatch(fill) else "none"


def widths(shares, scale=None):
    """The widths [% of the bar] of segments with these shares, in their order.

    ``shares``: masses in one unit, 0 or more; None for dye that nobody weighed. ``scale``: the mass that the whole bar
    stands for, so that two bars can be compared; without it the segments fill the bar. The widths are Decimals with
    two places and sum to 100 exactly, or to less on a larger scale. Raises ValueError for a negative share.
    """
    shares = [None if share is None else Decimal(str(share)) for share in shares]
    if any(share is not None and (share.is_nan() or share < 0) for share in shares):
        raise ValueError("A share of the colour bar can't be below zero.")
    drawn = [place for place, share in enumerate(shares) if share is None or share > 0]
    if not drawn:
        return [Decimal(0)] * len(shares)
    whole = _whole(sum(share for share in shares if share is not None), scale)
    exact = _with_least([shares[place] for place in drawn], whole)
    result = [Decimal(0)] * len(shares)
    for place, width in zip(drawn, _on_hundredths(exact), strict=True):
        result[place] = width
    return result


def percents(shares):
    """Each weighed share in whole percent of all that was weighed; None where nobody weighed it."""
    shares = [None if share is None else Decimal(str(share)) for share in shares]
    weighed = sum(share for share in shares if share is not None)
    if not weighed:
        return [None] * len(shares)
    return [None if share is None else (share * 100 / weighed).quantize(Decimal(1), ROUND_HALF_UP) for share in shares]


def _whole(weighed, scale):
    """How much of the bar [%] all segments together take."""
    if scale is None or not weighed:
        return Decimal(100)
    return min(Decimal(100), weighed * 100 / Decimal(str(scale)))


def _with_least(shares, whole):
    """Widths in proportion to the shares, none under the least width, summing to ``whole``."""
    even = whole / len(shares)
    fixed = {place: min(UNWEIGHED, even) for place, share in enumerate(shares) if share is None}
    least = min(LEAST, even)
    while True:
        left = whole - sum(fixed.values())
        free = {place: share for place, share in enumerate(shares) if place not in fixed}
        mass = sum(free.values())
        thin = [place for place, share in free.items() if left * share < least * mass]
        if not thin:
            break
        fixed |= dict.fromkeys(thin, least)
    if not free:  # nothing was weighed: the segments are alike
        return [even] * len(shares)
    return [fixed[place] if place in fixed else left * share / mass for place, share in enumerate(shares)]


def _on_hundredths(exact):
    """Rounded so that the joints, not the widths, are off by less than a hundredth: the sum stays exact."""
    edges, edge = [Decimal(0)], Decimal(0)
    for width in exact:
        edge += width
        edges.append(edge.quantize(HUNDREDTH, ROUND_HALF_UP))
    return [right - left for left, right in zip(edges, edges[1:], strict=False)]
