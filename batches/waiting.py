"""What waits for somebody, by the runs that the journal's first page shows: a fixed number of queries."""

from dataclasses import dataclass
from datetime import timedelta

from django.db.models import Exists, OuterRef
from django.urls import reverse
from django.utils import timezone

from studio.units import write_count

from . import timers, weighin, writeup
from .models import Addition, Answer, Batch, Check, Entry, Output, State, Whereabouts
from .verdicts import judged

LATE_FOR = timedelta(days=30)  # a timer that is over waits here so long for somebody to say what came of it
BLEEDING = [Check.Result.SOME, Check.Result.A_LOT, Check.Result.RUNNING]


@dataclass(frozen=True)
class Wait:
    """One thing that waits: which run (None: `what` of the whole studio), why, and the one thing to do about it."""

    kind: str
    run: object
    why: str
    action: str
    url: str
    urgent: bool = False
    what: str = ""


def waits(runs, person, today=None):
    """[Wait] of what this person can see to, the most pressing first.

    `runs`: with their batches prefetched, newest first. A fixed number of queries, however many runs.
    """
    now = timezone.localtime()
    today = today or now.date()
    found = []
    if person.may_log:
        by_key = {run.pk: run for run in runs}
        late = [row for row in timers.rows(since=LATE_FOR) if row.over and row.run.pk in by_key]
        found += [_over(by_key[row.run.pk], row) for row in late]
        found += [_before_use(jars)] if (jars := weighin.wanted_before_use(now)) else []
        bleeding = still_bleeding(runs)
        found += [_bleeds(run, entry) for run, entry in bleeding.items()]
        found += [_unweighed(count)] if (count := unweighed(runs)) else []
        found += _write_up(runs, now)
    if person.may_make:
        found += [_due(run, today) for run in reversed(runs) if run.state == State.PLANNED and run.day <= today]
    if person.may_log:
        found += [_judge(run) for run in to_judge(runs) if run not in bleeding]
    if person.may_make:
        found += [_tag(run, skeins) for run, skeins in to_tag(runs)]
    return found


def _over(run, row):
    where = f", {row.pots}" if len(run.batches.all()) > 1 else ""
    url = reverse("batches:sink", args=[row.entry.batch_id])
    return Wait("timer", run, f"{row.since}{where}.", "To the sink", url, True)


def _bleeds(run, entry):
    said = f"{entry.check_made.get_what_display()}: {entry.check_made.get_result_display()}. "
    url = f"{reverse('batches:judge', args=[run.code])}?check=remedy&pot={entry.batch.number}&because={entry.pk}#log"
    return Wait("bleeds", run, said + "Nobody has said yet what was done about it.", "Say what was done", url, True)


def _unweighed(count):
    why = f"{write_count(count, 'addition')} {'was' if count == 1 else 'were'} not weighed."
    jars = "jar" if count == 1 else "jars"
    return Wait("unweighed", None, why, f"Put the {jars} on the scale", reverse("batches:weigh-in"), what="Weigh-in")


def _write_up(runs, now):
    """What was skipped, once the evening has come; what was answered is asked no more."""
    skipped = writeup.skipped([run for run in runs if writeup.is_time(run, now)], now)
    if not skipped:
        return []
    things = sum(len(questions) for questions in skipped.values())
    today = all(run.day == now.date() for run in runs if run.pk in skipped)
    were = "thing was" if things == 1 else "things were"
    why = f"{things} {were} skipped{' today' if today else ''}: each is asked once."
    return [
        Wait(
            "write_up",
            None,
            why,
            "Write up today" if today else "Write it up",
            reverse("batches:write-up"),
            what="Write-up",
        )
    ]


def _before_use(jars):
    many = "1 jar or bottle" if jars == 1 else f"{jars} jars and bottles"
    why = f"{many} for today, not weighed since last used."
    return Wait("before_use", None, why, "Weigh in before you begin", reverse("batches:weigh-in"), what="Weigh-in")


def _due(run, today):
    late = run.day < today
    why = "Planned for an earlier day, and not started." if late else "Planned for today."
    return Wait("planned", run, why, "Open the plan", reverse("batches:run", args=[run.code]), late)


def _judge(run):
    dry = any(batch.where == Whereabouts.TO_CHECK for batch in run.batches.all())
    why = "Ready to be checked and judged." if dry else "Finished, and nobody has judged the colour."
    return Wait("judge", run, why, "Judge it", reverse("batches:judge", args=[run.code]))


def _tag(run, skeins):
    why = f"{write_count(skeins, 'skein')} to sell, without tags."
    return Wait("tag", run, why, "Print tags", reverse("batches:tags", args=[run.code]))


def to_tag(runs):
    """[(Run, skeins)] with finished pots that gave skeins to sell, and no tags yet."""
    waiting = _pots_at(runs, Whereabouts.TO_TAG)
    sellable = Output.objects.standing().filter(yarn__batch__in=waiting, grade__in=Output.SELLABLE)
    skeins = {}
    for key, count in sellable.values_list("yarn__batch__run", "skeins"):
        skeins[key] = skeins.get(key, 0) + count
    return [(run, skeins[run.pk]) for run in runs if run.pk in skeins]


def to_judge(runs):
    """Runs with pots that are dry and to be checked, or that are finished, not tagged, and had no verdict."""
    to_check = {batch.run_id for batch in _pots_at(runs, Whereabouts.TO_CHECK)}
    finished = {batch.run_id for batch in _pots_at(runs, Whereabouts.TO_TAG)}
    said = judged(Batch.objects.filter(run__in=finished)).filter(verdict__gt="")
    keys = to_check | finished - set(said.values_list("run", flat=True))
    return [run for run in runs if run.pk in keys]


def still_bleeding(runs):
    """{Run: the newest check that bled}, where nothing was done or tested because of it; with its check and batch."""
    standing = Entry.objects.standing()
    answered = standing.filter(because=OuterRef("pk"))
    tested_later = standing.filter(
        batch=OuterRef("batch"), check_made__what=OuterRef("check_made__what"), at__gt=OuterRef("at")
    )
    open_runs = [run.pk for run in runs if run.state != State.ABANDONED]
    bled = standing.filter(kind=Entry.Kind.CHECK, check_made__result__in=BLEEDING, batch__run__in=open_runs)
    bled = bled.filter(~Exists(answered), ~Exists(tested_later)).in_order().select_related("check_made", "batch")
    newest = {entry.batch.run_id: entry for entry in bled}
    return {run: newest[run.pk] for run in runs if run.pk in newest}


def unweighed(runs):
    """How many additions of these runs nobody has weighed or given up, and no weigh-in has settled."""
    nobody_knows = Answer.objects.standing().filter(about=OuterRef("pk"))
    additions = Addition.objects.open_unweighed().filter(entry__batch__run__in=[run.pk for run in runs])
    return additions.exclude(Exists(nobody_knows)).count()


def _pots_at(runs, where):
    return [
        batch for run in runs if run.state != State.ABANDONED for batch in run.batches.all() if batch.where == where
    ]
