"""What was to be done and what was, line by line: as reckoned, as told to the hands, as logged, and how far off.

A row is one line of the plan in all pots that have it; its cells are the pots. What lies within a step of the tool, or
within what a measure can tell, is no deviation.
"""

from dataclasses import dataclass, field
from datetime import timedelta
from decimal import Decimal
from math import hypot

from django.db.models import F, Q

from studio import units, writing
from studio.models import Tool
from studio.units import NO_BREAK_SPACE

from . import depth
from .models import Entry, PlanLine, State
from .telling import SKIPPED, addition_colour, shared_g
from .under_way import pots_in_words
from .wording import amount_of, minutes

# A jug is marked so, a thermometer and a hand that looks at the clock tell no less: common practice, no source.
WATER_STEP_ML = Decimal(100)
TEMPERATURE_STEP_C = Decimal(2)
TIME_STEP_MIN = Decimal(2)
ON_THE_WAY = timedelta(hours=1)
ANOTHER_LOT = Decimal("0.02")  # of the dye, where it came from another bottle or jar than was planned


@dataclass
class Cell:
    """A line of the plan in one pot: the plan's side, then what its log says."""

    batch: object
    unit: str = ""
    exact: Decimal | None = None
    told: Decimal | None = None
    step: Decimal | None = None  # of the tool it is measured with
    lot: object = None
    dye_g: Decimal | None = None  # at the studio's standard strength, as planned
    temperature_c: Decimal | None = None
    minutes: Decimal | None = None

    done: bool = False
    at: object = None
    logged: Decimal | None = None
    others: dict = field(default_factory=dict)  # {unit: amount} where it was logged in another unit than planned
    another_lot: bool = False
    dye_in_g: Decimal = Decimal(0)
    unmeasured: bool = False
    by_measure: bool = False
    u: float | None = 0  # standard uncertainty of what went in by a measure; None where it is not known
    nobody_knows: bool = False
    left_out: str = ""
    done_c: Decimal | None = None
    read_c: Decimal | None = None  # the hottest that was read meanwhile
    took: Decimal | None = None  # minutes

    @property
    def by_dye(self):
        """Whether its dye is compared, as the amounts are of different things: another bottle, or powder instead."""
        return bool(self.dye_g) and (self.another_lot or bool(self.others))

    @property
    def to_compare(self):
        """(planned, logged, what the tool can't tell), or None where nothing can be said."""
        if not self.done or self.unmeasured or self.u is None:
            return None
        if self.by_dye:
            share = self.step / self.told if self.told and self.step else Decimal(0)
            return self.dye_g, self.dye_in_g, self.dye_g * max(share, ANOTHER_LOT)
        if self.told is None or self.logged is None or self.others:
            return None
        return self.told, self.logged, max(self.step or Decimal(0), 2 * Decimal(self.u))

    @property
    def off(self):
        """How far the log is from the plan: in the line's unit, or in g of dye (see `by_dye`); None for nothing."""
        return _off([self])

    @property
    def state(self):
        """ "not weighed", "left out: ran out of it", "not yet"; "" where it is told by its amount."""
        if self.done:
            return (
                "not weighed" if self.unmeasured and self.logged is None else "and some not weighed" * self.unmeasured
            )
        if self.nobody_knows:
            return "nobody knows"
        if self.left_out:
            return "left out" if self.left_out == SKIPPED else f"left out: {self.left_out}"
        return "not done" if self.batch.state in (State.FINISHED, State.ABANDONED) else "not yet"

    @property
    def amounts(self):
        """All that was logged, each unit by itself: "40 mL and 0.4 g"; "" for nothing known."""
        known = ([(self.unit, self.logged)] if self.logged is not None else []) + list(self.others.items())
        return (
            f"{'about ' if self.by_measure else ''}{' and '.join(amount_of(much, unit) for unit, much in known)}"
            * bool(known)
        )

    @property
    def words(self):
        """The cell in words, for a line of its own."""
        said = [f"told {amount_of(self.told, self.unit)}"] if self.told is not None else []
        if self.done:
            said += [self.amounts or self.conditions or ("" if self.unmeasured else "done")]
        said += [self.state, *off_words([self])]
        return ", ".join(word for word in said if word)

    @property
    def conditions(self):
        """How hot and how long it was, of a step: "85 °C, 45 min", with what was read."""
        return conditions(self.done_c, self.took) + (
            f", read {_c(self.read_c)}" if self.read_c is not None else ""
        ).removeprefix("" if self.done_c is not None or self.took is not None else ", ")


