"""Finding again: one question over runs, and over the colourways, bases, dyes, lots and bottles they were made with.

A question is words, all of them wanted, and filters. Names are looked for in the tables that hold them, so a new name
counts at once; which runs those lead to, and the words people wrote, stand in the index (`batches.indexing`). Its sets
are rows of bits, so what is in all of them is one AND, however many runs there are. The SQL is written out: a page of
twenty thousand runs takes about as long as the library needs to build one query.
"""

from dataclasses import dataclass, field, replace
from datetime import date
from functools import reduce
from operator import and_, or_
from typing import NamedTuple
from uuid import UUID

from django.db import connection

from studio import folding

from . import bits, indexing

PAGE = 12
MOST_WORDS = 8
MOST_THINGS = 6
MOST_LOTS = 3
LONGEST_LINE = 160
ALIKE = 0.5  # from here on a word may have been meant for another
# How each database asks whether a text holds another one. Both take it as it stands: no sign in it means anything.
HOLDS = {"sqlite": "instr", "postgresql": "strpos"}
TABLES = {  # where the names of things are, in the order in which they are shown
    "colourway": "recipes_colourway",
    "base": "studio_base",
    "dye": "studio_dye",
    "solution": "studio_solution",
    "assistant": "studio_assistant",
}
# By kind, what stands for a thing beside its name: the colour bar of its last run, or the colour of its main dye.
LAST_RUNS = "SELECT colourway_id, max(id) FROM batches_run WHERE colourway_id IN ({}) GROUP BY colourway_id"
COLOURS = (
    "SELECT p.solution_id, d.colour FROM studio_solutionpart p JOIN studio_dye d ON d.id = p.dye_id"
    " WHERE p.solution_id IN ({}) ORDER BY p.g_per_100, p.id DESC"
)


@dataclass(frozen=True)
class Question:
    """What somebody looks for. `words` are folded; the filters are keys and days, None where they do not ask."""

    words: tuple = ()
    base: int | None = None
    fibre: str | None = None
    dye: int | None = None
    method: str | None = None
    verdict: str | None = None
    first: date | None = None
    last: date | None = None
    left_out: tuple = ()  # words beyond those that are looked for

    FILTERS = ("base", "fibre", "dye", "method", "verdict", "first", "last")

    @classmethod
    def of(cls, text, **filters):
        words = folding.asked(text)
        return cls(tuple(words[:MOST_WORDS]), left_out=tuple(words[MOST_WORDS:]), **filters)

    @property
    def filters(self):
        """The names of the filters that ask for something."""
        return [name for name in self.FILTERS if getattr(self, name) is not None]

    def __bool__(self):
        return bool(self.words or self.filters)


@dataclass
class Thing:
    """A colourway, base, dye, lot, bottle or other thing of this name."""

    kind: str
    key: int
    name: str
    colour: str = ""
    segments: list | tuple = ()
    retired: bool = False


@dataclass
class Found:
    """A run as its print shows it. `line` is [(piece, marked?)] of the line where a word stands."""

    key: int
    code: str
    name: str
    day: date
    cover: UUID | None
    width: int | None
    height: int | None
    whereabouts: str
    skeins: int | None
    firsts: int
    seconds: int
    bases: list = field(default_factory=list)
    segments: list = field(default_factory=list)
    line: list = field(default_factory=list)


@dataclass
class Instead:
    """What would find something, where nothing was found: without a filter or a word, or another word."""

    without: list = field(default_factory=list)  # (filter name, runs)
    fewer: list = field(default_factory=list)  # (word, runs)
    nearest: str = ""  # the words, with those that stand nowhere put right
    nearest_runs: int = 0

    def __bool__(self):
        return bool(self.without or self.fewer or self.nearest)


@dataclass
class Answer:
    things: list
    runs: list
    count: int = 0
    older: tuple | None = None  # (day, run key) after which the next page begins
    behind: int = 0  # runs that have changed and are not in the index yet
    instead: Instead = field(default_factory=Instead)


def find(question, *, kinds=tuple(TABLES), before=None, number=PAGE):
    """The `Answer` to a question: the things, then so many runs, newest first, after the run `before`.

    `kinds`: which things may be shown. Brings the index up to date first, where something has changed.
    """
    sets, runs, keys, behind = look_up(question, before=before, number=number + 1)
    count = runs.bit_count()
    first_page = before is None and not question.filters
    shown = _things(sets.asked, kinds) + _lots(sets) if first_page else []
    cards = _cards(keys, question.words)
    answer = Answer(*_drawn(cards[:number], shown), count=count, behind=behind)
    if len(cards) > number:
        answer.older = cards[number - 1].day, cards[number - 1].key
    if not count and question:
        answer.instead = _instead(question, sets, answer.things)
    return answer


