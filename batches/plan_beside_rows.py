"""A line of the plan beside what was logged for it: in one pot, and over all pots that have it, as pages say it."""

from dataclasses import dataclass, field
from decimal import Decimal

from studio.naming import joined

from .models import State
from .plan_beside_off import degrees, off_by_amount, off_words, unsaid
from .telling import SKIPPED
from .under_way import pots_in_words
from .wording import amount_of, conditions

ANOTHER_LOT = Decimal("0.02")  # of the dye, where it came from another bottle or jar than was planned
MOST_NOTES = 2  # of planning under one line: of more, nobody sees which is of which pot


@dataclass
class Cell:
    """A line of the plan in one pot: the plan's side, then what its log says."""

    batch: object
    unit: str = ""
    exact: Decimal | None = None
    told: Decimal | None = None
    step: Decimal | None = None  # of the tool it is measured with
    lot: object = None
    dye_g: Decimal | None = None  # at the studio's standard strength, as planned
    temperature_c: Decimal | None = None
    minutes: Decimal | None = None
    note: str = ""  # what planning said of it

    done: bool = False
    at: object = None
    logged: Decimal | None = None
    others: dict = field(default_factory=dict)  # {unit: amount} where it was logged in another unit than planned
    another_lot: bool = False
    dye_in_g: Decimal = Decimal(0)
    unmeasured: bool = False
    about: bool = False
    u: float | None = 0  # standard uncertainty of what went in by a measure; None where it is not known
    nobody_knows: bool = False
    left_out: str = ""
    done_c: Decimal | None = None
    read_c: Decimal | None = None  # the hottest that was read meanwhile
    took: Decimal | None = None  # minutes

    @property
    def by_dye(self):
        """Whether its dye is compared, as the amounts are of different things: another bottle, or powder instead."""
        return bool(self.dye_g) and (self.another_lot or bool(self.others))

    @property
    def to_compare(self):
        """(planned, logged, what the tool can't tell), or None where nothing can be said."""
        if not self.done or self.unmeasured or self.u is None:
            return None
        if self.by_dye:
            share = self.step / self.told if self.told and self.step else Decimal(0)
            return self.dye_g, self.dye_in_g, self.dye_g * max(share, ANOTHER_LOT)
        if self.told is None or self.logged is None or self.others:
            return None
        return self.told, self.logged, max(self.step or Decimal(0), 2 * Decimal(self.u))

    @property
    def off(self):
        """How far the log is from the plan: in the line's unit, or in g of dye (see `by_dye`); None for nothing."""
        return off_by_amount([self])

    @property
    def state(self):
        """ "not weighed", "left out: ran out of it", "not yet"; "" where it is told by its amount."""
        if self.done and self.unmeasured:
            return "not weighed" if self.logged is None else "and some not weighed"
        if self.done:
            return ""
        if self.nobody_knows:
            return "nobody knows"
        if self.left_out:
            return "left out" if self.left_out == SKIPPED else f"left out: {self.left_out}"
        return "not done" if self.batch.state in (State.FINISHED, State.ABANDONED) else "not yet"

    @property
    def amounts(self):
        """All that was logged, each unit by itself: "40 mL and 0.4 g"; "" for nothing known."""
        known = [(self.unit, self.logged)] if self.logged is not None else []
        return amounts_in_words([*known, *self.others.items()], self.about)

    @property
    def words(self):
        """The cell in words, for a line of its own."""
        said = [f"told {amount_of(self.told, self.unit)}"] if self.told is not None else []
        if self.done:
            said += [self.amounts or self.conditions or ("" if self.unmeasured else "done")]
        said += [self.state, *off_words([self])]
        return ", ".join(word for word in said if word)

    @property
    def conditions(self):
        """How hot and how long it was, of a step: "85 °C, 45 min", with what was read."""
        read = f"read {degrees(self.read_c)}" if self.read_c is not None else ""
        return ", ".join(word for word in (conditions(self.done_c, self.took), read) if word)

    @property
    def hottest_c(self):
        """What was read, which is surer than what was said."""
        return self.read_c if self.read_c is not None else self.done_c


def amounts_in_words(by_unit, about):
    """[(unit, amount)] as "about 40 mL and 0.4 g"; "" for nothing."""
    said = joined([amount_of(much, unit) for unit, much in by_unit])
    return f"{'about ' if about else ''}{said}" if said else ""


