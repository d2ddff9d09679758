"""A calibrated spoon against published figures, and against drawn spoons.

Sources: JCGM 100:2008 (GUM), 4.4.3 with table 1: twenty readings of a temperature, mean 100.145, experimental
standard deviation 1.489, that of the mean 0.333 (figures of the table from memory). NIST, Statistical Reference
Datasets, NumAcc1: mean 10000002, standard deviation 1 (from memory). NIST, Dataplot reference manual, WEIGHTED
STANDARD DEVIATION, its example: 5.82.
"""

import random
from decimal import Decimal
from statistics import fmean, stdev

import pytest

from studio.fillings import filling_from

GUM_TABLE_1 = (
    "96.90 98.18 98.25 98.61 99.03 99.49 99.56 99.74 99.89 100.07 "
    "100.33 100.42 100.68 100.95 101.11 101.20 101.57 101.84 102.36 102.72"
)


def test_the_twenty_readings_of_the_guide():
    found = filling_from([(1, Decimal(reading)) for reading in GUM_TABLE_1.split()])
    assert round(found.grams, 3) == Decimal("100.145")
    assert round(found.spread_g, 3) == Decimal("1.489")
    assert round(found.mean_u_g, 3) == Decimal("0.333")


def test_numbers_that_cancel_digits():
    found = filling_from([(1, Decimal(number)) for number in (10000001, 10000003, 10000002)])
    assert (found.grams, found.spread_g) == (10000002, 1)


def test_the_weighted_example():
    values = (2, 3, 5, 7, 11, 13, 17, 19, 23)
    weights = (1, 1, 0, 0, 4, 1, 2, 1, 0)
    together = [(w, Decimal(w * y)) for y, w in zip(values, weights, strict=True) if w]
    found = filling_from(together)
    # The manual's is for a usual weighing, of weights / observations fillings; ours for one filling.
    usual = Decimal(found.fillings) / found.weighings
    assert round(found.spread_g / usual.sqrt(), 2) == Decimal("5.82")


@pytest.mark.parametrize("count", [1, 6])
def test_drawn_spoons_lie_as_far_off_as_it_says(count):
    """Spoons of 0.2 g ± 0.024 g, each calibrated anew by 4 weighings of 5, then used: by plain draws."""
    draw = random.Random(20)

    def fillings(number):
        return sum(draw.gauss(0.2, 0.024) for _ in range(number))

    off, said = [], []
    for _ in range(4000):
        spoon = filling_from([(5, Decimal(fillings(5))) for _ in range(4)])
        grams, u = spoon.of(count)
        off.append(fillings(count) - float(grams))
        said.append(float(u) ** 2)
    assert stdev(off) == pytest.approx(fmean(said) ** 0.5, rel=0.06)
