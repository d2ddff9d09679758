"""A run's hours: what stands in its log as a drawn line, and that line said in words."""

from datetime import timedelta

from django.utils import timezone

from . import timeline, timers
from .models import Entry
from .telling import addition_colour
from .under_way import pots_in_words

KINDS_DRAWN = {
    Entry.Kind.ADDITION: "in",
    Entry.Kind.READING: "reading",
    Entry.Kind.STEP: "step",
    Entry.Kind.PHOTO: "photo",
    Entry.Kind.CHECK: "check",
}


def timeline_of(standing, batches):
    """The `timeline.Timeline` of what stands in the log, by the studio's clock; None before anything does."""
    pots, ends = {batch.pk: pot for pot, batch in enumerate(batches)}, timers.ends_in(standing, timezone.now())
    by_timer = {entry.together for entry in standing if entry.kind == Entry.Kind.ENDED} - {None}
    found = [
        _waited(entry, pots[entry.batch_id], ends[entry.pk])
        if entry.kind == Entry.Kind.TIMER
        else _happening(entry, pots[entry.batch_id], by_timer)
        for entry in standing
        if entry.kind != Entry.Kind.ENDED  # the timer's own stretch says when
    ]
    return timeline.timeline(found, len(batches))


def _happening(entry, pot, by_timer):
    step = entry.step if entry.kind == Entry.Kind.STEP else None
    if step and entry.together in by_timer:  # its time is the timer's
        return timeline.Happening(
            _local(entry.at), pot, "step", step=step.kind if step.kind in timeline.ENDS_HEAT else ""
        )
    return timeline.Happening(
        at=_local(entry.at),
        pot=pot,
        kind=KINDS_DRAWN.get(entry.kind, "other"),
        step=step.kind if step else "finish" if entry.kind == Entry.Kind.FINISH else "",
        minutes=step.minutes if step else None,
        fill=addition_colour(entry.addition) if entry.kind == Entry.Kind.ADDITION else "",
    )


def _waited(entry, pot, end):
    """A timer, with what it was for: a hold is hot as long as it took."""
    minutes = (end - entry.at) / timedelta(minutes=1)
    return timeline.Happening(_local(entry.at), pot, "timer", step=entry.timer.step, minutes=minutes, end=_local(end))


def _local(at):
    return timezone.localtime(at).replace(tzinfo=None)


# What a kind is called on the page, where one happened and where several did.
CALLED = {
    "in": ("something went in once", "something went in {} times"),
    "reading": ("1 reading", "{} readings"),
    "step": ("1 step", "{} steps"),
    "photo": ("1 photo", "{} photos"),
    "check": ("1 check", "{} checks"),
    "timer": ("1 timer", "{} timers"),
    "other": ("1 more line", "{} more lines"),
}


def line_words(line, batches):
    """The timeline said: {"stretches": [(begin, end, "2 readings, 1 photo")], "hot": [(begin, end, pots)]}."""
    told = [
        (one.begin, one.end, ", ".join(CALLED[kind][n > 1].format(n) for kind, n in one.counts.items()))
        for one in line.stretches
    ]
    hot = [
        (begin, end, pots_in_words([batches[pot] for pot in pots]) if len(batches) > 1 else "")
        for begin, end, pots in line.hot()
    ]
    return {"stretches": told, "hot": hot}
