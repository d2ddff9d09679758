"""What a series of samples is to be: how many, how deep, of which yarn; and which of them matched."""

from dataclasses import replace
from decimal import Decimal

from django import forms

from batches import series, strength
from batches.forms.starting import PlanForm, YarnLotChoice, yarn_lots
from batches.models.series import bracket, said_of
from batches.yarns import Yarn
from recipes import gradients
from recipes.models import Recipe
from recipes.writing import LEAST_FIBRE_G
from studio import units
from studio.forms.base import StudioForm
from studio.forms.fields import DayField, PercentField, WholeField, WordsField
from studio.forms.once import OnceForm
from studio.forms.supplies import LocalAmountField, small_masses
from studio.models import Lot, Vessel

USUAL_SAMPLE = units.Amount(Decimal(10), "g")
USUAL_STEPS, USUAL_PARTS = 5, 3
USUAL_PERCENTS = (100, 110, 120)
FEWEST_RUNGS, MOST_RUNGS = 2, 6
PERCENT_PLACES = 1  # of a sample's percent: nobody sees a finer difference
MOST_SAMPLE_G = 2000
EVEN, RATIO = "even", "ratio"
LONGEST_HUE = 200
NOT_SAID = "Which sample matched was not said: touch one of them."
SPACED = ((RATIO, "Equal ratio: each so many times the last"), (EVEN, "Equal steps: each so much more"))


class SamplesForm(OnceForm):
    """The yarn, the pots and the day of samples. `plan(recipe, chosen)` works them out."""

    lot = YarnLotChoice(queryset=Lot.objects.none(), label="Yarn", empty_label="Choose a yarn lot")
    grams = LocalAmountField(
        small_masses, label="Each sample weighs", least=LEAST_FIBRE_G, most=MOST_SAMPLE_G, initial=USUAL_SAMPLE
    )
    vessel = forms.ModelChoiceField(
        queryset=Vessel.objects.none(), label="Each in", required=False, empty_label="No vessel of the shelf"
    )
    day = DayField(label="Day", required=False, help_text="Empty is today.")
    clean_day = PlanForm.clean_day
    blamed = "lot"  # the field beside which it is said that nothing can be worked out

    def __init__(self, *args, recipe=None, **kwargs):
        self.recipe = recipe
        super().__init__(*args, **kwargs)
        self.fields["lot"].queryset = yarn_lots()
        self.fields["vessel"].queryset = Vessel.objects.filter(retired=False)
        self.suit()

    def suit(self):
        """Make the fields fit the version."""

    def yarn(self):
        """The yarn in pieces of a sample's size."""
        return Yarn.of_lot(self.cleaned_data["lot"]).in_samples(units.normalise(self.cleaned_data["grams"]).number)

    def tested(self, recipe):
        """Keys of the ingredients whose lot nobody chooses."""
        return ()

    def plan(self, recipe, chosen):
        """(Plan, the pots' yarn). Raises ValueError with a sentence."""
        return series.work_out(recipe, self.samples(recipe), self.yarn(), self.cleaned_data["vessel"], chosen)


class FamilyForm(SamplesForm):
    """Two or three dyes in all shares, as deep together each time."""

    steps = WholeField(label="Steps", least=2, most=gradients.MOST_STEPS, stepper=True)
    total = PercentField(label="All dyes together", help_text="Percent of the yarn's weight, the same in each sample.")
    field_order = ["steps", "total", "lot", "grams", "vessel", "day"]
    blamed = "total"

    def suit(self):
        depths = series.depths_in(self.recipe)
        steps = self.fields["steps"]
        if len(depths) == series.MOST:
            steps.label, steps.initial, steps.most = "Parts of each dye", USUAL_PARTS, gradients.MOST_DIVISIONS
            steps.help_text = "3 is by thirds, 10 samples; 4 is by quarters, 15 samples."
        else:
            steps.initial = USUAL_STEPS
            steps.help_text = "From one dye alone to the other alone."
        self.fields["total"].initial = round(sum(depths.values()), 3).normalize()

    def samples(self, recipe):
        return series.family_of(recipe, steps=self.cleaned_data["steps"], total_pct=self.cleaned_data["total"])


class DepthsForm(SamplesForm):
    """All dyes of a version together, from pale to deep."""

    lightest = PercentField(label="Lightest", help_text="All dyes together, percent of the yarn's weight.")
    deepest = PercentField(label="Deepest")
    steps = WholeField(label="How many", least=2, most=gradients.MOST_STEPS, stepper=True, initial=USUAL_STEPS)
    spaced = forms.ChoiceField(label="From pale to deep", choices=SPACED, widget=forms.RadioSelect, initial=RATIO)
    field_order = ["lightest", "deepest", "steps", "spaced", "lot", "grams", "vessel", "day"]
    blamed = "lightest"

    def suit(self):
        own = sum(series.depths_in(self.recipe).values())
        self.fields["lightest"].initial = round(own / 4, 3).normalize()
        self.fields["deepest"].initial = round(own, 3).normalize()

    def depths(self):
        said = self.cleaned_data
        between = gradients.geometric if said["spaced"] == RATIO else gradients.linear
        return between(said["lightest"], said["deepest"], said["steps"])

    def samples(self, recipe):
        return series.steps_of_depth(recipe, self.depths())


