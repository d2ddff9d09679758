"""A run's record as its page shows it: plan beside log, checks, lots, cost."""

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Q

from studio.models import Lot

from . import depth, judging
from .models import (
    AdditionLot,
    Batch,
    BatchYarn,
    CostSheet,
    Entry,
    Output,
    PlanLine,
    Reading,
    TagPrint,
    Verdict,
)
from .telling import addition_colour, shared_g


@dataclass
class Row:
    """One line of "plan and log": what was to be done, what was, over all pots together."""

    name: str
    sub: str = ""
    fill: str = ""
    unit: str = ""
    planned: Decimal | None = None
    logged: Decimal | None = None
    unmeasured: bool = False
    done: int = 0
    of: int = 0
    at: object = None
    planned_at_all: bool = True

    @property
    def off(self):
        """How far the log is from the plan, in the line's unit; None where it can't be said or is nothing."""
        if self.planned is None or self.logged is None or self.unmeasured or self.done < self.of:
            return None
        return (self.logged - self.planned) or None

    @property
    def over(self):
        return self.off if self.off and self.off > 0 else None

    @property
    def under(self):
        return -self.off if self.off and self.off < 0 else None


def record_of(run):
    """Everything the page of a run shows. A fixed number of queries for any length of log."""
    batches = batches_of(run)
    yarns = list(BatchYarn.objects.named().filter(batch__in=batches).order_by("batch__number", "position"))
    entries = log_of(run, batches)
    standing = standing_of(entries)
    return {
        "batches": batches,
        "yarns": yarns_together(yarns),
        "unnamed": [yarn for yarn in yarns if yarn.source == BatchYarn.Source.UNLABELLED],
        "fibre_g": sum((batch.fibre_g for batch in batches if batch.fibre_g is not None), Decimal(0)) or None,
        "entries": entries,
        **dye_of(run, batches),
        "rows": plan_beside_log(run, standing),
        "clear": last_clear(standing),
        "bleeds": judging.bleeds(standing),
        "made": judging.made(standing),
        "photos": [entry for entry in standing if entry.kind == Entry.Kind.PHOTO],
        "minutes": sum((entry.work.minutes for entry in standing if entry.kind == Entry.Kind.WORK), Decimal(0)),
        "outcome": outcome_of(standing),
        "outputs": outputs_together(run),
        "lots": lots_of(run),
        "sheet": CostSheet.objects.filter(run=run).order_by("-number").first(),
        "tag_prints": tag_prints_of(run),
        "people": list(dict.fromkeys(entry.by.name for entry in entries)),
    }


def batches_of(run):
    return list(Batch.objects.filter(run=run).select_related("vessel", "run__colourway").order_by("number"))


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
        "pots": [(batch, depths[batch.pk] if len(batches) > 1 else None) for batch in batches],
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


def plan_beside_log(run, standing):
    """[Row]: the plan's lines in order, each with what was logged for it; then what was not planned."""
    rows, by_line = planned_rows(run)
    extra = {}
    for entry in standing:
        if entry.kind == Entry.Kind.WEIGHED:
            continue  # it stands beside the pot, and is not in
        row = by_line.get(entry.plan_line_id)
        if row is None and entry.kind == Entry.Kind.ADDITION:
            row = extra.setdefault(what_went_in(entry), unplanned_row(entry.addition))
        if row is not None:
            add_to(row, entry)
    return [*rows, *extra.values()]


def planned_rows(run):
    """The rows of the plan, and which row each plan line belongs to: a line's pots are one row."""
    rows, by_line, at = [], {}, {}
    lines = PlanLine.objects.filter(batch__run=run).select_related("dye", "assistant", "solution", "lot__solution")
    for line in lines.order_by("position", "batch__number"):
        row = at.get(line.position)
        if row is None:
            row = at[line.position] = Row(
                name=f"{line.lot.substance}" if line.lot_id and line.lot.is_bottle else line.name,
                sub=", ".join(part for part in (line.place, line.basis) if part),
                fill=line.dye.colour if line.dye_id else "",
                unit=line.unit,
            )
            rows.append(row)
        row.of += 1
        by_line[line.pk] = row
        if line.told is not None:
            row.planned = (row.planned or 0) + line.told
    return rows, by_line


def what_went_in(entry):
    """What tells one unplanned addition from another: those of one touch, in several pots, are one row."""
    addition = entry.addition
    return addition.lot_id, addition.what, addition.place, entry.together or entry.pk


def unplanned_row(addition):
    return Row(
        name=addition.name,
        sub=addition.place,
        fill=addition_colour(addition),
        unit=addition.unit,
        planned_at_all=False,
    )


def add_to(row, entry):
    row.done += 1
    row.at = row.at or entry.at
    if entry.kind != Entry.Kind.ADDITION:
        return
    addition = entry.addition
    row.unit = row.unit or addition.unit
    amount = addition.amount if addition.amount is not None else shared_amount(addition)
    if amount is None:
        row.unmeasured = True
    else:
        row.logged = (row.logged or 0) + amount


def shared_amount(addition):
    """What a weigh-in found for an unweighed powder; None where there is none.

    Of a bottle the shares are g of what is dissolved in it, and its line counts mL.
    """
    return shared_g(addition) if addition.lot_id and not addition.lot.is_bottle else None


def last_clear(standing):
    said = [entry.reading.clear for entry in standing if entry.kind == Entry.Kind.READING and entry.reading.clear]
    return said[-1] if said else Reading.Clear.NOT_SAID


@dataclass(frozen=True)
class Outcome:
    """What the finishes of a run said of it."""

    verdict: str = ""
    next_time: str = ""
    snippet: str = ""
    pots_match: bool | None = None

    @property
    def verdict_words(self):
        return Verdict(self.verdict).label if self.verdict else ""


def outcome_of(standing):
    """The `Outcome` by the newest of these entries, in their order, that said something; the match by itself."""
    finishes = [entry.finish for entry in standing if entry.kind == Entry.Kind.FINISH]
    said = [one for one in finishes if one.verdict or one.next_time or one.snippet]
    match = [one.pots_match for one in finishes if one.pots_match is not None]
    words = {name: getattr(said[-1], name) for name in ("verdict", "next_time", "snippet")} if said else {}
    return Outcome(**words, pots_match=match[-1] if match else None)


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
    standing = Entry.objects.standing().filter(batch__run=run)
    traced = AdditionLot.objects.filter(addition__entry__in=standing).values("lot")
    poured = standing.filter(addition__lot__isnull=False).values("addition__lot")
    yarn = BatchYarn.objects.filter(batch__run=run, lot__isnull=False).values("lot")
    lots = Lot.objects.named().filter(Q(pk__in=traced) | Q(pk__in=poured) | Q(pk__in=yarn))
    return sorted(lots, key=lambda lot: (lot.base_id is None, lot.is_bottle, str(lot)))
