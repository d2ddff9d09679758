"""What is done to a pot: a step, one of the studio's own as usual, the same again, a move."""

from datetime import timedelta
from decimal import Decimal
from uuid import UUID

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.utils import timezone

from batches import again
from batches.models import Batch, BatchYarn, Entry, Move, State, Whereabouts
from recipes.models import HouseStep, RecipeStep
from studio import units
from studio.forms.fields import AmountField, NumberField, WholeField, WordsField
from studio.forms.supplies import LocalAmountField, temperatures
from studio.forms.widgets import Choices

from .entries import ALL, EntryForm
from .readings import celsius

BATHS_STAND = timedelta(days=3)  # how long a finished pot's bath may still be used again
MOST_AGAIN = 20
NOT_FOUND_AGAIN = "What was to be done again can't be found: log it here as a line of its own."
FIRST_STEPS = ("heat", "hold", "cool")


def steps():
    """What is done to a pot, the usual first: [(kind, word)]."""
    words = dict(RecipeStep.Kind.choices) | {RecipeStep.Kind.OTHER.value: "Something else"}
    del words[RecipeStep.Kind.ADD]
    return [(kind, words.pop(kind)) for kind in FIRST_STEPS] + list(words.items())


class StepForm(EntryForm):
    padded = ("temperature", "minutes")

    step = forms.ChoiceField(
        label="What was done", choices=steps, widget=Choices, error_messages={"required": "Choose what was done."}
    )
    temperature = LocalAmountField(temperatures, label="Temperature", least=-20, most=200, required=False)
    minutes = NumberField(label="How long", unit="min", least=Decimal("0.1"), most=20160, required=False)

    def clean(self):
        cleaned = super().clean()
        if cleaned.get("step") == RecipeStep.Kind.OTHER and not cleaned.get("note") and "note" not in self.errors:
            self.add_error("note", "Write what was done.")
        return cleaned

    def facts(self):
        said = self.cleaned_data
        return {"kind": said["step"], "temperature_c": celsius(said.get("temperature")), "minutes": said.get("minutes")}


class UsualForm(EntryForm):
    """A step of the studio's own, done as usual."""

    pots_words = ("{} only", "{}")

    house_step = forms.ModelChoiceField(
        queryset=HouseStep.objects.all(), label="As usual", widget=Choices, empty_label=None
    )

    def facts(self):
        step = self.cleaned_data["house_step"]
        known = {"temperature_c": step.temperature_c, "minutes": step.minutes}
        return {"kind": step.kind, "house_step": step} | known


class SourcesField(forms.Field):
    """Ids of what is to be said again, or the numbers it was sent under, which is all that a phone without a network
    knows. As UUIDs.
    """

    widget = forms.MultipleHiddenInput

    def to_python(self, value):
        try:
            return [UUID(str(said)[:60]) for said in value or ()][:MOST_AGAIN]
        except ValueError:
            raise ValidationError(NOT_FOUND_AGAIN) from None


class AgainForm(EntryForm):
    """The same as another pot of this run has just had."""

    source = SourcesField()

    def clean_source(self):
        keys = self.cleaned_data["source"]
        named = Entry.objects.with_details().filter(Q(pk__in=keys) | Q(together__in=keys))
        found = list(named.filter(batch__run_id=self.batch.run_id).in_order())
        known = {entry.pk for entry in found} | {entry.together for entry in found}
        of_one_pot = len({entry.batch_id for entry in found}) == 1
        if not of_one_pot or not known >= set(keys) or not all(again.may_be_repeated(entry) for entry in found):
            raise ValidationError(NOT_FOUND_AGAIN)
        return found


class MoveForm(EntryForm):
    """The yarn is somewhere else now; or yarn or liquor went in or out."""

    what = forms.ChoiceField(label="What moved", choices=Move.What.choices, widget=Choices, required=False)
    where = forms.ChoiceField(
        label="Where the yarn is now",
        choices=[(value, label) for value, label in Whereabouts.choices if value != Whereabouts.SHELF],
        widget=Choices,
        required=False,
    )
    skeins = WholeField(label="Skeins", least=0, most=2000, stepper=True, required=False)
    weight = AmountField(
        ("g", "oz"), label="Weight of the yarn", above_zero=True, least=Decimal("0.001"), most=500_000, required=False
    )
    volume = AmountField(
        ("L", "mL", "fl_oz"),
        label="How much liquor",
        above_zero=True,
        least=Decimal("0.001"),
        most=500_000,
        required=False,
    )
    yarn = forms.ModelChoiceField(
        queryset=BatchYarn.objects.none(), label="Which yarn", required=False, empty_label="All of it"
    )
    other_batch = forms.ModelChoiceField(
        queryset=Batch.objects.none(),
        label="From or to",
        required=False,
        empty_label="No other pot",
        help_text="A bath that is used again comes from the pot it was in.",
    )
    keep_as = WordsField(
        label="Keep the liquor in a bottle called",
        max_length=80,
        required=False,
        help_text="Empty: it is not kept. What a kept liquor holds, nobody knows.",
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["yarn"].queryset = BatchYarn.objects.named().filter(batch=self.batch)
        self.fields["other_batch"].queryset = (
            Batch.objects.filter(
                Q(run__state__in=[State.PLANNED, State.RUNNING]) | Q(finished_at__gt=timezone.now() - BATHS_STAND)
            )
            .exclude(pk=self.batch.pk)
            .select_related("run__colourway", "vessel")
            .order_by("-run__day", "run_id", "number")
        )

    def clean(self):
        cleaned = super().clean()
        what = cleaned.get("what") or Move.What.WHERE
        cleaned["what"] = what
        if what == Move.What.WHERE and not cleaned.get("where") and "where" not in self.errors:
            self.add_error("where", "Choose where the yarn is now.")
        if what not in (Move.What.YARN_IN, Move.What.YARN_OUT):
            self._only("skeins", "Skeins go with “Yarn in” or “Yarn out”: choose one of those, or empty this.")
            self._only("weight", "A weight goes with “Yarn in” or “Yarn out”: choose one of those, or empty this.")
        if what not in (Move.What.LIQUOR_IN, Move.What.LIQUOR_OUT):
            self._only("volume", "A volume goes with “Liquor in” or “Liquor out”: choose one of those, or empty this.")
        if cleaned.get("keep_as") and what != Move.What.LIQUOR_OUT:
            self.add_error("keep_as", "Only liquor that went out is kept: choose “Liquor out”, or empty this.")
        elif cleaned.get("keep_as") and not cleaned.get("volume") and "volume" not in self.errors:
            self.add_error("volume", "Say about how much liquor the bottle holds.")
        if cleaned.get("yarn") and cleaned.get("pots") == ALL:
            self.add_error("yarn", f"This yarn is in one pot only: choose “{self.batch.pot_name} only”.")
        return cleaned

    def _only(self, name, sentence):
        if self.cleaned_data.get(name) is not None:
            self.add_error(name, sentence)

    def facts(self):
        said = self.cleaned_data
        weight, volume = said.get("weight"), said.get("volume")
        return {
            "what": said["what"],
            "where": (said.get("where") or "") if said["what"] == Move.What.WHERE else "",
            "skeins": said.get("skeins"),
            "grams": units.to_g(*weight) if weight else None,
            "volume_ml": units.to_ml(*volume) if volume else None,
            "yarn": said.get("yarn"),
            "other_batch": said.get("other_batch"),
            "keep_as": said.get("keep_as") or "",
        }
