"""The write-up: what the log of the day left out, each thing asked once. "Don't know" is an answer.

What is asked: what a photo shows that belongs to no line, how much an unweighed line was, when a timer was over that
nobody ended, how long a soak or a hold took, where the yarn is, and whether a planned amount went in.
"""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import timedelta

from django.db.models import Exists, OuterRef, Q, Subquery
from django.utils import timezone

from studio import units, writing
from studio.models import Movement

from .models import Answer, Batch, Entry, PhotoTaken, PlanLine, State, TimerEnded, Whereabouts
from .telling import HOW_GOES_WITHOUT_SAYING, line_of
from .under_way import kind_of, pots_in_words
from .wording import amount_of, together_words

Ask = Answer.Question

EVENING = 16  # o'clock: from here on the day is asked about
LOOKS_BACK = timedelta(days=14)
STILL = timedelta(hours=3)  # so long nothing happens to yarn that is in the pot: then where is it?
OVER = timedelta(minutes=30)  # a timer may be late; after so long nobody is on the way to it
AROUND = timedelta(minutes=45)  # lines so near to a photo may be what it shows
TIMED = ("soak", "hold", "mordant", "scour")
STAYS = (Whereabouts.SOAKING, Whereabouts.IN_POT, Whereabouts.RINSING)
GONE_ON = (Whereabouts.COOLING, Whereabouts.RINSING, Whereabouts.DRYING, Whereabouts.TO_CHECK)
WET = (PhotoTaken.Stage.WET, PhotoTaken.Stage.BATH)


@dataclass
class Question:
    """One thing to ask. `about`: the entries that it is about, alike in several pots; `lines`: or the planned lines."""

    ask: str
    key: str
    run_id: int
    at: object = None
    words: str = ""
    about: list = field(default_factory=list)
    lines: list = field(default_factory=list)
    offers: list = field(default_factory=list)  # of a photo: [(entry, words)] that it may show
    pots_of_run: int = 1

    @property
    def batches(self):
        return list({one.batch_id: one.batch for one in (self.about or self.lines)}.values())

    @property
    def pots(self):
        """Which pots it is about; "" where the run has only one."""
        batches = self.batches
        if self.pots_of_run == 1:
            return ""
        if len(batches) == 1:
            return batches[0].pot_name
        if len(batches) == self.pots_of_run:
            return together_words(len(batches), kind_of(batches))
        return pots_in_words(batches)

    @property
    def times(self):
        """ "09:10", or "09:10 to 09:28" of several touches; "" for what has no time."""
        found = sorted(one.at for one in self.about)
        if not found or self.ask == Ask.WHERE:
            return ""
        first, last = writing.clock(found[0]), writing.clock(found[-1])
        return first if first == last else f"{first} to {last}"

    @property
    def sentence(self):
        return Ask(self.ask).label

    @property
    def lot(self):
        """The jar or bottle that a weigh-in could settle it by."""
        return self.about[0].addition.lot if self.ask == Ask.AMOUNT else None

    @property
    def unit(self):
        if self.ask == Ask.AMOUNT:
            return self.about[0].addition.lot.unit
        return self.lines[0].unit if self.lines else ""

    @property
    def picture(self):
        return self.about[0].photo.picture if self.ask == Ask.PHOTO else None


def skipped(runs, now=None):
    """{run id: [Question]} of what these runs left out, in order of time. A fixed number of queries.

    `runs`: with their batches prefetched. One that is planned or given up is not asked about, nor one of long ago.
    """
    now = now or timezone.now()
    asked = [run for run in runs if is_asked(run, now)]
    pots = {batch.pk: batch for run in asked for batch in run.batches.all()}
    if not pots:
        return {}
    found = [*_of_entries(pots, now), *_where(pots, now), *_unticked(pots)]
    counts = {run.pk: len(run.batches.all()) for run in asked}
    by_run = defaultdict(list)
    for question in sorted(found, key=lambda one: (one.at or now, one.key)):
        question.pots_of_run = counts[question.run_id]
        by_run[question.run_id].append(question)
    return dict(by_run)


def is_asked(run, now):
    """A running run is asked about, and one that was dyed lately; today's once the evening has come."""
    at = timezone.localtime(now)
    if run.state in (State.PLANNED, State.ABANDONED) or run.day > at.date():
        return False
    return run.day >= at.date() - LOOKS_BACK


def is_time(run, now):
    """Whether to ask about it unasked: today's work is asked about in the evening."""
    at = timezone.localtime(now)
    return run.day < at.date() or at.hour >= EVENING


def _answered(about="pk"):
    return Exists(Answer.objects.standing().filter(about=OuterRef(about)))


