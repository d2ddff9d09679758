"""Yarn into pots."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.loading import fill, mixed_pots, spread


@pytest.mark.parametrize(
    ("skeins", "pots", "expected"),
    [(7, 2, [4, 3]), (6, 2, [3, 3]), (8, 8, [1] * 8), (1, 1, [1]), (10, 4, [3, 3, 2, 2])],
)
def test_skeins_are_spread_as_evenly_as_whole_ones_allow(skeins, pots, expected):
    assert spread(skeins, pots) == expected


@pytest.mark.parametrize(
    ("skeins", "pots", "sentence"), [(3, 4, "3 skeins do not fill 4 pots"), (3, 0, "at least one pot")]
)
def test_pots_that_would_stay_empty_are_refused(skeins, pots, sentence):
    with pytest.raises(ValueError, match=sentence):
        spread(skeins, pots)


def test_a_yarn_lot_stays_together_as_far_as_it_goes():
    assert fill([("a", 4), ("b", 2)], 2) == [[("a", 3)], [("a", 1), ("b", 2)]]
    assert fill([("a", 3), ("b", 3)], 2) == [[("a", 3)], [("b", 3)]]


def test_only_pots_with_two_lots_are_called_mixed():
    assert mixed_pots([[("a", 3)], [("a", 1), ("b", 2)]]) == [2]
    assert mixed_pots([[("a", 1), ("a", 2)]]) == []


@given(st.lists(st.integers(0, 40), min_size=1, max_size=5), st.integers(1, 8))
def test_no_skein_is_lost_and_no_pot_overfull(numbers, pots):
    total = sum(numbers)
    if total < pots:
        return
    loads = fill(list(enumerate(numbers)), pots)
    each = [sum(skeins for _, skeins in load) for load in loads]
    assert sum(each) == total and max(each) - min(each) <= 1
    taken = {key: Decimal(0) for key in range(len(numbers))}
    for load in loads:
        for key, skeins in load:
            taken[key] += skeins
    assert list(taken.values()) == numbers
