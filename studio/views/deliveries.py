"""What comes in: a delivery, and what was here before anybody wrote it down."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from studio.forms.deliveries import NO_PRICE, DeliveryForm, LineFormSet, OpeningForm, goods
from studio.forms.rows import asked_for_more, with_one_more
from studio.models import Delivery, Lot
from studio.once import only_once
from studio.receiving import landed_minor, receive
from studio.views.door import asked_for


@require_safe
def delivery(request, pk):
    delivery = get_object_or_404(Delivery.objects.select_related("by"), pk=pk)
    lots = delivery.lots.select_related("base", "dye", "assistant").with_facts()
    return render(request, "studio/shelf/delivery.html", {"delivery": delivery, "lots": lots, "here": "shelf"})


@require_http_methods(["GET", "HEAD", "POST"])
def new(request):
    """A delivery of several lines. `?what=base-3` starts with that on the first line."""
    things = {"goods": goods()}
    if request.method != "POST":
        formset = LineFormSet(initial=[_first_line(request)], form_kwargs=things)
        return _show(request, DeliveryForm(), formset)
    form, formset = DeliveryForm(request.POST), LineFormSet(request.POST, form_kwargs=things)
    if asked_for_more(request.POST, "form"):
        more = LineFormSet(with_one_more(request.POST, "form", formset.max_num), form_kwargs=things)
        return _show(request, form.unjudged(), more.unjudged())
    if all([form.is_valid(), formset.is_valid()]) and (costs := _costs(request, form, formset)) is not None:
        return only_once(request, form.cleaned_data["once"], lambda: _receive(request, form, formset, costs))
    return _show(request, form, formset, status=422)


def _first_line(request):
    """What the page was asked to begin with, and the unit that goes with it."""
    what = request.GET.get("what", "")
    return {"what": what, "amount": ("", "g") if what.startswith(("dye", "assistant")) else None}


def _costs(request, form, formset):
    """What each line cost with its share of carriage and duty; None, with sentences, where that can't be shared."""
    rows, extras = formset.rows(), form.extras_minor()
    prices = [row.cleaned_data["price"] for row in rows]
    if extras and None in prices:
        for row in rows:
            if row.cleaned_data["price"] is None:
                row.add_error("price", NO_PRICE)
        return None
    try:
        return landed_minor(prices, extras)
    except ValueError as problem:
        form.add_error("carriage" if form.cleaned_data["carriage"] else "duty", str(problem))
        return None


def _receive(request, form, formset, costs):
    lines = [row.lot_facts() for row in formset.rows()]
    made = receive(lines, by=request.user, came_at=form.cleaned_data["came_at"], costs=costs, **form.facts())
    messages.success(request, "The delivery is on the shelf.")
    return reverse("studio:delivery", args=[made.pk])


def _show(request, form, formset, status=200):
    context = {"form": form, "formset": formset, "here": "shelf"}
    return render(request, "studio/shelf/delivery_form.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
def opening(request):
    """One lot that is here already, without a delivery."""
    things = goods()
    if request.method != "POST":
        form = OpeningForm(goods=things, initial=_first_line(request))
    else:
        form = OpeningForm(request.POST, goods=things)
        if form.is_valid():
            return only_once(request, form.cleaned_data["once"], lambda: _open(request, form))
    return render(
        request, "studio/shelf/opening.html", {"form": form, "here": "shelf"}, status=422 if form.is_bound else 200
    )


def _open(request, form):
    came_at = form.cleaned_data["came_at"] or timezone.now()
    lot = Lot.receive(by=request.user, came_at=came_at, cost_minor=form.cleaned_data["price"], **form.lot_facts())
    messages.success(request, "It is on the shelf.")
    return asked_for(request) or lot