def look_up(question, *, before=None, number=PAGE):
    """Which runs answer: (the `Sets`, the runs as a set, the keys of the first so many, runs the index is behind)."""
    words = [Word(text) for text in question.words]
    named, behind = _look(question, words)
    sets = Sets(question, words, named)
    runs = sets.all()
    return sets, runs, newest(sets, runs, number, before), behind


# Names, and whether the index is behind


class Word:
    """One word of a question, and the things whose name has it."""

    def __init__(self, text):
        self.text = text
        self.plain = folding.plain(text)
        self.within = folding.within(self.plain)
        self.named = []  # entries of the index of the things of this name

    @property
    def starts(self):
        """The entry of a short beginning."""
        return [indexing.start_key(self.plain)] if 0 < len(self.plain) <= folding.SHORT else []

    @property
    def keys(self):
        """The entries of the index that it asks for, but for those of its reach."""
        return [*self.starts, *self.named]

    @property
    def reach(self):
        """From which entry to which other its words stand; None for a short one, which has an entry of its own."""
        if len(self.plain) <= folding.SHORT:
            return None
        begin = indexing.word_key(self.plain)
        return begin, begin + b"\xff"


class Named(NamedTuple):
    """Something whose name has one of the words; also a base of the fibre that is asked for, as kind "fibre"."""

    kind: str
    key: int
    folded: str


def _rows(sql, values=None):
    with connection.cursor() as cursor:
        cursor.execute(sql, values or None)
        return cursor.fetchall()


def _look(question, words):
    """(the named things that have one of the words, how many runs the index is behind).

    One query: it also asks for marks of changed runs, and for the bases of a fibre. Where there are marks, the index
    is brought up to date, by `indexing.catch_up`.
    """
    sql = [
        "SELECT '', (SELECT count(*) FROM studio_lot), '',"
        " EXISTS(SELECT 1 FROM batches_stale), (SELECT lots FROM batches_index)"
    ]
    values = []
    if question.fibre is not None:
        sql.append("SELECT 'fibre', base_id, '', FALSE, NULL FROM studio_basefibre WHERE fibre = %s")
        values.append(question.fibre)
    said = [word for word in words if word.plain]  # a name is not looked through for nothing but signs
    for kind, table in TABLES.items() if said else ():
        has = " OR ".join([_holds("folded")] * len(said))
        sql.append(f"SELECT '{kind}', id, folded, FALSE, NULL FROM {table} WHERE {has}")
        values += [word.within for word in said]
    (_, lots, _, marked, lots_there), *rows = _rows(" UNION ALL ".join(sql), values)
    named = [Named._make(row[:3]) for row in rows]
    for word in said:
        of_it = (one for one in named if word.within in one.folded)
        word.named = [indexing.thing_key(one.kind, one.key) for one in of_it]
    behind = indexing.catch_up() if marked or lots != (lots_there or 0) else 0
    return named, behind


def _holds(column):
    return f"{HOLDS[connection.vendor]}({column}, %s) > 0"


# Sets of runs


EVERY_YEAR = b"y", b"z"  # from which entry to which the years stand


