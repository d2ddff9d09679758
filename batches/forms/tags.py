"""What to print on tags, and how often."""

from django import forms

from batches.models import Output
from studio.forms.base import QuietBoundField, StudioForm
from studio.forms.fields import MoneyField, WholeField
from studio.forms.once import OnceForm
from studio.forms.rows import rows_of
from studio.forms.widgets import Choices

from .sheets import SheetForm

DESIGNS = [
    ("swing", "Swing tag, two sides, with the colour bar"),
    ("label", "Label, one side, black only, for self-adhesive sheets"),
]
MOST_COPIES = 2400


class TagSheetForm(OnceForm, SheetForm):
    design = forms.ChoiceField(choices=DESIGNS, widget=Choices, label="Which tag", initial="swing")
    first_wash = forms.BooleanField(
        label="Say “cool, separately the first time”",
        required=False,
        initial=True,
        help_text="Take it off only when a wash test says that nothing bleeds.",
    )
    with_bar = forms.BooleanField(label="Print the colour bar", required=False, initial=True)
    per_kilogram = forms.BooleanField(
        label="Print the price of a kilogram",
        required=False,
        help_text="Where yarn is sold by weight, some countries ask for it. Check your local rules.",
    )


class TagRow(StudioForm):
    """One kind of skein. Its output is a hidden key of this run's own."""

    bound_field_class = QuietBoundField

    output = forms.ModelChoiceField(queryset=Output.objects.none(), widget=forms.HiddenInput)
    price = MoneyField(label="Price", required=False, help_text="Empty prints none.")
    copies = WholeField(label="Tags", most=MOST_COPIES, required=False, stepper=True)

    def __init__(self, *args, outputs=None, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["output"].queryset = outputs


TagRows = rows_of(TagRow, extra=0, most=300)
