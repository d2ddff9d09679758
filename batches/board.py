"""The board for an old tablet on the wall: every open pot, what is due and next, and what waits for whom. No costs."""

from dataclasses import dataclass

from . import depth, timers
from .models import Run, State
from .under_way import pots_in_words, under_way
from .waiting import waits

MOST = 12  # runs on it; who has more in the pot at once has no wall for them
MANY = 3  # more than these are drawn smaller


class Everybody:
    """Whose eyes the board is for: what anybody can see to waits on it."""

    may_log = may_make = True


# Who can see to it, by what waits.
MAKERS = ("planned", "tag")


@dataclass
class Card:
    """One run with open pots. `due`: its timers, the first due first; `where`: [(pots or "", place)]."""

    run: Run
    segments: list
    where: list
    next: str
    due: list

    @property
    def pressing(self):
        """What sorts the cards: what is over first, then what is due next, then the rest by the day it began."""
        return (0, self.due[0].due_at.timestamp()) if self.due else (1, -self.run.day.toordinal())


def cards():
    """([Card] of the runs in the pot, the most pressing first; whether there are more). A fixed number of queries."""
    runs = list(Run.objects.filter(state=State.RUNNING).for_rows().newest_first()[: MOST + 1])
    shown = runs[:MOST]
    now, bars, due = under_way(shown), depth.bars_of_runs(shown), timers.rows()
    found = [
        Card(
            run,
            bars.get(run.pk, []),
            where_of(run, now[run.pk]["where"]),
            now[run.pk]["next"],
            [row for row in due if row.run.pk == run.pk],
        )
        for run in shown
    ]
    return sorted(found, key=lambda card: card.pressing), len(runs) > MOST


def where_of(run, places):
    """[("jars 1 to 6", "in the pot")]; a lone pot goes without its name."""
    batches = run.batches.all()
    return [(pots or (pots_in_words(batches) if len(batches) > 1 else ""), place) for place, pots in places]


def waiting():
    """[(who can see to it, Wait)] of the open runs, but for timers, which their own cards show."""
    open_runs = list(Run.objects.open().for_rows().newest_first()[:60])
    return [
        ("a maker" if wait.kind in MAKERS else "anybody", wait)
        for wait in waits(open_runs, Everybody)
        if wait.kind != "timer"
    ]
