"""How a version goes onto the yarn of a plan: by weight or by whole pots, and what its depth is of."""

from django import forms

from recipes.models import Recipe
from studio.forms.base import StudioForm
from studio.forms.widgets import Choices


class MoveForm(StudioForm):
    """Choices that are shown only where they matter, and nothing where they are not made."""

    prefix = "move"

    hold = forms.ChoiceField(
        label="Hold the depth on",
        choices=[("total", "All of the yarn"), ("dyeable", "The part that takes the dye")],
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
        """`planned`: the `Wishes` of a plan that is changed, which stand unless others are chosen."""
        self.usual = {"hold": "total", "scales": recipe.scales}
        start = {"hold": planned.hold, "scales": planned.scales or recipe.scales} if planned else self.usual
        if data is not None:  # what was not shown was not sent, and stands as it did
            data = {self.add_prefix(name): data.get(self.add_prefix(name), start[name]) for name in start}
        super().__init__(data, initial=start)

    def wishes(self):
        """Fields of `recipes.plans.Wishes`."""
        said = self.cleaned_data
        return {"hold": said["hold"], "scales": said["scales"]}

    @property
    def asked_otherwise(self):
        """Names of the choices that are made otherwise than usual, so that they stay in sight."""
        return [name for name in self.fields if self[name].value() != self.usual[name] or self[name].errors]
