"""Putting one's own numbers into a sum."""

from decimal import Decimal

from django.core.exceptions import ValidationError

from recipes.sums import parts_of
from studio import money, units, writing
from studio.forms.base import StudioForm, dress
from studio.forms.fields import MoneyField, NumberField, TypedField, WholeField
from studio.forms.supplies import LocalAmountField, masses, small_masses, volumes

MOST = Decimal(1_000_000)


class PartsField(TypedField):
    """Numbers with colons between them."""

    def prepare_value(self, value):
        return ":".join(units.write_number(part) for part in value) if isinstance(value, list) else value

    def read(self, text):
        try:
            return parts_of(text)
        except ValueError as problem:
            raise ValidationError(str(problem), code="unreadable") from None


FIELDS = {
    "fibre": lambda **more: LocalAmountField(masses, most=MOST, **more),
    "g": lambda **more: LocalAmountField(small_masses, most=MOST, **more),
    "mL": lambda **more: LocalAmountField(volumes, most=MOST, **more),
    "%": lambda **more: NumberField(unit="%", most=400, **more),
    "ratio": lambda **more: NumberField(unit="to 1", most=1000, **more),
    "per_litre": lambda **more: NumberField(unit="g/L", most=1000, **more),
    "minutes": lambda **more: NumberField(unit="minutes", most=100_000, **more),
    "money": lambda **more: MoneyField(**more),
    "count": lambda **more: WholeField(most=1000, **more),
    "step": lambda **more: NumberField(unit="g or mL", most=1000, **more),
    "parts": lambda **more: PartsField(**more),
}


class SumForm(StudioForm):
    """The boxes of one sum, with its example in them until somebody writes something else."""

    def __init__(self, data=None, *, of):
        super().__init__(data, auto_id=f"{of.key}-%s", initial={box.name: _first(box) for box in of.boxes})
        self.of = of
        for box in of.boxes:
            self.fields[box.name] = FIELDS[box.kind](label=box.label, help_text=box.hint)
            dress(self.fields[box.name], box.label)

    def clean(self):
        said = super().clean()
        if not self.errors:
            try:
                self.found = self.of.reckon(**{box.name: _plain(said[box.name], box.kind) for box in self.of.boxes})
            except ValueError as problem:
                raise ValidationError(str(problem)) from None
        return said


def _first(box):
    """What a box begins with."""
    if box.kind in ("fibre", "g"):
        return units.Amount(box.value, "g")
    if box.kind == "mL":
        return units.Amount(box.value, "mL")
    if box.kind == "money":
        digits = money.minor_units(writing.current().currency)
        return money.to_minor(money.rounded(box.value, digits), writing.current().currency)
    return int(box.value) if box.kind == "count" else box.value


def _plain(said, kind):
    """What was read, as the number that a sum reckons with."""
    if kind == "money":
        return money.from_minor(said, writing.current().currency)
    return units.normalise(said).number if isinstance(said, units.Amount) else said