def _c(celsius):
    return units.write_c(celsius, writing.current().system)


def conditions(celsius, long):
    said = ([_c(celsius)] if celsius is not None else []) + ([minutes(long)] if long is not None else [])
    return ", ".join(said)


def _off(cells):
    compared = [cell.to_compare for cell in cells]
    if None in compared or not compared:
        return None
    planned, logged, untold = (sum(column, Decimal(0)) for column in zip(*compared, strict=True))
    if not any(cell.by_dye for cell in cells):
        untold = max(
            sum((cell.step or Decimal(0) for cell in cells), Decimal(0)),
            2 * Decimal(hypot(*(cell.u for cell in cells))),
        )
    return logged - planned if abs(logged - planned) > untold else None


def off_words(cells):
    """["5 mL over, 13 %", "6 °C under", "15 min longer"]: all in which the log is off."""
    said = []
    off = _off(cells)
    if off is not None:
        by_dye = any(cell.by_dye for cell in cells)
        planned = sum((cell.to_compare[0] for cell in cells), Decimal(0))
        much = f"{amount_of(depth.readable(abs(off)), 'g')} of dye" if by_dye else amount_of(abs(off), cells[0].unit)
        share = f", {units.write_pct(abs(off) * 100 / planned, 2)}" if planned else ""
        said.append(f"{much} {'over' if off > 0 else 'under'}{share}")
    said += _off_by(cells, "temperature_c", "hot_c", TEMPERATURE_STEP_C, _degrees)
    return said + _off_by(cells, "minutes", "took", TIME_STEP_MIN, _longer)


def _degrees(apart):
    system = writing.current().system
    much = (
        f"{units.write_number(abs(apart) * 9 / 5, 1)}{NO_BREAK_SPACE}°F"
        if system == "us"
        else f"{units.write_number(abs(apart), digits=2)}{NO_BREAK_SPACE}°C"
    )
    return f"{much} {'over' if apart > 0 else 'under'}"


def _longer(apart):
    return f"{minutes(abs(apart))} {'longer' if apart > 0 else 'shorter'}"


def _off_by(cells, planned, done, step, say):
    """[words] of the one distance in which all these pots are off alike; [] where they are not, or by too little."""
    apart = set()
    for cell in cells:
        told = getattr(cell, planned)
        was = (cell.read_c if cell.read_c is not None else cell.done_c) if done == "hot_c" else getattr(cell, done)
        apart.add(was - told if cell.done and told is not None and was is not None else None)
    off = apart.pop() if len(apart) == 1 else None
    return [say(off)] if off is not None and abs(off) > step else []


