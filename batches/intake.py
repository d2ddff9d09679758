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
from contextlib import suppress
from dataclasses import dataclass, field
from decimal import Decimal
from uuid import UUID, uuid5

from django.db import IntegrityError, transaction
from django.db.models import Max, Q
from django.utils import timezone

from recipes.models import How, RecipeStep
from studio import album, darkroom
from studio.models import Lot
from studio.money import split

from . import answering
from .again import verb_and_facts
from .forms import additions, entries, photos, planned, skeins, strikes, talk, timers, writeup
from .models import (
    Addition,
    Batch,
    Check,
    Entry,
    Move,
    PhotoTaken,
    PlanLine,
    Reading,
    Run,
    SkeinDone,
    Stamp,
    State,
    StepDone,
    Strike,
    Talk,
    Timer,
    TimerEnded,
    Weighed,
    Work,
)
from .telling import SKIPPED, capital

THOUSANDTH = Decimal("0.001")
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
class Part:
    """One entry to be: `verb(batch, stamp, **facts)`. `mark` tells it from the others of the same pot; its own `words`
    and what it has `stamped` stand before those of the form.
    """

    verb: Callable
    batch: Batch
    facts: dict = field(default_factory=dict)
    mark: object = ""
    words: str | None = None
    stamped: dict = field(default_factory=dict)  # who and when, where that is not what the form says


class CameInMeanwhile(Exception):
    """While this waited for its pot, what it names came in, in other pots too: once more, with all of them locked."""


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
                parts = kind.parts(form, list(Batch.lock(keys).values()))
                if len(parts) > 1:  # one part locks its own
                    Lot.hold([part.facts["lot"].pk for part in parts if part.facts.get("lot")])
                written = _written(parts, form, sent, digest, sent_by, clock)
    except ValueError as problem:  # the verbs and parts refuse with a sentence for a person
        if known := answer_known(sent, digest, batch, form):  # another copy was quicker, and made this one refusable
            return known
        form.add_error(None, str(problem))
        return _wrong(sent, form)
    return Answer(SAVED, sent, tuple(written), form, refused=tuple(getattr(form, "refused", ())))


def _written(parts, form, sent, digest, sent_by, clock):
    alone = len(parts) == 1
    stamps = [_stamp(part, form, sent, digest, sent_by, clock, alone=alone) for part in parts]
    written = [part.verb(part.batch, stamp, **part.facts) for part, stamp in zip(parts, stamps, strict=True)]
    if not alone:
        _strike_if_told(sent, written, clock)
    return written


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
        digest=digest,
        clock=clock,
        **facts,
    )


def id_of_part(sent, batch, mark=""):
    """The id of one of several entries that one touch makes."""
    return uuid5(sent, f"{batch.pk}/{mark}")


# What each kind makes


def addition_parts(form, pots):
    return [Part(Addition.log, pot, form.facts()) for pot in pots]


def reading_parts(form, pots):
    parts = [Part(Reading.log, pot, form.facts()) for pot in pots]
    if minutes := form.cleaned_data.get("look"):
        again = {"what": Timer.What.LOOK, "minutes": Decimal(minutes)}
        parts += [Part(Timer.log, pot, again, mark="look") for pot in pots]
    return parts


def step_parts(form, pots):
    return [Part(StepDone.log, pot, form.facts()) for pot in pots]


def again_parts(form, pots):
    told = [(source.pk, *verb_and_facts(source)) for source in form.cleaned_data["source"]]
    return [Part(verb, pot, facts, mark=source) for pot in pots for source, verb, facts in told]


def move_parts(form, pots):
    return [Part(Move.log, pot, form.facts()) for pot in pots]


def words_parts(form, pots):
    return [Part(Entry.log_words, pot) for pot in pots]


def check_parts(form, pots):
    return [Part(Check.log, pot, form.facts()) for pot in pots]


def work_parts(form, pots):
    minutes = split(form.cleaned_data["minutes"].quantize(THOUSANDTH), [1] * len(pots), 3)
    return [Part(Work.log, pot, {"minutes": part}) for pot, part in zip(pots, minutes, strict=True)]


def develop_photos(form):
    """Keep the pictures that can be, each under an id that follows from the id sent, so that trying again keeps none
    twice. The others are named: whoever stands at the sink should not choose the good ones anew.

    Raises ValueError with a sentence for each where none can be kept.
    """
    sent, files = form.cleaned_data["id"], form.cleaned_data["photos"]
    for number, file in enumerate(files, 1):
        try:
            if number > photos.MOST_AT_ONCE:
                raise darkroom.NotAPhoto(f"{photos.MOST_AT_ONCE} at once are the most: send it with the next ones.")
            own_time = form.taken(number)
            picture = album.keep_picture(file, form.person, id=uuid5(sent, f"photo {number}"), taken_at=own_time)
            form.pictures.append((number, picture))
        except darkroom.NotAPhoto as problem:
            named = f"{photos.name_of(file, number)} was not kept. " if len(files) > 1 else ""
            form.refused.append(f"{named}{problem}")
    if not form.pictures:
        raise ValueError(" ".join(form.refused))


