"""Choosing a jar or bottle at the sink, and the amount that came out of it."""

from decimal import Decimal

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Max, OuterRef, Q, Subquery
from django.utils.html import format_html

from batches.telling import lot_colour
from batches.wording import amount_of
from studio import units, writing
from studio.forms.supplies import LocalAmountField
from studio.forms.text import tidy
from studio.forms.widgets import Choices, MeasureInput
from studio.models import Lot, Movement, Weighing
from studio.naming import lot_name, lot_number
from studio.templatetags.parts import swatch

SHOWN = 6
MOST_SHOWN = 300
LEAST = Decimal("0.001")  # what is kept: the milligram, the thousandth of a mL
MOST = Decimal(500_000)
OWN_UNIT = "own"

USED = Q(movements__kind__in=[Movement.Kind.USED, Movement.Kind.MADE_INTO])


def bottles():
    """Bottles made up, in mL."""
    return Lot.objects.filter(solution__isnull=False, unit="mL")


def powders():
    """Dye powders and dry mixes, in g."""
    return Lot.objects.filter(Q(dye__isnull=False) | Q(solution__isnull=False, unit="g"))


def assistants():
    """Assistants as bought, and bottles that hold no dye."""
    dyed = Lot.objects.filter(solution__isnull=False).filter(
        Q(contents__source__dye__isnull=False) | Q(contents__source__isnull=True)
    )
    return Lot.objects.filter(Q(assistant__isnull=False) | Q(solution__isnull=False)).exclude(pk__in=dyed.values("pk"))


def anything_that_goes_in():
    return Lot.objects.filter(base__isnull=True)


class LotField(forms.ModelChoiceField):
    """A jar or bottle. Any may be said, also one that the shelf calls empty: the log is of what happened."""

    widget = Choices

    def __init__(self, lots, **kwargs):
        super().__init__(queryset=lots(), empty_label=None, **kwargs)

    def offer(self, first=(), everything=False):
        """Show what is there, what `first` names, then what was used or weighed last. Returns how many stay hidden."""
        weighed = Weighing.objects.filter(lot=OuterRef("pk")).order_by("-at").values("at")[:1]
        lots = (
            self.queryset.named()
            .with_on_hand()
            .with_unweighed()
            .annotate(used_at=Max("movements__at", filter=USED), weighed_at=Subquery(weighed))
            .filter(Q(on_hand__gt=0) | Q(has_unweighed=True) | Q(pk__in=first))
        )
        order = {key: place for place, key in enumerate(first)}
        found = sorted(
            lots[:MOST_SHOWN],
            key=lambda lot: (order.get(lot.pk, len(order)), -taken_out_at(lot), str(lot)),
        )
        shown = found if everything else found[: max(SHOWN, len(order))]
        self.widget.choices = [(lot.pk, label_of(lot)) for lot in shown]
        return len(found) - len(shown)


def taken_out_at(lot):
    """When it was last in somebody's hands: used, or put on the scale for the day. Seconds."""
    return max((moment.timestamp() for moment in (lot.used_at, lot.weighed_at) if moment), default=0)


def label_of(lot):
    """One row of the list: the colour, the name, and what is left of it."""
    colour = lot_colour(lot)
    left = (
        "left unweighed since"
        if lot.on_hand <= 0 and lot.has_unweighed
        else f"{amount_of(max(lot.on_hand, Decimal(0)), lot.unit)} left"
    )
    which = lot_number(lot) if not lot.solution_id else ""
    return format_html(
        '{}<span>{}{}</span> <span class="end num">{}</span>',
        swatch(colour) if colour else "",
        lot_name(lot) if lot.solution_id or lot.dye_id else lot.substance,
        format_html(' <span class="sub">{}</span>', which) if which else "",
        left,
    )


class OwnUnitInput(MeasureInput):
    """The list of units begins with the unit that the jar or bottle is kept in: by its name where that is known."""

    kept_in = ""

    def get_context(self, name, value, attrs):
        context = super().get_context(name, value, attrs)
        offered = context["widget"]["units"]
        own = self.kept_in if self.kept_in in self.units_offered else OWN_UNIT
        first = [(key, words) for key, words in offered if key == own] or [(OWN_UNIT, "as listed")]
        offered = [*first, *(unit for unit in offered if unit not in first)]
        unit = value[1] if isinstance(value, tuple) and value[1] in self.units_offered else own
        context["widget"] |= {"units": offered, "unit": unit}
        return context


class GoneInField(LocalAmountField):
    """An amount of a jar or bottle as ``units.Amount``; its unit is OWN_UNIT where none was chosen or typed."""

    def __init__(self, offered, *, own=False, **kwargs):
        widget = {"widget": OwnUnitInput(())} if own else {}
        super().__init__(
            offered, readable=units.MASS + units.VOLUME, least=LEAST, most=MOST, above_zero=True, **widget, **kwargs
        )

    def to_python(self, value):
        typed, unit = value if isinstance(value, (tuple, list)) else (value, None)
        if unit not in (None, "", OWN_UNIT) or not isinstance(typed, str):
            return super().to_python(value)
        text = tidy(typed).strip()
        if not text:
            return None
        try:
            return units.read_amount(text, OWN_UNIT, self.readable, writing.current().spoons)
        except ValueError as problem:
            raise ValidationError(str(problem), code="unreadable") from None

    def validate(self, value):
        if value is not None and value.unit == OWN_UNIT:
            return  # judged by `kept_in`, when the jar or bottle is known
        super().validate(value)

    def begins_with(self, unit):
        """Name the unit where it is known what the amount is of."""
        self.widget.kept_in = unit

    def kept_in(self, value, unit, name):
        """The amount in `unit` ("g" or "mL"), as Decimal. Raises ValidationError with a sentence.

        `name`: of the jar or bottle, or what gives it when it is asked for.
        """
        if value.unit == OWN_UNIT:
            value = units.Amount(value.number, unit)
            self.validate(value)
        try:
            return units.to_ml(*value) if unit == "mL" else units.to_g(*value)
        except ValueError:
            raise ValidationError(
                f"{name() if callable(name) else name} is kept in {unit}, and {units.write_amount(value)} is not: "
                + ("weigh it, and write it in g." if unit == "g" else "write it in mL.")
            ) from None


def spoons():
    """The units of volume to offer: a syringe's, and the studio's own spoons."""
    own = writing.current().spoons
    return ("mL", f"{own}_tsp", f"{own}_tbsp", "L")


def spoons_or_g():
    """For what may be a liquid or a powder."""
    return (*spoons()[:3], "g")


def jugs():
    """The units of water."""
    return ("qt", "L", "mL") if writing.current().system == "us" else ("L", "mL")
