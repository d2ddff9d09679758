"""What a run cost."""

from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from batches import costs
from batches.costbar import bar_of
from batches.models import CostSheet
from batches.views.run import the_run
from studio.forms.once import OnceForm
from studio.money import to_minor
from studio.once import only_once


@require_http_methods(["GET", "POST"])
def cost(request, code):
    """The frozen sheet, or the cost as it would be frozen now; a POST freezes it."""
    the = the_run(code)
    form = OnceForm(request.POST if request.method == "POST" else None)
    context = {"here": "journal", "run": the, "form": form}
    try:
        if form.is_bound and form.is_valid():
            return only_once(request, form.cleaned_data["once"], lambda: freeze(the, request.user))
        sheets = list(CostSheet.objects.filter(run=the).select_related("by").order_by("-number"))
        if sheets and "now" not in request.GET:
            context |= frozen_context(sheets[0]) | {"earlier": sheets[1:]}
        else:
            context |= worked_context(the, request.studio)
    except ValueError as problem:
        context |= {"problem": str(problem), "nothing_made": isinstance(problem, costs.NothingMade)}
    return render(request, "batches/cost.html", context, status=422 if form.is_bound else 200)


def freeze(the, person):
    costs.freeze(the, by=person)
    return reverse("batches:cost", args=[the.code])


def frozen_context(sheet):
    return {
        "sheet": sheet,
        "old": costs.out_of_date(sheet),
        "total_minor": sheet.total_minor,
        "currency": sheet.currency,
        "at_least": sheet.at_least,
        "said": sheet.said.splitlines(),
        **parts_of(sheet.lines.all(), costs.named_shares(sheet)),
    }


def worked_context(the, studio):
    """The same for a sheet that is only worked out: unsaved rows in the place of stored ones."""
    worked, outputs = costs.worked_out(the, studio)
    currency = studio.currency
    return {
        "sheet": None,
        "total_minor": to_minor(worked.total, currency),
        "currency": currency,
        "at_least": worked.at_least,
        "said": worked.said,
        **parts_of(costs.unsaved_lines(worked, currency), costs.unsaved_shares(worked, outputs, currency)),
    }


def parts_of(lines, shares):
    kinds = costs.by_kind(lines)
    alike = costs.alike(shares)
    return {
        "kinds": kinds,
        "bar": bar_of(kinds),
        "shares": [share for share in alike if share.output.sellable],
        "others": [share for share in alike if not share.output.sellable],
    }
