"""The journal: what waits, what is in the pot, and the past."""

from collections import defaultdict
from datetime import date, timedelta
from itertools import groupby

from django.db.models import Q, Sum
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from batches import days, depth, finding, timers
from batches.first_steps import first_steps
from batches.models import Output, Run, State
from batches.under_way import kind_of, under_way
from batches.views.finding import moved
from batches.waiting import waits
from studio.units import write_count

PAGE = 24
MOST_OPEN = 60


@require_GET
def journal(request):
    if "q" in request.GET:  # as its addresses were before there was a page for finding
        return moved(request)
    past, older = page_of(Run.objects.exclude(state__in=[State.PLANNED, State.RUNNING]), request.GET.get("before"))
    if "before" in request.GET:
        context = {"months": months(rows(past)), "older": older}
        return render(request, "batches/journal.html", {"here": "journal", **context})
    open_runs = list(Run.objects.open().for_rows().newest_first()[: MOST_OPEN + 1])
    shown = rows([*open_runs[:MOST_OPEN], *past])
    running = [row for row in shown if row["run"].state == State.RUNNING]
    now = under_way([row["run"] for row in running])
    due = timers.rows_of_request(request)
    for row in running:
        row["now"] = now[row["run"].pk]
        row["due"] = [one for one in due if one.run.pk == row["run"].pk]
    context = {
        "here": "journal",
        "first_page": True,
        "waits": with_bars(waits([row["run"] for row in shown], request.user), shown),
        "running": running,
        "planned": planned(shown),
        "months": months([row for row in shown if row["run"].state not in (State.PLANNED, State.RUNNING)]),
        "older": older,
        "too_many_open": MOST_OPEN if len(open_runs) > MOST_OPEN else 0,
        "fibre_g": weight_of(running),
        "empty": not shown,
    }
    if not shown:
        context["first_steps"], context["next_step"] = first_steps(request.user)
    return render(request, "batches/journal.html", context)


def page_of(runs, before):
    """One page of runs, newest first, and where the next begins: "2026-10-09.118", or "" at the end.

    A page begins after a run and not at a number of rows, so the twentieth thousand costs what the first did.
    """
    place = _read_place(before)
    if place is not None:
        day, key = place
        runs = runs.filter(Q(day__lt=day) | Q(pk__lt=key), day__lte=day)
    shown = list(runs.for_rows().newest_first()[: PAGE + 1])
    more = len(shown) > PAGE
    shown = shown[:PAGE]
    return shown, f"{shown[-1].day}.{shown[-1].pk}" if more else ""


def _read_place(text):
    try:
        day, _, key = (text or "").partition(".")
        return date.fromisoformat(day), int(key[:18])
    except ValueError:
        return None


def rows(runs):
    """What a print of the journal shows of each run. A fixed number of queries."""
    bars, out, work = depth.bars_of_runs(runs), came_out(runs), days.days_of(runs)
    return [
        {
            "run": run,
            "day_of": work.get(run.pk),
            "segments": bars.get(run.pk, []),
            "bases": finding.bases_of(run),
            "skeins": finding.skeins_of(run),
            "where": finding.where_of(run),
            "out": out.get(run.pk, []),
            "batches": list(run.batches.all()),
            "vessels": vessels_of(run),
        }
        for run in runs
    ]


def vessels_of(run):
    """ "6 jars"; "" for a lone pot, of which nothing needs to be said."""
    pots = list(run.batches.all())
    return f"{len(pots)} {kind_of(pots)}s" if len(pots) > 1 else ""


def came_out(runs):
    """{run key: ["5 firsts", "1 second"]} of what can be sold."""
    outputs = Output.objects.standing().filter(yarn__batch__run__in=[run.pk for run in runs], grade__in=Output.SELLABLE)
    counted = outputs.order_by().values_list("yarn__batch__run", "grade").annotate(skeins=Sum("skeins"))
    words = {Output.Grade.FIRST: "first", Output.Grade.SECOND: "second"}
    found = defaultdict(list)
    for run, grade, skeins in sorted(counted):
        found[run].append(write_count(skeins, words[grade]))
    return found


def with_bars(found, rows):
    """[(Wait, the colour bar of its run)]; None where it is of no single run."""
    bars = {row["run"].pk: row["segments"] for row in rows}
    return [(wait, bars[wait.run.pk] if wait.run else None) for wait in found]


def planned(rows):
    """The rows of planned runs, the nearest day first, each with its day in words."""
    found = sorted((row for row in rows if row["run"].state == State.PLANNED), key=lambda row: row["run"].day)
    return [row | {"day": day_words(row["run"].day), "late": row["run"].day < timezone.localdate()} for row in found]


def day_words(day):
    """ "today", "tomorrow"; "" for any other day, which is written as it is."""
    today = timezone.localdate()
    return {today: "today", today + timedelta(days=1): "tomorrow"}.get(day, "")


def weight_of(rows):
    """Dry fibre [g] in these runs' pots; None where a pot's is not known."""
    weights = [batch.fibre_g for row in rows for batch in row["batches"]]
    return sum(weights) if weights and None not in weights else None


def months(shown):
    """The rows in months: [(first day of the month, rows)]."""
    return [(month, list(group)) for month, group in groupby(shown, key=lambda row: row["run"].day.replace(day=1))]
