"""The one way a form for a named thing of the shelf is shown, judged and kept."""

from dataclasses import dataclass, field

from django.contrib import messages
from django.db import IntegrityError, transaction
from django.shortcuts import redirect, render
from django.urls import reverse

from studio.forms.rows import asked_for_more, with_one_more
from studio.once import only_once
from studio.views.door import asked_for


@dataclass(frozen=True)
class Page:
    """What differs between these pages. `goes_to`: the view that shows the thing, given its key if `by_key`."""

    title: str
    button: str
    goes_to: str
    by_key: bool = True
    template: str = "studio/shelf/thing_form.html"
    context: dict = field(default_factory=dict)

    def url(self, row):
        return reverse(self.goes_to, args=[row.pk] if self.by_key else [])


def named_page(request, page, form_class, row=None, rows=None):
    """Show or take a form. `rows`: a function (data or None) -> the set of rows under the form, if it has one."""
    if request.method == "POST":
        form = form_class(request.POST, request.FILES, row=row)
        formset = rows and rows(request.POST)
        if formset is not None and asked_for_more(request.POST, formset.prefix):
            more = with_one_more(request.POST, formset.prefix, formset.max_num)
            return _show(request, page, form.unjudged(), row, rows(more).unjudged())
        good = all([form.is_valid(), formset is None or formset.is_valid()])
        if good and (done := _keep(request, page, form, formset)):
            return done
        return _show(request, page, form, row, formset, status=422)
    return _show(request, page, form_class(row=row), row, rows and rows(None))


def _keep(request, page, form, formset):
    """The way on, or None where the form has something to put right after all."""
    if hasattr(form, "keep_sheet") and not form.keep_sheet(request.user):
        return None

    def act():
        made = form.keep() if formset is None else form.keep(formset)
        messages.success(request, f"{made} is kept.")
        return asked_for(request) or page.url(made)

    try:
        if form.row is None:
            return only_once(request, form.cleaned_data["once"], act)
        with transaction.atomic():
            return redirect(act())
    except IntegrityError:  # somebody else took the name since it was looked up
        form.add_error("name", form.taken_sentence)
        return None


def _show(request, page, form, row, formset, status=200):
    context = {"title": page.title, "button": page.button, "form": form, "formset": formset, "row": row}
    return render(request, page.template, {"here": "shelf"} | context | page.context, status=status)
