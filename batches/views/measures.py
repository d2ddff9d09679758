"""Where a measure of the studio's own was used: which pots, how many fillings, and what they came to."""

from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from batches.models import Entry
from batches.telling import lines_of
from studio.models import Measure

MOST_SHOWN = 200


@require_safe
def used(request, pk):
    measure = get_object_or_404(Measure, pk=pk)
    entries = Entry.objects.standing().filter(addition__measure=measure).with_details()
    named = entries.select_related("batch__run__colourway", "batch__vessel").order_by("-at", "-pk")
    found = list(named[: MOST_SHOWN + 1])
    context = {
        "measure": measure,
        "lines": lines_of(found[:MOST_SHOWN]),
        "more": len(found) > MOST_SHOWN,
        "most": MOST_SHOWN,
        "here": "shelf",
    }
    return render(request, "batches/measure_used.html", context)
