"""The shelf: everything that is here, what plans have spoken for, and what is left free. A fixed number of queries."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import timedelta
from decimal import Context, Decimal
from typing import NamedTuple

from django.db.models import Q
from django.utils import timezone

from batches.models import promised_by_lot
from recipes import bottles
from recipes.writing import fold
from studio.models import Assistant, Base, Dye, DyeClass, Lot, Measure, Solution, Tool, Vessel
from studio.naming import says_strength

LOW_SHARE = Decimal("0.1")  # of a bottle or an assistant; common practice, no source
LOW_POWDER_G = Decimal(10)
OLD_AFTER = timedelta(weeks=6)  # a stock solution without a use-by date; common practice, no source
NEAR = Decimal("0.005")  # of a strength: less is nothing a jug could show; common practice, no source
ZERO = Decimal(0)
BOTTLES = {  # what several of a kind are called
    Solution.Kind.STOCK: "Stock solutions",
    Solution.Kind.PAINTING: "Painting bottles",
    Solution.Kind.LIQUOR: "Kept liquor",
    Solution.Kind.DRY: "Dry mixes",
}


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

    @property
    def calls(self):
        """Whether there is something to see to: more wanted than here, too old, or nearly gone."""
        return bool(self.short or self.past_use_by or self.old or self.runs_low)

    @property
    def runs_low(self):
        """Yarn is low by its base, which knows how many skeins there should be."""
        return self.low and not self.lot.base_id

    @property
    def strength_unsaid(self):
        """Whether the bottle's true strength is something its name does not say."""
        if self.strength is None:
            return True
        said = Context(prec=2).plus(self.strength)
        near = abs(said - self.strength) <= NEAR * self.strength
        return not (near and says_strength(self.lot.solution.name, self.strength))


@dataclass
class OfBase:
    """A base with its lots."""

    base: Base
    lots: list[Held] = field(default_factory=list)

    @property
    def low(self):
        """Whether less is free than the studio wants there to be."""
        under = self.base.low_skeins
        return under is not None and self.free < under * self.base.skein_g

    @property
    def free(self):
        return max(sum((held.free for held in self.lots), ZERO), ZERO)


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

    def only(self, words):
        """The shelf with only what has all these words in its name, its lot number, or what is in it."""
        wanted = fold(words).split()

        def fits(*said):
            text = fold(" ".join(str(each) for each in said))
            return all(word in text for word in wanted)

        def held_fits(held):
            inside = [content.source.dye for content in held.lot.contents.all() if content.source_id]
            return fits(held.lot.substance, held.lot.number, *filter(None, inside))

        return Shelf(
            yarn=[
                row for row in self.yarn if fits(row.base, row.base.make_up, *(held.lot.number for held in row.lots))
            ],
            bottles=[held for held in self.bottles if held_fits(held)],
            powders=[held for held in self.powders if fits(held.lot.dye, held.lot.number)],
            dyes_without_powder=[dye for dye in self.dyes_without_powder if fits(dye)],
            assistants=[row for row in self.assistants if fits(row.thing, *(held.lot.number for held in row.lots))],
            vessels=[vessel for vessel in self.vessels if fits(vessel)],
            tools=[tool for tool in self.tools if fits(tool)],
            measures=[measure for measure in self.measures if fits(measure)],
        )

    @property
    def empty(self):
        """Whether nothing at all is written down yet."""
        return not any(vars(self).values())

    @property
    def racks(self):
        """(kind in words, the bottles of it): each on a board of its own."""
        return [
            (BOTTLES[kind], found)
            for kind, found in _grouped(self.bottles, Solution.Kind, lambda held: held.lot.solution.kind)
        ]

    @property
    def jars(self):
        """(class of dye in words, the jars of it)."""
        return [
            (kind.label, found) for kind, found in _grouped(self.powders, DyeClass, lambda held: held.lot.dye.dye_class)
        ]

    @property
    def calling(self):
        """Lots that somebody has to see to, the ones that plans wait for first; and bases that run low."""
        yarn = [held for row in self.yarn for held in row.lots]
        others = [held for row in self.assistants for held in row.lots]
        lots = [held for held in (*yarn, *self.bottles, *self.powders, *others) if held.calls]
        return sorted(lots, key=lambda held: (not held.short, not held.past_use_by))

    @property
    def low_bases(self):
        return [row for row in self.yarn if row.low]

    @property
    def none_left(self):
        """Assistants in use of which nothing is here."""
        return [row.thing for row in self.assistants if not row.lots]


def _grouped(rows, kinds, kind_of):
    groups = ((kind, [row for row in rows if kind_of(row) == kind]) for kind in kinds)
    return [(kind, found) for kind, found in groups if found]


def shelf(now):
    """Everything on the shelf at `now`. The same number of queries whatever is on it."""
    promised = promised_by_lot()
    lots = bottles.with_contents(Lot.objects.all()).with_unweighed().select_related("base")
    by_kind = defaultdict(list)
    for lot in lots.filter(~Q(on_hand=0) | Q(pk__in=promised)):
        by_kind[_kind(lot)].append(_held(lot, promised.get(lot.pk, ZERO), now))
    dyes = list(Dye.objects.filter(retired=False))
    with_powder = {held.lot.dye_id for held in by_kind["dye"]}
    return Shelf(
        yarn=_yarn(by_kind["base"]),
        bottles=sorted(by_kind["solution"], key=lambda held: (str(held.lot).casefold(), held.lot.came_at)),
        powders=sorted(by_kind["dye"], key=lambda held: (held.lot.dye.name.casefold(), held.lot.came_at)),
        dyes_without_powder=[dye for dye in dyes if dye.pk not in with_powder],
        assistants=_assistants(by_kind["assistant"]),
        vessels=list(Vessel.objects.filter(retired=False)),
        tools=list(Tool.objects.filter(retired=False)),
        measures=list(Measure.objects.filter(retired=False)),
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
        past_use_by=lot.is_past(timezone.localdate(now)),
        dyes=lot.colours(),
    )


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