@dataclass
class Row:
    """One line of "plan and log", over all pots that have it."""

    name: str
    sub: str = ""
    fill: str = ""
    unit: str = ""
    planned_at_all: bool = True
    by_eye: bool = False
    notes: list = field(default_factory=list)  # what planning said of it, each sentence once
    cells: list = field(default_factory=list)

    # All pots together

    @property
    def of(self):
        return len(self.cells)

    @property
    def done(self):
        return sum(cell.done for cell in self.cells)

    @property
    def at(self):
        return min((cell.at for cell in self.cells if cell.at is not None), default=None)

    def _sum(self, name):
        known = [value for cell in self.cells if (value := getattr(cell, name)) is not None]
        return sum(known, Decimal(0)) if known else None

    @property
    def exact(self):
        return self._sum("exact")

    @property
    def planned(self):
        """What was told to the hands."""
        return self._sum("told")

    @property
    def logged(self):
        return self._sum("logged")

    @property
    def exactly(self):
        """The exact amount in words, where it reads otherwise than what was told; else ""."""
        if self.exact is None or self.planned is None:
            return ""
        exact = amount_of(self.exact, self.unit)
        return "" if exact == amount_of(self.planned, self.unit) else exact

    @property
    def amounts(self):
        """All that was logged in words, each unit by itself: "80 mL", "40 mL and 0.4 g"; "" for nothing known."""
        found = {}
        for cell in sorted(self.cells, key=lambda cell: bool(cell.others)):
            for unit, much in [(self.unit, cell.logged), *cell.others.items()]:
                if much is not None:
                    found[unit] = found.get(unit, Decimal(0)) + much
        said = " and ".join(amount_of(much, unit) for unit, much in found.items())
        return f"{'about ' if self.by_measure else ''}{said}" if said else ""

    @property
    def by_measure(self):
        return any(cell.by_measure for cell in self.cells)

    @property
    def unmeasured(self):
        return any(cell.unmeasured for cell in self.cells)

    @property
    def nobody_knows(self):
        return any(cell.nobody_knows for cell in self.cells)

    @property
    def off(self):
        return _off(self.cells)

    @property
    def over(self):
        return self.off if self.off and self.off > 0 else None

    @property
    def under(self):
        return -self.off if self.off and self.off < 0 else None

    @property
    def off_words(self):
        return off_words(self.cells)

    @property
    def to_do(self):
        """How hot and how long the plan has a step: "85 °C, 45 min"."""
        said = dict.fromkeys(conditions(cell.temperature_c, cell.minutes) for cell in self.cells)
        return "; ".join(word for word in said if word)

    @property
    def was_done(self):
        """How hot and how long it was, where all pots are alike in it; else "done"."""
        said = {cell.conditions for cell in self.cells if cell.done}
        return (said.pop() if len(said) == 1 else "") or "done"

    @property
    def states(self):
        """What is to be said of it beside its amount: "not weighed", "left out in pot 2", "1 of 2 pots"."""
        if not self.planned_at_all:
            return ["not weighed" if self.logged is None else "and some not weighed"] if self.unmeasured else []
        found = {}
        for cell in self.cells:
            if cell.state:
                found.setdefault(cell.state, []).append(cell.batch)
        if len(found) == 1 and len(next(iter(found.values()))) == self.of:
            return list(found)
        return [f"{state} in {pots_in_words(batches)}" if self.of > 1 else state for state, batches in found.items()]

    @property
    def hidden_off(self):
        """Whether pots are off that together are not, or of which another is not done yet."""
        return self.off is None and any(cell.off for cell in self.cells)

    @property
    def by_pot(self):
        """[(pots, words)] where the pots differ; [] where what is said of all is true of each."""
        found = {}
        for cell in self.cells:
            found.setdefault(cell.words, []).append(cell.batch)
        if len(found) < 2:
            return []
        return [(pots_in_words(batches).capitalize(), words) for words, batches in found.items()]


def plan_beside_log(run, standing):
    """[Row]: the plan's lines in order, each with what was logged for it; then what was not planned."""
    rows, by_line = planned_rows(run)
    extra, strengths = {}, strengths_of(standing)
    pots = {cell.batch.pk for cell in by_line.values()} | {entry.batch_id for entry in standing}
    for entry in standing:
        if entry.kind in Entry.GETTING_READY:
            continue  # it stands beside the pot, or is waited for
        cell = by_line.get(entry.plan_line_id)
        if cell is None and entry.kind == Entry.Kind.ADDITION:
            cell = unplanned_cell(extra, entry)
        if cell is not None:
            add_to(cell, entry, strengths)
    read_heat(by_line.values(), standing)
    for row in extra.values():
        rows.insert(after(rows, row.at), row)
    for row in rows:
        if row.of < len(pots):
            row.sub = ", ".join(part for part in (row.sub, pots_in_words([cell.batch for cell in row.cells])) if part)
    return rows


def after(rows, at):
    """Where something unplanned stands among the rows: after the last that was begun by then."""
    begun = [place for place, row in enumerate(rows, 1) if row.at is not None and row.at <= at]
    return begun[-1] if begun else 0


def planned_rows(run):
    """The rows of the plan, and the cell of each plan line: the same line of several pots is one row."""
    rows, by_line, at, tools = [], {}, {}, list(Tool.objects.filter(retired=False))
    # Of a plan that was written anew meanwhile, what was done by the earlier writing belongs here as well.
    counts = Q(edition=F("batch__edition")) | Q(done=True)
    lines = PlanLine.every.filter(batch__run=run).with_done().filter(counts)
    lines = lines.select_related(
        "dye", "assistant", "solution", "lot__solution", "lot__dye", "lot__assistant", "batch__vessel"
    )
    for line in lines.order_by("position", "batch__number"):
        # Pots of two versions may have different things in one place.
        key = line.position, line.dye_id, line.assistant_id, line.solution_id, line.water, line.unit, line.step
        key += () if line.is_amount else (line.words,)
        row = at.get(key)
        if row is None:
            row = at[key] = Row(
                name=f"{line.lot.substance}" if line.lot_id and line.lot.is_bottle else line.name,
                sub=", ".join(part for part in (line.place, line.basis) if part),
                fill=line.dye.colour if line.dye_id else "",
                unit=line.unit,
                by_eye=line.is_amount and line.told is None,
            )
            rows.append(row)
        elif line.basis and line.basis not in row.sub:
            row.sub = f"{row.sub}; {line.basis}"
        if line.note and line.note not in row.notes:
            row.notes.append(line.note)
        cell = by_line[line.pk] = planned_cell(line, tools)
        row.cells.append(cell)
    return rows, by_line


