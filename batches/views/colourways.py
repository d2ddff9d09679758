"""Colourways: all of them, and one with its versions and runs."""

from django.core.paginator import Paginator
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from batches import colourways as pages
from recipes.models import Colourway
from studio.forms.text import tidy

PAGE = 48
HERE = {"here": "colourways"}


@require_safe
def colourways(request):
    """The ones that are dyed, by name; those no longer dyed on request."""
    text, retired = tidy(request.GET.get("q", "")).strip()[:200], "retired" in request.GET
    found = pages.find(text).filter(retired=retired).order_by("name")
    page = Paginator(pages.for_rows(found), PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "rows": pages.rows(page.object_list),
        "q": text,
        "retired": retired,
        "has_retired": not retired and Colourway.objects.filter(retired=True).exists(),
    }
    return render(request, "batches/colourways.html", context | HERE)


@require_safe
def colourway(request, pk):
    the = get_object_or_404(Colourway, pk=pk)
    return render(request, "batches/colourway.html", pages.page_of(the) | HERE)
