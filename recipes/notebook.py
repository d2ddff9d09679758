"""The rows of a recipe as a notebook says it: "40 mL red 1 %", "Soak 30 min at 40 °C", and how each is said in words.

Frozen rows; nothing here knows what is on the shelf. `read_lines` in `notebook_reading` makes them of a text, and `say`
writes one so that it reads the same again.
"""

from dataclasses import dataclass
from decimal import Decimal

from studio import units


@dataclass(frozen=True)
class NoteLine:
    """Something that goes in.

    `amount` is in `unit`: "g", "mL", "%" of the fibre's weight, ":1" for water to fibre; None where it is by eye.
    `measure`: the unit that was typed, a key of `studio.units.UNITS`. `basis`: what the amount is for: "owf", "per_l",
    "per_skein", "per_pot", "fixed" (for all, whatever the weight), "ratio", or "" where the line does not say.
    `strength_pct`: of the bottle, g in 100 mL. `inside`: it belongs to the heading above it.
    """

    number: int
    typed: str
    name: str
    amount: Decimal | None = None
    unit: str = ""
    measure: str = ""
    strength_pct: Decimal | None = None
    basis: str = ""
    how: str = ""
    place: str = ""
    temperature_c: Decimal | None = None
    minutes: Decimal | None = None
    estimated: bool = False
    water: bool = False
    inside: bool = False


@dataclass(frozen=True)
class NoteStep:
    """Something done. `kind`: a key of a recipe step's kinds. `heading`: what follows goes in with it."""

    number: int
    typed: str
    kind: str
    temperature_c: Decimal | None = None
    minutes: Decimal | None = None
    heading: bool = False


@dataclass(frozen=True)
class NoteFor:
    """What the amounts are for: "for 6 skeins of 100 g in 2 pots:"."""

    number: int
    typed: str
    skeins: int | None = None
    fibre_g: Decimal | None = None
    pots: int | None = None


@dataclass(frozen=True)
class NoteProblem:
    """A line that cannot be read. `sentence` says what to do; `name`: the substance it is about, if that is known."""

    number: int
    typed: str
    why: str
    name: str = ""

    @property
    def sentence(self):
        if not self.number:
            return self.why
        return f"Line {self.number}, {quoted(self.typed)}: {self.why}"


class Unreadable(ValueError):
    """Says why a line cannot be read, in words that follow "Line 3, “2 reds”: "."""


def say(row):
    """A row in words that `read_lines` reads as the same row, but for its number and typed words."""
    if isinstance(row, NoteFor):
        return _say_for(row)
    return _say_step(row) if isinstance(row, NoteStep) else _say_line(row)


def _say_line(line):
    words = ["about"] if line.estimated else []
    rest = [line.name] if not line.water else ["water"]
    if line.amount is None:
        rest.append("by eye")
    elif line.unit == ":1":
        rest.append(f"{plain(line.amount)}:1")
    elif line.unit == "%":
        words.append(f"{plain(line.amount)} % owf")
    else:
        each = "/L" if line.basis == "per_l" else ""
        words.append(f"{plain(line.amount)} {line.unit}{each}")
    if line.strength_pct is not None:
        rest.append(f"{plain(line.strength_pct)} %")
    rest.append({"per_skein": "per skein", "per_pot": "per pot", "fixed": "for all"}.get(line.basis, ""))
    if line.basis == "per_l" and line.amount is None:
        rest.append("per litre")
    rest.append({"bottle": "from the bottle"}.get(line.how, line.how))
    rest += _conditions(line)
    said = " ".join(filter(None, [*words, *rest]))
    return f"{said}, {line.place}" if line.place else said


def _conditions(row):
    said = [f"at {plain(row.temperature_c)} °C"] if row.temperature_c is not None else []
    return said + ([f"for {plain(row.minutes)} min"] if row.minutes is not None else [])


def _say_step(step):
    verb = {
        "soak": "Soak",
        "scour": "Scour",
        "mordant": "Mordant",
        "strip": "Strip",
        "heat": "Heat",
        "hold": "Hold",
        "cool": "Let cool",
    }
    verb |= {"rinse": "Rinse", "wash": "Wash", "dry": "Dry", "other": "Do: this", "add": "Dye bath"}
    return " ".join([verb[step.kind], *_conditions(step)]) + (":" if step.heading else "")


def _say_for(said):
    words = [units.write_count(said.skeins, "skein")] if said.skeins else []
    if said.fibre_g is not None:
        words.append(f"{plain(said.fibre_g)} g")
    if said.pots:
        words.append(f"in {units.write_count(said.pots, 'pot')}")
    return f"for {', '.join(words)}:"


def plain(number):
    """A number with all its digits and no exponent."""
    return units.write_number(number, digits=28)


def quoted(text):
    """A few typed words in quotation marks, safe to show."""
    shown = "".join(mark if mark.isprintable() else "?" for mark in text)
    return f"“{shown[:60]}…”" if len(shown) > 60 else f"“{shown}”"
