"""From the records of a run to its frozen cost sheet."""

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.db.models import Max, Q, Sum
from django.utils import timezone

from studio.models import Lot, Studio
from studio.money import from_minor, minor_units, to_minor
from studio.units import write_count

from . import costing
from .costing import Made, Rate, Use
from .depth import BY_MEASURE
from .models import (
    Addition,
    AdditionLot,
    BatchYarn,
    CostLine,
    CostShare,
    CostSheet,
    Entry,
    Output,
    Run,
    Work,
)

BEARS_COST = [Entry.Kind.ADDITION, Entry.Kind.WORK, Entry.Kind.FINISH, Entry.Kind.STRIKE]
MOST_MINOR = 10**14  # beyond it no total is a price that anybody paid
USUAL_SKEIN_G = Decimal(100)  # only shares the cost, where nobody knows what a skein weighs


class NothingMade(ValueError):
    """A run that has no outputs yet has no skein to bear its cost."""


def worked_out(run, studio=None):
    """(costing.Sheet, {output key: Output}) of a run with today's prices; nothing is stored.

    Raises NothingMade before anything came out.
    """
    studio = studio or Studio.get()
    named = Output.objects.standing().select_related("yarn__base", "yarn__lot__base", "yarn__output__yarn__lot__base")
    outputs = list(named.filter(yarn__batch__run=run))
    if not outputs:
        raise NothingMade("Say what came out of the pots first: the cost is for each skein that can be sold.")
    by_key = {str(output.pk): output for output in outputs}
    made = [
        Made(key, borne_by(output.yarn), output.skeins, skein_g_of(output), output.grade)
        for key, output in by_key.items()
    ]
    return _sheet(run, studio, outputs, made), by_key


def so_far(run, studio=None):
    """A costing.Sheet of what went in by now, for a run that nothing came out of yet: lines and a total, no shares."""
    return _sheet(run, studio or Studio.get(), [], [])


def _sheet(run, studio, outputs, made):
    uses = [
        *_yarn(run, studio),
        *_substances(run, studio),
        *_without_lot(run),
        *_labour(run, studio),
        *_overhead(outputs, studio),
    ]
    sheet = costing.cost_sheet(uses, made, studio.second_pct, minor_units(studio.currency))
    if to_minor(sheet.total, studio.currency) > MOST_MINOR:
        raise ValueError("This comes to more than can be right: check the prices of the lots, and the log.")
    return sheet


def freeze(run, *, by, clock=timezone.now):
    """Freeze the run's cost as its next numbered sheet. Later prices never rewrite it."""
    studio = Studio.get()
    with transaction.atomic():
        Run.lock(run.pk)
        sheet, outputs = worked_out(run, studio)
        last = CostSheet.objects.filter(run=run).aggregate(last=Max("number"))["last"] or 0
        frozen = CostSheet.objects.create(
            run=run,
            number=last + 1,
            currency=studio.currency,
            total_minor=to_minor(sheet.total, studio.currency),
            at_least=sheet.at_least,
            said="\n".join(sheet.said),
            frozen_at=clock(),
            by=by,
        )
        for position, line in enumerate(unsaved_lines(sheet, studio.currency), 1):
            line.sheet, line.position = frozen, position
            line.save()
        for share in unsaved_shares(sheet, outputs, studio.currency):
            share.sheet = frozen
            share.save()
    return frozen


def unsaved_lines(sheet, currency):
    """The lines of a worked-out sheet as rows, without their sheet."""
    return [
        CostLine(
            kind=line.kind,
            words=line.words,
            minor=None if line.amount is None else to_minor(line.amount, currency),
        )
        for line in sheet.lines
    ]


def unsaved_shares(sheet, outputs, currency):
    """What each output bears, as rows without their sheet."""
    return [
        CostShare(output=outputs[share.output_key], minor=to_minor(share.total, currency), skeins=share.count)
        for share in sheet.shares
    ]


def named_shares(sheet):
    """The shares of a frozen sheet, with what their yarns are called."""
    yarn = "output__yarn"
    return sheet.shares.select_related(f"{yarn}__lot__base", f"{yarn}__base", f"{yarn}__output__yarn__lot__base")


def out_of_date(sheet):
    """Whether something was logged, weighed in, said or priced since the sheet was frozen. Costs up to four queries."""
    since = sheet.frozen_at
    later = Entry.objects.filter(batch__run=sheet.run_id, received_at__gt=since, kind__in=BEARS_COST)
    parts = AdditionLot.objects.filter(addition__entry__batch__run=sheet.run_id)
    yarn = BatchYarn.objects.filter(batch__run=sheet.run_id, lot__isnull=False)
    used = Q(pk__in=parts.values("lot")) | Q(pk__in=yarn.values("lot"))
    corrected = Lot.objects.filter(corrections__recorded_at__gt=since, corrections__cost_minor__isnull=False)
    return (
        later.exists()
        or parts.filter(share_out__recorded_at__gt=since).exists()
        or yarn.filter(movement__recorded_at__gt=since).exists()
        or corrected.filter(used).exists()
    )


def borne_by(yarn):
    """Which skeins bear the cost of a yarn: those of its base from the shelf, in whichever pot; else its own."""
    if yarn.source == BatchYarn.Source.LOT:
        return f"base{yarn.known_base.pk}"
    return f"again{yarn.output_id}" if yarn.output_id else f"yarn{yarn.pk}"


def skein_g_of(output):
    """What a skein of an output weighs [g]: weighed, else nominal, else a usual skein's weight to share by."""
    return output.known_skein_g or USUAL_SKEIN_G


def _rate(lot, studio):
    if lot.cost_now is None:
        return None
    return Rate(from_minor(lot.cost_now, studio.currency), lot.received)


