"""What can be done about one lot, and counting many at once."""

from django.core.exceptions import ValidationError

from studio import shelf_words
from studio.forms.base import dress
from studio.forms.fields import DayField, MoneyField, WhenField, WordsField
from studio.forms.once import OnceForm
from studio.forms.supplies import (
    MOST_G,
    SKEINS,
    PowderStrengthField,
    SupplyField,
    masses,
    small_masses,
    volumes,
)


def units_for(lot):
    """The units a lot is counted in, its usual one first."""
    if lot.base_id:
        in_skeins = shelf_words.came_in_skeins(lot.received, lot.skein_g)
        return (SKEINS, *masses()) if in_skeins else (*masses(), SKEINS)
    if lot.dye_id or (lot.is_bottle and lot.unit == "g"):
        return small_masses()
    return masses() if lot.unit == "g" else volumes()


def counted(supply, lot):
    """A counted amount in the lot's unit. Raises ValueError with a sentence."""
    amount = supply.in_unit(lot.unit, lot.skein_g)
    if amount > MOST_G:
        raise ValueError("That is more than a shelf holds: check the number and its unit.")
    return amount


class CountForm(OnceForm):
    """So much was there, at this time."""

    at = WhenField(label="Counted at", required=False, help_text="Empty means now.")
    why = WordsField(label="Note", max_length=200, required=False)

    def __init__(self, *args, lot, **kwargs):
        super().__init__(*args, **kwargs)
        self.lot = lot
        self.fields["amount"] = SupplyField(units_for(lot), label="How much is there", help_text="0 if it is all gone.")
        dress(self.fields["amount"], "How much is there")
        self.order_fields(["amount", "at", "why"])

    def clean_amount(self):
        try:
            return counted(self.cleaned_data["amount"], self.lot)
        except ValueError as problem:
            raise ValidationError(str(problem)) from None


class WasteForm(OnceForm):
    """The rest, or some of it, was thrown away."""

    why = WordsField(label="Why", max_length=200, required=False, help_text="Such as spilled, or past its use.")

    def __init__(self, *args, lot, **kwargs):
        self.lot = lot
        super().__init__(*args, **kwargs)


class CorrectionForm(OnceForm):
    """Something learned about a lot since it came."""

    cost = MoneyField(
        label="What all of it cost", required=False, help_text="The whole lot, with its share of carriage and duty."
    )
    strength = PowderStrengthField(label="Strength of the powder")
    hue = WordsField(
        label="How its hue differs",
        max_length=200,
        required=False,
        help_text="In words, such as bluer than the last. Shown wherever the lot is taken; no amount corrects it.",
    )
    use_by = DayField(label="Use by", required=False)
    why = WordsField(label="How you know", max_length=200, required=False)

    def __init__(self, *args, lot, **kwargs):
        super().__init__(*args, **kwargs)
        if not lot.dye_id:
            del self.fields["strength"], self.fields["hue"]
        if lot.is_bottle:
            del self.fields["cost"]  # a bottle costs what went into it

    def clean(self):
        said = super().clean()
        known = said.get("hue") or any(said.get(name) is not None for name in ("cost", "strength", "use_by"))
        if not self.errors and not known:
            raise ValidationError("Nothing is put right yet: fill in at least one of these.")
        return said

    def facts(self):
        """What `Lot.correct` takes."""
        said = self.cleaned_data
        facts = {"cost_minor": said.get("cost"), "strength_pct": said.get("strength"), "use_by": said["use_by"]}
        return facts | {"hue": said.get("hue", ""), "why": said["why"]}


class UndoForm(OnceForm):
    """Takes back a movement that was a mistake."""

    why = WordsField(label="Why", max_length=200, required=False)

    def __init__(self, *args, lot, **kwargs):
        super().__init__(*args, **kwargs)
        self.lot = lot


class ShelfCountForm(OnceForm):
    """Many lots counted at once: one number each, an empty box for what was not counted."""

    def __init__(self, *args, lots, **kwargs):
        super().__init__(*args, **kwargs)
        self.lots = {f"lot-{lot.pk}": lot for lot in lots}
        for name, lot in self.lots.items():
            self.fields[name] = SupplyField(units_for(lot), label=str(lot), required=False)
            dress(self.fields[name], str(lot))

    def clean(self):
        said = super().clean()
        for name, lot in self.lots.items():
            if said.get(name) is None:
                continue
            try:
                said[name] = counted(said[name], lot)
            except ValueError as problem:
                self.add_error(name, str(problem))
        if not self.errors and not self.counts():
            raise ValidationError("Nothing is counted yet: write how much there is of at least one.")
        return said

    def counts(self):
        """Pairs of a lot and what was there, in its unit."""
        return [(lot, said) for name, lot in self.lots.items() if (said := self.cleaned_data.get(name)) is not None]
