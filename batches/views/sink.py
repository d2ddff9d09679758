"""The page for wet hands: what is next, what can be logged, and the log below."""

from dataclasses import dataclass, replace
from decimal import Decimal
from uuid import uuid4

from django.db.models import Q
from django.shortcuts import get_object_or_404, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from batches import again, depth, hazards, kept_pages, parts
from batches.forms.strikes import just_now, may_strike
from batches.models import Addition, Batch, Entry, PlanLine, Run, SkeinDone, State
from batches.telling import STEPS, lines_of, lot_colour
from batches.under_way import kind_of
from batches.whole_log import said_of
from batches.wording import amount_of, heat_and_time, precise
from recipes import dyeing
from recipes.models import HouseStep, Method
from studio.naming import lot_name, lot_number
from studio.units import NO_BREAK_SPACE, write_pct

LINES_SHOWN = 40
FEW_POTS = 3  # so many stand side by side with their names; more are known by their numbers
BOXES = 4  # a row of these, so that what is next stays on the first screen; the other pots are a touch away
RUNS_SHOWN = 6
USUAL_SHOWN = 4  # house steps on the sink itself; the others are on the page of steps
BY_SKEINS = (Method.PAINTED, Method.PAN)  # ways of dyeing where one skein after the other is done
FULL_PCT = Decimal("0.05")  # a powder this near the standard strength counts as that: what is kept of a line is rounded
SOON = 4  # steps after the next that the page holds in readiness, for when the network is away
OVER = (State.FINISHED, State.ABANDONED)


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
    Act("talk", "Talk", "M9 5a3 3 0 0 1 6 0v6a3 3 0 0 1-6 0zM5 11a7 7 0 0 0 14 0M12 18v3"),
    Act("work", "Work", "M4 12a8 8 0 1 0 16 0a8 8 0 1 0-16 0M12 7v5l3 3"),
)


@never_cache
@require_GET
def sink(request, pk):
    return render(request, "batches/sink.html", board(the_batch(pk), request.dyeing))


@never_cache
@require_GET
def sink_all(request, pk):
    """All pots of a run that are not finished, on one page: what is touched here happens to each of them."""
    batch = the_batch(pk)
    return render(request, "batches/sink.html", board(batch, request.dyeing, whole=True))


def the_batch(pk):
    return get_object_or_404(Batch.objects.select_related("run__colourway", "vessel"), pk=pk)


def board(batch, person, whole=False):
    """All that the sink page shows of a pot, or of the `whole` run. A fixed number of queries, however long the plan
    and the log.
    """
    run = batch.run
    pots = list(run.batches.select_related("vessel"))
    still_open = [pot for pot in pots if pot.state not in OVER]
    whole = whole and len(still_open) > 1
    near = pots_near(batch, pots, BOXES - (len(still_open) > 1))
    plan = plan_of_run(run)
    ahead = furthest_behind(batch, plan, still_open) if whole else batch
    mine = [line for line in plan if line.batch_id == ahead.pk]
    shown = pots if whole else [batch]
    lines, more = log_of(shown, person)
    standing = [line for line in lines if line.struck is None]
    last = last_of(standing, person)
    next_is, *soon = steps_ahead(ahead, mine, plan, pots) or [None]
    return {
        "batch": batch,
        "run": run,
        "whole": whole,
        "planned": run.state == State.PLANNED,
        "pots": pots,
        "kind": kind_of(still_open or pots),
        "open_pots": still_open,
        "numbered": len(pots) > FEW_POTS,
        "near": near,
        "others": len(pots) - len(near),
        "other_runs": other_runs(run),
        "yarns": batch.yarns.named(),
        "dyed": depth.segments(depth.fed_of_batches([batch]).get(batch.pk, [])) if not whole else [],
        "over": batch.finished_at is not None,
        "next": next_is,
        "soon": soon,
        "ahead": ahead,
        "to_come": to_come(mine),
        "all_done": bool(mine) and all(line.done for line in mine) and ahead.finished_at is None,
        "lines": said_of(lines, pots) if whole else lines,
        "last": last,
        "last_pots": pots_of_touch(last, pots),
        "onward": None if whole else next((pot for pot in still_open if pot.number > batch.number), None),
        "again": None if whole else the_same_again(standing, still_open),
        "skein": None if whole else next_skein(batch, run, next_is),
        "usual": [(uuid4(), step) for step in HouseStep.objects.for_method(run.method)[:USUAL_SHOWN]],
        "more": more,
        "acts": acts_for(run),
        "cautions": hazards.of_vessel(batch.vessel),
        "kit": kept_pages.version(batch),
    }


