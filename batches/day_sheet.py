"""A day's work by dye: of each jar and bottle what every run and pot takes, what is in already, and what is left."""

from dataclasses import dataclass, field
from decimal import Decimal

from recipes.mixing import usual_volume
from studio import units
from studio.models import Lot, Solution
from studio.naming import lot_name, lot_number

from . import days
from .models import PlanLine, Run, State
from .plan_sheet import make_url
from .telling import lot_colour
from .under_way import pots_in_words
from .wording import amount_of, capital

OPEN = [State.PLANNED, State.RUNNING]
ZERO = Decimal(0)


@dataclass
class Part:
    """What some pots of a run get alike out of one jar or bottle, in one step. `day_of`: `days.DayOf` of its run."""

    lines: list
    day_of: object = None

    @property
    def first(self):
        return self.lines[0]

    @property
    def run(self):
        return self.first.batch.run

    @property
    def pots(self):
        return capital(pots_in_words([line.batch for line in self.lines]))

    @property
    def each(self):
        told = self.first.told
        return "by eye" if told is None else amount_of(told, self.first.unit)

    @property
    def pour(self):
        """The mL that each is poured, where it was weighed once for all pots."""
        return "" if self.first.pour_ml is None else amount_of(self.first.pour_ml, "mL")

    @property
    def together(self):
        """What several pots take together; "" for one, and for what goes in by eye."""
        told, pots = self.first.told, len(self.lines)
        return "" if told is None or pots == 1 else amount_of(told * pots, self.first.unit)

    @property
    def all_done(self):
        return all(line.done for line in self.lines)

    @property
    def said(self):
        """What else there is to it: "26-012, day 1 of 2, the second half, 1 of 2 in already"."""
        said = (self.run.code, self.day_of, self.first.place, self._done, self._weighed)
        return ", ".join(str(part) for part in said if part)

    @property
    def _done(self):
        if self.all_done:
            return "in already"
        done = sum(line.done for line in self.lines)
        return f"{done} of {len(self.lines)} in already" if done else ""

    @property
    def _weighed(self):
        weighed = sum(line.weighed and not line.done for line in self.lines)
        if weighed == len(self.lines):
            return "stands weighed"
        return f"{weighed} of {len(self.lines)} stand weighed" if weighed else ""


@dataclass
class Source:
    """One jar or bottle, or a substance that no jar or bottle was planned for."""

    lot: object
    name: str
    which: str
    colour: str
    unit: str
    master: object = None  # studio.Solution, where it is made up here
    here: Decimal = ZERO  # on hand now, in `unit`; where no bottle was planned, in all bottles of `master`
    over: Decimal = ZERO  # how much more went in than there was, by the log
    parts: list = field(default_factory=list)

    @property
    def lines(self):
        return [line for part in self.parts for line in part.lines]

    @property
    def total(self):
        """What the day takes of it, told amounts alone."""
        return sum((line.told for line in self.lines if line.told is not None), ZERO)

    @property
    def still(self):
        """What has not gone in yet."""
        return sum((line.told for line in self.lines if line.told is not None and not line.done), ZERO)

    @property
    def by_eye(self):
        """Whether some of it goes in unmeasured, so that what will be left can't be said."""
        return any(line.told is None and not line.done for line in self.lines)

    @property
    def after(self):
        return self.here - self.still

    @property
    def short(self):
        return max(ZERO, -self.after)

    @property
    def all_done(self):
        return all(part.all_done for part in self.parts)

    # In words

    @property
    def in_all(self):
        return amount_of(self.total, self.unit) if self.total else "by eye"

    @property
    def stands(self):
        """What is there, what is still to go in, and what that leaves: "250 mL here now, 105 mL still to go in: …"."""
        if self.lot is None and not self.here:
            return "none of it is there" if self.still else ""
        here = f"{amount_of(self.here, self.unit)} here now"
        if self.over:
            here += f" ({amount_of(self.over, self.unit)} more went in than there was: weigh or count it)"
        if self.still:
            return f"{here}, {amount_of(self.still, self.unit)} still to go in{self._leaves}"
        return f"{here}; all of it is in" if self.all_done else here

    @property
    def _leaves(self):
        if self.by_eye:
            return " and some by eye"
        if self.short:
            return ""
        return f": {amount_of(self.after, self.unit)} will be left" if self.after else ": nothing will be left"

    @property
    def too_little(self):
        """ "80 mL short", of a jar or bottle that is there."""
        return f"{amount_of(self.short, self.unit)} short" if self.short and (self.lot is not None or self.here) else ""

    @property
    def more(self):
        """ "more" where there is some of it."""
        return "more" if self.lot is not None or self.here else ""

    @property
    def to_buy(self):
        """How much to buy of what is not made up here, a sentence."""
        if not self.short or self.master is not None:
            return ""
        return f"Buy at least {amount_of(self.short, self.unit)}, or take another lot."

    def make_more(self, back, bench):
        """("80 mL", the page that makes so much) for what is short of a bottle; None where nothing is to be made."""
        if not self.short or self.master is None:
            return None
        volume = usual_volume(self.short, [part.g_per_100 for part in self.master.parts.all()], bench)
        return amount_of(volume, self.unit), make_url(self.master, volume, back)


