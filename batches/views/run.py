"""A run's page, and what is done to a run as a whole."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from batches import beginning, replanning
from batches.forms.series import MatchForm
from batches.forms.starting import AbandonForm, DayForm, NameForm, SayYarnForm
from batches.models import BatchYarn, Run, State
from batches.record import batches_of, cost_of, log_of, record_of
from batches.side_by_side import invitation
from batches.telling import lines_of
from batches.whole_log import days_of, said_of

LINES_SHOWN = 24  # on the run's own page; the whole log has one of its own
LINES_A_PAGE = 100


def known_by(request):
    """The number of the newest version that the page which was sent knew of; 0: of none."""
    said = request.POST.get("known", "")
    return int(said) if said.isascii() and said.isdecimal() and len(said) < 9 else 0


def the_run(code):
    shown = Run.objects.select_related("colourway", "recipe", "cover", "cover_photo__entry", "by")
    return get_object_or_404(shown, code=code)


@require_GET
def run(request, code):
    return run_page(request, the_run(code))


def run_page(request, the, match=None):
    """The page of a run. `match`: what was said of its samples and could not be taken, a `MatchForm`."""
    record = record_of(the)
    strength = record["strength"]
    if match is None and strength and strength["dyed"]:
        match = MatchForm(test=strength["test"], rungs=strength["rungs"])
    said = said_of(lines_of(record["entries"]), record["batches"])
    context = {
        "here": "journal",
        "run": the,
        **record,
        "match": match,
        "invitation": invitation(the, record["batches"]),
        "forms": [match],
        "cost": cost_of(the, request.studio) if request.user.sees_costs and the.state != State.PLANNED else {},
        "days": days_of(said[-LINES_SHOWN:]),
        "said": len(said),
        "shown": min(len(said), LINES_SHOWN),
        "may_log": request.user.may_log and the.state != State.PLANNED,
        "to_come": the.recipe_id and replanning.any_to_come(the, record["work"]),
    }
    return render(request, "batches/run.html", context, status=422 if match is not None and match.is_bound else 200)


@require_GET
def whole_log(request, code):
    """The log of a run from its first line, in pages where it is very long."""
    the = the_run(code)
    batches = batches_of(the)
    said = said_of(lines_of(log_of(the, batches)), batches)
    page = Paginator(said, LINES_A_PAGE).get_page(page_asked_for(request, said))
    context = {"here": "journal", "run": the, "batches": batches, "days": days_of(page.object_list), "page": page}
    return render(request, "batches/whole_log.html", context)


def page_asked_for(request, said):
    """The number of the page that is wanted, or that `line`, the key of an entry, stands on."""
    line = request.GET.get("line", "")
    for place, one in enumerate(said if line else ()):
        if line in {str(entry.pk) for entry in one.entries}:
            return place // LINES_A_PAGE + 1
    return request.GET.get("page")


@require_POST
def start(request, code):
    the = the_run(code)
    the.start(by=request.user)
    if the.state != State.RUNNING:
        return redirect("batches:run", code)
    return redirect("batches:sink", the.batches.order_by("number").first().pk)


@require_http_methods(["GET", "POST"])
def name(request, code):
    """Name a run that began without a colourway."""
    the = the_run(code)
    initial = {"colourway": the.colourway_id, "title": the.title}
    form = NameForm(request.POST if request.method == "POST" else None, initial=initial)
    if the.recipe_id:
        messages.error(request, "A run from a recipe keeps its colourway’s name.")
        return redirect("batches:run", code)
    if request.method == "POST" and form.is_valid():
        try:
            beginning.call_it(the, by=request.user, **form.cleaned_data)
            return redirect("batches:run", code)
        except ValueError as problem:
            form.add_error("title", str(problem))
    return one_form(request, the, form, "What to call it", "Keep the name")


@require_http_methods(["GET", "POST"])
def say_yarn(request, code):
    """Say which yarn went into the pots, where nobody had."""
    the = the_run(code)
    unnamed = list(BatchYarn.objects.filter(batch__run=the, source=BatchYarn.Source.UNLABELLED).order_by("pk"))
    if not unnamed:
        return redirect("batches:run", code)
    initial = {"skeins": unnamed[0].skeins or 1}
    form = SayYarnForm(request.POST if request.method == "POST" else None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            beginning.say_yarn(unnamed, by=request.user, **form.cleaned_data)
        except ValueError as problem:
            messages.error(request, str(problem))
        return redirect("batches:run", code)
    return one_form(request, the, form, "Which yarn it is", "Keep it")


@require_http_methods(["GET", "POST"])
def another_day(request, code):
    """Plan a run for another day."""
    the = the_run(code)
    form = DayForm(request.POST if request.method == "POST" else None, initial={"day": the.day})
    if the.state != State.PLANNED:
        messages.error(request, "Only a planned run can be moved to another day.")
        return redirect("batches:run", code)
    if request.method == "POST" and form.is_valid():
        try:
            the.dye_on(form.cleaned_data["day"])
        except ValueError as problem:
            messages.error(request, str(problem))
        return redirect("batches:run", code)
    return one_form(request, the, form, "Dye it on another day", "Keep the day")


@require_http_methods(["GET", "POST"])
def abandon(request, code):
    the = the_run(code)
    form = AbandonForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            the.abandon(why=form.cleaned_data["why"], by=request.user)
        except ValueError as problem:
            messages.error(request, str(problem))
        return redirect("batches:run", code)
    return one_form(request, the, form, "Give the run up", "Give it up", "batches/give_up.html")


def one_form(request, the, form, title, button, template="batches/run_form.html"):
    context = {"here": "journal", "run": the, "form": form, "title": title, "button": button}
    return render(request, template, context, status=422 if form.is_bound else 200)
