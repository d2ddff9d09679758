"""Bases and what they are made of."""

from decimal import Decimal

from django import forms
from django.core.exceptions import ValidationError
from django.db import transaction

from studio import fibres, units
from studio.forms.base import StudioForm
from studio.forms.fields import MoneyField, PercentField, WholeField, WordsField
from studio.forms.named import NamedForm
from studio.forms.rows import RowsFormSet, rows_of
from studio.forms.supplies import LocalAmountField, lengths, masses, shown
from studio.models import Base, BaseFibre

MOST_FIBRES = 8
FIBRE_CHOICES = sorted(fibres.FIBRES.values()) + ["Mixed fibres"]
KEY_SHOWN = {words.casefold(): key for key, words in fibres.FIBRES.items()}


class BaseForm(NamedForm):
    """An undyed yarn as sold."""

    model = Base

    name = WordsField(label="Name", max_length=80)
    make_up = WordsField(label="Ply or thickness", max_length=80, required=False, help_text="Such as 4-ply or DK.")
    skein_weight = LocalAmountField(
        masses, label="Weight of a skein", above_zero=True, most=100_000, help_text="As the label says."
    )
    skein_length = LocalAmountField(
        lengths, label="Length of a skein", help_text="For the tag.", required=False, above_zero=True, most=1_000_000
    )
    superwash = forms.BooleanField(
        label="Superwash",
        help_text="Treated so that it does not felt: it takes dye faster, and its care line differs.",
        required=False,
    )
    supplier = WordsField(label="Mill or supplier", max_length=120, required=False)
    supplier_label = WordsField(
        label="What the mill's own label says",
        required=False,
        rows=3,
        help_text="Word for word, as proof of the fibre content.",
    )
    price = MoneyField(
        label="Usual price of a dyed skein", required=False, help_text="What a first is usually sold for."
    )
    low_skeins = WholeField(
        label="Low under", required=False, most=100_000, help_text="In skeins: the shelf says when it runs low."
    )
    dye_factor = PercentField(
        label="Dye it wants for the same colour",
        least=25,
        most=400,
        required=False,
        help_text="Against your usual base: 110 is a tenth more. Plans use it where a version was written for other "
        "bases. Empty is 100.",
    )
    note = WordsField(label="Note", required=False, rows=2)
    retired = forms.BooleanField(label="No longer used", required=False)

    @staticmethod
    def initial_of(base):
        return {
            "name": base.name,
            "make_up": base.make_up,
            "skein_weight": shown(base.skein_g, masses()),
            "skein_length": shown(base.skein_m, lengths()),
            "superwash": base.superwash,
            "supplier": base.supplier,
            "supplier_label": base.supplier_label,
            "price": base.price_minor,
            "low_skeins": base.low_skeins,
            "dye_factor": base.dye_factor_pct,
            "note": base.note,
            "retired": base.retired,
        }

    def facts(self):
        """The columns of a Base."""
        said = self.cleaned_data
        length = said["skein_length"]
        plain = ("name", "make_up", "superwash", "supplier", "supplier_label", "low_skeins", "note")
        return {name: said[name] for name in plain} | {
            "skein_g": units.normalise(said["skein_weight"]).number,
            "skein_m": None if length is None else units.normalise(length).number,
            "price_minor": said["price"],
            "dye_factor_pct": Decimal(100) if said["dye_factor"] is None else said["dye_factor"],
            "retired": said.get("retired", False),
        }

    def keep(self, rows):
        """The base with its fibre content, in one piece."""
        with transaction.atomic():
            base = super().keep()
            content, self.remarks = rows.fibres()
            base.write_fibres(content)
        return base


