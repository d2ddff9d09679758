"""Which runs answer a question: words, all of them wanted, and filters.

Names are looked for in the tables that hold them, so a new name counts at once; which runs those lead to, and the words
people wrote, stand in the index (`batches.indexing`). Its sets are rows of bits, so what is in all of them is one AND,
however many runs there are. The SQL is written out: a page of twenty thousand runs takes about as long as the library
needs to build one query.
"""

from dataclasses import dataclass
from datetime import date
from functools import reduce
from operator import and_, or_
from typing import NamedTuple

from django.db import connection

from studio import folding

from . import bits, indexing

PAGE = 12
MOST_WORDS = 8
# How each database asks whether a text holds another one. Both take it as it stands: no sign in it means anything.
HOLDS = {"sqlite": "instr", "postgresql": "strpos"}
TABLES = {  # where the names of things are, in the order in which they are shown
    "colourway": "recipes_colourway",
    "base": "studio_base",
    "dye": "studio_dye",
    "solution": "studio_solution",
    "assistant": "studio_assistant",
}
KEYS = "SELECT run_id FROM batches_indexcard WHERE place IN ({}) ORDER BY day DESC, run_id DESC LIMIT {:d}"
FEW = 48  # up to so many runs the database sorts them; more are met soon by going through the years


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


def look_up(question, *, before=None, number=PAGE):
    """Which runs answer: (the `Sets`, the runs as a set, the keys of the first so many, runs the index is behind)."""
    words = [Word(text) for text in question.words]
    named, behind = look(question, words)
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


def ask(sql, values=None):
    """The rows of a query that is written out."""
    with connection.cursor() as cursor:
        cursor.execute(sql, values or None)
        return cursor.fetchall()


def look(question, words):
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
        has = " OR ".join([holds("folded")] * len(said))
        sql.append(f"SELECT '{kind}', id, folded, FALSE, NULL FROM {table} WHERE {has}")
        values += [word.within for word in said]
    (_, lots, _, marked, lots_there), *rows = ask(" UNION ALL ".join(sql), values)
    named = [Named._make(row[:3]) for row in rows]
    for word in said:
        of_it = (one for one in named if word.within in one.folded)
        word.named = [indexing.thing_key(one.kind, one.key) for one in of_it]
    behind = indexing.catch_up() if marked or lots != (lots_there or 0) else 0
    return named, behind


def holds(column):
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
            sql = f"SELECT year, days, runs, places FROM batches_indexyear WHERE year IN ({listed(wanted)})"
            self.years |= {row[0]: bits.Year(*row) for row in ask(sql)}

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


def listed(numbers):
    """Whole numbers of our own for an IN. Written out, since each place to fill in costs more than its number."""
    return ", ".join(str(int(number)) for number in numbers)


def _entries(keys, reaches):
    """{entry: (runs, lots)}, packed, of these entries of the index, and of all from one to another of each reach."""
    some = ", ".join(["%s"] * len(keys))
    asked = [f"word IN ({some})"] if keys else []
    asked += ["word >= %s AND word < %s"] * len(reaches)
    values = [*keys] + [edge for reach in reaches for edge in reach]
    sql = " UNION ALL ".join(f"SELECT word, runs, lots FROM batches_indexword WHERE {one}" for one in asked)
    return {bytes(word): (runs, lots) for word, runs, lots in ask(sql, values)} if sql else {}


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
        return [key for (key,) in ask(KEYS.format(listed(bits.places(few)), number))]
    sets.read_years([year for year, _ in near])
    taken = []
    for year, these in near:
        taken += sets.years[year].take(these, number - len(taken), before)
    return taken
