"""What was said for the next time is put into a recipe: the next version, with the note beside it."""

from django.contrib import messages
from django.http import Http404
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from batches import next_time
from batches.views.run import known_by, the_run
from recipes.forms import VersionForm
from recipes.views import beginning, taken_before, version_page
from studio.once import only_once

LONGEST_NOTE = 3000  # what is said for the next time has no limit of its own; the version's note has


@require_http_methods(["GET", "HEAD", "POST"])
def put(request, code, key):
    """Write the next version with what a run said for the next time; kept, the note is not open any more."""
    run = the_run(code)
    note = next_time.note_by(run, key)
    if note is None or run.colourway_id is None:
        raise Http404
    colourway = run.colourway
    start = beginning(colourway, request.GET.get("from", ""))
    data = request.POST if request.method == "POST" else None
    form = VersionForm(data, start=start, initial={"note": note.words[:LONGEST_NOTE]})
    if form.is_bound:
        if done := taken_before(form):
            return done
        if form.is_valid():
            try:
                return only_once(request, form.cleaned_data["once"], lambda: keep(request, form, note, start))
            except next_time.AlreadyPut as problem:
                form.add_error(None, str(problem))
    last = colourway.recipes.order_by("-number").values_list("number", flat=True).first() or 0
    return version_page(request, form, colourway, number=last + 1, start=start, beside=note)


def keep(request, form, note, start):
    now = timezone.now()
    by = {"by": request.user, "now": now}
    known = known_by(request)
    version = next_time.put_in_next(
        note, lambda: form.write_next(note.run.colourway, start=start, **by), known=known, **by
    )
    messages.success(request, f"Version {version.number} is kept, with what {note.run.code} said for the next time.")
    return reverse("recipes:recipe", args=[version.pk])
