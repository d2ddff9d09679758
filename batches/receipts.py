"""A new powder lot and what it will go into: the standards that use its dye, and the runs that are still to be dyed."""

from collections import defaultdict
from dataclasses import dataclass, field

from django.db.models import F, Q

from recipes.models import Recipe
from studio.models import Lot

from .models import PlanLine, State

MOST_OLDER = 3


@dataclass
class Wanted:
    """What one powder lot is for. `standards`: versions; `runs`: those that still take its dye; `older`: other lots of
    it that still hold something.
    """

    lot: Lot
    standards: list = field(default_factory=list)
    runs: list = field(default_factory=list)
    older: list = field(default_factory=list)


def wanted_for(lots):
    """[Wanted] of the powder lots among these. Three queries where there are any, however many lots."""
    powders = [lot for lot in lots if lot.dye_id]
    if not powders:
        return []
    dyes = {lot.dye_id for lot in powders}
    standards, runs, others = _standards(dyes), _runs(dyes), _others(dyes)
    return [
        Wanted(
            lot,
            standards[lot.dye_id],
            runs[lot.dye_id],
            [other for other in others[lot.dye_id] if other.pk != lot.pk][-MOST_OLDER:],
        )
        for lot in powders
    ]


def _by_dye(pairs):
    """{dye key: [each thing once, in order]} of pairs of a dye's key and a thing."""
    found = defaultdict(dict)
    for dye, thing in pairs:
        found[dye][thing.pk] = thing
    return defaultdict(list, {dye: list(things.values()) for dye, things in found.items()})


def _standards(dyes):
    """Pinned versions that use these dyes, by a line of their own or in a mixed bottle."""
    line = "steps__ingredients__"
    wanted = Q(**{f"{line}dye__in": dyes}) | Q(**{f"{line}solution__parts__dye__in": dyes})
    pinned = Recipe.objects.filter(wanted, colourway__standard=F("pk"), colourway__retired=False)
    rows = pinned.select_related("colourway").order_by("colourway__name")
    rows = rows.annotate(own=F(f"{line}dye"), mixed=F(f"{line}solution__parts__dye"))
    return _by_dye((dye, recipe) for recipe in rows for dye in (recipe.own, recipe.mixed) if dye in dyes)


def _runs(dyes):
    """Runs of which a pot still waits for these dyes, as powder or out of a bottle: planned, or running by now."""
    wanted = Q(dye__in=dyes) | Q(lot__contents__source__dye__in=dyes) | Q(solution__parts__dye__in=dyes)
    lines = PlanLine.objects.filter(wanted, batch__state__in=[State.PLANNED, State.RUNNING])
    lines = (
        lines.with_done()
        .filter(done=False)
        .select_related("batch__run__colourway")
        .order_by("batch__run__day", "batch__run")
    )
    rows = lines.annotate(held=F("lot__contents__source__dye"), mixed=F("solution__parts__dye"))
    return _by_dye(
        (dye, line.batch.run) for line in rows for dye in (line.dye_id, line.held, line.mixed) if dye in dyes
    )


def _others(dyes):
    """Lots of these dyes that still hold something, the oldest first."""
    there = Lot.objects.filter(dye__in=dyes).with_on_hand().with_facts().in_use().select_related("dye")
    return _by_dye((lot.dye_id, lot) for lot in there.order_by("came_at", "pk"))
