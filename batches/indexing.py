"""Keeping the journal's index in step with the record: see `batches.models.index` for what is in it.

A verb that changes what a run says leaves a mark (`Stale`), which costs it one row. Whoever looks something up next
brings the marked runs up to date first, so nothing is found late, and nothing at the sink waits for the index.
"""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date

from django.db import connection, transaction

from studio import folding
from studio.models import Content, Lot

from . import bits, depth
from .models import (
    Batch,
    BatchYarn,
    Entry,
    Index,
    IndexCard,
    IndexPart,
    IndexWord,
    IndexYear,
    Output,
    PlanLine,
    Run,
    Stale,
    State,
    Whereabouts,
)

RULES = 1  # count up when what is put in changes: then `manage.py reindex` is due, and `prepare` runs it
AT_ONCE = 40  # runs that one look-up brings up to date; what is left over waits for the next
CHUNK = 500
EVERY_LOT = b"*"
THINGS = {"base": "b", "dye": "d", "assistant": "a", "solution": "s", "colourway": "c"}


# The entries of the index, in UTF-8: a letter for the kind of entry, then what it is.


def word_key(word):
    """Of a whole word."""
    return f"w{word}".encode()


def start_key(start):
    """Of the beginning of words, up to `folding.SHORT` letters."""
    return f"p{start}".encode()


def thing_key(kind, key):
    """Of a base, dye, assistant, bottle or colourway, by its key: its name may change."""
    return f"{THINGS[kind]}{key}".encode()


def method_key(method):
    return f"m{method}".encode()


def verdict_key(verdict):
    return f"v{verdict}".encode()


def year_key(year):
    return f"y{year:04d}".encode()


def keys_of_words(words):
    found = {word_key(word) for word in words}
    return found | {start_key(word[:size]) for word in words for size in range(1, folding.SHORT + 1)}


# What stands in the index for a run


@dataclass
class Card:
    """All that the index holds for one run."""

    day: date
    keys: set = field(default_factory=set)
    lines: list = field(default_factory=list)
    words: set = field(default_factory=set)
    parts: list = field(default_factory=list)  # unsaved IndexParts
    where: str = ""
    skeins: int | None = None
    firsts: int = 0
    seconds: int = 0

    def names(self, kind, *keys):
        self.keys |= {thing_key(kind, key) for key in keys if key is not None}

    def says(self, text, label=""):
        """Something a person wrote: each of its lines can be found, and shown."""
        for line in text.splitlines():
            if line := line.strip():
                self.words |= folding.words_of(line)
                self.lines.append(f"{label}{line}")

    def kept(self):
        """The columns of its IndexCard, but for its place."""
        lines = "\n".join(self.lines)
        return {
            "day": self.day,
            "words": b"\n".join(sorted(self.keys | keys_of_words(self.words))).decode(),
            "lines": lines,
            "folded": "\n".join(folding.fold(line) for line in self.lines),
            "whereabouts": self.where,
            "skeins": self.skeins,
            "firsts": self.firsts,
            "seconds": self.seconds,
        }


def cards_of(keys):
    """{run key: Card} of these runs, by the record as it stands. A fixed number of queries."""
    cards = {}
    for row in Run.objects.filter(pk__in=keys).order_by("pk").values():
        cards[row["id"]] = card = Card(row["day"])
        card.keys |= {year_key(row["day"].year), method_key(row["method"])}
        card.names("colourway", row["colourway_id"])
        card.words |= folding.words_of(f"{row['code']} {row['title']}") | folding.short_codes_of(row["code"])
        card.says(row["note"])
        card.says(row["why_abandoned"], "Given up: ")
    _add_pots(cards)
    _add_yarns(cards)
    _add_lots(cards, _add_log(cards) + _add_plan(cards))
    _add_outcome(cards)
    _add_bars(cards)
    return cards


def _add_pots(cards):
    pots = Batch.objects.filter(run__in=cards).order_by("run", "number")
    places = defaultdict(dict)
    for run, code, state, number, where in pots.values_list("run", "run__code", "run__state", "number", "where"):
        cards[run].words |= folding.words_of(f"{code}-{number}")  # as the dye lot of a tag
        where = "given up" if state == State.ABANDONED else Whereabouts(where).label
        places[run][where] = None
    for run, said in places.items():
        cards[run].where = ", ".join(said)


