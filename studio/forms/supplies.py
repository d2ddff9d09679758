"""How much of something on the shelf, as it is bought and counted: skeins of yarn, g of powder, mL of acid."""

import re
from decimal import Decimal
from typing import NamedTuple

from django import forms
from django.core.exceptions import ValidationError

from studio import units, writing
from studio.forms.fields import AmountField, PercentField, TypedField
from studio.forms.text import tidy
from studio.forms.widgets import MeasureInput

SKEINS = "skeins"
TYPED_SKEINS = re.compile(r"\s*(skeins?|hanks?)\.?$", re.IGNORECASE)
MOST_G = Decimal(1_000_000)  # a tonne: more is a slip of the keyboard


def masses():
    """Units of weight to offer, the studio's own first."""
    return ("oz", "lb", "g", "kg") if writing.current().system == "us" else ("g", "kg", "oz", "lb")


def small_masses():
    """Units for what is weighed on the bench: dye is weighed in grams everywhere."""
    return ("g", "oz")


def volumes():
    return ("mL", "fl_oz", "qt", "L") if writing.current().system == "us" else ("mL", "L", "fl_oz")


def lengths():
    return ("yd", "m") if writing.current().system == "us" else ("m", "yd")


def temperatures():
    return ("degF", "degC") if writing.current().system == "us" else ("degC", "degF")


class PowderStrengthField(PercentField):
    """The strength of a powder lot [% of the studio's standard, which is 100]."""

    LEAST = Decimal("0.1")

    def __init__(self, **kwargs):
        super().__init__(most=400, required=False, help_text="Against your standard strength, 100.", **kwargs)

    def validate(self, value):
        if value is not None and value < self.LEAST:
            raise ValidationError("A powder has some strength: write it in percent, 100 for the usual.")
        super().validate(value)


class Supply(NamedTuple):
    """A number and its unit: ``SKEINS`` or a key of ``units.UNITS``."""

    number: Decimal
    unit: str

    def in_unit(self, unit, skein_g=None):
        """The amount in g or mL. ``skein_g``: what a skein weighs, for a yarn.

        Raises ValueError with a sentence where the two do not go together.
        """
        if self.unit == SKEINS:
            if skein_g is None:
                raise ValueError("Only yarn comes in skeins: write a weight or a volume.")
            return self.number * skein_g
        if unit == "g" and units.UNITS[self.unit].dimension == "volume":
            raise ValueError(f"This is kept by weight: write g or kg, not {units.UNITS[self.unit].label}.")
        return units.to_g(self.number, self.unit) if unit == "g" else units.to_ml(self.number, self.unit)


class SupplyInput(MeasureInput):
    """A number with its unit beside it; skeins are one of the units."""

    def get_context(self, name, value, attrs):
        typed, unit = value if isinstance(value, tuple) else (value, None)
        unit = unit if unit in self.units_offered else self.units_offered[0]
        context = forms.TextInput.get_context(self, name, typed, attrs)
        context["widget"] |= {
            "units": [(key, label(key)) for key in self.units_offered],
            "unit": unit,
            "unit_label": label(unit),
        }
        return context


def label(key):
    return SKEINS if key == SKEINS else units.UNITS[key].label


class SupplyField(TypedField):
    """An amount as ``Supply``. ``offered``: the units beside the box, the usual one first."""

    def __init__(self, offered, *, above_zero=False, **kwargs):
        self.offered, self.above_zero = tuple(offered), above_zero
        kwargs.setdefault("widget", SupplyInput(self.offered))
        super().__init__(**kwargs)

    def has_changed(self, initial, data):
        typed = data[0] if isinstance(data, tuple) else data
        return bool(str(typed or "").strip())

    def to_python(self, value):
        typed, unit = value if isinstance(value, (tuple, list)) else (value, None)
        text = tidy(str(typed or "")).strip()
        if not text:
            return None
        unit = unit or self.offered[0]
        if unit not in self.offered:
            raise ValidationError("Choose a unit from the list beside the number.", code="unit")
        try:
            return self._read(text, unit)
        except ValueError as problem:
            raise ValidationError(str(problem), code="unreadable") from None

    def _read(self, text, unit):
        if SKEINS in self.offered and (said := TYPED_SKEINS.search(text)):
            return Supply(units.read_number(text[: said.start()]), SKEINS)
        if unit == SKEINS and not any(mark.isalpha() for mark in text):
            return Supply(units.read_number(text), SKEINS)
        kinds = {units.UNITS[key].dimension for key in self.offered if key != SKEINS}
        allowed = [key for key, known in units.UNITS.items() if known.dimension in kinds]
        usual = self.offered[1] if unit == SKEINS else unit
        also = (SKEINS,) if SKEINS in self.offered else ()
        return Supply(*units.read_amount(text, usual, allowed, writing.current().spoons, also=also))

    def validate(self, value):
        super().validate(value)
        if value is None:
            return
        if self.above_zero and value.number <= 0:
            raise ValidationError("0 is nothing: write how much there is, or leave the row out.")


class LocalAmountField(AmountField):
    """An ``AmountField`` whose units stand in the studio's own order: ``offered`` is asked anew for each form.

    Units that are the same everywhere may be given as they are.
    """

    def __init__(self, offered, **kwargs):
        self.ask = offered if callable(offered) else lambda: offered
        super().__init__(self.ask(), **kwargs)
        self.widget.units_offered = self.offered

    def __deepcopy__(self, memo):
        field = super().__deepcopy__(memo)
        field.offered = field.widget.units_offered = self.ask()
        return field


def shown(kept, offered):
    """A kept amount as it is put into a box: in the first unit offered where a short figure gives it exactly.

    3.5 oz is kept as 99.223 g; it comes back as 3.5 oz, while 100 g stays 100 g.
    """
    if kept is None:
        return None
    unit = units.UNITS[offered[0]]
    short = round(kept / unit.factor, 2)
    if abs(short * unit.factor - kept) < Decimal("0.001"):
        return units.Amount(short, unit.key)
    return units.Amount(kept, units.KEPT_IN[unit.dimension])
