"""The same again, in the next pot: what somebody just did to one pot and nobody planned."""

from collections import Counter

from django.utils.text import Truncator

from studio.models import Lot
from studio.units import write_count

from .models import Addition, Entry, Move, Reading, StepDone
from .telling import line_of
from .wording import amount_of

# By kind of entry, its verb and the columns of its detail that are said again. What follows from the pot is not.
BY_MEASURE = ("fillings", "spread_g")
SAID_AGAIN = {
    Entry.Kind.ADDITION: (
        Addition.log,
        (*("other", "what", "amount", "unit", "typed", "typed_unit", "taps"), *BY_MEASURE, "estimated", "how", "place"),
    ),
    Entry.Kind.READING: (Reading.log, ("temperature_c", "ph", "clear")),
    Entry.Kind.STEP: (StepDone.log, ("kind", "temperature_c", "minutes")),
    Entry.Kind.MOVE: (Move.log, ("what", "where")),
}
OF_THE_SHELF = {Entry.Kind.ADDITION: ("lot_id", "measure_id"), Entry.Kind.STEP: ("house_step_id",)}


def may_be_repeated(entry):
    """Whether the same can be done to another pot. Where yarn or liquor went is a matter of the pot itself."""
    return entry.kind in SAID_AGAIN and (entry.kind != Entry.Kind.MOVE or entry.move.what == Move.What.WHERE)


def verb_and_facts(entry):
    """What to log in another pot so that it has had the same. `entry` comes with its details."""
    verb, columns = SAID_AGAIN[entry.kind]
    facts = {name: getattr(entry.detail, name) for name in columns}
    if entry.kind == Entry.Kind.ADDITION:
        facts["lot"] = Lot.objects.get(pk=entry.addition.lot_id) if entry.addition.lot_id else None
        facts["measure"] = entry.addition.measure
    if entry.kind == Entry.Kind.STEP:
        facts["house_step"] = entry.step.house_step
    return verb, facts


def what_it_says(entry):
    """All that would be said again, to see whether another pot has had it."""
    columns = (*SAID_AGAIN[entry.kind][1], *OF_THE_SHELF.get(entry.kind, ()))
    return (entry.kind, *(getattr(entry.detail, name) for name in columns))


def done_to_it_alone(lines):
    """Of a pot's log, newest first: what was done to it since the last thing that was planned or done to several pots,
    oldest first. `lines`: standing `telling.Line`s of one pot. One query.
    """
    touches = {line.entry.together for line in lines if line.entry.together}
    elsewhere = Entry.objects.filter(together__in=touches).exclude(batch__in=[line.entry.batch_id for line in lines])
    for_several = set(elsewhere.values_list("together", flat=True))
    found = []
    for entry in (line.entry for line in lines):
        if entry.plan_line_id or entry.together in for_several:
            break
        if may_be_repeated(entry):
            found.append(entry)
    return found[::-1]


def next_without(entries, pots):
    """(the first of `pots` after the entries' own that has not had all of the same since, what it lacks), or None. One
    query.
    """
    after = [pot for pot in pots if pot.number > entries[0].batch.number]
    since = Entry.objects.standing().filter(batch__in=after, at__gte=entries[0].at, kind__in=SAID_AGAIN).with_details()
    had = {pot.pk: Counter() for pot in after}
    for other in since:
        if may_be_repeated(other):
            had[other.batch_id][what_it_says(other)] += 1
    for pot in after:
        if lacks := lacking(entries, had[pot.pk]):
            return pot, lacks
    return None


def lacking(entries, had):
    """Those of the entries that a pot has not had; `had` counts what it has had."""
    found = []
    for entry in entries:
        said = what_it_says(entry)
        if had[said]:
            had[said] -= 1
        else:
            found.append(entry)
    return found


def in_words(entry):
    """ "5 mL Plum 1 %", "Quince, 4 taps", "Soak as usual": short enough for a button."""
    if entry.kind != Entry.Kind.ADDITION:
        return line_of(entry).what
    said = entry.addition
    name = Truncator(said.name).chars(40)
    if said.amount is not None:
        return f"{amount_of(said.amount, said.unit)} {name}"
    return f"{name}, {write_count(said.taps, 'tap')}" if said.taps else name
