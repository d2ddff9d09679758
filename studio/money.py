"""Money: parts that sum, prices that leave what they promise, amounts read and written in a currency.

Pure: no Django. Amounts are `Decimal` in major units (euros, not cents); percentages are percent. Work in
between is done in exact fractions, so an amount is rounded once, where it is shown or stored, and half a unit
goes up (away from zero). Wrong input raises `ValueError` with a sentence for the person who typed it.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from math import ceil, floor

from babel.core import Locale
from babel.numbers import get_currency_symbol, list_currencies, parse_pattern

from studio.units import read_number

Number = int | str | Decimal | Fraction

# ISO 4217, minor unit column. Babel's own digits are CLDR's, which follow how money is used in shops
# (none for RSD or ALL); a ledger needs the standard's. All that are not named here have 2.
_ISO_4217_DIGITS = {
    "BIF": 0, "CLP": 0, "DJF": 0, "GNF": 0, "ISK": 0, "JPY": 0, "KMF": 0, "KRW": 0, "PYG": 0, "RWF": 0,
    "UGX": 0, "UYI": 0, "VND": 0, "VUV": 0, "XAF": 0, "XOF": 0, "XPF": 0,
    "BHD": 3, "IQD": 3, "JOD": 3, "KWD": 3, "LYD": 3, "OMR": 3, "TND": 3,
    "CLF": 4, "UYW": 4,
}  # fmt: skip
# ISO 4217 gives these no minor unit at all ("N.A."): metals, units of account, testing, no currency.
_NOT_SPENT = {"XAG", "XAU", "XBA", "XBB", "XBC", "XBD", "XDR", "XPD", "XPT", "XSU", "XTS", "XUA", "XXX"}

# A figure past these would make exact fractions as slow as its exponent says, and is never meant.
_MOST_DIGITS_BEFORE, _MOST_DIGITS_AFTER = 18, 40


def exact(value: Number, what: str = "amount") -> Fraction:
    """`value` as an exact fraction; a float counts as the decimal it prints as. Errors name it by `what`."""
    if isinstance(value, Fraction):
        return value
    if isinstance(value, Decimal | int) and not isinstance(value, bool):
        number = Decimal(value)
    else:
        try:
            number = Decimal(str(value).strip())
        except InvalidOperation:
            raise ValueError(f"The {what} is not a number. Write it in figures, such as 12.50.") from None
    if not number.is_finite():
        raise ValueError(f"The {what} is not a number. Write it in figures, such as 12.50.")
    if number.adjusted() >= _MOST_DIGITS_BEFORE or -number.as_tuple().exponent > _MOST_DIGITS_AFTER:
        raise ValueError(f"The {what} has too many digits. Check how many zeros were meant.")
    return Fraction(number)


def rounded(value: Number, places: int = 2) -> Decimal:
    """`value` to `places` digits after the point, half a unit away from zero (ROUND_HALF_UP)."""
    units = abs(exact(value)) * 10**places
    whole = floor(units + Fraction(1, 2))
    return _from_units(whole if exact(value) >= 0 else -whole, places)


def split(total: Number, weights: Iterable[Number], places: int = 2) -> list[Decimal]:
    """Parts of `total` in proportion to `weights`, in their order, that sum to `total` exactly.

    Largest remainder (Hamilton): each part is rounded down and the units left over go to the biggest
    remainders, ties to the larger weight, then to the earlier. Each part is within one unit of its exact
    share. A negative total is split like a positive one. `places` is the number of digits after the point of
    one unit.
    """
    shares = [exact(weight, "weight") for weight in weights]
    if any(share < 0 for share in shares):
        raise ValueError("A weight is below zero. Give each part a weight of zero or more.")
    together = sum(shares, Fraction(0))
    if together == 0:
        raise ValueError("There is nothing to share over: give at least one part a weight above zero.")
    units = exact(total, "total") * 10**places
    if units.denominator != 1:
        raise ValueError(
            f"The total has more than {places} digits after the point, so parts of {places} digits "
            "can't sum to it. Round the total first."
        )
    wanted = [abs(units) * share / together for share in shares]
    parts = [floor(part) for part in wanted]
    left_over = int(abs(units)) - sum(parts)
    by_remainder = sorted(range(len(parts)), key=lambda i: (parts[i] - wanted[i], -shares[i], i))
    for i in by_remainder[:left_over]:
        parts[i] += 1
    return [_from_units(part if units >= 0 else -part, places) for part in parts]


def landed_costs(
    line_values: Sequence[Number | None], extras: Number | Sequence[Number], places: int = 2
) -> list[Decimal]:
    """What each line of a delivery cost with its share of freight, duty and the like, shared by value.

    `extras` is one amount or several, which are added up. The results sum to all lines and extras together.
    Cost of purchase takes in import duty and transport: IAS 2 *Inventories*, paragraphs 10 and 11. Keep a
    lot's whole cost and amount; a price per gram is worked out when wanted and never stored.
    """
    if any(value is None for value in line_values):
        raise ValueError(
            "A line of this delivery has no price, so freight and duty can't be shared by value. "
            "Fill in the price, or enter freight and duty as a cost of their own."
        )
    values = [exact(value, "line's value") for value in line_values]
    if any(value < 0 for value in values):
        raise ValueError("A line of this delivery is below zero. Enter what was paid for it, zero or more.")
    if isinstance(extras, Iterable) and not isinstance(extras, str):
        extras = sum((exact(extra, "freight or duty") for extra in extras), Fraction(0))
    extra = exact(extras, "freight or duty")
    if extra == 0:
        return [_whole_units(value, places) for value in values]
    if sum(values) == 0:
        raise ValueError(
            "Every line of this delivery is worth nothing, so freight and duty can't be shared by value. "
            "Give at least one line a price."
        )
    shares = split(extra, values, places)
    return [_whole_units(value + exact(share), places) for value, share in zip(values, shares, strict=True)]


@dataclass(frozen=True)
class Left:
    """What a price turns into: `price` = `tax` + `fee` + `cost` + `left`, all but the cost in whole units."""

    price: Decimal
    net: Decimal  # price without the tax inside it
    tax: Decimal
    fee: Decimal  # the percentage of the whole price, plus the fixed part
    left: Decimal  # net less fee less cost: below zero is a loss


def what_is_left(
    price: Number,
    cost: Number,
    tax_pct: Number = 0,
    fee_pct: Number = 0,
    fee_fixed: Number = 0,
    places: int = 2,
) -> Left:
    """Work a price forward: tax and fee are each rounded once, as they are when they are paid."""
    whole_price = exact(price, "price")
    net = rounded(whole_price / (1 + exact(tax_pct, "tax") / 100), places)
    fee = rounded(whole_price * exact(fee_pct, "fee") / 100 + exact(fee_fixed, "fixed fee"), places)
    shown_price = rounded(whole_price, places)
    left = exact(net) - exact(fee) - exact(cost, "cost")
    return Left(shown_price, net, shown_price - net, fee, _exact_decimal(left, places))


def price_for_profit(
    cost: Number,
    profit: Number,
    tax_pct: Number = 0,
    fee_pct: Number = 0,
    fee_fixed: Number = 0,
    places: int = 2,
) -> Decimal:
    """The price, rounded up, that leaves at least `profit` after cost, tax and fees.

    Tax is inside the price; the fee is taken on the whole price, tax too. From P/(1+v) - f·P - f0 - C = m
    follows P = (C + m + f0) / (1/(1+v) - f), rounded up; then it is proved forward with tax and fee rounded
    as they are when paid, and raised by a unit until it holds.
    """
    wanted = _zero_or_more(profit, "profit")
    return _price(cost, wanted, Fraction(0), tax_pct, fee_pct, fee_fixed, places)


def price_for_margin(
    cost: Number,
    margin_pct: Number,
    tax_pct: Number = 0,
    fee_pct: Number = 0,
    fee_fixed: Number = 0,
    places: int = 2,
) -> Decimal:
    """The price, rounded up, that leaves `margin_pct` percent of the net price after cost, tax and fees.

    Margin is a share of the net price, not a mark-up on the cost: margin = mark-up / (1 + mark-up).
    P = (C + f0) / ((1-g)/(1+v) - f), rounded up and proved forward like `price_for_profit`, to the unit.
    """
    margin = _zero_or_more(margin_pct, "margin") / 100
    if margin >= 1:
        raise ValueError("A margin has to be below 100 %, because the cost takes part of every price.")
    return _price(cost, Fraction(0), margin, tax_pct, fee_pct, fee_fixed, places)


def up_to_ending(price: Number, ending: str) -> Decimal:
    """The smallest price, not below `price`, that ends in `ending`.

    ".95" makes 28.53 into 28.95 and 28.96 into 29.95; "9.95" makes 28.53 into 29.95. An ending without a point is for
    whole numbers, and for currencies without minor units: "80" makes 2853 into 2880 and 2881 into 2980.
    """
    wanted = _zero_or_more(price, "price")
    whole, _, fraction = str(ending).strip().replace(",", ".").partition(".")
    if not (whole + fraction).isascii() or not (whole + fraction).isdigit() or len(whole + fraction) > 12:
        raise ValueError("Write a price ending in figures, such as .95, .50 or .00.")
    if fraction and whole == "0":
        whole = ""
    step = Fraction(10 ** len(whole))
    end = Fraction(f"{whole or 0}.{fraction or 0}")
    times = max(0, ceil((wanted - end) / step))
    return _from_units(int((times * step + end) * 10 ** len(fraction)), len(fraction))


def minor_units(currency: str) -> int:
    """Digits after the point of a currency by ISO 4217: 2 for EUR, 0 for JPY, 3 for KWD."""
    code = str(currency).strip().upper()
    if code not in list_currencies() or code in _NOT_SPENT:
        raise ValueError("The currency is not known. Use its three letters, such as EUR, GBP or USD.")
    return _ISO_4217_DIGITS.get(code, 2)


def to_minor(amount: Number, currency: str) -> int:
    """Whole minor units of an amount (12.50 EUR -> 1250). Refuses a part of a unit: round first, once."""
    digits = minor_units(currency)
    units = exact(amount) * 10**digits
    if units.denominator != 1:
        raise ValueError(_too_many_digits(currency, digits))
    return int(units)


def from_minor(minor: int, currency: str) -> Decimal:
    """The amount of a whole number of minor units (1250 EUR -> 12.50)."""
    if isinstance(minor, bool) or not isinstance(minor, int):
        raise ValueError("Minor units are a whole number, such as 1250 for 12.50 EUR.")
    return _from_units(minor, minor_units(currency))


def read_money(text: str, currency: str) -> Decimal:
    """The amount a person typed, zero or more, with or without the currency's own sign or letters.

    The number is read by `studio.units.read_number`, which asks about "1,000". More digits than the currency
    has are refused, since they are a slip or a thousands point.
    """
    digits = minor_units(currency)
    amount = Decimal(read_number(_without_sign(str(text), currency)))
    if max(0, -amount.as_tuple().exponent) > digits:
        raise ValueError(_too_many_digits(currency, digits))
    return rounded(amount, digits)


def write_money(amount: Number, currency: str, locale: str = "en_GB") -> str:
    """An amount as the locale writes it, with the digits ISO 4217 gives the currency; half a unit is rounded
    up."""
    digits = minor_units(currency)
    parsed = Locale.parse(locale)
    pattern = parse_pattern(parsed.currency_formats["standard"].pattern)
    pattern.frac_prec = (digits, digits)
    code = str(currency).strip().upper()
    written = pattern.apply(rounded(amount, digits), parsed, currency=code, currency_digits=False)
    # Unicode CLDR's "alphaNextToNumber": letters don't touch the figures, as in "KWD 1.500".
    return re.sub(r"(?<=[^\W\d_])(?=\d)|(?<=\d)(?=[^\W\d_])", "\N{NO-BREAK SPACE}", written)


def _price(cost, profit: Fraction, margin: Fraction, tax_pct, fee_pct, fee_fixed, places) -> Decimal:
    cost = _zero_or_more(cost, "cost")
    tax = _zero_or_more(tax_pct, "tax") / 100
    fee = _zero_or_more(fee_pct, "fee") / 100
    fixed = _zero_or_more(fee_fixed, "fixed fee")
    kept = (1 - margin) / (1 + tax) - fee
    # Below a thousandth the proof would climb for thousands of steps, and no such price makes sense.
    if kept < Fraction(1, 1000):
        raise ValueError("Tax, fees and margin together take the whole price, so no price is high enough.")
    units = ceil((cost + profit + fixed) / kept * 10**places)
    while True:
        price = _from_units(units, places)
        outcome = what_is_left(price, cost, tax_pct, fee_pct, fee_fixed, places)
        net = exact(outcome.net)
        # A margin of a whole unit's fraction can't be paid out, so it is counted down to whole units.
        wanted = profit + Fraction(floor(margin * net * 10**places), 10**places)
        if net - exact(outcome.fee) - cost >= wanted:
            return price
        units += 1


def _zero_or_more(value: Number, what: str) -> Fraction:
    number = exact(value, what)
    if number < 0:
        raise ValueError(f"The {what} is below zero. Write zero or more.")
    return number


def _from_units(units: int, places: int) -> Decimal:
    # A tuple keeps all digits whatever the precision of the current decimal context.
    sign = 1 if units < 0 else 0
    return Decimal((sign, tuple(int(digit) for digit in str(abs(units))), -places))


def _whole_units(value: Fraction, places: int) -> Decimal:
    units = value * 10**places
    if units.denominator != 1:
        raise ValueError(f"An amount has more than {places} digits after the point. Round it first.")
    return _from_units(int(units), places)


def _exact_decimal(value: Fraction, places: int) -> Decimal:
    # A cost that comes as a repeating fraction has no exact decimal; the ordinary cost in cents does.
    units = value * 10**places
    return _from_units(int(units), places) if units.denominator == 1 else rounded(value, places)


def _too_many_digits(currency: str, digits: int) -> str:
    code = str(currency).strip().upper()
    if digits == 0:
        return f"{code} has no digits after the point. Write a whole number, without a thousands mark."
    return f"{code} has {digits} digits after the point. Write no more than that, and no thousands mark."


def _without_sign(text: str, currency: str) -> str:
    code = str(currency).strip().upper()
    symbol = get_currency_symbol(code, "en")
    left = text.strip()
    for sign in sorted({code, symbol, symbol[-1:] if not symbol.isalpha() else code}, key=len, reverse=True):
        if left.upper().startswith(sign.upper()):
            return left[len(sign) :].strip()
        if left.upper().endswith(sign.upper()):
            return left[: -len(sign)].strip()
    return left
