"""Changing the pots still to come: another version, or the same with more or less of a dye, from the next pot on."""

from dataclasses import dataclass, replace
from decimal import Decimal
from hashlib import sha256

from django.db import transaction
from django.db.models import Exists, OuterRef, Prefetch
from django.utils import timezone

from recipes import changing
from recipes.models import Recipe
from recipes.offers import ingredients_of, with_steps
from recipes.plans import Wishes
from studio.units import write_number, write_pct

from . import beginning, days
from .models import Batch, BatchYarn, Entry, PlanLine, Run, State, promised_by_lot
from .under_way import pots_in_words
from .wording import capital, precise
from .yarns import Yarn

STILL_OPEN = (State.PLANNED, State.RUNNING)
FOLLOWS = {Recipe.Scales.WEIGHT: "the weight of the yarn", Recipe.Scales.POTS: "the pots"}


@dataclass
class ToCome:
    """The pots of a run, and of its later days, that a change is for; and those that keep their plan.

    `weighed`: [(Batch, words)] of what stands weighed for pots still to come, by the plan as it is now. `dissolved`:
    {name of what that plan weighs once: whether it does so for all of them}.
    """

    runs: list
    pots: list
    keep: list
    weighed: list
    dissolved: dict

    @property
    def recipe(self):
        """The newest version that one of them is planned from; None where none is still to come."""
        return max((pot.recipe for pot in self.pots), key=lambda version: version.number, default=None)

    @property
    def hold(self):
        """What all of them hold the depth on; None where they differ."""
        return _shared(pot.hold for pot in self.pots)

    @property
    def scales(self):
        """What the amounts of all of them follow; None where they differ."""
        return _shared(map(_scales_of, self.pots))

    @property
    def alike(self):
        """Whether all were planned from one version, in one way."""
        return None not in (_shared(pot.recipe_id for pot in self.pots), self.hold, self.scales)

    @property
    def seen(self):
        """Which writing of which pots this is, for a page to send back: so a change made in between is noticed."""
        return sha256(" ".join(f"{pot.pk}.{pot.edition}" for pot in self.pots).encode()).hexdigest()

    @property
    def apart(self):
        """[sentence]: in what these pots were planned otherwise than each other, which a change makes alike."""
        told = [
            ("They are planned from different versions", lambda pot: f"version {pot.recipe.number}"),
            ("They hold the depth on different yarn", lambda pot: pot.get_hold_display().lower()),
            ("Their amounts follow different things", lambda pot: FOLLOWS[_scales_of(pot)]),
        ]
        return [sentence for start, said in told if (sentence := self._apart(start, said))]

    def _apart(self, start, said):
        by_words = {}
        for pot in self.pots:
            by_words.setdefault(said(pot), []).append(pot)
        if len(by_words) < 2:
            return ""
        each = ", ".join(f"{self.called(pots)}: {words}" for words, pots in by_words.items())
        return f"{start} ({each}): after a change all of them do the same."

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


def _shared(values):
    """What all of these are; None where they differ."""
    values = set(values)
    return values.pop() if len(values) == 1 else None


def _scales_of(pot):
    return pot.scales or pot.recipe.scales


def to_come(run):
    """The `ToCome` of a run, of the days that come after it too. A fixed number of queries.

    Pots that were planned to differ, as those of a series are, keep what sets them apart.
    """
    runs = _from_here(run, days.work_of(run))
    named = Batch.objects.filter(run__in=runs).select_related("run__colourway", "vessel", "recipe__colourway")
    pots = list(
        named.prefetch_related(Prefetch("yarns", BatchYarn.objects.named())).order_by("run__day", "run", "number")
    )
    begun = set(Entry.objects.that_begin().filter(batch__in=pots).values_list("batch", flat=True))
    ours = [pot for pot in pots if _is_open(pot) and pot.pk not in begun]
    return ToCome(runs, ours, [pot for pot in pots if pot not in ours], _weighed(ours), _dissolved(ours))


def any_to_come(run, work):
    """Whether some pot of a run, or of its later days, could be planned anew. One query. `work`: of `days.work_of`."""
    begun = Entry.objects.that_begin().filter(batch=OuterRef("pk"))
    pots = Batch.objects.filter(run__in=_from_here(run, work), state__in=STILL_OPEN, label="")
    return pots.filter(~Exists(begun), fibre_g__isnull=False, recipe__isnull=False).exists()