class Sets:
    """The sets that a question asks for: one for each word and each filter. They are whole numbers: see `bits`."""

    def __init__(self, question, words, named):
        self.asked, self.years = words, {}
        bases = [indexing.thing_key("base", one.key) for one in named if one.kind == "fibre"]
        filters = {name: keys for name, keys in self._wanted(question, bases).items() if keys is not None}
        days = self._wanted_years(question)
        reaches = [word.reach for word in words if word.reach] + [EVERY_YEAR]
        self.entries = _entries({key for word in words for key in word.keys}.union(*filters.values()), reaches)
        self.reached = [self._reached(word.reach) for word in words]
        both = zip(words, self.reached, strict=True)
        self.words = {word.text: self._any([*word.keys, *reached]) for word, reached in both}
        self.filters = {name: self._any(keys) for name, keys in filters.items()}
        self.filters |= {name: self._any(self._reached(reach)) for name, reach in days.items()}
        self._add_days(question)

    @staticmethod
    def _wanted(question, bases):
        """{filter: entries, any of which will do}; None where it asks for nothing."""
        return {
            "base": question.base and [indexing.thing_key("base", question.base)],
            "fibre": bases if question.fibre is not None else None,
            "dye": question.dye and [indexing.thing_key("dye", question.dye)],
            "method": question.method and [indexing.method_key(question.method)],
            "verdict": question.verdict and [indexing.verdict_key(question.verdict)],
        }

    @staticmethod
    def _wanted_years(question):
        """{"first" or "last": from which year's entry to which} of the years that are asked for as a whole."""
        (begin, end), reaches = EVERY_YEAR, {}
        if (first := question.first) is not None:
            year = indexing.year_key(first.year)
            reaches["first"] = (year if _is_first(first) else year + b"\xff", end)
        if (last := question.last) is not None:
            year = indexing.year_key(last.year)
            reaches["last"] = (begin, year + b"\xff" if _is_last(last) else year)
        return reaches

    def _add_days(self, question):
        """The days of a year that is asked for in part."""
        first, last = question.first, question.last
        if first is not None and not _is_first(first):
            self.filters["first"] |= self._part(first, date(first.year, 12, 31))
        if last is not None and not _is_last(last):
            self.filters["last"] |= self._part(date(last.year, 1, 1), last)

    def _part(self, first, last):
        self.read_years([first.year])
        return self.years[first.year].between(first, last) if first.year in self.years else 0

    def read_years(self, numbers):
        """The orders of these years, those that were not read before."""
        wanted = sorted(set(numbers) - self.years.keys())
        if wanted:
            sql = f"SELECT year, days, runs, places FROM batches_indexyear WHERE year IN ({_listed(wanted)})"
            self.years |= {row[0]: bits.Year(*row) for row in _rows(sql)}

    def by_year(self, runs):
        """[(year, those of these runs that are of it)], the last year first, without the years that have none."""
        held = ((int(key[1:]), self._any([key]) & runs) for key in self._reached(EVERY_YEAR))
        return sorted(((year, these) for year, these in held if these), reverse=True)

    def _reached(self, reach):
        if reach is None:
            return []
        begin, end = reach
        return [key for key in self.entries if begin <= key < end]

    def _any(self, keys, column=0):
        """The runs (or, with 1, the lots) that stand under one of these entries."""
        return bits.union([self.entries[key][column] for key in keys if key in self.entries])

    def lots(self):
        """The lots whose number has all the words."""
        both = zip(self.asked, self.reached, strict=True)
        return reduce(and_, [self._any([*word.starts, *reached], 1) for word, reached in both])

    def all(self, *, without=None):
        """The runs that are in every set; `without` names a filter or a word that does not count."""
        asked = [runs for name, runs in (*self.filters.items(), *self.words.items()) if name != without]
        return reduce(and_, asked) if asked else 0


def _is_first(day):
    return (day.month, day.day) == (1, 1)


def _is_last(day):
    return (day.month, day.day) == (12, 31)


def _listed(numbers):
    """Whole numbers of our own for an IN. Written out, since each place to fill in costs more than its number."""
    return ", ".join(str(int(number)) for number in numbers)


def _entries(keys, reaches):
    """{entry: (runs, lots)}, packed, of these entries of the index, and of all from one to another of each reach."""
    some = ", ".join(["%s"] * len(keys))
    asked = [f"word IN ({some})"] if keys else []
    asked += ["word >= %s AND word < %s"] * len(reaches)
    values = [*keys] + [edge for reach in reaches for edge in reach]
    sql = " UNION ALL ".join(f"SELECT word, runs, lots FROM batches_indexword WHERE {one}" for one in asked)
    return {bytes(word): (runs, lots) for word, runs, lots in _rows(sql, values)} if sql else {}


# What is shown


# The note of a recipe says something of its colourway too: its row once more, with the note of a version.
NOTES = (
    "SELECT 'colourway', c.id, c.name, c.folded, c.retired, ''"
    " FROM recipes_recipe r JOIN recipes_colourway c ON c.id = r.colourway_id WHERE r.folded <> ''"
)


def _things(words, kinds):
    """The few things whose name or other words have all that was asked for, those of the name itself first."""
    kinds = [kind for kind in TABLES if kind in kinds]
    if not kinds or not words or not all(word.plain for word in words):
        return []
    sql, values = [], []
    has = " AND ".join([_holds("folded_more")] * len(words))
    for kind in kinds:
        colour = "colour" if kind == "dye" else "''"
        sql.append(f"SELECT '{kind}', id, name, folded, retired, {colour} FROM {TABLES[kind]} WHERE {has}")
        values += [word.within for word in words]
    if "colourway" in kinds:
        either = f" AND ({_holds('r.folded')} OR {_holds('c.folded_more')})"
        sql.append(NOTES + either * len(words))
        values += [word.within for word in words for _ in range(2)]
    asked = folding.name(" ".join(word.text for word in words))

    def rank(row):
        kind, _, name, folded, retired, _ = row
        inside = all(word.within in folded for word in words)
        return folded != asked, not inside, retired, kinds.index(kind), name

    once = {}
    for kind, key, name, _, retired, colour in sorted(_rows(" UNION ALL ".join(sql), values), key=rank):
        once.setdefault((kind, key), Thing(kind, key, name, colour, retired=bool(retired)))
    return list(once.values())[:MOST_THINGS]