def pots_near(batch, pots, boxes):
    """Those that stand in the row on top: all where they fit, else this one and the next, with the others behind."""
    if len(pots) <= max(boxes, FEW_POTS):
        return pots
    begin = min(pots.index(batch), len(pots) - boxes + 1)
    return pots[begin : begin + boxes - 1]


def acts_for(run):
    """The large buttons. Dye leads to the page it was last logged on here: from a bottle, or as powder. One query."""
    last = Addition.objects.filter(entry__batch__run=run).filter(
        Q(lot__dye__isnull=False) | Q(lot__solution__isnull=False)
    )
    unit = last.order_by("-entry__at").values_list("unit", flat=True).first()
    if unit == "g" or unit is None and run.method == Method.JAR:
        return [replace(act, page="powder") if act.page == "bottle" else act for act in ACTS]
    return ACTS


def other_runs(run):
    """[(run, its first pot that is not finished, "6 jars" or, for a lone one, "")]: what else is at the sink. Two
    queries.
    """
    runs = Run.objects.open().exclude(pk=run.pk).select_related("colourway").newest_first()[:RUNS_SHOWN]
    by_run = {}
    unfinished = Batch.objects.filter(run__in=list(runs)).exclude(state__in=OVER).select_related("vessel")
    for pot in unfinished.order_by("number"):
        by_run.setdefault(pot.run_id, []).append(pot)
    found = [(other, by_run[other.pk]) for other in runs if other.pk in by_run]
    return [(other, pots[0], f"{len(pots)} {kind_of(pots)}s" if len(pots) > 1 else "") for other, pots in found]


def furthest_behind(batch, plan, still_open):
    """The pot whose plan has the earliest line left: what all of them are asked for next."""
    keys = {pot.pk: pot for pot in still_open}
    return next((keys[line.batch_id] for line in plan if not line.done and line.batch_id in keys), batch)


def log_of(pots, person):
    """(the newest lines of these pots' logs with what this person may do about them, whether there are more)"""
    told = Entry.objects.filter(batch__in=pots).with_details()
    told = told.select_related("batch__vessel", "plan_line__dye", "plan_line__assistant", "plan_line__solution")
    most = LINES_SHOWN * len(pots) if len(pots) <= FEW_POTS else LINES_SHOWN * FEW_POTS
    newest = list(told.order_by("-at", "-received_at", "-pk")[: most + 1])
    strikes = Entry.objects.filter(batch__in=pots, kind=Entry.Kind.STRIKE).select_related("strike", "by")
    lines = lines_of([entry for entry in newest[:most] if entry.kind != Entry.Kind.STRIKE] + list(strikes))
    for line in lines:
        line.may_strike = line.struck is None and may_strike(person, line.entry)
        line.undo_id = None
    return lines, len(newest) > most


def last_of(standing, person):
    """The last thing done, and whether it can be taken back at once. Of a touch that brought a photo, what it shows; of
    what the evening was told, nothing.
    """
    newest = next((line for line in standing if line.entry.kind != Entry.Kind.ANSWER), None)
    if newest is None:
        return None
    if newest.entry.together:
        touch = [line for line in standing if line.entry.together == newest.entry.together]
        newest = next((line for line in touch if line.entry.kind != Entry.Kind.PHOTO), newest)
    if just_now(person, newest.entry):
        newest.undo_id = uuid4()
    return newest


def pots_of_touch(line, pots):
    """ "in each of 8 pots" where the last touch was for several; "" where it was for one. One query."""
    if line is None or line.entry.together is None:
        return ""
    touched = Entry.objects.filter(together=line.entry.together).values("batch").distinct().count()
    return f"in each of {touched} {kind_of(pots)}s" if touched > 1 else ""


def the_same_again(standing, still_open):
    """What was just done to this pot alone and nobody planned, for the next pot that has not had it; or None."""
    alone = again.done_to_it_alone(standing)
    found = again.next_without(alone, still_open) if alone else None
    if found is None:
        return None
    pot, lacks = found
    return {"id": uuid4(), "sources": lacks, "pot": pot, "words": "; ".join(again.in_words(entry) for entry in lacks)}


def next_skein(batch, run, planned):
    """Where one skein after the other is done: the number of the next one and of how many; or None.

    It comes `first`, before the `planned` step, once colour goes on; what is soaked before that is not done by skeins.
    """
    if run.method not in BY_SKEINS or batch.finished_at is not None:
        return None
    done = SkeinDone.objects.standing().filter(entry__batch=batch)
    counts = list(batch.yarns.values_list("skeins", flat=True))
    of = sum(counts) if counts and None not in counts else None
    made, number = done.count(), parts.next_skein(batch)
    left = of and of - made
    first = bool(made) or planned is None or planned["line"].is_amount
    said = {"number": number, "of": of, "left": left, "all_done": bool(of) and left <= 0}
    return {"id": uuid4(), "first": first} | said


