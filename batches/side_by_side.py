"""A colourway's batches side by side: which are chosen, and what the record of each says of itself.

What differs among them is decided in `closeness`. A fixed number of queries, however many batches.
"""

from collections import defaultdict
from dataclasses import dataclass, field
from decimal import Decimal

from django.db.models import Count, OuterRef, Subquery
from django.urls import reverse

from recipes import dyeing
from recipes.models import Method, RecipeStep
from studio import units, writing
from studio.colourbar import Segment
from studio.models import Content, Lot, Tool
from studio.naming import lot_number
from studio.units import NO_BREAK_SPACE

from . import depth, judging
from .closeness import Row, Value, by_distance, by_ratio, compare
from .models import Addition, Batch, BatchYarn, Entry, PhotoTaken, Run, State, Verdict
from .record import outcome_of, standing_of
from .wording import amount_of, minutes

MOST = 4
RUNS_OFFERED = 24
DYED = [State.RUNNING, State.FINISHED]

# What no tool of a studio tells apart. A jug is marked so; a kitchen or probe thermometer, a strip, and a hand that
# looks at the clock: common practice, no source.
WATER_STEP_ML = Decimal(100)
TEMPERATURE_STEP_C = Decimal(2)
PH_STEP = Decimal("0.3")
TIME_STEP_MIN = Decimal(2)

TIMES = {
    RecipeStep.Kind.SOAK: "Soak",
    RecipeStep.Kind.SCOUR: "Scour",
    RecipeStep.Kind.MORDANT: "Mordant",
    RecipeStep.Kind.STRIP: "Colour removal",
    RecipeStep.Kind.HEAT: "Heating",
    RecipeStep.Kind.HOLD: "Hold",
    RecipeStep.Kind.COOL: "Cooling",
}
IN_ORDER = (RecipeStep.Kind.MORDANT, RecipeStep.Kind.HEAT, RecipeStep.Kind.HOLD, RecipeStep.Kind.COOL)


# Which are chosen


@dataclass
class Offered:
    """A run with its pots, as ticks."""

    run: Run
    pots: list
    verdict: str = ""


def candidates(colourway):
    """The pots of the newest runs of a colourway, newest first, with what each was judged to be. Two queries."""
    runs = Run.objects.filter(colourway=colourway, state__in=DYED).newest_first().values("pk")[:RUNS_OFFERED]
    newest = _judged(Batch.objects.filter(run__in=list(runs.values_list("pk", flat=True))))
    return list(newest.order_by("-run__day", "-run", "number"))


def _judged(batches):
    said = Entry.objects.standing().filter(kind=Entry.Kind.FINISH, batch=OuterRef("pk")).exclude(finish__verdict="")
    said = said.order_by("-at", "-received_at", "-pk").values("finish__verdict")[:1]
    shown = batches.filter(state__in=DYED).annotate(verdict=Subquery(said))
    return shown.select_related("run__colourway", "vessel", "recipe")


def to_match(colourway, pots):
    """The newest pot that was judged the colour to match; else one as good, one of the standard version, the newest."""
    best = _judged(Batch.objects.filter(run__colourway=colourway)).filter(verdict=Verdict.STANDARD)
    found = best.order_by("-run__day", "-run", "number").first()
    by_worth = (
        lambda pot: pot.verdict == Verdict.AS_GOOD,
        lambda pot: pot.recipe_id is not None and pot.recipe_id == colourway.standard_id,
        lambda pot: True,
    )
    finished = [pot for pot in pots if pot.state == State.FINISHED] or pots
    return found or next((pot for fits in by_worth for pot in finished if fits(pot)), None)


