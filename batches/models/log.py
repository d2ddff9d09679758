"""The log: whatever happens to a batch is an entry, and entries are never changed.

A strike-out, a check, a finish are entries that name another one, so author, time, undo, photos and replay are solved
once for all of them. Each kind of entry has one verb, a classmethod `log` of its detail, which locks the batch, then
its lots in key order, then takes the time. The details are in `additions`, `details`, `timers`, `spoken`,
`photos` and `outcome`.
"""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from uuid import UUID, uuid4

from django.db import models, transaction
from django.db.models import CheckConstraint, Exists, OuterRef, Q
from django.utils import timezone

from studio.models import Kept, Lot
from studio.models.fields import KeptQuerySet

from .index import Stale
from .run import Batch, Run, State, Whereabouts

CLOCK_TRUSTED_WITHIN = timedelta(minutes=2)


class TimeFrom(models.TextChoices):
    """Where the time of an entry came from."""

    TOUCH = "touch", "when it was touched"
    SAID = "said", "said later"
    PAPER = "paper", "from paper"
    TOGETHER = "together", "confirmed together"


def corrected(happened_at, *, sent_at, received_at, time_from):
    """When it really happened, on a clock that can be trusted.

    A phone whose clock is more than two minutes off is put right, and nothing is in the future. A time that a person
    said is taken as said; only what the phone's own clock stamped is shifted.
    """
    off = received_at - sent_at if sent_at is not None else timedelta(0)
    if abs(off) > CLOCK_TRUSTED_WITHIN and time_from in (TimeFrom.TOUCH, TimeFrom.TOGETHER):
        happened_at += off
    return min(happened_at, received_at)


@dataclass(frozen=True)
class Stamp:
    """Who did it and when, as the phone or the page says.

    `id` was made by whoever sends it, so twice is once. `by_touch`: a name was touched on a trusted phone, whose
    session sent it. `because` is an entry that this one comes of, such as the photo of the page of notes that it was
    copied from.
    """

    by: object
    id: UUID = field(default_factory=uuid4)
    sent_by: object = None
    by_touch: bool = False
    happened_at: datetime | None = None
    offset_min: int = 0
    sent_at: datetime | None = None
    time_from: str = TimeFrom.TOUCH
    together: UUID | None = None
    digest: str = ""
    words: str = ""
    because: object = None
    clock: object = timezone.now


class EntryQuerySet(KeptQuerySet):
    def with_struck(self):
        """Adds `struck`: a strike-out names it."""
        return self.annotate(struck=Exists(Strike.objects.filter(target=OuterRef("pk"))))

    def standing(self):
        """Entries that nobody struck out, and that are not strike-outs themselves."""
        return self.with_struck().filter(struck=False).exclude(kind=Entry.Kind.STRIKE)

    def that_judge(self):
        """Standing finishes that said something of their pot: the newest counts, also where it takes a verdict back."""
        said = self.standing().filter(kind=Entry.Kind.FINISH)
        return said.exclude(finish__verdict="", finish__next_time="", finish__snippet="")

    def that_begin(self):
        """Standing entries that begin a pot: something of its plan went in, or anything but water did.

        A step done ahead for all pots, such as the soak, begins none; nor does what only stands weighed.
        """
        named = Q(plan_line__dye__isnull=False) | Q(plan_line__assistant__isnull=False)
        named |= Q(plan_line__solution__isnull=False)
        added = Q(kind=Entry.Kind.ADDITION) & ~Q(addition__other="water")
        return self.standing().filter(named & ~Q(kind__in=Entry.GETTING_READY) | added)

    def in_order(self):
        return self.order_by("at", "received_at", "pk")

    def with_details(self, kind=None):
        """With all that a line of the log shows, at a fixed number of queries. kind: where all are of that one."""
        shown = [path for path in SHOWN if kind is None or path.split("__")[0] == Entry.DETAILS.get(kind)]
        parts = PARTS if kind in (None, Entry.Kind.ADDITION) else ()
        return self.select_related("by", "sent_by", "batch", *shown).prefetch_related(*parts)


