"""Where on the yarn: the studio's own names for places, else the usual ones for a way of dyeing; last said, first."""

from recipes.house import USUAL_PLACES
from recipes.models import Place

from .models import Addition, PlanLine

MOST = 8
RECENT = 40


def places_for(batch, person):
    """What to offer: said before in this run, this person's first; then the studio's own, or the usual ones."""
    found = [*said_in(batch.run_id, person), *own_or_usual(batch.run.method)]
    first_seen = {}
    for place in found:
        first_seen.setdefault(place.casefold(), place)
    return list(first_seen.values())[:MOST]


def own_or_usual(method):
    return list(Place.objects.for_method(method).values_list("words", flat=True)) or USUAL_PLACES[method]


def said_in(run_id, person):
    """Places that the log and the plan of a run have named: this person's newest first, then others', then planned."""
    said = Addition.objects.filter(entry__batch__run_id=run_id).exclude(place="").order_by("-entry__at")
    rows = list(said.values_list("place", "entry__by_id")[:RECENT])
    planned = PlanLine.objects.filter(batch__run_id=run_id).exclude(place="").order_by("position")
    return [
        *(place for place, by in rows if by == person.pk),
        *(place for place, by in rows if by != person.pk),
        *planned.values_list("place", flat=True)[:RECENT],
    ]
