"""Money by its own rules: parts sum, prices leave what they promise, wrong input gets a sentence."""

from decimal import Decimal as D
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.money import (
    exact,
    from_minor,
    landed_costs,
    minor_units,
    price_for_margin,
    price_for_profit,
    read_money,
    rounded,
    split,
    to_minor,
    up_to_ending,
    what_is_left,
    write_money,
)

cents = st.integers(-(10**9), 10**9).map(lambda n: D(n).scaleb(-2))
some_weights = st.lists(st.integers(0, 10**6), min_size=1, max_size=30).filter(any)
money = st.integers(0, 100_000).map(lambda n: D(n).scaleb(-2))
percent = st.integers(0, 300).map(lambda n: D(n).scaleb(-1))


@given(cents, some_weights)
def test_parts_sum_to_the_total_and_are_within_a_cent(total, weights):
    parts = split(total, weights)
    assert sum(parts) == total
    for part, weight in zip(parts, weights, strict=True):
        assert abs(exact(part) - exact(total) * weight / sum(weights)) < Fraction(1, 100)


@given(cents, some_weights, st.randoms(use_true_random=False))
def test_order_changes_only_where_equal_weights_fall(total, weights, random):
    turned = list(enumerate(weights))
    random.shuffle(turned)
    shuffled = split(total, [weight for _, weight in turned])
    straight = split(total, weights)
    assert sorted(zip([w for _, w in turned], shuffled, strict=True)) == sorted(zip(weights, straight, strict=True))


@given(cents, some_weights)
def test_a_negative_total_mirrors_a_positive_one(total, weights):
    assert split(-total, weights) == [-part for part in split(total, weights)]


@given(cents, some_weights, st.integers(1, 1000))
def test_weights_count_only_by_proportion(total, weights, times):
    assert split(total, [weight * times for weight in weights]) == split(total, weights)


def test_nothing_weighs_nothing():
    assert split("1.00", [1, 0, 1]) == [D("0.50"), D("0.00"), D("0.50")]


@pytest.mark.parametrize(
    "total, weights, words",
    [
        ("10.00", [], "nothing to share"),
        ("10.00", [0, 0], "nothing to share"),
        ("10.00", [1, -1], "below zero"),
        ("10.005", [1, 1], "Round the total"),
        ("ten", [1], "not a number"),
        ("NaN", [1], "not a number"),
        ("1e999999999", [1], "too many digits"),
        ("10.00", [D("Infinity")], "not a number"),
    ],
)
def test_what_cannot_be_split_gets_a_sentence(total, weights, words):
    with pytest.raises(ValueError, match=words) as refusal:
        split(total, weights)
    assert str(refusal.value).endswith(".")


@pytest.mark.parametrize("places, parts", [(0, ["34", "33", "33"]), (3, ["33.334", "33.333", "33.333"])])
def test_parts_have_the_digits_asked_for(places, parts):
    assert [str(part) for part in split(100, [1, 1, 1], places)] == parts


@given(st.lists(money, min_size=1, max_size=9), money, money)
def test_landed_costs_sum_to_goods_and_extras(values, freight, duty):
    if not any(values):
        return
    landed = landed_costs(values, [freight, duty])
    assert sum(landed) == sum(values) + freight + duty
    assert all(cost >= value for cost, value in zip(landed, values, strict=True))


@pytest.mark.parametrize(
    "values, extras, words",
    [
        (["5.00", None], "1.00", "no price"),
        (["0.00", "0.00"], "1.00", "worth nothing"),
        (["-5.00", "9.00"], "1.00", "below zero"),
    ],
)
def test_freight_that_cannot_be_shared_by_value_gets_a_sentence(values, extras, words):
    with pytest.raises(ValueError, match=words):
        landed_costs(values, extras)


def test_a_free_delivery_without_freight_costs_nothing():
    assert landed_costs(["0.00", "0.00"], 0) == [D("0.00"), D("0.00")]


@given(money, money, percent, percent, money)
def test_a_price_leaves_at_least_the_profit_and_about_no_more(cost, profit, tax, fee, fixed):
    price = price_for_profit(cost, profit, tax, fee, fixed)
    outcome = what_is_left(price, cost, tax, fee, fixed)
    assert outcome.left >= profit
    assert outcome.net + outcome.tax == price
    # Each rounding hides half a cent at most, so a few cents less must leave too little.
    if price >= D("0.05"):
        assert what_is_left(price - D("0.05"), cost, tax, fee, fixed).left < profit


@given(money, percent, percent, percent)
def test_a_price_leaves_at_least_the_margin_of_the_net_price(cost, margin, tax, fee):
    price = price_for_margin(cost, margin, tax, fee)
    outcome = what_is_left(price, cost, tax, fee)
    assert outcome.left > margin * outcome.net / 100 - D("0.01")
    assert what_is_left(price - D("0.10"), cost, tax, fee).left < margin * outcome.net / 100 or price < 1


def test_a_price_that_falls_short_when_paid_in_cents_is_raised():
    # 6.50 is enough in fractions; paid in cents it leaves 5.20 - 0.20 - 5.0013.
    assert price_for_profit("5.0013", 0, 25, 3) == D("6.51")


