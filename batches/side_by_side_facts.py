"""What the record of each pot says of itself, for a colourway's batches side by side. A fixed number of queries."""

from collections import defaultdict
from dataclasses import dataclass, field
from decimal import Decimal

from django.db.models import Count

from recipes import dyeing, precision
from studio import units
from studio.colourbar import Segment
from studio.models import Content, Lot, Tool

from . import depth
from .models import Addition, Batch, BatchYarn, Entry, PhotoTaken
from .record import standing_of
from .verdicts import outcome_of


@dataclass
class Part:
    """One substance as it went into one pot: how much of it, how much the tools can't tell, which lots it was of."""

    grams: Decimal = Decimal(0)
    step: Decimal = Decimal(0)
    unweighed: bool = False
    about: bool = False
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
            part.about |= addition.about and piece.share_out_id is None
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
        return piece.amount * precision.ROUGH
    if addition.by_measure:
        return piece.amount * precision.ROUGH if addition.spread_g is None else 2 * Decimal(addition.spread_g)
    if not addition.amount:
        return Decimal(0)
    return Tool.step_for(addition.amount, addition.unit, tools) * piece.amount / addition.amount


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


def share_of(column, part, lots):
    """Its depth [% owf] at the studio's standard strength; None where the weight of the yarn is not known."""
    if not column.fibre_g:
        return None
    grams = [dyeing.at_standard_strength(amount, lots[key].strength_now or 100) for key, amount in part.lots.items()]
    return sum(grams, Decimal(0)) * 100 / column.fibre_g


def segments_of(column, lots):
    """The colour bar in % of the yarn's weight, so that the bars of all stand on one scale."""
    found = []
    for dye, part in dyes_first(column.parts):
        share = share_of(column, part, lots)
        amount = units.write_pct(depth.readable(share)) if share else ""
        found.append(Segment(dye.name, dye.colour, share or None, unweighed=not share, amount=amount))
    return found


def dyes_first(parts):
    return sorted(
        ((one, part) for one, part in parts.items() if is_dye(one)), key=lambda pair: (-pair[1].grams, pair[0].pk)
    )


def is_dye(substance):
    return hasattr(substance, "dye_class")