class PulledForm(DepthsForm):
    """One pot, out of which skein after skein is taken."""

    own = WordsField(
        label="Or each depth by itself",
        max_length=200,
        required=False,
        help_text="From the palest on, a space between: 0.2 0.5 1.2. It counts instead of the four above.",
    )
    field_order = ["lightest", "deepest", "steps", "spaced", "own", "lot", "grams", "vessel", "day"]

    def suit(self):
        super().suit()
        self.fields["grams"].label, self.fields["vessel"].label = "Each skein weighs", "All in"
        self.fields["steps"].label = "How many skeins"

    def clean_own(self):
        """The depths that were written one by one, or []."""
        words = self.cleaned_data["own"].replace(";", " ").replace("%", " ").split()
        try:
            return [units.read_number(word) for word in words]
        except ValueError as problem:
            raise forms.ValidationError(str(problem)) from None

    def depths(self):
        return self.cleaned_data["own"] or super().depths()

    def plan(self, recipe, chosen):
        return series.pull_in_turn(recipe, self.depths(), self.yarn(), self.cleaned_data["vessel"], chosen)


class VersionChoice(forms.ModelChoiceField):
    """Versions in which a dye stands by itself, with the pinned ones said."""

    def label_from_instance(self, recipe):
        pinned = ", the standard" if recipe.colourway.standard_id == recipe.pk else ""
        return f"{recipe.colourway.name}, version {recipe.number}{pinned}"


class LadderForm(SamplesForm):
    """Samples with so many percent of the dye of one powder lot."""

    recipe = VersionChoice(queryset=Recipe.objects.none(), label="Dyed like", empty_label="Choose a version")
    field_order = ["recipe", "lot", "grams", "vessel", "day"]
    blamed = "recipe"

    def __init__(self, *args, powder, versions, **kwargs):
        self.powder = powder
        super().__init__(*args, **kwargs)
        self.fields["recipe"].queryset = versions
        for place in range(1, MOST_RUNGS + 1):
            usual = dict(enumerate(USUAL_PERCENTS, 1)).get(place)
            field = PercentField(label=f"Sample {place}", required=False, least=1, most=400)
            field.initial = usual and Decimal(usual)
            self.fields[f"rung-{place}"] = field

    def rungs(self):
        """The boxes of the percents."""
        return [self[f"rung-{place}"] for place in range(1, MOST_RUNGS + 1)]

    def clean(self):
        said = super().clean()
        names = [f"rung-{place}" for place in range(1, MOST_RUNGS + 1)]
        if self.errors.keys() & set(names):
            return said
        written = [(name, said[name]) for name in names if said.get(name) is not None]
        percents = [round(percent, PERCENT_PLACES) for _, percent in written]
        if len(percents) < FEWEST_RUNGS:
            self.add_error(names[len(written)], "This needs two samples or more: write another percent, such as 110.")
        for place, (name, percent) in enumerate(written):
            if round(percent, PERCENT_PLACES) in percents[:place]:
                self.add_error(name, "This percent stands there already: write another, or leave it empty.")
        return said

    def percents(self):
        return sorted(value for name, value in self.cleaned_data.items() if name.startswith("rung-") and value)

    def plan(self, recipe, chosen):
        samples = strength.rungs_of(recipe, self.powder, self.percents())
        # Another lot than the tested one nobody chooses; a bottle of it, where its powder is too little to weigh.
        taken = (chosen or {}) | strength.taking(recipe, self.powder, chosen)
        worked, pots = series.work_out(recipe, samples, self.yarn(), self.cleaned_data["vessel"], taken)
        alike = strength.not_told_apart(worked, self.percents(), self.powder.dye)
        return replace(worked, warnings=[*([alike] if alike else []), *worked.warnings]), pots

    def tested(self, recipe):
        """Keys of the ingredients that the tested lot is taken for, which nobody chooses another for."""
        return strength.taking(recipe, self.powder).keys()


class MatchForm(StudioForm):
    """Which sample of a strength test matched, by pressing its button, and how its hue differs, in words."""

    hue = WordsField(
        label="How its hue differs",
        max_length=LONGEST_HUE,
        required=False,
        help_text="In words, such as bluer; then touch what matches best. It is shown wherever the lot is taken, and "
        "no amount corrects it.",
    )
    pick = forms.ChoiceField(
        label="Which one matches", error_messages={"required": NOT_SAID, "invalid_choice": NOT_SAID}
    )

    def __init__(self, *args, test, rungs, **kwargs):
        super().__init__(*args, **kwargs)
        self.test = test
        self.found = {str(rung.pk): (rung, None) for rung in rungs}
        self.between = [(f"{low.pk}-{high.pk}", low, high) for low, high in bracket(rungs)]
        self.found |= {key: (low, high) for key, low, high in self.between} | {"none": (None, None)}
        self.fields["pick"].choices = [(key, said_of(*pair)) for key, pair in self.found.items()]

    def clean_hue(self):
        return " ".join(self.cleaned_data["hue"].split())

    def keep(self, *, by):
        """The `Match` that is said by this; None where it can't be said, and then the form says why not."""
        low, high = self.found[self.cleaned_data["pick"]]
        try:
            return self.test.say(by=by, low=low, high=high, hue=self.cleaned_data["hue"])
        except ValueError as problem:
            self.add_error("pick", str(problem))
            return None