def _from_here(run, work):
    """[Run] of this day and of those after it."""
    return [one for one in work or [run] if one.pk == run.pk or (one.day, one.pk) > (run.day, run.pk)]


def _is_open(pot):
    """Whether a pot has a plan that can be written anew, unless something went in already."""
    return pot.state in STILL_OPEN and not pot.label and pot.fibre_g and pot.recipe_id


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


def _dissolved(pots):
    """{name: whether all of these pots that take it are poured their share of what is weighed once}."""
    once = {line.substance: line.name for line in _weighed_once(pots)}
    if not once:
        return {}
    alone = PlanLine.objects.filter(batch__in=pots, pour_ml__isnull=True, unit="g")
    alone = {line.substance for line in alone.select_related("dye", "assistant", "solution")}
    return {name: substance not in alone for substance, name in sorted(once.items(), key=lambda one: one[1])}


def work_out(recipe, coming, times=None, wishes=None):
    """The `recipes.plans.Plan` of the pots still to come, from a version, with its dyes at so many times their amount.

    What each pot was to take is taken again out of the same jar or bottle, where it is of use still, and what was to be
    weighed once is weighed once again. `wishes`: without them, as the pots were planned. Raises ValueError with a
    sentence where nothing can be reckoned.
    """
    wishes = wishes or wishes_of(coming)
    chosen, rest = _same_lots(recipe, coming.pots)
    wishes = replace(wishes, weigh_once=_once_again(recipe, coming.pots), rest=rest)
    of = {key: day.number for key, day in days.days_of(coming.runs).items()}
    loads = [
        replace(beginning.load_of(_yarns(pot), pot.vessel, times), number=pot.number, day=of.get(pot.run_id))
        for pot in coming.pots
    ]
    promised = promised_by_lot(without=coming.pots)
    return beginning.reckon(recipe, loads, promised, chosen, wishes=wishes)


def wishes_of(coming):
    """The `Wishes` that all of these pots were planned with. Raises ValueError where they differ."""
    if coming.hold is None or coming.scales is None:
        raise ValueError(f"{' '.join(coming.apart)} Choose what all of them are to follow.")
    return Wishes(hold=coming.hold, scales=coming.scales)


def _yarns(pot):
    return [(Yarn.of_row(row), row.skeins or 1) for row in pot.yarns.all()]


def _once_again(recipe, pots):
    """Keys of the lines of the version whose substance these pots' plan weighs once for all of them."""
    once = {line.substance for line in _weighed_once(pots)}
    return frozenset(each.pk for each in ingredients_of(with_steps(recipe)) if each.substance in once)


def _same_lots(recipe, pots):
    """For each line of the version the lot that the pots' plan has for its substance, and the one that has the rest of
    it where there are two; each as {ingredient key: lot key}.
    """
    planned, lots = PlanLine.objects.filter(batch__in=pots, lot__isnull=False).order_by("batch", "position"), {}
    for line in planned:
        lots.setdefault((line.dye_id, line.assistant_id, line.solution_id), {})[line.lot_id] = True
    chosen, rest = {}, {}
    for each in ingredients_of(with_steps(recipe)):
        found = lots.get((each.dye_id, each.assistant_id, each.solution_id), ())
        for of, lot in zip((chosen, rest), found, strict=False):
            of[each.pk] = lot
    return chosen, rest


def change(run, coming, recipe, *, by, times=None, why="", wishes=None, clock=timezone.now):
    """Plan the pots still to come anew: from this version or, where dyes are changed, from the next one made from it.

    Answers the version. Raises ValueError with a sentence where a pot was begun, or planned anew, since `coming` was
    read; then nothing is stored.
    """
    with transaction.atomic():
        Run.lock_all(pot.run_id for pot in coming.pots)  # before the colourway, which the next version locks
        if times:
            note = said(run, coming, recipe, times, why)
            recipe = changing.next_with(recipe, times, by=by, now=clock(), note=note)
        worked = work_out(recipe, coming, wishes=wishes)
        plans = {
            pot: (planned.water_ml, [PlanLine(**line.facts()) for line in planned.lines])
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
