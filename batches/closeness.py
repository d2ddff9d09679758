"""What differed between batches of one colour: which facts do, which are alike, and which nobody can say.

Pure: values in, a decision out. A difference within what the tools can tell, or too small to see, counts as alike.
"""

from dataclasses import dataclass, field, replace
from decimal import Decimal
from enum import StrEnum

from recipes.differences import more_or_less

NAMED = 6  # of what differs, in one sentence
TINY = Decimal("0.02")  # of the larger amount: no hand repeats a skein nearer than that; common practice, no source


class Answer(StrEnum):
    DIFFERS = "differs"
    ALIKE = "alike"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Value:
    """What one batch's record says of one thing.

    `words`: "" where it says nothing. `number`, in one unit for the whole row, is compared where both have one, the
    words otherwise. `step`: how much of it the tools can't tell. `at_least`: there may be more of it than `number`, or
    it is said without a number. `unsure`: something besides that nobody can count, so two alike figures prove nothing.
    `left_out`: it is no part of this comparison, as the lots of a dye where that dye did not go in.
    """

    words: str = ""
    number: Decimal | None = None
    step: Decimal = Decimal(0)
    at_least: bool = False
    unsure: bool = False
    left_out: bool = False
    sub: str = ""
    address: str = ""
    against: str = ""  # how it stands to the first: "a fifth more"

    @property
    def known(self):
        return bool(self.words)


def by_ratio(now, first):
    """ "a fifth more" """
    return more_or_less(now, first) if now > 0 and first > 0 else ""


def by_distance(unit, more, less):
    """Says how far apart two are in a unit: "5 °C more", "15 min shorter"."""

    def say(now, first):
        apart = abs(now - first).normalize()
        return f"{apart:f}\u00a0{unit} {more if now > first else less}".replace("\u00a0 ", " ")

    return say


@dataclass(frozen=True)
class Row:
    """One thing that is compared, with its `Value` of each batch in their order."""

    name: str
    values: list
    fill: str = ""
    say: object = None  # (now, first) -> words
    answer: Answer = field(init=False)

    def __post_init__(self):
        object.__setattr__(self, "answer", answer_of(self.values))
        if self.answer == Answer.DIFFERS and self.say is not None:
            first = self.values[0]
            object.__setattr__(self, "values", [first, *(self._against(first, each) for each in self.values[1:])])

    def _against(self, first, each):
        """How one stands to the first, where both are known and really apart."""
        said = apart(first, each) and None not in (first.number, each.number)
        if not said or first.at_least or each.at_least:
            return each
        return replace(each, against=self.say(each.number, first.number))


def answer_of(values):
    """Whether these differ. One pair that surely does is enough; alike they are only if every pair surely is."""
    compared = [value for value in values if not value.left_out]
    pairs = [apart(one, other) for place, one in enumerate(compared) for other in compared[place + 1 :]]
    if any(pairs):
        return Answer.DIFFERS
    return Answer.UNKNOWN if None in pairs else Answer.ALIKE


def apart(one, other):
    """True: surely different; False: alike; None: nobody can say."""
    if not one.known or not other.known:
        return None
    if one.number is None or other.number is None:
        if one.words == other.words:
            return False
        return None if one.at_least or other.at_least else True
    low, high = sorted((one, other), key=lambda value: value.number)
    quiet = max(one.step, other.step, TINY * max(abs(one.number), abs(other.number)))
    if low.at_least:
        return None  # it may be as much as the other, or more
    if high.number - low.number > quiet:
        return True
    return None if high.at_least or one.unsure or other.unsure else False


@dataclass(frozen=True)
class Compared:
    """Rows by what came of them; those of which no batch says anything are left out."""

    differs: list
    unknown: list
    alike: list

    @property
    def count(self):
        return len(self.differs) + len(self.unknown) + len(self.alike)

    @property
    def in_short(self):
        """The names of what differs, the first of very many: "Rust, Dye in all, Base"; "" where nothing does."""
        names = [row.name for row in self.differs]
        more = f" and {len(names) - NAMED} more" if len(names) > NAMED + 1 else ""
        return f"{', '.join(names[:NAMED] if more else names)}{more}"


def compare(rows):
    said = [row for row in rows if any(value.known and not value.left_out for value in row.values)]
    return Compared(
        *([row for row in said if row.answer == answer] for answer in (Answer.DIFFERS, Answer.UNKNOWN, Answer.ALIKE))
    )
