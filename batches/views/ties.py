"""Ways in with a phone's camera: tie labels of a run, labels of the pots, and what a pot's code opens."""

from django.conf import settings
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from batches import ties as labels
from batches import vessels
from batches.forms.ties import DESIGNS, PotCodesForm, TiesForm
from batches.views.run import the_run
from batches.views.tags import sheet_map
from studio import printing
from studio.models import Vessel


@require_safe
def ties(request, code):
    """Tie labels: which pots, how many, on what; sent on with `print`, the sheet itself."""
    the = the_run(code)
    form = TiesForm(said(request), pots=labels.pots_of(the), initial={"paper": request.studio.paper})
    sheet = sheet_of(form, title=f"Tie labels, {the.code}", name=f"ties-{the.code}")
    if sheet is not None:
        return sheet
    context = {"run": the, "form": form, "sheets": sheets(form, [design for design, _ in DESIGNS])}
    return render(request, "batches/ties.html", frame() | context, status=422 if form.is_bound else 200)


@require_safe
def pot_codes(request):
    """Labels for the pots and jars themselves."""
    usual = {"paper": request.studio.paper, "vessels": Vessel.objects.filter(retired=False)}
    form = PotCodesForm(said(request), initial=usual)
    sheet = sheet_of(form, title="Labels for pots", name="pots", design="label")
    if sheet is not None:
        return sheet
    context = {"here": "shelf", "form": form, "sheets": sheets(form, ["label"])}
    return render(request, "batches/tie_pots.html", frame() | context, status=422 if form.is_bound else 200)


@never_cache
@require_safe
def pot(request, vessel_pk, number):
    """Whatever is in this pot or jar now: its sink page, or a choice where the log does not tell."""
    vessel = get_object_or_404(Vessel, pk=vessel_pk)
    found = vessels.in_it(vessel, number)
    if len(found.here) == 1:
        batch = found.here[0]
        if request.user.may_log:
            return redirect("batches:sink", batch.pk)
        return redirect("batches:run", batch.run.code)
    context = {"here": "journal", "vessel": vessel, "name": vessels.name_of(vessel, number), "found": found}
    return render(request, "batches/tie_pot.html", context)


def said(request):
    return request.GET if "print" in request.GET else None


def sheet_of(form, title, name, design=None):
    """The PDF as an answer; None where there is something to put right first, which the form says then."""
    if not form.is_bound or not form.is_valid():
        return None
    chosen = form.cleaned_data
    try:
        pdf = labels.draw(form.wanted(), design or chosen["design"], chosen["paper"], chosen["start_at"], title=title)
    except (ValueError, printing.PrinterMissing) as problem:
        form.add_error(None, str(problem))
        return None
    answer = HttpResponse(pdf, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return answer


def sheets(form, designs):
    return [sheet_map(design, form["paper"].value()) for design in designs]


def frame():
    """What both pages say of the address that the codes lead to."""
    return {"here": "journal", "leads_to": settings.BASE_URL, "only_here": settings.ONLY_HERE}
