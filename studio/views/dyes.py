"""Dyes, assistants, and the masters of bottles."""

from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_http_methods, require_safe

from studio.cautions import of_substance
from studio.forms.dye import AssistantForm, DyeForm, PartFormSet, SolutionForm, part_rows_of, substances
from studio.models import Assistant, Dye, Lot, Solution
from studio.views.named import Page, named_page

MASTER = "studio/shelf/solution_form.html"


@require_safe
def dye(request, pk):
    dye = get_object_or_404(Dye.objects.select_related("sheet"), pk=pk)
    return _substance(request, dye, Lot.objects.filter(dye=dye), Solution.objects.filter(parts__dye=dye))


@require_http_methods(["GET", "HEAD", "POST"])
def dye_new(request):
    return named_page(request, Page("Add a dye", "Add it", "studio:dye"), DyeForm)


@require_http_methods(["GET", "HEAD", "POST"])
def dye_edit(request, pk):
    dye = get_object_or_404(Dye, pk=pk)
    return named_page(request, Page(f"Change {dye}", "Keep it", "studio:dye"), DyeForm, row=dye)


@require_safe
def assistant(request, pk):
    assistant = get_object_or_404(Assistant.objects.select_related("sheet"), pk=pk)
    masters = Solution.objects.filter(parts__assistant=assistant)
    return _substance(request, assistant, Lot.objects.filter(assistant=assistant), masters)


@require_http_methods(["GET", "HEAD", "POST"])
def assistant_new(request):
    return named_page(request, Page("Add acid or other", "Add it", "studio:assistant"), AssistantForm)


@require_http_methods(["GET", "HEAD", "POST"])
def assistant_edit(request, pk):
    assistant = get_object_or_404(Assistant, pk=pk)
    page = Page(f"Change {assistant}", "Keep it", "studio:assistant")
    return named_page(request, page, AssistantForm, row=assistant)


def _substance(request, thing, lots, masters):
    context = {
        "thing": thing,
        "is_dye": isinstance(thing, Dye),
        "lots": lots.select_related("dye", "assistant").with_on_hand().with_facts(),
        "care": of_substance(thing),
        "masters": masters.filter(retired=False).distinct(),
        "here": "shelf",
    }
    return render(request, "studio/shelf/substance.html", context)


@require_safe
def solution(request, pk):
    solution = get_object_or_404(Solution.objects.prefetch_related("parts__dye", "parts__assistant"), pk=pk)
    bottles = solution.lots.named().with_on_hand().with_facts().order_by("-came_at", "-pk")[:50]
    context = {"solution": solution, "bottles": bottles, "here": "shelf"}
    return render(request, "studio/shelf/solution.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def solution_new(request):
    page = Page("A new kind of bottle", "Add it", "studio:solution", template=MASTER)
    return named_page(request, page, SolutionForm, rows=_part_rows(None))


@require_http_methods(["GET", "HEAD", "POST"])
def solution_edit(request, pk):
    solution = get_object_or_404(Solution.objects.prefetch_related("parts"), pk=pk)
    page = Page(f"Change {solution}", "Keep it", "studio:solution", template=MASTER)
    return named_page(request, page, SolutionForm, row=solution, rows=_part_rows(solution))


def _part_rows(solution):
    known = substances()
    if solution is not None:  # what is in it already stays a choice, though no longer used
        parts = solution.parts.select_related("dye", "assistant")
        known |= {f"dye-{part.dye_id}": part.dye for part in parts if part.dye_id}
        known |= {f"assistant-{part.assistant_id}": part.assistant for part in parts if part.assistant_id}

    def rows(data):
        initial = None if data or solution is None else part_rows_of(solution)
        return PartFormSet(data, initial=initial, form_kwargs={"substances": known})

    return rows
