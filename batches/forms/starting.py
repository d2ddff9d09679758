"""Forms that begin a run: by a recipe, or with nothing but pots."""

from datetime import timedelta

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from recipes.models import Colourway, Method
from studio.forms.base import StudioForm
from studio.forms.fields import WholeField, WordsField
from studio.forms.once import OnceForm
from studio.forms.rows import rows_of
from studio.models import Lot, Vessel
from studio.units import write_number

MOST_POTS = 60
MOST_SKEINS = 2000
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


class YarnRow(StudioForm):
    lot = YarnLotChoice(queryset=Lot.objects.none(), label="Yarn", required=False, empty_label="Choose a yarn lot")
    skeins = WholeField(label="Skeins", least=1, most=MOST_SKEINS, required=False, stepper=True)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["lot"].queryset = yarn_lots()

    def clean(self):
        cleaned = super().clean()
        if cleaned.get("lot") and not cleaned.get("skeins") and "skeins" not in self.errors:
            self.add_error("skeins", "Say how many skeins of this yarn.")
        if cleaned.get("skeins") and not cleaned.get("lot") and "lot" not in self.errors:
            self.add_error("lot", "Choose which yarn these skeins are.")
        return cleaned


YarnRows = rows_of(YarnRow, extra=1, most=6, more="Add another yarn")


class PlanForm(OnceForm):
    """The pots and the day of a run from a recipe."""

    vessel = forms.ModelChoiceField(
        queryset=Vessel.objects.none(), label="In", required=False, empty_label="No vessel of the shelf"
    )
    pots = WholeField(label="How many pots", least=1, most=MOST_POTS, initial=1, stepper=True)
    day = forms.DateField(
        label="Day",
        required=False,
        widget=forms.DateInput({"type": "date"}, format="%Y-%m-%d"),
        help_text="Empty is today.",
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["vessel"].queryset = Vessel.objects.filter(retired=False)

    def clean_day(self):
        today = timezone.localdate()
        day = self.cleaned_data["day"] or today
        if abs(day - today) > FARTHEST:
            raise ValidationError("That day is more than two years away: check it, and write it again.")
        return day


class BareForm(OnceForm):
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

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["vessel"].queryset = Vessel.objects.filter(retired=False)
        self.fields["lot"].queryset = yarn_lots()


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
    """Which yarn of the shelf went into a pot that was started without saying."""

    lot = YarnLotChoice(queryset=Lot.objects.none(), label="Yarn", empty_label="Choose a yarn lot")
    skeins = WholeField(label="Skeins in each pot", least=1, most=MOST_SKEINS, stepper=True)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["lot"].queryset = yarn_lots()


class AbandonForm(StudioForm):
    why = WordsField(label="Why is it given up?", max_length=300)


METHODS = {
    Vessel.Kind.POT: Method.POT,
    Vessel.Kind.JAR: Method.JAR,
    Vessel.Kind.PAN: Method.PAN,
    Vessel.Kind.TABLE: Method.PAINTED,
}


def method_for(vessel):
    """The usual method in a vessel of this kind."""
    return METHODS.get(vessel.kind, Method.OTHER) if vessel else Method.POT
