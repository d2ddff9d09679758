"""What has to be said before a log is a recipe: how its pots differ, and what no recipe can give back."""

from collections import Counter
from decimal import Decimal

from recipes.models import Basis, How
from recipes.precision import TEMPERATURE_STEP_C, TIME_STEP_MIN, WATER_STEP_ML
from studio import units
from studio.models import Studio, Tool
from studio.units import NO_BREAK_SPACE

from . import depth
from .models import Answer, Entry, PlanLine, State
from .telling import added_late
from .under_way import pots_in_words
from .wording import amount_of, capital


def apart(numbers):
    """How far numbers are from one another, as a part of their mean."""
    return (max(numbers) - min(numbers)) * len(numbers) / sum(numbers)


# How the pots differ


def differences(draft):
    """Sentences about what went into some pots and not alike into all: amounts beyond a tool's step, and the order."""
    if len(draft.pots) < 2:
        return []
    tools, repeats = list(Tool.objects.filter(retired=False)), Studio.get().repeats_pct
    found = []
    for line in draft.lines:
        if (not line.goes_in and line.same[0] != "words") or line.to_fix and not line.belongs:
            continue
        having = [batch for batch in draft.pots if batch.pk in line.parts]
        if len(having) < len(draft.pots):
            found.append(f"{line.name} went into {pots_in_words(having)} only.")
        if line.goes_in and _amounts_apart(draft, line, tools, repeats):
            found.append(_apart_words(draft, line))
    return found + _order_apart(draft)


def _amounts_apart(draft, line, tools, repeats):
    doses = [dose for pk, part in line.parts.items() if (dose := _dose(draft, line, pk, part)) is not None]
    if len(doses) < 2:
        return False
    logged = [part.logged for part in line.parts.values() if part.logged]
    mean = sum(logged) / len(logged)
    unit = line.lot.unit if line.lot else "mL"
    step = WATER_STEP_ML if line.is_water else Tool.step_for(mean, unit, tools)
    return apart(doses) * 100 > max(repeats, step * 100 / mean)


def _dose(draft, line, pk, part):
    """What a pot had of a line, by what the recipe will follow; None where that is not known."""
    if part.unknown or not part.own:
        return None
    if draft.by_pots:
        return part.own
    if line.painted:
        return part.own / draft.skeins[pk] if draft.skeins[pk] else None
    if line.is_assistant and draft.usual_basis(line) == Basis.PER_L:
        return part.own / draft.baths[pk]
    return part.own / draft.fibre[pk] if draft.fibre[pk] else part.own


def _apart_words(draft, line):
    """ "Rust: from 0.4 g in jar 3 to 0.8 g in jar 2." """
    unit = line.lot.unit if line.lot else "mL"
    known = [(line.parts[batch.pk], batch) for batch in draft.pots if batch.pk in line.parts]
    known = [(part, batch) for part, batch in known if not part.unknown]
    least, most = min(known, key=lambda one: one[0].logged), max(known, key=lambda one: one[0].logged)
    about = "about " if line.estimated else ""
    if least[0].logged == most[0].logged:
        return f"{line.name}: {about}{amount_of(least[0].logged, unit)} in each, for different weights of yarn."
    where = f", {line.place}" if line.place else ""
    return (
        f"{line.name}{where}: from {about}{amount_of(least[0].logged, unit)} in {pots_in_words([least[1]])} "
        f"to {about}{amount_of(most[0].logged, unit)} in {pots_in_words([most[1]])}."
    )


def _order_apart(draft):
    """Where a pot had things in another order than the recipe will say."""
    for batch in draft.pots:
        mine = [line for line in draft.lines if line.goes_in and batch.pk in line.parts and not line.to_fix]
        for before, after in zip(mine, mine[1:], strict=False):
            if before.parts[batch.pk].entries[0].at > after.parts[batch.pk].entries[0].at:
                return [f"In {pots_in_words([batch])} {after.name} went in before {before.name}."]
    return []


# What a recipe cannot give back


