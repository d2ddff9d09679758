"""Work that was planned over several days: a run is a day's work, so it is several runs, and one is the first."""

from dataclasses import dataclass

from django.db.models import Q, Sum

from .models import BatchYarn, Run
from .under_way import pots_in_words


@dataclass(frozen=True)
class DayOf:
    """Which day of how many a run is."""

    number: int
    of: int

    def __str__(self):
        return f"day {self.number} of {self.of}"


def days_of(runs):
    """{run key: DayOf} of those of these runs whose work takes several days. One query, however many."""
    firsts = {run.day_one_id or run.pk for run in runs}
    rows = Run.objects.filter(Q(pk__in=firsts) | Q(day_one__in=firsts)).order_by("day", "pk")
    works = {}
    for key, first in rows.values_list("pk", "day_one"):
        works.setdefault(first or key, []).append(key)
    shown = {run.pk for run in runs}
    return {
        key: DayOf(number, len(keys))
        for keys in works.values()
        if len(keys) > 1
        for number, key in enumerate(keys, 1)
        if key in shown
    }


def pots_by_day(pots):
    """ "pots 1 and 2"; of several days "pots 1 and 2 on day 1, pot 1 on day 2". `pots`: [(day or None, Batch)]."""
    by_day = {}
    for day, pot in pots:
        by_day.setdefault(day, []).append(pot)
    return ", ".join(f"{pots_in_words(pots)}{'' if day is None else f' on day {day}'}" for day, pots in by_day.items())


def work_of(run):
    """[Run] of all days of its work, in order; [] where it is done in one day. One query."""
    first = run.day_one_id or run.pk
    runs = list(Run.objects.filter(Q(pk=first) | Q(day_one=first)).order_by("day", "pk"))
    return runs if len(runs) > 1 else []


@dataclass(frozen=True)
class Wanted:
    """How many skeins were wanted of a piece of work, and how many are spare."""

    skeins: int
    spares: int
    days: int

    def __str__(self):
        over = f", over {self.days} days" if self.days > 1 else ""
        return f"{self.skeins} wanted and {self.spares} spare{over}"


def wanted_of(run, work):
    """The `Wanted` of all days; None where nothing beyond it was planned. `work`: as `work_of` gives it."""
    first = next((one for one in work if one.pk == run.day_one_id), run)
    if not first.spares:
        return None
    yarns = BatchYarn.objects.filter(batch__run__in=work or [run])
    total = yarns.aggregate(total=Sum("skeins"))["total"] or 0
    return Wanted(max(total - first.spares, 0), first.spares, max(len(work), 1))