def photo_parts(form, pots):
    return [
        Part(PhotoTaken.log, pot, form.facts() | {"picture": picture}, mark=number, stamped=form.own_time(picture))
        for pot in pots
        for number, picture in form.pictures
    ]


def develop_any_photos(form):
    """Keep the photos that came with something else. It is logged whatever becomes of them."""
    if form.cleaned_data["photos"]:
        with suppress(ValueError):  # what was wrong with each stands in `refused`
            develop_photos(form)


def skein_parts(form, pots):
    """The skein, counted on from the last one unless its number is said, and its photos about it."""
    sent, parts = form.cleaned_data["id"], []
    for pot in pots:
        number = form.cleaned_data.get("number") or next_skein(pot)
        parts.append(Part(SkeinDone.log, pot, {"number": number}))
        # The skein's own line is written just before: by then the row of this key is there.
        facts = {"stage": form.stage, "about": Entry(pk=id_of_part(sent, pot))}
        parts += [
            Part(PhotoTaken.log, pot, facts | {"picture": kept}, mark=mark, stamped=form.own_time(kept))
            for mark, kept in form.pictures
        ]
    return parts


def next_skein(batch):
    """The number of the painted skein after the last one that was done."""
    done = SkeinDone.objects.filter(entry__in=Entry.objects.standing().filter(batch=batch))
    return (done.aggregate(last=Max("number"))["last"] or 0) + 1


def keep_talk(form):
    """Keep the recording, under an id that follows from the id sent. Raises ValueError with a sentence."""
    sent = form.cleaned_data["id"]
    form.kept = album.keep_sound(form.cleaned_data["sound"], form.person, id=uuid5(sent, "talk"))


def talk_parts(form, pots):
    return [Part(Talk.log, pot, form.facts()) for pot in pots]


def strike_parts(form, pots):
    if form.target is None and form.look_up() is not None and form.target.together:
        raise CameInMeanwhile
    targets = form.targets()
    if form.target is not None and not targets:
        raise ValueError("This line is struck out already.")
    reason = form.cleaned_data["reason"]
    return [Part(Strike.log, batch, {"target": target, "reason": reason}, mark=target) for batch, target in targets]


# Planned lines


def tick_parts(form, pots):
    """The line in each pot that was meant, where it is not in the log yet."""
    said = form.cleaned_data
    line = said["line"]
    lines = [twin for twin in plan_lines(pots, position=line.position) if is_twin(line, twin)]
    if not lines:
        raise ValueError(
            f"{capital(str(line))} is in the log already. If more went in, log it as an addition of its own."
        )
    if said.get("skip"):
        words = said.get("note") or SKIPPED
        return [
            Part(Entry.log_words, twin.batch, {"plan_line": twin}, mark=twin.position, words=words) for twin in lines
        ]
    return [line_part(twin, form) for twin in lines]


def done_to_here_parts(form, pots):
    """All lines up to this one, in each pot that was meant, where they are not in the log yet."""
    lines = plan_lines(pots, position__lte=form.cleaned_data["line"].position)
    if not lines:
        raise ValueError("Everything up to this line is in the log already.")
    return [line_part(line) for line in lines]


def weighed_parts(form, pots):
    """The line in each pot that was meant, where it is neither in nor weighed yet."""
    line = form.cleaned_data["line"]
    twins = [twin for twin in plan_lines(pots, position=line.position, weighed=False) if is_twin(line, twin)]
    if not line.is_amount or not twins:
        raise ValueError(f"{capital(str(line))} has nothing to weigh, or is weighed already.")
    amount = {"amount": form.cleaned_data.get("kept")}
    return [Part(Weighed.log, twin.batch, {"plan_line": twin} | amount, mark=twin.position) for twin in twins]


def all_weighed_parts(form, pots):
    """All that a scale or a syringe measures for these pots, as told, where it is neither in nor weighed yet."""
    lines = [line for line in plan_lines(pots, weighed=False) if line.is_measured]
    if not lines:
        raise ValueError("All of this stands weighed already, or is in.")
    return [Part(Weighed.log, line.batch, {"plan_line": line}, mark=line.position) for line in lines]


def answer_parts(form, pots):
    """What an answer of the evening makes of the log, where the question is still open."""
    lines = {line.pk: line for line in plan_lines(pots)} if form.cleaned_data["lines"] else {}
    parts = []
    for verb, batch, facts, stamped, mark in answering.pieces(form):
        line = facts.get("line", facts.get("plan_line")) if form.cleaned_data["lines"] else None
        if line is not None and line.pk not in lines:
            raise ValueError(f"{capital(str(line))} is in the log already: open the page anew.")
        if verb is None:
            part = line_part(lines[line.pk], form)
            part = Part(part.verb, batch, part.facts, mark=mark, stamped=stamped)
        else:
            part = Part(verb, batch, facts, mark=mark, stamped=stamped)
        parts.append(part)
    return parts


