"""A delivery of yarn, powder and assistants; and what was on the shelf before anybody counted."""

from decimal import Decimal

from django import forms
from django.core.exceptions import ValidationError

from studio import units
from studio.forms.base import StudioForm
from studio.forms.dye import choices_of, substances
from studio.forms.fields import AmountField, DayField, MoneyField, WhenField, WordsField
from studio.forms.once import OnceForm
from studio.forms.rows import RowsFormSet, rows_of
from studio.forms.supplies import MOST_G, SKEINS, PowderStrengthField, SupplyField, small_masses
from studio.models import Base

MOST_LINES = 30
LEAST = Decimal("0.001")
LINE_UNITS = (SKEINS, "g", "kg", "oz", "lb", "mL", "L", "fl_oz")
NO_PRICE = (
    "Carriage and duty are shared by price, so every line needs one. Write it, 0 for a gift; or leave carriage and "
    "duty empty, and put the prices right on the lots' own pages later."
)


def goods():
    """{"base-1": Base, "dye-3": Dye, "assistant-1": Assistant}: what can come in."""
    return {f"base-{base.pk}": base for base in Base.objects.filter(retired=False)} | substances()


class LineForm(StudioForm):
    """One line of a delivery: one lot."""

    what = forms.ChoiceField(label="What came", required=False)
    amount = SupplyField(
        LINE_UNITS, label="How much", required=False, above_zero=True, help_text="Yarn on cones in g or kg."
    )
    number = WordsField(
        label="Supplier's lot number",
        help_text="From the label or the ball band: lots differ.",
        max_length=60,
        required=False,
    )
    price = MoneyField(
        label="Price of this line", required=False, help_text="For all of it. Empty means not known yet."
    )
    strength = PowderStrengthField(label="Strength of a powder")
    tare = AmountField(
        small_masses(), label="Weight of the empty container", required=False, most=100_000,
        help_text="Then it can be weighed with what is in it.",
    )  # fmt: skip
    use_by = DayField(label="Use by", help_text="Only where the label says one.", required=False)

    def __init__(self, *args, goods=None, **kwargs):
        super().__init__(*args, **kwargs)
        self.goods = goods or {}
        self.fields["what"].choices = choices_of(self.goods)

    def clean(self):
        said = super().clean()
        if self.errors or not self.has_changed():
            return said
        if not said["what"]:
            self.add_error("what", "Choose what came, or empty this line.")
        elif said["amount"] is None:
            self.add_error("amount", "Write how much came, such as 10 skeins or 500 g.")
        else:
            self._measure()
        return said

    def _measure(self):
        """Work out the amount in the lot's own unit, and put off what does not belong to this kind of thing."""
        thing, said = self.goods[self.cleaned_data["what"]], self.cleaned_data
        kind = said["what"].split("-")[0]
        try:
            received = said["amount"].in_unit(
                thing.unit if kind == "assistant" else "g", thing.skein_g if kind == "base" else None
            )
        except ValueError as problem:
            self.add_error("amount", str(problem))
            return
        if not LEAST <= received <= MOST_G:
            self.add_error("amount", "That is too much or too little for one lot: check the number and its unit.")
        if said["strength"] is not None and kind != "dye":
            self.add_error("strength", "Only a dye powder has a strength here: leave it empty for this line.")
        self.received, self.kind, self.thing = received, kind, thing

    def lot_facts(self):
        """What `Lot.receive` takes."""
        said, tare = self.cleaned_data, self.cleaned_data["tare"]
        facts = {
            self.kind: self.thing,
            "received": self.received,
            "number": said["number"],
            "tare_g": None if tare is None else units.normalise(tare).number,
            "use_by": said["use_by"],
        }
        return facts | ({"strength_pct": said["strength"]} if self.kind == "dye" else {})


class LineRows(RowsFormSet):
    def clean(self):
        if not any(self.errors) and not self.rows():
            raise ValidationError("Nothing is in this delivery yet: fill in at least one line.")

    def rows(self):
        return [row for row in self.forms if row.cleaned_data.get("what")]


LineFormSet = rows_of(LineForm, extra=2, most=MOST_LINES, more="Add another line", base=LineRows)


class DeliveryForm(OnceForm):
    """Who sent it, when it came, and what was paid on top of the prices."""

    supplier = WordsField(label="Supplier", max_length=120, required=False)
    reference = WordsField(label="Invoice or order number", max_length=80, required=False)
    came_at = WhenField(label="Came", required=False, help_text="Empty means now.")
    carriage = MoneyField(label="Carriage", help_text="Shared over the lines by price, with the duty.", required=False)
    duty = MoneyField(
        label="Duty and the like", required=False, help_text="Shared over the lines by price, with the carriage."
    )

    def facts(self):
        said = self.cleaned_data
        return {"supplier": said["supplier"], "reference": said["reference"], "extras_minor": self.extras_minor()}

    def extras_minor(self):
        return (self.cleaned_data["carriage"] or 0) + (self.cleaned_data["duty"] or 0)


class OpeningForm(LineForm, OnceForm):
    """What is here already, when nobody remembers the delivery: one lot without one."""

    parts = (
        ("What it is", "One lot: what came together, with one number.", ("what", "amount", "came_at", "number")),
        ("What is known of it", "Leave empty what nobody knows.", ("price", "strength", "tare", "use_by")),
    )

    what = forms.ChoiceField(label="What is here")
    price = MoneyField(label="What it cost", required=False, help_text=LineForm.base_fields["price"].help_text)
    came_at = WhenField(label="Here since", required=False, help_text="Empty means now.")

    field_order = ["what", "amount", "number", "came_at", "price", "strength", "tare", "use_by"]

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["amount"].required = True

    def has_changed(self):
        return True
