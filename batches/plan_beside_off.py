"""How far a log is from its plan, and how that is said. What lies within a step of the tool, or within what a measure
can tell, is no deviation.

`cells`: those of one line of the plan in one or several pots (`Cell` in `plan_beside_rows`).
"""

import re
from decimal import Decimal
from math import hypot

from recipes.precision import TEMPERATURE_STEP_C, TIME_STEP_MIN
from studio import units, writing
from studio.units import NO_BREAK_SPACE

from . import depth
from .capture_steps import read_one
from .wording import amount_of, minutes


def degrees(celsius):
    """A temperature in the studio's unit."""
    return units.write_c(celsius, writing.current().system)


def unsaid(words, celsius, long):
    """(°C, min) of a step but for what its own words say: None for that. Words in the other scale do not say it."""
    read = read_one(words)
    if celsius is not None:
        number, _, scale = degrees(celsius).partition(NO_BREAK_SPACE)
        written = rf"(?<![\d.,]){re.escape(number)}\s*(?:°|deg(?:rees?)?)?\s*{scale[-1]}(?!\w)"
        celsius = None if re.search(written, words, re.I) else celsius
    return celsius, None if read is not None and read.minutes == long else long


def off_by_amount(cells):
    """Logged less planned of all these pots, in the line's unit or in g of dye; None for alike, or not to be said."""
    compared = [cell.to_compare for cell in cells]
    if None in compared or not compared:
        return None
    planned, logged, untold = (sum(column, Decimal(0)) for column in zip(*compared, strict=True))
    if not any(cell.by_dye for cell in cells):
        untold = max(
            sum((cell.step or Decimal(0) for cell in cells), Decimal(0)),
            2 * Decimal(hypot(*(cell.u for cell in cells))),
        )
    return logged - planned if abs(logged - planned) > untold else None


def off_words(cells):
    """["5 mL over, 13 %", "6 °C under", "15 min longer"]: all in which the log is off."""
    said = []
    off = off_by_amount(cells)
    if off is not None:
        by_dye = any(cell.by_dye for cell in cells)
        planned = sum((cell.to_compare[0] for cell in cells), Decimal(0))
        much = f"{amount_of(depth.readable(abs(off)), 'g')} of dye" if by_dye else amount_of(abs(off), cells[0].unit)
        share = f", {units.write_pct(abs(off) * 100 / planned, 2)}" if planned else ""
        said.append(f"{much} {'over' if off > 0 else 'under'}{share}")
    said += _off_alike(cells, "temperature_c", "hottest_c", TEMPERATURE_STEP_C, _hotter)
    return said + _off_alike(cells, "minutes", "took", TIME_STEP_MIN, _longer)


def _hotter(apart):
    if writing.current().system == "us":
        much = f"{units.write_number(abs(apart) * 9 / 5, 1)}{NO_BREAK_SPACE}°F"
    else:
        much = f"{units.write_number(abs(apart), digits=2)}{NO_BREAK_SPACE}°C"
    return f"{much} {'over' if apart > 0 else 'under'}"


def _longer(apart):
    return f"{minutes(abs(apart))} {'longer' if apart > 0 else 'shorter'}"


def _off_alike(cells, planned, done, step, say):
    """[words] of the one distance in which all these pots are off alike; [] where they are not, or by too little."""
    apart = set()
    for cell in cells:
        told = getattr(cell, planned)
        was = getattr(cell, done)
        apart.add(was - told if cell.done and told is not None and was is not None else None)
    off = apart.pop() if len(apart) == 1 else None
    return [say(off)] if off is not None and abs(off) > step else []
