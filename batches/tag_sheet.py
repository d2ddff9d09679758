"""Tags on sheets of paper: each distinct tag laid out once, made smaller until it fits, then imposed."""

from django.template.loader import render_to_string

from batches.tag_face import STEPS, first_step, upright_bar
from studio import printing

BAR_TOP, BAR_BOTTOM = 13.0, 4.5  # mm; as .swing .colourbar in tags.css


class DoesNotFit(ValueError):
    """A tag's text is too long for its design even at the smallest size; the text says what to do."""


def tag_sheet(tags, design="swing", paper="A4", start_at=1, title="Tags", lang="en"):
    """PDF bytes with every tag as often as wanted.

    tags: pairs (TagFace, copies); equal faces are printed together. design: "swing" (two sides, backs mirrored for
    turning over the long edge) or "label". paper: "A4" or "Letter". start_at: the first free place of a part-used
    sheet, from 1. lang: of the tags' words. Raises DoesNotFit, printing.PrinterMissing, printing.TooMuchToPrint,
    and ValueError for a design, paper, start or number that can't be.
    """
    sheet = printing.sheet_for(design, paper)
    copies = {}
    for face, count in tags:
        face = face.set_solid()
        copies[face] = copies.get(face, 0) + count
    printing.refuse_impossible(list(copies.values()), sheet, start_at)
    layout = _fitted(list(copies), design, sheet, title, lang)
    return printing.impose(layout.pdf(), list(copies.values()), sheet, start_at, title, lang)


def _fitted(faces, design, sheet, title, lang):
    steps = [{"front": first_step(face.colourway, design, sheet.paper), "back": 0} for face in faces]
    trying = everything = list(range(len(faces)))
    while True:
        layout = printing.lay_out(_html(faces, steps, trying, design, sheet, title, lang))
        tight = [name.split("-") for name in layout.overfull()]
        if not tight and trying == everything:
            return layout
        for side, place in tight:
            steps[int(place)][side] += 1
            if steps[int(place)][side] == STEPS:
                raise DoesNotFit(_too_long(faces[int(place)], design))
        # Only what was tight is tried again; once all fits, everything is laid out together.
        trying = sorted({int(place) for _, place in tight}) or everything


def _html(faces, steps, places, design, sheet, title, lang):
    bar_height = sheet.height - BAR_TOP - BAR_BOTTOM
    tags = [
        {
            "place": str(place),
            "step": steps[place],
            "names_dyes": bool(faces[place].dyes) and steps[place]["back"] < STEPS - 1,
            "face": faces[place],
            "bar": upright_bar(faces[place].dyes, bar_height),
            "bar_height": f"{bar_height:.3f}",
        }
        for place in places
    ]
    context = {"tags": tags, "paper": sheet.paper.lower(), "title": title, "lang": lang}
    return render_to_string(f"batches/tag_{design}.html", context)


def _too_long(face, design):
    other = " or choose the swing tag" if design == "label" else ""
    return (
        f"The words for {face.colourway} don't fit on this tag even at the smallest size that can be read. "
        f"Shorten the care words, the notes or the address{other}."
    )
