"""Fields for what a dyer types: amounts, numbers, money, times, colours, words.

All keep the typed text, read a decimal comma, and refuse with a sentence that says what to write instead.
"""

import re
from datetime import UTC, datetime, time, timedelta
from decimal import Decimal

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from studio import money, units, writing
from studio.forms.base import LONGEST
from studio.forms.text import tidy
from studio.forms.widgets import (
    NUMBER,
    WHOLE,
    ColourInput,
    MeasureInput,
    StepperInput,
    SuffixInput,
    WhenInput,
)

LARGEST_WHOLE = 1_000_000
CLOCKS_DIFFER = timedelta(minutes=2)
FIRST_YEAR, LAST_YEAR = 1950, 2200


def _read(reader, *args):
    """What the reader makes of a text; its sentence as the field's where it refuses."""
    try:
        return reader(*args)
    except ValueError as problem:
        raise ValidationError(str(problem), code="unreadable") from None


class TypedField(forms.Field):
    """A field that reads text itself. Subclasses give ``read(text)``."""

    def to_python(self, value):
        if value is None or not isinstance(value, str):
            return value
        text = tidy(value).strip()
        return self.read(text) if text else None


class WordsField(forms.CharField):
    """Words, up to ``max_length`` (4 000) characters. Empty is "", never None."""

    def __init__(self, *, max_length=LONGEST, rows=None, **kwargs):
        if rows:
            kwargs.setdefault("widget", forms.Textarea({"rows": rows}))
        super().__init__(max_length=max_length, **kwargs)

    def widget_attrs(self, widget):
        return {}  # no maxlength: too much is said, not cut off

    def to_python(self, value):
        return super().to_python(tidy(value))


class NumberField(TypedField):
    """A number as Decimal: "2.5", "2,5", "1 1/2". ``least`` and ``most`` include themselves."""

    widget = forms.TextInput

    def __init__(self, *, least=0, most=None, unit="", **kwargs):
        self.least, self.most, self.unit = least, most, unit
        if "widget" not in kwargs:
            attrs = {} if least is not None and least >= 0 else {"inputmode": "text"}
            kwargs["widget"] = SuffixInput(unit, attrs) if unit else forms.TextInput({**NUMBER, **attrs})
        super().__init__(**kwargs)

    def prepare_value(self, value):
        return units.write_number(value, digits=9) if isinstance(value, Decimal) else value

    def read(self, text):
        return _read(units.read_number, self.without_unit(text), self.least is None or self.least < 0)

    def without_unit(self, text):
        """The text without the unit that stands beside the box, which some people type too."""
        if self.unit and text.lower().endswith(self.unit.lower()):
            return text[: -len(self.unit)].rstrip()
        return text

    def validate(self, value):
        super().validate(value)
        if value is None:
            return
        shown = self.shown(value)
        if self.least is not None and value < self.least:
            raise ValidationError(f"{shown} is too little: write {self.shown(self.least)} or more.")
        if self.most is not None and value > self.most:
            raise ValidationError(f"{shown} is too much: write {self.shown(self.most)} or less.")

    def shown(self, value):
        unit = f"{units.NO_BREAK_SPACE}{self.unit}" if self.unit else ""
        return f"{units.write_number(value, digits=9)}{unit}"


class WholeField(NumberField):
    """A count as int. ``stepper=True`` adds buttons for one more and one fewer."""

    def __init__(self, *, least=0, most=LARGEST_WHOLE, stepper=False, **kwargs):
        if "widget" not in kwargs:
            kwargs["widget"] = StepperInput(least, most) if stepper else forms.TextInput(WHOLE)
        super().__init__(least=least, most=most, **kwargs)

    def read(self, text):
        number = super().read(text)
        if number != number.to_integral_value():
            whole = units.write_number(number, digits=9)
            raise ValidationError(f"{whole} is not a whole number: write one such as {int(number) or 1}.")
        return int(number)


class PercentField(NumberField):
    """A percentage as Decimal: 1 means 1 %. "85 %" may be typed."""

    def __init__(self, *, least=0, most=100, **kwargs):
        super().__init__(least=least, most=most, unit="%", **kwargs)


