"""Money, costs and weighings against published rules and worked figures. Each check names its source."""

import csv
from decimal import Decimal as D
from fractions import Fraction
from pathlib import Path

import pytest
from babel.numbers import get_currency_precision

from batches.costing import Made, Rate, Use, cost_sheet
from batches.sharing import smallest_difference
from studio.money import (
    exact,
    landed_costs,
    minor_units,
    price_for_margin,
    price_for_profit,
    rounded,
    split,
    up_to_ending,
    what_is_left,
)

DATA = Path(__file__).parent / "data"


def rows(name):
    with open(DATA / name, newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("row", rows("largest_remainder.csv"), ids=lambda row: row["weights"])
def test_largest_remainder_vectors(row):
    """Largest remainder (Hamilton's method of apportionment, 1792); worked examples, no published source."""
    parts = split(int(row["total_minor_units"]), row["weights"].split(), places=0)
    assert parts == [int(part) for part in row["parts"].split()]


def test_apportionment_of_the_textbook_example():
    """Largest remainder with Hare quota: 100 000 votes, 10 seats (a widely printed example; from memory)."""
    assert split(10, [47_000, 16_000, 15_800, 12_000, 6_100, 3_100], places=0) == [5, 2, 1, 1, 1, 0]


@pytest.mark.parametrize("row", rows("price_grossup.csv"), ids=lambda row: row["price_ceil_cent"])
def test_price_grossup_vectors(row):
    """Identity P/(1+v) - fP - f0 - C = m solved for P; worked examples, no published source."""
    args = [row["cost"], row["wanted_margin_money"], D(row["vat_rate"]) * 100, D(row["percent_fee"]) * 100]
    assert price_for_profit(*args, row["fixed_fee"]) == D(row["price_ceil_cent"])
    rate = 1 / (1 + exact(row["vat_rate"])) - exact(row["percent_fee"])
    solved = (exact(row["cost"]) + exact(row["wanted_margin_money"]) + exact(row["fixed_fee"])) / rate
    assert rounded(solved, 6) == D(row["price_exact"])


@pytest.mark.parametrize(
    "price, cost, tax, fee, fixed, expected",
    [
        ("28.53", "18.40", 0, "2.9", "0.30", ("28.53", "0.00", "1.13", "9.00")),
        ("35.99", "18.40", 20, "6.5", "0.25", ("29.99", "6.00", "2.59", "9.00")),
        ("32.00", 0, 20, 0, 0, ("26.67", "5.33", "0.00", "26.67")),
        ("29.95", 0, 25, 0, 0, ("23.96", "5.99", "0.00", "23.96")),
    ],
)
def test_price_worked_forward(price, cost, tax, fee, fixed, expected):
    """Tax-inclusive price, net = gross / (1 + rate), tax = gross - net; common practice, no source."""
    left = what_is_left(price, cost, tax, fee, fixed)
    assert (left.net, left.tax, left.fee, left.left) == tuple(map(D, expected))


def test_margin_is_not_markup():
    """margin = markup / (1 + markup), textbook identity: 40 % margin on 18.40 is a mark-up of 66.67 %."""
    assert price_for_margin("18.40", 40) == D("30.67")
    assert price_for_profit("18.40", D("18.40") * D("0.40")) == D("25.76")


@pytest.mark.parametrize(
    "price, ending, up",
    [
        ("28.53", ".00", "29.00"),
        ("28.53", ".50", "29.50"),
        ("28.53", ".95", "28.95"),
        ("28.96", ".95", "29.95"),
    ],
)
def test_price_endings(price, ending, up):
    """Common practice, no source."""
    # 28.53 up to .50 is 29.50, because 28.50 would be below the price.
    assert str(up_to_ending(price, ending)) == up


def test_freight_and_duty_are_part_of_the_cost_of_purchase():
    """IAS 2 *Inventories*, paragraphs 10 and 11 (from memory): duty and transport are costs of purchase."""
    values = [20 * D("9.40"), 10 * D("14.20"), 5 * D("11.00")]
    landed = landed_costs(values, "45.85")
    assert landed == [D("210.39"), D("158.91"), D("61.55")]
    units = [exact(cost) / count for cost, count in zip(landed, [20, 10, 5], strict=True)]
    assert units == [Fraction("10.5195"), Fraction("15.891"), Fraction("12.31")]


def test_first_in_first_out_by_lots_sums():
    """IAS 2 paragraph 25 (from memory) allows first-in, first-out; worked example, no published source:
    10 at 8.00 and 10 at 9.10, 12 issued and then 8."""
    issued = [
        Use("yarn", "First lot", 10, Rate("80.00", 10), base="Any"),
        Use("yarn", "Second lot", 2, Rate("91.00", 10), base="Any"),
    ]
    assert cost_sheet(issued, [Made("A", "Any", 12, 100)]).total == D("98.20")
    later = [
        Use("yarn", "Second lot", 8, Rate("91.00", 10), base="Any"),
    ]
    assert cost_sheet(later, [Made("A", "Any", 8, 100)]).total == D("72.80")


def test_energy_by_the_tariff():
    """Identity: 1.123 kWh at 0.32 is 0.36."""
    use = Use("energy", "Electricity", "1.123", Rate("0.32"))
    assert cost_sheet([use], [Made("A", "Any", 1, 100)]).total == D("0.36")


@pytest.mark.parametrize("row", rows("iso4217_minor_units.csv"), ids=lambda row: row["currency"])
def test_currency_digits_are_those_of_the_standard(row):
    """ISO 4217 table A.1, "minor unit": the maintenance agency's list of 28 March 2014, as the open data
    set datasets/currency-codes (public domain) has it. Empty: the standard gives none ("N.A.")."""
    if row["minor_units"]:
        assert minor_units(row["currency"]) == int(row["minor_units"])
    else:
        with pytest.raises(ValueError):
            minor_units(row["currency"])


@pytest.mark.parametrize("currency, digits", [("UGX", 0), ("CLF", 4), ("UYW", 4), ("SLE", 2), ("MRU", 2)])
def test_currency_digits_changed_since(currency, digits):
    """ISO 4217 amendments after that list (from memory); Unicode CLDR, as babel has it, agrees."""
    assert minor_units(currency) == digits == get_currency_precision(currency)


@pytest.mark.parametrize("value, shown", [("2.675", "2.68"), ("1.005", "1.01"), ("26.665", "26.67")])
def test_half_is_rounded_up_as_decimal_arithmetic_says(value, shown):
    """round-half-up of the General Decimal Arithmetic Specification, as Python's decimal has it."""
    assert rounded(value) == D(value).quantize(D("0.01"), "ROUND_HALF_UP") == D(shown)


@pytest.mark.parametrize("step", ["1", "0.1", "0.01", "0.001"])
def test_smallest_difference_is_twice_the_uncertainty_of_two_readings(step):
    """JCGM 100:2008, F.2.2.1: 0.29 of a step a reading; 5.1.2 joins two; 6.2.1 with k = 2 (from memory)."""
    one_reading = D(step) / D(12).sqrt()
    assert one_reading / D(step) == pytest.approx(D("0.29"), abs=D("0.002"))
    assert smallest_difference(step) == pytest.approx(2 * (2 * one_reading**2).sqrt(), abs=D("0.000001"))