def choose(colourway, keys):
    """(the pots to compare, all that are offered, whether more were asked for than fit).

    With no key the one to match and the newest; with one, the one to match beside it. What was judged the colour to
    match stands first, the others in the order of their days.
    """
    offered = candidates(colourway)
    match = to_match(colourway, offered)
    known = {pot.pk: pot for pot in offered} | ({match.pk: match} if match else {})
    missing = [key for key in keys if key not in known]
    if missing:
        older = _judged(Batch.objects.filter(pk__in=missing, run__colourway=colourway))
        known |= {pot.pk: pot for pot in older}
    asked = [known[key] for key in dict.fromkeys(keys) if key in known]
    chosen = asked[:MOST]
    if len(chosen) < 2 and match is not None:
        apart = [pot for pot in offered if pot.run_id != match.run_id]
        done = [pot for pot in apart if pot.state == State.FINISHED]  # before those still in the pot
        others = [match, *done, *apart, *offered]
        chosen += [pot for pot in dict.fromkeys(others) if pot not in chosen][: 2 - len(chosen)]
    chosen.sort(key=lambda pot: (pot.verdict != Verdict.STANDARD, pot.run.day, pot.run_id, pot.number))
    shown = offered + [pot for pot in chosen if pot not in offered]
    return chosen, offers_of(shown, chosen), len(asked) > MOST


def offers_of(pots, chosen):
    """[Offered] of these pots, by their runs, each pot with `chosen`."""
    runs = {}
    for pot in pots:
        pot.chosen = pot in chosen
        offered = runs.setdefault(pot.run_id, Offered(pot.run, []))
        offered.pots.append(pot)
        offered.verdict = offered.verdict or (Verdict(pot.verdict).label if pot.verdict else "")
    return list(runs.values())


# What the record of each says


@dataclass
class Part:
    """One substance as it went into one pot: how much of it, how much the tools can't tell, which lots it was of."""

    grams: Decimal = Decimal(0)
    step: Decimal = Decimal(0)
    unweighed: bool = False
    by_measure: bool = False
    lots: dict = field(default_factory=dict)  # {lot key: amount}


@dataclass
class Column:
    """A pot with its record."""

    batch: Batch
    entries: list
    depth: depth.Depth
    yarns: list
    parts: dict = field(default_factory=dict)  # {Dye or Assistant: Part}
    photo: object = None  # a PhotoTaken
    in_photo: int = 1  # how many pots the picture shows
    segments: list = field(default_factory=list)

    @property
    def run(self):
        return self.batch.run

    @property
    def outcome(self):
        return outcome_of(self.entries)

    @property
    def name(self):
        return f"{self.run.code}, {self.batch.pot_name}" if self.batch.of_several else self.run.code

    @property
    def fibre_g(self):
        return self.batch.fibre_g

    def additions(self):
        return [entry.addition for entry in self.entries if entry.kind == Entry.Kind.ADDITION]

    def readings(self):
        return [entry.reading for entry in self.entries if entry.kind == Entry.Kind.READING]

    def steps(self, *kinds):
        return [entry.step for entry in self.entries if entry.kind == Entry.Kind.STEP and entry.step.kind in kinds]

    def water(self):
        """(mL, whether as logged, whether some was not measured); mL None where nobody said."""
        poured = [one.amount for one in self.additions() if one.other == Addition.Other.WATER]
        known = [amount for amount in poured if amount is not None]
        if known:
            return sum(known, Decimal(0)), True, len(known) < len(poured)
        return self.batch.water_ml, False, False


def side_by_side(batches):
    """([Column], Compared) of two to four pots, which came from `choose`."""
    columns = columns_of(batches)
    lots = lots_of(columns)
    for column in columns:
        column.segments = segments_of(column, lots)
    return columns, compare(rows_of(columns, lots))


def columns_of(batches):
    entries, fed, depths = entries_of(batches), depth.fed_of_batches(batches), depth.depths_of(batches)
    yarns = defaultdict(list)
    for yarn in BatchYarn.objects.named().filter(batch__in=batches).order_by("batch", "position"):
        yarns[yarn.batch_id].append(yarn)
    counted = Batch.objects.filter(run__in={batch.run_id for batch in batches}).order_by().values_list("run")
    pots = dict(counted.annotate(pots=Count("pk")))
    columns = []
    for batch in batches:
        batch.of_several = pots[batch.run_id] > 1
        columns.append(Column(batch, entries[batch.pk], depths[batch.pk], yarns[batch.pk]))
    tools, held = list(Tool.objects.filter(retired=False)), assistants_in(columns)
    for column in columns:
        column.parts = parts_of(column, fed.get(column.batch.pk, []), tools, held)
    show_photos(columns)
    return columns


