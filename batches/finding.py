"""Finding again: one question over runs, and over the colourways, bases, dyes, lots and bottles they were made with.

`batches.lookup` says which runs answer; here they, and the things of that name, become what a page shows.
"""

from dataclasses import dataclass, field, replace
from datetime import date
from uuid import UUID

from django.db import connection

from studio import folding

from . import bits, indexing
from .lookup import HOLDS, PAGE, TABLES, Sets, Word, ask, holds, listed, look, look_up

MOST_THINGS = 6
MOST_LOTS = 3
LONGEST_LINE = 160
ALIKE = 0.5  # from here on a word may have been meant for another
# By kind, what stands for a thing beside its name: the colour bar of its last run, or the colour of its main dye.
LAST_RUNS = "SELECT colourway_id, max(id) FROM batches_run WHERE colourway_id IN ({}) GROUP BY colourway_id"
COLOURS = (
    "SELECT p.solution_id, d.colour FROM studio_solutionpart p JOIN studio_dye d ON d.id = p.dye_id"
    " WHERE p.solution_id IN ({}) ORDER BY p.g_per_100, p.id DESC"
)


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
    has = " AND ".join([holds("folded_more")] * len(words))
    for kind in kinds:
        colour = "colour" if kind == "dye" else "''"
        sql.append(f"SELECT '{kind}', id, name, folded, retired, {colour} FROM {TABLES[kind]} WHERE {has}")
        values += [word.within for word in words]
    if "colourway" in kinds:
        either = f" AND ({holds('r.folded')} OR {holds('c.folded_more')})"
        sql.append(NOTES + either * len(words))
        values += [word.within for word in words for _ in range(2)]
    asked = folding.name(" ".join(word.text for word in words))

    def rank(row):
        kind, _, name, folded, retired, _ = row
        inside = all(word.within in folded for word in words)
        return folded != asked, not inside, retired, kinds.index(kind), name

    once = {}
    for kind, key, name, _, retired, colour in sorted(ask(" UNION ALL ".join(sql), values), key=rank):
        once.setdefault((kind, key), Thing(kind, key, name, colour, retired=bool(retired)))
    return list(once.values())[:MOST_THINGS]


def _lots(sets):
    """The newest few lots whose number has all the words."""
    if not sets.asked or not (fit := sets.lots()):
        return []
    newest = sorted(bits.places(fit), reverse=True)[:MOST_LOTS]
    rows = ask(
        "SELECT l.id, coalesce(b.name, d.name, a.name, s.name), l.number, coalesce(d.colour, '') FROM studio_lot l"
        " LEFT JOIN studio_base b ON b.id = l.base_id LEFT JOIN studio_dye d ON d.id = l.dye_id"
        " LEFT JOIN studio_assistant a ON a.id = l.assistant_id"
        " LEFT JOIN studio_solution s ON s.id = l.solution_id"
        f" WHERE l.id IN ({listed(newest)}) ORDER BY l.id DESC",
        [],
    )
    return [Thing("lot", key, f"{name}, {number}", colour) for key, name, number, colour in rows]


CARD = (
    "SELECT r.id, r.code, coalesce(c.name, r.title), i.day, r.cover_id, p.width, p.height,"
    " i.whereabouts, i.skeins, i.firsts, i.seconds, i.lines, i.folded"
    " FROM batches_indexcard i JOIN batches_run r ON r.id = i.run_id"
    " LEFT JOIN recipes_colourway c ON c.id = r.colourway_id"
    " LEFT JOIN studio_picture p ON p.id = r.cover_id"
    " WHERE i.run_id IN ({}) ORDER BY i.day DESC, i.run_id DESC"
)


def _cards(keys, words):
    """These runs as `Found`, newest first."""
    return [_found(row, words) for row in ask(CARD.format(listed(keys)))] if keys else []


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
    last_runs = dict(ask(LAST_RUNS.format(listed(ways)))) if ways else {}
    colours = dict(ask(COLOURS.format(listed(bottles)))) if bottles else {}
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
    rows = ask(
        "SELECT p.card_id, d.name, d.colour, p.grams, p.unweighed, b.name, p.words FROM batches_indexpart p"
        " LEFT JOIN studio_dye d ON d.id = p.dye_id LEFT JOIN studio_base b ON b.id = p.base_id"
        f" WHERE p.card_id IN ({listed(keys)}) ORDER BY p.card_id, p.position",
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
    runs = Sets(meant, words, look(meant, words)[0]).all().bit_count()
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
    names = ask(sql, [f" {begin}", ends] * len(TABLES))
    key = indexing.word_key(begin)
    written = ask(
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