def _add_yarns(cards):
    yarns = BatchYarn.objects.named().filter(batch__run__in=cards).select_related("batch")
    shown = defaultdict(dict)
    for yarn in yarns.order_by("batch__run", "batch__number", "position"):
        run, base = yarn.batch.run_id, yarn.known_base
        card = cards[run]
        card.names("base", base and base.pk)
        card.words |= folding.words_of(yarn.words)
        if yarn.lot_id:
            card.words |= folding.codes_of(yarn.lot.number)
        if yarn.skeins:
            card.skeins = (card.skeins or 0) + yarn.skeins
        said = yarn.words if base is None or yarn.source == BatchYarn.Source.CUSTOMER else ""
        shown[run][base and base.pk, said] = None
    for run, names in shown.items():
        cards[run].parts += [IndexPart(base_id=base, words=words) for base, words in names]


def _add_log(cards):
    """What standing lines of the log say. Answers the (run, lot) pairs that went in."""
    entries = Entry.objects.standing().filter(batch__run__in=cards).in_order()
    columns = ("words", "addition__what", "addition__place", "check_made__standard")
    finished = ("finish__next_time", "finish__snippet", "finish__why_off")
    verdicts, lots = {}, []
    rows = entries.values_list("batch__run", "addition__lot", "finish__verdict", *columns, *finished)
    for run, lot, verdict, words, what, place, standard, next_time, snippet, why_off in rows:
        card = cards[run]
        for text in (words, what, place, standard):
            card.says(text or "")
        card.says(next_time or "", "Next time: ")
        card.says(snippet or "", "Snippet: ")
        card.says(why_off or "", "Why in and out differ: ")
        if verdict or next_time or snippet:
            verdicts[run] = verdict
        if lot:
            lots.append((run, lot))
    for run, verdict in verdicts.items():
        if verdict:
            cards[run].keys.add(verdict_key(verdict))
    return lots


def _add_plan(cards):
    """The dyes, bottles and other things that were planned. Answers the (run, lot) pairs."""
    lines = PlanLine.objects.filter(batch__run__in=cards)
    rows = lines.values_list("batch__run", "dye", "assistant", "solution", "lot")
    lots = []
    for run, dye, assistant, solution, lot in rows:
        cards[run].names("dye", dye)
        cards[run].names("assistant", assistant)
        cards[run].names("solution", solution)
        if lot:
            lots.append((run, lot))
    return lots


def _add_lots(cards, used):
    """Lots by number and by what they are of; a bottle also by the lots it was made from."""
    keys = {lot for _, lot in used}
    held = defaultdict(set)
    for bottle, source in Content.objects.filter(lot__in=keys, source__isnull=False).values_list("lot", "source"):
        held[bottle].add(source)
    wanted = keys.union(*held.values())
    facts = {lot["id"]: lot for lot in Lot.objects.filter(pk__in=wanted).values("id", "number", *list(THINGS)[1:4])}
    for run, lot in set(used):
        for fact in (facts[key] for key in {lot, *held[lot]}):
            cards[run].words |= folding.codes_of(fact["number"])
            for kind in ("dye", "assistant", "solution"):
                cards[run].names(kind, fact[kind])


def _add_outcome(cards):
    outputs = Output.objects.standing().filter(yarn__batch__run__in=cards).order_by("pk")
    for run, grade, skeins, name in outputs.values_list("yarn__batch__run", "grade", "skeins", "name"):
        card = cards[run]
        card.words |= folding.words_of(name)
        if name and name not in card.lines:
            card.lines.append(name)
        card.firsts += skeins if grade == Output.Grade.FIRST else 0
        card.seconds += skeins if grade == Output.Grade.SECOND else 0


def _add_bars(cards):
    # As it was weighed: a strength that is put right later is no change of the run, and marks nothing.
    for run, fed in depth.fed_of_runs(list(cards), at_standard=False).items():
        cards[run].names("dye", *(one.dye.pk for one in fed))
        cards[run].parts += [IndexPart(dye=one.dye, grams=one.grams, unweighed=one.unweighed) for one in fed]


# Into the tables


