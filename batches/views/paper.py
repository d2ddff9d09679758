"""Entries from paper: a photo of the page, and beside it the rows to copy it into."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from batches import copying
from batches.models import State
from batches.record import batches_of
from batches.views.run import the_run


@never_cache
@require_http_methods(["GET", "POST"])
def from_paper(request, code):
    run = the_run(code)
    if run.state == State.PLANNED:
        messages.error(request, "This run is not started yet: start it, then copy what was noted.")
        return redirect("batches:run", code)
    batches = batches_of(run)
    writer = copying.Writer(request.dyeing, request.user, request.who.named)
    if request.POST.get("kind") == "photo":
        return keep_photo(request, run, batches, writer)
    photos = copying.photos_of_notes(run)
    photo = copying.chosen(photos, request.POST.get("photo") or request.GET.get("photo", ""))
    copy = copying.Copy(run, batches, photo, writer, request.POST)
    done = request.method == "POST" and copy.take()
    if copy.kept:
        messages.success(request, copy.said())
    if done:
        return redirect(address_of(run, photo))
    return render(request, "batches/from_paper.html", context_of(copy, photos), status=422 if copy.refused else 200)


def keep_photo(request, run, batches, writer):
    answer = copying.keep_photo(request.POST, request.FILES, batches[0], writer)
    if answer.ok:
        return redirect(address_of(run, answer.entries[0]))
    copy = copying.Copy(run, batches, None, writer)
    copy.refuse_photo(answer)
    return render(request, "batches/from_paper.html", context_of(copy, []), status=answer.status)


def address_of(run, photo):
    address = reverse("batches:from-paper", args=[run.code])
    return f"{address}?photo={photo.pk}" if photo else address


def context_of(copy, photos):
    return {
        "here": "journal",
        "run": copy.run,
        "batches": copy.batches,
        "page": copy.photo,
        "pages": photos if len(photos) > 1 else [],
        "page_id": copy.id,
        "formset": copy.rows,
        "sheet": copy.sheet,
        "head": copy.head,
        "photo_form": copy.photo_form,
        "forms": [copy.head, *copy.sheet.forms(), copy.photo_form],
        "refused": copy.why,
    }
