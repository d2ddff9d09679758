"""What is in the pots at this moment: where the yarn is, how it looks, what was done last, and what comes next."""

from django.db.models import OuterRef, Subquery

from studio import naming
from studio.naming import lot_name

from .models import Batch, Entry, PhotoTaken, PlanLine
from .telling import STEPS, lines_of
from .wording import amount_of, capital


def under_way(runs):
    """{run id: {"where", "last", "next", "photo"}} of runs with their batches prefetched. Eight queries, however many.

    `where`: [(place, pots or "")]; `last`: a `telling.Line` or None; `next`: words or ""; `photo`: the newest
    `PhotoTaken` of the yarn or None. What is in the pot is wet, so here, and only here, a wet photo shows by itself.
    """
    last, ahead, photos = last_lines(runs), next_words(runs), PhotoTaken.objects.newest_of_yarn(runs)
    return {
        run.pk: {
            "where": places(run),
            "last": last.get(run.pk),
            "next": ahead.get(run.pk, ""),
            "photo": photos.get(run.pk),
        }
        for run in runs
    }


def places(run):
    """[("cooling", "pots 1 and 2"), ("in the pot", "pot 3")]; without the pots where all are in one place."""
    by_place = {}
    for batch in run.batches.all():
        by_place.setdefault(batch.get_where_display(), []).append(batch)
    if len(by_place) == 1:
        return [(place, "") for place in by_place]
    return [(place, pots_in_words(batches)) for place, batches in by_place.items()]


def pots_in_words(batches):
    """ "pot 3", "pots 1 and 2", "jars 1 to 4 and 6": the pots by their numbers, as what they are."""
    return naming.numbered(kind_of(batches), [batch.number for batch in batches])


def kind_of(batches):
    """ "jar" where all of them are; "pot" where they differ or nobody said."""
    return naming.kind_of([batch.vessel for batch in batches])


# Said of the day, and not done to a pot: minutes of hands, what only stands weighed, what the evening was told.
NOT_DONE_TO_A_POT = (Entry.Kind.WORK, Entry.Kind.WEIGHED, Entry.Kind.ANSWER)


def last_lines(runs):
    """{run id: the newest standing line of its log that was done to a pot}."""
    done = Entry.objects.standing().filter(batch__run=OuterRef("run"))
    done = done.exclude(kind__in=NOT_DONE_TO_A_POT).order_by("-at", "-received_at", "-pk")
    pots = {batch.pk: run.pk for run in runs for batch in run.batches.all()}
    firsts = [run.batches.all()[0].pk for run in runs if run.batches.all()]
    keys = (
        Batch.objects.filter(pk__in=firsts)
        .annotate(last=Subquery(done.values("pk")[:1]))
        .values_list("last", flat=True)
    )
    entries = Entry.objects.filter(pk__in=[key for key in keys if key]).with_details()
    entries = entries.select_related("plan_line__dye", "plan_line__assistant", "plan_line__solution")
    return {pots[line.entry.batch_id]: line for line in lines_of(list(entries))}


def next_words(runs):
    """{run id: the first line of the plan that some pot still lacks}: "Rinse", "Ochre 1 %, 92 mL in each pot"."""
    lines = PlanLine.objects.filter(batch__run__in=[run.pk for run in runs]).with_done().filter(done=False)
    by_run = {}
    for line in lines.with_bottles().select_related("batch").order_by("position", "batch__number"):
        by_run.setdefault(line.batch.run_id, []).append(line)
    return {key: in_words([line for line in left if line.position == left[0].position]) for key, left in by_run.items()}


def in_words(alike):
    line = alike[0]
    name = lot_name(line.lot) if line.lot_id else line.name or STEPS.get(line.step, "")
    if not line.is_amount or line.told is None:
        return capital(name)
    each = " in each pot" if len(alike) > 1 and len({one.told for one in alike}) == 1 else ""
    if len(alike) > 1 and not each:
        return capital(name)
    return f"{capital(name)}, {amount_of(line.told, line.unit)}{each}"
