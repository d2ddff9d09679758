"""Amounts of the plan that can stand weighed before their step: by jar or bottle, so that each is opened once."""

from dataclasses import dataclass, field
from decimal import Decimal

from django.core.paginator import Page, Paginator
from django.db.models import Count, Q

from recipes.models import How
from studio.naming import lot_name, lot_number

from . import hazards
from .day_sheet import name_without_lot, planned_pct
from .models import Batch, Entry, PlanLine, State
from .telling import HOW_GOES_WITHOUT_SAYING, lot_colour
from .under_way import pots_in_words
from .wording import amount_of, capital, precise

FEW = 24  # amounts of a day that all stand on one page; of more, one jar is open at a time
A_PAGE = 40  # amounts of an open jar
SEVERAL = 3  # pots that one touch says it of; two have a touch each


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
    """One jar or bottle, and all that is to come out of it. `part`: what is drawn of it; None while it is shut."""

    key: str
    name: str
    which: str
    colour: str
    unit: str
    portions: list = field(default_factory=list)
    together: list = field(default_factory=list)  # [Together]
    part: Page | None = None

    @property
    def to_weigh(self):
        return [one for one in self.portions if one.entry is None]

    @property
    def total(self):
        """What is still to be weighed of it; "" where some amount is not told."""
        amounts = [one.line.told for one in self.to_weigh]
        return "" if None in amounts else amount_of(sum(amounts, Decimal(0)), self.unit)


@dataclass
class Together:
    """What several pots of a run get of one jar in one step, none of it weighed yet."""

    portions: list

    @property
    def line(self):
        return self.portions[0].line

    @property
    def pots(self):
        return capital(pots_in_words([one.batch for one in self.portions]))

    @property
    def amounts(self):
        """ "42 mL each", "40 mL to 52 mL": what the hands measure for each of them."""
        by_size = sorted(self.portions, key=lambda one: one.line.told)
        least, most = (one.poured or one.told for one in (by_size[0], by_size[-1]))
        return f"{least} each" if least == most else f"{least} to {most}"

    @property
    def done(self):
        """What the hands have done by then: "poured", "drawn up", "weighed"."""
        if all(one.poured for one in self.portions):
            return "poured"
        return "drawn up" if self.line.unit == "mL" else "weighed"


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


def open_jars(day, *, line="", key="", number=1):
    """Open all jars of a day with few amounts; else one: that of the line with this key, or the jar of this key, or
    the first with something left to weigh. `number`: the page of its amounts. What is asked for may be any text.
    """
    if sum(len(jar.portions) for jar in day.jars) <= FEW:
        for jar in day.jars:
            jar.part = Paginator(jar.portions, FEW).page(1)
        return
    for jar in day.jars:
        for place, one in enumerate(jar.portions):
            if str(one.line.pk) == line:
                jar.part = Paginator(jar.portions, A_PAGE).page(place // A_PAGE + 1)
                return
    jar = next((jar for jar in day.jars if jar.key == key), day.jars[0])
    jar.part = Paginator(jar.portions, A_PAGE).get_page(number)


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
        key = _key(one.line)
        if key not in found:
            found[key] = _jar(key, one.line)
        found[key].portions.append(one)
    for key, step in _together(portions):
        found[key].together.append(Together(step))
    return sorted(found.values(), key=lambda jar: (not jar.to_weigh, jar.name))


def _together(portions):
    """(jar key, portions) of steps that one touch can say of all pots: told in each, and all out of one jar."""
    steps = {}
    for one in portions:
        if one.entry is None:
            steps.setdefault((one.batch.run_id, one.line.position, _substance(one.line)), []).append(one)
    for step in steps.values():
        keys = {_key(one.line) for one in step}
        if len(step) >= SEVERAL and len(keys) == 1 and all(one.line.told for one in step):
            yield keys.pop(), step


def _substance(line):
    return line.dye_id, line.assistant_id, line.solution_id


def _key(line):
    """One word for what it is taken from: a lot, or what no lot was planned for, each strength of it by itself."""
    if line.lot:
        return f"lot-{line.lot.pk}"
    strength = str(planned_pct(line) or "").replace(".", "-")
    return "-".join(["no-lot", *(str(pk) for pk in _substance(line)), strength or "0"])


def _jar(key, line):
    lot = line.lot
    if lot is None:
        colour = line.dye.colour if line.dye_id else ""
        return Jar(key, name_without_lot(line), "no jar or bottle was planned", colour, line.unit)
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
