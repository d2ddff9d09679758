"""The form of the weigh-in: one number for each jar or bottle."""

from decimal import Decimal

from django import forms
from django.utils import timezone

from batches import weighin
from batches.telling import lot_colour
from batches.wording import amount_of, weight
from studio import writing
from studio.forms.base import QuietBoundField, dress
from studio.forms.fields import AmountField
from studio.forms.once import OnceForm
from studio.models import Weighing
from studio.naming import lot_name
from studio.units import to_g

MOST_G = 200_000
TWICE = 2  # what it should weigh: beyond that a digit too many is likelier than a delivery


class WeighInForm(OnceForm):
    """For each lot its weight now; what it weighs empty and weighed before, where nobody has said; and "it is right"
    where it looks wrong.
    """

    bound_field_class = QuietBoundField

    def __init__(self, data=None, *, lots, **kwargs):
        super().__init__(data, **kwargs)
        self.lots = lots
        units = ("oz", "g", "kg") if writing.current().system == "us" else ("g", "kg")
        for lot in lots:
            name = lot_name(lot)
            gross = AmountField(units, label=name, above_zero=True, most=MOST_G, required=False)
            gross.widget.attrs["enterkeyhint"] = "next"
            self._add(f"gross_{lot.pk}", gross)
            if lot.empty_g() is None:
                self._add(
                    f"empty_{lot.pk}",
                    AmountField(units, label=f"{name} empty, with its lid", most=MOST_G, required=False),
                )
            if lot.has_unweighed and not list(lot.weighings.all()):
                self._add(
                    f"opening_{lot.pk}",
                    AmountField(
                        units,
                        label=f"{name} before, if somebody noted it",
                        above_zero=True,
                        most=MOST_G,
                        required=False,
                    ),
                )
            if data is not None:
                self._add(f"sure_{lot.pk}", forms.BooleanField(label="It is right", required=False))

    def _add(self, name, field):
        self.fields[name] = field
        dress(field, field.label)

    def rows(self):
        """{lot id: what the page shows of it, with its fields}."""
        return {
            lot.pk: self._row(
                lot, max(lot.weighings.all(), key=lambda weighing: (weighing.at, weighing.pk), default=None)
            )
            for lot in self.lots
        }

    def _row(self, lot, last):
        empty_g = lot.empty_g()
        return {
            "lot": lot,
            "name": lot_name(lot),
            "gross": self[f"gross_{lot.pk}"],
            "colour": lot_colour(lot),
            "opening": self[f"opening_{lot.pk}"] if f"opening_{lot.pk}" in self.fields else None,
            "empty": self[f"empty_{lot.pk}"] if empty_g is None else None,
            "sure": self[f"sure_{lot.pk}"] if self._asks(lot) else None,
            "last": last,
            "last_said": weight(last.gross_g) if last else "",
            "empty_said": weight(empty_g) if empty_g is not None else "",
            "expected_said": self._expected(lot),
            "net_said": weight(last.gross_g - empty_g) if last and empty_g is not None else "",
        }

    @staticmethod
    def _expected(lot):
        """What the container should weigh by the shelf, where the empty one's weight is known; "" otherwise."""
        empty_g = lot.empty_g()
        if empty_g is None or lot.on_hand is None or lot.on_hand < 0:
            return ""
        if lot.has_unweighed:
            return f"at most {weight(empty_g + lot.on_hand)}"
        return f"about {weight(round(empty_g + lot.on_hand, 1))}"

    def _asks(self, lot):
        return lot.pk in getattr(self, "doubted", ()) or (self.is_bound and self[f"sure_{lot.pk}"].data)

    def clean(self):
        cleaned = super().clean()
        self.doubted = set()
        for lot in self.lots:
            if cleaned.get(f"gross_{lot.pk}") is not None:
                self._judge(lot)
            elif f"gross_{lot.pk}" not in self.errors and self._says_another(lot):
                self.add_error(f"gross_{lot.pk}", "Write what it weighs now as well: one weight alone says nothing.")
        if not self.errors and not self.weights():
            self.add_error(None, "Nothing is written yet: write the weight of at least one jar or bottle.")
        return cleaned

    def _says_another(self, lot):
        return any(self.cleaned_data.get(f"{name}_{lot.pk}") is not None for name in ("opening", "empty"))

    def _judge(self, lot):
        """A weight that can't be, or that says more is gone than there was, is asked about once."""
        gross, opening = self.grams(f"gross_{lot.pk}"), self.grams(f"opening_{lot.pk}")
        empty = self.grams(f"empty_{lot.pk}")
        try:
            for full in (gross, opening):
                weighin.refuse_lighter_than_empty(lot, full, empty)
        except ValueError as problem:
            self.add_error(f"gross_{lot.pk}", str(problem))
            return
        if not self.cleaned_data.get(f"sure_{lot.pk}"):
            self._doubt(lot, gross, opening)

    def _doubt(self, lot, gross, opening):
        """A digit too many or too few is better asked about than shared out over the sprinkles of a day."""
        span = weighin.look(lot, gross, at=timezone.now(), opening_g=opening)
        rest = span.result.rest if span is not None else Decimal(0)
        if rest > max(lot.on_hand, Decimal(0)):
            self.doubted.add(lot.pk)
            self.add_error(
                f"gross_{lot.pk}",
                f"That makes {amount_of(rest, lot.unit)} gone unweighed, more than the shelf says was left "
                f"({amount_of(max(lot.on_hand, Decimal(0)), lot.unit)}). Weigh it again, or tick “It is right”.",
            )
        elif gross > TWICE * (likely := self._likely(lot, gross)):
            self.doubted.add(lot.pk)
            self.add_error(
                f"gross_{lot.pk}",
                f"That is far more than the {weight(round(likely, 1))} it should be, or was. "
                "Weigh it again, or tick “It is right”.",
            )

    @staticmethod
    def _likely(lot, gross):
        """What the container may weigh: by the shelf, or as it was weighed before; `gross` where neither is known."""
        empty_g = lot.empty_g()
        known = [weighing.gross_g for weighing in lot.weighings.all()]
        if empty_g is not None and lot.on_hand is not None and lot.on_hand > 0:
            known.append(empty_g + lot.on_hand)
        return max(known, default=gross)

    def grams(self, name):
        """A weight in g as it will be kept, or None."""
        amount = self.cleaned_data.get(name)
        return None if amount is None else Weighing._meta.get_field("gross_g").rounded(to_g(*amount))

    def weights(self):
        """[(lot, gross g, opening g or None, empty g or None)] of what was written, in the order of the lots' keys."""
        written = [
            (lot, *(self.grams(f"{name}_{lot.pk}") for name in ("gross", "opening", "empty")))
            for lot in sorted(self.lots, key=lambda lot: lot.pk)
        ]
        return [row for row in written if row[1] is not None]
