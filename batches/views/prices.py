"""Prices: for each base what a first is sold for, what the last ones cost, and what is left."""

from dataclasses import dataclass

from django.db.models import OuterRef, Q, Subquery
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from batches.costbar import price_bar
from batches.forms.prices import PriceForm, RuleForm
from batches.models import CostShare, Output
from studio import money
from studio.models import Base


@dataclass(frozen=True)
class Row:
    """A base with the form of its price, the newest frozen cost of a first, and what its price leaves of it."""

    base: Base
    form: PriceForm
    share: CostShare | None
    left: money.Left | None
    proposed: object = None
    problem: str = ""
    bar: tuple = ()

    @property
    def cost(self):
        """Of the dearest skein of its newest share."""
        return cost_of(self.share)

    @property
    def short(self):
        """How far the price falls short of the cost."""
        return -self.left.left

    @property
    def margin(self):
        """What is left, in percent of the price without tax; None of a price that is nothing."""
        return round(100 * self.left.left / self.left.net, 1) if self.left.net else None


@require_http_methods(["GET", "POST"])
def prices(request):
    form = PriceForm(request.POST, prefix=request.POST.get("which", "")[:30]) if request.method == "POST" else None
    if form is not None and form.is_valid():
        base = form.cleaned_data["base"]
        base.price_minor = form.cleaned_data["price"]
        base.save(update_fields=["price_minor"])
        return redirect("batches:prices")
    rule = RuleForm(request.GET if "keep" in request.GET else None)
    context = {
        "here": "prices",
        "rows": price_rows(request.studio, form, rule),
        "rule": rule,
        "form": form,
        "forms": [form, rule],
        "tax_pct": request.studio.tax_pct,
    }
    status = 422 if form is not None or (rule.is_bound and not rule.is_valid()) else 200
    return render(request, "batches/prices.html", context, status=status)


def price_rows(studio, sent, rule):
    """[Row] of the bases in use. Two queries, however many there are and however long the past."""
    newest = CostShare.objects.filter(
        Q(output__yarn__base=OuterRef("pk")) | Q(output__yarn__base=None, output__yarn__lot__base=OuterRef("pk")),
        output__grade=Output.Grade.FIRST,
    ).order_by("-sheet__frozen_at", "-pk")
    bases = list(Base.objects.filter(retired=False).annotate(newest=Subquery(newest.values("pk")[:1])))
    shares = CostShare.objects.select_related("sheet__run").in_bulk([base.newest for base in bases if base.newest])
    return [price_row(base, shares.get(base.newest), studio, sent, rule) for base in bases]


def price_row(base, share, studio, sent, rule):
    prefix = f"base-{base.pk}"
    if sent is not None and sent.prefix == prefix:
        form = sent
    else:
        form = PriceForm(prefix=prefix, initial={"base": base.pk, "price": base.price_minor})
    proposed, problem = None, ""
    if rule.is_bound and rule.is_valid() and share is not None and share.sheet.currency == studio.currency:
        try:
            proposed = propose(cost_of(share), studio, rule.cleaned_data)
        except ValueError as no_price:
            problem = str(no_price)
    left = left_of(base, share, studio)
    bar = price_bar(cost_of(share), left) if left else ()
    return Row(base, form, share, left, proposed, problem, bar)


def cost_of(share):
    """What the dearest skein of a share is booked at."""
    return money.from_minor(share.least_each + (1 if share.dearer else 0), share.sheet.currency)


def propose(cost, studio, said):
    """The least price that keeps what the rule wants of it; with its ending. Raises ValueError where none is enough."""
    places = money.minor_units(studio.currency)
    taken = {"tax_pct": studio.tax_pct, "fee_pct": said["fee"] or 0}
    price = money.price_for_margin(cost, said["keep"] or 0, places=places, **taken)
    return money.up_to_ending(price, said["ending"]) if said["ending"] else price


def left_of(base, share, studio):
    """What a sold first leaves, as `money.Left`; None while price or cost is not known."""
    if base.price_minor is None or share is None or share.sheet.currency != studio.currency:
        return None
    price = money.from_minor(base.price_minor, studio.currency)
    places = money.minor_units(studio.currency)
    return money.what_is_left(price, cost_of(share), tax_pct=studio.tax_pct, places=places)
