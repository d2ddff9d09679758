"""Unit factors against NIST's exact ones, and against pint's own registry.

Sources: NIST Handbook 44, Appendix C, and NIST SP 811:2008, Appendix B (inch 25.4 mm, pound 453.59237 g,
yard 0.9144 m and gallon 231 cubic inches, all exact; from memory, the products worked out here). Metric
spoons and cup: common practice, no source. Imperial and food-label measures show what our units are not.
"""

import csv
from decimal import Decimal
from pathlib import Path

import pint
import pytest

from studio import units

TABLE = Path(__file__).parent / "data" / "units.csv"
KEYS = {
    "mL": "mL",
    "L": "L",
    "US teaspoon": "us_tsp",
    "US tablespoon": "us_tbsp",
    "US fluid ounce": "fl_oz",
    "US cup": "us_cup",
    "US liquid quart": "qt",
    "US gallon": "gal",
    "metric teaspoon": "metric_tsp",
    "metric tablespoon": "metric_tbsp",
    "metric cup": "metric_cup",
    "ounce avoirdupois": "oz",
    "pound avoirdupois": "lb",
}
ROWS = {row["unit"]: row for row in csv.DictReader(TABLE.open(encoding="utf-8"))}
PINT_NAMES = {
    **{KEYS[name]: ROWS[name]["pint_0.25_name"] for name in KEYS if ROWS[name]["pint_0.25_name"]},
    "g": "gram",
    "mg": "milligram",
    "kg": "kilogram",
    "m": "meter",
    "yd": "yard",
}


@pytest.mark.parametrize("name", KEYS)
def test_a_factor_is_exactly_the_published_one(name):
    kept = units.normalise(units.Amount(Decimal(1), KEYS[name]))
    assert kept == (Decimal(ROWS[name]["value"]), ROWS[name]["in"])


def test_us_volumes_are_parts_of_231_cubic_inches():
    gallon = 231 * Decimal("2.54") ** 3
    parts = {"gal": 1, "qt": 4, "us_cup": 16, "fl_oz": 128, "us_tbsp": 256, "us_tsp": 768}
    for key, part in parts.items():
        assert units.to_ml(part, key) == gallon


def test_a_pound_is_16_ounces_and_a_yard_is_36_inches():
    assert units.to_g(16, "oz") == units.to_g(1, "lb") == Decimal("453.59237")
    assert units.to_m(1, "yd") == 36 * Decimal("0.0254")


@pytest.mark.parametrize("key, name", PINT_NAMES.items())
def test_a_factor_agrees_with_pint_s_own(key, name):
    kept_in = {"g": "gram", "mL": "milliliter", "m": "meter"}[units.KEPT_IN[units.UNITS[key].dimension]]
    registry = pint.UnitRegistry(non_int_type=Decimal)
    theirs = registry.Quantity(Decimal(1), name).to(kept_in).magnitude
    # Not equal: pint's US volumes carry dust in the last digit.
    assert abs(units.UNITS[key].factor - theirs) <= theirs * Decimal("1e-26")


def test_every_unit_is_checked_against_a_published_value():
    assert set(units.UNITS) == {*KEYS.values(), *PINT_NAMES, "degC", "degF"}


# Fixed points: NIST SP 811, Appendix B.8 (degree Fahrenheit): t/C = (t/F - 32) / 1.8.
@pytest.mark.parametrize(
    "degrees_f, degrees_c",
    [("32", "0"), ("212", "100"), ("-40", "-40"), ("185", "85"), ("179.6", "82"), ("98.6", "37")],
)
def test_fahrenheit_meets_celsius_at_fixed_points(degrees_f, degrees_c):
    assert units.to_c(Decimal(degrees_f), "degF") == Decimal(degrees_c)
    registry = pint.UnitRegistry(non_int_type=Decimal)
    theirs = registry.Quantity(Decimal(degrees_f), "degF").to("degC").magnitude
    assert abs(theirs - Decimal(degrees_c)) < Decimal("1e-20")


# US food-label measures (21 CFR 101.9(b)(5)(viii)) and imperial ones (SI 1995/1804) are other amounts.
@pytest.mark.parametrize(
    "key, other",
    [
        ("us_tsp", "US label teaspoon"),
        ("us_cup", "US label cup"),
        ("fl_oz", "imperial fluid ounce"),
        ("metric_tbsp", "AU tablespoon"),
    ],
)
def test_a_unit_is_not_taken_for_its_namesake(key, other):
    assert units.UNITS[key].factor != Decimal(ROWS[other]["value"])
