"""The page for wet hands: what is next, what can be logged, and the log below."""

from dataclasses import dataclass
from decimal import Decimal
from uuid import uuid4

from django.shortcuts import get_object_or_404, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from batches import depth, hazards, intake
from batches.forms.strikes import just_now, may_strike
from batches.models import Batch, Entry, PlanLine, State
from batches.telling import STEPS, amount_of, lines_of, lot_colour, precise
from recipes import dyeing
from studio.naming import lot_name
from studio.units import NO_BREAK_SPACE

LINES_SHOWN = 40
FEW_POTS = 3  # so many stand side by side with their names; more are known by their numbers


@dataclass(frozen=True)
class Act:
    """A large button of the sink: the page it opens, its word and its drawing."""

    page: str
    word: str
    drawing: str
    full: bool = False


ACTS = (
    Act("bottle", "Dye", "M12 3C12 3 5.5 10.5 5.5 15a6.5 6.5 0 0 0 13 0C18.5 10.5 12 3 12 3z", full=True),
    Act("other", "Acid / other", "M3.5 16a4.5 4.5 0 1 0 9 0a4.5 4.5 0 1 0-9 0M11.2 12.8 20 4", full=True),
    Act("water", "Water", "M2 10q2.5-4 5 0t5 0 5 0 5 0M2 17q2.5-4 5 0t5 0 5 0 5 0"),
    Act("heat", "Heat", "M7 21q-4-2.5 0-5t0-5 0-5M15 21q-4-2.5 0-5t0-5 0-5"),
    Act("reading", "Reading", "M3 18a9 9 0 0 1 18 0zM12 18l4-6"),
    Act("clear", "Clear?", "M4 12a8 8 0 1 0 16 0a8 8 0 1 0-16 0M4 12h16"),
    Act("timer", "Timer", "M5 14a7 7 0 1 0 14 0a7 7 0 1 0-14 0M12 14v-3.5M10 3h4M12 3v4M18 6.5l1.5 1.5"),
    Act("move", "Move", "M3 12h17M14 6l6 6-6 6"),
    Act("note", "Note", "M4 6h16M4 12h16M4 18h9"),
    Act("photo", "Photo", "M3 6h18v13H3zM8.5 12.5a3.5 3.5 0 1 0 7 0a3.5 3.5 0 1 0-7 0"),
    Act("work", "Work", "M4 12a8 8 0 1 0 16 0a8 8 0 1 0-16 0M12 7v5l3 3"),
)


@never_cache
@require_GET
def sink(request, pk):
    batch = the_batch(pk)
    return render(request, "batches/sink.html", board(batch, request.dyeing))


def the_batch(pk):
    return get_object_or_404(Batch.objects.select_related("run__colourway", "vessel"), pk=pk)


def board(batch, person):
    """All that the sink page shows of a pot. A fixed number of queries, however long the plan and the log."""
    pots = list(batch.run.batches.select_related("vessel"))
    plan = plan_of_run(batch.run)
    mine = [line for line in plan if line.batch_id == batch.pk]
    lines, more = log_of(batch, person)
    standing = [line for line in lines if line.struck is None]
    return {
        "batch": batch,
        "run": batch.run,
        "planned": batch.run.state == State.PLANNED,
        "pots": pots,
        "numbered": len(pots) > FEW_POTS,
        "yarns": batch.yarns.named(),
        "dyed": depth.segments(depth.fed_of_batches([batch]).get(batch.pk, [])),
        "over": batch.finished_at is not None,
        "next": next_step(batch, mine, plan, pots),
        "to_come": to_come(mine),
        "all_done": bool(mine) and all(line.done for line in mine) and batch.finished_at is None,
        "lines": lines,
        "last": standing[0] if standing else None,
        "more": more,
        "acts": ACTS,
        "cautions": hazards.of_vessel(batch.vessel),
    }


