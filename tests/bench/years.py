"""A studio of many years, written in bulk: only finding in it is measured, so its rows skip the verbs.

Names and notes are put together from short lists and a made-up vocabulary in which a few words are common and most are
rare, as in real notes. Everything comes out the same each time.
"""

import random
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from itertools import accumulate
from uuid import UUID

from django.db import connection
from django.utils import timezone

from batches.models import (
    Addition,
    AdditionLot,
    Batch,
    BatchYarn,
    Entry,
    Finish,
    Output,
    Run,
    StepDone,
    Strike,
)
from recipes.models import Colourway, Method, Recipe
from studio.models import Base, BaseFibre, Content, Dye, Lot, Movement, Solution


def listed(text):
    return text.split()


FIRST = date(2014, 1, 6)
DAYS = 4300
CHUNK = 1000
TONES = listed("Low High Pale Late Dim Slow Wet Far Old Thin Deep Still Grey Salt Cold Half Long Last Dry New")
PLACES = listed(
    "Tide Field Kiln Door Lamp Lane Moss Barn Rain Ferry Slate Fen Hedge Chalk Weir Quern Loft Marsh Gate Ember"
)
YARNS = listed("Sparrow Wren Tessel Plover Dunlin Siskin Linnet Pipit Rook Swift")
WEIGHTS = ("4-ply", "DK", "Lace")
COLOURS = listed(
    "Rust Ochre Brick Soot Teal Plum Straw Moss Cobalt Rose Grün Flame Ink Sand Clay Fern Wine Slate Honey Ash"
)
COMMON = listed(
    "the and bath slow even heat rinse clear water again skein too pale deep split twist spot dry drip warm edge "
    "blue green red grey vinegar speckle"
)
SYLLABLES = listed("ba ke mo lu ri sa te vo ny dra fle gri sho tur wen pil kas ond")
FIBRES = (("wool", 75), ("nylon", 25)), (("wool", 100),), (("silk", 50), ("wool", 50)), (("cotton", 100),)
VERDICTS = ("standard", "as_good", "sell", "never", "")


class Notes:
    """Words as people use them: the common ones often, 3,000 others seldom."""

    def __init__(self, chance):
        self.chance = chance
        made = {"".join(chance.choices(SYLLABLES, k=chance.choice((2, 3)))) for _ in range(6000)}
        self.words = COMMON + sorted(made)[:3000]
        self.weights = list(accumulate(1 / (place + 3) for place in range(len(self.words))))

    def line(self, number):
        return " ".join(self.chance.choices(self.words, cum_weights=self.weights, k=number)).capitalize()


def make(by, number=20_000):
    """So many finished runs over twelve years, with all that they lead to, and not yet in the index."""
    chance = random.Random(118)
    notes = Notes(chance)
    shelf = _shelf(by, chance, notes)
    for begin in range(0, number, CHUNK):
        _runs(by, chance, shelf, notes, begin, min(CHUNK, number - begin), number)
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")


def _noon(day):
    return timezone.make_aware(datetime.combine(day, time(12)))


