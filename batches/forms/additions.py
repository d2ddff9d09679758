"""Something went in: from a bottle, as powder, an acid or another thing, water."""

from decimal import Decimal

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import F, Max
from django.utils.html import format_html

from batches.last_used import measure_last_used
from batches.wording import capital
from recipes.models import How, Method
from studio import units
from studio.fillings import WEIGHED_ENOUGH
from studio.forms.fields import NumberField, WholeField, WordsField
from studio.forms.widgets import Choices
from studio.models import Measure

from .entries import EntryForm
from .lots import LEAST, OWN_UNIT, GoneInField, LotField, assistants, bottles, jugs, powders, spoons, spoons_or_g

MOST_FILLINGS = 500
FILLINGS = [("", "None"), ("0.5", "½"), *((str(count), str(count)) for count in (1, 2, 3, 4, 5, 6))]


class PickField(forms.CharField):
    """A place of the list, as its words."""

    widget = Choices


class GoneInForm(EntryForm):
    """What every addition shares. `unit_of` says in which unit the chosen thing is kept."""

    unmeasured = forms.BooleanField(widget=forms.HiddenInput, required=False)
    quick = forms.CharField(widget=forms.HiddenInput, max_length=80, required=False)
    place = WordsField(label="Where on the yarn", max_length=120, required=False)
    place_pick = PickField(label="Where on the yarn", max_length=120, required=False)
    hows = ()
    usual_how = How.ADDED
    how_by_method = {}  # what the page begins with, where the way of dyeing says it
    padded = ("amount",)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        if "how" in self.fields:
            self.fields["how"].choices = [(how.value, capital(how.label)) for how in self.hows]
            self.initial.setdefault("how", self.usual_how)
        if "amount" in self.fields:
            self.fields["amount"].widget.template_name = "batches/_measure.html"

    def offer(self, *, first=(), everything=False, places=()):
        """Fill in what the page shows to choose from; not needed to read what was sent."""
        self.fields["place_pick"].widget.choices = [(place, capital(place)) for place in places]
        self.hidden_lots = self.fields["lot"].offer(first, everything) if "lot" in self.fields else 0

    def begin_with(self, lot=None, unit="", method=""):
        """Begin from what was used last, the jar or bottle and the unit it was measured in, and from what is usual."""
        if method in self.how_by_method:
            self.initial["how"] = self.how_by_method[method]
        if lot and "lot" in self.fields:
            self.initial.setdefault("lot", lot)
        if "amount" in self.fields:
            self.initial.setdefault("amount", ("", unit))

    def unit_of(self, cleaned):
        return cleaned["lot"].unit, lambda: str(cleaned["lot"].substance)

    def clean(self):
        cleaned = super().clean()
        cleaned["place"] = cleaned.get("place") or cleaned.get("place_pick") or ""
        amount = self._touched(cleaned) if cleaned.get("quick") else cleaned.get("amount")
        if amount is not None and cleaned.get("unmeasured"):
            self.add_error("amount", "An amount is written here: log it with the amount, or empty the box first.")
        elif amount is not None and "amount" not in self.errors:
            self._keep_amount(cleaned, amount)
        return cleaned

    def _touched(self, cleaned):
        """The amount of a button, such as "5|mL"."""
        if cleaned.get("amount") is not None or "amount" in self.errors:
            self.add_error(
                "amount", "One amount is written and another was touched: empty the box, or log what it says."
            )
            return None
        typed, _, unit = cleaned["quick"].partition("|")
        try:
            cleaned["amount"] = self.fields["amount"].clean((typed, unit))
        except ValidationError as problem:
            self.add_error("amount", problem)
        return cleaned.get("amount")

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
        quick = self.cleaned_data.get("quick", "").partition("|")[0]
        text = (quick or str(self["amount"].data[0] or "")).strip()[:60]
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
    how_by_method = {Method.PAINTED: How.PAINTED, Method.DIPPED: How.DIPPED}
    pots_words = ("{} only", "{}, this much in each")

    lot = LotField(bottles, label="Bottle")
    amount = GoneInField(spoons, label="Amount", required=False)
    how = forms.ChoiceField(label="How", widget=Choices, required=False)


