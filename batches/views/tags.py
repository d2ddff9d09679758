"""Tags: what they say, printed as a sheet that can be printed again."""

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from batches import tags as tagging
from batches.forms.tags import DESIGNS, TagRows, TagSheetForm
from batches.models import Output, TagPrint
from batches.tag_face import upright_bar
from batches.tag_sheet import tag_sheet
from batches.views.run import the_run
from studio import printing
from studio.once import only_once

SHEET_NAMES = {"swing": "Swing tags", "label": "Labels", "strip": "Strips"}
BAR_MM = 72.5  # of a swing tag on A4, as `.swing .colourbar` in tags.css


@require_http_methods(["GET", "POST"])
def tags(request, code):
    the = the_run(code)
    outputs = sellable_outputs(the)
    listed = list(outputs)
    if not listed:
        return render(request, "batches/no_tags.html", {"here": "journal", "run": the})
    facts = tagging.RunFacts.of(the)
    sayings = {output.pk: saying(output, request.studio, facts) for output in listed}
    form, rows = forms_of(request, outputs, sayings)
    if request.method == "POST" and "look" in request.GET:
        return look(request, form, rows, facts)
    if form.is_bound and form.is_valid() & rows.is_valid():
        try:
            faces = faces_of(form, rows, request.studio, facts)
            # Laid out before anything is kept: what does not fit is said, and no tag is on record that never was.
            draw(faces, form.cleaned_data)
            return only_once(request, form.cleaned_data["once"], lambda: keep(request.user, form.cleaned_data, faces))
        except (ValueError, printing.PrinterMissing) as problem:
            form.add_error(None, str(problem))
    context = {
        "here": "journal",
        "run": the,
        "form": form,
        "rows": rows,
        "forms": [form, rows],
        "pairs": [(row, sayings.get(as_key(row["output"].value()))) for row in rows.forms],
        "views": [view_of(said["face"]) for said in sayings.values() if "face" in said],
        "design": form["design"].value(),
        "sheets": [sheet_map(design, form["paper"].value()) for design, _ in DESIGNS],
        "printed": TagPrint.objects.filter(output__in=listed).order_by("-printed_at", "pk"),
    }
    return render(request, "batches/tags.html", context, status=422 if form.is_bound else 200)


def forms_of(request, outputs, sayings):
    """(What is said of the sheet, one row for each kind of skein)."""
    data = request.POST if request.method == "POST" else None
    usual_here = {"paper": request.studio.paper, "per_kilogram": by_the_kilogram(request.studio)}
    form = TagSheetForm(data, initial=usual_here)
    rows = TagRows(
        data, prefix="tag", initial=[usual(said) for said in sayings.values()], form_kwargs={"outputs": outputs}
    )
    return form, rows


def as_key(value):
    return int(value) if str(value).isdecimal() and len(str(value)) < 18 else None


def sellable_outputs(the):
    named = Output.objects.standing().select_related(
        "yarn__batch__run__colourway", "yarn__lot__base", "yarn__base", "yarn__output__yarn__lot__base"
    )
    fibres = named.prefetch_related("yarn__lot__base__fibres", "yarn__base__fibres")
    return fibres.filter(yarn__batch__run=the, grade__in=Output.SELLABLE).order_by("yarn__batch__number", "pk")


def usual(said):
    """A tag for each skein, at the base's usual price for a first; none where something stands in the way."""
    output = said["output"]
    return {
        "output": output.pk,
        "price": usual_price(output),
        "copies": None if "problem" in said else output.skeins,
    }


def usual_price(output):
    """In minor units: the base's usual price for a first; None for the rest."""
    base = output.yarn.known_base
    return base.price_minor if base and output.grade == Output.Grade.FIRST else None


def by_the_kilogram(studio):
    return studio.market != "US"


def saying(output, studio, facts):
    """What a tag of this output will say, or what stands in its way."""
    try:
        price = usual_price(output)
        face = tagging.face_of(
            output, price_minor=price, studio=studio, facts=facts, per_kilogram=by_the_kilogram(studio)
        )
    except tagging.NotReady as problem:
        return {"output": output, "problem": str(problem), "base": output.yarn.known_base}
    return {"output": output, "face": face, "hold": tagging.care_of(output, studio, facts=facts).hold}


