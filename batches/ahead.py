"""Amounts of the plan that can stand weighed before their step: by jar or bottle, so that each is opened once."""

from dataclasses import dataclass, field
from decimal import Decimal

from django.db.models import Count, Q

from recipes.models import How
from studio.naming import lot_name, lot_number

from . import hazards
from .models import Batch, Entry, PlanLine, State
from .telling import HOW_GOES_WITHOUT_SAYING, lot_colour
from .wording import amount_of, capital, precise


@dataclass
class Portion:
    """One planned amount of one pot. `entry`: that it stands weighed; None while it does not."""

    line: PlanLine
    entry: Entry | None = None

    @property
    def batch(self):
        return self.line.batch

    @property
    def told(self):
        return amount_of(self.line.told, self.line.unit) if self.line.told is not None else ""

    @property
    def poured(self):
        """The mL of it that the pot is poured, where it is weighed once for all pots; "" elsewhere."""
        return amount_of(self.line.pour_ml, "mL") if self.line.pour_ml is not None else ""

    @property
    def exact(self):
        """As it was reckoned, where that differs from what is told; "" otherwise."""
        exact = self.line.exact
        return "" if exact is None or exact == self.line.told else precise(exact, self.line.unit)

    @property
    def stands(self):
        return precise(self.line.stands, self.line.unit)

    @property
    def otherwise(self):
        """Whether it stands weighed otherwise than told."""
        return self.line.stands != self.line.told

    @property
    def words(self):
        """How and where it goes in."""
        how = "" if self.line.how in HOW_GOES_WITHOUT_SAYING else How(self.line.how).label
        return ", ".join(part for part in (how, self.line.place) if part)


@dataclass
class Jar:
    """One jar or bottle, and all that is to come out of it."""

    key: str
    name: str
    which: str
    colour: str
    unit: str
    portions: list = field(default_factory=list)

    @property
    def to_weigh(self):
        return [one for one in self.portions if one.entry is None]

    @property
    def total(self):
        """What is still to be weighed of it; "" where some amount is not told."""
        amounts = [one.line.told for one in self.to_weigh]
        return "" if None in amounts else amount_of(sum(amounts, Decimal(0)), self.unit)


@dataclass
class PotLeft:
    """How many amounts of a pot are still to be weighed as told."""

    batch: Batch
    left: int = 0


@dataclass
class Day:
    """What one day's plans want weighed; today's with what is left from before."""

    day: object
    jars: list
    pots: list  # [PotLeft] of several amounts


@dataclass
class Left:
    """A day that something is planned for: how many amounts are still to be weighed, of which runs."""

    day: object
    amounts: int = 0
    codes: list = field(default_factory=list)


def day_ahead(day, today):
    """The `Day`. A fixed number of queries."""
    lines = list(_named(_wanted().filter(**_on(day, today)).with_stands()))
    entries = _weighed(lines)
    portions = [Portion(line, entries.get(line.pk)) for line in lines]
    return Day(day, _jars(portions), _pots(portions))


def days_left(today):
    """[Left] of today and the days after, in order, of those that something is planned for. One query."""
    rows = _wanted().order_by("batch__run__day", "batch__run").values("batch__run__day", "batch__run__code")
    found = {}
    for row in rows.annotate(left=Count("pk", filter=Q(weighed=False))):
        day = max(row["batch__run__day"], today)
        one = found.setdefault(day, Left(day))
        one.amounts += row["left"]
        one.codes.append(row["batch__run__code"])
    return list(found.values())


def _on(day, today):
    return {"batch__run__day__lte": day} if day == today else {"batch__run__day": day}


def _wanted():
    """Planned amounts of open pots that are not in yet. Water is measured where it is poured."""
    open_pots = Batch.objects.filter(state__in=[State.PLANNED, State.RUNNING])
    lines = PlanLine.objects.filter(batch__in=open_pots, water=False).with_done().filter(done=False)
    return lines.exclude(dye__isnull=True, assistant__isnull=True, solution__isnull=True)


def _named(lines):
    named = lines.with_bottles().select_related("batch__run__colourway", "batch__vessel")
    return named.order_by("batch__run__day", "batch__run", "position", "batch__number")


def _weighed(lines):
    """{plan line id: the newest standing entry that says it is weighed, with who did it}."""
    entries = Entry.objects.standing().filter(kind=Entry.Kind.WEIGHED, plan_line__in=[line.pk for line in lines])
    return {entry.plan_line_id: entry for entry in entries.select_related("by").in_order()}


def _jars(portions):
    """[Jar], those with nothing left to weigh last."""
    found = {}
    for one in portions:
        lot, line = one.line.lot, one.line
        key = f"lot-{lot.pk}" if lot else f"no-lot-{line.dye_id}-{line.assistant_id}-{line.solution_id}"
        if key not in found:
            found[key] = _jar(key, line)
        found[key].portions.append(one)
    return sorted(found.values(), key=lambda jar: (not jar.to_weigh, jar.name))


def _jar(key, line):
    lot = line.lot
    if lot is None:
        colour = line.dye.colour if line.dye_id else ""
        return Jar(key, capital(line.name), "no jar or bottle was planned", colour, line.unit)
    return Jar(key, lot_name(lot), lot_number(lot), lot_colour(lot), line.unit or lot.unit)


def _pots(portions):
    found = {}
    for one in portions:
        if one.entry is None and one.line.is_measured:
            found.setdefault(one.line.batch_id, PotLeft(one.batch)).left += 1
    return [pot for pot in found.values() if pot.left > 1]


def cautions_of(day):
    """(cautions, dyes and assistants with data sheets) for whoever weighs these."""
    lines = [one.line for jar in day.jars for one in jar.to_weigh]
    keys = [key for line in lines for key in hazards.of_line(line)]
    return keys, [thing for line in lines for thing in hazards.sheets_of_line(line)]
