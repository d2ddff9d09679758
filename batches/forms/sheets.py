"""What every sheet that is printed on asks: which paper, and where on it to begin."""

from django import forms

from studio.forms.base import StudioForm
from studio.forms.fields import WholeField
from studio.models import Paper


class SheetForm(StudioForm):
    paper = forms.ChoiceField(choices=Paper.choices, label="Paper")
    start_at = WholeField(
        label="First free place",
        least=1,
        most=60,
        initial=1,
        help_text="On a sheet that is used in part; 1 is a new sheet.",
    )
