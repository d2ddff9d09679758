"""A run's record as its page shows it: plan beside log, checks, lots, cost."""

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Q

from studio.models import Lot
from studio.money import to_minor

from . import costs, days, depth, judging, photos
from .costbar import bar_of
from .hours import line_words, timeline_of
from .models import (
    Addition,
    AdditionLot,
    Batch,
    BatchYarn,
    Bath,
    CostSheet,
    Entry,
    Move,
    Output,
    Reading,
    Run,
    TagPrint,
)
from .plan_beside_log import plan_beside_log, went_otherwise
from .samples import in_a_triangle, most_dye_g, samples_of
from .strength import test_of
from .under_way import pots_in_words
from .verdicts import outcome_of
from .wording import capital


def record_of(run):
    """Everything the page of a run shows. A fixed number of queries for any length of log."""
    batches = batches_of(run)
    yarns = list(BatchYarn.objects.named().filter(batch__in=batches).order_by("batch__number", "position"))
    entries = log_of(run, batches)
    standing = standing_of(entries)
    rows = plan_beside_log(run, standing)
    made, outputs, line = judging.made(standing), outputs_together(run), timeline_of(standing, batches)
    shown = photos.photos_of(run, batches, standing)
    baths, lots, work = baths_of(run, batches), lots_of(run), days.work_of(run)
    return {
        "batches": batches,
        "work": work,
        "day_of": days.days_of(work).get(run.pk),
        "wanted": days.wanted_of(run, work),
        "yarns": yarns_together(yarns),
        "unnamed": [yarn for yarn in yarns if yarn.source == BatchYarn.Source.UNLABELLED],
        "fibre_g": sum((batch.fibre_g for batch in batches if batch.fibre_g is not None), Decimal(0)) or None,
        "entries": entries,
        **dye_of(run, batches),
        "rows": rows,
        "has_plan": any(row.planned_at_all for row in rows),
        "otherwise": went_otherwise(rows),
        "clear": last_clear(standing),
        "bleeds": judging.bleeds(standing),
        "bled": judging.ever_bled(standing),
        "chains": judging.chains(made),
        "line": line,
        "line_words": line_words(line, batches) if line else None,
        "photos": shown,
        "samples": (samples := samples_of(run, batches, shown)),
        "most_dye_g": most_dye_g(samples),
        "triangle": in_a_triangle(samples),
        "strength": test_of(run) if samples else None,
        "pair": photos.before_and_after(run, shown, photos.earlier_sides(run)),
        "minutes": sum((entry.work.minutes for entry in standing if entry.kind == Entry.Kind.WORK), Decimal(0)),
        "outcome": outcome_of(standing),
        "outputs": outputs,
        "graded": graded(outputs),
        "tally": tally_of(yarns, outputs, standing),
        "baths": baths,
        "lots": lots,
        "origins": origins_of(yarns, baths, lots, run),
        "went_on": went_on(run),
        "pulled": pulled(standing, batches),
        "tag_prints": tag_prints_of(run),
        "people": list(dict.fromkeys(entry.by.name for entry in entries)),
    }


def batches_of(run):
    named = Batch.objects.filter(run=run).select_related("vessel", "run__colourway", "recipe__colourway")
    return list(named.order_by("number"))


def log_of(run, batches):
    """Its entries in order, with all that their lines say. A fixed number of queries."""
    entries = Entry.objects.filter(batch__run=run).with_struck().in_order().with_details()
    entries = entries.select_related("plan_line__dye", "plan_line__assistant", "plan_line__solution")
    by_key = {batch.pk: batch for batch in batches}
    found = list(entries)
    for entry in found:
        entry.batch = by_key[entry.batch_id]
    return found


def standing_of(entries):
    """Those that nobody struck out, without the strike-outs themselves."""
    return [entry for entry in entries if not entry.struck and entry.kind != Entry.Kind.STRIKE]


def dye_of(run, batches):
    """The dye as planned and as logged, for the two colour bars, and the depth of the run and of each pot."""
    logged, planned = depth.fed_of_run(run), depth.planned_of_run(run)
    depths = depth.depths_of(batches)
    return {
        "logged": depth.segments(logged),
        "planned": depth.segments(planned),
        "scale": max(total_g(logged), total_g(planned)) or None,
        "planned_g": depth.readable(total_g(planned)),
        "logged_g": depth.readable(total_g(logged)),
        "depth": depth.depth_of_run(batches, depths),
        "pots": pots_alike(batches, depths),
    }