def entries_of(batches):
    """{batch key: its standing entries in order}."""
    rows = Entry.objects.filter(batch__in=batches).with_struck().in_order().with_details()
    by_key, found = {batch.pk: batch for batch in batches}, {batch.pk: [] for batch in batches}
    for entry in standing_of(rows):
        entry.batch = by_key[entry.batch_id]
        found[entry.batch_id].append(entry)
    return found


def assistants_in(columns):
    """{bottle key: assistants in it} of the bottles that something unmeasured came out of."""
    bottles = {one.lot_id for column in columns for one in column.additions() if not one.parts.all()} - {None}
    found = defaultdict(list)
    contents = Content.objects.filter(lot__in=bottles, source__assistant__isnull=False)
    for content in contents.select_related("source__assistant"):
        found[content.lot_id].append(content.source.assistant)
    return found


def parts_of(column, fed, tools, held):
    """{Dye or Assistant: Part} of what went into a pot. `fed`: its dyes, for what of them is not known."""
    found = defaultdict(Part)
    for addition in column.additions():
        pieces = list(addition.parts.all())
        for piece in pieces:
            part = found[piece.lot.substance]
            part.grams += piece.amount
            part.step += untold(addition, piece, tools)
            part.by_measure |= addition.by_measure and piece.share_out_id is None
            part.lots[piece.lot_id] = part.lots.get(piece.lot_id, 0) + piece.amount
        if not pieces and addition.lot_id:
            of_it = [addition.lot.assistant] if addition.lot.assistant_id else held.get(addition.lot_id, [])
            for assistant in of_it:
                found[assistant].unweighed = True
            if addition.lot.substance in {*of_it, addition.lot.dye}:
                found[addition.lot.substance].lots.setdefault(addition.lot_id, Decimal(0))  # which it was is known
    for one in fed:
        found[one.dye].unweighed = one.unweighed
    return dict(found)


def untold(addition, piece, tools):
    """How much of a bought lot the tools can't tell in one addition, or twice what a measure may be off."""
    if addition.amount is None:  # a weigh-in's share
        return piece.amount * Decimal("0.1")
    if addition.by_measure:
        return piece.amount * Decimal("0.1") if addition.spread_g is None else 2 * Decimal(addition.spread_g)
    if not addition.amount:
        return Decimal(0)
    return Tool.step_for(addition.amount, addition.unit, tools) * piece.amount / addition.amount


def segments_of(column, lots):
    """The colour bar in % of the yarn's weight, so that the bars of all stand on one scale."""
    found = []
    for dye, part in dyes_first(column.parts):
        share = share_of(column, part, lots)
        amount = units.write_pct(depth.readable(share)) if share else ""
        found.append(Segment(dye.name, dye.colour, share or None, unweighed=not share, amount=amount))
    return found


def share_of(column, part, lots):
    """Its depth [% owf] at the studio's standard strength; None where the weight of the yarn is not known."""
    if not column.fibre_g:
        return None
    grams = [dyeing.at_standard_strength(amount, lots[key].strength_now or 100) for key, amount in part.lots.items()]
    return sum(grams, Decimal(0)) * 100 / column.fibre_g


def dyes_first(parts):
    return sorted(
        ((one, part) for one, part in parts.items() if is_dye(one)), key=lambda pair: (-pair[1].grams, pair[0].pk)
    )


def is_dye(substance):
    return hasattr(substance, "dye_class")


