"""A worked-out plan as it is read beside the scale: pots that get the same are one card, its lines in order."""

from dataclasses import dataclass

from django.urls import reverse

from studio.models import Solution
from studio.naming import lot_name

from .models import Batch
from .under_way import pots_in_words


@dataclass
class Card:
    """Pots that get the same amounts. `first`: the `PotPlan` that stands for them."""

    first: object
    pots: list
    lines: list

    @property
    def name(self):
        return pots_in_words([Batch(number=pot.number, vessel=pot.load.vessel) for pot in self.pots]).capitalize()

    @property
    def rounded(self):
        """Whether some amount is told otherwise than it was reckoned."""
        return any(one.exact for one in self.lines)


@dataclass(frozen=True)
class Told:
    """One line of a card. `amount`: whether something goes in; `exact`: as it was reckoned, where that differs."""

    line: object
    amount: bool
    taken_from: str
    exact: object = None

    @property
    def name(self):
        if self.line.water:
            return "Water"
        return str(self.line.substance) if self.line.substance is not None else self.line.words


def cards_of(worked):
    """[Card] of a plan's pots, in their order."""
    found = {}
    for pot in worked.pots:
        card = found.setdefault(_same(pot), Card(pot, [], [told_of(line) for line in pot.lines]))
        card.pots.append(pot)
    return list(found.values())


def _same(pot):
    load, vessel = pot.load, pot.load.vessel
    told = tuple(line.told for line in pot.lines)
    return vessel and vessel.pk, load.label, load.fibre_g, load.skeins, pot.water_ml, told


def told_of(line):
    amount = line.substance is not None or line.water
    differs = amount and line.exact is not None and line.exact != line.told
    return Told(line, amount, taken_from(line), line.exact if differs else None)


def taken_from(line):
    """What a line's jar or bottle is called, where that says more than the substance's own name."""
    name = lot_name(line.lot) if line.lot else ""
    return "" if name == str(line.substance) else name


def takes_of(worked):
    """[(what the jar or bottle is called, `LotTotal`)] of all pots together."""
    return [(lot_name(total.lot), total) for total in worked.totals]


@dataclass(frozen=True)
class Short:
    """What is short, what to do about it in words, and where that is done; "" where nowhere."""

    sentence: str
    make: str = ""
    url: str = ""
    action: str = ""


def shorts_of(worked):
    """[Short] of a plan."""
    return [Short(one.sentence, one.make, *_where_to_make(one)) for one in worked.shortages]


def _where_to_make(shortage):
    """The page that makes up a bottle that is short: its own where there is one, else the page that asks which."""
    master = shortage.substance if isinstance(shortage.substance, Solution) else None
    if master is None and shortage.lot is not None and shortage.lot.solution_id:
        master = shortage.lot.solution
    if master is not None:
        return reverse("recipes:bottle-make", args=[master.pk]), f"Make {master} up"
    return (reverse("recipes:bottle-new"), "Make the bottle") if shortage.make else ("", "")
