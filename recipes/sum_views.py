"""The page of the sums."""

from django.shortcuts import render
from django.views.decorators.http import require_safe

from recipes.sum_forms import SumForm
from recipes.sums import all_sums


@require_safe
def sums(request):
    """Every sum with its example. `?sum=dye&fibre=115&...` reckons one of them with somebody's own numbers."""
    asked = request.GET.get("sum")
    groups = [
        (heading, [(one, SumForm(request.GET if one.key == asked else None, of=one)) for one in rows])
        for heading, rows in all_sums()
    ]
    forms = [form for _, rows in groups for _, form in rows if form.is_bound]
    return render(request, "recipes/sums.html", {"groups": groups, "forms": forms, "here": "studio"})
