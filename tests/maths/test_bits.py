"""Sets of runs as rows of bits, beside Python's own sets and sorting."""

from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from batches import bits

SETS = st.sets(st.integers(0, 3000), max_size=60)


@settings(deadline=None)
@given(SETS)
def test_a_set_comes_back_from_its_bytes(places):
    packed = bits.pack(bits.of_places(places))
    assert list(bits.places(bits.unpack(packed))) == sorted(places)


@settings(deadline=None)
@given(SETS, SETS)
def test_both_and_either_are_those_of_sets(one, other):
    mine, theirs = bits.of_places(one), bits.of_places(other)
    assert set(bits.places(mine & theirs)) == one & other
    assert set(bits.places(mine | theirs)) == one | other


@settings(deadline=None)
@given(st.lists(st.one_of(SETS, st.sets(st.integers(0, 20_000), max_size=2)), max_size=8))
def test_a_union_of_packed_ones_is_that_of_sets(these):
    packed = [bits.pack(bits.of_places(places)) for places in these]
    assert set(bits.places(bits.union(packed))) == set().union(*these)


def test_a_single_late_run_is_short():
    assert len(bits.pack(1 << 19_999)) == 5


@settings(deadline=None)
@given(st.lists(st.integers(0, 365), max_size=40), st.data())
def test_runs_are_taken_newest_first_from_where_a_page_ended(days, data):
    rows = [(date(2024, 1, 1) + timedelta(days=day), key + 1, 7 * key % 41) for key, day in enumerate(days)]
    year = bits.Year(2024)
    year.change(rows)
    year = bits.Year(2024, *year.packed().values())
    chosen = {row for row in rows if data.draw(st.booleans())}
    right = [key for _, key, _ in sorted(chosen, reverse=True)]
    held = bits.of_places([place for _, _, place in chosen])
    seen, before = [], None
    while page := year.take(held, 5, before):
        seen += page
        before = next((day, key) for day, key, _ in rows if key == page[-1])
    assert seen == right


@settings(deadline=None)
@given(st.lists(st.integers(0, 364), max_size=40), st.integers(0, 364), st.integers(0, 364))
def test_between_two_days(days, first, last):
    first, last = (date(2026, 1, 1) + timedelta(days=day) for day in sorted((first, last)))
    rows = [(date(2026, 1, 1) + timedelta(days=day), key + 1, key) for key, day in enumerate(days)]
    year = bits.Year(2026)
    year.change(rows)
    assert set(bits.places(year.between(first, last))) == {place for day, _, place in rows if first <= day <= last}


def test_a_run_moves_to_another_day():
    year = bits.Year(2026)
    year.change([(date(2026, 5, 1), 1, 0), (date(2026, 6, 1), 2, 1)])
    year.change([(date(2026, 7, 1), 1, 0)], gone=[1])
    assert year.take(0b11, 9) == [1, 2]
