"""Forms that begin a run: by a recipe, or with nothing but pots."""

from datetime import timedelta
from decimal import Decimal

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from batches.loading import MOST_DAYS
from batches.models import BatchYarn, Output
from batches.yarns import Yarn, to_dye_again
from recipes.models import Colourway
from studio import units
from studio.forms.base import StudioForm
from studio.forms.fields import AmountField, DayField, RowsField, WholeField, WordsField
from studio.forms.once import OnceForm
from studio.forms.rows import rows_of
from studio.forms.widgets import Ticks
from studio.models import Base, Lot, Vessel
from studio.units import write_number

from .loads import SpareField

MOST_POTS = 60
MOST_SKEINS = 2000
LEAST_SKEIN_G = Decimal("0.1")  # lighter ones are a slip of the pen; common practice, no source
FARTHEST = timedelta(days=731)


class YarnLotChoice(forms.ModelChoiceField):
    """Yarn lots with what is left of them."""

    def label_from_instance(self, lot):
        number = f", lot {lot.number}" if lot.number else ""
        return f"{lot.base.name}{number}: {write_number(lot.on_hand / lot.skein_g, digits=3)} here"


def yarn_lots():
    return (
        Lot.objects.filter(base__isnull=False)
        .select_related("base")
        .with_on_hand()
        .in_use()
        .order_by("base__name", "came_at")
    )


CUSTOMER, UNLABELLED = BatchYarn.Source.CUSTOMER, BatchYarn.Source.UNLABELLED


class DyedBeforeChoice(forms.ModelChoiceField):
    """Skeins of earlier runs that can go into a pot again."""

    def label_from_instance(self, output):
        return f"{Yarn.of_output(output).name}: {output.left} {output.get_grade_display().lower()}"


