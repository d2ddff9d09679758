"""How well the tools at hand repeat."""

import random
from statistics import stdev

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recipes import precision

steps = st.floats(min_value=0.0001, max_value=10)
limits = st.floats(min_value=0.1, max_value=50)


@given(steps, limits)
def test_the_smallest_amount_is_exactly_at_the_limit(step, limit_pct):
    weighed = precision.smallest_amount(precision.weighing_u(step), limit_pct)
    assert precision.relative_pct(precision.weighing_u(step), weighed) == pytest.approx(limit_pct)
    read = precision.smallest_amount(precision.reading_u(step), limit_pct)
    assert precision.relative_pct(precision.reading_u(step), read) == pytest.approx(limit_pct)


@given(steps)
def test_a_weighing_is_two_readings(step):
    one = precision.reading_u(step)
    assert precision.weighing_u(step) == pytest.approx(precision.combined_u(one, one))


@given(st.lists(st.floats(min_value=0, max_value=100), max_size=5))
def test_combining_never_shrinks_and_never_exceeds_the_sum(relative_pcts):
    combined = precision.combined_pct(*relative_pcts)
    assert max(relative_pcts, default=0) <= combined * (1 + 1e-12)
    assert combined <= sum(relative_pcts) * (1 + 1e-12)


def test_a_drawn_sample_spreads_as_the_formula_says():
    """10 000 loads on a scale that shows 0.01 g, each after a tare of its own."""
    draw = random.Random(7)
    pairs = [(draw.uniform(0, 1), draw.uniform(0, 1)) for _ in range(10_000)]
    one_reading = [round(load, 2) - load for _, load in pairs]
    weighing = [round(tare + load, 2) - round(tare, 2) - load for tare, load in pairs]
    assert stdev(one_reading) == pytest.approx(precision.reading_u(0.01), rel=0.03)
    assert stdev(weighing) == pytest.approx(precision.weighing_u(0.01), rel=0.03)


@pytest.mark.parametrize(
    "sum_, says",
    [
        (lambda: precision.reading_u(0), "step of a tool must be more than zero"),
        (lambda: precision.weighing_u(-0.1), "step of a tool"),
        (lambda: precision.reading_u(float("nan")), "step of a tool"),
        (lambda: precision.limits_u(0), "limit must be more than zero"),
        (lambda: precision.relative_pct(0.004, 0), "amount must be more than zero"),
        (lambda: precision.relative_pct(-1, 5), "uncertainty can't be below zero"),
        (lambda: precision.smallest_amount(precision.weighing_u(0.01), 0), "limit must be more than zero"),
    ],
)
def test_wrong_input_is_refused_in_a_sentence(sum_, says):
    with pytest.raises(ValueError, match=says):
        sum_()
