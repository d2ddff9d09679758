"""Rows copied from a page of notes: each one becomes what the sink's own forms take."""

import re

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict

from batches.models import Reading
from batches.under_way import kind_of
from batches.wording import all_words, capital
from studio.forms.base import StudioForm
from studio.forms.fields import DayField, WordsField
from studio.forms.rows import rows_of
from studio.forms.text import tidy
from studio.models import Lot, Person
from studio.naming import lot_name, lot_number

from .entries import ALL, THIS
from .lots import OWN_UNIT
from .steps import steps

CLOCK = re.compile(r"([01]?[0-9]|2[0-3])[:.h ]?([0-5][0-9])")
MINUTES = re.compile(r"(.*?)\s*([0-9][0-9.,/ ½¼¾]*)\s*min\b\.?\s*", re.IGNORECASE)
EVERY_POT = "all"
ROWS_AT_FIRST = 6
MOST_LOTS = 300
LOST = "Choose again what went in: it is no longer on the list."

# Where the sink's form finds fault, and which box of the row that is.
BOX_OF = {"temperature": "amount", "minutes": "amount", "ph": "amount", "clear": "what", "lot": "what", "step": "what"}
BOX_OF |= {"when": "at", "place": "place", "note": "note", "amount": "amount", "what": "note", "pots": "pot"}


class ClockField(WordsField):
    """A time of day as it is written on paper, as "14:31"; "" where none is."""

    def __init__(self, **kwargs):
        super().__init__(max_length=20, **kwargs)

    def widget_attrs(self, widget):
        return {"inputmode": "text", "autocomplete": "off"}

    def to_python(self, value):
        text = super().to_python(value).strip()
        clock = CLOCK.fullmatch(text)
        if text and clock is None:
            raise ValidationError("Write the time as 14:31, or leave it empty: then it is that of the row above.")
        return f"{int(clock[1]):02}:{clock[2]}" if clock else ""