SHOWN = (
    "addition__lot__dye",
    "addition__lot__assistant",
    "addition__lot__solution",
    "addition__plan_line",
    "addition__measure",
    "reading",
    "move__yarn__lot__base",
    "move__yarn__base",
    "move__other_batch__run",
    "move__other_batch__vessel",
    "move__kept__solution",
    "step",
    "photo__picture",
    "check_made",
    "work",
    "strike",
    "finish",
    "timer",
    "timer_ended",
    "skein_done",
    "talk__sound",
    "answer__about",
    "answer__line",
    "weighed",
)
"""What the line of each kind says, from its detail on."""

PARTS = ("addition__parts__lot__dye", "addition__parts__lot__assistant")


class Entry(Kept):
    """One line of a batch's log. What it says is in its detail; plain words need none."""

    class Kind(models.TextChoices):
        ADDITION = "addition", "Addition"
        READING = "reading", "Reading"
        MOVE = "move", "Move"
        STEP = "step", "Step"
        PHOTO = "photo", "Photo"
        CHECK = "check", "Check"
        WORK = "work", "Work"
        STRIKE = "strike", "Struck out"
        FINISH = "finish", "Finish"
        WORDS = "words", "Words"
        WEIGHED = "weighed", "Weighed ahead"
        TIMER = "timer", "Timer"
        ENDED = "ended", "Timer ended"
        SKEIN = "skein", "Skein done"
        TALK = "talk", "Spoken note"
        ANSWER = "answer", "Answer"

    # They name a line of the plan and do not do it: it stands weighed, or is waited for.
    GETTING_READY = (Kind.WEIGHED, Kind.TIMER)

    # By kind, the name of the row that says it. Plain words need none.
    DETAILS = {
        Kind.ADDITION: "addition",
        Kind.READING: "reading",
        Kind.MOVE: "move",
        Kind.STEP: "step",
        Kind.PHOTO: "photo",
        Kind.CHECK: "check_made",
        Kind.WORK: "work",
        Kind.STRIKE: "strike",
        Kind.FINISH: "finish",
        Kind.TIMER: "timer",
        Kind.ENDED: "timer_ended",
        Kind.SKEIN: "skein_done",
        Kind.TALK: "talk",
        Kind.ANSWER: "answer",
        Kind.WEIGHED: "weighed",
    }

    id = models.UUIDField(primary_key=True)
    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="entries")
    kind = models.CharField(max_length=8, choices=Kind.choices)
    happened_at = models.DateTimeField(help_text="As the phone or the person said.")
    offset_min = models.SmallIntegerField(default=0, help_text="Minutes east of UTC where it was said.")
    sent_at = models.DateTimeField(null=True, blank=True)
    received_at = models.DateTimeField()
    at = models.DateTimeField(help_text="Orders everything: when it happened, on a clock that can be trusted.")
    time_from = models.CharField(max_length=8, choices=TimeFrom.choices, default=TimeFrom.TOUCH)
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")
    sent_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")
    by_touch = models.BooleanField(
        default=False, help_text="By a name touched on a trusted phone: whose session sent it had no part in it."
    )
    together = models.UUIDField(null=True, blank=True, db_index=True, help_text="Entries made by one touch share it.")
    plan_line = models.ForeignKey(
        "batches.PlanLine", null=True, blank=True, on_delete=models.PROTECT, related_name="entries"
    )
    because = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="led_to")
    after_finish = models.BooleanField(default=False)
    words = models.TextField(blank=True, default="")
    digest = models.CharField(
        max_length=64, blank=True, default="", help_text="Of what was sent, to tell a replay from a clash."
    )

    objects = EntryQuerySet.as_manager()

    class Meta(Kept.Meta):
        verbose_name = "log entry"
        verbose_name_plural = "log entries"
        ordering = ["at", "received_at", "pk"]
        indexes = [models.Index(fields=["batch", "at"], name="entry_batch_at")]
        constraints = [
            CheckConstraint(
                condition=Q(
                    kind__in=[
                        "addition",
                        "reading",
                        "move",
                        "step",
                        "photo",
                        "check",
                        "work",
                        "strike",
                        "finish",
                        "words",
                        "weighed",
                        "timer",
                        "ended",
                        "skein",
                        "talk",
                        "answer",
                    ]
                ),
                name="entry_kind_known",
            ),
            CheckConstraint(condition=Q(time_from__in=TimeFrom.values), name="entry_time_from_known"),
            CheckConstraint(condition=Q(at__lte=models.F("received_at")), name="entry_not_in_the_future"),
            CheckConstraint(condition=Q(offset_min__gte=-1440, offset_min__lte=1440), name="entry_offset_within_a_day"),
            CheckConstraint(condition=~Q(kind="words") | ~Q(words=""), name="entry_words_say_something"),
            CheckConstraint(
                condition=~Q(kind="weighed") | Q(plan_line__isnull=False), name="entry_weighed_names_a_line"
            ),
        ]

    def __str__(self):
        return f"{self.get_kind_display()} {self.at:%d %b %H:%M}"

    @property
    def detail(self):
        """What it says, as a row of its own; None for plain words. Costs a query unless it was asked for before."""
        return getattr(self, self.DETAILS[self.kind]) if self.kind in self.DETAILS else None

    @classmethod
    def write(cls, batch, kind, stamp, *, now, **names):
        """The entry itself. Called by the details' verbs, with the batch locked.

        Raises ValueError when the line of the plan is another pot's.
        """
        if names.get("plan_line") is not None and names["plan_line"].batch_id != batch.pk:
            raise ValueError("That line of the plan belongs to another pot.")
        happened_at = stamp.happened_at or now
        names["because"] = names.get("because") or stamp.because
        Stale.objects.mark(batch.run_id)
        return cls.objects.create(
            id=stamp.id,
            batch=batch,
            kind=kind,
            happened_at=happened_at,
            offset_min=stamp.offset_min,
            sent_at=stamp.sent_at,
            received_at=now,
            at=corrected(happened_at, sent_at=stamp.sent_at, received_at=now, time_from=stamp.time_from),
            time_from=stamp.time_from,
            by=stamp.by,
            sent_by=stamp.sent_by or stamp.by,
            by_touch=stamp.by_touch,
            together=stamp.together,
            after_finish=batch.finished_at is not None and kind != cls.Kind.FINISH,
            words=stamp.words,
            digest=stamp.digest,
            **names,
        )

    @classmethod
    def log_words(cls, batch, stamp, *, plan_line=None):
        """Plain words. With a line of the plan they say that it was skipped."""
        with transaction.atomic():
            batch = Batch.lock([batch.pk])[batch.pk]
            return cls.write(batch, cls.Kind.WORDS, stamp, now=stamp.clock(), plan_line=plan_line)


