"""A log becomes a recipe version: by one touch where nothing is open, else on a page that asks."""

from django.contrib import messages
from django.http import Http404
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from batches import capture as capturing
from batches.forms.capture import CaptureForm
from batches.views.run import known_by, the_run
from recipes.models import Recipe
from recipes.outline import rows_of
from studio.forms.once import OnceForm
from studio.once import only_once

TOUCH, LOOK = "touch", "look"


@require_http_methods(["GET", "POST"])
def capture(request, code):
    """The recipe that a run's log makes, or one pot's of it. The run's own button makes it at once where nothing is
    open; else it leads to the page that asks.
    """
    the, pot = the_run(code), request.GET.get("pot", "")
    draft = read(the, pot)
    if request.method == "POST" and request.POST.get("do") == TOUCH:
        return touched(request, the, draft, pot)
    data = request.POST if request.method == "POST" else None
    form = None if draft.problem or draft.must_choose else CaptureForm(data, draft=draft)
    looks = data is not None and data.get("do") == LOOK
    if form is not None and form.is_bound and form.is_valid() and not looks:
        try:
            return only_once(request, form.cleaned_data["once"], lambda: keep(request, draft, form.answers(), form))
        except ValueError as problem:
            of_name = "name" in form.fields and not isinstance(problem, capturing.AlreadyTaken)
            form.add_error("name" if of_name else None, str(problem))
    context = {"here": "journal", "run": the, "draft": draft, "form": form, "pot": pot}
    context |= {"made": preview(draft, form), "one_pot": pot and pot != capturing.ALL}
    return render(request, "batches/capture.html", context, status=422 if form is not None and form.errors else 200)


def read(run, pot):
    try:
        return capturing.draft_of(run, pot)
    except ValueError:
        raise Http404 from None


def touched(request, run, draft, pot):
    """One touch: the version, where nothing has to be said first."""
    form = OnceForm(request.POST)
    page = f"{reverse('batches:capture', args=[run.code])}{f'?pot={pot}' if pot else ''}"
    if draft.asks or not form.is_valid():
        return redirect(page)
    try:
        return only_once(request, form.cleaned_data["once"], lambda: keep(request, draft, None, None))
    except capturing.AlreadyTaken as problem:
        messages.error(request, str(problem))
        return redirect(page)


def keep(request, draft, answers, form):
    """The version is made; the address of its page, which says what was decided."""
    name = form.its_name() if form is not None else None
    known = known_by(request)
    version = capturing.keep(draft, answers, by=request.user, now=timezone.now(), name=name, known=known)
    messages.success(
        request,
        f"Version {version.number} is taken from the log. Look it over: until a batch uses it, it can be changed.",
    )
    return reverse("recipes:recipe", args=[version.pk])


def preview(draft, form):
    """The version as it would be by now, for the page; None where its yarn is not weighed yet, or pots differ."""
    if form is None:
        return None
    answers = form.answers() if form.is_bound and form.is_valid() else capturing.Answers()
    if not draft.fibre_known and answers.fibre_g is None:
        return None
    made = capturing.settled(draft, answers)
    rows = rows_of(Recipe(**made.facts), made.steps)
    return {"rows": rows, "note": made.note, "fibre_g": made.facts["fibre_g"]}
