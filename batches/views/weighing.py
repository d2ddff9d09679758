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

ROW = re.compile(r"gross_([0-9]{1,15})")
KEY = re.compile(r"[0-9]{1,15}")


@never_cache
@require_http_methods(["GET", "POST"])
def weigh_in(request):
    if request.method == "POST":
        form = WeighInForm(
            request.POST, lots=weighin.some([int(found[1]) for name in request.POST if (found := ROW.fullmatch(name))])
        )
        if form.is_valid():
            return only_once(request, form.cleaned_data["once"], lambda: store(form, request.dyeing))
        return render(
            request, "batches/weigh_in.html", {"here": "shelf", "form": form, "groups": [("", form.rows())]}, status=422
        )
    asked = weighin.some([int(key) for key in request.GET.getlist("lot")[:50] if KEY.fullmatch(key)])
    known = {lot.pk for lot in asked}
    touched = [lot for lot in weighin.to_weigh(start_of_today()) if lot.pk not in known]
    known |= {lot.pk for lot in touched}
    planned = weighin.for_today(but=known)
    form = WeighInForm(lots=[*asked, *touched, *planned])
    rows = {row["lot"].pk: row for row in form.rows()}
    groups = [
        ("Asked for", [rows[lot.pk] for lot in asked]),
        ("Used today, or used without weighing", [rows[lot.pk] for lot in touched]),
        ("Planned, not used yet", [rows[lot.pk] for lot in planned]),
    ]
    return render(
        request,
        "batches/weigh_in.html",
        {"here": "shelf", "form": form, "groups": [group for group in groups if group[1]]},
    )


def start_of_today():
    return timezone.localtime().replace(hour=0, minute=0, second=0, microsecond=0)


def store(form, person):
    """Weigh what was written, lots in key order. The address of what came of it."""
    made = [weighin.weigh(lot, gross, by=person, opening_g=opening).pk for lot, gross, opening in form.weights()]
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
