"""Changing the pots still to come: another version, or the same with more or less of a dye, from the next pot on."""

from dataclasses import dataclass, replace
from decimal import Decimal

from django.db import transaction
from django.db.models import Prefetch
from django.utils import timezone

from recipes import changing
from recipes.offers import ingredients_of, with_steps
from recipes.plans import Wishes
from studio.units import write_number, write_pct

from . import beginning, days
from .models import Batch, BatchYarn, Entry, PlanLine, Run, State, promised_by_lot
from .under_way import pots_in_words
from .wording import capital, precise
from .yarns import Yarn

STILL_OPEN = (State.PLANNED, State.RUNNING)


@dataclass
class ToCome:
    """The pots of a run, and of its later days, that a change is for; and those that keep their plan.

    `weighed`: [(Batch, words)] of what stands weighed for pots still to come, by the plan as it is now. `dissolved`:
    names of what that plan weighs once for all of them.
    """

    runs: list
    pots: list
    keep: list
    weighed: list
    dissolved: list

    @property
    def words(self):
        """ "pots 2 to 4", or with the run where there are several: "26-101 pot 2; 26-102 pots 1 and 2"."""
        return self.called(self.pots)

    def called(self, pots):
        """Some of these pots in words."""
        if len(self.runs) == 1:
            return pots_in_words(pots)
        by_run = {}
        for pot in pots:
            by_run.setdefault(pot.run, []).append(pot)
        return "; ".join(f"{run.code} {pots_in_words(pots)}" for run, pots in by_run.items())

    def called_at(self, places):
        """Those at these places among the pots still to come, counted from 0, in words."""
        return self.called([self.pots[place] for place in places])

    @property
    def capital(self):
        return capital(self.words)

    @property
    def kept(self):
        """Those that keep their plan, to begin a sentence with."""
        return capital(self.called(self.keep))


def to_come(run):
    """The `ToCome` of a run, of the days that come after it too. A fixed number of queries.

    Pots that were planned to differ, as those of a series are, keep what sets them apart.
    """
    runs = [one for one in days.work_of(run) or [run] if one.pk == run.pk or (one.day, one.pk) > (run.day, run.pk)]
    named = Batch.objects.filter(run__in=runs).select_related("run__colourway", "vessel", "recipe__colourway")
    pots = list(
        named.prefetch_related(Prefetch("yarns", BatchYarn.objects.named())).order_by("run__day", "run", "number")
    )
    begun = set(Entry.objects.that_begin().filter(batch__in=pots).values_list("batch", flat=True))
    ours = [pot for pot in pots if pot.state in STILL_OPEN and pot.pk not in begun and not pot.label and pot.fibre_g]
    dissolved = sorted({line.name for line in _weighed_once(ours)})
    return ToCome(runs, ours, [pot for pot in pots if pot not in ours], _weighed(ours), dissolved)


def _weighed(pots):
    """[(Batch, "2.4 g Rust")] of what stands weighed."""
    by_key = {pot.pk: pot for pot in pots}
    lines = PlanLine.objects.filter(batch__in=pots).with_stands().filter(stands__isnull=False)
    named = lines.select_related("dye", "assistant", "solution").order_by("batch", "position")
    return [(by_key[line.batch_id], f"{precise(line.stands, line.unit)} {line.name}") for line in named]


def _weighed_once(pots):
    """Lines of the plan of these pots that are poured of what is weighed once."""
    poured = PlanLine.objects.filter(batch__in=pots, pour_ml__isnull=False)
    return poured.select_related("dye", "assistant", "solution")


def work_out(recipe, coming, times=None, wishes=None):
    """The `recipes.plans.Plan` of the pots still to come, from a version, with its dyes at so many times their amount.

    What each pot was to take is taken again out of the same jar or bottle, where it is of use still, and what was to be
    weighed once is weighed once again. Raises ValueError with a sentence where nothing can be reckoned.
    """
    wishes = replace(wishes or Wishes(), weigh_once=_once_again(recipe, coming.pots))
    lone = len(coming.runs) == 1  # else numbers begin anew each day, and say nothing by themselves
    loads = [
        replace(beginning.load_of(_yarns(pot), pot.vessel, times), number=pot.number if lone else None)
        for pot in coming.pots
    ]
    promised = promised_by_lot(without=coming.pots)
    return beginning.reckon(recipe, loads, promised, _same_lots(recipe, coming.pots), wishes=wishes)


def wishes_of(coming):
    """The `Wishes` that these pots were planned with."""
    first = coming.pots[0]
    return Wishes(hold=first.hold, scales=first.scales)


def _yarns(pot):
    return [(Yarn.of_row(row), row.skeins or 1) for row in pot.yarns.all()]


def _once_again(recipe, pots):
    """Keys of the lines of the version whose substance these pots' plan weighs once for all of them."""
    once = {line.substance for line in _weighed_once(pots)}
    return frozenset(each.pk for each in ingredients_of(with_steps(recipe)) if each.substance in once)


def _same_lots(recipe, pots):
    """{ingredient key: lot key}: for each line of the version the lot that the pots' plan has for its substance."""
    planned = PlanLine.objects.filter(batch__in=pots, lot__isnull=False).order_by("batch", "position")
    lots = {(line.dye_id, line.assistant_id, line.solution_id): line.lot_id for line in planned}
    wanted = {
        each.pk: lots.get((each.dye_id, each.assistant_id, each.solution_id))
        for each in ingredients_of(with_steps(recipe))
    }
    return {key: lot for key, lot in wanted.items() if lot}


def change(run, coming, recipe, *, by, times=None, why="", wishes=None, clock=timezone.now):
    """Plan the pots still to come anew: from this version or, where dyes are changed, from the next one made from it.

    Answers the version. Raises ValueError with a sentence where a pot was begun meanwhile; then nothing is stored.
    """
    with transaction.atomic():
        Run.lock_all(pot.run_id for pot in coming.pots)  # before the colourway, which the next version locks
        if times:
            note = said(run, coming, recipe, times, why)
            recipe = changing.next_with(recipe, times, by=by, now=clock(), note=note)
        worked = work_out(recipe, coming, wishes=wishes)
        plans = {
            pot.pk: (planned.water_ml, [PlanLine(**line.facts()) for line in planned.lines])
            for pot, planned in zip(coming.pots, worked.pots, strict=True)
        }
        Batch.replan(plans, recipe=recipe, clock=clock, hold=worked.wishes.hold, scales=worked.wishes.scales)
    return recipe


def said(run, coming, recipe, times, why):
    """What the note of the next version says: from which run it comes, what was changed, and why."""
    names = {dye.pk: dye.name for dye in changing.dyes_of_version(recipe)}
    changes = ", ".join(change_words(names[key], factor) for key, factor in times.items() if factor != 1)
    return f"Changed in run {run.code}, from {coming.words} on: {changes}. {why}".strip()


def change_words(name, factor):
    """ "10 % less Rust", "twice as much Rust", "no Rust"."""
    if not factor:
        return f"no {name}"
    if factor >= 2:
        return f"{write_number(factor, digits=3)} times the {name}"
    return f"{write_pct(abs(factor - 1) * 100, 4)} {'less' if factor < 1 else 'more'} {name}"


def factor_of(percent):
    """80 is 0.8 times."""
    return Decimal(percent) / 100
