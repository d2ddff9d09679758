"""The log of some pots read as the lines of a recipe: what went in and what was done, pot beside pot, in order.

Nothing is stored and nothing decided here: an amount that nobody knows stays unknown, pots that differ stay different,
and what was done to put something right is marked. `capture_pot` says when a pot was in its bath, `capture_amounts` and
`capture_doing` read its entries one by one.
"""

from collections import Counter

from django.db.models import Prefetch

from studio.models import Lot, Measure, Tool

from . import capture_amounts, capture_doing
from .capture_pot import Pot
from .models import Entry

READERS = {
    Entry.Kind.ADDITION: capture_amounts.addition,
    Entry.Kind.STEP: capture_doing.step,
    Entry.Kind.TIMER: capture_doing.timer,
    Entry.Kind.READING: capture_doing.reading,
    Entry.Kind.MOVE: capture_doing.move,
}


def lines_of_log(run, standing):
    """[Line] of these standing entries, in the order in which they were done. A fixed number of queries.

    `standing`: those of the pots that count, with their details, in order.
    """
    lots = _lots(standing)
    scales, measures = Tool.scales(), {each.pk: each for each in Measure.objects.prefetch_related("weighings")}
    by_pot = {}
    for entry in sorted(
        standing, key=lambda one: one.batch.number
    ):  # so that of pots as full the first gives the order
        by_pot.setdefault(entry.batch_id, []).append(entry)
    read = {pk: _lines_of(Pot(run, entries, lots, measures, scales)) for pk, entries in by_pot.items()}
    return align(read)


def _lots(standing):
    """{key: Lot} of what went in, with all that a strength is reckoned from."""
    keys = {entry.addition.lot_id for entry in standing if entry.kind == Entry.Kind.ADDITION} - {None}
    sources = Lot.objects.with_facts().select_related("dye", "assistant")
    named = Lot.objects.with_facts().filter(pk__in=keys).select_related("dye", "assistant", "solution")
    named = named.prefetch_related("contents", Prefetch("contents__source", sources), "solution__parts__dye")
    return {lot.pk: lot for lot in named}


def align(by_pot):
    """[Line] of all pots: the nth of a kind in one pot is the nth in the others, wherever it stands there.

    `by_pot`: {batch key: [Line]}. The fullest pot gives the order; what only others have stands where it stood there.
    """
    found, order = {}, []
    for lines in sorted(by_pot.values(), key=len, reverse=True):
        counts, before = Counter(), None
        for line in lines:
            key = (line.same, counts[line.same])
            counts[line.same] += 1
            if key not in found:
                found[key] = line
                order.insert(order.index(before) + 1 if before is not None else 0, key)
            else:
                held = found[key]
                held.parts |= line.parts
                held.by |= line.by
                held.belongs = held.belongs and line.belongs
            before = key
    return [found[key] for key in order]


def _lines_of(pot):
    """[Line] of one pot."""
    for entry in pot.entries:
        reader = READERS.get(entry.kind)
        for line in reader(pot, entry) if reader else ():
            _mark(pot, line, entry)
            _keep(pot, line)
    return pot.found


def _mark(pot, line, entry):
    late = pot.end_at is not None and entry.at >= pot.end_at and line.goes_in
    line.to_fix = pot.is_trouble(entry) or late
    line.belongs = not line.to_fix or pot.out_at is None or entry.at < pot.out_at
    if line.to_fix:
        line.same = ("fix", *line.same)


def _keep(pot, line):
    """Put it after the rest; the same that was poured, painted or tapped a moment before it is one with it."""
    before = pot.found[-1] if pot.found else None
    if line.painted:
        before = next((one for one in pot.found if one.same == line.same), None)
    if before is None or not line.goes_in or before.same != line.same:
        pot.found.append(line)
        return
    (held,), (more,) = before.parts.values(), line.parts.values()
    if bool(held.unknown) != bool(more.unknown) or held.conditions != more.conditions:
        pot.found.append(line)
        return
    held.entries += more.entries
    held.unknown += more.unknown
    held.own, held.logged = held.own + more.own, held.logged + more.logged
    held.estimated = held.estimated or more.estimated
    before.by |= line.by
