"""The shelf: everything that is here, what plans have spoken for, and what is left free. A fixed number of queries."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import timedelta
from decimal import Decimal
from typing import NamedTuple

from django.db.models import Prefetch, Q
from django.utils import timezone

from batches.models import promised_by_lot
from recipes import bottles
from studio.models import Assistant, Base, Dye, Lot, Measure, MeasureWeighing, Tool, Vessel

LOW_SHARE = Decimal("0.1")  # of a bottle or an assistant; common practice, no source
LOW_POWDER_G = Decimal(10)
OLD_AFTER = timedelta(weeks=6)  # a stock solution without a use-by date; common practice, no source
ZERO = Decimal(0)


class Held(NamedTuple):
    """One lot, and how much of it is here, promised to plans, and free, in the lot's own unit."""

    lot: Lot
    here: Decimal
    promised: Decimal
    free: Decimal
    strength: Decimal | None = None  # percent, of a bottle as it was really made
    age: timedelta | None = None
    past_use_by: bool = False
    dyes: tuple = ()  # (colour, share) of what a bottle or jar shows

    @property
    def low(self):
        if self.lot.dye_id:
            return self.here < LOW_POWDER_G
        return self.here < self.lot.received * LOW_SHARE

    @property
    def short(self):
        """How much more plans want than there is."""
        return max(ZERO, -self.free)

    @property
    def old(self):
        return self.lot.is_bottle and self.lot.use_by is None and self.age is not None and self.age >= OLD_AFTER

    @property
    def weeks(self):
        return self.age.days // 7


@dataclass
class OfBase:
    """A base with its lots."""

    base: Base
    lots: list[Held] = field(default_factory=list)

    @property
    def low(self):
        """Whether less is free than the studio wants there to be."""
        under = self.base.low_skeins
        return under is not None and sum(held.free for held in self.lots) < under * self.base.skein_g


@dataclass
class OfThing:
    """A dye or an assistant with its lots."""

    thing: object
    lots: list[Held] = field(default_factory=list)


@dataclass
class Shelf:
    yarn: list[OfBase]
    bottles: list[Held]
    powders: list[Held]
    dyes_without_powder: list[Dye]
    assistants: list[OfThing]
    vessels: list[Vessel]
    tools: list[Tool]
    measures: list[Measure]


def shelf(now):
    """Everything on the shelf at `now`. The same number of queries whatever is on it."""
    promised = promised_by_lot()
    lots = bottles.with_contents(Lot.objects.all()).with_unweighed().select_related("base")
    by_kind = defaultdict(list)
    for lot in lots.filter(~Q(on_hand=0) | Q(pk__in=promised)):
        by_kind[_kind(lot)].append(_held(lot, promised.get(lot.pk, ZERO), now))
    dyes = list(Dye.objects.filter(retired=False))
    with_powder = {held.lot.dye_id for held in by_kind["dye"]}
    weighings = Prefetch("weighings", MeasureWeighing.objects.select_related("dye").order_by("at", "pk"))
    return Shelf(
        yarn=_yarn(by_kind["base"]),
        bottles=sorted(by_kind["solution"], key=lambda held: (str(held.lot).casefold(), held.lot.came_at)),
        powders=sorted(by_kind["dye"], key=lambda held: (held.lot.dye.name.casefold(), held.lot.came_at)),
        dyes_without_powder=[dye for dye in dyes if dye.pk not in with_powder],
        assistants=_assistants(by_kind["assistant"]),
        vessels=list(Vessel.objects.filter(retired=False)),
        tools=list(Tool.objects.filter(retired=False)),
        measures=list(Measure.objects.filter(retired=False).prefetch_related(weighings)),
    )


def _kind(lot):
    return next(kind for kind in ("base", "dye", "assistant", "solution") if getattr(lot, f"{kind}_id"))


def _held(lot, promised, now):
    return Held(
        lot=lot,
        here=lot.on_hand,
        promised=promised,
        free=lot.on_hand - promised,
        strength=lot.strength() if lot.is_bottle else None,
        age=now - lot.came_at,
        past_use_by=lot.use_by_now is not None and lot.use_by_now < timezone.localdate(now),
        dyes=_seen(lot),
    )


def _seen(lot):
    """(colour, g) of the dyes that can be seen in it, most first."""
    if lot.dye_id:
        return ((lot.dye.colour, Decimal(1)),)
    if not lot.is_bottle:
        return ()
    shares = defaultdict(Decimal)
    for content in lot.contents.all():
        if content.source is not None and content.source.dye_id:
            shares[content.source.dye.colour] += content.g_per_100
    return tuple(sorted(shares.items(), key=lambda share: -share[1]))


def _yarn(held):
    """Every base in use, with its lots or without; and bases no longer used of which something is left."""
    bases = {base.pk: OfBase(base) for base in Base.objects.prefetch_related("fibres")}
    for each in held:
        bases[each.lot.base_id].lots.append(each)
    return [row for row in bases.values() if row.lots or not row.base.retired]


def _assistants(held):
    things = {thing.pk: OfThing(thing) for thing in Assistant.objects.all()}
    for each in held:
        things[each.lot.assistant_id].lots.append(each)
    return [row for row in things.values() if row.lots or not row.thing.retired]
