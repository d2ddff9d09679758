"""Cost of a skein: every sheet sums, whoever bears what."""

from decimal import Decimal as D
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.costing import GRADES, LOST, SAMPLE, SECOND, Made, Rate, Use, cost_sheet

HEATH, MOTH = "Heath DK", "Moth Lace"


def usual_uses(**changes):
    uses = {
        "yarn": Use("yarn", HEATH, 6, Rate("84.00", 10), base=HEATH),
        "dye": Use("dye", "Ember", "12.5", Rate("18.99", 500)),
        "labour": Use("labour", "Work", 95, Rate(18, 60)),
        "overhead": Use("overhead", "Per batch", 1, Rate("5.40")),
    }
    return list({**uses, **changes}.values())


usual_outputs = [Made("A", HEATH, 5, 100), Made("B", HEATH, 1, 100, SECOND)]

rates = st.builds(Rate, st.integers(0, 50_000).map(lambda n: D(n).scaleb(-2)), st.integers(1, 3000))
some_uses = st.lists(
    st.builds(
        Use,
        st.sampled_from(["dye", "assistant", "energy", "labour", "overhead"]),
        st.just("Something"),
        st.none() | st.integers(0, 5000),
        st.none() | rates,
    )
    | st.builds(
        Use,
        st.just("yarn"),
        st.just("Yarn"),
        st.none() | st.integers(0, 50),
        st.none() | rates,
        st.sampled_from([HEATH, MOTH]),
    ),
    max_size=8,
)
some_outputs = st.lists(
    st.tuples(
        st.sampled_from([HEATH, MOTH]),
        st.integers(0, 20),
        st.sampled_from([20, 50, 100]),
        st.sampled_from(GRADES),
    ),
    max_size=6,
).map(lambda rows: [Made(str(i), *row) for i, row in enumerate(rows)])


@given(some_uses, some_outputs, st.integers(0, 100), st.sampled_from([0, 2, 3]))
def test_lines_outputs_skeins_and_parts_all_sum(uses, outputs, second_pct, places):
    sheet = cost_sheet(uses, outputs, second_pct, places)
    assert sum((line.amount for line in sheet.lines if line.amount is not None), D(0)) == sheet.total
    assert sheet.at_least == any(line.amount is None for line in sheet.lines)
    for line, use in zip(sheet.lines, uses, strict=True):
        if line.amount is not None:
            assert abs(Fraction(line.amount) - use.exact_cost) < Fraction(2, 10**places)
    bearers = any(made.count for made in outputs if made.grade not in (SAMPLE, LOST))
    assert sum((share.total for share in sheet.shares), D(0)) == (sheet.total if bearers else 0)
    for share in sheet.shares:
        assert sum(share.booked, D(0)) == share.total
        assert len(share.booked) == share.count
        if share.parts:
            assert sum(part.amount for part in share.parts) == share.each
        if share.booked:
            assert max(share.booked) - min(share.booked) <= D(1).scaleb(-places)
            assert min(share.booked) <= share.each <= max(share.booked)


@given(some_uses, some_outputs, st.randoms(use_true_random=False))
def test_order_changes_no_skein_by_more_than_a_cent(uses, outputs, random):
    straight = cost_sheet(uses, outputs)
    turned = cost_sheet(random.sample(uses, len(uses)), random.sample(outputs, len(outputs)))
    assert turned.total == straight.total
    totals = {share.output_key: share.total for share in turned.shares}
    assert all(abs(totals[share.output_key] - share.total) <= D("0.01") for share in straight.shares)


def test_price_of_a_gram_is_never_rounded():
    # 18.99 for 500 g is 0.03798 a gram; a gram rounded to 0.04 would make it 0.50.
    sheet = cost_sheet([Use("dye", "Ember", "12.5", Rate("18.99", 500))], [Made("A", HEATH, 1, 100)])
    assert Use("dye", "Ember", "12.5", Rate("18.99", 500)).exact_cost == Fraction("0.47475")
    assert sheet.total == D("0.47")


def test_many_small_uses_are_rounded_once():
    pinches = [Use("dye", f"Pinch {i}", "0.1", Rate("18.99", 500)) for i in range(100)]
    assert cost_sheet(pinches, usual_outputs).total == D("0.38")


def test_a_second_bears_its_part_of_a_first():
    # 50.40 + 0.47475 + 28.50 + 5.40 = 84.77 over 5 + 0.6 skeins is 15.138 a first and 9.083 a second.
    first, second = cost_sheet(usual_uses(), usual_outputs, second_pct=60).shares
    assert (first.each, second.each) == (D("15.14"), D("9.08"))
    assert second.each / first.each == pytest.approx(D("0.6"), abs=D("0.001"))
    carried = {part.kind: part.amount for part in first.parts}["carried"]
    assert carried > 0
    assert {part.kind: part.amount for part in second.parts}["carried"] < 0


