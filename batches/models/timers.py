"""Timers: what is waited for, until when, and that it is over.

A timer is due at a time, not after a countdown, so that it is the same on every page and device and lives through a
dead phone. Where it was started by a phone whose clock is wrong, it counts from the time that was put right.
"""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from uuid import uuid5

from django.db import models, transaction
from django.db.models import Exists, OuterRef, Q

from recipes.models import RecipeStep
from studio.models.fields import ExactDecimalField, above_zero, one_of

from .details import Reading, StepDone
from .log import Detail, DetailQuerySet, Entry, Stamp, Strike, corrected, settle_where, strike_if_told
from .run import Batch
from .spoken import Answer

LONGEST_MIN = 40 * 24 * 60  # a month in the sun, and some days
SMALLEST = Decimal("0.001")
TENTH = Decimal("0.1")
AFTERWARDS = timedelta(microseconds=1)  # of one moment, the end stands before the step that it writes


class TimerQuerySet(DetailQuerySet):
    def running(self):
        """Standing ones that are still waited for, whether they are due or not.

        A timer is over when somebody ended it, or said in the evening what became of it; one for a line of the plan
        also when that line was ticked or skipped by hand; one to look again at the bath when somebody looked: a later
        reading says how clear it is.
        """
        looked = Reading.objects.standing().filter(entry__at__gt=OuterRef("entry__at")).exclude(clear="")
        looked = looked.filter(entry__batch=OuterRef("entry__batch"))
        asked = Answer.objects.standing().filter(question=Answer.Question.END, about=OuterRef("entry"))
        by_an_end = TimerEnded.objects.filter(entry__batch=OuterRef("batch"), entry__together=OuterRef("together"))
        by_hand = Entry.objects.standing().filter(plan_line=OuterRef("entry__plan_line"))
        by_hand = by_hand.exclude(kind__in=Entry.GETTING_READY).exclude(Exists(by_an_end))
        return (
            self.standing()
            .exclude(Exists(TimerEnded.objects.standing().filter(ends(OuterRef))))
            .exclude(Exists(by_hand))
            .exclude(Exists(asked))
            .exclude(Q(what=Timer.What.LOOK) & Exists(looked))
        )

    def named_by(self, target):
        """Timers that an end with this `target` can mean: the one, or those that were started by one touch."""
        return self.filter(Q(entry=target) | Q(entry__together=target))

    def for_rows(self):
        """With all that a row says, the first due first."""
        named = self.select_related("entry__batch__run__colourway", "entry__batch__vessel", "entry__plan_line")
        return named.order_by("due_at", "entry__batch__number", "pk")


def ends(ref):
    """Which ends are of a timer: they name it, or in its pot the touch that started it."""
    return Q(target=ref("entry")) | Q(target=ref("entry__together"), entry__batch=ref("entry__batch"))


class Timer(Detail):
    """Something is waited for: a soak, a hold that begins when the pot has reached its heat, a day in the sun."""

    class What(models.TextChoices):
        SOAK = "soak", "Soak"
        HOLD = "hold", "Hold"
        COOL = "cool", "Cool"
        SUN = "sun", "In the sun"
        LOOK = "look", "Look again"
        OTHER = "other", "Timer"

    # What is done when it is over, as a step of the log. Others end without one.
    STEPS = {What.SOAK: "soak", What.HOLD: "hold", What.COOL: "cool"}

    entry = models.OneToOneField(Entry, primary_key=True, on_delete=models.PROTECT, related_name="timer")
    what = models.CharField(max_length=5, choices=What.choices)
    minutes = ExactDecimalField(help_text="How long it was to take.")
    due_at = models.DateTimeField(db_index=True)

    objects = TimerQuerySet.as_manager()

    class Meta(Detail.Meta):
        constraints = [
            one_of("what", ["soak", "hold", "cool", "sun", "look", "other"], name="timer_what_known"),
            above_zero("minutes", name="timer_minutes_above_zero"),
        ]

    @property
    def step(self):
        """The kind of step that is done when it is over; "" for none."""
        line = self.entry.plan_line
        if line is None:
            return self.STEPS.get(self.what, "")
        return line.step if line.step != RecipeStep.Kind.ADD else RecipeStep.Kind.OTHER

    def first_began(self):
        """When it began, also where it was given more time since: a query for each time that it was."""
        entry = self.entry
        while entry.because is not None and entry.because.kind == Entry.Kind.TIMER:
            entry = entry.because
        return entry.at

    @classmethod
    def log(cls, batch, stamp, *, what, minutes=None, due_at=None, plan_line=None, because=None):
        """A timer begins. It is due `minutes` after it began by a clock that can be trusted, or else at `due_at`.

        Raises ValueError where `due_at` is over by then.
        """
        with transaction.atomic():
            batch = Batch.lock([batch.pk])[batch.pk]
            now = stamp.clock()
            entry = cls._begin(batch, stamp, now, what, minutes, due_at, plan_line=plan_line, because=because)
            settle_where(batch)
        return entry

    @classmethod
    def _begin(cls, batch, stamp, now, what, minutes, due_at, **names):
        entry = Entry.write(batch, Entry.Kind.TIMER, stamp, now=now, **names)
        due_at = due_at or entry.at + timedelta(minutes=float(minutes))
        if due_at <= entry.at:
            raise ValueError("That time is over already: write a later one, or how many minutes it takes.")
        timer = cls.objects.create(entry=entry, what=what, minutes=minutes_between(entry.at, due_at), due_at=due_at)
        strike_if_told(entry, batch, now)
        early = TimerEnded.objects.standing().filter(Q(target=entry.pk) | Q(target=entry.together, entry__batch=batch))
        for end in early.select_related("entry").order_by("entry__at", "pk"):
            end.log_step(timer, batch, now)  # it came before what it ends
        return entry

    @classmethod
    def more(cls, batch, stamp, *, target, minutes, what=What.OTHER, plan_line=None):
        """The timer named by `target` gets so many minutes more: from when it was due, or from now where that is over.

        It ends as "given more time", and a new one begins, for the same thing. `what` and `plan_line` count where
        the timer itself has not come in yet.
        """
        with transaction.atomic():
            batch = Batch.lock([batch.pk])[batch.pk]
            now = stamp.clock()
            stamp = replace(stamp, together=stamp.together or stamp.id)
            old = cls.objects.named_by(target).filter(entry__batch=batch).select_related("entry__plan_line").first()
            if old is None or cls.objects.running().filter(pk=old.pk).exists():
                end = replace(stamp, id=uuid5(stamp.id, "end"), words="")
                TimerEnded.write(batch, end, now, old.pk if old else target, TimerEnded.Outcome.LONGER)
            if old is not None:
                what, plan_line = old.what, old.entry.plan_line
                stamp = replace(stamp, words=stamp.words or old.entry.words)  # what it is for stays with it
            said = stamp.happened_at or now
            began = corrected(said, sent_at=stamp.sent_at, received_at=now, time_from=stamp.time_from)
            due_at = max(old.due_at, began) if old else began
            due_at += timedelta(minutes=float(minutes))
            because = old.entry if old else None
            entry = cls._begin(batch, stamp, now, what, None, due_at, plan_line=plan_line, because=because)
            settle_where(batch)
        return entry


