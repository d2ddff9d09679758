"""What an answer of the evening writes: parts of the log, for `intake`.

What was said of a line's amount or length strikes the line, and says it anew at its own time. Whatever nobody knows is
kept as an `Answer`, so that it is asked once and the record says so.
"""

from .forms.writeup import DUE, SKIPPED, UNKNOWN, WORDS, Ask
from .models import Addition, Answer, Entry, Move, StepDone, Strike, TimeFrom, TimerEnded
from .telling import SKIPPED as SKIPPED_WORDS

SAID_LATER = "Said later, in the evening."


def pieces(form):
    """[(verb, batch, facts, stamped, mark)] of a valid `AnswerForm`."""
    said = form.cleaned_data
    if said["say"] == UNKNOWN:
        return list(_nobody_knows(form))
    make = MAKE[said["question"]]
    return [piece for one in _meant(form) for piece in make(form, one)]


def _meant(form):
    return [*form.cleaned_data["about"], *form.cleaned_data["lines"]]


def _nobody_knows(form):
    ask = form.cleaned_data["question"]
    for one in _meant(form):
        if ask == Ask.END:  # and it is waited for no more
            stopped = {"target": one.pk, "outcome": TimerEnded.Outcome.STOPPED}
            yield TimerEnded.log, one.batch, stopped, {}, f"{one.pk} stop"
        about = {"plan_line": one} if ask == Ask.LINE else {"about": one}
        yield Answer.log, one.batch, {"question": ask, "known": False, **about}, {}, one.pk


def _photo(form, entry):
    line = form.shows if form.cleaned_data["say"] != WORDS else None
    yield Answer.log, entry.batch, {"question": Ask.PHOTO, "about": entry, "line": line}, {}, entry.pk


def _amount(form, entry):
    said = entry.addition
    facts = {name: getattr(said, name) for name in ("lot", "how", "place", "taps", "bath", "plan_line")}
    facts |= {"amount": form.cleaned_data["kept"], **form.typed()}
    yield from _anew(Addition.log, entry, facts)


def _long(form, entry):
    said = entry.step
    facts = {name: getattr(said, name) for name in ("kind", "temperature_c", "house_step", "called")}
    facts |= {"plan_line": entry.plan_line, "minutes": form.cleaned_data["minutes"]}
    yield from _anew(StepDone.log, entry, facts)


def _anew(verb, entry, facts):
    """Strike a line, and say it once more, at its own time, by whoever did it."""
    yield Strike.log, entry.batch, {"target": entry.pk, "reason": SAID_LATER}, {"words": ""}, f"{entry.pk} strike"
    stamped = {
        "by": entry.by,
        "happened_at": entry.at,
        "offset_min": entry.offset_min,
        "sent_at": None,
        "time_from": TimeFrom.SAID,
        "words": entry.words,
    }
    yield verb, entry.batch, facts, stamped, entry.pk


def _end(form, entry):
    when = entry.timer.due_at if form.cleaned_data["say"] == DUE else form.cleaned_data["when"]
    yield TimerEnded.log, entry.batch, {"target": entry.pk}, _at(when), entry.pk


def _where(form, entry):
    when = form.cleaned_data.get("when")
    facts = {"what": Move.What.WHERE, "where": form.cleaned_data["say"]}
    yield Move.log, entry.batch, facts, _at(when) if when else {}, entry.pk


def _line(form, line):
    """How a planned line goes in is the intake's own to say: a piece without a verb asks it to."""
    if form.cleaned_data["say"] == SKIPPED:
        yield Entry.log_words, line.batch, {"plan_line": line}, {"words": SKIPPED_WORDS}, line.pk
    else:
        yield None, line.batch, {"line": line}, _at(form.cleaned_data["when"]), line.pk


def _at(when):
    return {"happened_at": when, "sent_at": None, "time_from": TimeFrom.SAID}


MAKE = {
    Ask.PHOTO: _photo,
    Ask.AMOUNT: _amount,
    Ask.LONG: _long,
    Ask.END: _end,
    Ask.WHERE: _where,
    Ask.LINE: _line,
}
