"""Colourways: all of them, and one with its versions and runs."""

from django.core.paginator import Paginator
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from batches import colourways as pages
from batches.side_by_side import MOST, choose, side_by_side
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


@require_safe
def close(request, pk):
    """How close a colourway's batches came: two to four of them side by side, what differed first."""
    the = get_object_or_404(Colourway, pk=pk)
    keys = [int(key) for key in request.GET.getlist("pot") if key.isdecimal() and len(key) < 18]
    chosen, offered, too_many = choose(the, keys)
    context = {"colourway": the, "offered": offered, "too_many": too_many, "most": MOST, "chosen": chosen}
    if len(chosen) > 1:
        columns, compared = side_by_side(chosen)
        shares = [sum(one.share for one in column.segments if one.share) for column in columns]
        recipes = list(dict.fromkeys(pot.recipe for pot in chosen if pot.recipe))
        context |= {
            "columns": columns,
            "compared": compared,
            "scale": max(shares) or None,
            "versions": recipes[:2] if len(recipes) > 1 else [],
        }
    return render(request, "batches/close.html", context | HERE)
