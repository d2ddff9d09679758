"""What is read or judged at a pot: temperature, pH, how clear the bath is; a check of what came out."""

from decimal import Decimal

from django import forms
from django.utils.text import capfirst

from batches.models import Check, Entry, Reading
from studio import units
from studio.forms.fields import NumberField, WholeField, WordsField
from studio.forms.supplies import LocalAmountField, temperatures
from studio.forms.widgets import Choices

from .entries import EntryForm

HALVES = [
    (f"{half / 2:g}", f"{half / 2:g}" if half % 2 == 0 else f"{half // 2}-{half // 2 + 1}") for half in range(2, 11)
]


def celsius(amount):
    return None if amount is None else units.to_c(*amount)


class ReadingForm(EntryForm):
    padded = ("temperature", "ph")

    temperature = LocalAmountField(temperatures, label="Temperature", least=-20, most=200, required=False)
    ph = NumberField(label="pH", help_text="Of a spoonful that has cooled.", least=0, most=14, required=False)
    clear = forms.ChoiceField(
        label="Is the bath clear?",
        choices=[(value, capfirst(label)) for value, label in Reading.Clear.choices if value],
        widget=Choices,
        required=False,
    )

    def clean(self):
        cleaned = super().clean()
        if not self.errors and not (
            cleaned.get("temperature") or cleaned.get("ph") is not None or cleaned.get("clear")
        ):
            if self.data.get("page") == "clear":
                self.add_error("clear", "Say how clear the bath is: press one of the three.")
            else:
                self.add_error("temperature", "Write a temperature or a pH, or say how clear the bath is.")
        return cleaned

    def facts(self):
        said = self.cleaned_data
        return {
            "temperature_c": celsius(said.get("temperature")),
            "ph": said.get("ph"),
            "clear": said.get("clear") or "",
        }


class CheckForm(EntryForm):
    """Does it bleed, does it rub off; grades only from real cards or a laboratory."""

    what = forms.ChoiceField(label="Which check", choices=Check.What.choices, widget=Choices)
    result = forms.ChoiceField(
        label="What came off",
        choices=[(value, capfirst(label)) for value, label in Check.Result.choices if value],
        widget=Choices,
        required=False,
    )
    rinses = WholeField(label="Ran clear at rinse", least=1, most=50, stepper=True, required=False)
    water = LocalAmountField(temperatures, label="Water", least=0, most=100, required=False)
    change_grade = forms.ChoiceField(
        label="Change of colour",
        help_text="By the grey scale, 5 is none; leave it without one.",
        choices=[("", "Not judged"), *HALVES],
        required=False,
    )
    stain_grade = forms.ChoiceField(
        label="Staining",
        help_text="By the grey scale, 5 is none; leave it without one.",
        choices=[("", "Not judged"), *HALVES],
        required=False,
    )
    standard = WordsField(
        label="Which method", help_text="Such as a standard wash at 40.", max_length=80, required=False
    )
    because = forms.ModelChoiceField(queryset=Entry.objects.none(), widget=forms.HiddenInput, required=False)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["because"].queryset = Entry.objects.filter(batch__run_id=self.batch.run_id)

    def clean(self):
        cleaned = super().clean()
        what, graded = cleaned.get("what"), bool(cleaned.get("change_grade") or cleaned.get("stain_grade"))
        if (
            what in ("cloth", "rub_dry", "rub_wet", "wash")
            and not cleaned.get("result")
            and "result" not in self.errors
        ):
            self.add_error("result", "Say what came off: nothing, a trace, some, a lot, or still running.")
        if (
            what == "rinse"
            and not cleaned.get("rinses")
            and not cleaned.get("result")
            and not {"rinses", "result"} & self.errors.keys()
        ):
            self.add_error("rinses", "Say at which rinse the water ran clear, or what still came off.")
        if what in ("cards", "sent") and not graded:
            self.add_error("change_grade", "Choose a grade that the cards or the report gave.")
        if what in ("cards", "sent") and not cleaned.get("standard") and "standard" not in self.errors:
            self.add_error("standard", "Name the method the grade is by, such as the number of a standard.")
        if what and what not in ("cards", "sent") and graded:
            self.add_error(
                "change_grade",
                "Grades are read from grey-scale cards or a report: choose one of those, or leave the grades out.",
            )
        if what == "remedy" and not cleaned.get("note") and "note" not in self.errors:
            self.add_error("note", "Write what was done about it.")
        return cleaned

    def facts(self):
        said = self.cleaned_data
        return {
            "what": said["what"],
            "result": said.get("result") or "",
            "rinses": said.get("rinses"),
            "water_c": celsius(said.get("water")),
            "change_grade": Decimal(said["change_grade"]) if said.get("change_grade") else None,
            "stain_grade": Decimal(said["stain_grade"]) if said.get("stain_grade") else None,
            "standard": said.get("standard", ""),
            "because": said.get("because"),
        }
