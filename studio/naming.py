"""What a lot is called, for every page: what it is, and which one of several.

The lots come with what `Lot.objects.named()` reads, so that no name costs a query.
"""

import re

from studio import units
from studio.units import NO_BREAK_SPACE


def kept_together(name):
    """A name somebody typed, so that no line breaks before its percent sign: "Brick 1 %"."""
    return name.replace(" %", f"{NO_BREAK_SPACE}%")


def lot_name(lot):
    """What it is: "Brick 1 %", "Brick, 1.02 %" where its name does not say it, "Soot, powder", "Vinegar"."""
    if not lot.solution_id:
        return f"{lot.dye.name}, powder" if lot.dye_id else str(lot)
    strength = lot.strength()
    truly = f", {units.write_pct(strength)}" if strength and not says_strength(lot.solution.name, strength) else ""
    return f"{lot.solution}{truly}"


def lot_number(lot):
    """Which one: "lot T-2209" of what was bought, "3" of a bottle as it is written on it; "" where nobody gave one."""
    return lot.number if lot.solution_id or not lot.number else f"lot {lot.number}"


def says_strength(name, strength, digits=2):
    """Whether a bottle's name says its true strength already, to the two figures of a jug: "1 %" at 0.996 %."""
    as_written_here = re.sub(r"(?<=[0-9])\s*%", f"{NO_BREAK_SPACE}%", name.replace(",", "."))
    return f" {units.write_pct(strength, digits)}" in f" {as_written_here}"