def to_come(mine):
    """The planned lines after the next one, each with the number of its own form."""
    left = [(number, line) for number, line in enumerate(mine, 1) if not line.done]
    return [
        {
            "number": number,
            "line": line,
            "said": ", ".join(part for part in (name_of(line), *said_amount(line)) if part),
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
    """How much of it, and how hot and how long it goes in where its line says so."""
    if line.is_amount and line.told is not None:
        yield f"{'about ' if line.by_estimate else ''}{amount_of(line.told, line.unit)}"
    if line.is_amount or not line.words:
        yield heat_and_time(line)


def plan_of_run(run):
    lines = PlanLine.objects.filter(batch__run=run).with_bottles().with_done().with_stands()
    return list(lines.order_by("position", "batch_id"))


def steps_ahead(batch, mine, plan, pots):
    """The first lines of the plan that are not done, the next one first; [] where all are."""
    left = [(number, line) for number, line in enumerate(mine, 1) if not line.done]
    return [step_of(line, batch, plan, pots) | {"number": number, "of": len(mine)} for number, line in left[: 1 + SOON]]


def step_of(line, batch, plan, pots):
    """A planned step, with its amounts in the other pots that have not had it either."""
    waiting = {pot.pk for pot in pots if pot.state in (State.PLANNED, State.RUNNING)} | {batch.pk}
    twins = [
        other
        for other in plan
        if other.position == line.position
        and other.batch_id in waiting
        and not other.done
        and parts.is_twin(line, other)
    ]
    told = [twin.to_go_in for twin in twins]
    poured = line.pour_ml is not None and line.to_go_in == line.told  # it stands dissolved, and a share is poured
    by_hand = (line.pour_ml, "mL") if poured else (line.to_go_in, line.unit)
    figure, _, unit = amount_of(*by_hand).partition(NO_BREAK_SPACE)
    return {
        "id": uuid4(),
        "weigh_id": uuid4() if to_weigh(line) else None,
        "figure": figure,
        "unit": unit,
        "poured": amount_of(line.told, line.unit) if poured else "",
        "button": button_words(line, told, kind_of(pots)),
        "line": line,
        "name": name_of(line),
        "conditions": "" if line.words and not line.is_amount else heat_and_time(line),
        "which": which_lot(line) if line.lot_id else "",
        "colour": colour_of(line),
        "depth_pct": depth_of(line, batch),
        "say": say_words(line, told, kind_of(pots)),
        "pots": len(twins),
        "alike": len({(twin.to_go_in, twin.pour_ml) for twin in twins}) == 1,
        "each": [(next(pot for pot in pots if pot.pk == twin.batch_id), twin) for twin in twins],
        "stands": precise(line.stands, line.unit) if line.stands is not None else "",
        "total": sum(told, Decimal(0)) if None not in told else None,
        "cautions": hazards.of_line(line),
        "sheets": hazards.sheets_of_line(line),
    }


def which_lot(line):
    """Which lot a line is to come from, and for how strong its amount counts it: "lot B, counted as 85 % strong"."""
    strength = 100 * line.dye_g / line.exact if line.lot.dye_id and line.dye_g and line.exact else None
    strong = f"counted as {write_pct(strength, 4)} strong" if strength and abs(strength - 100) >= FULL_PCT else ""
    return ", ".join(word for word in (lot_number(line.lot), strong) if word)


def depth_of(line, batch):
    """The depth of shade [% owf] that this line adds to the pot; None where it brings no dye or a weight is unknown."""
    if not line.dye_g or not batch.fibre_g:
        return None
    return depth.readable(dyeing.depth_pct(line.dye_g, batch.fibre_g))


def button_words(line, told, kind):
    """What the one large button says: what it will log, and in how many pots or jars, as `kind` calls them."""
    if not line.is_amount:
        return "Done" if len(told) == 1 else f"Done in {len(told)} {kind}s"
    if len(set(told)) > 1:
        return f"Log as planned in {len(told)} {kind}s"
    if line.to_go_in is None:
        return "Log it, not measured"
    amount = f"{'about ' if line.by_estimate else ''}{amount_of(line.to_go_in, line.unit)}"
    return f"Log {amount}" if len(told) == 1 else f"Log {amount} in each"


def say_words(line, told, kind):
    """How a row that waits to be sent says it: "120 mL Plum, in each of 2 pots"."""
    amount = f"{amount_of(line.to_go_in, line.unit)} " if line.is_amount and len(set(told)) == 1 else ""
    pots = f", in each of {len(told)} {kind}s" if len(told) > 1 else ""
    return f"{amount}{name_of(line)}{pots}"


def colour_of(line):
    if line.dye_id:
        return line.dye.colour
    return lot_colour(line.lot) if line.lot_id else ""
