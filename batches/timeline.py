"""The small timeline of a run: where its hours, its entries and its heat stand. Pure: times in, percentages out.

Time runs from left to right over 0 to 100 % of the drawing. Where nothing happened for hours, most often a night, it is
folded: the days on either side keep their hours, and a narrow gap says that time passed. Only what stands is handed
in; a line that was struck out of the log is not drawn.
"""

import math
from bisect import bisect_right
from collections import Counter
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

FOLD_AFTER = timedelta(hours=4)  # without an entry in any pot
FOLD_PCT, LEAST_PCT = 3.0, 5.0  # of the line: the gap of a fold, and the least that a stretch is given
MOST_FOLDED_PCT = 60.0  # of the line, for gaps and least widths together
APART_PCT = 1.0  # marks of one kind that are nearer than this are drawn as one
MARK_PCT, MOST_CROWDED_PCT = 2.6, 30.0  # a mark's own room on a phone; the most that a crowd of them makes a stretch
KINDS = ("in", "reading", "step", "photo", "check", "timer", "other")
HOUR_STEPS = (1, 2, 3, 6, 12)
MOST_HOURS = 6  # labels of hours along the whole line
LABEL_PCT, DAY_PCT = 14.0, 18.0  # the least distance of two labels: "14:00", "18 Oct"
EDGE = timedelta(minutes=5)
TOP_EM, ROW_EM, FOOT_EM, BAND_EM = 1.6, 1.5, 1.5, 0.9  # heights: the days, a pot, the hours, the band of heat
WAIT_EM = 0.2  # and the line of a timer

HEATING = ("heat", "hold")
ENDS_HEAT = ("cool", "rinse", "wash", "dry", "finish")


@dataclass(frozen=True)
class Happening:
    """Something that stands in the log. `at` and all other times are of one zone; `pot` counts from 0.

    `kind`: "in", "reading", "step", "photo", "check", "timer" or "other". `step`: the kind of a step, or "finish".
    `minutes`: how long a step was to last, where that was said. `fill`: the dye's colour, "" for none.
    `end`: of a timer, when what it waited for was over.
    """

    at: datetime
    pot: int
    kind: str
    step: str = ""
    minutes: float | None = None
    fill: str = ""
    end: datetime | None = None


@dataclass(frozen=True)
class Mark:
    x: float  # % of the line
    kind: str
    fill: str = ""


@dataclass(frozen=True)
class Span:
    """The pot is hot, or something is waited for, from `begin` to `end`."""

    x: float
    width: float
    begin: datetime
    end: datetime


@dataclass
class Lane:
    """One pot. `y`: the middle of its row, in em from the top."""

    y: float
    marks: list = field(default_factory=list)
    spans: list = field(default_factory=list)
    waits: list = field(default_factory=list)  # spans of timers

    @property
    def band(self):
        """The top of its band of heat [em]."""
        return self.y - BAND_EM / 2

    @property
    def wait(self):
        """The top of the line of a timer [em]."""
        return self.y - WAIT_EM / 2


@dataclass(frozen=True)
class Tick:
    x: float
    at: datetime

    @property
    def day_anchor(self):
        """Where the label of a day hangs: it begins where the day does, unless it would be cut off."""
        return "end" if self.x > 82 else "start"


@dataclass(frozen=True)
class Stretch:
    """Hours in which something happened, from its first entry to its last."""

    begin: datetime
    end: datetime
    x: float
    width: float
    counts: dict = field(default_factory=dict)  # {kind: how many}, over all pots

    @property
    def right(self):
        return self.x + self.width