def _yarn(run, studio):
    """The yarn, the same in several pots once: "Sparrow, 6 skeins, in 2 pots"."""
    yarns = list(BatchYarn.objects.named().filter(batch__run=run).order_by("batch__number", "position"))
    lots = Lot.objects.with_facts().in_bulk([yarn.lot_id for yarn in yarns if yarn.lot_id])
    before = _costs_before([yarn.output_id for yarn in yarns if yarn.output_id])
    alike = defaultdict(list)
    for yarn in yarns:
        alike[yarn.source, yarn.lot_id, yarn.output_id, yarn.name, borne_by(yarn)].append(yarn)
    for (source, lot, output, name, base), same in alike.items():
        skeins = None if any(not yarn.skeins for yarn in same) else sum(yarn.skeins for yarn in same)
        grams = None if any(yarn.grams is None for yarn in same) else sum(yarn.grams for yarn in same)
        pots = len({yarn.batch_id for yarn in same})
        where = f", in {pots} pots" if pots > 1 else ""
        if source == BatchYarn.Source.LOT:
            counted = f", {write_count(skeins, 'skein')}" if skeins else ""
            yield Use("yarn", f"{name}{counted}{where}", grams, _rate(lots[lot], studio), base)
        elif source == BatchYarn.Source.OUTPUT:
            yield Use("yarn", f"{name}, dyed before{where}", skeins, before.get(output), base)
        elif source == BatchYarn.Source.CUSTOMER:
            yield Use("yarn", f"{name}: the customer's own{where}", 1, Rate(0), base)
        else:
            yield Use("yarn", f"{name}{where}", grams, None, base)


def _costs_before(outputs):
    """{output key: what one of its skeins bore on the newest sheet of its run}, of those that have one. One query."""
    shares = CostShare.objects.filter(output__in=outputs).order_by("sheet__number").select_related("sheet")
    return {share.output_id: Rate(from_minor(share.minor, share.sheet.currency), share.skeins) for share in shares}


def _substances(run, studio):
    """Dye and assistants by bought lot; once more where some was by a measure or an estimate, or not weighed at all."""
    rows = AdditionLot.objects.standing().filter(addition__entry__batch__run=run).order_by()
    totals, by_measure, by_estimate = {}, {}, {}
    kinds = rows.values_list("lot", BY_MEASURE, "addition__estimated")
    for pk, measured, estimated, total in kinds.annotate(total=Sum("amount")):
        (by_measure if measured else by_estimate if estimated else totals)[pk] = total
    unweighed = _unweighed_lots(run)
    lots = Lot.objects.with_facts().named().in_bulk({*totals, *by_measure, *by_estimate, *unweighed})
    for pk, lot in sorted(lots.items(), key=lambda item: (item[1].dye_id is None, str(item[1]), item[0])):
        kind = "dye" if lot.dye_id else "assistant"
        if pk in totals:
            yield Use(kind, str(lot), totals[pk], _rate(lot, studio))
        if pk in by_measure:
            yield Use(kind, f"{lot}, by measure", by_measure[pk], _rate(lot, studio))
        if pk in by_estimate:
            yield Use(kind, f"{lot}, by estimate", by_estimate[pk], _rate(lot, studio))
        if pk in unweighed:
            yield Use(kind, f"{lot}, not weighed", None, _rate(lot, studio))


def _unweighed_lots(run):
    """Keys of bought lots that some unweighed addition brought in."""
    additions = Addition.objects.standing().open_unweighed().filter(entry__batch__run=run)
    found = set()
    for addition in additions.prefetch_related("lot__contents"):
        held, _ = addition.lot.holds(Decimal(1))
        found |= set(held)
    return found


def _without_lot(run):
    """What went in without being on the shelf: nobody knows its price."""
    additions = Addition.objects.standing().filter(entry__batch__run=run, other=Addition.Other.WORDS)
    for what in additions.values_list("what", flat=True).distinct():
        yield Use("assistant", what, None, None)


def _labour(run, studio):
    minutes = Work.objects.standing().filter(entry__batch__run=run).aggregate(total=Sum("minutes"))["total"]
    if not minutes:
        return
    rate = None if studio.hour_minor is None else Rate(from_minor(studio.hour_minor, studio.currency), 60)
    yield Use("labour", f"{minutes.normalize():f} min", minutes, rate)


def _overhead(outputs, studio):
    sellable = sum(output.skeins for output in outputs if output.sellable)
    if studio.overhead_minor is not None and sellable:
        rate = Rate(from_minor(studio.overhead_minor, studio.currency))
        yield Use("overhead", write_count(sellable, "skein"), sellable, rate)


@dataclass
class Alike:
    """The shares of outputs that are alike in yarn, grade and name, whichever pot they came from."""

    output: Output
    minor: int = 0
    skeins: int = 0

    @property
    def least_each(self):
        """Minor units a skein, rounded down; `dearer` of them are booked at one more."""
        return self.minor // self.skeins

    @property
    def dearer(self):
        return self.minor % self.skeins


def alike(shares):
    """[Alike] of a sheet's shares, in their order."""
    found = {}
    for share in shares:
        output = share.output
        key = (output.yarn.name, output.grade, output.name)
        together = found.setdefault(key, Alike(output))
        together.minor += share.minor
        together.skeins += share.skeins
    return list(found.values())


def by_kind(lines):
    """[(kind's words, minor units or None, the lines)] of a sheet's lines, in the order of the kinds."""
    groups = defaultdict(list)
    for line in lines:
        groups[line.kind].append(line)
    found = []
    for kind in CostLine.Kind:
        if groups[kind]:
            known = [line.minor for line in groups[kind] if line.minor is not None]
            found.append((kind, sum(known) if known else None, groups[kind]))
    return found