def _lots(sets):
    """The newest few lots whose number has all the words."""
    if not sets.asked or not (fit := sets.lots()):
        return []
    newest = sorted(bits.places(fit), reverse=True)[:MOST_LOTS]
    rows = _rows(
        "SELECT l.id, coalesce(b.name, d.name, a.name, s.name), l.number, coalesce(d.colour, '') FROM studio_lot l"
        " LEFT JOIN studio_base b ON b.id = l.base_id LEFT JOIN studio_dye d ON d.id = l.dye_id"
        " LEFT JOIN studio_assistant a ON a.id = l.assistant_id"
        " LEFT JOIN studio_solution s ON s.id = l.solution_id"
        f" WHERE l.id IN ({_listed(newest)}) ORDER BY l.id DESC",
        [],
    )
    return [Thing("lot", key, f"{name}, {number}", colour) for key, name, number, colour in rows]


KEYS = "SELECT run_id FROM batches_indexcard WHERE place IN ({}) ORDER BY day DESC, run_id DESC LIMIT {:d}"
CARD = (
    "SELECT r.id, r.code, coalesce(c.name, r.title), i.day, r.cover_id, p.width, p.height,"
    " i.whereabouts, i.skeins, i.firsts, i.seconds, i.lines, i.folded"
    " FROM batches_indexcard i JOIN batches_run r ON r.id = i.run_id"
    " LEFT JOIN recipes_colourway c ON c.id = r.colourway_id"
    " LEFT JOIN studio_picture p ON p.id = r.cover_id"
    " WHERE i.run_id IN ({}) ORDER BY i.day DESC, i.run_id DESC"
)
FEW = 48  # up to so many runs the database sorts them; more are met soon by going through the years


def newest(sets, runs, number, before=None):
    """Keys of the first so many of these runs, newest first, after the run `before`: (day, key)."""
    near = []  # as many years as have so many of them for certain
    enough = number
    for year, these in sets.by_year(runs):
        if before is None or year <= before[0].year:
            near.append((year, these))
            enough -= these.bit_count() if before is None or year < before[0].year else 0
        if enough <= 0:
            break
    if not near:
        return []
    few = reduce(or_, (these for _, these in near))
    if before is None and few.bit_count() <= FEW:
        return [key for (key,) in _rows(KEYS.format(_listed(bits.places(few)), number))]
    sets.read_years([year for year, _ in near])
    taken = []
    for year, these in near:
        taken += sets.years[year].take(these, number - len(taken), before)
    return taken


def _cards(keys, words):
    """These runs as `Found`, newest first."""
    return [_found(row, words) for row in _rows(CARD.format(_listed(keys)))] if keys else []


def _found(row, words):
    key, code, name, day, cover, width, height, whereabouts, skeins, firsts, seconds, lines, folded = row
    day = date.fromisoformat(day) if isinstance(day, str) else day
    cover = UUID(cover) if isinstance(cover, str) else cover
    line = _line(lines, folded, words) if words and folded else []
    name = name or "Not named yet"
    return Found(key, code, name, day, cover, width, height, whereabouts, skeins, firsts, seconds, line=line)


def _drawn(cards, shown):
    """(the things, the runs), each with its colour bar."""
    ways = [one.key for one in shown if one.kind == "colourway"]
    bottles = [one.key for one in shown if one.kind == "solution"]
    last_runs = dict(_rows(LAST_RUNS.format(_listed(ways)))) if ways else {}
    colours = dict(_rows(COLOURS.format(_listed(bottles)))) if bottles else {}
    bars, bases = _parts([*(card.key for card in cards), *last_runs.values()])
    for card in cards:
        card.segments, card.bases = bars.get(card.key, []), bases.get(card.key, [])
    for one in shown:
        if one.kind == "colourway":
            one.segments = bars.get(last_runs.get(one.key), ())
        elif one.kind == "solution":
            one.colour = colours.get(one.key, "")
    return shown, cards


