"""Finding again: one field, filters that narrow it, and what was found."""

from datetime import date
from urllib.parse import urlencode

from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_GET

from batches import finding
from batches.forms.finding import FindForm
from studio import doors

PAGES = {
    "colourway": "batches:colourway",
    "base": "studio:base",
    "dye": "studio:dye",
    "solution": "studio:solution",
    "assistant": "studio:assistant",
    "lot": "studio:lot",
}
KINDS = {
    "colourway": "Colourway",
    "base": "Base",
    "dye": "Dye",
    "solution": "Bottle",
    "assistant": "Acid or other",
    "lot": "Lot",
}


@require_GET
def find(request):
    form = FindForm(request.GET)
    wrong = not form.is_valid()
    question = form.question()
    kinds = [kind for kind in PAGES if doors.allows(request.user, PAGES[kind])]
    before = _read_place(request.GET.get("before"))
    answer = finding.find(question, kinds=kinds, before=before)
    asked = form.asked()
    context = {
        "here": "find",
        "form": form,
        "question": question,
        "q": form.text(),
        "answer": answer,
        "things": [(KINDS[one.kind], one, reverse(PAGES[one.kind], args=[one.key])) for one in answer.things],
        "filters": filters_of(form, asked),
        "instead": ways_out(form, answer, asked),
        "older": answer.older and address(asked | {"before": _write_place(answer.older)}),
        "newest": address(asked),
        "later_page": before is not None,
        "has_errors": wrong,
    }
    template = "batches/_found.html" if request.htmx and not request.htmx.boosted else "batches/find.html"
    page = render(request, template, context, status=422 if wrong else 200)
    patch_vary_headers(page, ["HX-Request"])
    return page


def address(asked, *, without=""):
    """The address of this page for what is asked for, less one part of it."""
    left = {name: value for name, value in asked.items() if name != without}
    return f"{reverse('batches:find')}?{urlencode(left)}" if left else reverse("batches:find")


def filters_of(form, asked):
    """The filters that narrow it, each with the address without it."""
    return [{"label": label, "said": said, "off": address(asked, without=name)} for name, label, said in form.said()]


def ways_out(form, answer, asked):
    """What to ask instead, where nothing was found: [(sentence, address, runs or None)]."""
    labels = {name: f"{label.lower()} {said}" for name, label, said in form.said()}
    names = {"first": "from", "last": "to"}
    ways = []
    for name, runs in answer.instead.without:
        name = names.get(name, name)
        ways.append((f"Without {labels[name]}", address(asked, without=name), runs))
    for word, runs in answer.instead.fewer:
        rest = " ".join(other for other in form.question().words if other != word)
        ways.append((f"Without “{word}”", address(asked | {"q": rest}), runs))
    if meant := answer.instead.nearest:
        ways.append((f"“{meant}” instead", address(asked | {"q": meant}), answer.instead.nearest_runs))
    return ways


def moved(request):
    """The journal's old address of a search leads here."""
    return redirect(f"{reverse('batches:find')}?{urlencode({'q': request.GET['q']})}")


def _write_place(place):
    day, key = place
    return f"{day}.{key}"


def _read_place(text):
    try:
        day, _, key = (text or "").partition(".")
        return date.fromisoformat(day), int(key[:18])
    except ValueError:
        return None
