"""What each kind of thing that is said makes of the log: parts, for `intake`.

Each function takes a valid form and the pots that were meant, locked unless its kind is blind, and answers with parts;
a ValueError with a sentence refuses all of it.
"""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from decimal import Decimal
from uuid import uuid5

from django.db.models import Max

from recipes.models import How, RecipeStep
from studio import album, darkroom
from studio.money import split

from . import answering
from .again import verb_and_facts
from .forms import photos
from .forms.entries import file_digest
from .forms.readings import celsius
from .models import (
    Addition,
    Batch,
    Check,
    Entry,
    Move,
    PhotoTaken,
    PlanLine,
    Reading,
    SkeinDone,
    StepDone,
    Strike,
    Talk,
    Timer,
    TimerEnded,
    Weighed,
    Work,
)
from .telling import SKIPPED
from .wording import capital

THOUSANDTH = Decimal("0.001")


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


def id_of_part(sent, batch, mark=""):
    """The id of one of several entries that one touch makes."""
    return uuid5(sent, f"{batch.pk}/{mark}")


def of_addition(form, pots):
    return [Part(Addition.log, pot, form.facts()) for pot in pots]


def of_reading(form, pots):
    parts = [Part(Reading.log, pot, form.facts()) for pot in pots]
    if minutes := form.cleaned_data.get("look"):
        again = {"what": Timer.What.LOOK, "minutes": Decimal(minutes)}
        parts += [Part(Timer.log, pot, again, mark="look") for pot in pots]
    return parts


def of_step(form, pots):
    return [Part(StepDone.log, pot, form.facts()) for pot in pots]


def of_again(form, pots):
    told = [(source.pk, *verb_and_facts(source)) for source in form.cleaned_data["source"]]
    return [Part(verb, pot, facts, mark=source) for pot in pots for source, verb, facts in told]


def of_move(form, pots):
    return [Part(Move.log, pot, form.facts()) for pot in pots]


def of_words(form, pots):
    return [Part(Entry.log_words, pot) for pot in pots]


def of_check(form, pots):
    return [Part(Check.log, pot, form.facts()) for pot in pots]


def of_work(form, pots):
    minutes = split(form.cleaned_data["minutes"].quantize(THOUSANDTH), [1] * len(pots), 3)
    return [Part(Work.log, pot, {"minutes": part}) for pot, part in zip(pots, minutes, strict=True)]


def develop_photos(form):
    """Keep the pictures that can be, each under an id that follows from the id sent and from its file: trying again
    keeps none twice, and another photo sent in its place is not taken for it. The others are named: whoever stands at
    the sink should not choose the good ones anew.

    Raises ValueError with a sentence for each where none can be kept.
    """
    sent, files = form.cleaned_data["id"], form.cleaned_data["photos"]
    for number, file in enumerate(files, 1):
        try:
            if number > photos.MOST_AT_ONCE:
                raise darkroom.NotAPhoto(f"{photos.MOST_AT_ONCE} at once are the most: send it with the next ones.")
            own_time = form.taken(number)
            key = uuid5(sent, f"photo {number} {file_digest(file)}")
            picture = album.keep_picture(file, form.person, id=key, taken_at=own_time)
            form.pictures.append((number, picture))
        except darkroom.NotAPhoto as problem:
            named = f"{photos.name_of(file, number)} was not kept. " if len(files) > 1 else ""
            form.refused.append(f"{named}{problem}")
    if not form.pictures:
        raise ValueError(" ".join(form.refused))


def of_photo(form, pots):
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


def of_skein(form, pots):
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
    done = SkeinDone.objects.standing().filter(entry__batch=batch)
    return (done.aggregate(last=Max("number"))["last"] or 0) + 1


def keep_talk(form):
    """Keep the recording, under an id as a photo's. Raises ValueError with a sentence."""
    sent, file = form.cleaned_data["id"], form.cleaned_data["sound"]
    form.kept = album.keep_sound(file, form.person, id=uuid5(sent, f"talk {file_digest(file)}"))


def of_talk(form, pots):
    return [Part(Talk.log, pot, form.facts()) for pot in pots]


def of_strike(form, pots):
    if form.target is None and form.look_up() is not None and form.target.together:
        raise CameInMeanwhile
    targets = form.targets()
    if form.target is not None and not targets:
        raise ValueError("This line is struck out already.")
    reason = form.cleaned_data["reason"]
    return [Part(Strike.log, batch, {"target": target, "reason": reason}, mark=target) for batch, target in targets]


