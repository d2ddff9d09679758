"""The samples of a run, as its page and its plan show them: a bar or a photo each, in a row or in a triangle."""

from dataclasses import dataclass, field, replace
from decimal import Decimal

from . import depth
from .models import PhotoTaken, PlanLine
from .triangle import Cell, triangle_of


@dataclass(frozen=True)
class Shown:
    """One sample as the run's page shows it. `photo`: the newest dry one that shows it alone, or None."""

    batch: object
    photo: object
    segments: list
    as_planned: bool = False  # whether the segments are what is planned, as nothing went in yet
    dyes: set = field(default_factory=set)  # of its plan

    @property
    def dye_g(self):
        """What is known of its dye."""
        return sum((segment.share for segment in self.segments if segment.share is not None), Decimal(0))


def in_a_triangle(samples):
    """The `Triangle` of a run's samples, or None. `samples`: what `samples_of` gave."""
    return triangle_of(
        [(Cell(one.batch.number, one.batch.label, one.segments, one.photo), one.dyes) for one in samples]
    )


def plan_in_a_triangle(worked):
    """The `Triangle` of a worked-out plan of samples, or None."""
    return triangle_of(
        [(Cell(pot.number, pot.load.label, pot.segments()), {dye for dye, _ in pot.dyes}) for pot in worked.pots]
    )


def samples_of(run, batches, photos):
    """[Shown] of a run whose pots have labels; [] of any other. `photos`: what `photos.photos_of` gave.

    Costs three queries where there are labels, and none where there are not.
    """
    labelled = [batch for batch in batches if batch.label]
    if not labelled:
        return []
    fed = depth.fed_of_batches(labelled)
    planned = depth.planned_by("batch", PlanLine.objects.filter(batch__run=run))
    dry = [photo for photo in photos if photo.stage == PhotoTaken.Stage.DRY]
    alone = {photo.pots[0].pk: photo for photo in dry if len(photo.pots) == 1}
    return _in_one_order(
        Shown(
            batch,
            alone.get(batch.pk),
            depth.segments(fed.get(batch.pk) or planned.get(batch.pk) or []),
            not fed.get(batch.pk),
            {one.dye for one in planned.get(batch.pk, [])},
        )
        for batch in labelled
    )


def _in_one_order(samples):
    """Samples with the dyes of all bars in the same order, so that neighbours can be compared."""
    samples = list(samples)
    places = {name: place for place, name in enumerate(_names(samples))}
    return [replace(one, segments=sorted(one.segments, key=lambda segment: places[segment.name])) for one in samples]


def _names(samples):
    return dict.fromkeys(segment.name for one in samples for segment in one.segments)


def most_dye_g(samples):
    """On which scale the bars of a run's samples stand: so much dye is as wide as any; None where nothing is known."""
    return max((one.dye_g for one in samples), default=None) or None
