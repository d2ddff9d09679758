"""What was done to a pot, as lines of a recipe: its steps, what was waited for, what was read, what was moved."""

from decimal import Decimal

from recipes import notebook
from recipes.models import RecipeStep
from recipes.precision import TEMPERATURE_STEP_C

from .capture_lines import to_do
from .capture_steps import long_time, moved, reads_as
from .models import Entry, Move, Timer, TimerEnded, Whereabouts
from .models.timers import minutes_between

Kind = RecipeStep.Kind
STEP_OF_PLACE = {Whereabouts.COOLING: Kind.COOL, Whereabouts.RINSING: Kind.RINSE, Whereabouts.DRYING: Kind.DRY}


def step(pot, entry):
    said, planned = entry.step, entry.plan_line
    if pot.is_over(entry) or said.kind == Kind.ADD:
        return []
    words = entry.words
    if planned is not None and planned.words:
        as_planned = (said.temperature_c, said.minutes) == (planned.temperature_c, planned.minutes)
        told = planned.words.removesuffix(":")
        if as_planned and not words and reads_as(told, said.kind, said.temperature_c, said.minutes):
            return to_do(entry, said.kind, said.temperature_c, said.minutes, told)
    if said.called:
        words = f"{said.called} as usual{f'. {words}' if words else ''}"
    return to_do(entry, said.kind, said.temperature_c, said.minutes, words)


def timer(pot, entry):
    """What was waited for and became no step of its own: days in the sun, or a hold that nobody ended."""
    said = entry.timer
    if said.what == Timer.What.LOOK or pot.is_over(entry):
        return []
    ended = _ended(pot, entry)
    if ended is not None and (ended.timer_ended.outcome == TimerEnded.Outcome.LONGER or said.step):
        return []
    if ended is None and (entry.plan_line_id or said.step) and _step_follows(pot, entry, said.step):
        return []
    began = said.first_began() if entry.because_id else entry.at
    minutes = minutes_between(began, ended.at if ended else said.due_at).quantize(Decimal(1))
    if minutes <= 0:
        return []
    if said.what == Timer.What.SUN:
        return to_do(entry, Kind.HOLD, None, minutes, f"Leave in the sun for {long_time(minutes)}")
    kind = said.step or Kind.OTHER
    return to_do(entry, kind, None, minutes, entry.words or ("" if said.step else "wait"))


def _ended(pot, timer):
    for one in pot.entries:
        if one.kind == Entry.Kind.ENDED and one.timer_ended.target in (timer.pk, timer.together):
            return one
    return None


def _step_follows(pot, timer, kind):
    """Whether what the timer was for was logged by hand."""
    return any(
        one.kind == Entry.Kind.STEP
        and one.at >= timer.at
        and (one.step.kind == kind or timer.plan_line_id and one.plan_line_id == timer.plan_line_id)
        for one in pot.entries
    )


def reading(pot, entry):
    said = entry.reading
    if pot.is_over(entry) or (pot.out_at is not None and entry.at >= pot.out_at):
        return []
    found = []
    if said.temperature_c is not None and not _said_by_a_step(pot, said.temperature_c):
        found.append(f"{notebook.plain(said.temperature_c)} °C")
    if said.ph is not None:
        found.append(f"pH {notebook.plain(said.ph)}")
    if not found:
        return []
    words = f"Check: it read {' and '.join(found)} that day"
    temperature = said.temperature_c if "°C" in words else None
    return to_do(entry, Kind.OTHER, temperature, None, words, same=("read", said.ph is None))


def _said_by_a_step(pot, celsius):
    """A thermometer as near to what a step says as two readings are to each other adds nothing."""
    said = [line.parts[pk].temperature_c for line in pot.found for pk in line.parts]
    return any(one is not None and abs(one - celsius) <= TEMPERATURE_STEP_C for one in said[-6:])


def move(pot, entry):
    said = entry.move
    if pot.is_over(entry):
        return []
    if said.what == Move.What.WHERE:
        kind = STEP_OF_PLACE.get(said.where)
        if kind is None or kind in pot.kinds_done:
            return []
        pot.kinds_done.add(kind)
        return to_do(entry, kind, None, None, entry.words)
    words = moved(entry)
    before = pot.found[-1] if pot.found else None
    minutes = None
    if said.what == Move.What.YARN_OUT and before is not None and before.same[-1] == "pulled":
        since = minutes_between(before.parts[entry.batch_id].entries[-1].at, entry.at).quantize(Decimal(1))
        if since > 0:
            words, minutes = f"{words} {since} min after that", since
    what = "pulled" if said.what == Move.What.YARN_OUT else said.what
    return to_do(entry, Kind.OTHER, None, minutes, words, same=("moved", said.skeins, what))
