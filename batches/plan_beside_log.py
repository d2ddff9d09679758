"""What was to be done and what was, line by line: as reckoned, as told to the hands, as logged, and how far off.

A row is one line of the plan in all pots that have it; its cells are the pots. Here they are gathered; how far the two
are apart is `plan_beside_off`, how rows and cells read `plan_beside_rows`.
"""

from datetime import timedelta
from decimal import Decimal
from math import hypot

from django.db.models import F, Q

from recipes import dyeing
from recipes.precision import WATER_STEP_ML
from studio.models import Tool

from . import depth
from .models import Entry, PlanLine
from .plan_beside_rows import Cell, Row
from .telling import SKIPPED, STEPS, addition_colour, shared_g
from .under_way import pots_in_words
from .wording import heat_and_time

ON_THE_WAY = timedelta(hours=1)


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


def went_otherwise(rows):
    """[(name, words)] of all in which a run went otherwise than its plan: off, left out, or planned by nobody.

    Where nothing was planned, nothing did.
    """
    if not any(row.planned_at_all for row in rows):
        return []
    return [(row.name, ", ".join(words)) for row in rows if (words := row.went_otherwise)]


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
    for line in lines.named().select_related("batch__vessel").order_by("position", "batch__number"):
        # Pots of two versions may have different things in one place.
        key = line.position, line.dye_id, line.assistant_id, line.solution_id, line.water, line.unit, line.step
        key += () if line.is_amount else (line.words,)
        row = at.get(key)
        if row is None:
            row = at[key] = Row(
                name=name_of(line),
                sub=", ".join(part for part in (line.place, line.basis, going_in(line)) if part),
                fill=line.dye.colour if line.dye_id else "",
                unit=line.unit,
                by_eye=line.is_amount and line.told is None,
            )
            rows.append(row)
        elif line.basis and line.basis not in row.sub:
            row.sub = f"{row.sub}; {line.basis}"
        cell = by_line[line.pk] = planned_cell(line, tools)
        row.cells.append(cell)
    return rows, by_line


def name_of(line):
    """What goes in or is done; of a bottle what it holds, as another one of the same would do."""
    if line.lot_id and line.lot.is_bottle:
        return str(line.lot.substance)
    return line.name or STEPS.get(line.step, "")


def going_in(line):
    """How hot and how long an amount goes in, where its own line of the recipe says so."""
    return heat_and_time(line) if line.is_amount else ""


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
        line.note,
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
        if part.lot_id in strengths:
            cell.dye_in_g += dyeing.at_standard_strength(part.amount, strengths[part.lot_id])
    cell.about |= addition.about
    if addition.by_measure:
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
