"""Timers: what is waited for, until when, and that it is over.

A timer is due at a time, not after a countdown, so that it is the same on every page and device and lives through a
dead phone. Where it was started by a phone whose clock is wrong, it counts from the time that was put right.
"""

from datetime import timedelta

from django.db import models, transaction
from django.db.models import Exists, OuterRef

from studio.models.fields import ExactDecimalField, KeptQuerySet, above_zero, one_of

from .log import Detail, Entry, Strike, strike_if_told
from .run import Batch


class TimerQuerySet(KeptQuerySet):
    def standing(self):
        """Timers that nobody struck out."""
        return self.exclude(Exists(Strike.objects.filter(target=OuterRef("entry"))))

    def running(self):
        """Standing ones that nobody has ended, whether they are due or not."""
        return self.standing().exclude(Exists(TimerEnded.objects.standing().filter(target=OuterRef("entry"))))


class Timer(Detail):
    """Something is waited for: a soak, a hold that begins when the pot has reached its heat, a day in the sun."""

    class What(models.TextChoices):
        SOAK = "soak", "Soak"
        HOLD = "hold", "Hold"
        COOL = "cool", "Cool"
        SUN = "sun", "In the sun"
        LOOK = "look", "Look again"
        OTHER = "other", "Timer"

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

    @classmethod
    def log(cls, batch, stamp, *, what, minutes, plan_line=None, because=None):
        """A timer begins. It is due `minutes` after it began by a clock that can be trusted."""
        with transaction.atomic():
            batch = Batch.lock([batch.pk])[batch.pk]
            now = stamp.clock()
            entry = Entry.write(batch, Entry.Kind.TIMER, stamp, now=now, plan_line=plan_line, because=because)
            cls.objects.create(
                entry=entry, what=what, minutes=minutes, due_at=entry.at + timedelta(minutes=float(minutes))
            )
            strike_if_told(entry, batch, now)
        return entry


class TimerEndedQuerySet(KeptQuerySet):
    def standing(self):
        return self.exclude(Exists(Strike.objects.filter(target=OuterRef("entry"))))


class TimerEnded(Detail):
    """A timer is over: what it was for is done, or it is not waited for any more.

    `target` is the timer's entry and no foreign key: from a phone this can arrive before the timer itself. Two phones
    may end the same timer; the first to have done so is when it ended.
    """

    class Outcome(models.TextChoices):
        DONE = "done", "done"
        STOPPED = "stopped", "stopped"
        LONGER = "longer", "given more time"

    entry = models.OneToOneField(Entry, primary_key=True, on_delete=models.PROTECT, related_name="timer_ended")
    target = models.UUIDField(db_index=True)
    outcome = models.CharField(max_length=7, choices=Outcome.choices, default=Outcome.DONE)

    objects = TimerEndedQuerySet.as_manager()

    class Meta(Detail.Meta):
        verbose_name = "end of a timer"
        verbose_name_plural = "ends of timers"
        constraints = [
            one_of("outcome", ["done", "stopped", "longer"], name="timer_ended_outcome_known"),
            models.CheckConstraint(condition=~models.Q(target=models.F("entry")), name="timer_ended_not_itself"),
        ]

    @classmethod
    def log(cls, batch, stamp, *, target, outcome=Outcome.DONE):
        """The timer whose entry is `target` is over."""
        with transaction.atomic():
            batch = Batch.lock([batch.pk])[batch.pk]
            now = stamp.clock()
            entry = Entry.write(batch, Entry.Kind.ENDED, stamp, now=now)
            cls.objects.create(entry=entry, target=target, outcome=outcome)
            strike_if_told(entry, batch, now)
        return entry