def planned_cell(line, tools):
    step = None
    if line.told is not None:
        step = WATER_STEP_ML if line.water else Tool.step_for(line.told, line.unit, tools)
    return Cell(
        line.batch,
        line.unit,
        line.exact,
        line.told,
        step,
        line.lot_id,
        line.dye_g,
        None if line.is_amount else line.temperature_c,
        None if line.is_amount else line.minutes,
    )


def unplanned_cell(extra, entry):
    """The cell of something that no line planned: the same thing in the same place is one row, in all pots."""
    addition = entry.addition
    key = addition.lot_id, addition.what, addition.other, addition.place
    row = extra.setdefault(
        key,
        Row(addition.name, addition.place, addition_colour(addition), addition.unit, planned_at_all=False),
    )
    cell = next((cell for cell in row.cells if cell.batch.pk == entry.batch_id), None)
    if cell is None:
        cell = Cell(entry.batch, addition.unit)
        row.cells.append(cell)
    return cell


def strengths_of(standing):
    """{powder lot key: its strength [%] as it is known by now} of all that these entries brought in. A query."""
    additions = (entry.addition for entry in standing if entry.kind == Entry.Kind.ADDITION)
    lots = {part.lot for addition in additions for part in addition.parts.all() if part.lot.dye_id}
    return {lot.pk: lot.strength_pct for lot in lots} | depth.strengths_since({lot.pk for lot in lots})


def add_to(cell, entry, strengths):
    if entry.kind == Entry.Kind.ANSWER:
        cell.nobody_knows = True
        return
    if entry.kind == Entry.Kind.WORDS:
        cell.left_out = entry.words or SKIPPED
        return
    cell.done, cell.at = True, cell.at or entry.at
    if entry.kind == Entry.Kind.STEP:
        said = entry.step
        cell.done_c = said.temperature_c if said.temperature_c is not None else cell.done_c
        cell.took = said.minutes if cell.took is None else cell.took + (said.minutes or 0)
    elif entry.kind == Entry.Kind.ADDITION:
        add_amount(cell, entry.addition, strengths)


def add_amount(cell, addition, strengths):
    cell.unit = cell.unit or addition.unit
    amount = addition.amount if addition.amount is not None else shared_amount(addition)
    if amount is None:
        cell.unmeasured = True
    elif addition.unit in ("", cell.unit):
        cell.logged = (cell.logged or 0) + amount
    else:
        cell.others[addition.unit] = cell.others.get(addition.unit, Decimal(0)) + amount
    cell.another_lot |= cell.lot is not None and addition.lot_id != cell.lot
    for part in addition.parts.all():
        cell.dye_in_g += part.amount * strengths.get(part.lot_id, 0) / 100
    if addition.by_measure:
        cell.by_measure = True
        known = cell.u is not None and addition.spread_g is not None
        cell.u = hypot(cell.u, addition.spread_g) if known else None


def shared_amount(addition):
    """What a weigh-in found for an unweighed powder; None where there is none.

    Of a bottle the shares are g of what is dissolved in it, and its line counts mL.
    """
    return shared_g(addition) if addition.lot_id and not addition.lot.is_bottle else None


def read_heat(cells, standing):
    """The hottest reading of each hot step: near in time, and not one that was taken on the way up to it."""
    hot = [cell for cell in cells if cell.at is not None and cell.temperature_c is not None]
    for entry in standing:
        if entry.kind != Entry.Kind.READING or entry.reading.temperature_c is None:
            continue
        read = entry.reading.temperature_c
        near = [cell for cell in hot if cell.batch.pk == entry.batch_id and _meanwhile(cell, entry.at, read)]
        for cell in sorted(near, key=lambda cell: abs(cell.at - entry.at))[:1]:
            cell.read_c = max(cell.read_c or read, read)


def _meanwhile(cell, at, read):
    """A step with a time lasts so long, before its touch or after it; one without is over when its heat is reached."""
    long = cell.took or cell.minutes
    if long is None:
        return abs(cell.at - at) <= ON_THE_WAY and read >= cell.temperature_c
    return abs(cell.at - at) <= timedelta(minutes=float(long))