def minutes_between(begin, end):
    """Minutes as Decimal, to the thousandth."""
    return (Decimal((end - begin) / timedelta(minutes=1))).quantize(SMALLEST)


class TimerEnded(Detail):
    """A timer is over: what it was for is done, or it is not waited for any more.

    `target` is the timer's entry, or the touch that started it, and no foreign key: from a phone this can arrive
    before the timer itself. Two phones may end the same timer; the first to have done so is when it ended.
    """

    class Outcome(models.TextChoices):
        DONE = "done", "done"
        STOPPED = "stopped", "stopped"
        LONGER = "longer", "given more time"

    entry = models.OneToOneField(Entry, primary_key=True, on_delete=models.PROTECT, related_name="timer_ended")
    target = models.UUIDField(db_index=True)
    outcome = models.CharField(max_length=7, choices=Outcome.choices, default=Outcome.DONE)

    class Meta(Detail.Meta):
        verbose_name = "end of a timer"
        verbose_name_plural = "ends of timers"
        constraints = [
            one_of("outcome", ["done", "stopped", "longer"], name="timer_ended_outcome_known"),
            models.CheckConstraint(condition=~models.Q(target=models.F("entry")), name="timer_ended_not_itself"),
        ]

    @classmethod
    def log(cls, batch, stamp, *, target, outcome=Outcome.DONE):
        """The timer that `target` names is over. Done, it logs the step that it was for, with its real minutes.

        Where the timer has not come in yet, the end waits for it, and so does the step.
        """
        with transaction.atomic():
            batch = Batch.lock([batch.pk])[batch.pk]
            now = stamp.clock()
            named = Timer.objects.named_by(target).filter(entry__batch=batch)
            timer = named.select_related("entry__plan_line").first()
            if outcome == cls.Outcome.DONE and (timer is None or timer.step):
                stamp = replace(stamp, together=stamp.together or stamp.id)  # the step is of the same touch
            ended = cls.write(batch, stamp, now, target, outcome)
            if timer is not None:
                ended.log_step(timer, batch, now)
        return ended.entry

    @classmethod
    def write(cls, batch, stamp, now, target, outcome):
        """The rows alone. The batch is locked."""
        if target == stamp.id:
            raise ValueError("This names itself as the timer: open the page anew, and say it once more.")
        entry = Entry.write(batch, Entry.Kind.ENDED, stamp, now=now)
        ended = cls.objects.create(entry=entry, target=target, outcome=outcome)
        strike_if_told(entry, batch, now)
        return ended

    def log_step(self, timer, batch, now):
        """What the timer was for is done, unless that is in the log already. The batch is locked."""
        end, began = self.entry, timer.entry
        struck = Strike.objects.filter(target__in=[end.pk, began.pk]).exists()
        if self.outcome != self.Outcome.DONE or not timer.step or struck or self._logged(timer):
            return
        real = minutes_between(timer.first_began(), end.at).quantize(TENTH)
        told = Stamp(
            id=uuid5(end.pk, "step"),
            by=end.by,
            sent_by=end.sent_by,
            by_touch=end.by_touch,
            happened_at=end.at,
            offset_min=end.offset_min,
            time_from=end.time_from,
            together=end.together,
            digest=end.digest,
            clock=lambda: now + AFTERWARDS,
        )
        line = began.plan_line
        facts = {"temperature_c": line.temperature_c} if line is not None else {}
        StepDone.log(batch, told, kind=timer.step, plan_line=line, minutes=real if real > 0 else None, **facts)

    def _logged(self, timer):
        """Whether its line of the plan is done, or somebody else ended it before."""
        entries = Entry.objects.standing()
        if (line := timer.entry.plan_line) is not None:
            return entries.filter(plan_line=line).exclude(kind__in=Entry.GETTING_READY).exists()
        others = TimerEnded.objects.standing().filter(target__in=[timer.pk, timer.entry.together])
        others = others.filter(entry__batch=timer.entry.batch_id, outcome=self.Outcome.DONE).exclude(pk=self.pk)
        return entries.filter(pk__in=[uuid5(key, "step") for key in others.values_list("pk", flat=True)]).exists()
