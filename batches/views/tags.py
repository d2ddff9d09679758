"""Tags: what they say, printed as a sheet that can be printed again."""

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from batches import tags as tagging
from batches.forms.tags import SheetForm, TagRows
from batches.models import Output, TagPrint
from batches.tag_sheet import DoesNotFit, tag_sheet
from batches.views.run import the_run
from studio import printing
from studio.once import only_once


@require_http_methods(["GET", "POST"])
def tags(request, code):
    the = the_run(code)
    outputs = sellable_outputs(the)
    listed = list(outputs)
    if not listed:
        return render(request, "batches/no_tags.html", {"here": "journal", "run": the})
    data = request.POST if request.method == "POST" else None
    form = SheetForm(data, initial={"paper": request.studio.paper, "per_kilogram": request.studio.market != "US"})
    rows = TagRows(data, prefix="tag", initial=[usual(output) for output in listed], form_kwargs={"outputs": outputs})
    if data is not None and form.is_valid() & rows.is_valid():
        try:
            faces = faces_of(form, rows, request.studio)
            # Laid out before anything is kept: what does not fit is said, and no tag is on record that never was.
            draw(faces, form.cleaned_data)
            return only_once(request, form.cleaned_data["once"], lambda: keep(request.user, form.cleaned_data, faces))
        except (tagging.NotReady, DoesNotFit, printing.TooMuchToPrint, printing.PrinterMissing, ValueError) as problem:
            form.add_error(None, str(problem))
    context = {
        "here": "journal",
        "run": the,
        "form": form,
        "rows": rows,
        "forms": [form, rows],
        "pairs": list(zip(rows.forms, [saying(output, request.studio) for output in listed], strict=False)),
        "printed": TagPrint.objects.filter(output__in=listed).order_by("-printed_at", "pk"),
    }
    return render(request, "batches/tags.html", context, status=422 if data is not None else 200)


def sellable_outputs(the):
    return (
        Output.objects.standing()
        .filter(yarn__batch__run=the, grade__in=Output.SELLABLE)
        .select_related("yarn__batch__run__colourway", "yarn__lot__base", "yarn__base", "yarn__output__yarn__lot__base")
        .order_by("yarn__batch__number", "pk")
    )


def usual(output):
    base = output.yarn.known_base
    price = base.price_minor if base and output.grade == Output.Grade.FIRST else None
    return {"output": output.pk, "price": price, "copies": output.skeins}


def saying(output, studio):
    """What a tag of this output will say, or what stands in its way."""
    try:
        return {
            "output": output,
            "face": tagging.face_of(output, price_minor=None, studio=studio),
            "hold": hold(output, studio),
        }
    except tagging.NotReady as problem:
        return {"output": output, "problem": str(problem)}


def hold(output, studio):
    return tagging.care_of(output, studio).hold


def faces_of(form, rows, studio):
    """[(Output, face, copies, price)] of the rows that want tags."""
    said = form.cleaned_data
    options = {name: said[name] for name in ("first_wash", "with_bar", "per_kilogram")}
    found = []
    for row in rows.forms:
        cleaned = row.cleaned_data
        if cleaned.get("copies"):
            face = tagging.face_of(cleaned["output"], price_minor=cleaned["price"], studio=studio, **options)
            found.append((cleaned["output"], face, cleaned["copies"], cleaned["price"]))
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
