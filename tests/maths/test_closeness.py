"""What counts as a difference between two batches, and what nobody can say."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.closeness import Answer, Row, Value, answer_of, apart, by_distance, by_ratio, compare


def value(number, **facts):
    return Value(str(number), Decimal(number), **facts)


@pytest.mark.parametrize(
    "one, other, said",
    [
        (value("0.3"), value("0.36"), True),
        (value("0.3"), value("0.305"), False),  # under 2 %: no hand repeats it nearer
        (value("0.3", step=Decimal("0.1")), value("0.36"), False),  # the scale can't tell
        (value("0.3"), value("0.36", step=Decimal("0.1")), False),
        (value("0.3"), Value(), None),
        (Value(), Value(), None),
        (value("0.3", at_least=True), value("0.5"), None),  # it may be as much
        (value("0.5", at_least=True), value("0.3"), True),  # it is more in any case
        (value("0.3", at_least=True), value("0.3"), None),
        (value("0.3", unsure=True), value("0.3"), None),  # what was carried over is not known
        (value("0.3", unsure=True), value("0.5"), True),
        (Value("wool"), Value("wool"), False),
        (Value("wool"), Value("silk"), True),
        (Value("done, not timed", at_least=True), Value("done, not timed", at_least=True), False),
        (Value("done, not timed", at_least=True), value("30"), None),
        (value("0"), value("0"), False),
        (value("0"), value("0.01"), True),
    ],
)
def test_two_of_a_thing(one, other, said):
    assert apart(one, other) is said
    assert apart(other, one) is said


def test_one_pair_that_differs_is_enough():
    assert answer_of([value(1), value(1), value(2)]) == Answer.DIFFERS
    assert answer_of([value(1), Value(), value(2)]) == Answer.DIFFERS
    assert answer_of([value(1), Value(), value(1)]) == Answer.UNKNOWN
    assert answer_of([value(1), value(1), value(1)]) == Answer.ALIKE


def test_small_steps_that_add_up_are_seen():
    """Each is like its neighbour, and the first is unlike the last."""
    row = [value("1"), value("1.015"), value("1.03")]
    assert apart(row[0], row[1]) is False and answer_of(row) == Answer.DIFFERS


def test_what_is_no_part_of_the_comparison_is_left_out():
    assert answer_of([Value("lot 1"), Value("none went in", left_out=True)]) == Answer.ALIKE


def test_each_is_said_against_the_first():
    row = Row("Rust", [value("0.25"), value("0.3"), value("0.252"), value("0.5", at_least=True)], say=by_ratio)
    assert [one.against for one in row.values] == ["", "a fifth more", "", ""]
    hold = Row("Hold", [value(30), value(45), value(20)], say=by_distance("min", "longer", "shorter"))
    assert [one.against.replace("\xa0", " ") for one in hold.values] == ["", "15 min longer", "10 min shorter"]
    ph = Row("pH", [value("5"), value("4.2")], say=by_distance("", "higher", "lower"))
    assert ph.values[1].against.strip() == "0.8 lower"


def test_none_of_a_dye_is_said_without_a_ratio():
    row = Row("Rust", [value("0.25"), Value("none", Decimal(0))], say=by_ratio)
    assert row.answer == Answer.DIFFERS and row.values[1].against == ""


def test_what_no_record_speaks_of_is_left_out():
    found = compare([Row("pH", [Value(), Value()]), Row("Base", [Value("wool"), Value("wool")])])
    assert (found.differs, found.unknown, [row.name for row in found.alike], found.count) == ([], [], ["Base"], 1)


values = st.builds(
    Value,
    st.sampled_from(["", "some", "much"]),
    st.one_of(st.none(), st.decimals(0, 5, places=2)),
    st.sampled_from([Decimal(0), Decimal("0.5")]),
    at_least=st.booleans(),
    unsure=st.booleans(),
    left_out=st.booleans(),
)


@given(st.lists(values, min_size=2, max_size=4), st.randoms())
def test_the_answer_does_not_hang_on_the_order(row, chance):
    other = list(row)
    chance.shuffle(other)
    assert answer_of(row) == answer_of(other)


@given(values)
def test_nothing_differs_from_itself(one):
    assert apart(one, one) is not True
