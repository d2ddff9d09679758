"""Pots, scales and spoons."""

from decimal import Decimal

from django import forms
from django.core.exceptions import ValidationError

from studio import units
from studio.forms.fields import AmountField, NumberField, WholeField, WordsField
from studio.forms.named import NamedForm
from studio.forms.once import OnceForm
from studio.forms.supplies import LocalAmountField, shown, small_masses, volumes
from studio.models import Dye, Measure, Tool, Vessel

MOST_POT_ML = 1_000_000
LEAST_STEP = Decimal("0.001")


def kept(amount):
    """A typed amount in g or mL, or None."""
    return None if amount is None else units.normalise(amount).number


class VesselForm(NamedForm):
    """A pot, jar, pan or painting table."""

    model = Vessel
    of_bench = True
    parts = (
        ("The pot", "", ("name", "kind", "heater", "how_many")),
        ("What it takes", "Plans share the yarn over the pots by this.", ("volume", "fill", "skeins")),
        ("More", "", ("note", "retired")),
    )

    name = WordsField(label="Name", max_length=60, help_text="As you call it, such as Pot 1 or the tall pot.")
    kind = forms.ChoiceField(label="What it is", choices=Vessel.Kind.choices)
    volume = LocalAmountField(
        volumes,
        label="Holds to the brim",
        help_text="Fill it once with a jug, or read it off the bottom.",
        required=False,
        above_zero=True,
        most=MOST_POT_ML,
    )
    fill = LocalAmountField(
        volumes,
        label="Usual fill when dyeing",
        help_text="Plans pour no more bath than this.",
        required=False,
        above_zero=True,
        most=MOST_POT_ML,
    )
    skeins = WholeField(
        label="Skeins it usually takes",
        help_text="So many that they still move freely.",
        required=False,
        least=1,
        most=1000,
    )
    heater = forms.ChoiceField(label="Heated by", choices=Vessel.Heater.choices, required=False)
    how_many = WholeField(
        label="How many alike", least=1, most=500, initial=1, stepper=True, help_text="Such as eight jars."
    )
    note = WordsField(label="Note", required=False, rows=2)
    retired = forms.BooleanField(label="No longer used", required=False)

    @staticmethod
    def initial_of(vessel):
        columns = ("name", "kind", "skeins", "heater", "how_many", "note", "retired")
        return {column: getattr(vessel, column) for column in columns} | {
            "volume": shown(vessel.volume_ml, volumes()),
            "fill": shown(vessel.fill_ml, volumes()),
        }

    def clean(self):
        said = super().clean()
        volume, fill = kept(said.get("volume")), kept(said.get("fill"))
        if volume is not None and fill is not None and fill > volume:
            self.add_error("fill", "It can't be filled with more than it holds: check the two volumes.")
        return said

    def facts(self):
        said = self.cleaned_data
        columns = ("name", "kind", "skeins", "heater", "how_many", "note")
        return {column: said[column] for column in columns} | {
            "volume_ml": kept(said["volume"]),
            "fill_ml": kept(said["fill"]),
            "retired": said.get("retired", False),
        }


class ToolForm(NamedForm):
    """A scale, syringe or cylinder."""

    model = Tool
    of_bench = True
    parts = (
        ("The tool", "", ("name", "kind")),
        ("What it measures", "In g for a scale, in mL for a syringe or cylinder.", ("step", "largest")),
        ("More", "", ("note", "retired")),
    )

    name = WordsField(label="Name", max_length=60, help_text="Such as the small scale, or 10 mL syringe.")
    kind = forms.ChoiceField(label="What it is", choices=Tool.Kind.choices)
    step = NumberField(
        label="Smallest step",
        most=10_000,
        help_text="The last figure a scale shows; otherwise the smallest mark.",
    )
    largest = NumberField(
        label="Takes at most", required=False, most=1_000_000, help_text="The largest amount, at once."
    )
    note = WordsField(label="Note", required=False, rows=2)
    retired = forms.BooleanField(label="No longer used", required=False)

    @staticmethod
    def initial_of(tool):
        columns = ("name", "kind", "step", "largest", "note", "retired")
        return {column: getattr(tool, column) for column in columns}

    def clean_step(self):
        step = self.cleaned_data["step"]
        if step < LEAST_STEP:
            raise ValidationError("A step is above zero: write the smallest one, such as 0.01 or 0.5.")
        return step

    def clean(self):
        said = super().clean()
        step, largest = said.get("step"), said.get("largest")
        if step is not None and largest is not None and largest < step:
            self.add_error("largest", "It can't take less than its smallest step: check the two numbers.")
        return said

    def facts(self):
        said = self.cleaned_data
        columns = ("name", "kind", "step", "largest", "note")
        return {column: said[column] for column in columns} | {"retired": said.get("retired", False)}


class MeasureForm(NamedForm):
    """A spoon, dropper or pinch of the studio's own."""

    model = Measure
    of_bench = True

    name = WordsField(label="Name", max_length=60, help_text="Such as Oda's pinch, or the small spoon.")
    note = WordsField(label="Note", required=False, rows=2)
    retired = forms.BooleanField(label="No longer used", required=False)

    @staticmethod
    def initial_of(measure):
        return {column: getattr(measure, column) for column in ("name", "note", "retired")}

    def facts(self):
        said = self.cleaned_data
        return {"name": said["name"], "note": said["note"], "retired": said.get("retired", False)}


class WeighingForm(OnceForm):
    """Some fillings of a measure with one dye, weighed together."""

    dye = forms.ModelChoiceField(label="Dye", queryset=Dye.objects.none(), empty_label="Choose")
    fillings = WholeField(
        label="Fillings", least=1, most=1000, initial=10, help_text="Ten together tell more than one."
    )
    grams = AmountField(
        small_masses(),
        label="Weigh together",
        help_text="All the fillings on the scale, without the dish.",
        above_zero=True,
        most=10_000,
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["dye"].queryset = Dye.objects.filter(retired=False)