def look(request, form, rows, facts):
    """How the tags would look with what is written in the page right now; nothing where that can't be said yet."""
    if not (form.is_valid() & rows.is_valid()):
        return HttpResponse(status=204)
    views, options = [], options_of(form)
    for said in (row.cleaned_data for row in rows.forms):
        try:
            views.append(
                view_of(
                    tagging.face_of(
                        said["output"], price_minor=said["price"], studio=request.studio, facts=facts, **options
                    )
                )
            )
        except tagging.NotReady:
            continue
    design, paper = form.cleaned_data["design"], form.cleaned_data["paper"]
    context = {"views": views, "design": design, "sheets": [sheet_map(design, paper) for design, _ in DESIGNS]}
    return render(request, "batches/_tag_views.html", context)


def view_of(face):
    """A face as the page draws it, with its colour bar."""
    return {"face": face, "bar": upright_bar(face.dyes, BAR_MM), "height": f"{BAR_MM:g}"}


def sheet_map(design, paper):
    """A sheet as it lies before the printer: its cells in their order, in mm. {} for what is not a sheet."""
    try:
        sheet = printing.sheet_for(design, paper)
    except ValueError:
        return {}
    across, down = sheet.width + sheet.gap_x, sheet.height + sheet.gap_y
    cells = [
        {
            "number": row * sheet.columns + column + 1,
            "x": f"{sheet.left + column * across:.1f}",
            "y": f"{sheet.top + row * down:.1f}",
            "middle": f"{sheet.left + column * across + sheet.width / 2:.1f}",
            "base": f"{sheet.top + row * down + sheet.height / 2 + 4:.1f}",
        }
        for row in range(sheet.rows)
        for column in range(sheet.columns)
    ]
    return {
        "name": SHEET_NAMES[design],
        "words": f"{sheet.cells} on a sheet, counted from the top left along the rows",
        "box": f"0 0 {sheet.paper_width:g} {sheet.paper_height:g}",
        "width": f"{sheet.width:.1f}",
        "height": f"{sheet.height:.1f}",
        "cells": cells,
    }


def options_of(form):
    return {name: form.cleaned_data[name] for name in ("first_wash", "with_bar", "per_kilogram")}


def faces_of(form, rows, studio, facts):
    """[(Output, face, copies, price)] of the rows that want tags."""
    options = options_of(form)
    found = []
    for said in (row.cleaned_data for row in rows.forms):
        if said.get("copies"):
            face = tagging.face_of(said["output"], price_minor=said["price"], studio=studio, facts=facts, **options)
            found.append((said["output"], face, said["copies"], said["price"]))
    if not found:
        raise ValueError("Say how many tags to print.")
    return found


def draw(faces, said):
    pairs = [(face, copies) for _, face, copies, _ in faces]
    return tag_sheet(pairs, said["design"], said["paper"], said["start_at"], title="Tags")


def keep(person, said, faces):
    layout = {name: said[name] for name in ("design", "paper", "start_at")}
    tagging.keep_sheet(faces, sheet=said["once"], by=person, **layout)
    return reverse("batches:tag-sheet", args=[said["once"]])


@require_GET
def sheet(request, sheet):
    """The PDF of tags that were printed, word for word as they were kept."""
    rows = list(TagPrint.objects.filter(sheet=sheet).prefetch_related("dyes").order_by("pk"))
    if not rows:
        raise Http404
    pairs = [(tagging.face_as_printed(row), row.copies) for row in rows]
    lot = rows[0].dye_lot
    try:
        pdf = tag_sheet(pairs, rows[0].design, rows[0].paper, rows[0].start_at, title=f"Tags, dye lot {lot}")
    except printing.PrinterMissing as problem:
        return render(request, "batches/no_printer.html", {"problem": str(problem)}, status=503)
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="tags-{lot}.pdf"'
    return response
