"""Colours between colours: shares of a few dyes, steps of depth, and skeins pulled in turn out of one pot.

Plain numbers, no Django. Depths of shade are percent of the dry fibre's weight (1 means 1 %), shares are parts of 1,
masses are in g. Numbers go in as Decimal, int or float and come out as Decimal. Wrong input raises ValueError with a
sentence for the dyer.
"""

from dataclasses import dataclass
from decimal import Decimal

from studio.money import split
from studio.units import exact

MOST_STEPS = 30
MOST_DIVISIONS = 6  # of the sides of a triangle: 28 samples
DEEPEST_PCT = 100
TOO_DEEP = "No yarn takes its own weight of dye: write a depth below 100 %, such as 3."
SHARE_PLACES = 9  # of a share: more than a depth is kept to


# Steps of depth


def linear(least_pct, most_pct, steps):
    """``steps`` depths [%] from the lightest to the deepest, each as much deeper than the last.

    An arithmetic sequence: the differences are equal. To the eye the pale end moves fastest, as an equal difference is
    a large part of a small depth; `geometric` moves evenly there.
    """
    least, most, steps = _depths(least_pct, most_pct, steps)
    return [*(least + (most - least) * place / (steps - 1) for place in range(steps - 1)), most]


def geometric(least_pct, most_pct, steps):
    """``steps`` depths [%] from the lightest to the deepest, each as many times the last.

    A geometric sequence: the ratio of neighbours is (most / least) ** (1 / (steps - 1)), as preferred numbers have it
    (ISO 3).
    """
    least, most, steps = _depths(least_pct, most_pct, steps)
    ratio = (most / least) ** (Decimal(1) / (steps - 1))
    return [*(least * ratio**place for place in range(steps - 1)), most]


def _depths(least_pct, most_pct, steps):
    least, most = exact(least_pct), exact(most_pct)
    if least <= 0 or most <= 0:
        raise ValueError("A depth of 0 is undyed yarn: write a depth above zero, such as 0.1.")
    if most > DEEPEST_PCT:
        raise ValueError(TOO_DEEP)
    if least >= most:
        raise ValueError("The lightest depth must be below the deepest: write the smaller one first.")
    return least, most, _steps(steps)


def _steps(steps):
    if steps < 2:
        raise ValueError("There is nothing between one colour and itself: choose two steps or more.")
    if steps > MOST_STEPS:
        raise ValueError(f"That is more than one day's work: choose {MOST_STEPS} steps or fewer.")
    return steps


# Shares of a few dyes


def between_two(steps):
    """[(share, share)] of two dyes from the first alone to the second alone; the shares of each sum to exactly 1."""
    steps = _steps(steps)
    return [tuple(split(1, (steps - 1 - place, place), SHARE_PLACES)) for place in range(steps)]


def between_three(divisions):
    """[(share, share, share)] of three dyes, all that whole parts of ``divisions`` make: thirds give 10, quarters 15.

    In rows: the first dye alone, then a part less of it in each row, as a triangle is written down. The number of
    mixes of n parts of three things is (n + 1)(n + 2) / 2, the simplex lattice of mixture experiments (Scheffe,
    Journal of the Royal Statistical Society B 20, 1958, from memory). The shares of each sum to exactly 1.
    """
    if divisions < 2:
        raise ValueError("Choose halves, thirds or finer: one part is each dye alone.")
    if divisions > MOST_DIVISIONS:
        raise ValueError(f"That is more than one day's work: choose {MOST_DIVISIONS} parts or fewer.")
    return [
        tuple(split(1, (divisions - row, row - last, last), SHARE_PLACES))
        for row in range(divisions + 1)
        for last in range(row + 1)
    ]


def share_factors(shares, depths_pct, total_pct):
    """What to multiply each dye's own depth in a version by, so that all together are ``total_pct`` in these shares.

    ``depths_pct``: each dye's own depth [%] in the version, in the order of ``shares``.
    """
    depths = [exact(depth) for depth in depths_pct]
    if any(depth <= 0 for depth in depths):
        raise ValueError("Each dye needs an amount in this version before its share can be changed: write it first.")
    total = exact(total_pct)
    if total <= 0:
        raise ValueError("A depth of 0 is undyed yarn: write how deep all dyes together are to be, such as 1.")
    if total > DEEPEST_PCT:
        raise ValueError(TOO_DEEP)
    return [exact(share) * total / depth for share, depth in zip(shares, depths, strict=True)]


# Skeins pulled in turn


@dataclass(frozen=True)
class Stage:
    """What goes into the pot before one skein is pulled. ``more_pct``: depth [%] added on what is still in."""

    number: int
    skeins_in: int
    more_pct: Decimal
    depth_pct: Decimal  # of the skein that is then pulled
    fibre_g: Decimal  # still in
    dye_g: Decimal


def pulled(depths_pct, skein_g):
    """[Stage]: how much dye to add before each skein is taken out, so that each has its depth.

    One skein of ``skein_g`` [g] for each of ``depths_pct`` [%], the lightest first. Stage k adds
    (D_k - D_(k-1)) x skein_g x skeins still in / 100 g of dye. That holds where the fibre takes all the dye before
    a skein is pulled, and all skeins take alike: a bath that is not clear yet makes the later ones deeper. All stages
    together are what the skeins hold: the sum of D_k x skein_g / 100.
    """
    depths, each_g = [exact(depth) for depth in depths_pct], exact(skein_g)
    if each_g <= 0:
        raise ValueError("The weight of a skein must be more than zero: write it in g, such as 20.")
    _steps(len(depths))
    stages, before = [], Decimal(0)
    for number, depth in enumerate(depths, 1):
        if depth <= before:
            raise ValueError("Each skein that stays in longer gets deeper: write the depths from the lightest on.")
        if depth > DEEPEST_PCT:
            raise ValueError(TOO_DEEP)
        left = len(depths) - number + 1
        more, fibre = depth - before, each_g * left
        stages.append(Stage(number, left, more, depth, fibre, more * fibre / 100))
        before = depth
    return stages
