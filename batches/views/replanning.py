"""Change the pots still to come."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from batches import plan_sheet, replanning
from batches.forms.moving import MoveForm
from batches.forms.replanning import ChangeForm
from batches.views.run import the_run
from recipes.plans import Wishes
from studio.once import only_once


@require_http_methods(["GET", "POST"])
def replan(request, code):
    """Work out a change for the pots of a run, and of its later days, that are still to come; then keep it."""
    run = the_run(code)
    coming = replanning.to_come(run)
    if not coming.pots:
        return nothing_to_come(request, code)
    data = request.POST if request.method == "POST" else None
    form, move = forms_of(coming, data)
    worked = {}
    if data is not None and form.is_valid() & move.is_valid():
        try:
            if data.get("do") == "keep":
                return only_once(
                    request, form.cleaned_data["once"], lambda: keep(request.user, run, coming, form, move)
                )
            worked = worked_out(coming, form, move)
        except ValueError as problem:
            coming = replanning.to_come(run)  # others may have been quicker
            if not coming.pots:
                return nothing_to_come(request, code)
            form, move = forms_of(coming, data)
            if form.is_valid() & move.is_valid():  # else it says itself that others were quicker
                form.add_error("version", str(problem))
    context = {"here": "journal", "run": run, "coming": coming, "form": form, "move": move, "forms": [form, move]}
    status = 422 if data is not None and not worked else 200
    return render(request, "batches/replan.html", context | worked, status=status)


def nothing_to_come(request, code):
    messages.error(request, "No pot of this run is still to come with a plan of its own.")
    return redirect("batches:run", code)


def forms_of(coming, data):
    move = MoveForm(coming.recipe, data, {"hold": coming.hold, "scales": coming.scales})
    return ChangeForm(data, coming=coming, move=move), move


def wishes_of(move):
    return Wishes(**move.wishes())


def worked_out(coming, form, move):
    worked = replanning.work_out(form.cleaned_data["version"], coming, form.times(), wishes_of(move))
    return plan_sheet.shown(worked, max(pot.run.day for pot in coming.pots), called=coming.called_at)


def keep(person, run, coming, form, move):
    """Write the plans anew. The address of the run."""
    said = {"times": form.times(), "why": form.cleaned_data["why"], "wishes": wishes_of(move)}
    replanning.change(run, coming, form.cleaned_data["version"], by=person, **said)
    return reverse("batches:run", args=[run.code])
