"""What a run cost."""

from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from batches import costs
from batches.models import CostSheet
from batches.views.run import the_run
from studio.money import to_minor


@require_http_methods(["GET", "POST"])
def cost(request, code):
    """The frozen sheet, or the cost as it would be frozen now; a POST freezes it."""
    the = the_run(code)
    context = {"here": "journal", "run": the}
    try:
        if request.method == "POST":
            costs.freeze(the, by=request.user)
            return redirect("batches:cost", code)
        frozen = CostSheet.objects.filter(run=the).order_by("-number").first()
        if frozen is not None and "now" not in request.GET:
            context |= frozen_context(frozen)
        else:
            context |= worked_context(the, request.studio)
    except costs.NothingMade as problem:
        context["problem"] = str(problem)
    return render(request, "batches/cost.html", context)


def frozen_context(sheet):
    shares = list(sheet.shares.select_related("output__yarn__lot__base", "output__yarn__base"))
    return {
        "sheet": sheet,
        "old": costs.out_of_date(sheet),
        "total_minor": sheet.total_minor,
        "currency": sheet.currency,
        "kinds": costs.by_kind(sheet.lines.all()),
        "at_least": sheet.at_least,
        "said": sheet.said.splitlines(),
        "shares": [share for share in shares if share.output.sellable],
        "others": [share for share in shares if not share.output.sellable],
    }


def worked_context(the, studio):
    """The same for a sheet that is only worked out: unsaved rows in the place of stored ones."""
    worked, outputs = costs.worked_out(the, studio)
    currency = studio.currency
    lines = [costs.unsaved_line(line, currency) for line in worked.lines]
    shares = [costs.unsaved_share(share, outputs[share.output_key], currency) for share in worked.shares if share.count]
    return {
        "sheet": None,
        "total_minor": to_minor(worked.total, currency),
        "currency": currency,
        "kinds": costs.by_kind(lines),
        "at_least": worked.at_least,
        "said": worked.said,
        "shares": [share for share in shares if share.output.sellable],
        "others": [share for share in shares if not share.output.sellable],
    }
