"""The one way in for whatever happens to a batch: from a page, from htmx, from a phone's outbox.

A mapping comes in. Its `kind` names a row of `KINDS`: the form that reads it, and the parts that it makes. A part
is one verb of the log with its facts; each becomes one entry.

Ids. The phone or the page makes one UUID for what it sends. One entry takes it as its own. Several entries (one
for each pot, planned line or photo) share it as `together`, and each has the UUID version 5 of the id sent and
"batch key/mark", the mark being the planned line's position, the photo's number or nothing. So sending it twice
stores it once, in whatever order copies arrive.

A known id is answered before anything is validated: what is stored stays stored, also when the form would refuse
it today. The same id with other content is refused.
"""

from collections.abc import Callable
from dataclasses import dataclass
from uuid import UUID, uuid5

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.utils import timezone

from studio.models import Lot

from . import parts
from .forms import additions, entries, photos, planned, readings, skeins, steps, strikes, talk, timers, writeup
from .models import Batch, Entry, Run, Stamp, State, Strike, TimerEnded
from .parts import CameInMeanwhile, id_of_part

SAVED, ALREADY, WRONG, CLASH, FORBIDDEN = "saved", "already", "wrong", "clash", "forbidden"
STATUS = {SAVED: 201, ALREADY: 200, WRONG: 422, CLASH: 409, FORBIDDEN: 403}

OTHER_POT = "This was saved already, in another pot. Nothing was added here: open that pot to see it."
OTHER_CONTENT = (
    "This page was sent before with something else on it, and that was saved. To log this as well, send it once more."
)
UNKNOWN_KIND = "This page has lost what it is about: open it anew from the sink, and send it once more."
NOT_YOURS = "Only owners, makers and helpers may log. The studio's owner can give you that role."


@dataclass(frozen=True)
class Answer:
    """What became of what was sent. `entries` are the rows of the log, also when they were there before; `refused` says
    of each part that could not be kept, beside others that were, which and why.
    """

    state: str
    id: UUID | None = None
    entries: tuple = ()
    form: object = None
    sentence: str = ""
    refused: tuple = ()

    @property
    def ok(self):
        return self.state in (SAVED, ALREADY)

    @property
    def status(self):
        return STATUS[self.state]

    @property
    def errors(self):
        """{field: [sentence]}; "__all__" for what belongs to no field."""
        if self.sentence:
            return {"__all__": [self.sentence]}
        return {} if self.ok or self.form is None else {name: list(found) for name, found in self.form.errors.items()}


@dataclass(frozen=True)
class Kind:
    """How one kind of thing is read and logged.

    `parts(form, pots)`: the valid form and the locked pots that were meant -> Parts; a ValueError with a sentence
    refuses. `before(form)` does what takes long and must not hold a lock. `starts`: the first of these starts a
    planned run, as dyeing has begun whoever forgot to say so. `blind`: its parts don't look at the log.
    """

    form: type
    parts: Callable
    before: Callable = lambda form: None
    starts: bool = False
    locks_run: bool = False
    blind: bool = False


def take(data, files, *, batch, person, sent_by=None, clock=timezone.now):
    """Log what was sent for `batch`. `person` did it unless the form says who did."""
    kind = KINDS.get(data.get("kind"))
    if kind is None:
        return Answer(WRONG, sentence=UNKNOWN_KIND)
    form = kind.form(data, files, batch=batch, person=person)
    sent = form.sent_id()
    digest = form.digest()
    if known := answer_known(sent, digest, batch, form):
        return known
    if not person.may_log:
        return Answer(FORBIDDEN, sent, form=form, sentence=NOT_YOURS)
    if not form.is_valid() or not _prepared(kind, form):
        return _wrong(sent, form)
    if kind.starts and batch.state == State.PLANNED:
        batch.run.start(by=person, clock=clock)
    try:
        return _log(kind, form, digest, batch, sent_by or person, clock)
    except (IntegrityError, CameInMeanwhile):
        # Another copy got in at the same moment: now it can be seen, or what it did makes this one wrong.
        return answer_known(sent, digest, batch, form) or _log(kind, form, digest, batch, sent_by or person, clock)


def answer_known(sent, digest, batch, form=None):
    """The answer to an id that is in the log already, or None."""
    found = Entry.objects.filter(Q(pk=sent) | Q(together=sent))
    if not sent or not found.exists():
        return None
    known = list(found.order_by("at", "pk"))
    if any(entry.digest == digest for entry in known):
        return Answer(ALREADY, sent, tuple(known), form)
    elsewhere = batch.pk not in {entry.batch_id for entry in known}
    return Answer(CLASH, sent, form=form, sentence=OTHER_POT if elsewhere else OTHER_CONTENT)


def _prepared(kind, form):
    try:
        kind.before(form)
    except ValueError as problem:
        form.add_error(None, str(problem))
    return form.is_valid()


def _wrong(sent, form):
    forbidden = any(problem.code == "forbidden" for problem in form.non_field_errors().as_data())
    return Answer(FORBIDDEN if forbidden else WRONG, sent, form=form)


