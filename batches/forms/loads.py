"""The loads of a run: by the capacity of the pots, or as somebody says them."""

from dataclasses import dataclass

from django import forms
from django.core.exceptions import ValidationError

from batches.loading import MOST_DAYS, Spare, Vessels
from studio.forms.base import QuietBoundField, StudioForm
from studio.forms.fields import TypedField, WholeField
from studio.forms.rows import RowsFormSet, rows_of
from studio.units import read_number

MOST_IN_ONE = 500  # skeins in one load
MOST_ALIKE = 60
MOST_LOADS = 240  # of all days
MOST_SPARE = 500


class SpareField(TypedField):
    """Spare skeins as a `Spare`: "2", or "3 %" of those that are wanted."""

    widget = forms.TextInput

    def prepare_value(self, value):
        return value

    def read(self, text):
        percent = text.endswith("%")
        try:
            number = read_number(text.removesuffix("%").rstrip())
        except ValueError:
            raise ValidationError("Write the spare skeins as a number such as 2, or as 5 %.") from None
        if not percent and number != number.to_integral_value():
            raise ValidationError("Spare skeins are whole ones: write a number such as 2, or a percentage such as 5 %.")
        if number > (100 if percent else MOST_SPARE):
            raise ValidationError(f"{text} is more than can be right: write a number such as 2, or as 5 %.")
        return Spare(pct=number) if percent else Spare(int(number))


class VesselField(forms.TypedChoiceField):
    """One of the vessels that are offered, as {key as text: Vessel}: asked of the shelf once for all rows."""

    def __init__(self, empty_label, **kwargs):
        self.empty_label = empty_label
        super().__init__(required=False, empty_value=None, **kwargs)

    def offer(self, vessels):
        self.choices = [("", self.empty_label), *((key, str(vessel)) for key, vessel in vessels.items())]
        self.coerce = vessels.get

    def has_changed(self, initial, data):
        """Also where what was sent is no vessel: compared as vessels, it would be as good as nothing."""
        return str(data or "") != str(initial or "")


class CapacityRow(StudioForm):
    """Vessels alike that the loads may go into."""

    bound_field_class = QuietBoundField

    vessel = VesselField("Choose a pot or jar", label="Pots")
    many = WholeField(label="How many", least=1, most=MOST_ALIKE, required=False, help_text="Empty: all.")
    takes = WholeField(label="Skeins in one", least=1, most=MOST_IN_ONE, required=False, help_text="Empty: as usual.")
    loads = WholeField(label="Times a day", least=1, most=12, required=False, help_text="Empty: once.")

    def __init__(self, *args, vessels, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["vessel"].offer(vessels)

    def clean(self):
        cleaned = super().clean()
        if self.has_changed() and not cleaned.get("vessel") and "vessel" not in self.errors:
            self.add_error("vessel", "Choose which pots these are.")
        return cleaned

    def vessels(self, usual):
        """The `Vessels` of a filled row. `usual`: skeins that its vessel takes, or None where that is not known."""
        said, vessel = self.cleaned_data, self.cleaned_data["vessel"]
        return Vessels(vessel.pk, said["many"] or vessel.how_many, said["takes"] or usual, said["loads"] or 1)


CapacityRows = rows_of(CapacityRow, extra=1, most=8, more="Add other pots")


class LoadRow(StudioForm):
    """Alike loads of one day."""

    bound_field_class = QuietBoundField

    day = WholeField(label="Day", least=1, most=MOST_DAYS, initial=1)
    vessel = VesselField("No vessel of the shelf", label="In")
    pots = WholeField(label="Pots", least=0, most=MOST_LOADS, required=False)
    skeins = WholeField(label="Skeins in each", least=1, most=MOST_IN_ONE, required=False)

    def __init__(self, *args, vessels, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["vessel"].offer(vessels)

    def clean(self):
        cleaned = super().clean()
        if cleaned.get("pots") and not cleaned.get("skeins") and "skeins" not in self.errors:
            self.add_error("skeins", "Say how many skeins go into each of these, or leave the pots out.")
        return cleaned


@dataclass(frozen=True)
class OneLoad:
    """One pot as the page has it: on the how manieth day, in which Vessel or None, and how many skeins go in."""

    day: int
    vessel: object
    skeins: int


class LoadRowsSet(RowsFormSet):
    def loads(self):
        """[OneLoad], day by day. Call after is_valid()."""
        rows = [row for row in self.filled() if row.get("pots") and row.get("skeins")]
        return [
            OneLoad(row["day"], row["vessel"], row["skeins"])
            for row in sorted(rows, key=lambda row: row["day"])
            for _ in range(row["pots"])
        ]

    def clean(self):
        super().clean()
        if sum(form.cleaned_data.get("pots") or 0 for form in self.forms if form.is_valid()) > MOST_LOADS:
            raise ValidationError(f"These are more than {MOST_LOADS} pots: plan some of the yarn later.")


LoadRows = rows_of(LoadRow, extra=0, most=MOST_LOADS, more="Add other pots", base=LoadRowsSet)


def as_rows(loads, prefix="load"):
    """The posted fields of the `LoadRows` that say these `Loads`."""
    fields = {f"{prefix}-TOTAL_FORMS": str(len(loads)), f"{prefix}-INITIAL_FORMS": "0"}
    for place, one in enumerate(loads):
        for name, value in (("day", one.day), ("vessel", one.key), ("pots", one.pots), ("skeins", one.skeins)):
            fields[f"{prefix}-{place}-{name}"] = str(value)
    return fields
