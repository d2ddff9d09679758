"""What a plan says of its pots and days: which are dyed when, with which yarn, and what to mind before starting."""

from collections import Counter
from dataclasses import dataclass
from datetime import date

from studio.naming import joined, kind_of, lot_among, one_of
from studio.units import write_count

from . import loading
from .days import pots_by_day
from .models import Batch
from .under_way import pots_in_words
from .wording import capital


@dataclass(frozen=True)
class Row:
    """Alike pots of one day: "Pots 1 and 2", "Kettle", skeins in each, and [(Yarn, skeins)] of each."""

    pots: str
    many: int
    vessel: object
    skeins: int
    yarns: tuple


@dataclass(frozen=True)
class Day:
    """`number` counts the days that something is dyed on."""

    number: int
    date: date
    rows: list

    @property
    def skeins(self):
        return sum(row.many * row.skeins for row in self.rows)


def asked_in_words(to_dye, loads):
    """ "8 skeins of Wend DK, lot W-2364, in 8 jars (Jars)". `to_dye`: [(Yarn, skeins)]; `loads`: its `OneLoad`s."""
    yarn = joined([f"{write_count(skeins, 'skein')} of {yarn.name}" for yarn, skeins in to_dye])
    vessels = [load.vessel for load in loads]
    names = ", ".join(dict.fromkeys(str(vessel) for vessel in vessels if vessel is not None))
    return f"{yarn}, in {write_count(len(vessels), kind_of(vessels))}{f' ({names})' if names else ''}"


def days_of(loads, dates, pots):
    """[Day] of a plan. `loads`: its `OneLoad`s; `dates`: the date of each; `pots`: their yarn as [[(Yarn, skeins)]].

    Pots are numbered anew on each, as each day becomes a run of its own.
    """
    by_day = {}
    numbers = (number for _, number in loading.numbered(dates))
    for number, load, on, yarn in zip(numbers, loads, dates, pots, strict=True):
        alike = by_day.setdefault(on, {}).setdefault((load.vessel, tuple(yarn)), [])
        alike.append(Batch(number=number, vessel=load.vessel))
    return [Day(number, on, _rows(by_day[on])) for number, on in enumerate(sorted(by_day), 1)]


def _rows(alike):
    return [
        Row(capital(pots_in_words(batches)), len(batches), vessel, sum(skeins for _, skeins in yarn), yarn)
        for (vessel, yarn), batches in alike.items()
    ]


def to_mind(loads, dates, pots, twice_meant=()):
    """[sentence]: what speaks against these loads, to be read before starting. The first three as for `days_of`.

    `twice_meant`: {Vessel key: loads in a day} where it was said that a vessel is filled more than once.
    """
    named = [
        (day, Batch(number=number, vessel=load.vessel))
        for (day, number), load in zip(loading.numbered(dates), loads, strict=True)
    ]
    return [*_crowded(loads, pots, named), *_twice(loads, named, dict(twice_meant)), *_lots(pots, named)]


def _called(numbers, named):
    return pots_by_day(named[number - 1] for number in numbers)


def _crowded(loads, pots, named):
    """Pots with more skeins than their vessel usually takes."""
    found = {}
    for number, (load, yarn) in enumerate(zip(loads, pots, strict=True), 1):
        skeins = sum(count for _, count in yarn)
        if load.vessel is not None and load.vessel.skeins and skeins > load.vessel.skeins:
            found.setdefault((load.vessel, skeins), []).append(number)
    for (vessel, skeins), numbers in found.items():
        has = "has" if len(numbers) == 1 else "have"
        yield (
            f"{one_of(vessel)} usually takes {write_count(vessel.skeins, 'skein')}: {_called(numbers, named)} {has} "
            f"{skeins}. Crowded yarn dyes unevenly."
        )


def _twice(loads, named, meant):
    """Vessels with more loads in a day than there are of them. Said only of loads that somebody gave days."""
    if not any(load.skeins for load in loads):
        return
    counted = Counter((day, pot.vessel) for day, pot in named if pot.vessel is not None)
    for (day, vessel), number in counted.items():
        if number > max(vessel.how_many, meant.get(vessel.pk, 0)):
            one = vessel.how_many == 1
            there = f"There is one {vessel}" if one else f"There are {vessel.how_many} of {vessel}"
            fills = f"day {day or 1} fills {'it' if one else 'them'} {number} times"
            yield f"{there}, and {fills}: {'one' if one else 'some one'} after the other."


def _lots(pots, named):
    """Where one base comes of several lots: in one pot, and over the pots."""
    apart = loading.mixed(pots, lambda yarn: yarn.base.pk if yarn.base else yarn)
    for lots in apart.values():
        base = next(iter(lots)).base
        shared = sorted(number for number, times in Counter(sum(lots.values(), [])).items() if times > 1)
        if shared:
            yield f"{capital(_called(shared, named))} would hold more than one lot of {base}."
        where = "; ".join(f"{_which(yarn)} in {_called(numbers, named)}" for yarn, numbers in lots.items())
        yield f"{len(lots)} lots of {base} may take the dye differently, so their skeins may not match: {where}."


def _which(yarn):
    """What tells a yarn from another of its base."""
    return yarn.name if yarn.lot is None else lot_among(yarn.lot)
