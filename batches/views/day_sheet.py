"""The sheet of a day by dye."""

from datetime import date

from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from batches import day_sheet, hazards
from recipes.surer import Bench
from studio.models import Studio, Tool


@never_cache
@require_safe
def sheet(request):
    """Of each jar and bottle what all runs of a day take. `?day=2026-11-30`; today without it."""
    today = timezone.localdate()
    asked = request.GET.get("day", "")
    day = day_of(asked) or today
    found = day_sheet.sheet_of(day, today)
    back = f"{reverse('batches:day-sheet')}?day={day.isoformat()}"
    bench = Bench.of(Tool.objects.filter(retired=False), Studio.get())
    to_weigh = [line for source in [*found.dyes, *found.others] for line in source.lines if not line.done]
    context = {
        "here": "journal",
        "sheet": found,
        "today": today,
        "groups": [
            (heading, [(source, source.make_more(back, bench)) for source in sources])
            for heading, sources in (("Dye", found.dyes), ("Acid and other", found.others))
            if sources
        ],
        "days": [(each, runs) for each, runs in day_sheet.days_with_plans(today) if each != day],
        "no_day": asked if asked and day_of(asked) is None else "",
        "cautions": [key for line in to_weigh for key in hazards.of_line(line)],
        "sheets": [thing for line in to_weigh for thing in hazards.sheets_of_line(line)],
    }
    return render(request, "batches/day_sheet.html", context)


def day_of(text):
    """The date of "2026-11-30"; None for anything else."""
    try:
        return date.fromisoformat(text) if len(text) == 10 else None
    except ValueError:
        return None