def show_photos(columns):
    """The newest dry photo of each pot. A wet one is darker than the yarn will ever be again, so it is never shown."""
    for column in columns:
        dry = [entry.photo for entry in column.entries if entry.kind == Entry.Kind.PHOTO]
        dry = [photo for photo in dry if photo.stage == PhotoTaken.Stage.DRY]
        column.photo = dry[-1] if dry else None
    pictures = {column.photo.picture_id for column in columns if column.photo}
    shown = PhotoTaken.objects.standing().filter(picture__in=pictures).order_by().values_list("picture")
    counts = dict(shown.annotate(pots=Count("entry__batch", distinct=True)))
    for column in columns:
        column.in_photo = counts.get(column.photo.picture_id, 1) if column.photo else 0


def lots_of(columns):
    """{lot key: Lot with what is known of it by now}."""
    keys = {key for column in columns for part in column.parts.values() for key in part.lots}
    keys |= {yarn.lot_id for column in columns for yarn in column.yarns if yarn.lot_id}
    return Lot.objects.named().with_facts().in_bulk(keys)


# The rows


def rows_of(columns, lots):
    substances = list(dict.fromkeys(one for column in columns for one, _ in dyes_first(column.parts)))
    others = list(dict.fromkeys(one for column in columns for one in column.parts if not is_dye(one)))
    rows = [dye_row(columns, dye, lots) for dye in substances]
    rows += [Row("Dye in all", [depth_value(column) for column in columns], say=by_ratio)]
    rows += [lots_row(columns, dye, lots, f"Lot of {dye.name}") for dye in substances]
    rows += yarn_rows(columns, lots)
    rows += [assistant_row(columns, one) for one in others]
    rows += words_rows(columns)
    rows += bath_rows(columns)
    rows += [time_row(columns, kind, name) for kind, name in TIMES.items()]
    rows += [Row("In order", [Value(order_words(column)) for column in columns])]
    rows += [
        Row("Bleeding", [Value(BLED[judging.bleeds(column.entries)]) for column in columns]),
        Row("Version", [version_value(column) for column in columns]),
        Row("How", [Value(Method(column.run.method).label) for column in columns]),
        Row("Vessel", [Value(column.batch.vessel.name if column.batch.vessel_id else "") for column in columns]),
        Row("Yarn in the pot", [weight_value(column) for column in columns], say=by_ratio),
        Row("Set apart", [Value(column.batch.label) for column in columns]),
    ]
    return rows


BLED = {True: "bleeds", False: "does not bleed", None: ""}


def dye_row(columns, dye, lots):
    return Row(dye.name, [dye_value(column, dye, lots) for column in columns], dye.colour, by_ratio)


def dye_value(column, dye, lots):
    """Its depth at the studio's standard strength, with what was weighed of it."""
    part = column.parts.get(dye)
    if part is None:
        return Value("none", Decimal(0), unsure=column.depth.carry_over)
    if part.unweighed and not part.grams:
        return Value("not weighed", Decimal(0), at_least=True)
    share = share_of(column, part, lots)
    if share is None:
        return Value()
    hedge = " ".join(word for word, holds in (("at least", part.unweighed), ("about", part.by_measure)) if holds)
    strengths = {lots[key].strength_now for key in part.lots} - {None, 100}
    weaker = f" of {units.write_pct(strengths.pop(), 4)} strength" if len(strengths) == len(part.lots) == 1 else ""
    return Value(
        f"{hedge} {depth_words(share)}".strip(),
        share,
        step=part.step * 100 / column.fibre_g,
        at_least=part.unweighed,
        unsure=column.depth.carry_over or column.depth.shared,
        sub=f"{amount_of(depth.readable(part.grams), 'g')}{weaker}",
    )


def depth_words(share):
    return f"{units.write_pct(depth.readable(share))}{NO_BREAK_SPACE}owf"


