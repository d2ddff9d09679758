"""What came out of the pots, and what they were judged to be."""

from django import forms

from batches.models import Output, Verdict
from studio.forms.base import QuietBoundField, StudioForm
from studio.forms.fields import WholeField, WordsField
from studio.forms.once import OnceForm
from studio.forms.rows import rows_of
from studio.forms.supplies import LocalAmountField, lengths, masses
from studio.forms.widgets import Choices

MATCH = [("yes", "Yes: one dye lot for all"), ("no", "No: a dye lot for each pot")]
MOST_ROWS = 150


class OutputRow(StudioForm):
    """Skeins alike in pot, yarn and grade. `yarns`: {key as text: BatchYarn} of the run, asked once for all rows.

    A row that the page drew for a yarn that went in is `expected`: its skeins are firsts, and its seconds stand beside.
    """

    bound_field_class = QuietBoundField

    expected = forms.BooleanField(widget=forms.HiddenInput, required=False)
    yarn = forms.TypedChoiceField(label="From", required=False, empty_value=None)
    grade = forms.ChoiceField(choices=Output.Grade.choices, label="Came out as", initial=Output.Grade.FIRST)
    skeins = WholeField(label="Skeins", most=2000, required=False, stepper=True)
    seconds = WholeField(label="Seconds", most=2000, required=False, stepper=True)
    skein_g = LocalAmountField(
        masses,
        label="A skein weighs",
        required=False,
        above_zero=True,
        most=5000,
        help_text="Empty: as the base says.",
    )
    skein_m = LocalAmountField(
        lengths,
        label="A skein measures",
        required=False,
        above_zero=True,
        most=20_000,
        help_text="Empty: as the base says.",
    )
    name = WordsField(
        label="A name of its own",
        help_text="Where it is sold under another name than the colourway.",
        max_length=80,
        required=False,
    )

    def __init__(self, *args, yarns, **kwargs):
        super().__init__(*args, **kwargs)
        named = [(key, f"{yarn.batch.pot_name}: {yarn.name}") for key, yarn in yarns.items()]
        self.fields["yarn"].choices = [("", "Choose the pot and yarn"), *named] if len(named) > 1 else named
        self.fields["yarn"].coerce = yarns.get
        self.yarn = yarns.get(str(self["yarn"].value())) if self["expected"].value() else None
        if self.yarn is not None:
            self.fields["skeins"].label = "Firsts"
            for name in ("yarn", "grade"):
                self.fields[name].widget = self.fields[name].hidden_widget()

    def clean(self):
        cleaned = super().clean()
        if self.has_something() and not cleaned.get("yarn") and "yarn" not in self.errors:
            self.add_error("yarn", "Choose which pot and yarn these skeins came from.")
        return cleaned

    def has_something(self):
        return bool(self.cleaned_data.get("skeins") or self.cleaned_data.get("seconds"))


OutputRows = rows_of(OutputRow, extra=0, most=MOST_ROWS, more="Add another line")


class FinishForm(OnceForm):
    bound_field_class = QuietBoundField

    pots_match = forms.ChoiceField(choices=MATCH, widget=Choices, label="Do the pots match?", required=False)
    verdict = forms.ChoiceField(choices=Verdict.choices, widget=Choices, label="Verdict", required=False)
    next_time = WordsField(
        label="Next time",
        rows=4,
        required=False,
        help_text="What to do differently. It is shown first when this is planned again.",
    )
    snippet = WordsField(
        label="Where the snippet is",
        help_text="Such as book 2, page 14: it proves the colour in years.",
        max_length=120,
        required=False,
    )
    why_off = WordsField(
        label="Why in and out differ",
        max_length=300,
        required=False,
        help_text="Only where not every skein is told above.",
    )

    def __init__(self, *args, pots=1, **kwargs):
        super().__init__(*args, **kwargs)
        if pots < 2:
            del self.fields["pots_match"]
        else:
            self.fields["pots_match"].required = True

    def matches(self):
        """True, False, or None for a lone pot."""
        return {"yes": True, "no": False}.get(self.cleaned_data.get("pots_match"))

    def says_anything_new(self):
        """Whether something but the skeins was said that the page did not hold when it was drawn."""
        return any(name not in ("once", "why_off") for name in self.changed_data)
