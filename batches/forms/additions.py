"""Something went in: from a bottle, as powder, an acid or another thing, water."""

from django import forms
from django.core.exceptions import ValidationError

from batches.telling import capital
from recipes.models import How
from studio import units
from studio.forms.fields import WholeField, WordsField
from studio.forms.widgets import Choices

from .entries import EntryForm
from .lots import OWN_UNIT, GoneInField, LotField, assistants, bottles, jugs, powders, spoons, spoons_or_g

PLACES = ("all of it", "first third", "second third", "last third")


class PickField(forms.CharField):
    """A place of the list, as its words."""

    widget = Choices


class GoneInForm(EntryForm):
    """What every addition shares. `unit_of` says in which unit the chosen thing is kept."""

    unmeasured = forms.BooleanField(widget=forms.HiddenInput, required=False)
    place = WordsField(label="Where on the yarn", max_length=120, required=False)
    place_pick = PickField(label="Where on the yarn", max_length=120, required=False)
    hows = ()
    usual_how = How.ADDED

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        if "how" in self.fields:
            self.fields["how"].choices = [(how.value, capital(how.label)) for how in self.hows]
            self.initial.setdefault("how", self.usual_how)

    def offer(self, *, first=(), everything=False, places=()):
        """Fill in what the page shows to choose from; not needed to read what was sent."""
        picks = list(dict.fromkeys([*PLACES, *places]))
        self.fields["place_pick"].widget.choices = [(place, capital(place)) for place in picks]
        self.hidden_lots = self.fields["lot"].offer(first, everything) if "lot" in self.fields else 0

    def unit_of(self, cleaned):
        return cleaned["lot"].unit, lambda: str(cleaned["lot"].substance)

    def clean(self):
        cleaned = super().clean()
        cleaned["place"] = cleaned.get("place") or cleaned.get("place_pick") or ""
        amount = cleaned.get("amount")
        if amount is not None and cleaned.get("unmeasured"):
            self.add_error("amount", "An amount is written here: log it with the amount, or empty the box first.")
        elif amount is not None and "amount" not in self.errors:
            self._keep_amount(cleaned, amount)
        return cleaned

    def _keep_amount(self, cleaned, amount):
        unit, name = self.unit_of(cleaned) if self.substance_known(cleaned) else (None, "")
        if unit is None:
            return
        try:
            cleaned["kept"] = self.fields["amount"].kept_in(amount, unit, name)
        except ValidationError as problem:
            self.add_error("amount", problem)

    def substance_known(self, cleaned):
        return cleaned.get("lot") is not None

    def typed(self):
        """The amount as it was typed: ("1 1/2", "metric_tbsp")."""
        amount = self.cleaned_data.get("amount")
        if amount is None:
            return {"typed": "", "typed_unit": ""}
        text = str(self["amount"].data[0] or "").strip()[:60]
        unit = amount.unit if amount.unit != OWN_UNIT else self.unit_of(self.cleaned_data)[0]
        return {"typed": text, "typed_unit": unit}

    def facts(self):
        """What `Addition.log` takes, but for the pot."""
        said = self.cleaned_data
        return {
            "lot": said.get("lot"),
            "amount": said.get("kept"),
            "how": said.get("how") or self.usual_how,
            "place": said["place"],
            **self.typed(),
        }


class BottleForm(GoneInForm):
    """Dye from a bottle."""

    hows = (How.BOTTLE, How.PAINTED, How.DIPPED)
    usual_how = How.BOTTLE
    pots_words = ("{} only", "All {} pots, this much in each")

    lot = LotField(bottles, label="Bottle")
    amount = GoneInField(spoons, label="Amount", required=False)
    how = forms.ChoiceField(label="How", widget=Choices, required=False)


class PowderForm(GoneInForm):
    """Dye as powder: dissolved first, or sprinkled dry."""

    hows = (How.DISSOLVED, How.SPRINKLED)
    usual_how = How.DISSOLVED
    pots_words = BottleForm.pots_words

    lot = LotField(powders, label="Jar")
    amount = GoneInField(("g", "mg", "oz"), label="Amount", required=False)
    how = forms.ChoiceField(label="How", widget=Choices, required=False)
    taps = WholeField(
        label="Taps or pinches",
        help_text="Counted, the weigh-in can share out what they weighed.",
        least=1,
        most=500,
        stepper=True,
        required=False,
    )

    def facts(self):
        return super().facts() | {"taps": self.cleaned_data.get("taps")}


class OtherForm(GoneInForm):
    """Acid, salt, wetting agent; or something that is not on the shelf, in words."""

    pots_words = BottleForm.pots_words

    lot = LotField(assistants, label="What", required=False)
    what = WordsField(label="Something that is not listed", max_length=120, required=False)
    amount = GoneInField(spoons_or_g, own=True, label="Amount", required=False)

    def substance_known(self, cleaned):
        return cleaned.get("lot") is not None or bool(cleaned.get("what"))

    def unit_of(self, cleaned):
        if cleaned.get("lot") is not None:
            return super().unit_of(cleaned)
        amount = cleaned["amount"]
        if amount.unit == OWN_UNIT:
            self.add_error(
                "amount", "Choose mL or g beside the number: this is not on the list, so it has no unit of its own."
            )
            return None, ""
        return ("g" if units.UNITS[amount.unit].dimension == "mass" else "mL"), cleaned["what"]

    def clean(self):
        cleaned = super().clean()
        lot, what = cleaned.get("lot"), cleaned.get("what")
        if lot and what:
            self.add_error("what", "Choose one from the list, or write what it was: not both.")
        elif not lot and not what and not {"lot", "what"} & self.errors.keys():
            self.add_error("lot", "Choose what went in, or write it under “Something that is not listed”.")
        return cleaned

    def facts(self):
        said = super().facts()
        if said["lot"] is None:
            amount = self.cleaned_data.get("amount")
            unit = self.unit_of(self.cleaned_data)[0] if amount else ""
            said |= {"other": "words", "what": self.cleaned_data["what"], "unit": unit}
        return said


class WaterForm(GoneInForm):
    pots_words = BottleForm.pots_words

    amount = GoneInField(jugs, label="Amount", required=False)

    def substance_known(self, cleaned):
        return True

    def unit_of(self, cleaned):
        return "mL", "Water"

    def facts(self):
        return super().facts() | {"lot": None, "other": "water", "unit": "mL"}
