"""Forms of colourways and their versions."""

from decimal import Decimal

from django import forms
from django.core.exceptions import ValidationError
from django.db import transaction

from studio import units, writing
from studio.forms.fields import AmountField, NumberField, RowsField, WholeField, WordsField
from studio.forms.named import NamedForm
from studio.forms.once import OnceForm
from studio.forms.widgets import Ticks
from studio.models import Base

from .models import Colourway, Method, Recipe
from .offers import with_steps
from .writing import MOST_RATIO, Facts, Shelf, as_text, understand

MOST_FIBRE_G = 1_000_000
EXAMPLES = (
    "One line each, as in a notebook: “40 mL brick 1 %”, “0.4 % ochre”, “1 tbsp vinegar each pot”, "
    "“2 g/L citric acid”, “0.5 g soot sprinkled, last sixth”, “water 20:1”, “Soak 30 min at 40\u00a0°C”, “red by eye”."
)


class ColourwayForm(NamedForm):
    """A colour design: its name and its story."""

    model = Colourway
    taken_sentence = "There is a colourway of this name already: open that one, or write another name."

    name = WordsField(label="Name", max_length=80)
    story = WordsField(label="Story", required=False, rows=3, help_text="What it looks like, or where it comes from.")
    retired = forms.BooleanField(label="No longer dyed", required=False)

    @staticmethod
    def initial_of(colourway):
        return {column: getattr(colourway, column) for column in ("name", "story", "retired")}

    def facts(self):
        said = self.cleaned_data
        return {"name": said["name"], "story": said["story"], "retired": said.get("retired", False)}


class BaseTicks(RowsField):
    widget = Ticks

    def __init__(self, **kwargs):
        super().__init__(queryset=Base.objects.none(), **kwargs)


class VersionForm(OnceForm):
    """One version of how to dye a colourway, in the words of a notebook."""

    skeins = WholeField(
        label="Skeins",
        least=1,
        most=10_000,
        required=False,
        stepper=True,
        help_text="Or in the words: “for 6 skeins”.",
    )
    fibre_g = AmountField(
        ("g",),
        label="Dry weight",
        most=MOST_FIBRE_G,
        above_zero=True,
        required=False,
        help_text="Empty: the skeins times the weight of the base ticked.",
    )
    pots = WholeField(label="Pots", least=1, most=100, required=False, stepper=True)
    text = WordsField(label="The recipe", rows=14, help_text=EXAMPLES)
    scales = forms.ChoiceField(
        label="When there is more yarn",
        choices=Recipe.Scales.choices,
        initial=Recipe.Scales.WEIGHT,
        widget=forms.RadioSelect,
        help_text="For amounts that do not say what they are for.",
    )
    method = forms.ChoiceField(label="How it is dyed", choices=Method.choices, initial=Method.POT)
    liquor_ratio = NumberField(
        label="Water to yarn",
        least=Decimal("0.1"),
        most=MOST_RATIO,
        unit=": 1",
        required=False,
        help_text="Such as 20, where the recipe does not say it.",
    )
    bases = BaseTicks(
        label="For these bases", help_text="Yarns it has been dyed on, or that take dye alike.", required=False
    )
    note = WordsField(
        label="What is new in it", help_text="So that the versions can be told apart.", rows=2, required=False
    )

    def __init__(self, *args, start=None, **kwargs):
        """`start`: the version whose words and facts it begins with."""
        if start is not None:
            kwargs["initial"] = initial_of(start) | kwargs.get("initial", {})
        super().__init__(*args, **kwargs)
        used = start.bases.values("pk") if start is not None else []
        self.fields["bases"].queryset = Base.objects.filter(retired=False) | Base.objects.filter(pk__in=used)
        self.understood, self.unknown = None, []

    def clean(self):
        said = super().clean()
        if "text" in self.errors or {"skeins", "fibre_g", "pots", "liquor_ratio"} & self.errors.keys():
            return said
        self.understood = understand(said["text"], facts_of(said), self.shelf(), writing.current().spoons)
        for problem in self.understood.problems:
            about_weight = not problem.number and self.understood.facts.fibre_g is None
            self.add_error("fibre_g" if about_weight else "text", ValidationError(problem.sentence))
        self.unknown = list(dict.fromkeys(problem.name for problem in self.understood.problems if problem.name))
        return said

    def shelf(self):
        """The names that the words may use."""
        return Shelf.read()

    def columns(self):
        """The columns of a version."""
        facts = self.understood.facts
        names = ("method", "scales", "skeins", "fibre_g", "pots", "liquor_ratio")
        return {name: getattr(facts, name) for name in names} | {"note": self.cleaned_data["note"]}

    def write_next(self, colourway, *, by, now, start=None):
        """The next version of the colourway, made from `start`."""
        with transaction.atomic():
            version = colourway.next_version(by=by, now=now, made_from=start, **self.columns())
            version.bases.set(self.cleaned_data["bases"])
            version.write(self.understood.steps)
            if colourway.standard_id is None:
                colourway.pin(version)
        return version

    def rewrite(self, version):
        """The same version, said anew. Refused once a batch has used it."""
        with transaction.atomic():
            for column, value in self.columns().items():
                setattr(version, column, value)
            version.save()
            version.bases.set(self.cleaned_data["bases"])
            version.write(self.understood.steps)
        return version


def facts_of(said):
    """What the boxes say, for `understand`."""
    weights = {base.skein_g for base in said.get("bases") or ()}
    fibre = said["fibre_g"]
    return Facts(
        method=said.get("method") or Method.POT,
        scales=said.get("scales") or Recipe.Scales.WEIGHT,
        skeins=said["skeins"],
        fibre_g=None if fibre is None else units.normalise(fibre).number,
        pots=said["pots"],
        liquor_ratio=said["liquor_ratio"],
        skein_g=weights.pop() if len(weights) == 1 else None,
    )


def initial_of(version):
    """What the boxes begin with. A fixed number of queries, however many lines."""
    with_steps(version)
    columns = ("skeins", "fibre_g", "pots", "scales", "method")
    return {column: getattr(version, column) for column in columns} | {
        "text": as_text(version),
        "bases": [base.pk for base in version.bases.all()],
        # Where the words say the water, they alone say it: two places to change would be one too many.
        "liquor_ratio": None if says_water(version) else version.liquor_ratio,
    }


def says_water(version):
    return any(each.water for step in version.steps.all() for each in step.ingredients.all())
