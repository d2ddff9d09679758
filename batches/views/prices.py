"""Prices: for each base what a first is sold for, what the last ones cost, and what is left."""

from dataclasses import dataclass

from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from batches.forms.prices import PriceForm, RuleForm
from batches.prices import Priced, priced_bases, propose


@dataclass(frozen=True)
class Row(Priced):
    """A base with the form of its price, and what the rule proposes or why it can't."""

    form: PriceForm
    proposed: object = None
    problem: str = ""


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
        "rows": [row_of(each, request.studio, form, rule) for each in priced_bases(request.studio)],
        "rule": rule,
        "form": form,
        "forms": [form, rule],
        "tax_pct": request.studio.tax_pct,
    }
    status = 422 if form is not None or (rule.is_bound and not rule.is_valid()) else 200
    return render(request, "batches/prices.html", context, status=status)


def row_of(known, studio, sent, rule):
    """The row of a `Priced`, with the form as it was sent or anew."""
    base, share, proposed, problem = known.base, known.share, None, ""
    form = sent
    if sent is None or sent.prefix != f"base-{base.pk}":
        form = PriceForm(prefix=f"base-{base.pk}", initial={"base": base.pk, "price": base.price_minor})
    if rule.is_bound and rule.is_valid() and share is not None and share.sheet.currency == studio.currency:
        try:
            proposed = propose(known.cost, studio, rule.cleaned_data)
        except ValueError as no_price:
            problem = str(no_price)
    return Row(base, share, known.left, form, proposed, problem)