class DetailQuerySet(KeptQuerySet):
    def standing(self):
        """Those whose entries nobody struck out."""
        return self.exclude(Exists(Strike.objects.filter(target=OuterRef("entry"))))


class Detail(Kept):
    """What an entry says. Shares the entry's key."""

    objects = DetailQuerySet.as_manager()

    class Meta(Kept.Meta):
        abstract = True

    def __str__(self):
        return str(self.pk)

    @classmethod
    def enter(cls, batch, stamp, kind, *, names=(), **facts):
        """An entry of this kind that says these facts, where that is all a verb does. `names`: of its entry.

        Raises ValueError for a planned line of another pot.
        """
        with transaction.atomic():
            batch = Batch.lock([batch.pk])[batch.pk]
            now = stamp.clock()
            entry = Entry.write(batch, kind, stamp, now=now, **dict(names))
            cls.objects.create(entry=entry, **facts)
            strike_if_told(entry, batch, now)
        return entry

    def lots_to_undo(self):
        """Keys of the lots that `undo` gives back to, to be locked before the time is taken."""
        return []

    def undo(self, batch, *, by, now):
        """The entry was struck: put back what it took or ended. The batch and the lots are locked."""


TO_SELL = ("first", "second")  # grades of skeins that are sold, and tagged before that

# Where a step, or a timer for one, leaves the yarn, by its kind. One that is not named here leaves it where it is.
AFTER_STEP = {
    "soak": Whereabouts.SOAKING,
    "scour": Whereabouts.IN_POT,
    "mordant": Whereabouts.IN_POT,
    "strip": Whereabouts.IN_POT,
    "heat": Whereabouts.IN_POT,
    "hold": Whereabouts.IN_POT,
    "cool": Whereabouts.COOLING,
    "rinse": Whereabouts.RINSING,
    "wash": Whereabouts.RINSING,
    "dry": Whereabouts.DRYING,
}