def honest(draft, standing, empty):
    """Sentences for the note: what the log leaves open, and what these amounts do not hold."""
    found = []
    if empty:
        found.append(f"{capital(pots_in_words(empty))} had nothing logged and is left out.")
    depths = depth.depths_of(draft.pots).values()
    if any(one.carry_over for one in depths):
        found.append("Carry-over unknown: its bath or its yarn had dye in it before, and no recipe holds that.")
    if any(one.shared for one in depths):
        found.append("Shared: yarn went in or out between additions, and the dye is counted on all of it.")
    late = [entry.addition.name for entry in standing if entry.kind == Entry.Kind.ADDITION and added_late(entry)]
    if late:
        found.append(f"Logged after the finish: {listed(late)}.")
    perhaps = _perhaps(draft)
    if perhaps:
        found.append(f"Nobody knows whether it went in, so it is not in here: {listed(perhaps)}.")
    if draft.run.state == State.RUNNING:
        found.append("The run was still going on when this was taken.")
    if draft.run.state == State.ABANDONED:
        why = f": {draft.run.why_abandoned}" if draft.run.why_abandoned else ""
        found.append(f"The run was given up{why.rstrip('.')}.")
    return found + _conditions_apart(draft)


def _perhaps(draft):
    """Names of planned lines of which nobody knows whether they went in."""
    asked = Answer.objects.standing().filter(question=Answer.Question.LINE, known=False, entry__batch__in=draft.pots)
    lines = PlanLine.every.filter(entries__answer__in=asked).select_related("dye", "assistant", "solution")
    return [line.name for line in lines.distinct()]


def _conditions_apart(draft):
    """What took another time or heat from pot to pot: the recipe says the mean of it."""
    found = []
    for line in draft.lines:
        if len(line.parts) < 2:
            continue
        for name, apart, unit in (("minutes", TIME_STEP_MIN, "min"), ("temperature_c", TEMPERATURE_STEP_C, "°C")):
            said = [value for part in line.parts.values() if (value := getattr(part, name)) is not None]
            if said and max(said) - min(said) > apart:
                least, most = units.write_number(min(said)), units.write_number(max(said))
                found.append(f"{line.name}: {least} to {most}{NO_BREAK_SPACE}{unit} from pot to pot, said as the mean.")
    return found


def listed(names):
    return ", ".join(dict.fromkeys(names))


# What is asked


def asked_words(line, draft):
    """("Rust, sprinkled dry, bottom layer, 3 taps", "jars 1 to 6"): how a line that nobody weighed is asked for."""
    first = line.unknown[0]
    taps = Counter(addition.taps for addition in line.unknown if addition.taps)
    how = [first.get_how_display()] if first.how not in (How.ADDED, How.BOTTLE) else []
    said = [line.name, *how, *([line.place] if line.place else [])]
    if len(taps) == 1:
        said.append(units.write_count(next(iter(taps)), "tap"))
    elif taps:
        said.append(f"{min(taps)} to {max(taps)} taps")
    if first.measure_id and first.fillings:
        said.append(f"{units.write_number(first.fillings)} × {first.measure}")
    unknown = {addition.entry.batch_id for addition in line.unknown}
    pots = [batch for batch in draft.pots if batch.pk in unknown]
    where = "" if len(draft.pots) == 1 else pots_in_words(pots)
    return ", ".join(said), where


def fix_words(line):
    """What was done afterwards, and how much: "Citric acid, 4 g"."""
    if not line.goes_in:
        (part, *_) = line.parts.values()
        more = [f"{units.write_number(part.temperature_c)}{NO_BREAK_SPACE}°C"] if part.temperature_c is not None else []
        more += [f"{units.write_number(part.minutes)}{NO_BREAK_SPACE}min"] if part.minutes is not None else []
        return line.name if line.words else ", ".join([line.name, *more])
    if line.lot is None:
        return line.name
    logged = sum((part.logged for part in line.parts.values()), Decimal(0))
    return f"{line.name}, {amount_of(logged or None, line.lot.unit)}"
