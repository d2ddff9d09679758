"""The journal: what waits, what is in the pot, and the past."""

from datetime import date
from itertools import groupby

from django.db.models import Q
from django.shortcuts import render
from django.views.decorators.http import require_GET

from batches import depth, finding
from batches.models import Run, State

PAGE = 24
MOST_OPEN = 60


@require_GET
def journal(request):
    text = request.GET.get("q", "").strip()[:200]
    if text:
        return found(request, text)
    open_runs = list(Run.objects.open().for_rows().newest_first()[:MOST_OPEN])
    past, older = page_of(Run.objects.exclude(state__in=[State.PLANNED, State.RUNNING]), request.GET.get("before"))
    bars = depth.bars_of_runs([*open_runs, *past])
    context = {
        "here": "journal",
        "running": rows([run for run in open_runs if run.state == State.RUNNING], bars),
        "planned": rows([run for run in open_runs if run.state == State.PLANNED], bars),
        "months": months(rows(past, bars)),
        "older": older,
        "first_page": "before" not in request.GET,
        "empty": not open_runs and not past and "before" not in request.GET,
    }
    return render(request, "batches/journal.html", context)


def found(request, text):
    runs, older = page_of(finding.find(text), request.GET.get("before"))
    context = {
        "here": "journal",
        "q": text,
        "runs": rows(runs, depth.bars_of_runs(runs)),
        "older": older,
    }
    return render(request, "batches/found.html", context)


def page_of(runs, before):
    """One page of runs, newest first, and where the next begins: "2026-10-09.118", or "" at the end.

    A page begins after a run and not at a number of rows, so the twentieth thousand costs what the first did.
    """
    place = _read_place(before)
    if place is not None:
        day, key = place
        runs = runs.filter(Q(day__lt=day) | Q(day=day, pk__lt=key))
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


def rows(runs, bars):
    """What a print of the journal shows of each run."""
    return [
        {
            "run": run,
            "segments": bars.get(run.pk, []),
            "bases": finding.bases_of(run),
            "skeins": finding.skeins_of(run),
            "where": finding.where_of(run),
            "batches": list(run.batches.all()),
        }
        for run in runs
    ]


def months(shown):
    """The rows in months: [(first day of the month, rows)]."""
    return [(month, list(group)) for month, group in groupby(shown, key=lambda row: row["run"].day.replace(day=1))]
