"""Finish: what came out, the verdict, and what to do next time."""

from uuid import uuid5

from django.db import transaction
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from batches.forms.finishing import FinishForm, OutputRows
from batches.models import Batch, BatchYarn, Finish, Output, Stamp, State, tally
from batches.views.run import the_run
from studio import units
from studio.forms.rows import asked_for_more, with_one_more
from studio.once import only_once


@require_http_methods(["GET", "POST"])
def finish(request, code):
    the = the_run(code)
    if the.state == State.PLANNED:
        return redirect("batches:run", code)
    batches = list(Batch.objects.filter(run=the).select_related("vessel", "run").order_by("number"))
    yarns = (
        BatchYarn.objects.named()
        .filter(batch__run=the)
        .select_related("batch__vessel")
        .order_by("batch__number", "position")
    )
    data = request.POST if request.method == "POST" else None
    more = data is not None and asked_for_more(data, "out")
    form = FinishForm(data, pots=len(batches))
    grown = with_one_more(data, "out") if more else data
    rows = OutputRows(grown, prefix="out", initial=expected(batches), form_kwargs={"yarns": yarns})
    if more:
        form, rows = form.unjudged(), rows.unjudged()
    if data is not None and not more and form.is_valid() & rows.is_valid():
        try:
            return only_once(request, form.cleaned_data["once"], lambda: store(request.user, the, batches, form, rows))
        except ValueError as problem:
            form.add_error("why_off", str(problem))
    context = {
        "here": "journal",
        "run": the,
        "form": form,
        "rows": rows,
        "forms": [form, rows],
        "pots": in_and_out(batches),
    }
    bound = data is not None and not more
    return render(request, "batches/finish.html", context, status=422 if bound else 200)


def expected(batches):
    """One line for each yarn that has skeins still to come out, as firsts."""
    return [
        {"yarn": yarn.pk, "grade": Output.Grade.FIRST, "skeins": (went_in or 0) - out or None}
        for batch in batches
        for yarn, went_in, out in tally(batch)
        if went_in is None or went_in > out
    ]


def in_and_out(batches):
    return [(batch, yarn, went_in, out) for batch in batches for yarn, went_in, out in tally(batch)]


def store(person, the, batches, form, rows):
    """Finish every pot that something came out of. The address to go on to."""
    said = form.cleaned_data
    by_batch = {batch.pk: [] for batch in batches}
    for row in rows.forms:
        if row.has_something():
            by_batch[row.cleaned_data["yarn"].batch_id].append(output_of(row.cleaned_data))
    if not any(by_batch.values()):
        raise ValueError("Say how many skeins came out of at least one pot.")
    facts = {name: said.get(name, "") for name in ("verdict", "next_time", "snippet", "why_off")}
    with transaction.atomic():
        for batch in sorted(batches, key=lambda batch: batch.pk):
            if by_batch[batch.pk]:
                stamp = Stamp(by=person, id=uuid5(said["once"], str(batch.pk)), together=said["once"])
                Finish.log(batch, stamp, outputs=by_batch[batch.pk], pots_match=form.matches(), **facts)
    return reverse("batches:run", args=[the.code])


def output_of(row):
    weight = row.get("skein_g")
    return Output(
        yarn=row["yarn"],
        grade=row["grade"],
        skeins=row["skeins"],
        skein_g=None if weight is None else units.normalise(weight).number,
        name=row.get("name", ""),
    )
