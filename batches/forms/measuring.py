"""How the amounts of a plan are measured: which powders are weighed once for all pots."""

from django import forms

from recipes.offers import ingredients_of, with_steps
from studio.forms.base import StudioForm


class MeasureForm(StudioForm):
    """A tick for each powder; the page offers those that go into several pots."""

    prefix = "measure"

    once = forms.TypedMultipleChoiceField(coerce=int, required=False, label="Weigh once for all pots")

    def __init__(self, recipe, data=None):
        super().__init__(data)
        powders = [each for each in ingredients_of(with_steps(recipe)) if not each.water]
        self.fields["once"].choices = [(str(each.pk), each.name) for each in powders]

    def wishes(self):
        """Fields of `recipes.plans.Wishes`."""
        return {"weigh_once": frozenset(self.cleaned_data["once"])}

    @property
    def ticked(self):
        return self["once"].value() or []
