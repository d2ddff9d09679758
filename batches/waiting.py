"""What waits for somebody, by the runs that the journal's first page shows: a fixed number of queries."""

from django.db.models import Exists, OuterRef

from studio.models import Movement

from .models import Addition, Batch, Entry, Output, State, Whereabouts


def waits(runs, person):
    """{"planned", "judge", "tag": [Run], "unweighed": number of additions} of what this person can see to.

    `runs`: with their batches prefetched, newest first.
    """
    found = {"planned": [], "judge": [], "tag": [], "unweighed": 0}
    if person.may_make:
        found["planned"] = [run for run in reversed(runs) if run.state == State.PLANNED]
        found["tag"] = to_tag(runs)
    if person.may_log:
        found["judge"] = to_judge(runs)
        found["unweighed"] = unweighed(runs)
    return found


def to_tag(runs):
    """Runs with finished pots that gave skeins to sell, and no tags yet."""
    waiting = _pots_at(runs, Whereabouts.TO_TAG)
    sellable = Output.objects.standing().filter(yarn__batch__in=waiting, grade__in=Output.SELLABLE)
    keys = set(sellable.values_list("yarn__batch__run", flat=True))
    return [run for run in runs if run.pk in keys]


def to_judge(runs):
    """Runs with pots that are dry and to be checked, or that are finished, not tagged, and had no verdict."""
    to_check = {batch.run_id for batch in _pots_at(runs, Whereabouts.TO_CHECK)}
    finished = {batch.run_id for batch in _pots_at(runs, Whereabouts.TO_TAG)}
    said = Entry.objects.standing().filter(batch__run__in=finished, finish__isnull=False).exclude(finish__verdict="")
    keys = to_check | finished - set(said.values_list("batch__run", flat=True))
    return [run for run in runs if run.pk in keys]


def unweighed(runs):
    """How many additions of these runs nobody has weighed, and no weigh-in has settled."""
    pots = Batch.objects.filter(run__in=[run.pk for run in runs])
    still_open = Movement.objects.open_unweighed().filter(addition=OuterRef("pk"))
    return Addition.objects.filter(Exists(still_open), entry__batch__in=pots, amount__isnull=True).count()


def _pots_at(runs, where):
    return [
        batch for run in runs if run.state != State.ABANDONED for batch in run.batches.all() if batch.where == where
    ]