def _of_entries(pots, now):
    """Questions about lines of the log, alike ones of one touch together."""
    still_open = Movement.objects.open_unweighed().filter(addition=OuterRef("pk"))
    photo = Q(kind=Entry.Kind.PHOTO, photo__about=None, photo__stage__in=WET, words="")
    amount = Q(Exists(still_open), kind=Entry.Kind.ADDITION)
    length = Q(kind=Entry.Kind.STEP, step__minutes=None, step__kind__in=TIMED)
    end = Q(kind=Entry.Kind.TIMER, timer__due_at__lt=now - OVER) & ~Exists(_ends())
    entries = Entry.objects.standing().filter(photo | amount | length | end, ~_answered(), batch__in=pots)
    entries = entries.with_details().select_related("plan_line__dye", "plan_line__assistant", "plan_line__solution")
    found = {}
    for entry in entries.in_order():
        entry.batch = pots[entry.batch_id]
        ask = ASKED_OF[entry.kind]
        same = (ask, entry.batch.run_id, *_alike(entry))
        if same not in found:
            found[same] = Question(ask, f"{ask}-{entry.pk.hex}", entry.batch.run_id, entry.at, _words(entry))
        found[same].about.append(entry)
    questions = list(found.values())
    _offer_lines([one for one in questions if one.ask == Ask.PHOTO], pots)
    return questions


ASKED_OF = {
    Entry.Kind.PHOTO: Ask.PHOTO,
    Entry.Kind.ADDITION: Ask.AMOUNT,
    Entry.Kind.STEP: Ask.LONG,
    Entry.Kind.TIMER: Ask.END,
}


def _ends():
    mine = Q(target=OuterRef("pk")) | Q(target=OuterRef("together"), entry__batch=OuterRef("batch"))
    return TimerEnded.objects.standing().filter(mine)


def _alike(entry):
    """What makes two lines one question."""
    if entry.kind == Entry.Kind.PHOTO:
        return (entry.photo.picture_id,)
    if entry.kind == Entry.Kind.ADDITION:
        said = entry.addition
        return said.lot_id, said.taps, said.how, said.place, timezone.localtime(entry.at).date()
    return (entry.together or entry.pk,)


def _words(entry):
    if entry.kind == Entry.Kind.PHOTO:
        return entry.photo.get_stage_display()
    if entry.kind == Entry.Kind.ADDITION:
        said = entry.addition
        how = [said.get_how_display()] if said.how not in HOW_GOES_WITHOUT_SAYING else []
        taps = [units.write_count(said.taps, "tap")] if said.taps else []
        return ", ".join(part for part in (said.name, *how, *taps, said.place) if part)
    return line_of(entry).what


def _offer_lines(photos, pots):
    """What a photo may show: the run's lines around it, the nearest first."""
    if not photos:
        return
    first, last = min(one.at for one in photos) - AROUND, max(one.at for one in photos) + AROUND
    kinds = [Entry.Kind.ADDITION, Entry.Kind.STEP, Entry.Kind.SKEIN, Entry.Kind.READING]
    near = Entry.objects.standing().filter(batch__in=pots, kind__in=kinds, at__gte=first, at__lte=last)
    near = near.with_details().select_related("plan_line__dye", "plan_line__assistant", "plan_line__solution")
    lines = [(entry, line_of(entry).what) for entry in near.in_order()]
    for photo in photos:
        mine = {batch.pk for batch in photo.batches}
        around = [one for one in lines if one[0].batch_id in mine and abs(one[0].at - photo.at) <= AROUND]
        around.sort(key=lambda one: abs(one[0].at - photo.at))
        named = {}
        for entry, words in around:
            named.setdefault(words, (entry, words))
        photo.offers = list(named.values())[:6]


def _where(pots, now):
    """Yarn that went in, and that nothing has been said of for long."""
    moved = Entry.objects.standing().filter(batch=OuterRef("pk"), kind__in=["addition", "step", "move"])
    still = Batch.objects.filter(pk__in=pots, state=State.RUNNING, where__in=STAYS)
    still = still.annotate(last=Subquery(moved.order_by("-at", "-received_at", "-pk").values("pk")[:1]))
    keys = still.filter(last__isnull=False).exclude(_answered("last")).values("last")
    found = {}
    for entry in Entry.objects.filter(pk__in=keys, at__lt=now - STILL).in_order():
        entry.batch = batch = pots[entry.batch_id]
        same = (batch.run_id, batch.where)
        words = f"The yarn {batch.where_said}, by the log, since {writing.clock(entry.at)}"
        new = Question(Ask.WHERE, f"where-{entry.pk.hex}", batch.run_id, entry.at, words)
        found.setdefault(same, new).about.append(entry)
    return list(found.values())


def _unticked(pots):
    """Planned amounts that are not in the log though their yarn has gone on."""
    named = Entry.objects.standing().filter(batch=OuterRef("batch"), plan_line__position__lt=OuterRef("position"))
    lines = PlanLine.objects.filter(batch__in=pots).filter(
        Q(batch__state=State.FINISHED) | Q(batch__state=State.RUNNING, batch__where__in=GONE_ON)
    )
    lines = lines.exclude(dye=None, assistant=None, solution=None, water=False).with_done().filter(done=False)
    lines = lines.annotate(before=Subquery(named.order_by("-at").values("at")[:1])).with_stands()
    found = {}
    for line in lines.named().order_by("position", "batch__number"):
        line.batch = pots[line.batch_id]
        same = (line.batch.run_id, line.position, line.name, line.to_go_in, line.place)
        words = f"{line.name}, {amount_of(line.to_go_in, line.unit)}" if line.to_go_in is not None else line.name
        words = f"{words}, {line.place}" if line.place else words
        at = line.before or line.batch.started_at
        new = Question(Ask.LINE, f"line-{line.pk}", line.batch.run_id, at, words)
        found.setdefault(same, new).lines.append(line)
    return list(found.values())