class FibreRow(StudioForm):
    """One fibre and its share. A row with neither is no row."""

    ORIGINS = [("", "Not stated"), ("virgin", "Virgin"), ("recycled", "Recycled")]
    PARTS = [
        ("", "An ordinary part of the yarn"),
        ("decorative", "A decorative thread of its own"),
        ("functional", "Does a job in a small amount"),
    ]

    fibre = WordsField(
        label="Fibre",
        help_text="As the label says it, such as wool or polyamide.",
        max_length=60,
        required=False,
        widget=forms.TextInput({"list": "fibre-names", "autocomplete": "off", "spellcheck": "false"}),
    )
    percent = PercentField(label="Share", required=False)
    breed = WordsField(
        label="Breed or grade", max_length=60, required=False, help_text="Such as Merino. It stays apart."
    )
    origin = forms.ChoiceField(
        label="Virgin or recycled", choices=ORIGINS, required=False, help_text="Only as stated in writing."
    )
    part = forms.ChoiceField(
        label="Its part in the yarn",
        help_text="The rules for tags treat such threads apart.",
        choices=PARTS,
        required=False,
    )

    def clean_fibre(self):
        text = self.cleaned_data["fibre"]
        if not text:
            return None
        if shown := KEY_SHOWN.get(text.casefold()):
            return fibres.TypedFibre(shown)
        try:
            return fibres.key_for(text)
        except ValueError as problem:
            raise ValidationError(str(problem)) from None

    def clean_percent(self):
        percent = self.cleaned_data["percent"]
        if percent == 0:
            raise ValidationError("0 % is no part of the yarn: write its share, or leave the row empty.")
        return percent

    def clean(self):
        said = super().clean()
        if "fibre" in self.errors or "percent" in self.errors:
            return said
        if said["fibre"] and said["percent"] is None:
            self.add_error("percent", "Write how much of the yarn this fibre is, in percent, such as 75.")
        elif not said["fibre"] and (said["percent"] is not None or said["breed"]):
            self.add_error("fibre", "Write which fibre this is, or empty the row.")
        return said

    def as_fibre(self, position):
        """An unsaved BaseFibre."""
        said, typed = self.cleaned_data, self.cleaned_data["fibre"]
        origin = said["origin"] or ("virgin" if typed.virgin else "recycled" if typed.recycled else "")
        return BaseFibre(
            position=position,
            fibre=typed.key,
            percent=said["percent"],
            breed=said["breed"] or typed.breed,
            virgin=origin == "virgin",
            recycled=origin == "recycled",
            decorative=said["part"] == "decorative",
            functional=said["part"] == "functional",
        )


class FibreRows(RowsFormSet):
    """The fibre content. It may be incomplete; it may not be more than all of the yarn."""

    def clean(self):
        if any(self.errors):
            return
        total = sum(row.cleaned_data["percent"] for row in self.rows())
        if total > 100 + fibres.SUM_TOLERANCE:
            raise ValidationError(
                f"The fibres add up to {units.write_number(total)} %, which is more than all of the yarn: "
                "correct them from the supplier's label."
            )

    def rows(self):
        """The rows with a fibre in them."""
        return [row for row in self.forms if row.cleaned_data.get("fibre")]

    def fibres(self):
        """Unsaved BaseFibres, and what a person should look at once more."""
        rows = self.rows()
        remarks = [row.cleaned_data["fibre"].note for row in rows if row.cleaned_data["fibre"].note]
        return [row.as_fibre(place) for place, row in enumerate(rows, 1)], remarks


FibreFormSet = rows_of(FibreRow, extra=2, most=MOST_FIBRES, more="Add another fibre", base=FibreRows)


def fibre_rows_of(base):
    """What the rows of a base's fibre content start with."""
    return [
        {
            "fibre": fibres.FIBRES.get(row.fibre, "Mixed fibres"),
            "percent": row.percent,
            "breed": row.breed,
            "origin": "virgin" if row.virgin else "recycled" if row.recycled else "",
            "part": "decorative" if row.decorative else "functional" if row.functional else "",
        }
        for row in base.fibres.all()
    ]