@pytest.mark.parametrize(
    "price_for, args, words",
    [
        (price_for_profit, ("18.40", 9, 20, 90), "whole price"),
        (price_for_profit, ("-1", 9), "cost is below zero"),
        (price_for_profit, (1, 9, -20), "tax is below zero"),
        (price_for_margin, (18, 100), "below 100 %"),
        (price_for_margin, (18, 50, 0, 50), "whole price"),
    ],
)
def test_an_impossible_price_gets_a_sentence(price_for, args, words):
    with pytest.raises(ValueError, match=words):
        price_for(*args)


@pytest.mark.parametrize(
    "price, ending, up",
    [
        ("28.53", ",95", "28.95"),
        ("28.95", ".95", "28.95"),
        ("0", ".95", "0.95"),
        ("28.53", "9.95", "29.95"),
        ("29.96", "9.95", "39.95"),
        ("28.53", "0.50", "29.50"),
        (2853, "80", "2880"),
        (2881, "80", "2980"),
        (2881, "00", "2900"),
        ("28.951", ".95", "29.95"),
    ],
)
def test_price_goes_up_to_its_ending(price, ending, up):
    assert str(up_to_ending(price, ending)) == up


@given(money, st.sampled_from([".95", ".00", ".50", "9", "90", "4.99"]))
def test_ending_is_kept_and_no_smaller_price_has_it(price, ending):
    found = up_to_ending(price, ending)
    step = D(10) ** len(ending.partition(".")[0])
    assert found >= price
    assert str(found).endswith(ending) or found == D(ending)
    assert found - step < price


@pytest.mark.parametrize("ending", ["", ".", "x", "-.95", "9" * 40, ".٩٥"])
def test_an_ending_that_is_no_number_gets_a_sentence(ending):
    with pytest.raises(ValueError, match="price ending"):
        up_to_ending("28.53", ending)


@pytest.mark.parametrize(
    "currency, minor, amount",
    [("EUR", 1250, "12.50"), ("JPY", 1250, "1250"), ("KWD", 1250, "1.250"), ("gbp", -5, "-0.05")],
)
def test_minor_units_there_and_back(currency, minor, amount):
    assert str(from_minor(minor, currency)) == amount
    assert to_minor(amount, currency) == minor


def test_a_part_of_a_cent_is_refused_not_rounded():
    with pytest.raises(ValueError, match="2 digits"):
        to_minor("12.505", "EUR")


@pytest.mark.parametrize(
    "value, shown", [("2.675", "2.68"), ("1.005", "1.01"), ("-2.675", "-2.68"), (Fraction(1, 3), "0.33")]
)
def test_half_a_cent_is_rounded_up(value, shown):
    assert str(rounded(value)) == shown


@pytest.mark.parametrize(
    "text, currency, amount",
    [
        ("12.50", "EUR", "12.50"),
        ("12,5", "EUR", "12.50"),
        (" € 12 ", "EUR", "12.00"),
        ("12.50 EUR", "EUR", "12.50"),
        ("£9.40", "GBP", "9.40"),
        ("$9.40", "USD", "9.40"),
        ("¥1250", "JPY", "1250"),
        ("1.250", "KWD", "1.250"),
        ("9.40 kr", "SEK", None),
        ("CHF 9.40", "CHF", "9.40"),
        ("1,000", "EUR", None),
        ("1.000", "EUR", None),
        ("12.5", "JPY", None),
        ("1/3", "EUR", None),
        ("-4", "EUR", None),
        ("£4", "EUR", None),
        ("", "EUR", None),
        ("€", "EUR", None),
        ("🧶", "EUR", None),
        ("9" * 10_000, "EUR", None),
    ],
)
def test_typed_money_is_read_or_asked_about(text, currency, amount):
    if amount is not None:
        assert str(read_money(text, currency)) == amount
        return
    with pytest.raises(ValueError) as refusal:
        read_money(text, currency)
    assert str(refusal.value)[-1] in ".?"
    assert len(str(refusal.value)) < 300


@given(st.text(max_size=40))
def test_any_text_is_read_or_refused_in_words(text):
    try:
        assert read_money(text, "EUR") >= 0
    except ValueError as refusal:
        assert str(refusal)


@pytest.mark.parametrize(
    "amount, currency, locale, shown",
    [
        ("1234.5", "EUR", "en_GB", "€1,234.50"),
        ("1234.5", "EUR", "de_DE", "1.234,50\xa0€"),
        ("-9.405", "GBP", "en_GB", "-£9.41"),
        ("1250.5", "JPY", "ja_JP", "¥1,251"),
        ("1.5", "KWD", "en_GB", "KWD\xa01.500"),
        ("12.5", "RSD", "en_GB", "RSD\xa012.50"),
        ("12345678901234.56", "USD", "en_US", "$12,345,678,901,234.56"),
    ],
)
def test_money_is_written_in_the_locale_with_the_currency_s_digits(amount, currency, locale, shown):
    written = write_money(amount, currency, locale)
    assert written.replace("￥", "¥") == shown


@pytest.mark.parametrize("currency", ["", "ZZZ", "euro", "XXX", "XAU", "🪙"])
def test_an_unknown_currency_gets_a_sentence(currency):
    with pytest.raises(ValueError, match="three letters"):
        minor_units(currency)