def catch_up(most=AT_ONCE):
    """Bring marked runs and new lots up to date, at most so many runs. Answers how many runs are left for later."""
    with transaction.atomic():
        index = _locked()
        marks = dict(Stale.objects.order_by("-pk").values_list("pk", "run"))
        newest = list(dict.fromkeys(marks.values()))[:most]
        if newest:
            _put(index, newest)
            Stale.objects.filter(pk__in=[mark for mark, run in marks.items() if run in set(newest)]).delete()
        _put_lots(index)
        index.save()
    return len(set(marks.values()) - set(newest))


def rebuild():
    """Make the whole index anew. Nothing can be looked up by it until this is done."""
    with transaction.atomic():
        index = _locked()
        for model in (IndexPart, IndexCard, IndexWord, IndexYear, Stale):
            model.objects.all().delete()
        index.rules, index.runs, index.lots = RULES, 0, 0
        _put_all(index)
        _put_lots(index)
        index.save()
        survey([IndexWord, IndexYear, IndexCard, IndexPart])


def survey(models):
    """Let PostgreSQL look over tables that were just filled. Before it has, it plans as for a handful of rows, and some
    pages then take minutes. Of these tables alone: the server's own would be held until the transaction is over.
    """
    if connection.vendor == "postgresql":
        tables = ", ".join(model._meta.db_table for model in models)
        with connection.cursor() as cursor:
            cursor.execute(f"ANALYZE {tables}")


def is_due():
    """Whether the index was made by other rules than today's, or never."""
    made = Index.objects.values_list("rules", flat=True).first()
    return made != RULES and (made is not None or Run.objects.exists())


def _locked():
    return Index.objects.select_for_update().get_or_create(pk=1, defaults={"rules": RULES})[0]


def _put_all(index):
    """All runs by their days, a chunk at a time; the places of each entry are held in memory until all are in."""
    sets, years = defaultdict(list), defaultdict(list)
    keys = list(Run.objects.order_by("day", "pk").values_list("pk", flat=True))
    for start in range(0, len(keys), CHUNK):
        cards = cards_of(keys[start : start + CHUNK])
        rows = []
        for run in keys[start : start + CHUNK]:
            card, place = cards[run], index.runs
            index.runs += 1
            rows.append(IndexCard(run_id=run, place=place, **card.kept()))
            years[card.day.year].append((card.day, run, place))
            for key in rows[-1].entries():
                sets[key].append(place)
        IndexCard.objects.bulk_create(rows)
        _put_parts(cards)
    _write_years({number: (come, ()) for number, come in years.items()})
    _write_words({key: bits.of_places(places) for key, places in sets.items()}, {}, "runs")


def _put(index, runs):
    """Put these few runs in, or in again."""
    cards = cards_of(runs)
    before = IndexCard.objects.in_bulk(list(cards))
    come, gone, rows = defaultdict(int), defaultdict(int), []
    for run, card in sorted(cards.items()):
        old = before.get(run)
        if old is None:
            place, index.runs = index.runs, index.runs + 1
        else:
            place = old.place
        row = IndexCard(run_id=run, place=place, **card.kept())
        was, now = set(old.entries()) if old is not None else set(), set(row.entries())
        for key in now - was:
            come[key] |= 1 << place
        for key in was - now:
            gone[key] |= 1 << place
        rows.append(row)
    _put_days(cards, {row.run_id: row.place for row in rows}, before)
    _write_cards(rows)
    _put_parts(cards)
    _write_words(come, gone, "runs")


def _put_days(cards, places, before):
    """Runs that are new, or were moved to another day, into the order of their years."""
    years = defaultdict(lambda: ([], []))
    for run, card in cards.items():
        old = before.get(run)
        if old is None or old.day != card.day:
            years[card.day.year][0].append((card.day, run, places[run]))
            if old is not None:
                years[old.day.year][1].append(run)
    _write_years(years)


def _write_years(changes):
    """{year: (runs that come, keys of those that go)} into the tables."""
    rows = IndexYear.objects.in_bulk(list(changes))
    written = []
    for number, (come, gone) in changes.items():
        row = rows.get(number)
        year = bits.Year(number, row.days, row.runs, row.places) if row else bits.Year(number)
        year.change(come, gone)
        written.append(IndexYear(year=number, **year.packed()))
    IndexYear.objects.bulk_create(
        written, update_conflicts=True, unique_fields=["year"], update_fields=["days", "runs", "places"]
    )


