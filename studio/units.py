"""Amounts as people type them, and as the studio keeps and says them.

Kept amounts are in g, mL, m and degrees C, as Decimal. What a person typed is read here, by our own reader,
and its unit comes from the closed list ``UNITS``; a spoon or a cup is metric or US, never just "a spoon".

pint does the converting, on a registry that knows these units and nothing else. Its usual one would read
"fl oz" as femtolitre-ounces and keeps the US volumes inexact, and text that a person typed must never reach
either.
"""

import re
from decimal import ROUND_HALF_UP, Decimal
from typing import NamedTuple

import pint

MOST = Decimal(10_000_000)
LARGEST_WORKED_WITH = Decimal(10) ** 15
LONGEST_TEXT = 60
NO_BREAK_SPACE = "\u00a0"


class Unit(NamedTuple):
    """One unit. ``factor`` is exact, in g, mL or m; a temperature has none: degrees C and F are shifted."""

    key: str
    label: str
    dimension: str
    factor: Decimal | None


class Amount(NamedTuple):
    """A number and the key of its unit, as typed or as kept."""

    number: Decimal
    unit: str


# Sources. Pound 453.59237 g, yard 0.9144 m, US gallon 231 cubic inches with the inch 25.4 mm: NIST Handbook
# 44, Appendix C; quart, cup, fluid ounce, tablespoon and teaspoon are 1/4, 1/16, 1/128, 1/256 and 1/768 of
# that gallon. Metric spoons and cup: common practice, no source.
UNITS = {
    unit.key: unit
    for unit in (
        Unit("g", "g", "mass", Decimal(1)),
        Unit("mg", "mg", "mass", Decimal("0.001")),
        Unit("kg", "kg", "mass", Decimal(1000)),
        Unit("oz", "oz", "mass", Decimal("28.349523125")),
        Unit("lb", "lb", "mass", Decimal("453.59237")),
        Unit("mL", "mL", "volume", Decimal(1)),
        Unit("L", "L", "volume", Decimal(1000)),
        Unit("fl_oz", "fl oz", "volume", Decimal("29.5735295625")),
        Unit("qt", "qt", "volume", Decimal("946.352946")),
        Unit("gal", "gal", "volume", Decimal("3785.411784")),
        Unit("metric_tsp", "metric tsp", "volume", Decimal(5)),
        Unit("metric_tbsp", "metric tbsp", "volume", Decimal(15)),
        Unit("metric_cup", "metric cup", "volume", Decimal(250)),
        Unit("us_tsp", "US tsp", "volume", Decimal("4.92892159375")),
        Unit("us_tbsp", "US tbsp", "volume", Decimal("14.78676478125")),
        Unit("us_cup", "US cup", "volume", Decimal("236.5882365")),
        Unit("degC", "°C", "temperature", None),
        Unit("degF", "°F", "temperature", None),
        Unit("m", "m", "length", Decimal(1)),
        Unit("yd", "yd", "length", Decimal("0.9144")),
    )
}
KEPT_IN = {"mass": "g", "volume": "mL", "length": "m", "temperature": "degC"}
MASS, VOLUME, LENGTH, TEMPERATURE = (
    tuple(unit.key for unit in UNITS.values() if unit.dimension == dimension) for dimension in KEPT_IN
)

SPELLINGS = {
    "g": "g gram grams gramme grammes",
    "mg": "mg milligram milligrams",
    "kg": "kg kgs kilo kilos kilogram kilograms",
    "oz": "oz ounce ounces",
    "lb": "lb lbs pound pounds",
    "mL": "ml mls cc milliliter milliliters millilitre millilitres",
    "L": "l liter liters litre litres",
    "fl_oz": "floz fluidounce fluidounces",
    "qt": "qt qts quart quarts",
    "gal": "gal gals gallon gallons",
    "tsp": "tsp tsps teaspoon teaspoons",
    "tbsp": "tbsp tbsps tbs tablespoon tablespoons",
    "cup": "cup cups",
    "degC": "°c ℃ c degc celsius",
    "degF": "°f ℉ f degf fahrenheit",
    "m": "m metre metres meter meters",
    "yd": "yd yds yard yards",
}
UNIT_SPELT = {spelling: key for key, spellings in SPELLINGS.items() for spelling in spellings.split()}
SPOONS = ("tsp", "tbsp", "cup")

