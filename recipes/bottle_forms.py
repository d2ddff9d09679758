"""Making up a bottle: how much of it, what really went in, and what is written on it."""

from decimal import Decimal

from django import forms

from recipes import bottles
from studio import units
from studio.forms.base import StudioForm, dress
from studio.forms.fields import AmountField, DayField, PercentField, WhenField, WordsField
from studio.forms.once import OnceForm
from studio.forms.supplies import LocalAmountField, small_masses, volumes
from studio.models import LEAST_PART, Assistant, Dye

MOST = 200_000  # mL or g: no studio makes a bottle of more
SMALL_VOLUMES = ("mL", "L", "fl_oz")


def volume_field(solution, **more):
    """How much is made: mL, or g of a dry mix."""
    if solution.unit == "g":
        return AmountField(small_masses(), label="How much of the mix", above_zero=True, most=MOST, **more)
    return AmountField(volumes(), label="How much to make", above_zero=True, most=MOST, **more)


class VolumeForm(StudioForm):
    """How much is to be made: asked before anything is weighed."""

    def __init__(self, *args, solution, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["volume"] = volume_field(solution)
        dress(self.fields["volume"], "How much to make")

    def amount(self):
        return units.normalise(self.cleaned_data["volume"]).number


class BottleForm(OnceForm):
    """What really went in. One box for each lot that may have: an empty one means none of it."""

    made_at = WhenField(label="Made", required=False, help_text="Empty means now.")
    number = WordsField(
        label="Number or word on the bottle", max_length=60, required=False, help_text="To tell it from the last one."
    )
    use_by = DayField(label="Use by", help_text="Past it, the shelf says so in red.", required=False)
    tare = AmountField(
        small_masses(),
        label="Weight of the empty bottle",
        required=False,
        most=100_000,
        help_text="Then it can be weighed with what is in it.",
    )
    note = WordsField(label="Note", required=False, rows=2)

    def __init__(self, *args, solution, lots, rest=None, **kwargs):
        super().__init__(*args, **kwargs)
        self.solution, self.rest = solution, rest
        self.lots = {f"lot-{lot.pk}": lot for lot in lots if lot != rest}
        self.fields["volume"] = volume_field(
            solution, help_text="What it was filled up to in the end; the powder is part of it."
        )
        dress(self.fields["volume"], "How much was made")
        self.fields["volume"].label = "How much was made"
        if rest is not None:
            self.fields["rest"] = AmountField(SMALL_VOLUMES, label=f"Rest of {rest}", above_zero=True, most=MOST)
        for name, lot in self.lots.items():
            offered = SMALL_VOLUMES if lot.unit == "mL" else small_masses()
            self.fields[name] = AmountField(offered, label=str(lot), required=False, most=MOST)
        for name in ("rest", *self.lots):
            if name in self.fields:
                dress(self.fields[name], self.fields[name].label)

    def clean(self):
        said = super().clean()
        if self.errors:
            return said
        parts = self.parts()
        if sentence := bottles.why_not(parts, self.volume(), self.solution.unit == "g"):
            self.add_error("volume", sentence)
        elif not parts and self.solution.kind != self.solution.Kind.LIQUOR:
            raise forms.ValidationError("Nothing went in yet: write what was weighed or poured of at least one lot.")
        return said

    def volume(self):
        return units.normalise(self.cleaned_data["volume"]).number

    def parts(self):
        """Pairs of a lot and how much of it went in, in the lot's unit."""
        boxes = {"rest": self.rest} if self.rest is not None else {}
        boxes |= self.lots
        typed = ((lot, self.cleaned_data.get(name)) for name, lot in boxes.items())
        kept = ((lot, units.normalise(amount).number) for lot, amount in typed if amount is not None)
        return [(lot, amount) for lot, amount in kept if amount > 0]

    def facts(self):
        """What `Lot.make_bottle` takes besides the parts and the volume."""
        said, tare = self.cleaned_data, self.cleaned_data["tare"]
        return {
            "made_at": said["made_at"],
            "number": said["number"],
            "use_by": said["use_by"],
            "note": said["note"],
            "tare_g": None if tare is None else units.normalise(tare).number,
            "continues": self.rest,
        }


class DescribeForm(StudioForm):
    """Of what alone a bottle is to be, and how strong. A button of another form asks it, so it comes in the address."""

    dye = forms.ModelChoiceField(Dye.objects.all(), label="Dye", required=False)
    assistant = forms.ModelChoiceField(Assistant.objects.all(), label="Assistant", required=False)
    strength = PercentField(label="Strength", least=LEAST_PART)

    def clean(self):
        said = super().clean()
        if not self.errors and bool(said["dye"]) == bool(said["assistant"]):
            raise forms.ValidationError("Say what the bottle is to be of: one dye, or one assistant.")
        return said

    def master(self):
        said = self.cleaned_data
        return bottles.master_for(said["dye"] or said["assistant"], said["strength"])


class WeakerForm(StudioForm):
    """How strong and how much: asked before anything is poured."""

    strength = PercentField(label="Strength wanted", help_text="In grams of dye in 100 mL, such as 0.1.")
    volume = LocalAmountField(volumes, label="How much to make", above_zero=True, most=MOST)

    def clean_strength(self):
        strength = self.cleaned_data["strength"]
        if strength < Decimal("0.0001"):
            raise forms.ValidationError("That is only water: write the strength wanted, such as 0.1.")
        return strength
