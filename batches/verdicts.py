"""What was said of pots when they were finished, and which of a colourway is the colour to match."""

from dataclasses import dataclass

from django.db.models import OuterRef, Subquery

from .models import Batch, Entry, State, Verdict

DYED = [State.RUNNING, State.FINISHED]


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


def judged(batches):
    """Dyed pots with `verdict`, what each was last judged to be, and when, `judged_at`; both empty: not judged."""
    last = Entry.objects.that_judge().filter(batch=OuterRef("pk")).order_by("-at", "-received_at", "-pk")
    facts = {"verdict": last.values("finish__verdict")[:1], "judged_at": last.values("at")[:1]}
    shown = batches.filter(state__in=DYED).annotate(**{name: Subquery(found) for name, found in facts.items()})
    return shown.select_related("run__colourway", "vessel", "recipe")


def to_match(colourway):
    """The pot that is the colour to match; None where no pot of the colourway is.

    A pot is what it was judged to be last. Of several runs whose pots are the colour to match it is the one that this
    was said of last, whenever it was dyed; of several such pots in that run, the first.
    """
    best = judged(Batch.objects.filter(run__colourway=colourway)).filter(verdict=Verdict.STANDARD)
    run = best.order_by("-judged_at", "-run").values("run")[:1]
    return best.filter(run=Subquery(run)).order_by("number").first()


def of_run(run):
    """The pot of a run that samples were laid beside: the first that is the colour to match, else the first of all."""
    pots = list(judged(Batch.objects.filter(run=run)).order_by("number"))
    return next((pot for pot in pots if pot.verdict == Verdict.STANDARD), pots[0] if pots else None)


def snippet_of(pot):
    """Where the snippet of a pot is kept, by what was said of this pot last; "" where nobody says."""
    return outcome_of(Entry.objects.that_judge().filter(batch=pot).in_order().select_related("finish")).snippet
