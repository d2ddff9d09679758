"""Change the pots still to come."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from batches import hazards, plan_sheet, replanning
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
    recipe = coming.pots[0].recipe if coming.pots else None
    if recipe is None:
        messages.error(request, "No pot of this run is still to come with a plan of its own.")
        return redirect("batches:run", code)
    data = request.POST if request.method == "POST" else None
    form, move = ChangeForm(data, recipe=recipe), MoveForm(recipe, data, replanning.wishes_of(coming))
    context = {"here": "journal", "run": run, "coming": coming, "form": form, "move": move, "forms": [form, move]}
    if data is not None and form.is_valid() & move.is_valid():
        try:
            if data.get("do") == "keep":
                return only_once(
                    request, form.cleaned_data["once"], lambda: keep(request.user, run, coming, form, move)
                )
            context |= worked_out(coming, form, move)
        except ValueError as problem:
            form.add_error("version", str(problem))
    status = 422 if data is not None and "worked" not in context else 200
    return render(request, "batches/replan.html", context, status=status)


def wishes_of(move):
    return Wishes(**move.wishes())


def worked_out(coming, form, move):
    worked = replanning.work_out(form.cleaned_data["version"], coming, form.times(), wishes_of(move))
    care, sheets = hazards.of_plan(worked)
    return {
        "worked": worked,
        "cards": plan_sheet.cards_of(worked, coming.called_at),
        "takes": plan_sheet.takes_of(worked),
        "short": worked.shortages,
        "care": care,
        "sheets": sheets,
        **plan_sheet.to_make(worked, "", max(pot.run.day for pot in coming.pots)),
    }


def keep(person, run, coming, form, move):
    """Write the plans anew. The address of the run."""
    said = {"times": form.times(), "why": form.cleaned_data["why"], "wishes": wishes_of(move)}
    replanning.change(run, coming, form.cleaned_data["version"], by=person, **said)
    return reverse("batches:run", args=[run.code])