class PowderForm(GoneInForm):
    """Dye as powder: dissolved first, or sprinkled dry."""

    hows = (How.DISSOLVED, How.SPRINKLED)
    usual_how = How.DISSOLVED
    how_by_method = {Method.JAR: How.SPRINKLED, Method.PAN: How.SPRINKLED, Method.PAINTED: How.SPRINKLED}
    pots_words = BottleForm.pots_words

    lot = LotField(powders, label="Jar")
    amount = GoneInField(("g", "mg", "oz"), label="Amount", required=False)
    how = forms.ChoiceField(label="How", widget=Choices, required=False)
    measure = forms.ModelChoiceField(
        label="Measure",
        queryset=Measure.objects.all(),
        widget=Choices,
        required=False,
        empty_label="No measure",
    )
    offered_measure = forms.CharField(widget=forms.HiddenInput, max_length=20, required=False)
    fillings_pick = forms.ChoiceField(label="Fillings", choices=FILLINGS, widget=Choices, required=False)
    fillings = NumberField(
        label="Or another number of fillings",
        help_text="Whole and half ones, such as 8 or 1 1/2.",
        most=MOST_FILLINGS,
        required=False,
    )
    taps = WholeField(
        label="Taps or pinches",
        help_text="Counted, the weigh-in can share out what they weighed.",
        least=1,
        most=500,
        stepper=True,
        required=False,
    )

    def offer(self, **kwargs):
        super().offer(**kwargs)
        self.measures = measures_last_used_first()
        if self.measures and not self.is_bound:
            self._begin_with_measure()
        choices = [("", "No measure"), *((measure.pk, measure_label(measure)) for measure in self.measures)]
        self.fields["measure"].widget.choices = choices

    def _begin_with_measure(self):
        """The measure that was filled last is chosen and stands first, so that only its fillings are to be counted."""
        chosen = str(self["lot"].value() or "")
        last = measure_last_used(self.person, int(chosen) if chosen.isdecimal() else None)
        self.initial |= {"measure": last, "offered_measure": last}
        self.measures.sort(key=lambda measure: measure.pk != last)

    def clean_fillings(self):
        fillings = self.cleaned_data["fillings"]
        if fillings is None:
            return None
        if fillings <= 0:
            raise ValidationError("No filling is nothing: count them, such as 2 or 1/2, or empty the box.")
        if fillings * 2 % 1:
            raise ValidationError("Count whole and half fillings, such as 2 or 2 1/2.")
        return fillings

    def clean(self):
        cleaned = super().clean()
        self._count_fillings(cleaned)
        if cleaned.get("fillings") and not cleaned.get("measure") and "measure" not in self.errors:
            cleaned["measure"] = the_only_measure()
        measure, fillings = cleaned.get("measure"), cleaned.get("fillings")
        if measure and not fillings and str(measure.pk) == cleaned.get("offered_measure"):
            measure = cleaned["measure"] = None  # the page had chosen it, and nobody counted fillings of it
        if {"measure", "fillings"} & self.errors.keys() or not (measure or fillings):
            return cleaned
        if fillings is None:
            self.add_error("fillings", "Count the fillings, such as 2 or 1/2, or choose “No measure”.")
        elif measure is None:
            self.add_error("measure", "Choose which measure was filled, or empty the box of fillings.")
        elif cleaned.get("amount") is not None:
            self.add_error("amount", "It was weighed or it came by measure: empty this box or that of the fillings.")
        elif cleaned.get("unmeasured"):
            self.add_error("fillings", "Fillings are counted here: log it with them, or empty the box first.")
        elif cleaned.get("lot") is not None:
            self.held = measure.holds_of(cleaned["lot"].dye_id)
        return cleaned

    def _count_fillings(self, cleaned):
        """The number that was touched, where none was written."""
        picked, written = cleaned.get("fillings_pick"), cleaned.get("fillings")
        if picked and written is not None and written != Decimal(picked):
            self.add_error("fillings", "One number is touched and another is written: touch “None”, or empty this box.")
        elif picked and "fillings" not in self.errors:
            cleaned["fillings"] = Decimal(picked)

    held = None  # what one filling of the chosen measure holds of this dye, where that is known

    def also_said(self):
        """What to say after it is logged, if anything."""
        said = self.cleaned_data
        if not said.get("measure") or self.held is not None:
            return ""
        return (
            f"{said['measure']} was never weighed with {said['lot'].substance}, so the amount is not known. "
            f"Weigh {WEIGHED_ENOUGH} fillings of it, and it counts from then on."
        )

    def facts(self):
        said = self.cleaned_data
        facts = super().facts() | {"taps": said.get("taps")}
        if said.get("measure"):
            facts |= {"measure": said["measure"], "fillings": said["fillings"]}
            if self.held is not None:
                grams, u = self.held.of(said["fillings"])
                facts |= {"amount": max(round(grams, 3), LEAST), "spread_g": u and round(u, 6)}
        return facts


def the_only_measure():
    """The measure that fillings are of where the studio has but one; None where it has to be said."""
    found = list(Measure.objects.filter(retired=False)[:2])
    return found[0] if len(found) == 1 else None


def measures_last_used_first():
    """The measures in use, each with its `held`, the one that went into a pot last at the top. Three queries."""
    last = Max("additions__entry__at")
    in_use = Measure.objects.filter(retired=False).annotate(last=last)
    return in_use.order_by(F("last").desc(nulls_last=True), "name").with_what_they_hold()


def measure_label(measure):
    """A measure to touch: its name, and what it holds of which dye."""
    held = ", ".join(f"{held.dye} {units.write_g(round(held.filling.grams, 3))}" for held in measure.held)
    return format_html('<span>{} <span class="sub">{}</span></span>', measure, held or "not weighed with any dye yet")


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
