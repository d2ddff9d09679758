"""Sets of runs as rows of bits, and the order of a year's runs. Pure: whole numbers and bytes.

Each run has a place, which it keeps. A set is a whole number whose bit n says whether the run at place n is in it:
20,000 runs take 2.5 kB, and "both" is one AND of two numbers.
"""

import re
from array import array
from bisect import bisect_left, bisect_right
from datetime import date, timedelta
from itertools import compress, islice

DIGITS = bytes.maketrans(b"01", b"\0\1")
SOMETHING = re.compile(rb"[^\0]", re.DOTALL)


OFFSET = 4  # bytes that say how many empty bytes are left out at the beginning
SMALL = OFFSET + 8
OFTEN = 16  # one run in so many


def pack(bits):
    """A set as bytes, the least first, without the empty ones at both ends: a single late run takes five."""
    empty = max((bits & -bits).bit_length() - 1, 0) // 8
    return empty.to_bytes(OFFSET, "little") + _whole(bits >> empty * 8) if bits else b""


def unpack(packed):
    """The set again."""
    held = int.from_bytes(packed[OFFSET:], "little")
    empty = int.from_bytes(packed[:OFFSET], "little")
    return held << empty * 8 if empty else held


def union(these):
    """The set of all that is in these packed ones. Those of a run or two are put together before they are moved up."""
    found, small, number = 0, {}, int.from_bytes
    for packed in these:
        if len(packed) > SMALL:
            # As in `unpack`, without the price of a call: a common word has a hundred of these.
            found |= number(packed[OFFSET:], "little") << number(packed[:OFFSET], "little") * 8
        elif packed:
            empty = packed[:OFFSET]
            small[empty] = small.get(empty, 0) | number(packed[OFFSET:], "little")
    for empty, held in small.items():
        found |= held << number(empty, "little") * 8
    return found


def _whole(bits):
    return bits.to_bytes((bits.bit_length() + 7) // 8, "little")


def places(bits):
    """The places in a set, lowest first."""
    for found in SOMETHING.finditer(_whole(bits)):
        byte, begin = found[0][0], found.start() * 8
        yield from (begin + place for place in range(8) if byte >> place & 1)


def _each(bits, number):
    """At least so many bytes, one for each place: 1 or 0."""
    return bytes(bin(bits)[:1:-1], "ascii").translate(DIGITS).ljust(number, b"\0")


def of_places(these):
    """The set of these places."""
    packed = bytearray(max(these, default=0) // 8 + 1)
    for place in these:
        packed[place >> 3] |= 1 << (place & 7)
    return int.from_bytes(packed, "little")


class Year:
    """The runs of one year, oldest first: their days (1 is 1 January), keys and places, in three arrays."""

    def __init__(self, number, days=b"", runs=b"", places=b""):
        self.number = number
        self.days, self.runs, self.places = array("H"), array("I"), array("I")
        self.days.frombytes(days)
        self.runs.frombytes(runs)
        self.places.frombytes(places)

    def packed(self):
        return {"days": self.days.tobytes(), "runs": self.runs.tobytes(), "places": self.places.tobytes()}

    def change(self, come=(), gone=()):
        """Take these runs (keys) out, and put these in: (day, key, place)."""
        gone = set(gone)
        rows = [row for row in zip(self.days, self.runs, self.places, strict=True) if row[1] not in gone]
        rows += [(day.timetuple().tm_yday, run, place) for day, run, place in come]
        rows.sort()
        self.days = array("H", (row[0] for row in rows))
        self.runs = array("I", (row[1] for row in rows))
        self.places = array("I", (row[2] for row in rows))

    def day(self, number):
        return date(self.number, 1, 1) + timedelta(days=number - 1)

    def between(self, first, last):
        """The set of runs from one day of the year to another, both with it."""
        begin = bisect_left(self.days, first.timetuple().tm_yday)
        return of_places(self.places[begin : bisect_right(self.days, last.timetuple().tm_yday)])

    def take(self, bits, number, before=None):
        """The keys of the first so many of this set, newest first. `before`: (day, key) of the last one seen."""
        end = len(self.days)
        if before is not None and before[0].year == self.number:
            last = before[0].timetuple().tm_yday
            end = bisect_left(range(end), (last, before[1]), key=lambda at: (self.days[at], self.runs[at]))
        held = self._soon(bits, end) if bits.bit_count() * OFTEN >= len(self.places) else self._all(bits, end)
        return [self.runs[at] for at in islice(held, number)]

    def _soon(self, bits, end):
        """Where the runs of a set stand, from the end: one after the other, for a set that is met every few runs."""
        packed = _whole(bits)
        for at in range(end - 1, -1, -1):
            byte, bit = divmod(self.places[at], 8)
            if byte < len(packed) and packed[byte] >> bit & 1:
                yield at

    def _all(self, bits, end):
        """Likewise, all at once, for a set whose runs are far between."""
        each = _each(bits, max(self.places, default=0) + 1)
        return compress(range(end - 1, -1, -1), map(each.__getitem__, reversed(self.places[:end])))