class AmountField(TypedField):
    """An amount as ``units.Amount``: a number, and a unit that is typed or else chosen.

    ``offered``: keys of ``units.UNITS``, the usual one first; several become a list beside the box.
    ``readable``: keys that may be typed as well, by default every unit of the same kinds as those offered.
    ``least``, ``most``: in the kept unit (g, mL, m, degrees C); ``above_zero`` refuses 0.
    """

    default_error_messages = {"unit": "Choose a unit from the list beside the number."}

    def __init__(self, offered, *, readable=None, least=0, most=None, above_zero=False, **kwargs):
        self.offered = tuple(offered)
        kinds = {units.UNITS[key].dimension for key in self.offered}
        self.readable = tuple(readable or (u.key for u in units.UNITS.values() if u.dimension in kinds))
        self.least, self.most, self.above_zero = least, most, above_zero
        attrs = {"inputmode": "text"} if least is None or least < 0 else {}
        kwargs.setdefault("widget", MeasureInput(self.offered, attrs))
        super().__init__(**kwargs)

    def prepare_value(self, value):
        if isinstance(value, units.Amount):
            return units.write_number(value.number, digits=9), value.unit
        if isinstance(value, Decimal):
            return units.write_number(value, digits=9), None
        return value

    def has_changed(self, initial, data):
        typed, unit = data if isinstance(data, (tuple, list)) else (data, None)
        before = self.prepare_value(initial)
        before, before_unit = before if isinstance(before, tuple) else (before, None)
        return (str(typed or "").strip(), unit) != (str(before or "").strip(), before_unit or unit)

    def to_python(self, value):
        typed, unit = value if isinstance(value, (tuple, list)) else (value, None)
        if typed is None or isinstance(typed, units.Amount):
            return typed
        text = tidy(str(typed)).strip()
        if not text:
            return None
        unit = unit or self.offered[0]
        if unit not in self.offered:
            raise ValidationError(self.error_messages["unit"], code="unit")
        signed = self.least is None or self.least < 0
        return _read(units.read_amount, text, unit, self.readable, writing.current().spoons, signed)

    def validate(self, value):
        super().validate(value)
        if value is None:
            return
        kept = _read(units.normalise, value).number
        shown = units.write_amount(value)
        if self.above_zero and kept <= 0:
            raise ValidationError(f"{shown} is nothing: write more than 0, or leave it out.")
        if self.least is not None and kept < self.least:
            raise ValidationError(f"{shown} is too little: write {self._kept(value, self.least)} or more.")
        if self.most is not None and kept > self.most:
            raise ValidationError(f"{shown} is too much: write {self._kept(value, self.most)} or less.")

    def _kept(self, value, limit):
        unit = units.KEPT_IN[units.UNITS[value.unit].dimension]
        return units.write_amount(units.Amount(Decimal(limit), unit))


class MoneyField(TypedField):
    """Money as whole minor units (1250 for 12.50), in ``currency`` or the studio's."""

    def __init__(self, *, currency=None, **kwargs):
        self.own_currency = currency
        kwargs.setdefault("widget", SuffixInput(lambda: self.currency))
        super().__init__(**kwargs)

    @property
    def currency(self):
        return self.own_currency or writing.current().currency

    def prepare_value(self, value):
        if isinstance(value, int) and not isinstance(value, bool):
            return f"{money.from_minor(value, self.currency):f}"
        return value

    def read(self, text):
        return _read(lambda: money.to_minor(money.read_money(text, self.currency), self.currency))


class ColourField(TypedField):
    """A colour as "#rrggbb" in small letters, or "" where none is given."""

    widget = ColourInput
    LONG = re.compile(r"#?([0-9a-f]{6})")
    SHORT = re.compile(r"#?([0-9a-f])([0-9a-f])([0-9a-f])")

    def to_python(self, value):
        return super().to_python(value) or ""

    def read(self, text):
        text = text.lower()
        if long := self.LONG.fullmatch(text):
            return f"#{long[1]}"
        if short := self.SHORT.fullmatch(text):
            return "#" + "".join(digit * 2 for digit in short.groups())
        raise ValidationError(
            "A colour is written as # and six of the digits 0 to 9 and letters a to f, such as #9c3122: "
            "write it so, or leave it empty.",
            code="unreadable",
        )


class DayField(forms.DateField):
    """A day without a time, chosen in the browser's own box or typed as 2026-10-09."""

    def __init__(self, **kwargs):
        kwargs.setdefault("widget", forms.DateInput({"type": "date"}, format="%Y-%m-%d"))
        super().__init__(**kwargs)


class WhenField(TypedField):
    """A time as an aware datetime, or None where it is left empty (which most forms take as now).

    Reads what the browser's own box sends, "14:31" (today), "2026-10-09 14:31" and "2026-10-09T14:31+02:00".
    A time in the future is refused unless ``future``.
    """

    widget = WhenInput
    CLOCK = re.compile(r"([01]?[0-9]|2[0-3])[:.]([0-5][0-9])")
    UNREADABLE = "This time can't be read: write it as 14:31, or with the day as 2026-10-09 14:31."

    def __init__(self, *, future=False, **kwargs):
        self.future = future
        super().__init__(**kwargs)

    def prepare_value(self, value):
        aware = isinstance(value, datetime) and timezone.is_aware(value)
        return timezone.make_naive(value) if aware else value

    def read(self, text):
        if clock := self.CLOCK.fullmatch(text):
            naive = datetime.combine(timezone.localdate(), time(int(clock[1]), int(clock[2])))
        else:
            try:
                naive = datetime.fromisoformat(text)
            except ValueError:
                raise ValidationError(self.UNREADABLE, code="unreadable") from None
        if not FIRST_YEAR <= naive.year <= LAST_YEAR:
            raise ValidationError("That year can't be right: check the day and write it again.", code="year")
        return naive if naive.tzinfo else self._here(naive)

    def _here(self, naive):
        """In the studio's zone; of an hour that the clocks show twice, the first."""
        aware = naive.replace(tzinfo=timezone.get_current_timezone())
        if aware.astimezone(UTC).astimezone(aware.tzinfo).replace(tzinfo=None) != naive:
            raise ValidationError("The clocks skipped that time, so it never was: write one an hour later.")
        return aware

    def validate(self, value):
        super().validate(value)
        if value is not None and not self.future and value > timezone.now() + CLOCKS_DIFFER:
            raise ValidationError("This time is still to come: write when it happened, or leave it empty.")


class RowsField(forms.ModelMultipleChoiceField):
    """Rows by their keys, which are whole numbers. A longer key than any is none of them; SQLite would choke on it."""

    LONGEST_KEY = 17

    def clean(self, value):
        for key in value or ():
            if len(str(key)) > self.LONGEST_KEY:
                raise ValidationError(self.error_messages["invalid_choice"], code="invalid_choice")
        return super().clean(value)
