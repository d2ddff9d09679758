"""Prices: for each base what a first is sold for, what the last ones cost, and what is left."""

from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from batches.forms.prices import PriceForm
from batches.models import CostShare, Output
from studio import money
from studio.models import Base


@require_http_methods(["GET", "POST"])
def prices(request):
    form = PriceForm(request.POST, prefix=prefix_of(request.POST)) if request.method == "POST" else None
    if form is not None and form.is_valid():
        base = form.cleaned_data["base"]
        base.price_minor = form.cleaned_data["price"]
        base.save(update_fields=["price_minor"])
        return redirect("batches:prices")
    rows = price_rows(request.studio, form)
    context = {"here": "prices", "rows": rows, "form": form}
    return render(request, "batches/prices.html", context, status=422 if form is not None else 200)


def prefix_of(data):
    """Which of the page's small forms was sent: each names itself."""
    return data.get("which", "")[:30]


def price_rows(studio, sent):
    """One row for each base: its form, the cost of a first by its newest sheet, and what the price leaves."""
    newest = newest_costs()
    found = []
    for base in Base.objects.filter(retired=False):
        prefix = f"base-{base.pk}"
        form = (
            sent
            if sent is not None and sent.prefix == prefix
            else PriceForm(prefix=prefix, initial={"base": base.pk, "price": base.price_minor})
        )
        share = newest.get(base.pk)
        found.append({"base": base, "form": form, "share": share, "left": left_of(base, share, studio)})
    return found


def newest_costs():
    """{base key: CostShare of the newest frozen sheet's firsts}. One query."""
    shares = CostShare.objects.filter(output__grade=Output.Grade.FIRST, output__yarn__base__isnull=False)
    shares = shares.select_related("sheet__run", "output__yarn").order_by("sheet__frozen_at", "pk")
    return {share.output.yarn.base_id: share for share in shares}


def left_of(base, share, studio):
    """What a sold first leaves, as `money.Left`; None while price or cost is not known."""
    if base.price_minor is None or share is None or share.sheet.currency != studio.currency:
        return None
    price = money.from_minor(base.price_minor, studio.currency)
    dearest = share.least_each + (1 if share.dearer else 0)
    cost = money.from_minor(dearest, studio.currency)
    return money.what_is_left(price, cost, tax_pct=studio.tax_pct, places=money.minor_units(studio.currency))
