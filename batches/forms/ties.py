"""Which labels to print for ties and pots, and on what."""

from django import forms

from batches import ties
from studio.forms.base import QuietBoundField, dress
from studio.forms.fields import RowsField, WholeField
from studio.forms.widgets import Choices, Ticks
from studio.models import Vessel

from .sheets import SheetForm

DESIGNS = [
    ("strip", "Strip to cut out and tie round a skein"),
    ("label", "Label, for self-adhesive sheets"),
]
MOST_COPIES = 200
POT = "pot-"


class SheetOfLabels(SheetForm):
    """The paper. Sent by GET: nothing is kept of it, and its address prints the same again."""

    bound_field_class = QuietBoundField


class TiesForm(SheetOfLabels):
    """How many labels of each pot. `pots`: of `ties.pots_of`."""

    design = forms.ChoiceField(choices=DESIGNS, widget=Choices, label="Which label", initial="strip")

    def __init__(self, *args, pots, **kwargs):
        super().__init__(*args, **kwargs)
        self.pots = pots
        for pot in pots:
            usual = ties.skeins_in(pot)
            field = WholeField(label=pot.pot_name, most=MOST_COPIES, required=False, stepper=True, initial=usual)
            dress(field, pot.pot_name)
            self.fields[f"{POT}{pot.pk}"] = field

    def pot_fields(self):
        return [self[f"{POT}{pot.pk}"] for pot in self.pots]

    def clean(self):
        super().clean()
        if not self.errors and not self.wanted():
            raise forms.ValidationError("Say how many labels to print.")

    def wanted(self):
        """[(Label, copies)] of the pots that want any."""
        counted = [(pot, self.cleaned_data.get(f"{POT}{pot.pk}")) for pot in self.pots]
        return [(ties.tie_of(pot), copies) for pot, copies in counted if copies]


class PotCodesForm(SheetOfLabels):
    """Which vessels of the bench get their labels."""

    vessels = RowsField(queryset=Vessel.objects.none(), widget=Ticks, label="Pots and jars")
    copies = WholeField(label="Of each", least=1, most=10, initial=1, stepper=True)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        field = self.fields["vessels"]
        field.queryset = Vessel.objects.filter(retired=False)
        field.label_from_instance = lambda row: f"{row.name}, {row.how_many} labels" if row.how_many > 1 else row.name

    def wanted(self):
        """[(Label, copies)], vessel by vessel."""
        vessels = self.cleaned_data["vessels"]
        return [(label, self.cleaned_data["copies"]) for vessel in vessels for label in ties.labels_of_vessel(vessel)]
