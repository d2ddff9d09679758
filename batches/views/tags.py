"""Tags: what they say, printed as a sheet that can be printed again."""

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from batches import tags as tagging
from batches.forms.tags import SheetForm, TagRows
from batches.models import Output, TagPrint
from batches.tag_sheet import tag_sheet
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
    facts = tagging.RunFacts.of(the)
    sayings = {output.pk: saying(output, request.studio, facts) for output in listed}
    form, rows = forms_of(request, outputs, sayings)
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
        "printed": TagPrint.objects.filter(output__in=listed).order_by("-printed_at", "pk"),
    }
    return render(request, "batches/tags.html", context, status=422 if form.is_bound else 200)


def forms_of(request, outputs, sayings):
    """(What is said of the sheet, one row for each kind of skein)."""
    data = request.POST if request.method == "POST" else None
    usual_here = {"paper": request.studio.paper, "per_kilogram": request.studio.market != "US"}
    form = SheetForm(data, initial=usual_here)
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
    base = output.yarn.known_base
    price = base.price_minor if base and output.grade == Output.Grade.FIRST else None
    return {"output": output.pk, "price": price, "copies": None if "problem" in said else output.skeins}


def saying(output, studio, facts):
    """What a tag of this output will say, or what stands in its way."""
    try:
        face = tagging.face_of(output, price_minor=None, studio=studio, facts=facts)
    except tagging.NotReady as problem:
        return {"output": output, "problem": str(problem)}
    return {"output": output, "face": face, "hold": tagging.care_of(output, studio, facts=facts).hold}


def faces_of(form, rows, studio, facts):
    """[(Output, face, copies, price)] of the rows that want tags."""
    options = {name: form.cleaned_data[name] for name in ("first_wash", "with_bar", "per_kilogram")}
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
