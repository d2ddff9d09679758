"""What a person used last at this pot's run: which jar or bottle, in which unit, and how much of each."""

from dataclasses import dataclass, field

from django.db.models import Exists, OuterRef

from studio import units
from studio.models import Lot

from .models import Addition
from .telling import UNIT_TYPED
from .wording import amount_of

RECENT = 60
AMOUNTS_SHOWN = 3
BY_WHOM = ("entry__by", "of_dye", "measure")


@dataclass
class LastUsed:
    """`own` and `lots`: keys of jars and bottles, the newest first; `lots` goes on with what others used.

    `units`: {lot: key of a unit}, and under "" the newest of all.
    """

    own: list = field(default_factory=list)
    lots: list = field(default_factory=list)
    units: dict = field(default_factory=dict)


def last_used(batch, person, lots):
    """Of this run, among `lots` (a queryset of what the page offers). One query."""
    rows = Addition.objects.standing().filter(entry__batch__run_id=batch.run_id, lot__in=lots).order_by("-entry__at")
    found, others = LastUsed(), []
    for lot, by, unit in rows.values_list("lot", "entry__by", "typed_unit")[:RECENT]:
        (found.own if by == person.pk else others).append(lot)
        if unit:
            found.units.setdefault(lot, unit)
            found.units.setdefault("", unit)
    found.own = list(dict.fromkeys(found.own))
    found.lots = list(dict.fromkeys([*found.own, *others]))
    return found


def measure_last_used(person, lot=None):
    """Key of the measure that this person filled last, with the dye of this lot (its key) if ever; else of what anybody
    filled, likewise; None before anybody did. One query.
    """
    rows = Addition.objects.standing().filter(measure__retired=False).order_by("-entry__at")
    rows = rows.annotate(of_dye=Exists(Lot.objects.filter(pk=lot, dye=OuterRef("lot__dye"))))
    found = [((by == person.pk, of_dye), key) for by, of_dye, key in rows.values_list(*BY_WHOM)[:RECENT]]
    return max(found, key=lambda one: one[0])[1] if found else None  # the first of the best: the newest


def amounts_said(offered, **which):
    """[(lot or None, "5|mL", "5 mL")]: the last amounts of each lot, in units that the page offers. One query.

    `which`: of which additions, such as those of these lots.
    """
    rows = Addition.objects.standing().filter(amount__isnull=False, **which).order_by("-entry__at")
    found = {}
    for lot, typed, unit, amount, kept_in in rows.values_list("lot", "typed", "typed_unit", "amount", "unit")[:RECENT]:
        number = UNIT_TYPED.sub("", typed) or typed or units.write_number(amount, digits=9)
        unit = unit or kept_in
        said = found.setdefault(lot, {})
        if unit in offered and len(said) < AMOUNTS_SHOWN:
            words = amount_of(amount, kept_in) if unit == kept_in else f"{number} {units.UNITS[unit].label}"
            said.setdefault(words, f"{number}|{unit}")
    return [(lot, value, words) for lot, said in found.items() for words, value in said.items()]