@dataclass(frozen=True)
class Timeline:
    """Widths in % of the line, heights in em."""

    lanes: list
    stretches: list
    hours: list  # Tick at full hours
    days: list  # Tick where a day begins on the line
    kinds: list  # that are drawn, in the order of `KINDS`

    @property
    def base(self):
        """Under the last pot."""
        return TOP_EM + ROW_EM * len(self.lanes)

    @property
    def height(self):
        return self.base + FOOT_EM

    @property
    def foot(self):
        """The baseline of the hours' labels."""
        return self.height - 0.3

    def hot(self):
        """[(begin, end, [pots])]: when it was hot, in order."""
        found = {}
        for pot, lane in enumerate(self.lanes):
            for span in lane.spans:
                found.setdefault((span.begin, span.end), []).append(pot)
        return [(*times, pots) for times, pots in sorted(found.items())]


def timeline(happenings, pots):
    """The `Timeline` of these happenings, in any order, in so many pots; None where nothing happened."""
    found = sorted(happenings, key=lambda one: (one.at, one.pot))
    if not found:
        return None
    heat = [heat_of([one for one in found if one.pot == pot]) for pot in range(pots)]
    ends = [one.end for one in found if one.end is not None]
    times = sorted([one.at for one in found] + ends + [end for spans in heat for _, end in spans])
    parts = stretches_of(times)
    stretches = laid_out(parts, [crowd(found, *part) for part in parts])
    lanes = [
        Lane(TOP_EM + ROW_EM * (pot + 0.5), spans=[span_of(stretches, *pair) for pair in spans])
        for pot, spans in enumerate(heat)
    ]
    for one in found:
        counts = stretches[stretch_at(stretches, one.at)].counts
        counts[one.kind] = counts.get(one.kind, 0) + 1
        if one.kind == "timer":
            lanes[one.pot].waits.append(span_of(stretches, one.at, one.end or one.at))
        else:
            put(lanes[one.pot].marks, Mark(place(stretches, one.at), one.kind, one.fill))
    for lane in lanes:
        lane.marks = side_by_side(lane.marks, stretches)
    kinds = [kind for kind in KINDS if any(one.kind == kind for one in found)]
    return Timeline(lanes, stretches, hours_of(stretches), days_of(stretches), kinds)


def stretches_of(times):
    """[(begin, end)] of sorted times, parted where nothing happened for longer than `FOLD_AFTER`."""
    found = [[times[0], times[0]]]
    for at in times[1:]:
        if at - found[-1][1] > FOLD_AFTER:
            found.append([at, at])
        else:
            found[-1][1] = at
    return [(begin, end) for begin, end in found]


def crowd(happenings, begin, end):
    """How many marks the busiest pot has between two times."""
    drawn = (one for one in happenings if begin <= one.at <= end and one.kind != "timer")
    marks = {(one.pot, one.at, one.kind, one.fill) for one in drawn}
    return max(Counter(pot for pot, *_ in marks).values(), default=0)


def laid_out(pairs, crowds):
    """[Stretch]: each at least so wide that its marks can be seen, the rest of the line shared by duration."""
    count, gap = len(pairs), FOLD_PCT
    least = [min(max(LEAST_PCT, MARK_PCT * (marks + 1)), MOST_CROWDED_PCT) for marks in crowds]
    taken = sum(least) + (count - 1) * gap
    if taken > MOST_FOLDED_PCT:
        least, gap = [one * MOST_FOLDED_PCT / taken for one in least], gap * MOST_FOLDED_PCT / taken
    free = 100 - sum(least) - (count - 1) * gap
    whole = sum((end - begin for begin, end in pairs), timedelta())
    found, x = [], 0.0
    for (begin, end), room in zip(pairs, least, strict=True):
        width = room + (free * ((end - begin) / whole) if whole else free / count)
        found.append(Stretch(begin, end, x, width))
        x += width + gap
    return found


def place(stretches, at):
    """Where a time stands, in % of the line. In a fold it stands in the gap; a stretch of one moment in its middle."""
    number = stretch_at(stretches, at)
    one = stretches[number]
    if at > one.end:
        following = stretches[number + 1] if number + 1 < len(stretches) else None
        return one.x + one.width if following is None else (one.x + one.width + following.x) / 2
    inset = min(LEAST_PCT, one.width) / 2  # so that the first and the last mark are not cut off
    if one.begin == one.end:
        return one.x + one.width / 2
    return one.x + inset + (one.width - 2 * inset) * ((at - one.begin) / (one.end - one.begin))