def _parts(keys):
    """({run: segments of its colour bar, as the `colourbar` tag draws them}, {run: names of its yarns})."""
    bars, bases = {}, {}
    if not keys:
        return bars, bases
    rows = _rows(
        "SELECT p.card_id, d.name, d.colour, p.grams, p.unweighed, b.name, p.words FROM batches_indexpart p"
        " LEFT JOIN studio_dye d ON d.id = p.dye_id LEFT JOIN studio_base b ON b.id = p.base_id"
        f" WHERE p.card_id IN ({_listed(keys)}) ORDER BY p.card_id, p.position",
        [],
    )
    for run, dye, colour, grams, unweighed, base, words in rows:
        if dye is not None:
            bars.setdefault(run, []).append(
                {"name": dye, "fill": colour, "share": grams or None, "unweighed": unweighed}
            )
        else:
            name = f"{base} ({words})" if base and words else base or words
            bases.setdefault(run, []).append(name)
    return bars, bases


def _line(lines, folded, words):
    """The line in which most of the words begin, in pieces; [] where none does."""
    best, most = -1, 0
    hits = {}
    for word in words:
        start = folding.begins_with(folded, word)
        while start >= 0:
            line = folded.count("\n", 0, start)
            hits.setdefault(line, set()).add(word)
            later = folded.find("\n", start)
            if later < 0:
                break
            more = folding.begins_with(folded[later:], word)
            start = later + more if more >= 0 else -1
    for line, found in sorted(hits.items()):
        if len(found) > most:
            best, most = line, len(found)
    if best < 0:
        return []
    return _cut(folding.marked(lines.split("\n")[best], words))


def _cut(pieces):
    """A long line without what stands far from its first mark."""
    if sum(len(text) for text, _ in pieces) <= LONGEST_LINE:
        return pieces
    cut, room = [], LONGEST_LINE
    for place, (text, hit) in enumerate(pieces):
        if place == 0 and not hit and len(text) > LONGEST_LINE // 2:
            text = "… " + text[-(LONGEST_LINE // 2) :].split(" ", 1)[-1]
        if len(text) > room:
            cut.append((text[:room].rsplit(" ", 1)[0] + " …", hit))
            break
        cut.append((text, hit))
        room -= len(text)
    return cut


# Where nothing was found


def _instead(question, sets, things):
    found = Instead()
    found.without = [(name, runs) for name in sets.filters if (runs := sets.all(without=name).bit_count())]
    if len(sets.words) > 1:
        found.fewer = [(word, runs) for word in sets.words if (runs := sets.all(without=word).bit_count())]
    if not things:
        found.nearest, found.nearest_runs = _put_right(question, sets)
    return found


def _put_right(question, sets):
    """(the words with each that stands nowhere put right, how many runs have them); ("", 0) where that finds none."""
    right = [word if sets.words[word] else _nearest(folding.plain(word)) for word in question.words]
    if not all(right) or tuple(right) == question.words:
        return "", 0
    meant = replace(question, words=tuple(right))
    words = [Word(text) for text in meant.words]
    runs = Sets(meant, words, _look(meant, words)[0]).all().bit_count()
    return (" ".join(right), runs) if runs else ("", 0)


def _nearest(word):
    """The word most like this one, of the names and of what people wrote; "" where none is near.

    Looked for among those that begin or go on alike, so that a slip at the end, or at the start, is put right.
    """
    if len(word) < 3:
        return ""
    begin, ends = word[:2], word[-3:]
    holds = HOLDS[connection.vendor]
    sql = " UNION ALL ".join(
        f"SELECT folded FROM {table} WHERE {holds}(folded, %s) > 0 OR {holds}(folded, %s) > 0"
        for table in TABLES.values()
    )
    names = _rows(sql, [f" {begin}", ends] * len(TABLES))
    key = indexing.word_key(begin)
    written = _rows(
        "SELECT word FROM batches_indexword WHERE word >= %s AND word < %s GROUP BY word LIMIT 200",
        [key, key + b"\xff"],
    )
    near = {part for (folded,) in names for part in folded.split()} | {str(one, "utf-8")[1:] for (one,) in written}
    near.discard(word)
    best = max(near, key=lambda other: (folding.likeness(word, other), other), default="")
    return best if best and folding.likeness(word, best) >= ALIKE else ""


# What a run's rows say of it


def bases_of(run):
    """The names of the yarns of a run whose batches and yarns were prefetched, each once, in order."""
    names = dict.fromkeys(yarn.name for batch in run.batches.all() for yarn in batch.yarns.all())
    return list(names)


def skeins_of(run):
    """How many skeins a run holds, of those that were counted; None where nobody counted any."""
    counted = [yarn.skeins for batch in run.batches.all() for yarn in batch.yarns.all() if yarn.skeins]
    return sum(counted) if counted else None


def where_of(run):
    """Where the yarn of a run is, each place once."""
    return list(dict.fromkeys(batch.get_where_display() for batch in run.batches.all()))