@dataclass
class Sheet:
    day: object
    dyes: list  # [Source]
    others: list
    runs: list


def sheet_of(day, today):
    """The `Sheet` of a day. Today's has also what is left of the days before. A fixed number of queries."""
    lines = _lines(day, today)
    lots = Lot.objects.with_on_hand().filter(pk__in={line.lot_id for line in lines if line.lot_id})
    on_hand = dict(lots.values_list("pk", "on_hand"))
    masters = _masters(lines)
    found = {}
    for line in lines:
        key = _key(line)
        if key not in found:
            found[key] = _source(line, masters, on_hand)
        _add(found[key], line)
    _look_for_bottles(found.values(), on_hand)
    sources = sorted(found.values(), key=lambda source: (source.all_done, source.name))
    dyes = [source for source in sources if _is_dye(source)]
    runs = list({line.batch.run_id: line.batch.run for line in lines}.values())
    of = days.days_of(runs)
    for part in (part for source in sources for part in source.parts):
        part.day_of = of.get(part.run.pk)
    return Sheet(day, dyes, [source for source in sources if source not in dyes], runs)


def days_with_plans(today):
    """[(day, how many runs)] of today and the days after, those that something is planned or running for."""
    counted = {}
    for day in Run.objects.open().order_by("day").values_list("day", flat=True):
        counted[max(day, today)] = counted.get(max(day, today), 0) + 1
    return sorted(counted.items())


def _lines(day, today):
    lines = PlanLine.objects.filter(batch__state__in=OPEN, batch__run__state__in=OPEN, water=False).with_done()
    lines = lines.exclude(dye__isnull=True, assistant__isnull=True, solution__isnull=True)
    lines = lines.filter(batch__run__day__lte=day) if day == today else lines.filter(batch__run__day=day)
    named = lines.with_bottles().select_related("batch__run__colourway", "batch__vessel")
    named = named.prefetch_related("lot__solution__parts", "solution__parts")
    found = named.order_by("batch__run__day", "batch__run_id", "position", "batch__number")
    return [line for line in found if line.batch.run.day == day or not line.done]


def _key(line):
    if line.lot_id:
        return ("lot", line.lot_id)
    return ("none", line.dye_id, line.assistant_id, line.solution_id, line.unit, planned_pct(line))


def planned_pct(line):
    """Percent of the bottle that a line without one was planned for, from its dye and its volume."""
    known = line.unit == "mL" and line.dye_id and line.dye_g and line.exact
    return (100 * line.dye_g / line.exact).quantize(Decimal("0.0001")) if known else None


def name_without_lot(line):
    """ "Ochre 1 %" of a line that no bottle was planned for, "Ochre" where it is not known to be out of one."""
    strength = planned_pct(line)
    return capital(f"{line.name} {units.write_pct(strength)}" if strength else line.name)


def _masters(lines):
    """{(dye key, percent): Solution} for lines that no bottle was planned for. Two queries, or none."""
    dyes = {line.dye_id for line in lines if line.lot_id is None and planned_pct(line)}
    if not dyes:
        return {}
    found = {}
    for master in Solution.objects.filter(parts__dye__in=dyes).distinct().prefetch_related("parts"):
        if (part := master.only_part) is not None:
            found[part.dye_id, part.g_per_100] = master
    return found


def _look_for_bottles(sources, on_hand):
    """What is here of bottles that nobody planned to take, as they were made since. A query, or none."""
    wanting = {source.master.pk: source for source in sources if source.lot is None and source.master is not None}
    if wanting:
        bottles = Lot.objects.with_on_hand().filter(solution__in=wanting).exclude(pk__in=on_hand)
        for master, there in bottles.values_list("solution", "on_hand"):
            wanting[master].here += max(ZERO, there or ZERO)


def _source(line, masters, on_hand):
    lot = line.lot
    if lot is not None:
        there = on_hand.get(lot.pk) or ZERO
        named = lot_name(lot), lot_number(lot), lot_colour(lot)
        return Source(lot, *named, lot.unit, lot.solution, max(ZERO, there), over=max(ZERO, -there))
    colour = line.dye.colour if line.dye_id else ""
    master = line.solution or masters.get((line.dye_id, planned_pct(line)))
    name = str(master) if master else name_without_lot(line)
    return Source(None, name, "no jar or bottle was planned", colour, line.unit, master)


def _add(source, line):
    """Put a line to those of its run and step that get the same."""
    for part in source.parts:
        first = part.first
        if (first.batch.run_id, first.position, first.told, first.pour_ml, first.place) == (
            line.batch.run_id,
            line.position,
            line.told,
            line.pour_ml,
            line.place,
        ):
            part.lines.append(line)
            return
    source.parts.append(Part([line]))


def _is_dye(source):
    lot = source.lot
    if lot is None:
        return bool(source.lines[0].dye_id or source.lines[0].solution_id)
    return bool(lot.dye_id or lot.solution_id)
