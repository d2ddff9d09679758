"""Forms of what a studio always does and says: its steps "as usual", its names for places on the yarn."""

from decimal import Decimal

from django import forms

from studio import units
from studio.forms.fields import NumberField, WordsField
from studio.forms.named import NamedForm
from studio.forms.supplies import LocalAmountField, temperatures

from . import house
from .models import HouseStep, Method, Place, RecipeStep

METHODS = [("", "Any way of dyeing"), *Method.choices]
KINDS = [(kind, word) for kind, word in RecipeStep.Kind.choices if kind != RecipeStep.Kind.ADD]


class HouseForm(NamedForm):
    """What both have in common: a name that is there once, and for which way of dyeing."""

    def clean_name(self):
        return " ".join(self.cleaned_data["name"].split())

    def clean(self):
        said = super().clean()
        if said.get("name") and "method" in said:
            taken = house.taken_by(self.model, said["name"], said["method"], but=self.row)
            if taken is not None:
                self.add_error("name", self.taken_words(taken))
        return said

    @staticmethod
    def taken_words(row):
        if row.retired:
            return f"“{row}” is there already, but no longer used: open it, and take that tick away."
        return f"“{row}” is there already: write another name, or open that one."

    def keep(self):
        if self.row is None:
            self.row = self.model(position=house.at_the_end(self.model))
        return super().keep()


class PlaceForm(HouseForm):
    """A place on the yarn or in the vessel."""

    model = Place

    name = WordsField(label="What you call it", max_length=120, help_text="Such as bottom layer, or the gaps.")
    method = forms.ChoiceField(label="When you dye", choices=METHODS, required=False)
    retired = forms.BooleanField(label="No longer used", required=False)

    @staticmethod
    def initial_of(place):
        return {"name": place.words, "method": place.method, "retired": place.retired}

    def facts(self):
        said = self.cleaned_data
        return {"words": said["name"], "method": said["method"], "retired": said.get("retired", False)}


class HouseStepForm(HouseForm):
    """A step as this studio always does it."""

    model = HouseStep

    name = WordsField(label="What the button says", max_length=60, help_text="Such as Presoak, or Overnight cool.")
    kind = forms.ChoiceField(label="What it is", choices=KINDS)
    method = forms.ChoiceField(label="When you dye", choices=METHODS, required=False)
    temperature = LocalAmountField(temperatures, label="Temperature", least=-20, most=200, required=False)
    minutes = NumberField(label="How long", unit="min", least=Decimal("0.1"), most=20160, required=False)
    words = WordsField(label="How it is done here", max_length=200, required=False)
    retired = forms.BooleanField(label="No longer used", required=False)

    @staticmethod
    def initial_of(step):
        columns = ("name", "kind", "method", "minutes", "words", "retired")
        return {column: getattr(step, column) for column in columns} | {"temperature": in_local(step.temperature_c)}

    def facts(self):
        said = self.cleaned_data
        warm = said.get("temperature")
        columns = ("name", "kind", "method", "minutes", "words")
        return {column: said[column] for column in columns} | {
            "temperature_c": None if warm is None else units.to_c(*warm),
            "retired": said.get("retired", False),
        }


def in_local(celsius):
    """A kept temperature as it is put into the box."""
    if celsius is None:
        return None
    if temperatures()[0] == "degF":
        return units.Amount(round(celsius * 9 / 5 + 32, 1), "degF")
    return units.Amount(celsius, "degC")