def plan_lines(pots, **which):
    """The planned lines of these pots that no standing entry names, in the plan's order."""
    lines = PlanLine.objects.filter(batch__in=pots).with_done().with_stands().filter(done=False, **which)
    named = lines.select_related("batch", "lot__dye", "lot__assistant", "lot__solution", "dye", "assistant", "solution")
    return list(named.order_by("position", "batch_id"))


def is_twin(line, other):
    """Whether two pots' plans say the same thing here, whatever the amounts."""
    same = ("step", "dye_id", "assistant_id", "solution_id", "water")
    return all(getattr(line, name) == getattr(other, name) for name in same)


def line_part(line, form=None):
    """A planned line as it goes into the log; `form` may say another amount, lot or place."""
    if not line.is_amount:
        kind = line.step if line.step != RecipeStep.Kind.ADD else RecipeStep.Kind.OTHER
        facts = {"kind": kind, "plan_line": line, "temperature_c": line.temperature_c, "minutes": line.minutes or None}
        return Part(StepDone.log, line.batch, facts, mark=line.position)
    said = form.cleaned_data if form is not None else {}
    # The planned bottle stands for each pot's own: another pot may have been planned from another one.
    lot = said["lot"] if said.get("lot") and said["lot"] != said["line"].lot else line.lot
    amount = None if said.get("unmeasured") else said.get("kept", line.to_go_in)
    facts = {
        "lot": lot,
        "amount": amount,
        "plan_line": line,
        "how": said.get("how") or line.how or How.ADDED,
        "place": said.get("place") or line.place,
        **(form.typed() if form is not None else {}),
    }
    if lot is None:
        # No jar or bottle was planned: what went in is kept in words, and can be told from the shelf's own.
        named = {"other": "water"} if line.water else {"other": "words", "what": line.name[:120]}
        facts |= named | {"unit": line.unit or ("mL" if amount is not None else "")}
    return Part(Addition.log, line.batch, facts, mark=line.position)


# Timers


def timer_parts(form, pots):
    """A timer in each pot that was meant; for a line of the plan, where it is not in the log and not waited for yet."""
    line = form.cleaned_data.get("line")
    if line is None:
        return [Part(Timer.log, pot, form.facts()) for pot in pots]
    lines = [twin for twin in plan_lines(pots, position=line.position) if is_twin(line, twin)]
    running = Timer.objects.running().filter(entry__plan_line__in=lines)
    waited_for = set(running.values_list("entry__plan_line", flat=True))
    left = [twin for twin in lines if twin.pk not in waited_for]
    if not left:
        raise ValueError(f"{capital(str(line))} is in the log already, or its timer runs: look at the sink page.")
    return [Part(Timer.log, twin.batch, form.facts(twin)) for twin in left]


def timer_end_parts(form, pots):
    return [Part(TimerEnded.log, pot, form.facts(target), mark=target) for pot, target in form.targets(pots)]


def timer_more_parts(form, pots):
    return [Part(Timer.more, pot, form.facts(target)) for pot, target in form.targets(pots)]


# A later room adds its own kind here: a row, a form in its own module, and its parts.
KINDS = {
    "bottle": Kind(additions.BottleForm, addition_parts, starts=True, blind=True),
    "powder": Kind(additions.PowderForm, addition_parts, starts=True, blind=True),
    "other": Kind(additions.OtherForm, addition_parts, starts=True, blind=True),
    "water": Kind(additions.WaterForm, addition_parts, starts=True, blind=True),
    "reading": Kind(timers.LookForm, reading_parts, starts=True, blind=True),
    "step": Kind(entries.StepForm, step_parts, starts=True, blind=True),
    "usual": Kind(entries.UsualForm, step_parts, starts=True, blind=True),
    "again": Kind(entries.AgainForm, again_parts, starts=True, blind=True),
    "move": Kind(entries.MoveForm, move_parts, starts=True, blind=True),
    "skein": Kind(skeins.SkeinForm, skein_parts, before=develop_any_photos, starts=True, locks_run=True),
    "photo": Kind(photos.PhotoForm, photo_parts, before=develop_photos, locks_run=True),
    "talk": Kind(talk.TalkForm, talk_parts, before=keep_talk, blind=True),
    "check": Kind(entries.CheckForm, check_parts),
    "work": Kind(entries.WorkForm, work_parts),
    "words": Kind(entries.WordsForm, words_parts),
    "timer": Kind(timers.TimerForm, timer_parts, starts=True),
    "timer_end": Kind(timers.TimerEndForm, timer_end_parts),
    "timer_more": Kind(timers.TimerMoreForm, timer_more_parts),
    "strike": Kind(strikes.StrikeForm, strike_parts, locks_run=True),
    "tick": Kind(planned.TickForm, tick_parts, starts=True),
    "weighed": Kind(planned.WeighedForm, weighed_parts),
    "all_weighed": Kind(planned.AllWeighedForm, all_weighed_parts),
    "answer": Kind(writeup.AnswerForm, answer_parts),
    "done_to_here": Kind(planned.DoneToHereForm, done_to_here_parts, starts=True),
}