def log_of(batch, person):
    """(the newest lines of a pot's log with what this person may do about them, whether there are more)"""
    told = batch.entries.with_details().select_related("plan_line__dye", "plan_line__assistant", "plan_line__solution")
    newest = list(told.order_by("-at", "-received_at", "-pk")[: LINES_SHOWN + 1])
    strikes = Entry.objects.filter(batch=batch, kind=Entry.Kind.STRIKE).select_related("strike", "by")
    lines = lines_of([entry for entry in newest[:LINES_SHOWN] if entry.kind != Entry.Kind.STRIKE] + list(strikes))
    for line in lines:
        line.may_strike = line.struck is None and may_strike(person, line.entry)
        line.undo_id = None
    newest_own = next((line for line in lines if line.struck is None), None)
    if newest_own and just_now(person, newest_own.entry):
        newest_own.undo_id = uuid4()
    return lines, len(newest) > LINES_SHOWN


def to_come(mine):
    """The planned lines after the next one, each with the number of its own form."""
    left = [(number, line) for number, line in enumerate(mine, 1) if not line.done]
    return [
        {
            "number": number,
            "line": line,
            "said": f"{name_of(line)}{said_amount(line)}",
            "id": uuid4(),
            "weigh_id": uuid4() if to_weigh(line) else None,
        }
        for number, line in left[1:]
    ]


def to_weigh(line):
    """Whether a planned line can be weighed ahead of its step."""
    return line.is_measured and not line.weighed and not line.done


def name_of(line):
    return lot_name(line.lot) if line.lot_id else line.name or STEPS.get(line.step, "")


def said_amount(line):
    return f", {amount_of(line.told, line.unit)}" if line.is_amount and line.told is not None else ""


def plan_of_run(run):
    named = PlanLine.objects.select_related(
        "dye", "assistant", "solution", "lot__dye", "lot__assistant", "lot__solution"
    )
    return list(
        named.prefetch_related("lot__contents__source__dye")
        .filter(batch__run=run)
        .with_done()
        .with_stands()
        .order_by("position", "batch_id")
    )


def next_step(batch, mine, plan, pots):
    """The first line of the plan that is not done, with its amounts in the other pots that have not had it either."""
    left = [line for line in mine if not line.done]
    if not left:
        return None
    line = left[0]
    waiting = {pot.pk for pot in pots if pot.state in (State.PLANNED, State.RUNNING)} | {batch.pk}
    twins = [
        other
        for other in plan
        if other.position == line.position
        and other.batch_id in waiting
        and not other.done
        and intake.is_twin(line, other)
    ]
    told = [twin.to_go_in for twin in twins]
    number, _, unit = amount_of(line.to_go_in, line.unit).partition(NO_BREAK_SPACE)
    return {
        "id": uuid4(),
        "weigh_id": uuid4() if to_weigh(line) else None,
        "figure": number,
        "unit": unit,
        "button": button_words(line, told),
        "line": line,
        "number": len(mine) - len(left) + 1,
        "of": len(mine),
        "name": name_of(line),
        "colour": colour_of(line),
        "depth_pct": depth_of(line, batch),
        "pots": len(twins),
        "alike": len(set(told)) == 1,
        "each": [(next(pot for pot in pots if pot.pk == twin.batch_id), twin) for twin in twins],
        "stands": precise(line.stands, line.unit) if line.stands is not None else "",
        "total": sum(told, Decimal(0)) if None not in told else None,
        "cautions": hazards.of_line(line),
        "sheets": hazards.sheets_of_line(line),
    }


def depth_of(line, batch):
    """The depth of shade [% owf] that this line adds to the pot; None where it brings no dye or a weight is unknown."""
    if not line.dye_g or not batch.fibre_g:
        return None
    return depth.readable(dyeing.depth_pct(line.dye_g, batch.fibre_g))


def button_words(line, told):
    """What the one large button says: what it will log, and in how many pots."""
    if not line.is_amount:
        return "Done" if len(told) == 1 else f"Done in {len(told)} pots"
    if len(set(told)) > 1:
        return f"Log as planned in {len(told)} pots"
    if line.to_go_in is None:
        return "Log it, not measured"
    amount = amount_of(line.to_go_in, line.unit)
    return f"Log {amount}" if len(told) == 1 else f"Log {amount} in each"


def colour_of(line):
    if line.dye_id:
        return line.dye.colour
    return lot_colour(line.lot) if line.lot_id else ""
