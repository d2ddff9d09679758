"""When a phone has to fetch the pages for logging to a pot anew: their version stands on the pot's sink page."""

import hashlib

from django.db.models import Count, Max

from recipes.models import HouseStep, Place
from studio import offline
from studio.models import Lot, Person, Studio

from .models import PlanLine


def version(batch):
    """Changes when something on these pages does: what can be chosen, who is there, what is planned, the program.

    The phone keeps them for each person, or for whoever touches a name; so who is dyeing now is no part of it.
    How much is left in a bottle and what was used last are on them too, and are let grow old: they change with each
    line of the log, and the phone would fetch all pages after each.
    """
    said = [
        offline.version() if offline.has_worker() else "",
        Lot.objects.aggregate(Max("pk"))["pk__max"],
        list(Person.objects.filter(is_active=True).aggregate(Max("pk"), Count("pk")).values()),
        list(batch.run.batches.values_list("pk", "state").order_by("pk")),
        list(PlanLine.objects.filter(batch=batch).aggregate(Max("pk"), Count("pk")).values()),
        list(HouseStep.objects.values_list().order_by("pk")),
        list(Place.objects.values_list().order_by("pk")),
        list(Studio.objects.values_list()),
    ]
    return hashlib.sha256(repr(said).encode()).hexdigest()[:16]