VULGAR = {
    "½": "1/2", "⅓": "1/3", "⅔": "2/3", "¼": "1/4", "¾": "3/4", "⅕": "1/5", "⅖": "2/5", "⅗": "3/5",
    "⅘": "4/5", "⅙": "1/6", "⅚": "5/6", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
}  # fmt: skip

PLAIN = re.compile(r"[0-9]+|[0-9]*[.,][0-9]+")
GROUPED = re.compile(r"[0-9]{1,3}(?: [0-9]{3})+(?:[.,][0-9]+)?")
FRACTION = re.compile(r"(?:([0-9]+) )?([0-9]+) ?/ ?([0-9]+)")
COMMA_OR_THOUSANDS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")
SEVERAL_SEPARATORS = re.compile(r"[0-9]+(?:[.,'’][0-9]+){2,}|[0-9]+['’][0-9]+")


# Reading


def read_number(text, allow_negative=False):
    """The number a person typed, as Decimal.

    Reads "5.5", "5,5", ".5", "1 000" (any kind of space), "1/2", "1 1/2", "½" and "1½". A point is always a
    decimal point. A comma that could as well part thousands ("1,000") raises ValueError and asks, as does
    whatever is not a plain number, is negative unless ``allow_negative``, or is above 10 000 000. The message
    is a sentence to show.
    """
    tidy = _tidy(text)
    negative = tidy.startswith("-")
    digits = tidy[1:].lstrip() if negative else tidy
    if not digits:
        raise ValueError("Write a number, such as 5 or 2.5.")
    _refuse_doubtful_separators(digits, tidy)
    if fraction := FRACTION.fullmatch(digits):
        number = _fraction(fraction, tidy)
    elif PLAIN.fullmatch(digits) or GROUPED.fullmatch(digits):
        number = Decimal(digits.replace(" ", "").replace(",", "."))
    else:
        raise ValueError(f"{_quoted(tidy)} can't be read as a number: write digits, such as 5, 2.5 or 1 1/2.")
    if number > MOST:
        raise ValueError(f"{_quoted(tidy)} is more than can be right here: write 10 000 000 at most.")
    if negative and number and not allow_negative:
        raise ValueError(f"{_quoted(tidy)} is below zero: write a number of 0 or more.")
    return -number if negative and number else number


def read_amount(text, unit, allowed, spoons="metric", allow_negative=False, also=()):
    """The ``Amount`` a person typed, with or without a unit.

    ``unit``: the key meant when none is typed. ``allowed``: the keys that may be typed. ``spoons``: "metric"
    or "us", which spoons and cups this studio means by a bare "tsp", "tbsp" or "cup". ``also``: words that the
    caller reads itself, such as "skeins", to be named among the choices. Raises ValueError with
    a sentence for what is not a number, not a unit of the list, or a unit that is not allowed here.
    """
    tidy = _tidy(text)
    words = re.search(r"[^0-9\s.,/'’+-].*", tidy)
    if not words:
        return Amount(read_number(tidy, allow_negative), unit)
    typed_number, typed_unit = tidy[: words.start()].strip(), words.group()
    allowed = tuple(allowed)
    key = _unit_called(typed_unit, spoons)
    if key is None:
        raise ValueError(f"{_quoted(typed_unit)} is not a unit to use here: write {_choices(allowed, also)}.")
    if key not in allowed:
        raise ValueError(f"This can't be given in {UNITS[key].label}: write it in {_choices(allowed)}.")
    if not typed_number:
        raise ValueError(f"Write the number before the unit, such as 5 {UNITS[key].label}.")
    return Amount(read_number(typed_number, allow_negative), key)


def _tidy(text):
    """The text with one kind of space, minus sign and fraction; refuses what no amount can be."""
    if not isinstance(text, str):
        raise ValueError("Write a number, such as 5 or 2.5.")
    if len(text) > LONGEST_TEXT and len(text.strip()) > LONGEST_TEXT:
        raise ValueError("This is too long to be a number: write only the number, such as 5 or 2.5.")
    for sign, fraction in VULGAR.items():
        text = text.replace(sign, f" {fraction} ")
    text = text.replace("\u2044", "/").replace("\u2212", "-")
    return " ".join(text.split())


