"""Weighings of jars and bottles: what each unweighed sprinkle had, and when nothing is shared."""

from decimal import Decimal as D
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.sharing import (
    GAINED,
    MISSING,
    OVER_MEASURED,
    SHARED,
    TALLIES,
    TOO_LITTLE,
    share_out,
    share_out_bottle,
    smallest_difference,
)

grams = st.integers(0, 2_000_000).map(lambda n: D(n).scaleb(-3))
sprinkle_lists = st.lists(st.none() | st.integers(1, 40), max_size=12)


@pytest.mark.parametrize(
    "opening, closing, measured, sprinkles, outcome, parts",
    [
        pytest.param("84.2", "80.2", "1.0", [None, None, None], SHARED, ["1.000", "1.000", "1.000"], id="even"),
        pytest.param("84.2", "83.2", "0", [None] * 3, SHARED, ["0.334", "0.333", "0.333"], id="to the milligram"),
        pytest.param("84.2", "80.2", "1.0", [4, 2], SHARED, ["2.000", "1.000"], id="by taps"),
        pytest.param("84.2", "80.2", "1.0", [4, None, 2], SHARED, ["1.333", "1.000", "0.667"], id="one not counted"),
        pytest.param("84.2", "84.1", "0", [None], SHARED, ["0.100"], id="one step of the scale"),
        pytest.param("84.2", "84.2", "0", [None, 3], TOO_LITTLE, [None, None], id="no step"),
        pytest.param("84.2", "84.1", "0.08", [None], TOO_LITTLE, [None], id="most of it measured"),
        pytest.param("84.2", "84.15", "0.1", [None], TOO_LITTLE, [None], id="short within the scale"),
        pytest.param("84.2", "84.6", "0", [None], GAINED, [None], id="refilled"),
        pytest.param("84.2", "83.2", "1.4", [None], OVER_MEASURED, [None], id="more measured than gone"),
        pytest.param("84.2", "82.2", "2.0", [], TALLIES, [], id="all measured"),
        pytest.param("84.2", "82.2", "1.5", [], MISSING, [], id="something not logged"),
        pytest.param("84.2", "82.2", "2.5", [], OVER_MEASURED, [], id="too much measured, nothing sprinkled"),
    ],
)
def test_jar_weighed_morning_and_evening(opening, closing, measured, sprinkles, outcome, parts):
    result = share_out(opening, closing, measured, sprinkles, scale_step_g="0.1")
    assert result.outcome == outcome
    assert [part if part is None else str(part) for part in result.parts] == parts
    assert result.used - result.measured == result.rest
    assert bool(result.said) == (outcome not in (SHARED, TALLIES) or (None in sprinkles and 4 in sprinkles))


@given(grams, grams, grams, sprinkle_lists, st.sampled_from(["1", "0.1", "0.01", "0.001"]))
def test_parts_sum_to_the_rest_or_nothing_is_shared(opening, closing, measured, sprinkles, step):
    result = share_out(opening, closing, measured, sprinkles, scale_step_g=step)
    assert len(result.parts) == len(sprinkles)
    if result.is_shared:
        assert sum(result.parts) == result.rest == opening - closing - measured
        assert result.rest >= result.limit
        assert all(part >= 0 for part in result.parts)
    else:
        assert set(result.parts) <= {None}
        assert result.said or result.outcome == TALLIES


@given(grams, st.lists(st.integers(1, 40), min_size=1, max_size=12))
def test_each_part_is_within_a_milligram_of_its_taps(used, taps):
    result = share_out(used + 10, 10, 0, taps, scale_step_g="0.01")
    for part, count in zip(result.parts, taps, strict=True):
        if part is not None:
            assert abs(Fraction(part) - Fraction(used) * count / sum(taps)) < Fraction(1, 1000)


@given(grams, st.lists(st.integers(1, 9), min_size=1, max_size=9), st.randoms(use_true_random=False))
def test_order_of_sprinkles_does_not_matter(used, taps, random):
    turned = random.sample(taps, len(taps))
    straight = share_out(used + 10, 10, 0, taps, scale_step_g="0.01").parts
    shuffled = share_out(used + 10, 10, 0, turned, scale_step_g="0.01").parts
    key = lambda pair: (pair[0], pair[1] or 0)  # noqa: E731
    assert sorted(zip(taps, straight, strict=True), key=key) == sorted(zip(turned, shuffled, strict=True), key=key)


def test_bottle_weighed_in_grams_is_shared_in_ml():
    plain = share_out_bottle("312", "252", "40", [None, None], scale_step_g=1)
    assert (plain.unit, plain.rest, plain.parts) == ("mL", D("20"), (D("10"), D("10")))
    assert "approximation" in plain.said[0]

    heavy = share_out_bottle("312", "252", "40", [None, None], scale_step_g=1, density_g_per_ml="1.2")
    assert (heavy.used, heavy.rest, heavy.parts) == (D("50"), D("10"), (D("5"), D("5")))
    assert heavy.said == ()


def test_unsure_measured_uses_raise_the_limit():
    sure = share_out("84.2", "83.2", "0.8", [None], scale_step_g="0.1")
    unsure = share_out("84.2", "83.2", "0.8", [None], scale_step_g="0.1", measured_u_g="0.15")
    assert (sure.outcome, unsure.outcome) == (SHARED, TOO_LITTLE)


@pytest.mark.parametrize(
    "case, words",
    [
        ({"opening_g": "84.2", "closing_g": "84.6"}, "0.4 g more at the end"),
        ({"measured_g": "5"}, "5 g were measured out, but only 4 g are gone"),
        ({"closing_g": "84.2"}, "can't tell less than 0.082 g"),
        ({"sprinkles": []}, "4 g are gone that no entry names"),
        ({"sprinkles": [2, None]}, "taken as the mean"),
    ],
)
def test_what_is_odd_is_said_in_a_sentence(case, words):
    usual = {
        "opening_g": "84.2",
        "closing_g": "80.2",
        "measured_g": 0,
        "sprinkles": [None],
        "scale_step_g": "0.1",
    }
    assert words in " ".join(share_out(**{**usual, **case}).said)


@pytest.mark.parametrize(
    "case, words",
    [
        ({"opening_g": "-1"}, "opening weight is below zero"),
        ({"closing_g": "lots"}, "closing weight is not a number"),
        ({"scale_step_g": 0}, "step of the scale"),
        ({"sprinkles": [0]}, "no taps"),
        ({"measured_g": -1}, "measured amount is below zero"),
    ],
)
def test_a_wrong_weighing_gets_a_sentence(case, words):
    usual = {
        "opening_g": "84.2",
        "closing_g": "80.2",
        "measured_g": 0,
        "sprinkles": [None],
        "scale_step_g": "0.1",
    }
    with pytest.raises(ValueError, match=words):
        share_out(**{**usual, **case})


def test_nothing_gone_is_nothing_gained_on_the_finest_scale():
    assert share_out(5, 5, 0, [], scale_step_g="0.0000001").outcome == TALLIES


def test_limit_lies_between_no_step_and_one():
    assert D(0) < smallest_difference("0.01") < D("0.01")