def _put_lots(index):
    """Lots that came since the last time. A lot never changes, so it is put in once."""
    lots = list(Lot.objects.values_list("pk", "number"))
    if index.lots == len(lots):
        return
    there = bits.unpack(_packed([EVERY_LOT], "lots").get(EVERY_LOT, b""))
    come = defaultdict(int)
    for lot, number in lots:
        if not there >> lot & 1:
            for key in {EVERY_LOT} | keys_of_words(folding.codes_of(number)):
                come[key] |= 1 << lot
    _write_words(come, {}, "lots")
    index.lots = len(lots)


def _write_cards(rows):
    columns = [column.name for column in IndexCard._meta.concrete_fields if not column.primary_key]
    IndexCard.objects.bulk_create(rows, update_conflicts=True, unique_fields=["run"], update_fields=columns)


def _put_parts(cards):
    IndexPart.objects.filter(card__in=cards).delete()
    parts = []
    for run, card in cards.items():
        for position, part in enumerate(card.parts, 1):
            part.card_id, part.position = run, position
            parts.append(part)
    IndexPart.objects.bulk_create(parts, batch_size=CHUNK)


def _packed(keys, column):
    """{entry: packed bits} of these that are there."""
    words, found = sorted(keys), {}
    for start in range(0, len(words), CHUNK):
        rows = IndexWord.objects.filter(word__in=words[start : start + CHUNK]).values_list("word", column)
        found |= {bytes(word): bytes(packed) for word, packed in rows}
    return found


def _write_words(come, gone, column):
    """Put these sets into a column of their entries, and take these out."""
    keys = come.keys() | gone.keys()
    before = _packed(keys, column)
    rows = []
    for key in sorted(keys):
        held = bits.unpack(before.get(key, b"")) & ~gone.get(key, 0) | come.get(key, 0)
        rows.append(IndexWord(word=key, **{column: bits.pack(held)}))
    IndexWord.objects.bulk_create(
        rows, batch_size=CHUNK, update_conflicts=True, unique_fields=["word"], update_fields=[column]
    )


# Whether it agrees with the record


def odd_cards():
    """(card or run, sentence) wherever the index does not say what the record says. Marked runs are not asked."""
    marked = set(Stale.objects.values_list("run", flat=True))
    keys = [key for key in Run.objects.order_by("pk").values_list("pk", flat=True) if key not in marked]
    for start in range(0, len(keys), CHUNK):
        chunk = keys[start : start + CHUNK]
        rows = IndexCard.objects.prefetch_related("parts").in_bulk(chunk)
        for run, card in cards_of(chunk).items():
            if run not in rows:
                yield Run.objects.get(pk=run), "This run is not in the index."
            elif not _agree(rows[run], card):
                yield rows[run], "The index does not say what this run says."
    yield from _odd_words()
    yield from _odd_days()


def _agree(row, card):
    said = [(part.dye_id, part.base_id, part.words, part.grams, part.unweighed) for part in row.parts.all()]
    right = [(part.dye_id, part.base_id, part.words, part.grams, part.unweighed) for part in card.parts]
    kept = card.kept()
    return said == right and {name: getattr(row, name) for name in kept} == kept


def _odd_words():
    """The sets of runs against the cards."""
    wanted, example = defaultdict(list), {}
    for card in IndexCard.objects.iterator(CHUNK):
        for key in card.entries():
            wanted[key].append(card.place)
            example[key] = card
    for row in IndexWord.objects.iterator(CHUNK):
        key = bytes(row.word)
        right = bits.of_places(wanted.pop(key)) if key in wanted else 0
        if right != bits.unpack(row.runs):
            yield row, "It names other runs than those whose cards say so."
    for key in wanted:
        yield example[key], f"Nothing in the index stands under {key.decode()}."


def _odd_days():
    """The orders of the years against the runs, and their places."""
    places = dict(IndexCard.objects.values_list("run", "place"))
    days = dict(Run.objects.filter(pk__in=places).values_list("pk", "day"))
    marked = set(Stale.objects.values_list("run", flat=True))
    for row in IndexYear.objects.all():
        year = bits.Year(row.year, row.days, row.runs, row.places)
        for day, run, place in zip(year.days, year.runs, year.places, strict=True):
            if places.pop(run, None) != place or (days.get(run) != year.day(day) and run not in marked):
                yield row, f"Run {run} stands at another place or day than its own."
    for run in places:
        yield IndexCard.objects.get(run=run), "This run stands in no year."
