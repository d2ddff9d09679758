"""Yarn into pots: loads over vessels and days, and which yarn lot goes where.

Equal loads and lots kept apart are common practice, no source.
"""

from collections import Counter
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.loading import Loads, Spare, Vessels, fill, fits, mixed, propose, share, spread


@pytest.mark.parametrize(
    ("skeins", "pots", "expected"),
    [(7, 2, [4, 3]), (6, 2, [3, 3]), (8, 8, [1] * 8), (1, 1, [1]), (10, 4, [3, 3, 2, 2])],
)
def test_skeins_are_spread_as_evenly_as_whole_ones_allow(skeins, pots, expected):
    assert spread(skeins, pots) == expected


@pytest.mark.parametrize(
    ("skeins", "pots", "sentence"),
    [(3, 4, "3 skeins do not fill 4 pots"), (1, 2, "1 skein do"), (3, 0, "at least one pot")],
)
def test_pots_that_would_stay_empty_are_refused(skeins, pots, sentence):
    with pytest.raises(ValueError, match=sentence):
        spread(skeins, pots)


# --- how much fits, and spares


@pytest.mark.parametrize(
    ("fill_ml", "ratio", "skein_g", "skeins"),
    [(12_000, 20, 100, 6), (12_000, 20, 115, 5), (700, 10, 50, 1), (700, 20, 100, 0), (2000, 20, 100, 1)],
    ids=["a stock pot", "heavier skeins", "a jar of half skeins", "smaller than one skein", "just one"],
)
def test_as_many_skeins_fit_as_have_their_bath(fill_ml, ratio, skein_g, skeins):
    assert fits(fill_ml, ratio, skein_g) == skeins


@pytest.mark.parametrize(
    ("spare", "wanted", "skeins"),
    [
        (Spare(2), 60, 2),
        (Spare(pct=Decimal(3)), 60, 2),
        (Spare(pct=Decimal(5)), 60, 3),
        (Spare(pct=Decimal(1)), 1, 1),
        (Spare(), 60, 0),
    ],
)
def test_spares_are_a_number_or_a_percentage_rounded_up(spare, wanted, skeins):
    assert spare.of(wanted) == skeins


# --- loads over vessels and days

KETTLES, JARS = Vessels("kettle", many=2, takes=16), Vessels("jar", many=8, takes=1)
TALL, LOW = Vessels("tall", many=1, takes=8), Vessels("low", many=2, takes=6)


@pytest.mark.parametrize(
    ("skeins", "kinds", "days", "expected"),
    [
        (60, [KETTLES], None, [(1, "kettle", 2, 15), (2, "kettle", 2, 15)]),
        (62, [KETTLES], None, [(1, "kettle", 2, 16), (2, "kettle", 2, 15)]),
        (62, [KETTLES, JARS], None, [(1, "kettle", 2, 16), (2, "kettle", 2, 15)]),
        (62, [KETTLES], 3, [(1, "kettle", 2, 16), (2, "kettle", 1, 15), (3, "kettle", 1, 15)]),
        (40, [JARS, KETTLES], None, [(1, "kettle", 2, 16), (1, "jar", 8, 1)]),
        (43, [KETTLES, JARS], None, [(1, "kettle", 1, 15), (1, "kettle", 1, 14), (2, "kettle", 1, 14)]),
        (60, [Vessels("kettle", 2, 16, loads=2)], None, [(1, "kettle", 4, 15)]),
        (1, [KETTLES], 5, [(1, "kettle", 1, 1)]),
        (32, [TALL, LOW], 2, [(1, "tall", 1, 7), (1, "low", 2, 6), (2, "tall", 1, 7), (2, "low", 1, 6)]),
        (13, [TALL, LOW], None, [(1, "tall", 1, 7), (1, "low", 1, 6)]),
    ],
    ids=[
        "equal loads first: not 16, 16, 16 and 12",
        "two spares",
        "the jars are not needed",
        "three days",
        "all that a day takes",
        "the fuller pots first",
        "two loads a day",
        "one skein",
        "pots of two sizes: not 8, 6, 5, 8 and 5",
        "not 8 and 5",
    ],
)
def test_equal_loads_over_vessels_and_days(skeins, kinds, days, expected):
    assert propose(skeins, kinds, days) == [Loads(*one) for one in expected]