def stretch_at(stretches, at):
    """The number of the last stretch that has begun by then."""
    return max(0, bisect_right([one.begin for one in stretches], at) - 1)


def heat_of(happenings):
    """[(begin, end)] in which one pot was hot, by its steps in order of time.

    It begins with "heat" or "hold" and ends with the step that cools it. Without one it lasts the minutes that the
    last hot step was to take, or to the pot's next entry within the day.
    """
    found, begin, last = [], None, None
    for one in happenings:
        if begin is not None and (one.step in ENDS_HEAT or one.at - last.at > FOLD_AFTER * 3):
            found.append((begin, one.at if one.step in ENDS_HEAT else lasted(last)))
            begin = None
        if one.step in HEATING:
            begin, last = begin or one.at, one
    if begin is not None:
        after = [one.at for one in happenings if last.at < one.at <= last.at + FOLD_AFTER]
        found.append((begin, lasted(last) if last.minutes or not after else after[0]))
    return [(start, end) for start, end in found if end > start]


def lasted(step):
    return step.at + timedelta(minutes=float(step.minutes or 0))


def span_of(stretches, begin, end):
    x = place(stretches, begin)
    return Span(x, max(0.5, place(stretches, end) - x), begin, end)


def put(marks, mark):
    """Add a mark, unless it would lie on one of its kind and colour."""
    near = (one for one in marks if one.kind == mark.kind and one.fill == mark.fill)
    if all(abs(one.x - mark.x) >= APART_PCT for one in near):
        marks.append(mark)


def side_by_side(marks, stretches):
    """The marks of a lane in their order, moved apart within their stretch so far that each can be seen."""
    found = []
    for number, one in enumerate(stretches):
        following = stretches[number + 1].x if number + 1 < len(stretches) else math.inf
        here = sorted((mark for mark in marks if one.x <= mark.x < following), key=lambda mark: mark.x)
        room = min(MARK_PCT, one.width / (len(here) + 1)) if here else 0
        places = [mark.x for mark in here]
        for at in range(1, len(here)):
            places[at] = max(places[at], places[at - 1] + room)
        edge = max(one.right - room / 2, here[-1].x) if here else 0
        for at in reversed(range(len(here))):
            places[at] = min(places[at], edge)
            edge = places[at] - room
        found += [replace(mark, x=x) for mark, x in zip(here, places, strict=True)]
    return found


def hours_of(stretches):
    """[Tick] at full hours, so many that they can be read on a phone."""
    total = sum((one.end - one.begin for one in stretches), timedelta()) / timedelta(hours=1)
    step = next((step for step in HOUR_STEPS if total / step <= MOST_HOURS), HOUR_STEPS[-1])
    found = []
    for one in stretches:
        if one.begin == one.end or one.end - one.begin < EDGE:
            continue
        at = one.begin.replace(minute=0, second=0, microsecond=0)
        while at <= one.end:
            if at >= one.begin and at.hour % step == 0:
                tick = Tick(place(stretches, at), at)
                whole = LABEL_PCT / 2 <= tick.x <= 100 - LABEL_PCT / 2  # its label is not cut off
                if whole and (not found or tick.x - found[-1].x >= LABEL_PCT):
                    found.append(tick)
            at += timedelta(hours=1)
    return found


def days_of(stretches):
    """[Tick] where the line comes to another day, as far as their labels have room; the first always."""
    found, day = [], None
    for one in stretches:
        if one.begin.date() != day and (not found or one.x - found[-1].x >= DAY_PCT):
            found.append(Tick(one.x, one.begin))
        day = one.begin.date()
    return found