class PageForm(StudioForm):
    """What holds for all rows: the day that they are of, and who did it."""

    day = DayField(label="The day of these notes")
    by = forms.ModelChoiceField(queryset=Person.objects.none(), label="Who did it", empty_label=None)

    def __init__(self, *args, people, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["by"].queryset = people


class PaperRow(StudioForm):
    """One line of the notes. `what` is "water", "note", "other", or a lot, a step or a reading by its key."""

    use_required_attribute = False

    at = ClockField(label="Time", required=False)
    pot = forms.ChoiceField(label="Pot", required=False)
    what = forms.ChoiceField(label="What", required=False)
    amount = WordsField(label="How much", max_length=60, required=False)
    place = WordsField(label="Where on the yarn", max_length=120, required=False)
    note = WordsField(label="Words", max_length=2000, required=False)

    def __init__(self, *args, pots, things, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["pot"].choices, self.fields["what"].choices = pots, things
        if len(pots) == 1:
            self.fields["pot"].widget = forms.HiddenInput()
        self.fields["pot"].initial = pots[0][0]

    def clean(self):
        cleaned = super().clean()
        if self.has_changed() and not cleaned.get("what") and "what" not in self.errors:
            if cleaned.get("note") and not cleaned.get("amount"):
                cleaned["what"] = "note"
            else:
                self.add_error("what", "Choose what this row is of.")
        return cleaned

    @property
    def lot_key(self):
        """The key of the lot that was chosen; None where it is something else."""
        which, _, key = self.cleaned_data.get("what", "").partition("-")
        return int(key) if which == "lot" else None


def pots_to_choose(batches):
    pots = [(str(batch.pk), batch.pot_name) for batch in batches]
    if len(pots) == 1:
        return pots
    return [(EVERY_POT, capital(all_words(len(pots), kind_of(batches)))), *pots]


def called(lot):
    """What it is and which one, as there may be several jars of one powder."""
    return f"{lot_name(lot)} {lot_number(lot)}".strip() if lot.dye_id or lot.solution_id else lot_name(lot)


def things_to_choose(planned=()):
    """The list of what a row can be of, what the run's plan names first. A fixed number of queries."""
    lots = Lot.objects.filter(base__isnull=True).named().with_on_hand().with_unweighed()
    groups = {"Planned here": [], "Bottles": [], "Powders": [], "Acid and others": []}
    for lot in lots.order_by("solution__name", "dye__name", "assistant__name", "-came_at")[:MOST_LOTS]:
        if lot.pk not in planned and lot.on_hand <= 0 and not lot.has_unweighed:
            continue
        group = "Bottles" if lot.solution_id else "Powders" if lot.dye_id else "Acid and others"
        groups["Planned here" if lot.pk in planned else group].append((f"lot-{lot.pk}", called(lot)))
    done = [(f"step-{kind}", word) for kind, word in steps()]
    read = [("temperature", "Temperature"), ("ph", "pH")]
    read += [(f"clear-{value}", f"The bath is {label}") for value, label in Reading.Clear.choices if value]
    more = [("water", "Water"), ("other", "Something that is not listed"), ("note", "Only words")]
    return [
        ("", "-"),
        *((name, found) for name, found in groups.items() if found),
        ("Else", more),
        ("Done", done),
        ("Read", read),
    ]


PaperRows = rows_of(PaperRow, extra=ROWS_AT_FIRST, more="More rows")


def as_sent(row, *, sent, day, clock, by, page_photo, lots):
    """A valid row as the sink's form of its kind would have sent it. Raises ValidationError where its lot is gone."""
    data = QueryDict(mutable=True)
    data["id"], data["when"], data["paper"] = str(sent), f"{day:%Y-%m-%d} {clock}", "on"
    data["by"], data["note"] = str(by.pk), row["note"]
    if page_photo is not None:
        data["on_page"] = str(page_photo)
    data["pots"] = ALL if row["pot"] == EVERY_POT else THIS
    for name, value in _of_what(row, lots).items():
        data[name] = value
    return data


def _of_what(row, lots):
    what, amount = row["what"], tidy(row["amount"])
    which, _, key = what.partition("-")
    if which == "lot":
        lot = lots.get(int(key))
        if lot is None:
            raise ValidationError({"what": LOST})
        return {"lot": key, "place": row["place"], "amount": amount, **_kind_of(lot)}
    if which == "step":
        degrees, minutes = degrees_and_minutes(amount)
        return {"kind": "step", "step": key, "temperature": degrees, "minutes": minutes}
    if which == "clear":
        return {"kind": "reading", "clear": key}
    return {
        "water": {"kind": "water", "amount": amount, "amount_unit": "mL", "place": row["place"]},
        "other": {"kind": "other", "what": row["note"], "note": "", "amount": amount, "amount_unit": OWN_UNIT},
        "note": {"kind": "words"},
        "temperature": {"kind": "reading", "temperature": amount},
        "ph": {"kind": "reading", "ph": amount.lower().removeprefix("ph").strip()},
    }[what]


def _kind_of(lot):
    if lot.solution_id and lot.unit == Lot.Unit.ML:
        return {"kind": "bottle", "amount_unit": "mL"}
    if lot.dye_id or lot.solution_id:
        return {"kind": "powder", "amount_unit": "g"}
    return {"kind": "other", "amount_unit": OWN_UNIT}


def degrees_and_minutes(text):
    """("85 °C", "45") of "85 °C, 45 min": what stands before "min" is minutes, the rest a temperature."""
    found = MINUTES.fullmatch(text)
    return (found[1].strip(" ,;"), found[2].strip()) if found else (text, "")


def with_faults(row, errors):
    """Say beside the row's own boxes what the sink's form found wrong."""
    for name, sentences in errors.items():
        for sentence in sentences:
            row.add_error(BOX_OF.get(name), sentence)