def _log(kind, form, digest, batch, sent_by, clock):
    sent = form.cleaned_data["id"]
    keys = form.chosen_pots()
    try:
        lone = kind.parts(form, [batch]) if kind.blind and keys == [batch.pk] else ()
        if len(lone) == 1:
            # One verb, which locks for itself: its transaction is all there is, and the locks are held no longer.
            written = _written(lone, form, sent, digest, sent_by, clock)
        else:
            with transaction.atomic():
                if kind.locks_run:
                    Run.lock(batch.run_id)
                # What looks at the log before it writes must hold the locks by then.
                made = kind.parts(form, list(Batch.lock(keys).values()))
                if len(made) > 1:  # one part locks its own
                    Lot.hold([part.facts["lot"].pk for part in made if part.facts.get("lot")])
                written = _written(made, form, sent, digest, sent_by, clock, spread=len(keys) > 1)
    except ValueError as problem:  # the verbs and parts refuse with a sentence for a person
        if known := answer_known(sent, digest, batch, form):  # another copy was quicker, and made this one refusable
            return known
        form.add_error(None, str(problem))
        return _wrong(sent, form)
    return Answer(SAVED, sent, tuple(written), form, refused=tuple(getattr(form, "refused", ())))


def _written(made, form, sent, digest, sent_by, clock, *, spread=False):
    """The entries of these parts. `spread`: several pots were meant, even if only one still lacked it."""
    alone = len(made) == 1 and not (spread and _waited_for_elsewhere(sent, made[0].batch))
    stamps = [_stamp(part, form, sent, digest, sent_by, clock, alone=alone) for part in made]
    written = [part.verb(part.batch, stamp, **part.facts) for part, stamp in zip(made, stamps, strict=True)]
    if not alone:
        _strike_if_told(sent, written, clock)
    return written


def _waited_for_elsewhere(sent, batch):
    """Whether what came before this touch waits for it in another pot's log: then it reaches its one line as it would
    reach several, in the pot where that stands.
    """
    waiting = (Strike.objects, TimerEnded.objects)
    return any(rows.filter(target=sent).exclude(entry__batch=batch).exists() for rows in waiting)


def _strike_if_told(sent, written, clock):
    """A strike-out of this touch may have come before it: then it reaches each of its lines, as said that day."""
    early = Strike.objects.filter(target=sent).select_related("entry__by", "entry__sent_by").first()
    for entry in written if early is not None else ():
        told = early.entry
        stamp = Stamp(
            id=uuid5(told.pk, str(entry.pk)),
            together=told.pk,
            by=told.by,
            sent_by=told.sent_by,
            by_touch=told.by_touch,
            happened_at=told.at,
            offset_min=told.offset_min,
            time_from=told.time_from,
            digest=told.digest,
            clock=clock,
        )
        Strike.log(entry.batch, stamp, target=entry.pk, reason=early.reason)


def _stamp(part, form, sent, digest, sent_by, clock, *, alone):
    facts = form.stamped()
    if part.words is not None:
        facts["words"] = part.words
    facts |= part.stamped
    return Stamp(
        id=sent if alone else id_of_part(sent, part.batch, part.mark),
        together=None if alone else sent,
        sent_by=sent_by,
        by_touch=form.person.on_phone,
        digest=digest,
        clock=clock,
        **facts,
    )


# A later room adds its own kind here: a row, a form in its own module, and its parts.
KINDS = {
    "bottle": Kind(additions.BottleForm, parts.of_addition, starts=True, blind=True),
    "powder": Kind(additions.PowderForm, parts.of_addition, starts=True, blind=True),
    "other": Kind(additions.OtherForm, parts.of_addition, starts=True, blind=True),
    "water": Kind(additions.WaterForm, parts.of_addition, starts=True, blind=True),
    "reading": Kind(timers.LookForm, parts.of_reading, starts=True, blind=True),
    "step": Kind(steps.StepForm, parts.of_step, starts=True, blind=True),
    "usual": Kind(steps.UsualForm, parts.of_step, starts=True, blind=True),
    "again": Kind(steps.AgainForm, parts.of_again, starts=True, blind=True),
    "move": Kind(steps.MoveForm, parts.of_move, starts=True, blind=True),
    "skein": Kind(skeins.SkeinForm, parts.of_skein, before=parts.develop_any_photos, starts=True, locks_run=True),
    "photo": Kind(photos.PhotoForm, parts.of_photo, before=parts.develop_photos, locks_run=True),
    "talk": Kind(talk.TalkForm, parts.of_talk, before=parts.keep_talk, blind=True),
    "check": Kind(readings.CheckForm, parts.of_check),
    "work": Kind(entries.WorkForm, parts.of_work),
    "words": Kind(entries.WordsForm, parts.of_words),
    "timer": Kind(timers.TimerForm, parts.of_timer, starts=True),
    "timer_end": Kind(timers.TimerEndForm, parts.of_timer_end),
    "timer_more": Kind(timers.TimerMoreForm, parts.of_timer_more),
    "strike": Kind(strikes.StrikeForm, parts.of_strike, locks_run=True),
    "tick": Kind(planned.TickForm, parts.of_tick, starts=True),
    "weighed": Kind(planned.WeighedForm, parts.of_weighed),
    "all_weighed": Kind(planned.AllWeighedForm, parts.of_all_weighed),
    "answer": Kind(writeup.AnswerForm, parts.of_answer),
    "done_to_here": Kind(planned.DoneToHereForm, parts.of_done_to_here, starts=True),
}
