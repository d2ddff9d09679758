"""The shelf from a spreadsheet: paste, look it over, put the good rows on the shelf, put the others right."""

from django.contrib import messages
from django.db import IntegrityError
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.html import format_html
from django.views.decorators.http import require_http_methods, require_safe

from recipes.paste_forms import PasteForm
from recipes.pasting import KINDS, judge
from studio import sheet, spreadsheet
from studio.forms.text import tidy
from studio.models import Studio
from studio.once import only_once, taken_before
from studio.units import write_count

CHANGED = "The shelf or the box has changed since you looked, so nothing was put there: look it over once more."


class Changed(Exception):
    """What would be made now is not what the person looked at."""


@require_http_methods(["GET", "HEAD", "POST"])
def paste(request, slug="bases"):
    """One box for six kinds of list. What is in it waits, for this person on this device, until it is on the shelf."""
    kind = KINDS.get(slug)
    if kind is None:
        raise Http404("no such list")
    if request.method != "POST":
        return show(request, kind, PasteForm(initial={"text": begins_with(request, kind)}))
    form = PasteForm(request.POST, request.FILES)
    if not form.is_valid():
        return page(request, kind, form, status=422)
    text = form.cleaned_data["text"]
    if request.POST.get("do") == "keep" and form.cleaned_data["seen"]:
        return keep(request, kind, form, text)
    keep_in_box(request, kind, text)
    return show(request, kind, PasteForm(initial={"text": text}), remark=form.remark)


def place(kind):
    """Where this person's box is kept between two looks at it."""
    return f"paste-{kind.slug}"


def keep_in_box(request, kind, text):
    """What stands in the box, for the next look at it; an empty one takes no room."""
    if text.strip():
        request.session[place(kind)] = text
    else:
        request.session.pop(place(kind), None)


def begins_with(request, kind):
    if "example" in request.GET:
        return example_of(kind)
    return request.session.get(place(kind), "")


def keep(request, kind, form, text):
    """Make what the good rows say, all or none; the others stay in the box."""
    done = {}

    def act():
        Studio.objects.select_for_update().get(pk=Studio.get().pk)  # two who paste at once: one after the other
        made, outcome = judge(kind, text)
        if not outcome.good or outcome.seal(kind.slug, text) != form.cleaned_data["seen"]:
            raise Changed
        made.keep(outcome.good, by=request.user)
        done["rest"], done["outcome"] = outcome.rest(), outcome
        return reverse("recipes:paste", args=[kind.slug])

    try:
        answer = only_once(request, form.cleaned_data["once"], act)
    except (Changed, IntegrityError):
        if before := taken_before(request):  # the other press of this very button was quicker
            return redirect(before)
        return show(request, kind, PasteForm(initial={"text": text}), changed=True)
    if done:
        keep_in_box(request, kind, done["rest"])
        messages.success(request, said(kind, done["outcome"]))
    return answer


def said(kind, outcome):
    """What happened, in a sentence."""
    first = (
        f"{write_count(len(outcome.good), kind.noun)} {'is' if len(outcome.good) == 1 else 'are'} in the studio now."
    )
    if outcome.bad:
        rows = write_count(len(outcome.bad), "row")
        return f"{first} {rows} {'is' if len(outcome.bad) == 1 else 'are'} left in the box, with what to put right."
    return format_html('{} <a href="{}">Go on from the journal</a>', first, reverse("home"))


def show(request, kind, form, changed=False, remark=""):
    """The page, with what its box would make."""
    text = tidy(form.initial["text"])
    outcome = judge(kind, text)[1] if text.strip() else None
    seen = outcome.seal(kind.slug, text) if outcome else ""
    if outcome and outcome.trouble:
        return page(request, kind, wrong(form, text, "", "text", outcome.trouble), status=422)
    if changed:
        return page(request, kind, wrong(form, text, seen, None, CHANGED), outcome, status=422)
    form.initial["seen"] = seen
    return page(request, kind, form, outcome, remark)


def wrong(form, text, seen, field, sentence):
    """The same form as if it had been sent, with what is wrong."""
    sent = PasteForm({"text": text, "once": form["once"].value(), "seen": seen})
    sent.is_valid()
    sent.add_error(field, sentence)
    return sent


def page(request, kind, form, outcome=None, remark="", status=200):
    context = {
        "here": "shelf",
        "kind": kind,
        "kinds": KINDS.values(),
        "form": form,
        "outcome": outcome,
        "remark": remark,
        "table": outcome.table() if outcome else None,
        "example": example_of(kind),
        "most_rows": sheet.MOST_ROWS,
    }
    return render(request, "recipes/paste.html", context, status=status)


def example_of(kind):
    """A few rows to begin from, in this studio's own units."""
    made = kind()
    if hasattr(made, "example_text"):
        return made.example_text()
    return sheet.write(made.example(), ";")


@require_safe
def template(request, slug):
    """The headings with an example below them, as a CSV file."""
    kind = KINDS.get(slug)
    if kind is None:
        raise Http404("no such list")
    made = kind()
    headings = [column.label for column in made.columns]
    example = made.example()
    rows = [[dict(zip(example[0], row, strict=True)).get(name, "") for name in headings] for row in example[1:]]
    # The mark in front tells spreadsheets how the letters are written.
    body = "\ufeff" + "".join(spreadsheet.lines([headings, *rows]))
    answer = HttpResponse(body.encode(), content_type="text/csv; charset=utf-8")
    answer.headers["Content-Disposition"] = f'attachment; filename="{kind.slug}.csv"'
    return answer
