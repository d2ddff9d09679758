"""Goods come in: the lines of a delivery become lots, with carriage and duty in their cost."""

from django.db import transaction
from django.utils import timezone

from studio import money
from studio.models import Delivery, Lot


def landed_minor(prices_minor, extras_minor):
    """What each line cost with its share of carriage and duty, in minor units; None where no price is known.

    The parts sum to all prices and extras together. Raises ValueError with a sentence where the extras can't be
    shared, because a price is missing or nothing is worth anything.
    """
    if not extras_minor:
        return list(prices_minor)
    whole = money.landed_costs(prices_minor, extras_minor, places=0)
    return [int(cost) for cost in whole]


def receive(lines, *, by, came_at=None, clock=timezone.now, costs=None, **delivery):
    """One delivery with its lots. `lines`: the facts of each lot as `Lot.receive` takes them.

    `costs`: what each line cost, landed, in minor units or None; `delivery`: the facts of the Delivery.
    """
    costs = costs or [None] * len(lines)
    with transaction.atomic():
        now = clock()
        came_at = came_at or now
        made = Delivery.objects.create(came_at=came_at, recorded_at=now, by=by, **delivery)
        for line, cost in zip(lines, costs, strict=True):
            Lot.receive(by=by, came_at=came_at, clock=clock, delivery=made, cost_minor=cost, **line)
    return made
