"""What was to be done and what was, line by line, over all pots of a run together."""

from dataclasses import dataclass, field
from decimal import Decimal
from math import hypot

from django.db.models import F, Q

from studio.models import Tool

from .models import Entry, PlanLine
from .telling import addition_colour, shared_g


@dataclass
class Row:
    """One line of "plan and log": what was to be done, what was, over all pots together."""

    name: str
    sub: str = ""
    fill: str = ""
    unit: str = ""
    planned: Decimal | None = None
    logged: Decimal | None = None
    unmeasured: bool = False
    nobody_knows: bool = False
    done: int = 0
    of: int = 0
    at: object = None
    planned_at_all: bool = True
    step: Decimal | None = None  # of the tool it is measured with: what it can't tell is no deviation
    by_measure: bool = False
    notes: list = field(default_factory=list)  # what planning said of it, each sentence once
    u: float = 0  # standard uncertainty of what went in by a measure; None where it is not known

    @property
    def off(self):
        """How far the log is from the plan, in the line's unit; None where it can't be said or is nothing."""
        if self.planned is None or self.logged is None or self.unmeasured or self.done < self.of:
            return None
        off = self.logged - self.planned
        return off if self.u is not None and abs(off) > self.untold else None

    @property
    def untold(self):
        """What the tool, or the measure (twice its uncertainty, GUM 6.2.1 with k = 2), can't tell from nothing."""
        return max((self.step or 0) * max(1, self.of), 2 * Decimal(self.u))

    @property
    def over(self):
        return self.off if self.off and self.off > 0 else None

    @property
    def under(self):
        return -self.off if self.off and self.off < 0 else None


def plan_beside_log(run, standing):
    """[Row]: the plan's lines in order, each with what was logged for it; then what was not planned."""
    rows, by_line = planned_rows(run)
    extra = {}
    for entry in standing:
        if entry.kind in Entry.GETTING_READY:
            continue  # it stands beside the pot, or is waited for
        row = by_line.get(entry.plan_line_id)
        if row is None and entry.kind == Entry.Kind.ADDITION:
            row = extra.setdefault(what_went_in(entry), unplanned_row(entry.addition))
        if row is not None:
            add_to(row, entry)
    for row in extra.values():
        rows.insert(after(rows, row.at), row)
    return rows


def after(rows, at):
    """Where something unplanned stands among the rows: after the last that was begun by then."""
    begun = [place for place, row in enumerate(rows, 1) if row.at is not None and row.at <= at]
    return begun[-1] if begun else 0


WATER_STEP_ML = Decimal(100)  # as a jug is marked; common practice, no source


def planned_rows(run):
    """The rows of the plan, and which row each plan line belongs to: a line's pots are one row."""
    rows, by_line, at, tools = [], {}, {}, list(Tool.objects.filter(retired=False))
    # Of a plan that was written anew meanwhile, what was done by the earlier writing belongs here as well.
    counts = Q(edition=F("batch__edition")) | Q(done=True)
    named = PlanLine.every.select_related("dye", "assistant", "solution", "lot__solution", "batch")
    lines = named.filter(batch__run=run).with_done().filter(counts)
    for line in lines.order_by("position", "batch__number"):
        key = the_same(line)
        row = at.get(key)
        if row is None:
            row = at[key] = Row(
                name=f"{line.lot.substance}" if line.lot_id and line.lot.is_bottle else line.name,
                sub=", ".join(part for part in (line.place, line.basis) if part),
                fill=line.dye.colour if line.dye_id else "",
                unit=line.unit,
            )
            rows.append(row)
        elif line.basis and line.basis not in row.sub:
            row.sub = f"{row.sub}; {line.basis}"
        row.of += 1
        by_line[line.pk] = row
        if line.note and line.note not in row.notes:
            row.notes.append(line.note)
        if line.told is not None:
            row.planned = (row.planned or 0) + line.told
            row.step = WATER_STEP_ML if line.water else Tool.step_for(line.told, line.unit, tools)
    return rows, by_line


def the_same(line):
    """What tells one planned line from another: pots may be planned from different versions."""
    substance = line.dye_id, line.assistant_id, line.solution_id, line.water
    return line.position, line.step, substance, "" if line.is_amount else line.words


def what_went_in(entry):
    """What tells one unplanned addition from another: the same thing in the same place is one row, in all pots."""
    addition = entry.addition
    return addition.lot_id, addition.what, addition.other, addition.place


def unplanned_row(addition):
    return Row(
        name=addition.name,
        sub=addition.place,
        fill=addition_colour(addition),
        unit=addition.unit,
        planned_at_all=False,
    )


def add_to(row, entry):
    if entry.kind == Entry.Kind.ANSWER:
        row.nobody_knows = True
        return
    row.done += 1
    row.at = row.at or entry.at
    if entry.kind != Entry.Kind.ADDITION:
        return
    addition = entry.addition
    row.unit = row.unit or addition.unit
    amount = addition.amount if addition.amount is not None else shared_amount(addition)
    if amount is None:
        row.unmeasured = True
    else:
        row.logged = (row.logged or 0) + amount
    if addition.by_measure:
        row.by_measure = True
        known = row.u is not None and addition.spread_g is not None
        row.u = hypot(row.u, addition.spread_g) if known else None


def shared_amount(addition):
    """What a weigh-in found for an unweighed powder; None where there is none.

    Of a bottle the shares are g of what is dissolved in it, and its line counts mL.
    """
    return shared_g(addition) if addition.lot_id and not addition.lot.is_bottle else None
