"""Finish: what came out, the verdict, and what to do next time."""

from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from batches import days
from batches.forms.finishing import MOST_ROWS, FinishForm, OutputRows
from batches.models import BatchYarn, Entry, Finish, Output, State
from batches.record import batches_of
from batches.verdicts import outcome_of
from batches.views.run import the_run
from studio import units
from studio.forms.rows import asked_for_more, with_one_more
from studio.once import only_once

NOTHING_NEW = "Nothing here is new: write how many skeins came out, or change what is said of them."


@require_http_methods(["GET", "POST"])
def finish(request, code):
    the = the_run(code)
    if the.state == State.PLANNED:
        return redirect("batches:run", code)
    batches = batches_of(the)
    told = in_and_out(batches)
    form, rows, more = forms_of(request, the, batches, told)
    if form.is_bound and not more and form.is_valid() & rows.is_valid():
        try:
            return only_once(request, form.cleaned_data["once"], lambda: store(request.user, the, batches, form, rows))
        except ValueError as problem:
            form.add_error("why_off" if rows_filled(rows) else None, str(problem))
    about = {str(yarn.pk): (yarn, went_in, out) for _, yarn, went_in, out in told}
    context = {
        "here": "journal",
        "run": the,
        "form": form,
        "rows": rows,
        "forms": [form, rows],
        "expected": [(row, *about[str(row.yarn.pk)]) for row in rows if row.yarn is not None],
        "others": [row for row in rows if row.yarn is None],
        "pots": told,
        "wanted": days.wanted_of(the, days.work_of(the)),
        "all_out": all(batch.state == State.FINISHED for batch in batches),
    }
    return render(request, "batches/finish.html", context, status=422 if form.is_bound and not more else 200)


def forms_of(request, the, batches, told):
    """(What is said of the run, the rows of skeins, whether only another row was asked for)."""
    data = request.POST if request.method == "POST" else None
    more = data is not None and asked_for_more(data, "out")
    grown = with_one_more(data, "out", most=MOST_ROWS) if more else data
    yarns = {str(yarn.pk): yarn for _, yarn, _, _ in told}
    form = FinishForm(data, pots=len(batches), initial=said_before(the))
    rows = OutputRows(grown, prefix="out", initial=expected(told), form_kwargs={"yarns": yarns})
    return (form.unjudged(), rows.unjudged(), more) if more else (form, rows, more)


def in_and_out(batches):
    """[(pot, yarn, skeins that went in or None, skeins that came out so far)]. Two queries."""
    by_key = {batch.pk: batch for batch in batches}
    out = {}
    for yarn, skeins in Output.objects.standing().filter(yarn__batch__in=batches).values_list("yarn", "skeins"):
        out[yarn] = out.get(yarn, 0) + skeins
    told = []
    for yarn in BatchYarn.objects.named().filter(batch__in=batches).order_by("batch__number", "position"):
        yarn.batch = by_key[yarn.batch_id]
        told.append((yarn.batch, yarn, yarn.skeins, out.get(yarn.pk, 0)))
    return told


def expected(told):
    """One line for each yarn that has skeins still to come out, as firsts."""
    return [
        {
            "expected": True,
            "yarn": str(yarn.pk),
            "grade": Output.Grade.FIRST,
            "skeins": None if went_in is None else went_in - out,
        }
        for _, yarn, went_in, out in told
        if went_in is None and not out or went_in is not None and went_in > out
    ]


def said_before(the):
    """What earlier finishes said of the run, so that a later one changes it and does not start anew."""
    finishes = Entry.objects.standing().filter(batch__run=the, kind=Entry.Kind.FINISH)
    outcome = outcome_of(finishes.in_order().select_related("finish"))
    return {
        "verdict": outcome.verdict,
        "next_time": outcome.next_time,
        "snippet": outcome.snippet,
        "pots_match": {True: "yes", False: "no"}.get(outcome.pots_match, ""),
    }


def rows_filled(rows):
    return [row.cleaned_data for row in rows.forms if row.has_something()]


def store(person, the, batches, form, rows):
    """Finish every pot that something came out of. The address to go on to."""
    outputs = [output for row in rows_filled(rows) for output in outputs_of(row)]
    if not outputs and all(batch.state == State.FINISHED for batch in batches) and not form.says_anything_new():
        raise ValueError(NOTHING_NEW)
    said = {name: form.cleaned_data.get(name, "") for name in ("verdict", "next_time", "snippet", "why_off")}
    once = form.cleaned_data["once"]
    Finish.log_of_pots(batches, by=person, together=once, outputs=outputs, pots_match=form.matches(), **said)
    return reverse("batches:run", args=[the.code])


def outputs_of(row):
    """The outputs of one row: its skeins, and the seconds told beside them."""
    told = [(row["grade"], row.get("skeins")), (Output.Grade.SECOND, row.get("seconds"))]
    return [output_of(row, grade, skeins) for grade, skeins in told if skeins]


def output_of(row, grade, skeins):
    weight, length = row.get("skein_g"), row.get("skein_m")
    return Output(
        yarn=row["yarn"],
        grade=grade,
        skeins=skeins,
        skein_g=None if weight is None else units.normalise(weight).number,
        skein_m=None if length is None else units.normalise(length).number,
        name=row.get("name", ""),
    )