def _refuse_doubtful_separators(digits, tidy):
    if COMMA_OR_THOUSANDS.fullmatch(digits):
        whole, decimals = digits.split(",")
        small = write_number(Decimal(f"{whole}.{decimals}"), digits=6)
        either = f"{small} or {whole}{decimals}"
        raise ValueError(f"{_quoted(tidy)} could be {either}: write {either}.")
    if SEVERAL_SEPARATORS.fullmatch(digits):
        raise ValueError(
            f"{_quoted(tidy)} can be read in more than one way: "
            "write it without marks between the thousands, such as 1000 or 1000.5."
        )


def _fraction(match, tidy):
    whole, upper, lower = (Decimal(part or 0) for part in match.groups())
    if not lower:
        raise ValueError(f"{_quoted(tidy)} divides by zero: write a fraction such as 1/2.")
    if match.group(1) is not None and not 0 < upper < lower:
        raise ValueError(f"{_quoted(tidy)} can't be read: write a whole number and a fraction, as in 1 1/2.")
    return whole + upper / lower


def _unit_called(typed, spoons):
    """The key for a typed unit, or None. "fl. oz.", "US cup", "ML" are found; "T" and "gr" mean too much."""
    spelling = re.sub(r"[\s.]+", "", typed.casefold())
    if typed.strip(" .") == "T":
        return None
    for system in ("us", "metric"):
        if spelling.startswith(system) and UNIT_SPELT.get(spelling.removeprefix(system)) in SPOONS:
            spelling, spoons = spelling.removeprefix(system), system
    key = UNIT_SPELT.get(spelling)
    return f"{spoons}_{key}" if key in SPOONS else key


def _choices(keys, also=()):
    labels = [*also, *dict.fromkeys(UNITS[key].label.removeprefix("US ").removeprefix("metric ") for key in keys)]
    return " or ".join(filter(None, [", ".join(labels[:-1]), labels[-1]]))


def _quoted(text):
    shown = "".join(mark if mark.isprintable() else "?" for mark in text)
    return f"“{shown[:24]}…”" if len(shown) > 24 else f"“{shown}”"


# Converting


def _registry():
    registry = pint.UnitRegistry(None, non_int_type=Decimal)
    for dimension, key in KEPT_IN.items():
        if dimension != "temperature":
            registry.define(f"{key} = [{dimension}]")
    for unit in UNITS.values():
        if unit.factor is not None and unit.key not in KEPT_IN.values():
            registry.define(f"{unit.key} = {unit.factor} * {KEPT_IN[unit.dimension]}")
    return registry


REGISTRY = _registry()


def exact(value):
    """``value`` (a Decimal, an int, or a float as it prints) as a finite Decimal. Not for typed text."""
    number = value if isinstance(value, Decimal) else Decimal(str(value))
    if not number.is_finite() or abs(number) > LARGEST_WORKED_WITH:
        raise ValueError("This number can't be worked with: check the amounts it comes from.")
    return number


def to_g(number, unit):
    """Grams in ``number`` of a unit of mass."""
    return _convert(number, unit, "mass")


def to_ml(number, unit):
    """Millilitres in ``number`` of a unit of volume."""
    return _convert(number, unit, "volume")


def to_m(number, unit):
    """Metres in ``number`` of a unit of length."""
    return _convert(number, unit, "length")


def to_c(number, unit):
    """Degrees Celsius for a temperature in ``unit``."""
    _check_dimension(unit, "temperature")
    number = exact(number)
    celsius = number if unit == "degC" else (number - 32) * 5 / 9
    if celsius < Decimal("-273.15"):
        raise ValueError("Nothing can be as cold as that: check the temperature and its unit.")
    return celsius


def normalise(amount):
    """The same amount in the unit it is kept in: g, mL, m or degC."""
    dimension = _known(amount.unit).dimension
    convert = {"mass": to_g, "volume": to_ml, "length": to_m, "temperature": to_c}[dimension]
    return Amount(convert(amount.number, amount.unit), KEPT_IN[dimension])


def _convert(number, unit, dimension):
    _check_dimension(unit, dimension)
    return REGISTRY.Quantity(exact(number), unit).to(KEPT_IN[dimension]).magnitude


def _from_kept(number, unit):
    return REGISTRY.Quantity(exact(number), KEPT_IN[UNITS[unit].dimension]).to(unit).magnitude


def _known(unit):
    if unit not in UNITS:
        raise ValueError(f"{_quoted(str(unit))} is not a unit of this studio: choose one from the list.")
    return UNITS[unit]