class Strike(Detail):
    """Another entry is wrong. It stays readable; what it took from the shelf goes back.

    `target` is the other entry's id and no foreign key: from a phone a strike-out can arrive before what it names, and
    then waits for it.
    """

    entry = models.OneToOneField(Entry, primary_key=True, on_delete=models.PROTECT, related_name="strike")
    target = models.UUIDField(unique=True)
    reason = models.CharField(max_length=200, blank=True, default="")

    class Meta(Detail.Meta):
        constraints = [CheckConstraint(condition=~Q(target=models.F("entry")), name="strike_not_itself")]

    @classmethod
    def log(cls, batch, stamp, *, target, reason=""):
        """Strike out the entry whose id is `target`.

        Raises ValueError for a strike-out, which is not itself struck (log the thing again instead), and for a line
        that is struck out already.
        """
        if target == stamp.id:
            raise ValueError("This strikes out itself: open the page anew, and choose the line once more.")
        with transaction.atomic():
            named = Entry.objects.filter(pk=target).first()
            if named is None or named.kind in (Entry.Kind.FINISH, Entry.Kind.PHOTO):
                Run.lock(named.batch.run_id if named else batch.run_id)
            held = named.batch_id if named else batch.pk
            batch = Batch.lock([held])[held]
            # Asked again: while this waited for the pot, the line may have come in, or been struck by somebody else.
            struck = Entry.objects.filter(pk=target).select_related("addition__movement__lot").first()
            if struck is not None and struck.batch_id != batch.pk:
                batch = Batch.lock([struck.batch_id])[struck.batch_id]
            if struck is not None and struck.kind == Entry.Kind.STRIKE:
                raise ValueError("A strike-out cannot be struck out. Log the line again instead.")
            if cls.objects.filter(target=target).exists():
                raise ValueError("This line is struck out already.")
            detail = struck.detail if struck is not None else None
            if detail is not None:
                Lot.lock(detail.lots_to_undo())
            now = stamp.clock()
            entry = Entry.write(batch, Entry.Kind.STRIKE, stamp, now=now)
            cls.objects.create(entry=entry, target=target, reason=reason)
            if detail is not None:
                detail.undo(batch, by=stamp.by, now=now)
                settle_where(batch)
        return entry


def strike_if_told(entry, batch, now):
    """A strike-out of this entry may have come before it."""
    if not Strike.objects.filter(target=entry.pk).exists() or entry.detail is None:
        return
    early = Strike.objects.select_related("entry__by").get(target=entry.pk)
    entry.detail.undo(batch, by=early.entry.by, now=now)


def _after_finish(where, outputs, to_sell):
    """A finish without skeins only says anew how the pot turned out; what is not to be sold needs no tag."""
    if to_sell:
        return Whereabouts.TO_TAG
    return Whereabouts.STORED if outputs and where != Whereabouts.TO_TAG else where


def settle_where(batch):
    """Put the yarn where the log says it is, going through its lines in order.

    So a line that comes late counts in its place, and a struck one not at all. The batch is locked. Costs a query.
    """
    if batch.state == State.PLANNED:
        return
    where = Whereabouts.SOAKING
    told = batch.entries.standing().filter(kind__in=["addition", "step", "move", "finish", "timer"]).in_order()
    to_sell = models.Count("finish__outputs", filter=Q(finish__outputs__grade__in=TO_SELL))
    told = told.annotate(outputs=models.Count("finish__outputs"), to_sell=to_sell)
    named = ("kind", "step__kind", "timer__what", "move__where", "outputs", "to_sell")
    for kind, step, timer, place, outputs, sold in told.values_list(*named):
        if kind == Entry.Kind.FINISH:
            where = _after_finish(where, outputs, sold)
        elif kind == Entry.Kind.ADDITION and where == Whereabouts.SOAKING:
            where = Whereabouts.IN_POT
        else:
            where = place or AFTER_STEP.get(step or timer, where)
    batch.go(where)
