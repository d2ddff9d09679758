"""What is changed for the pots still to come: the version, or how much of each dye."""

from django import forms

from batches.replanning import factor_of
from recipes.changing import dyes_of_version
from studio.forms.base import QuietBoundField, dress
from studio.forms.fields import PercentField, WordsField
from studio.forms.once import OnceForm

MOST_PCT = 500
OTHERS = "These pots were begun or planned anew since this page was opened: look at them as they are now, then send it."


class SeenField(forms.CharField):
    """Which writing of the plan the page showed. A page that is drawn again shows the newest."""

    widget = forms.HiddenInput

    def bound_data(self, data, initial):
        return initial


class ChangeForm(OnceForm):
    """Another version of the colourway, or so many percent of each dye of the one that was planned from."""

    bound_field_class = QuietBoundField

    seen = SeenField(required=False)
    version = forms.ModelChoiceField(queryset=None, label="Version", empty_label=None)
    why = WordsField(
        label="Why", max_length=300, required=False, help_text="Such as: the first jar came out too red. It is kept."
    )

    def __init__(self, *args, coming, move, **kwargs):
        """`coming`: the `ToCome` that is changed. `move`: the `MoveForm` beside it, which may be all of the change."""
        self.coming, self.move, self.recipe = coming, move, coming.recipe
        super().__init__(*args, initial={"version": self.recipe.pk, "seen": coming.seen}, **kwargs)
        self.fields["version"].queryset = self.recipe.colourway.recipes.order_by("-number")
        self.fields["version"].label_from_instance = self._words
        self.dyes = {f"dye-{dye.pk}": dye for dye in dyes_of_version(self.recipe)}
        for name, dye in self.dyes.items():
            self.fields[name] = PercentField(label=dye.name, most=MOST_PCT, initial=100, required=False)
            dress(self.fields[name], dye.name)

    @property
    def dye_fields(self):
        """[(bound field, Dye)]"""
        return [(self[name], dye) for name, dye in self.dyes.items()]

    def times(self):
        """{dye key: factor} of those that are changed."""
        said = {dye.pk: self.cleaned_data.get(name) for name, dye in self.dyes.items()}
        return {key: factor_of(percent) for key, percent in said.items() if percent is not None and percent != 100}

    def clean(self):
        cleaned = super().clean()
        if self.data.get(self.add_prefix("seen")) != self.coming.seen:
            self.add_error(None, OTHERS)
        if self.errors:
            return cleaned
        if self.times() and cleaned["version"] != self.recipe:
            self.add_error(
                "version",
                f"Choose another version, or change the dyes of version {self.recipe.number}: not both at once.",
            )
        elif self.dyes and set(self.times().values()) == {0} and len(self.times()) == len(self.dyes):
            self.add_error(next(iter(self.dyes)), "No dye would be left: leave more than nothing of at least one.")
        elif self.times() and not cleaned["why"]:
            self.add_error("why", "Say why it is changed: the next version keeps it.")
        elif self._changes_nothing(cleaned["version"]):
            self.add_error("version", "Nothing is changed yet: choose another version, or say more or less of a dye.")
        return cleaned

    def _changes_nothing(self, version):
        as_it_was = version == self.recipe and self.coming.alike
        return as_it_was and not self.times() and not self.move.has_changed()

    def _words(self, version):
        planned = sum(pot.recipe_id == version.pk for pot in self.coming.pots)
        now = {0: "", len(self.coming.pots): ", as it is planned now"}.get(planned, ", as some are planned now")
        return f"Version {version.number}{now}"