def _shelf(by, chance, notes):
    noon = _noon(FIRST)
    bases = Base.objects.bulk_create(
        Base(name=f"{yarn} {weight}", skein_m=Decimal(400)) for yarn in YARNS for weight in WEIGHTS
    )
    BaseFibre.objects.bulk_create(
        BaseFibre(base=base, position=position, fibre=fibre, percent=Decimal(percent))
        for place, base in enumerate(bases)
        for position, (fibre, percent) in enumerate(FIBRES[place % len(FIBRES)], 1)
    )
    dyes = Dye.objects.bulk_create(
        Dye(name=f"{colour}{more}", colour=f"#{chance.randrange(16**6):06x}", dye_class="acid_milling")
        for colour in COLOURS
        for more in ("", " fast", " 2G")
    )
    solutions = Solution.objects.bulk_create(
        Solution(name=f"{dye.name}, {strength} %") for dye in dyes for strength in (1, 2)
    )
    ways = Colourway.objects.bulk_create(
        Colourway(name=f"{tone} {place}", made_at=noon, by=by, story=f"After a {place.lower()} in {tone.lower()} light")
        for tone in TONES
        for place in PLACES
    )
    Recipe.objects.bulk_create(
        Recipe(
            colourway=way,
            number=number,
            fibre_g=Decimal(100),
            made_at=noon,
            by=by,
            note=notes.line(8) if number == 1 else "",
        )
        for way in ways
        for number in (1, 2)
    )
    said = {"received": Decimal(10_000), "came_at": noon, "recorded_at": noon, "by": by}
    yarn = Lot.objects.bulk_create(
        Lot(base=chance.choice(bases), unit="g", skein_g=Decimal(100), number=f"Y-{1000 + n}", **said)
        for n in range(400)
    )
    powder = Lot.objects.bulk_create(
        Lot(dye=dyes[n % len(dyes)], unit="g", strength_pct=Decimal(100), number=f"B-{n:04d}", **said)
        for n in range(300)
    )
    by_dye = {lot.dye_id: lot for lot in powder}
    bottles = Lot.objects.bulk_create(
        Lot(solution=solutions[n % len(solutions)], unit="mL", number=f"{n}", **said) for n in range(800)
    )
    Content.objects.bulk_create(
        Content(lot=lot, source=by_dye[dyes[n % len(solutions) // 2].pk], g_per_100=Decimal(1))
        for n, lot in enumerate(bottles)
    )
    sources = {lot.pk: by_dye[dyes[n % len(solutions) // 2].pk] for n, lot in enumerate(bottles)}
    return {"ways": ways, "yarn": yarn, "powder": powder, "bottles": bottles, "sources": sources}


def _runs(by, chance, shelf, notes, begin, number, of):
    made = []
    for n in range(begin, begin + number):
        day = FIRST + timedelta(days=n * DAYS // of + chance.choice((0, 0, 0, 0, -3, 5)))
        noon = _noon(day)
        made.append(
            Run(
                code=f"{day:%y}-{n:05d}",
                colourway=chance.choice(shelf["ways"]) if n % 9 else None,
                title="" if n % 9 else notes.line(2),
                method=chance.choice(Method.values),
                day=day,
                state="finished",
                made_at=noon,
                by=by,
                started_at=noon,
                finished_at=noon,
                note=notes.line(8) if n % 3 == 0 else "",
            )
        )
    runs = Run.objects.bulk_create(made)
    pots = Batch.objects.bulk_create(
        Batch(
            run=run,
            number=pot + 1,
            fibre_g=Decimal(200),
            state="finished",
            where="stored",
            started_at=run.made_at,
            finished_at=run.made_at,
        )
        for run in runs
        for pot in range(1 + run.pk % 2)
    )
    yarns = BatchYarn.objects.bulk_create(
        _yarn(pot, place, chance.choice(shelf["yarn"])) for pot in pots for place in (1, 2)
    )
    _log(by, chance, shelf, notes, pots, yarns)


def _yarn(pot, place, lot):
    facts = {"skeins": 2, "grams": Decimal(200), "skein_g": Decimal(100)}
    return BatchYarn(batch=pot, position=place, source="lot", lot=lot, base_id=lot.base_id, **facts)


def _log(by, chance, shelf, notes, pots, yarns):
    """For each pot three additions, a step, two lines of words of which one in eight is struck, and the finish."""
    entries, details = [], {Addition: [], StepDone: [], Strike: [], Finish: []}
    parts, movements = [], []

    def entry(pot, kind, words=""):
        at = pot.started_at + timedelta(minutes=len(entries) % 400)
        entries.append(
            Entry(
                id=UUID(int=chance.getrandbits(128), version=4),
                batch=pot,
                kind=kind,
                happened_at=at,
                received_at=at,
                at=at,
                by=by,
                sent_by=by,
                words=words,
            )
        )
        return entries[-1]

    for pot in pots:
        for bottle in (True, True, False):
            lot = chance.choice(shelf["bottles" if bottle else "powder"])
            one = entry(pot, "addition")
            amount = Decimal(chance.randrange(5, 60)) if bottle else Decimal(chance.randrange(1, 9)) / 4
            movements.append(Movement(lot=lot, kind="used", amount=-amount, at=one.at, recorded_at=one.at, by=by))
            details[Addition].append(
                Addition(entry=one, lot=lot, amount=amount, unit=lot.unit, how="bottle" if bottle else "sprinkled")
            )
            source = shelf["sources"].get(lot.pk, lot)
            parts.append((one.pk, source.pk, amount / 100 if bottle else amount))
        details[StepDone].append(StepDone(entry=entry(pot, "step"), kind="heat"))
        entry(pot, "words", notes.line(9))
        said = entry(pot, "words", notes.line(6))
        if chance.random() < 1 / 8:
            details[Strike].append(Strike(entry=entry(pot, "strike"), target=said.pk))
        details[Finish].append(
            Finish(
                entry=entry(pot, "finish"),
                verdict=chance.choice(VERDICTS),
                next_time=notes.line(5),
                snippet=f"Binder {pot.pk % 40}",
            )
        )
    Entry.objects.bulk_create(entries)
    for added, movement in zip(details[Addition], Movement.objects.bulk_create(movements), strict=True):
        added.movement = movement
    for model, rows in details.items():
        model.objects.bulk_create(rows)
    AdditionLot.objects.bulk_create(AdditionLot(addition_id=key, lot_id=lot, amount=g) for key, lot, g in parts)
    finishes = {row.entry.batch_id: row for row in details[Finish]}
    Output.objects.bulk_create(
        Output(finish=finishes[yarn.batch_id], yarn=yarn, grade=chance.choice(("first", "first", "second")), skeins=2)
        for yarn in yarns
    )