def depth_value(column):
    found = column.depth
    if found.pct is None:
        return Value()
    if found.at_least and not found.dye_g:
        return Value("not weighed", Decimal(0), at_least=True)
    words = found.words
    joined = f"{words}{',' if words and words != found.hedge else ''} {depth_words(found.pct)}".strip()
    step = sum((part.step for one, part in column.parts.items() if is_dye(one)), Decimal(0))
    return Value(
        joined,
        found.pct,
        step=step * 100 / found.fibre_g,
        at_least=found.at_least,
        unsure=found.carry_over or found.shared,
        sub=amount_of(depth.readable(found.dye_g), "g"),
    )


def lots_row(columns, substance, lots, name):
    values = []
    for column in columns:
        part = column.parts.get(substance)
        if part is None:
            values.append(Value("none went in", left_out=True))
            continue
        values.append(Value("; ".join(sorted(lot_words(lots[key]) for key in part.lots))))
    return Row(name, values, substance.colour)


def lot_words(lot):
    """ "lot T-2209, 85 %, duller": which one, what its strength is known to be by now, and how its hue is off."""
    said = [lot_number(lot) or f"came {writing.day(lot.came_at)}"]
    if lot.strength_now is not None and lot.strength_now != 100:
        said.append(f"{units.write_pct(lot.strength_now, 4)} strong")
    if lot.hue_now:
        said.append(lot.hue_now)
    return ", ".join(said)


def yarn_rows(columns, lots):
    bases, numbers = [], []
    for column in columns:
        bases.append(Value(", ".join(dict.fromkeys(yarn.name for yarn in column.yarns))))
        known = [lot_words(lots[yarn.lot_id]) for yarn in column.yarns if yarn.lot_id]
        numbers.append(Value("; ".join(dict.fromkeys(known))))
    return [Row("Base", bases), Row("Yarn lot", numbers)]


def weight_value(column):
    skeins = [yarn.skeins for yarn in column.yarns]
    counted = units.write_count(sum(skeins), "skein") if skeins and None not in skeins else ""
    if not column.fibre_g:
        return Value(counted)
    return Value(amount_of(column.fibre_g, "g"), column.fibre_g, step=Decimal(1), sub=counted)


def assistant_row(columns, assistant):
    """Compared by the litre where every bath is known, as an acid works in its bath; else by the yarn's weight."""
    by_litre = all(column.water()[0] for column in columns)
    values = []
    for column in columns:
        part = column.parts.get(assistant)
        over = column.water()[0] / 1000 if by_litre else column.fibre_g and column.fibre_g / 100
        if part is None:
            values.append(Value("none", Decimal(0)))
        elif part.unweighed and not part.grams:
            values.append(Value("not measured", Decimal(0), at_least=True))
        elif not over:
            values.append(Value(amount_of(part.grams, assistant.unit)))
        else:
            each = f"{units.write_number(part.grams / over, digits=3)}{NO_BREAK_SPACE}{assistant.unit}"
            hedge = "at least " if part.unweighed else "about " if part.by_measure else ""
            values.append(
                Value(
                    f"{hedge}{each}{'/L' if by_litre else ' for each 100 g'}",
                    part.grams / over,
                    step=part.step / over,
                    at_least=part.unweighed,
                    sub=amount_of(depth.readable(part.grams), assistant.unit),
                )
            )
    return Row(assistant.name, values, say=by_ratio)


def words_rows(columns):
    """What went in with no lot behind it, in somebody's words."""
    names = dict.fromkeys(
        one.what for column in columns for one in column.additions() if one.other == Addition.Other.WORDS
    )
    rows = []
    for name in names:
        values = []
        for column in columns:
            said = [one for one in column.additions() if one.other == Addition.Other.WORDS and one.what == name]
            known = [one.amount for one in said if one.amount is not None]
            if not said:
                values.append(Value("none", Decimal(0)))
            elif not known:
                values.append(Value("not measured", Decimal(0), at_least=True))
            else:
                total = sum(known, Decimal(0))
                values.append(Value(amount_of(total, said[0].unit), total, at_least=len(known) < len(said)))
        rows.append(Row(name, values, say=by_ratio))
    return rows