class OtherYarn(StudioForm):
    """Yarn that is not a lot of the shelf. Its fields are folded away: most pots never need them."""

    folded = ("before", "other", "words", "weight")

    before = DyedBeforeChoice(
        queryset=Output.objects.none(),
        label="Dyed, prepared or stripped before",
        required=False,
        empty_label="None of these",
    )
    other = forms.ChoiceField(
        label="Not from the shelf",
        choices=[("", "No"), (CUSTOMER, "A customer's own"), (UNLABELLED, "Without a label")],
        required=False,
    )
    words = WordsField(label="Whose, or what it looks like", max_length=120, required=False)
    weight = AmountField(
        ("g", "oz"),
        label="All of it weighs, dry",
        above_zero=True,
        most=500_000,
        required=False,
        help_text="Empty is not known.",
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["lot"].queryset = yarn_lots()
        self.fields["before"].queryset = to_dye_again()

    @property
    def plain(self):
        """The fields that are not folded away."""
        return [self[name] for name in self.fields if name not in (*self.folded, "once")]

    @property
    def apart(self):
        return [self[name] for name in self.folded]

    @property
    def opened(self):
        """Whether the folded part holds something, so that nothing typed hides."""
        return any(self[name].errors or _typed(self[name].value()) for name in self.folded)

    def said_yarn(self, cleaned, skeins):
        """The `Yarn` that was said, or None; `skeins` in all share the weight. Adds the problems it finds."""
        said = [name for name in ("lot", "before", "other") if cleaned.get(name)]
        if len(said) > 1:
            self.add_error(said[1], "This is a second yarn: keep one here, and put the other in a row of its own.")
        elif "lot" in said:
            return Yarn.of_lot(cleaned["lot"])
        elif "before" in said:
            return Yarn.of_output(cleaned["before"])
        elif "other" in said:
            return self._in_words(cleaned, skeins)
        return None

    def _in_words(self, cleaned, skeins):
        if not cleaned.get("words") and "words" not in self.errors:
            self.add_error("words", "Say whose yarn it is, or what it looks like: that is all its record will have.")
        weight = cleaned.get("weight")
        each = units.normalise(weight).number / skeins if weight is not None and skeins else None
        if each is not None and each < LEAST_SKEIN_G:
            self.add_error("weight", "A skein of it would be less than can be weighed: write what all of them weigh.")
        return Yarn.in_words(cleaned["other"], cleaned.get("words", ""), skein_g=each)


def _typed(value):
    """What stands in a box; of an amount the number, since a unit is always chosen."""
    return value[0] if isinstance(value, (tuple, list)) else value


class YarnRow(OtherYarn):
    """One yarn of a plan. `cleaned_data["yarn"]` is what was meant."""

    lot = YarnLotChoice(queryset=Lot.objects.none(), label="Yarn", required=False, empty_label="Choose a yarn lot")
    skeins = WholeField(label="Skeins", least=1, most=MOST_SKEINS, required=False, stepper=True)

    field_order = ["lot", "skeins", *OtherYarn.folded]

    def clean(self):
        cleaned = super().clean()
        skeins = cleaned.get("skeins")
        yarn = cleaned["yarn"] = self.said_yarn(cleaned, skeins)
        if yarn and not skeins and "skeins" not in self.errors:
            self.add_error("skeins", "Say how many skeins of this yarn.")
        if yarn and yarn.skein_g is None and skeins and not self.errors:
            self.add_error("weight", "Say what it weighs dry: the amounts are worked out from it.")
        if skeins and yarn is None and not self.errors:
            self.add_error("lot", "Choose which yarn these skeins are.")
        return cleaned


YarnRows = rows_of(YarnRow, extra=1, most=6, more="Add another yarn")


class PlanForm(OnceForm):
    """The pots and the day of a run from a recipe."""

    vessel = forms.ModelChoiceField(
        queryset=Vessel.objects.none(), label="In", required=False, empty_label="No vessel of the shelf"
    )
    pots = WholeField(label="How many pots", least=1, most=MOST_POTS, initial=1, stepper=True)
    also = RowsField(queryset=Vessel.objects.none(), label="And one pot more in each of", required=False, widget=Ticks)
    day = DayField(label="Day", required=False, help_text="Empty is today.")
    spare = SpareField(
        label="Spare skeins of each yarn", required=False, help_text="Beyond those wanted: 2, or 5 % rounded up."
    )
    over = WholeField(
        label="Over how many days", least=1, most=MOST_DAYS, required=False, help_text="Empty: as few as it takes."
    )
    gap = WholeField(
        label="Days from one to the next", least=1, most=31, initial=1, required=False, help_text="1: day after day."
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["vessel"].queryset = self.fields["also"].queryset = Vessel.objects.filter(retired=False)

    def vessels(self):
        """The vessel of each pot, in order; None where it is not one of the shelf."""
        said = self.cleaned_data
        return [said["vessel"]] * said["pots"] + [vessel for vessel in said["also"] if vessel != said["vessel"]]

    def clean_day(self):
        return sensible(self.cleaned_data["day"] or timezone.localdate())


def sensible(day):
    """The day; one that nobody plans for is refused."""
    if abs(day - timezone.localdate()) > FARTHEST:
        raise ValidationError("That day is more than two years away: check it, and write it again.")
    return day


class DayForm(StudioForm):
    """The day that a planned run is to be dyed on."""

    day = DayField(label="Day")

    def clean_day(self):
        return sensible(self.cleaned_data["day"])


class BareForm(OnceForm, OtherYarn):
    """Pots and skeins, and nothing else: the colourway, the yarn and the amounts are said while dyeing."""

    pots = WholeField(label="How many pots or jars", least=1, most=MOST_POTS, initial=1, stepper=True)
    skeins = WholeField(
        label="Skeins in each",
        least=0,
        most=100,
        initial=1,
        required=False,
        stepper=True,
        help_text="0 when nobody counted.",
    )
    vessel = forms.ModelChoiceField(queryset=Vessel.objects.none(), label="In", required=False, empty_label="Not said")
    lot = YarnLotChoice(queryset=Lot.objects.none(), label="Yarn", required=False, empty_label="Said later")
    title = WordsField(label="What to call it", max_length=120, required=False, help_text="It can be named later.")

    field_order = ["pots", "skeins", "vessel", "lot", "title", *OtherYarn.folded]

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["vessel"].queryset = Vessel.objects.filter(retired=False)

    def clean(self):
        cleaned = super().clean()
        skeins = (cleaned.get("skeins") or 0) * (cleaned.get("pots") or 0)
        cleaned["yarn"] = self.said_yarn(cleaned, skeins)
        return cleaned


class NameForm(StudioForm):
    """What a run that began without a colourway is called."""

    colourway = forms.ModelChoiceField(
        queryset=Colourway.objects.none(), label="Colourway", required=False, empty_label="A new one, or none"
    )
    title = WordsField(
        label="Name", max_length=80, required=False, help_text="A new name; tick below to make it a colourway."
    )
    make_colourway = forms.BooleanField(label="Make it a colourway", required=False)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["colourway"].queryset = Colourway.objects.filter(retired=False)

    def clean(self):
        cleaned = super().clean()
        if self.errors or cleaned.get("colourway"):
            return cleaned
        if not cleaned["title"]:
            self.add_error("title", "Choose a colourway, or write a name.")
        elif cleaned["make_colourway"] and Colourway.objects.filter(name__iexact=cleaned["title"]).exists():
            self.add_error("title", "There is a colourway of this name already: choose it above.")
        return cleaned


class SayYarnForm(StudioForm):
    """Which yarn went into a pot that was started without saying: one of the shelf's, or of which base."""

    lot = YarnLotChoice(
        queryset=Lot.objects.none(), label="From the shelf", required=False, empty_label="Not from the shelf"
    )
    base = forms.ModelChoiceField(
        queryset=Base.objects.none(),
        label="Or only what it is",
        required=False,
        empty_label="Choose a base",
        help_text="For yarn that was never on the shelf. Its tags and care follow the base.",
    )
    skeins = WholeField(label="Skeins in each pot", least=1, most=MOST_SKEINS, stepper=True)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["lot"].queryset = yarn_lots()
        self.fields["base"].queryset = Base.objects.filter(retired=False)

    def clean(self):
        cleaned = super().clean()
        if cleaned.get("lot") and cleaned.get("base"):
            self.add_error("base", "Choose a lot of the shelf, or only a base: not both.")
        elif not {"lot", "base"} & self.errors.keys() and not cleaned.get("lot") and not cleaned.get("base"):
            self.add_error("lot", "Choose the yarn from the shelf, or below what it is.")
        return cleaned


class AbandonForm(StudioForm):
    why = WordsField(label="Why is it given up?", max_length=300)