# Planned lines


def of_tick(form, pots):
    """The line in each pot that was meant, where it is not in the log yet."""
    said = form.cleaned_data
    line = said["line"]
    if line.edition < form.batch.edition:
        lines = by_an_earlier_plan(line, pots)
    else:
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


def by_an_earlier_plan(line, pots):
    """The lines that a tick of a plan written anew meanwhile is for: those of now that say the same thing.

    Who ticked it had not heard of the new plan, so what went in is what the old one told: they carry that amount. What
    the new plan does not ask for any more is the old line itself.
    """
    then = PlanLine.every.filter(batch__in=pots, edition=line.edition, position=line.position).with_done().with_stands()
    named = then.named().select_related("batch")
    asked = {one.batch_id for one in PlanLine.objects.filter(batch__in=pots) if is_twin(line, one)}
    now = {}
    for one in sorted(plan_lines(pots), key=lambda one: one.position != line.position):
        if is_twin(line, one):
            now.setdefault(one.batch_id, one)
    found = []
    for old in named.order_by("batch_id"):
        new = now.get(old.batch_id)
        if not is_twin(line, old) or old.done or old.batch_id in asked and new is None:
            continue  # it is in already
        if new is not None:
            new.lot, new.stands = old.lot, old.to_go_in
            new.estimated, new.weighed = old.estimated, old.weighed
        found.append(new or old)
    return found


def of_done_to_here(form, pots):
    """All lines up to this one, in each pot that was meant, where they are not in the log yet."""
    lines = plan_lines(pots, position__lte=form.cleaned_data["line"].position)
    if not lines:
        raise ValueError("Everything up to this line is in the log already.")
    return [line_part(line) for line in lines]


def of_weighed(form, pots):
    """The line in each pot that was meant, where it is neither in nor weighed yet."""
    line = form.cleaned_data["line"]
    twins = [twin for twin in plan_lines(pots, position=line.position, weighed=False) if is_twin(line, twin)]
    if not line.is_amount or not twins:
        raise ValueError(f"{capital(str(line))} has nothing to weigh, or is weighed already.")
    amount = {"amount": form.cleaned_data.get("kept")}
    return [Part(Weighed.log, twin.batch, {"plan_line": twin} | amount, mark=twin.position) for twin in twins]


def of_all_weighed(form, pots):
    """All that a scale or a syringe measures for these pots, as told, where it is neither in nor weighed yet."""
    lines = [line for line in plan_lines(pots, weighed=False) if line.is_measured]
    if not lines:
        raise ValueError("All of this stands weighed already, or is in.")
    return [Part(Weighed.log, line.batch, {"plan_line": line}, mark=line.position) for line in lines]


def of_answer(form, pots):
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
    return list(lines.named().select_related("batch").order_by("position", "batch_id"))


def is_twin(line, other):
    """Whether two pots' plans say the same thing here, whatever the amounts."""
    same = ("step", "dye_id", "assistant_id", "solution_id", "water")
    return all(getattr(line, name) == getattr(other, name) for name in same)


def line_part(line, form=None):
    """A planned line as it goes into the log; `form` may say another amount, lot or place, or how a step really was."""
    said = form.cleaned_data if form is not None else {}
    if not line.is_amount:
        kind = line.step if line.step != RecipeStep.Kind.ADD else RecipeStep.Kind.OTHER
        degrees, minutes = celsius(said.get("temperature")), said.get("minutes")
        facts = {
            "temperature_c": line.temperature_c if degrees is None else degrees,
            "minutes": minutes or line.minutes or None,
        }
        return Part(StepDone.log, line.batch, {"kind": kind, "plan_line": line} | facts, mark=line.position)
    # The planned bottle stands for each pot's own: another pot may have been planned from another one.
    lot = said["lot"] if said.get("lot") and said["lot"] != said["line"].lot else line.lot
    amount = None if said.get("unmeasured") else said.get("kept", line.to_go_in)
    facts = {
        "lot": lot,
        "amount": amount,
        "plan_line": line,
        "estimated": line.by_estimate and "kept" not in said and amount is not None,
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


def of_timer(form, pots):
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


def of_timer_end(form, pots):
    return [Part(TimerEnded.log, pot, form.facts(target), mark=target) for pot, target in form.targets(pots)]


def of_timer_more(form, pots):
    return [Part(Timer.more, pot, form.facts(target)) for pot, target in form.targets(pots)]