def _check_dimension(unit, dimension):
    found = _known(unit)
    if found.dimension == dimension:
        return
    if (found.dimension, dimension) == ("volume", "mass"):
        raise ValueError(
            f"{found.label} is a volume and this is a weight; powder is never converted from spoons: "
            "weigh it, or use a measure that the studio has weighed."
        )
    wanted = UNITS[KEPT_IN[dimension]].label
    raise ValueError(f"{found.label} is a {found.dimension} and this is a {dimension}: write it in {wanted}.")


# Writing


def write_number(number, step=None, digits=4):
    """A number as a person writes it: no exponent, no idle zeros, a point for the decimals.

    Rounded, half up, to ``step`` (what a tool can measure) or else to ``digits`` significant digits; digits
    before the point are always kept.
    """
    number = exact(number)
    if step is not None:
        step = _positive_step(step)
        rounded = (number / step).quantize(Decimal(1), ROUND_HALF_UP) * step
    else:
        places = max(0, digits - 1 - number.adjusted()) if number else 0
        rounded = number.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
    text = f"{rounded:f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def write_pct(pct, digits=3):
    """A percentage, 1 for 1 %: "0.85 %". ``digits``: significant ones, as in ``write_number``."""
    return f"{write_number(pct, digits=digits)}{NO_BREAK_SPACE}%"


def write_count(number, noun):
    """So many whole things: "1 skein", "3 skeins". ``noun``: one of them, of those that take an s."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def write_g(g, system="metric", step=None):
    """A mass: "57.5 g", "1.25 kg"; in US units "3.5 oz", "1.1 lb".

    Under half an ounce stays in grams in both systems: that is how dye is weighed. ``step`` (g) is the
    scale's: the amount is rounded to it and said in metric, as the scale shows it; "under 0.1 g" where that
    would say 0.
    """
    us = (("lb", 1), ("oz", Decimal("0.5")), ("g", 0))
    return _write(g, system, step, metric=(("kg", 1), ("g", 0)), us=us)


def write_ml(ml, system="metric", step=None):
    """A volume: "30 mL", "2.75 L"; in US units "8 fl oz", "3.17 qt".

    Under one fluid ounce stays in mL in both systems, as syringes are marked. ``step`` (mL): see ``write_g``.
    """
    return _write(ml, system, step, metric=(("L", 1), ("mL", 0)), us=(("qt", 1), ("fl_oz", 1), ("mL", 0)))


def write_m(m, system="metric", step=None):
    """A length: "420 m" or "459 yd". ``step`` in m."""
    return _write(m, system, step, metric=(("m", 0),), us=(("yd", 0),), digits=3)


def write_c(c, system="metric", step=None):
    """A temperature: "85 °C" to a tenth, "185 °F" to a whole degree, or either to ``step`` degrees."""
    _check_system(system)
    c = exact(c)
    if system == "us":
        return _joined(write_number(c * 9 / 5 + 32, step or 1), "degF")
    return _joined(write_number(c, step or Decimal("0.1")), "degC")


def write_amount(amount):
    """An amount in its own unit, as typed: "1.5 US tbsp"."""
    return _joined(write_number(amount.number, digits=6), _known(amount.unit).key)


def _write(number, system, step, metric, us, digits=4):
    """``metric``, ``us``: (unit, from how many of it on it is used), largest first."""
    _check_system(system)
    number = exact(number)
    kept_in = metric[-1][0]
    if step is not None:
        step = _positive_step(step)
        rounded = exact(write_number(number, step))
        if number and not rounded:
            return f"under {_joined(write_number(step), kept_in)}"
        number, digits, system = rounded, 28, "metric"
    for unit, at_least in us if system == "us" else metric:
        shown = _from_kept(number, unit)
        if exact(write_number(abs(shown), digits=digits)) >= at_least:
            return _joined(write_number(shown, digits=digits), unit)
    raise AssertionError("the last unit of each system is used from 0 on")


def _joined(text, unit):
    return f"{text}{NO_BREAK_SPACE}{UNITS[unit].label}"


def _positive_step(step):
    step = exact(step)
    if step <= 0:
        raise ValueError("A tool's graduation must be above zero: write its smallest step, such as 0.1.")
    return step


def _check_system(system):
    if system not in ("metric", "us"):
        raise ValueError("Choose metric or US units.")
