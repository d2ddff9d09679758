"""What a first of a base is sold for against what the last one cost: what is left of it, and what a rule proposes."""

from dataclasses import dataclass

from django.db.models import OuterRef, Q, Subquery

from studio import money
from studio.models import Base

from .costbar import price_bar
from .models import CostShare, Output


@dataclass(frozen=True)
class Priced:
    """A base, the newest frozen cost of a first of it, and what its price leaves; None while one is not known."""

    base: Base
    share: CostShare | None
    left: money.Left | None

    @property
    def cost(self):
        """Of the dearest skein of its newest share."""
        return money.from_minor(self.share.least_each + (1 if self.share.dearer else 0), self.share.sheet.currency)

    @property
    def short(self):
        """How far the price falls short of the cost."""
        return -self.left.left

    @property
    def margin(self):
        """What is left, in percent of the price without tax; None of a price that is nothing."""
        return round(100 * self.left.left / self.left.net, 1) if self.left.net else None

    @property
    def bar(self):
        return price_bar(self.cost, self.left) if self.left else ()


def priced_bases(studio):
    """[Priced] of the bases in use. Two queries, however many there are and however long the past."""
    newest = CostShare.objects.filter(
        Q(output__yarn__base=OuterRef("pk")) | Q(output__yarn__base=None, output__yarn__lot__base=OuterRef("pk")),
        output__grade=Output.Grade.FIRST,
    ).order_by("-sheet__frozen_at", "-pk")
    bases = list(Base.objects.filter(retired=False).annotate(newest=Subquery(newest.values("pk")[:1])))
    shares = CostShare.objects.select_related("sheet__run").in_bulk([base.newest for base in bases if base.newest])
    return [priced(base, shares.get(base.newest), studio) for base in bases]


def priced(base, share, studio):
    """A cost in another currency than today's is not one to reckon with."""
    known = Priced(base, share, None)
    if base.price_minor is None or share is None or share.sheet.currency != studio.currency:
        return known
    price = money.from_minor(base.price_minor, studio.currency)
    places = money.minor_units(studio.currency)
    return Priced(base, share, money.what_is_left(price, known.cost, tax_pct=studio.tax_pct, places=places))


def propose(cost, studio, said):
    """The least price that keeps what the rule wants of it; with its ending. Raises ValueError where none is enough.

    `said`: {"keep", "fee": percent or None, "ending": text}.
    """
    places = money.minor_units(studio.currency)
    taken = {"tax_pct": studio.tax_pct, "fee_pct": said["fee"] or 0}
    price = money.price_for_margin(cost, said["keep"] or 0, places=places, **taken)
    return money.up_to_ending(price, said["ending"]) if said["ending"] else price