def test_a_skein_s_parts_sum_and_the_odd_cents_are_booked():
    uses = [
        Use("yarn", HEATH, 6, Rate("8.40"), base=HEATH),
        Use("dye", "Dye and acid", 1, Rate("3.08")),
        Use("labour", "Work", 95, Rate(18, 60)),
        Use("overhead", "Per batch", 1, Rate("5.40")),
    ]
    sheet = cost_sheet(uses, usual_outputs, second_pct=60)
    first, second = sheet.shares
    assert sheet.total == D("87.38")
    assert [str(part.amount) for part in first.parts] == ["8.40", "0.51", "4.75", "0.90", "1.04"]
    assert (first.each, first.booked) == (D("15.60"), (D("15.61"),) * 2 + (D("15.60"),) * 3)
    assert second.booked == (D("9.36"),)


@pytest.mark.parametrize("grade", [SAMPLE, LOST])
def test_samples_and_lost_skeins_are_carried_by_the_others(grade):
    sheet = cost_sheet(usual_uses(), [Made("A", HEATH, 5, 100), Made("B", HEATH, 1, 100, grade)])
    sold, gone = sheet.shares
    assert sold.total == sheet.total
    assert (gone.total, gone.each, gone.parts) == (0, 0, ())


def test_yarn_goes_to_its_own_base_and_the_rest_by_weight():
    uses = [
        Use("yarn", HEATH, 4, Rate("10.00"), base=HEATH),
        Use("yarn", MOTH, 2, Rate("30.00"), base=MOTH),
        Use("dye", "Ember", 25, Rate("10.00", 25)),
    ]
    dk, lace = cost_sheet(uses, [Made("A", HEATH, 4, 100), Made("B", MOTH, 2, 50)]).shares
    assert (dk.total, lace.total) == (D("48.00"), D("62.00"))


def test_small_skeins_bear_by_weight():
    big, small = cost_sheet(usual_uses(), [Made("A", HEATH, 5, 100), Made("B", HEATH, 5, 20)]).shares
    assert small.each * 5 == pytest.approx(big.each, abs=D("0.03"))


def test_yarn_whose_skeins_are_all_lost_is_borne_by_the_others_and_said():
    uses = usual_uses(lace=Use("yarn", MOTH, 2, Rate("30.00"), base=MOTH))
    sheet = cost_sheet(uses, [Made("A", HEATH, 6, 100), Made("B", MOTH, 2, 50, LOST)])
    assert sheet.shares[0].total == sheet.total
    assert any("no skein of this base" in sentence for sentence in sheet.said)


def test_a_run_with_nothing_to_sell_says_it_is_a_loss():
    sheet = cost_sheet(usual_uses(), [Made("A", HEATH, 6, 100, LOST)])
    assert sheet.total > 0
    assert sheet.shares[0].total == 0
    assert "loss" in sheet.said[-1]


def test_only_seconds_bear_all_of_it():
    sheet = cost_sheet(usual_uses(), [Made("A", HEATH, 6, 100, SECOND)], second_pct=0)
    assert sheet.shares[0].total == sheet.total


@pytest.mark.parametrize(
    "amount, rate, words",
    [
        (None, Rate(10, 25), "the amount is not known"),
        (5, None, "the price is not known"),
        (None, None, "neither amount nor price is known"),
    ],
)
def test_what_is_not_known_makes_the_cost_at_least(amount, rate, words):
    sheet = cost_sheet(usual_uses(dye=Use("dye", "Ember", amount, rate)), usual_outputs)
    assert sheet.at_least
    assert all(share.at_least for share in sheet.shares)
    assert sheet.lines[1].amount is None
    assert any(words in sentence for sentence in sheet.said)


def test_unknown_yarn_price_touches_only_its_own_base():
    uses = usual_uses(lace=Use("yarn", MOTH, 2, None, base=MOTH))
    dk, lace = cost_sheet(uses, [Made("A", HEATH, 6, 100), Made("B", MOTH, 2, 50)]).shares
    assert (dk.at_least, lace.at_least) == (False, True)


def test_a_free_thing_is_known_to_cost_nothing():
    sheet = cost_sheet([Use("assistant", "Rain water", 5, Rate(0))], usual_outputs)
    assert (sheet.total, sheet.at_least, sheet.lines[0].amount) == (0, False, 0)


@pytest.mark.parametrize(
    "make, words",
    [
        (lambda: Rate(5, 0), "above zero"),
        (lambda: Rate(-5), "below zero"),
        (lambda: cost_sheet([Use("yarn", HEATH, 1, Rate(1))], []), "which base"),
        (lambda: cost_sheet([Use("dye", "Ember", -1, Rate(1))], []), "below zero"),
        (lambda: cost_sheet([Use("magic", "Ember", 1, Rate(1))], []), "not 'magic'"),
        (lambda: cost_sheet([], [Made("A", HEATH, 1, 0)]), "weight"),
        (lambda: cost_sheet([], [Made("A", HEATH, -1, 100)]), "whole number"),
        (lambda: cost_sheet([], [Made("A", HEATH, 10**9, 100)]), "number of skeins"),
        (lambda: cost_sheet([], [Made("A", HEATH, 1, 100, "fourth")]), "grade"),
        (lambda: cost_sheet([], [Made("A", HEATH, 1, 100)] * 2), "same name"),
        (lambda: cost_sheet([], usual_outputs, second_pct=101), "between 0 and 100"),
    ],
)
def test_a_wrong_sheet_gets_a_sentence(make, words):
    with pytest.raises(ValueError, match=words):
        make()