@pytest.mark.parametrize(
    ("skeins", "kinds", "days", "sentence"),
    [
        (60, [KETTLES], 1, "60 skeins take 2 days in these pots"),
        (60, [Vessels("thimble", 1, takes=0)], None, "how many skeins one of them takes"),
        (60, [], None, "Choose the pots"),
        (2000, [JARS], None, "would take 250 days"),
    ],
)
def test_what_does_not_fit_is_said(skeins, kinds, days, sentence):
    with pytest.raises(ValueError, match=sentence):
        propose(skeins, kinds, days)


kinds = st.lists(st.tuples(st.integers(1, 8), st.integers(1, 30), st.integers(1, 3)), min_size=1, max_size=4).map(
    lambda found: [Vessels(key, *one) for key, one in enumerate(found)]
)


@given(st.integers(1, 400), kinds, st.integers(0, 5))
def test_loads_sum_to_the_whole_and_no_vessel_is_overfull(skeins, kinds, more):
    least = -(-skeins // sum(kind.slots * kind.takes for kind in kinds))
    if least > 60:
        return
    loads = propose(skeins, kinds, least + more)
    assert sum(one.pots * one.skeins for one in loads) == skeins
    assert sorted({one.day for one in loads}) == list(range(1, max(one.day for one in loads) + 1)), "no free day"
    assert len({one.day for one in loads}) <= least + more
    slots = Counter()
    for one in loads:
        slots[one.day, one.key] += one.pots
    for kind in kinds:
        sizes = {one.skeins for one in loads if one.key == kind.key}
        assert not sizes or 1 <= min(sizes) <= max(sizes) <= kind.takes and max(sizes) - min(sizes) <= 1
        assert all(pots <= kind.slots for (_, key), pots in slots.items() if key == kind.key)
    fullest, takes = max(one.skeins for one in loads), {kind.key: kind.takes for kind in kinds}
    assert all(one.skeins >= fullest - 1 or one.skeins == takes[one.key] for one in loads), "less only where it is full"


# --- yarn lots over loads


def test_a_yarn_lot_stays_together_as_far_as_it_goes():
    assert fill([("a", 4), ("b", 2)], 2) == [[("a", 3)], [("a", 1), ("b", 2)]]
    assert fill([("a", 3), ("b", 3)], 2) == [[("a", 3)], [("b", 3)]]


def test_a_lot_that_fills_loads_exactly_has_them_to_itself():
    assert share([("a", 3), ("b", 4)], [4, 3]) == [[("b", 4)], [("a", 3)]]
    assert share([("a", 5), ("b", 5)], [3, 3, 2, 2]) == [[("a", 3)], [("b", 3)], [("a", 2)], [("b", 2)]]


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


@given(st.lists(st.integers(1, 30), min_size=1, max_size=5), st.data())
def test_fewer_loads_are_mixed_than_there_are_yarns(numbers, data):
    total, sizes = sum(numbers), []
    while sum(sizes) < total:
        sizes.append(data.draw(st.integers(1, total - sum(sizes))))
    loads = share(list(enumerate(numbers)), sizes)
    assert [sum(skeins for _, skeins in load) for load in loads] == sizes
    assert sum(len(load) > 1 for load in loads) < len(numbers)


def test_where_one_base_comes_of_two_lots_is_found():
    base = {"a1": "a", "a2": "a", "b1": "b"}.get
    loads = [[("a1", 3)], [("a1", 1), ("a2", 2)], [("b1", 3)], [("a2", 3)]]
    assert mixed(loads, base) == {"a": {"a1": [1, 2], "a2": [2, 4]}}
    assert mixed([[("a1", 3)], [("b1", 3)], [("a1", 1), ("b1", 1)]], base) == {}
