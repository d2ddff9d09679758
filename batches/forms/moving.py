"""How a version goes onto the yarn of a plan: by weight or by whole pots, and what its depth is of."""

from django import forms

from recipes.models import Hold, Recipe
from studio.forms.base import StudioForm
from studio.forms.widgets import Choices


class MoveForm(StudioForm):
    """Choices that are shown only where they matter, and nothing where they are not made."""

    prefix = "move"

    hold = forms.ChoiceField(
        label="Hold the depth on",
        choices=Hold.choices,
        required=False,
        widget=Choices,
        help_text="Held on the part that takes it, that part comes out as deep as on the yarn the version is for.",
    )
    scales = forms.ChoiceField(
        label="The amounts follow",
        choices=[
            (Recipe.Scales.WEIGHT, "The weight of the yarn"),
            (Recipe.Scales.POTS, "The pots: each gets what one of the notebook got"),
        ],
        required=False,
        widget=Choices,
    )

    def __init__(self, recipe, data=None, planned=None):
        """`planned`: {name: what pots that are planned anew were planned with}, which stands unless another is chosen;
        where that is None they differ, and one must be chosen.
        """
        self.usual = {"hold": Hold.TOTAL, "scales": recipe.scales}
        start = self.usual if planned is None else planned
        if data is not None:  # what was not shown was not sent, and stands as it did
            data = {self.add_prefix(name): data.get(self.add_prefix(name), start[name]) for name in start}
        super().__init__(data, initial=start)
        for name, value in start.items():
            self.fields[name].required = value is None

    def wishes(self):
        """Fields of `recipes.plans.Wishes`."""
        said = self.cleaned_data
        return {"hold": said["hold"], "scales": said["scales"]}

    @property
    def asked_otherwise(self):
        """Names of the choices that are made otherwise than usual, so that they stay in sight."""
        differ = [name for name, field in self.fields.items() if field.required]
        return differ + [name for name in self.fields if self[name].value() != self.usual[name] or self[name].errors]
