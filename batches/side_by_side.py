"""A colourway's batches side by side: which are chosen, and what differs among them.

`side_by_side_facts` gathers what the record of each says, `side_by_side_rows` puts it into rows, and `closeness`
decides what differs. A fixed number of queries, however many batches.
"""

from dataclasses import dataclass

from .closeness import compare
from .models import Batch, Run, State, Verdict
from .side_by_side_facts import columns_of, lots_of, segments_of
from .side_by_side_rows import rows_of
from .verdicts import DYED, judged, to_match

MOST = 4
RUNS_OFFERED = 24


@dataclass
class Offered:
    """A run with its pots, as ticks."""

    run: Run
    pots: list
    verdict: str = ""


@dataclass(frozen=True)
class Invitation:
    """What the page of a run leads to: the words of the link, and the pot it asks for; None: whichever comes first.
    `by_pot`: each pot of the run can be laid beside a colour to match that is none of them.
    """

    words: str
    pot: Batch | None = None
    by_pot: bool = False


def invitation(run, batches):
    """The `Invitation` to lay pots of a run beside others; None where there is nothing to lay them beside."""
    dyed = [pot for pot in batches if pot.state in DYED] if run.state in DYED and run.colourway_id else []
    if not dyed:
        return None
    match = to_match(run.colourway)
    if match is not None and match.run_id != run.pk:
        return Invitation("Compare it with the colour to match", dyed[0], by_pot=True)
    of_it = Batch.objects.filter(run__colourway=run.colourway_id, run__state__in=DYED, state__in=DYED)
    if of_it.exclude(run=run).exists():
        return (
            Invitation("Compare another batch with it")
            if match
            else Invitation("Compare it with another batch", dyed[0])
        )
    return Invitation("Compare its pots", dyed[0]) if len(dyed) > 1 else None


def candidates(colourway):
    """The pots of the newest runs of a colourway, newest first, with what each was judged to be. Two queries."""
    runs = Run.objects.filter(colourway=colourway, state__in=DYED).newest_first().values("pk")[:RUNS_OFFERED]
    newest = judged(Batch.objects.filter(run__in=list(runs.values_list("pk", flat=True))))
    return list(newest.order_by("-run__day", "-run", "number"))


def to_begin_with(colourway, match, pots):
    """The pot to compare the others with: the colour to match, else one as good, one of the standard, the newest; no
    sample, where there is another.
    """
    by_worth = (
        lambda pot: pot.verdict == Verdict.AS_GOOD,
        lambda pot: pot.recipe_id is not None and pot.recipe_id == colourway.standard_id,
        lambda pot: True,
    )
    whole = [pot for pot in pots if not pot.label] or pots
    finished = [pot for pot in whole if pot.state == State.FINISHED] or whole
    return match or next((pot for fits in by_worth for pot in finished if fits(pot)), None)


def choose(colourway, keys):
    """(the pots to compare, all that are offered, whether more were asked for than fit).

    With no key the one to match and the newest; with one, the one to match beside it. The colour to match stands first,
    the others in the order of their days.
    """
    offered, match = candidates(colourway), to_match(colourway)
    first = to_begin_with(colourway, match, offered)
    known = {pot.pk: pot for pot in offered} | ({match.pk: match} if match else {})
    missing = [key for key in keys if key not in known]
    if missing:
        older = judged(Batch.objects.filter(pk__in=missing, run__colourway=colourway))
        known |= {pot.pk: pot for pot in older}
    asked = [known[key] for key in dict.fromkeys(keys) if key in known]
    chosen = asked[:MOST]
    if len(chosen) < 2 and first is not None:
        apart = [pot for pot in offered if pot.run_id != first.run_id]
        # Finished ones before those still in the pot, samples after both.
        apart.sort(key=lambda pot: (bool(pot.label), pot.state != State.FINISHED))
        others = [first, *apart, *offered]
        chosen += [pot for pot in dict.fromkeys(others) if pot not in chosen][: 2 - len(chosen)]
    chosen.sort(key=lambda pot: (pot != match, pot.run.day, pot.run_id, pot.number))
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


def side_by_side(batches):
    """([Column], Compared) of two to four pots, which came from `choose`."""
    columns = columns_of(batches)
    lots = lots_of(columns)
    for column in columns:
        column.segments = segments_of(column, lots)
    return columns, compare(rows_of(columns, lots))
