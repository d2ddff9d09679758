"""What a lot is called, for every page: what it is, and which one of several.

The lots come with what `Lot.objects.named()` reads, so that no name costs a query; for strengths `with_facts` too.
"""

import re

from studio import units, writing
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


def lot_among(lot):
    """Which one, of something bought, where several are spoken of: "lot T-2209"; else "the lot of 9 Oct"."""
    return lot_number(lot) or f"the lot of {writing.day(lot.came_at)}"


def lot_strong(lot):
    """ "85 % strong" of a powder that is not as strong as the studio's standard; else ""."""
    as_standard = not lot.dye_id or lot.strength_now == 100
    return "" if as_standard else f"{units.write_pct(lot.strength_now, 4)} strong"


def lot_hue(lot):
    """How its hue is off, as somebody wrote it, to stand inside a sentence. "" of none."""
    return inside(lot.hue_now)


def inside(words):
    """What somebody wrote, to stand inside a sentence: without a full stop."""
    return words.rstrip(". ")


def powder_lot(lot):
    """ "lot T-2209, 85 % strong": a lot of powder among others, with what is known of its strength by now."""
    return _said(lot_among(lot), lot_strong(lot))


def jar_or_bottle(lot):
    """What to reach for: "Slate 1 %, 3", "Brick, powder, lot B-12, 84.75 % strong", "Vinegar"."""
    return _said(lot_name(lot), lot_number(lot), lot_strong(lot))


def _said(*words):
    return ", ".join(word for word in words if word)


def says_strength(name, strength, digits=2):
    """Whether a bottle's name says its true strength already, to the two figures of a jug: "1 %" at 0.996 %."""
    as_written_here = re.sub(r"(?<=[0-9])\s*%", f"{NO_BREAK_SPACE}%", name.replace(",", "."))
    return f" {units.write_pct(strength, digits)}" in f" {as_written_here}"


def joined(words, last="and"):
    """ "Rust", "Rust and Soot", "1, 3 and 4"; "" of none. `last`: the word ahead of the last one."""
    *before, end = words or [""]
    return f"{', '.join(before)} {last} {end}" if before else end


def numbered(word, numbers):
    """ "pot 3", "pots 1 and 2", "jars 1 to 4 and 6": things of one kind by their numbers."""
    stretches = []
    for number in sorted(numbers):
        if stretches and number == stretches[-1][-1] + 1:
            stretches[-1].append(number)
        else:
            stretches.append([number])
    parts = []
    for stretch in stretches:
        parts += [f"{stretch[0]} to {stretch[-1]}"] if len(stretch) > 2 else [str(number) for number in stretch]
    word = word if len(numbers) == 1 else f"{word}s"
    return f"{word} {joined(parts)}"


def kind_of(vessels):
    """ "jar" where all of these vessels are; "pot" where they differ, or one is none of the shelf (None)."""
    kinds = {vessel.kind if vessel is not None else "pot" for vessel in vessels}
    return kinds.pop() if len(kinds) == 1 else "pot"


def one_of(vessel):
    """ "Tall pot"; "One of “Jars”" where there are several of them."""
    return str(vessel) if vessel.how_many == 1 else f"One of “{vessel}”"