def bath_rows(columns):
    by_yarn = all(column.fibre_g for column in columns)
    degrees = by_distance("°C", "hotter", "cooler")
    return [
        Row(
            "Water to yarn" if by_yarn else "Water", [water_value(column, by_yarn) for column in columns], say=by_ratio
        ),
        Row("pH", [ph_value(column) for column in columns], say=by_distance("", "higher", "lower")),
        Row(
            "Hottest",
            [heat_value(column) for column in columns],
            say=degrees if writing.current().system == "metric" else None,
        ),
    ]


def water_value(column, by_yarn):
    """The bath for each g of yarn, or the bath itself where the weight of some yarn is not known."""
    ml, logged, more = column.water()
    if ml is None:
        return Value()
    hedge = "at least " if more else ""
    said = amount_of(ml, "mL") if logged else f"{amount_of(ml, 'mL')} as planned"
    if not by_yarn:
        return Value(f"{hedge}{said}", ml, WATER_STEP_ML, at_least=more)
    ratio = ml / column.fibre_g
    words = f"{hedge}{units.write_number(ratio, digits=3)}:1"
    return Value(words, ratio, WATER_STEP_ML / column.fibre_g, at_least=more, sub=said)


def ph_value(column):
    """All that was read, in order; compared by the last, when the colour had gone on."""
    read = [reading.ph for reading in column.readings() if reading.ph is not None]
    if not read:
        return Value()
    said = [units.write_number(ph) for ph in read]
    shown = said if len(said) < 5 else [said[0], "…", *said[-2:]]
    return Value(", then ".join(shown), read[-1], PH_STEP)


def heat_value(column):
    """The hottest that was read; where nothing was, what a step of the log says it was heated to."""
    system = writing.current().system
    read = [reading.temperature_c for reading in column.readings() if reading.temperature_c is not None]
    if read:
        return Value(units.write_c(max(read), system), max(read), TEMPERATURE_STEP_C)
    said = [step.temperature_c for step in column.steps(*TIMES) if step.temperature_c is not None]
    if not said:
        return Value()
    return Value(units.write_c(max(said), system), max(said), TEMPERATURE_STEP_C, sub="by the step, not read")


def time_row(columns, kind, name):
    return Row(name, [time_value(column, kind) for column in columns], say=longer_or_shorter)


def longer_or_shorter(now, first):
    return f"{minutes(abs(now - first))} {'longer' if now > first else 'shorter'}"


def time_value(column, kind):
    done = column.steps(kind)
    known = [step.minutes for step in done if step.minutes is not None]
    if not done:
        return Value()
    if not known:
        return Value("done, not timed", at_least=True)
    total, more = sum(known, Decimal(0)), len(known) < len(done)
    sub = f"{len(known)} times" if len(known) > 1 else ""
    return Value(f"{'at least ' if more else ''}{minutes(total)}", total, TIME_STEP_MIN, at_least=more, sub=sub)


def what_it_was(addition):
    """The dyes that it brought in, else the assistants, from whatever bottle; else what it was called."""
    brought = {part.lot.substance for part in addition.parts.all()}
    names = sorted(str(one) for one in ({one for one in brought if is_dye(one)} or brought))
    return " and ".join(names) or addition.name


def order_words(column):
    """What went in and how it was heated, in order, each once in a row: "Ochre, Rust, heat, Citric acid"."""
    said = []
    for entry in column.entries:
        word = ""
        if entry.kind == Entry.Kind.ADDITION and entry.addition.other != Addition.Other.WATER:
            word = what_it_was(entry.addition)
        elif entry.kind == Entry.Kind.STEP and entry.step.kind in IN_ORDER:
            word = RecipeStep.Kind(entry.step.kind).label.lower()
        if word and said[-1:] != [word]:
            said.append(word)
    return ", ".join(said)


def version_value(column):
    recipe = column.batch.recipe
    if recipe is None:
        return Value("no recipe")
    return Value(f"version {recipe.number}", address=reverse("recipes:recipe", args=[recipe.pk]))
