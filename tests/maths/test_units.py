"""Reading, converting and writing amounts."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio import units
from studio.units import Amount

positive = st.decimals(min_value="0.001", max_value=1_000_000, places=3)
signed = st.decimals(min_value=-200, max_value=1_000_000, places=3)


@pytest.mark.parametrize(
    "text, number",
    [
        ("5", "5"),
        ("5.5", "5.5"),
        ("5,5", "5.5"),
        (" 1.5 ", "1.5"),
        (".5", "0.5"),
        (",5", "0.5"),
        ("0,125", "0.125"),
        ("1.250", "1.25"),
        ("1000,125", "1000.125"),
        ("12,50", "12.5"),
        ("1 000", "1000"),
        ("1\u2009000", "1000"),
        ("1\u202f000\u202f000", "1000000"),
        ("1\u00a0000,5", "1000.5"),
        ("1/2", "0.5"),
        ("3\u20444", "0.75"),
        ("1 1/2", "1.5"),
        ("½", "0.5"),
        ("1½", "1.5"),
        ("2 ¾", "2.75"),
        ("0", "0"),
        ("10000000", "10000000"),
    ],
)
def test_a_number_is_read_the_way_it_was_meant(text, number):
    assert units.read_number(text) == Decimal(number)


@pytest.mark.parametrize(
    "text, says",
    [
        ("", "Write a number"),
        ("   ", "Write a number"),
        (None, "Write a number"),
        (["5"], "Write a number"),
        ("-5", "below zero"),
        ("\u22125", "below zero"),
        ("1,000", "could be 1 or 1000: write 1 or 1000"),
        ("12,500", "could be 12.5 or 12500"),
        ("1.000,5", "more than one way"),
        ("1,000.5", "more than one way"),
        ("1.000.000", "more than one way"),
        ("1'000", "more than one way"),
        ("1 00", "can't be read"),
        ("5 5", "can't be read"),
        ("5.", "can't be read"),
        ("1/0", "divides by zero"),
        ("1 5/4", "a whole number and a fraction"),
        ("½½", "can't be read"),
        ("--5", "can't be read"),
        ("🧶", "can't be read"),
        ("a few", "can't be read"),
        ("٣", "can't be read"),
        ("1e5", "can't be read"),
        ("inf", "can't be read"),
        ("nan", "can't be read"),
        ("5\x00", "can't be read"),
        ("10000001", "10 000 000 at most"),
        ("9" * 61, "too long"),
        ("x" * 10_000, "too long"),
    ],
)
def test_what_is_no_number_is_refused_in_words(text, says):
    with pytest.raises(ValueError, match=says) as refused:
        units.read_number(text)
    sentence = str(refused.value)
    assert sentence.endswith(".")
    assert sentence.isprintable()
    assert len(sentence) < 200


def test_negative_numbers_are_read_only_where_asked_for():
    assert units.read_number("-2,5", allow_negative=True) == Decimal("-2.5")
    assert units.read_number("\u22121½", allow_negative=True) == Decimal("-1.5")
    assert str(units.read_number("-0")) == "0"


@given(st.text(max_size=80))
def test_any_text_is_a_number_or_a_sentence(text):
    for read in (units.read_number, lambda text: units.read_amount(text, "g", units.UNITS).number):
        try:
            assert 0 <= read(text) <= units.MOST
        except ValueError as refused:
            assert str(refused).endswith(".")


@given(positive)
def test_a_written_number_is_read_back(number):
    assert units.read_number(units.write_number(number, digits=10)) == number


@pytest.mark.parametrize(
    "text, number, unit",
    [
        ("40", "40", "mL"),
        ("40 mL", "40", "mL"),
        ("40ml", "40", "mL"),
        ("40 ML.", "40", "mL"),
        ("1 000 ml", "1000", "mL"),
        ("2,5 L", "2.5", "L"),
        ("2 litres", "2", "L"),
        ("1 1/2 tbsp", "1.5", "metric_tbsp"),
        ("½tsp", "0.5", "metric_tsp"),
        ("1 US cup", "1", "us_cup"),
        ("1 metric cup", "1", "metric_cup"),
        ("8 fl oz", "8", "fl_oz"),
        ("8 fl. oz.", "8", "fl_oz"),
        ("1 gallon", "1", "gal"),
    ],
)
def test_an_amount_is_read_with_its_unit(text, number, unit):
    assert units.read_amount(text, "mL", units.VOLUME) == Amount(Decimal(number), unit)


def test_a_bare_spoon_is_the_studio_s_spoon():
    assert units.read_amount("2 tsp", "mL", units.VOLUME, spoons="us").unit == "us_tsp"
    assert units.read_amount("2 metric tsp", "mL", units.VOLUME, spoons="us").unit == "metric_tsp"


@pytest.mark.parametrize("text, unit", [("3 oz", "oz"), ("1,5 kg", "kg"), ("2 lbs", "lb"), ("50 mg", "mg")])
def test_a_mass_is_read(text, unit):
    assert units.read_amount(text, "g", units.MASS).unit == unit


@pytest.mark.parametrize("text, unit", [("85 °C", "degC"), ("185F", "degF"), ("185 ℉", "degF"), ("-5", "degC")])
def test_a_temperature_is_read(text, unit):
    assert units.read_amount(text, "degC", units.TEMPERATURE, allow_negative=True).unit == unit


@pytest.mark.parametrize(
    "text, says",
    [
        ("3 oz", "can't be given in oz: write it in mL, L, fl oz"),
        ("85 °C", "can't be given in °C"),
        ("5 drops", "“drops” is not a unit to use here"),
        ("5 T", "“T” is not a unit"),
        ("1e5 mL", "not a unit"),
        ("5 g/100 mL", "not a unit"),
        ("mL", "number before the unit"),
        ("1,000 mL", "could be 1 or 1000"),
        ("-5 mL", "below zero"),
        ("5,5,5 mL", "more than one way"),
        ("", "Write a number"),
        ("🧶", "not a unit"),
    ],
)
def test_an_amount_that_fits_no_unit_is_refused_in_words(text, says):
    with pytest.raises(ValueError, match=says):
        units.read_amount(text, "mL", units.VOLUME)


def test_every_unit_can_be_typed_as_it_is_labelled():
    for unit in units.UNITS.values():
        assert units.read_amount(f"3 {unit.label}", "g", units.UNITS) == Amount(Decimal(3), unit.key)


def test_amounts_are_kept_in_g_ml_m_and_degrees_c():
    assert units.normalise(Amount(Decimal(2), "kg")) == Amount(Decimal(2000), "g")
    assert units.normalise(Amount(Decimal(2), "metric_tbsp")) == Amount(Decimal(30), "mL")
    assert units.normalise(Amount(Decimal(100), "yd")) == Amount(Decimal("91.44"), "m")
    assert units.normalise(Amount(Decimal(185), "degF")) == Amount(Decimal(85), "degC")


def test_powder_is_never_converted_from_spoons():
    with pytest.raises(ValueError, match="never converted from spoons"):
        units.to_g(1, "us_tsp")


@pytest.mark.parametrize(
    "convert, unit, says",
    [
        (units.to_ml, "g", "write it in mL"),
        (units.to_m, "kg", "write it in m"),
        (units.to_c, "mL", "write it in °C"),
        (units.to_g, "stone", "not a unit of this studio"),
    ],
)
def test_the_wrong_kind_of_unit_is_refused(convert, unit, says):
    with pytest.raises(ValueError, match=says):
        convert(1, unit)


def test_nothing_is_colder_than_absolute_zero():
    assert units.to_c(Decimal("-459.67"), "degF") == Decimal("-273.15")
    with pytest.raises(ValueError, match="cold"):
        units.to_c(-460, "degF")


@pytest.mark.parametrize("number", [Decimal("NaN"), Decimal("Infinity"), float("inf"), Decimal("1E+40")])
def test_what_is_not_finite_is_refused(number):
    with pytest.raises(ValueError, match="can't be worked with"):
        units.write_g(number)


@given(positive)
def test_there_and_back_through_each_unit(number):
    for unit in units.UNITS.values():
        if unit.factor:
            there = units.normalise(Amount(number, unit.key)).number
            assert there == number * unit.factor
            assert abs(there / unit.factor - number) < Decimal("1e-15")


@given(signed)
def test_fahrenheit_there_and_back(degrees_f):
    assert abs(units.to_c(degrees_f, "degF") * 9 / 5 + 32 - degrees_f) < Decimal("1e-15")


@pytest.mark.parametrize(
    "number, step, text",
    [
        ("57.5", None, "57.5"),
        ("0.05", None, "0.05"),
        ("10.58823529", None, "10.59"),
        ("131.25", None, "131.3"),
        ("12345.6", None, "12346"),
        ("8E+1", None, "80"),
        ("30.00", None, "30"),
        ("0", None, "0"),
        ("-0.0", None, "0"),
        ("0.00001", None, "0.00001"),
        ("57.5", "0.2", "57.6"),
        ("2.5", "1", "3"),
        ("30", "0.1", "30"),
        ("1234", "50", "1250"),
    ],
)
def test_a_number_is_written_with_sensible_digits(number, step, text):
    assert units.write_number(Decimal(number), step and Decimal(step)) == text


@pytest.mark.parametrize(
    "g, system, step, text",
    [
        ("57.5", "metric", None, "57.5 g"),
        ("999.96", "metric", None, "1 kg"),
        ("1250", "metric", None, "1.25 kg"),
        ("-1250", "metric", None, "-1.25 kg"),
        ("0.05", "us", None, "0.05 g"),
        ("28.349523125", "us", None, "1 oz"),
        ("453.59237", "us", None, "1 lb"),
        ("10.588", "us", "0.01", "10.59 g"),
        ("0.03", "metric", "0.1", "under 0.1 g"),
        ("0", "metric", "0.1", "0 g"),
        ("1234.56", "metric", "0.1", "1.2346 kg"),
    ],
)
def test_a_mass_is_written_as_the_studio_says_it(g, system, step, text):
    assert units.write_g(Decimal(g), system, step and Decimal(step)).replace("\u00a0", " ") == text


@pytest.mark.parametrize(
    "written, text",
    [
        (units.write_ml(30), "30 mL"),
        (units.write_ml(2750), "2.75 L"),
        (units.write_ml(30, "us"), "1.014 fl oz"),
        (units.write_ml(5, "us"), "5 mL"),
        (units.write_ml(3000, "us"), "3.17 qt"),
        (units.write_ml(Decimal("57.5"), step=1), "58 mL"),
        (units.write_m(420), "420 m"),
        (units.write_m(420, "us"), "459 yd"),
        (units.write_c(85), "85 °C"),
        (units.write_c(85, "us"), "185 °F"),
        (units.write_c(Decimal("93.333")), "93.3 °C"),
        (units.write_c(-5, step=1), "-5 °C"),
        (units.write_amount(Amount(Decimal("1.5"), "us_tbsp")), "1.5 US tbsp"),
    ],
)
def test_volumes_lengths_and_temperatures_are_written(written, text):
    assert written.replace("\u00a0", " ") == text
    assert " " not in written.replace("fl oz", "").replace("US tbsp", "")


@given(positive, st.sampled_from([Decimal("0.001"), Decimal("0.1"), Decimal("0.2"), Decimal(5)]))
def test_a_written_amount_is_within_half_a_step(g, step):
    written = units.write_g(g, step=step)
    if written.startswith("under"):
        assert g < step
    else:
        told = units.normalise(units.read_amount(written, "g", units.MASS)).number
        assert abs(told - g) <= step / 2
        assert told % step == 0


def test_a_graduation_of_nothing_is_refused():
    with pytest.raises(ValueError, match="above zero"):
        units.write_g(5, step=0)


def test_an_unknown_system_is_refused():
    with pytest.raises(ValueError, match="metric or US"):
        units.write_g(5, "imperial")
