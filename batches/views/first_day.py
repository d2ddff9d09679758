"""The page of a helper's first day: what to do, how to take it back, what to be careful of, whom to ask."""

from django.shortcuts import render
from django.views.decorators.http import require_GET

from batches.models import Run, State
from batches.under_way import under_way
from studio.cautions import CAUTIONS, DEFERS
from studio.models import Person, Role

CAREFUL = ("powder", "acid", "heat", "jars", "microwave")
MOST_POTS = 12  # more than one looks after in a day


@require_GET
def first_day(request):
    runs = list(Run.objects.open().filter(state=State.RUNNING).for_rows().newest_first()[:MOST_POTS])
    now = under_way(runs)
    context = {
        "running": [{"run": run, "pots": run.batches.all(), "now": now[run.pk]} for run in runs],
        "cautions": [CAUTIONS[key] for key in CAREFUL],
        "defers": DEFERS,
        "to_ask": Person.objects.who_dye().filter(role__in=[Role.OWNER, Role.MAKER]),
        "here": "journal",
    }
    return render(request, "batches/first_day.html", context)