def origins_of(yarns, baths, lots, run):
    """[(what came from there, an earlier Run)]: where the yarn, the bath or the kept liquor of this run is from."""
    found = [("Yarn", yarn.came_from) for yarn in yarns if yarn.came_from]
    found += [("Bath", bath.continues.batch.run) for bath in baths if bath.continues_id]
    kept = Bath.objects.filter(kept_in__in=lots).select_related("batch__run__colourway").order_by("pk")
    found += [("Liquor", bath.batch.run) for bath in kept]
    return list(dict.fromkeys(one for one in found if one[1].pk != run.pk))


def went_on(run):
    """[(what went there, a later Run)]: what became of this run's yarn and bath."""
    others = Run.objects.exclude(pk=run.pk).select_related("colourway").order_by("pk").distinct()
    yarn = others.filter(batches__yarns__output__yarn__batch__run=run)
    bath = others.filter(batches__baths__continues__batch__run=run)
    return [*(("Yarn", one) for one in yarn), *(("Bath", one) for one in bath)]


def pulled(standing, batches):
    """[(Entry, its move)] of skeins that left a lone pot one after another; [] where it was not so."""
    moves = [entry for entry in standing if entry.kind == Entry.Kind.MOVE and entry.move.what == Move.What.YARN_OUT]
    return moves if len(moves) > 1 and len(batches) == 1 else []


@dataclass
class PotsAlike:
    """Pots that read alike in the head of the page."""

    batch: Batch
    own: object
    batches: list

    @property
    def name(self):
        if len(self.batches) == 1:
            return self.batch.pot_name
        return capital(pots_in_words(self.batches))

    @property
    def other_version(self):
        """The version its plan is of, where that is another than the run began with; else None."""
        recipe = self.batch.recipe
        return recipe if recipe is not None and recipe.pk != self.batch.run.recipe_id else None


def pots_alike(batches, depths):
    """[PotsAlike]: pots of one place, weight, bath, depth and version are one line. What sets pots with a label apart
    stands with the samples, so here they count as alike whatever their depths.
    """
    found = {}
    for batch in batches:
        own = depths[batch.pk] if len(batches) > 1 and not batch.label else None
        said = (own.words, own.shown_pct) if own else None
        alike = (batch.where, batch.fibre_g, batch.water_ml, said, batch.recipe_id)
        one = found.setdefault(alike, PotsAlike(batch, own, []))
        one.batches.append(batch)
    return list(found.values())


@dataclass
class Tally:
    """A yarn: what went in, what came out of it, and why the two differ where they do."""

    yarn: BatchYarn
    skeins: int | None
    grams: Decimal | None
    out: list
    why: list

    @property
    def came_out(self):
        return sum(skeins for _, skeins in self.out)

    @property
    def off(self):
        """How many more came out than went in (below zero: fewer); None where it can't be said or is nothing."""
        if not self.out or self.skeins is None:
            return None
        return (self.came_out - self.skeins) or None


def graded(outputs):
    """[(an Output of the grade, skeins)]: what came out, counted by grade alone."""
    found = {}
    for output, skeins in outputs:
        first, before = found.get(output.grade, (output, 0))
        found[output.grade] = (first, before + skeins)
    return list(found.values())


def tally_of(yarns, outputs, standing):
    """[Tally] of a run's yarns, the same in several pots as one."""
    why = [entry.finish.why_off for entry in standing if entry.kind == Entry.Kind.FINISH and entry.finish.why_off]
    return [
        Tally(
            yarn,
            skeins,
            grams,
            [(out, n) for out, n in outputs if out.yarn.name == yarn.name],
            list(dict.fromkeys(why)),
        )
        for yarn, skeins, grams in yarns_together(yarns)
    ]


