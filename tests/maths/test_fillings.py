"""What a spoon holds, and how far off some fillings of it may be."""

from decimal import Decimal
from math import isclose, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.fillings import filling_from

WEIGHTS = st.lists(st.tuples(st.integers(1, 20), st.integers(1, 5000)), min_size=2, max_size=8)


def test_one_weighing_tells_the_mean_and_not_how_far_off():
    spoon = filling_from([(10, Decimal("2"))])
    assert (spoon.grams, spoon.spread_g, spoon.mean_u_g, spoon.weighings) == (Decimal("0.2"), None, None, 1)
    assert spoon.of(Decimal("2.5")) == (Decimal("0.5"), None)
    assert spoon.off_pct() is None


def test_more_fillings_are_surer_in_percent_and_never_surer_than_the_mean():
    spoon = filling_from([(1, Decimal(g)) for g in ("0.18", "0.22", "0.20", "0.24", "0.16")])
    off = [spoon.off_pct(n) for n in (1, 2, 6, 100)]
    assert off == sorted(off, reverse=True)
    assert off[-1] > 100 * spoon.mean_u_g / spoon.grams


def test_half_a_filling_holds_half_and_varies_as_half_of_one():
    spoon = filling_from([(1, Decimal("0.18")), (1, Decimal("0.22"))])
    grams, u = spoon.of(Decimal("0.5"))
    s, mean_u = float(spoon.spread_g), float(spoon.mean_u_g)
    assert grams == Decimal("0.1") and isclose(u, sqrt(0.5 * s**2 + 0.25 * mean_u**2))


def test_weighings_that_agree_leave_open_what_the_scale_does():
    spoon = filling_from([(10, Decimal("2.0")), (10, Decimal("2.0"))], Decimal("0.1"))
    assert spoon.spread_g == 0
    # Two weighings, 0.1/√6 g each, over 20 fillings.
    assert isclose(spoon.mean_u_g, sqrt(2) * 0.1 / sqrt(6) / 20, rel_tol=1e-9)
    assert spoon.off_pct(6) > 0


def test_the_scale_is_not_counted_again_where_the_scatter_holds_it():
    weighings = [(1, Decimal("0.18")), (1, Decimal("0.22"))]
    assert filling_from(weighings, Decimal("0.001")) == filling_from(weighings)


@given(WEIGHTS)
def test_doubling_every_weight_doubles_all(weighings):
    once = filling_from([(m, Decimal(g)) for m, g in weighings])
    twice = filling_from([(m, 2 * Decimal(g)) for m, g in weighings])
    assert isclose(twice.grams, 2 * once.grams)
    assert isclose(twice.spread_g, 2 * once.spread_g, rel_tol=1e-9, abs_tol=1e-9)


@pytest.mark.parametrize("count", [0, -1, Decimal("NaN")])
def test_no_filling_is_refused(count):
    spoon = filling_from([(10, Decimal("2"))])
    with pytest.raises(ValueError, match="above zero"):
        spoon.of(count)


def test_nothing_weighed_is_refused():
    with pytest.raises(ValueError, match="Weigh some fillings first"):
        filling_from([])
