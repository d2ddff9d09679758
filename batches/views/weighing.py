"""The weigh-in: a number for each jar and bottle, and what came of it."""

import re
from urllib.parse import urlencode

from django.db.models import Max
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods

from batches import weighin
from batches.forms.weighing import WeighInForm
from studio.models import Weighing
from studio.once import only_once

ANY = re.compile(r"(?:gross|opening|empty)_([0-9]{1,15})")
KEY = re.compile(r"[0-9]{1,15}")


@never_cache
@require_http_methods(["GET", "POST"])
def weigh_in(request):
    """The jars and bottles of this hour, a number each. One page for the morning and for the evening."""
    if request.method == "POST":
        form = WeighInForm(request.POST, lots=weighin.listed(weighin.some(written(request.POST))))
        if form.is_valid():
            return only_once(request, form.cleaned_data["once"], lambda: store(form, request.dyeing))
        return page(request, {lot.pk for lot in form.lots}, refused=True)
    return page(request, {int(key) for key in request.GET.getlist("lot")[:50] if KEY.fullmatch(key)})


def written(data):
    """Keys of the jars and bottles that something was written for."""
    return [int(found[1]) for name, text in data.items() if text.strip() and (found := ANY.fullmatch(name))]


def page(request, asked, refused=False):
    """The page; where it was refused, with what was written on it and what to put right."""
    sheet = weighin.sheet(timezone.now(), asked)
    form = WeighInForm(request.POST if refused else None, lots=sheet.lots)
    form.full_clean()
    rows = form.rows()
    context = {
        "here": "shelf",
        "form": form,
        "sheet": sheet,
        "groups": [(heading, [rows[lot.pk] for lot in lots]) for heading, lots in groups_of(sheet) if lots],
        "rest": [rows[lot.pk] for lot in sheet.rest],
    }
    return render(request, "batches/weigh_in.html", context, status=422 if refused else 200)


def groups_of(sheet):
    """[(heading, lots)] in the order in which they are put on the scale."""
    planned, used = ("Weigh these before you begin", sheet.planned), ("Used, and not weighed since", sheet.used)
    parts = [planned, used] if sheet.morning else [used, planned]
    return [("Asked for", sheet.asked), *parts]


def store(form, person):
    """Weigh what was written, lots in key order. The address of what came of it."""
    made = [
        weighin.weigh(lot, gross, by=person, opening_g=opening, empty_g=empty).pk
        for lot, gross, opening, empty in form.weights()
    ]
    return f"{reverse('batches:weigh-in-result')}?{urlencode({'from': min(made), 'to': max(made)})}"


@require_GET
def result(request):
    """What a weigh-in said, in words."""
    keys = [request.GET.get(name, "") for name in ("from", "to")]
    if not all(KEY.fullmatch(key) for key in keys):
        return redirect("batches:weigh-in")
    first, last = map(int, keys)
    # Others may weigh at the same moment: of those between, only this person's, and each lot's last.
    between = Weighing.objects.filter(pk__gte=first, pk__lte=min(last, first + 2000))
    weigher = between.order_by("pk").values_list("by", flat=True).first()
    lasting = between.filter(by=weigher).order_by().values("lot").annotate(last=Max("pk")).values("last")
    told = weighin.tell(Weighing.objects.filter(pk__in=lasting).order_by("pk"))
    return render(request, "batches/weighed.html", {"here": "shelf", "told": told})
