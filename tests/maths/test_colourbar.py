"""The geometry of the colour bar. The least width and the hatching are the studio's own way of drawing."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.colourbar import LEAST, UNWEIGHED, percents, widths

masses = st.lists(
    st.one_of(st.none(), st.decimals(min_value=0, max_value=100_000, places=3)),
    min_size=1,
    max_size=40,
)


def test_widths_are_in_proportion_to_mass():
    assert widths([2, 1, 1]) == [Decimal(50), Decimal(25), Decimal(25)]


def test_grams_and_fractions_draw_the_same_bar():
    assert widths([12, 6, 2]) == widths([Decimal("0.6"), Decimal("0.3"), Decimal("0.1")])


def test_a_pinch_can_still_be_seen():
    kilo, pinch = widths([1000, Decimal("0.01")])
    assert pinch == LEAST
    assert kilo == 100 - LEAST


def test_making_room_for_a_pinch_may_push_another_to_the_least_width():
    # 2.03 % before the pinch is given its width, under 2 % after it: both end at the least.
    assert widths([Decimal("97.96"), Decimal("2.03"), Decimal("0.01")]) == [Decimal(96), LEAST, LEAST]


def test_unweighed_dye_has_a_fixed_width_beside_what_was_weighed():
    assert widths([3, None, 1]) == [(100 - UNWEIGHED) * 3 / 4, UNWEIGHED, (100 - UNWEIGHED) / 4]


def test_dyes_nobody_weighed_are_drawn_alike():
    assert widths([None, None]) == [Decimal(50), Decimal(50)]


def test_nothing_used_has_no_width():
    assert widths([0, 5]) == [Decimal(0), Decimal(100)]
    assert widths([]) == []


def test_a_scale_makes_two_bars_comparable():
    planned = widths(["2.40", "1.80", "0.90", "0.60", "0.24"], scale="6.40")
    assert planned == [Decimal(text) for text in ("37.50", "28.13", "14.06", "9.37", "3.75")]
    assert sum(planned) == Decimal("92.81")  # 5.94 g of 6.40 g


def test_a_scale_smaller_than_the_sum_fills_the_bar():
    assert sum(widths([5, 5], scale=4)) == 100


def test_a_negative_share_is_refused():
    with pytest.raises(ValueError, match="below zero"):
        widths([1, -1])
    with pytest.raises(ValueError, match="below zero"):
        widths([Decimal("NaN")])


@given(masses)
def test_widths_sum_to_the_whole_bar_and_none_vanishes(shares):
    found = widths(shares)
    drawn = [width for width, share in zip(found, shares, strict=True) if share is None or share > 0]
    assert sum(found) == (100 if drawn else 0)
    least = min(LEAST, Decimal(100) / max(len(drawn), 1))
    assert all(width >= least - Decimal("0.01") for width in drawn)


def test_percents_are_of_what_was_weighed():
    assert percents([3, None, 1]) == [75, None, 25]
    assert percents([None, 0]) == [None, None]
