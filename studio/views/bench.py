"""Pots, scales and spoons."""

from django.contrib import messages
from django.db.models import Prefetch
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from studio import units
from studio.forms.bench import MeasureForm, ToolForm, VesselForm, WeighingForm
from studio.models import Measure, MeasureWeighing, Tool, Vessel
from studio.once import only_once
from studio.views.named import Page, named_page

BENCH = {"goes_to": "studio:bench", "by_key": False}


@require_safe
def bench(request):
    vessels = list(Vessel.objects.order_by("retired", "name"))
    jars = any(vessel.kind == Vessel.Kind.JAR for vessel in vessels)
    microwave = any(vessel.heater == Vessel.Heater.MICROWAVE for vessel in vessels)
    context = {
        "vessels": vessels,
        "care": [*(["jars"] if jars else []), *(["microwave"] if microwave else [])],
        "tools": Tool.objects.order_by("retired", "kind", "step"),
        "measures": Measure.objects.order_by("retired", "name").with_what_they_hold(),
        "here": "shelf",
    }
    return render(request, "studio/shelf/bench.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def vessel_new(request):
    return named_page(request, Page("Add a pot or jars", "Add it", **BENCH), VesselForm)


@require_http_methods(["GET", "HEAD", "POST"])
def vessel(request, pk):
    vessel = get_object_or_404(Vessel, pk=pk)
    return named_page(request, Page(f"Change {vessel}", "Keep it", **BENCH), VesselForm, row=vessel)


@require_http_methods(["GET", "HEAD", "POST"])
def tool_new(request):
    return named_page(request, Page("Add a scale or syringe", "Add it", **BENCH), ToolForm)


@require_http_methods(["GET", "HEAD", "POST"])
def tool(request, pk):
    tool = get_object_or_404(Tool, pk=pk)
    return named_page(request, Page(f"Change {tool}", "Keep it", **BENCH), ToolForm, row=tool)


@require_http_methods(["GET", "HEAD", "POST"])
def measure_new(request):
    return named_page(request, Page("Add a spoon or pinch", "Add it", "studio:measure"), MeasureForm)


@require_http_methods(["GET", "HEAD", "POST"])
def measure_edit(request, pk):
    measure = get_object_or_404(Measure, pk=pk)
    return named_page(request, Page(f"Change {measure}", "Keep it", "studio:measure"), MeasureForm, row=measure)


@require_http_methods(["GET", "HEAD", "POST"])
def measure(request, pk):
    """A measure with what was found by weighing it, and one more weighing."""
    weighings = MeasureWeighing.objects.select_related("dye", "by").order_by("-at", "-pk")
    measure = get_object_or_404(Measure.objects.prefetch_related(Prefetch("weighings", weighings)), pk=pk)
    form = WeighingForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        return only_once(request, form.cleaned_data["once"], lambda: _weigh(request, measure, form.cleaned_data))
    context = {"measure": measure, "form": form, "holds": measure.holds(), "here": "shelf"}
    return render(request, "studio/shelf/measure.html", context, status=422 if form.is_bound else 200)


def _weigh(request, measure, said):
    MeasureWeighing.objects.create(
        measure=measure,
        dye=said["dye"],
        fillings=said["fillings"],
        grams=units.normalise(said["grams"]).number,
        at=timezone.now(),
        by=request.dyeing,
    )
    messages.success(request, "The weighing is kept.")
    return reverse("studio:measure", args=[measure.pk])