def baths_of(run, batches):
    """Its baths, where they say more than that each pot had one."""
    named = Bath.objects.filter(batch__run=run).select_related(
        "vessel", "kept_in__solution", "continues__batch__run__colourway", "continues__batch__vessel"
    )
    baths = list(named.order_by("batch__number", "began_at", "pk"))
    by_key = {batch.pk: batch for batch in batches}
    for bath in baths:
        bath.batch = by_key[bath.batch_id]
    told = len(baths) > len(batches) or any(bath.continues_id or bath.kept_in_id or bath.end for bath in baths)
    return baths if told else []


def cost_of(run, studio):
    """{sheet, bar, kinds, shares} of the newest frozen sheet; before the first, as it stands by now (sheet None).

    A fixed number of queries; {} where the figures can't be right, which the page of the cost says.
    """
    sheet = CostSheet.objects.filter(run=run).order_by("-number").first()
    if sheet is None:
        return cost_by_now(run, studio)
    kinds = costs.by_kind(sheet.lines.all())
    shares = costs.alike(costs.named_shares(sheet))
    return {
        "sheet": sheet,
        "old": costs.out_of_date(sheet),
        "bar": bar_of(kinds),
        "kinds": kinds,
        "shares": [share for share in shares if share.output.sellable],
        "currency": sheet.currency,
        "total_minor": sheet.total_minor,
        "at_least": sheet.at_least,
    }


def cost_by_now(run, studio):
    """The same for a cost that nobody has frozen, at today's prices."""
    shares = []
    try:
        try:
            worked, outputs = costs.worked_out(run, studio)
            shares = costs.alike(costs.unsaved_shares(worked, outputs, studio.currency))
        except costs.NothingMade:
            worked = costs.so_far(run, studio)
    except ValueError:
        return {}
    kinds = costs.by_kind(costs.unsaved_lines(worked, studio.currency))
    return {
        "sheet": None,
        "bar": bar_of(kinds),
        "kinds": kinds,
        "shares": [share for share in shares if share.output.sellable],
        "currency": studio.currency,
        "total_minor": to_minor(worked.total, studio.currency),
        "at_least": worked.at_least,
    }


def tag_prints_of(run):
    prints = TagPrint.objects.filter(output__yarn__batch__run=run).select_related("output__yarn__base")
    return list(prints.order_by("printed_at", "pk"))


def total_g(fed):
    return sum((one.grams for one in fed), Decimal(0))


def yarns_together(yarns):
    """[(name, skeins or None, grams or None)]: the same yarn in several pots counts as one."""
    found = {}
    for yarn in yarns:
        key = (yarn.source, yarn.lot_id, yarn.name)
        skeins, grams = found.get(key, (0, Decimal(0)))[:2]
        found[key] = (
            None if skeins is None or yarn.skeins is None else skeins + yarn.skeins,
            None if grams is None or yarn.grams is None else grams + yarn.grams,
            yarn,
        )
    return [(yarn, skeins, grams) for skeins, grams, yarn in found.values()]


def last_clear(standing):
    said = [entry.reading.clear for entry in standing if entry.kind == Entry.Kind.READING and entry.reading.clear]
    return said[-1] if said else Reading.Clear.NOT_SAID


def outputs_together(run):
    """[(Output, skeins)] that came out, alike ones counted together."""
    found = defaultdict(int)
    first = {}
    outputs = Output.objects.standing().filter(yarn__batch__run=run)
    for output in outputs.select_related("yarn__lot__base", "yarn__base", "yarn__output__yarn__lot__base"):
        key = (output.grade, output.yarn.name, output.name)
        first.setdefault(key, output)
        found[key] += output.skeins
    return [(first[key], skeins) for key, skeins in found.items()]


def lots_of(run):
    """The bought lots and bottles that this run leads back to."""
    traced = AdditionLot.objects.standing().filter(addition__entry__batch__run=run).values("lot")
    poured = Addition.objects.standing().filter(entry__batch__run=run, lot__isnull=False).values("lot")
    yarn = BatchYarn.objects.filter(batch__run=run, lot__isnull=False).values("lot")
    lots = Lot.objects.named().filter(Q(pk__in=traced) | Q(pk__in=poured) | Q(pk__in=yarn))
    return sorted(lots, key=lambda lot: (lot.base_id is None, lot.is_bottle, str(lot)))
