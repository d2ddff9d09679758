"""What a studio always does and says: the list, one of it, its order, and what to begin with."""

from dataclasses import dataclass

from django.contrib import messages
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio import writing
from studio.units import NO_BREAK_SPACE, write_c, write_count, write_number
from studio.views.named import Page, named_page

from . import house
from .house_forms import KINDS, METHODS, HouseStepForm, PlaceForm
from .models import HouseStep, Method, Place


@dataclass(frozen=True)
class List:
    """One of the two lists of the page. `noun` is one of its rows, `slug` its place in addresses."""

    slug: str
    model: type
    form: type
    title: str
    noun: str
    about: str


LISTS = {
    "places": List(
        "places", Place, PlaceForm, "Places on the yarn", "place", "What is offered where something goes in."
    ),
    "steps": List(
        "steps", HouseStep, HouseStepForm, "Steps as usual", "step", "Each is a button at the sink: one touch logs it."
    ),
}
HERE = {"here": "studio"}


@require_safe
def house_page(request):
    return render(request, "recipes/house.html", {"lists": [shown(one) for one in LISTS.values()]} | HERE)


def shown(one):
    """A list as the page draws it: by way of dyeing, what is no longer used, and what there is to begin with."""
    rows = list(one.model.objects.all())
    for row in rows:
        row.told = told(row)
    used = [row for row in rows if not row.retired]
    groups = [
        (method, word, found) for method, word in METHODS if (found := [row for row in used if row.method == method])
    ]
    begun = {row.method for row in rows}
    offers = [(method, word, house.usual(one.model, method)) for method, word in METHODS if method not in begun]
    return {
        "list": one,
        "groups": groups,
        "retired": [row for row in rows if row.retired],
        "offers": [offer for offer in offers if offer[2]],
    }


def told(row):
    """What a step says beside its name: "Hold, 85 °C, 30 min. Lid on."."""
    if isinstance(row, Place):
        return ""
    said = [dict(KINDS).get(row.kind, row.kind)]
    if row.temperature_c is not None:
        said.append(write_c(row.temperature_c, writing.current().system))
    if row.minutes is not None:
        said.append(duration(row.minutes))
    return f"{', '.join(said)}. {row.words}".strip()


def duration(minutes):
    """Whole hours as hours, anything else in minutes."""
    hours, rest = divmod(minutes, 60)
    return (
        f"{write_number(hours)}{NO_BREAK_SPACE}h"
        if hours > 1 and not rest
        else f"{write_number(minutes)}{NO_BREAK_SPACE}min"
    )


@require_http_methods(["GET", "HEAD", "POST"])
def row_new(request, slug):
    one = the_list(slug)
    return named_page(request, page_of(one, f"Add a {one.noun}", "Add it"), one.form)


@require_http_methods(["GET", "HEAD", "POST"])
def row(request, slug, pk):
    one = the_list(slug)
    found = get_object_or_404(one.model, pk=pk)
    return named_page(request, page_of(one, f"Change {found}", "Keep it"), one.form, row=found)


@require_POST
def row_move(request, slug, pk):
    one = the_list(slug)
    house.move(get_object_or_404(one.model, pk=pk), -1 if request.POST.get("to") == "up" else 1)
    return redirect(f"{reverse('recipes:house')}#{slug}")


@require_POST
def begin(request, slug):
    """Take over what is usual for one way of dyeing."""
    one, method = the_list(slug), request.POST.get("method", "")
    if method not in ("", *Method.values):
        messages.error(request, "Choose one of the sets on this page.")
        return redirect("recipes:house")
    added = house.take_over(one.model, method)
    messages.success(request, f"{write_count(added, one.noun)} added." if added else "These are all there already.")
    return redirect(f"{reverse('recipes:house')}#{slug}")


def the_list(slug):
    if slug not in LISTS:
        raise Http404("There is no such list.")
    return LISTS[slug]


def page_of(one, title, button):
    return Page(title, button, "recipes:house", by_key=False, template="recipes/house_form.html", context=HERE)