@dataclass
class Row:
    """One line of "plan and log", over all pots that have it."""

    name: str
    sub: str = ""
    fill: str = ""
    unit: str = ""
    planned_at_all: bool = True
    by_eye: bool = False
    cells: list = field(default_factory=list)

    # All pots together

    @property
    def of(self):
        return len(self.cells)

    @property
    def done(self):
        return sum(cell.done for cell in self.cells)

    @property
    def at(self):
        return min((cell.at for cell in self.cells if cell.at is not None), default=None)

    def _sum(self, name):
        known = [value for cell in self.cells if (value := getattr(cell, name)) is not None]
        return sum(known, Decimal(0)) if known else None

    @property
    def exact(self):
        return self._sum("exact")

    @property
    def planned(self):
        """What was told to the hands."""
        return self._sum("told")

    @property
    def logged(self):
        return self._sum("logged")

    @property
    def exactly(self):
        """The exact amount in words, where it reads otherwise than what was told; else ""."""
        if self.exact is None or self.planned is None:
            return ""
        exact = amount_of(self.exact, self.unit)
        return "" if exact == amount_of(self.planned, self.unit) else exact

    @property
    def amounts(self):
        """All that was logged in words, each unit by itself: "80 mL", "40 mL and 0.4 g"; "" for nothing known."""
        found = {}
        for cell in sorted(self.cells, key=lambda cell: bool(cell.others)):
            for unit, much in [(self.unit, cell.logged), *cell.others.items()]:
                if much is not None:
                    found[unit] = found.get(unit, Decimal(0)) + much
        return amounts_in_words(found.items(), self.about)

    @property
    def about(self):
        return any(cell.about for cell in self.cells)

    @property
    def unmeasured(self):
        return any(cell.unmeasured for cell in self.cells)

    @property
    def off(self):
        return off_by_amount(self.cells)

    @property
    def off_words(self):
        return off_words(self.cells)

    @property
    def to_do(self):
        """How hot and how long the plan has a step: "85 °C, 45 min", but for what its name says."""
        said = dict.fromkeys((cell.temperature_c, cell.minutes) for cell in self.cells)
        said = dict.fromkeys(conditions(*unsaid(self.name, *one)) for one in said)
        return "; ".join(word for word in said if word)

    @property
    def was_done(self):
        """How hot and how long it was, where all pots are alike in it; else "done"."""
        said = {cell.conditions for cell in self.cells if cell.done}
        return (said.pop() if len(said) == 1 else "") or "done"

    @property
    def states(self):
        """What is to be said of it beside its amount: "not weighed", "left out in pot 2", "1 of 2 pots"."""
        if not self.planned_at_all:
            return ["not weighed" if self.logged is None else "and some not weighed"] if self.unmeasured else []
        found = {}
        for cell in self.cells:
            if cell.state:
                found.setdefault(cell.state, []).append(cell.batch)
        if len(found) == 1 and len(next(iter(found.values()))) == self.of:
            return list(found)
        return [f"{state} in {pots_in_words(batches)}" if self.of > 1 else state for state, batches in found.items()]

    @property
    def went_otherwise(self):
        """In words, how this line went otherwise than it was planned; [] where it did not, or is still to come."""
        if not self.planned_at_all:
            return [f"{self.amounts} not planned".strip()]
        said = [*self.off_words, *(["off in single pots"] if self.hidden_off else [])]
        return said + (self.states if any(cell.left_out and not cell.done for cell in self.cells) else [])

    @property
    def hidden_off(self):
        """Whether pots are off that together are not, or of which another is not done yet."""
        return self.off is None and any(cell.off for cell in self.cells)

    @property
    def notes(self):
        """What planning said of it, each sentence once; [] where that is so many that each stands with its pot."""
        said = self._said
        return [] if len(said) > MOST_NOTES else said

    @property
    def _said(self):
        found = list(dict.fromkeys(cell.note for cell in self.cells if cell.note))
        return [note for note in found if not any(note in other for other in found if other != note)]

    @property
    def by_pot(self):
        """[(pots, words)] where the pots differ; [] where what is said of all is true of each."""
        found, by_pot = {}, len(self._said) > MOST_NOTES
        for cell in self.cells:
            words = "; ".join(part for part in (cell.words, cell.note if by_pot else "") if part)
            found.setdefault(words, []).append(cell.batch)
        if len(found) < 2:
            return []
        return [(pots_in_words(batches).capitalize(), words) for words, batches in found.items()]
