"""Tags on paper: where they lie, what they say, and what the PDF engine may not do."""

import http.server
import io
import sys
import threading
from dataclasses import fields, replace
from decimal import Decimal

import pdfplumber
import pikepdf
import pytest
from django.utils import translation

from batches.tag_face import TagFace, first_step, upright_bar
from batches.tag_sheet import DoesNotFit, tag_sheet
from studio import printing
from studio.colourbar import Segment

MM = 72 / 25.4
WITHIN = 0.05 * MM  # a twentieth of a millimetre, in points


def dyes(*rows):
    return tuple(Segment(name, fill, Decimal(share), Decimal(share) == 0) for name, fill, share in rows)


def kiln_door(**changes):
    face = TagFace(
        colourway="Kiln Door",
        base="Tessel 4-ply",
        content="75 % wool, 25 % polyamide",
        net="100 g / 3.5 oz",
        length="425 m / 465 yd",
        dye_lot="26-118",
        care=("Hand wash cool, separately the first time.", "Dry flat."),
        maker=("Lamp Lane Dyehouse", "3 Lamp Lane, Quernstow", "post@lamplane.example"),
        price="€28.95",
        unit_price="€289.50 a kilogram",
        dyes=dyes(("brick", "#9c3122", 5), ("ochre", "#d39a3c", 3), ("soot", "#3a3034", 2)),
        hand_dyed="Dyed by hand, so skeins of one lot differ a little: change skein every two rows.",
    )
    return replace(face, **changes)


def longest(design):
    """The most that each design promises to carry, long words and Latin Extended letters included."""
    face = kiln_door(
        colourway="Løvetann på Þingvellir etter Regnværsdagen i Æðey før Őszi Żółć",
        base="Kvernstein Superwash Lace 2-ply, handpainted",
        content="50 % extra-fine Merino wool, 20 % mulberry silk, 15 % polyamide (nylon), 10 % kid mohair, "
        "5 % other fibres",
        net="1,000 g / 35.27 oz",
        length="1,600 m / 1,750 yd",
        dye_lot="26-1118/12",
        price="Kč 12,345.00",
        unit_price="Kč 123,450.00 a kilogram",
        grade="Seconds",
        notes=("Contains non-textile parts of animal origin.", "Yarn spun in Norway, dyed in Quernstow."),
        care=(
            "Hand wash cool with mild soap, separately the first time; do not rub or wring.",
            "No bleach.",
            "Do not tumble dry.",
            "Dry flat in shade.",
            "Cool iron with a press cloth.",
        ),
        maker=(
            "Lamp Lane Dyehouse and Daughters",
            "Unit 14, The Old Fulling Mill, 3 Lamp Lane",
            "QX9 4ZZ Quernstow-under-Edge",
            "post@lamplane-dyehouse.example",
        ),
        dyes=dyes(
            ("brick red", "#9c3122", 42), ("ochre", "#d39a3c", 30), ("rust orange", "#bf5a2c", 15),
            ("plum", "#5e3138", 9), ("soot black", "#3a3034", 3), ("lichen", "", 1), ("ink blue", "#23395d", 0),
        ),
    )  # fmt: skip
    if design == "swing":
        return face
    return replace(
        face,
        colourway="Løvetann på Þingvellir etter Őszi Żółć",
        base="Kvernstein Superwash",
        content="50 % extra-fine Merino wool, 20 % mulberry silk, 15 % polyamide, 15 % mohair",
        care=("Hand wash cool, separately the first time.", "Do not rub or wring.", "Dry flat."),
        notes=(),
        maker=("Lamp Lane Dyehouse", "3 Lamp Lane, Quernstow-under-Edge", "post@lamplane.example"),
    )


def plumbed(pdf):
    return pdfplumber.open(io.BytesIO(pdf))


def text_of(page):
    """Everything a page says in the order it was drawn, without spaces: lines may break anywhere."""
    return "".join("".join(char["text"] for char in page.chars).split())


ALL = [("swing", "A4"), ("swing", "Letter"), ("label", "A4"), ("label", "Letter")]

# --- where things lie

# Generic trade sizes in mm: sheet, grid, cell, pitch, left and top margin. The centred margins are
# (sheet - n cells - (n - 1) gaps) / 2. common practice, no source
TRADE = {
    ("swing", "A4"): ((210, 297), (3, 3), (50, 90), (60, 95), (20, 8.5)),
    ("swing", "Letter"): ((215.9, 279.4), (3, 3), (55, 85), (63, 89), (17.45, 8.2)),
    ("label", "A4"): ((210, 297), (3, 8), (70, 36), (70, 36), (0, 4.5)),
    ("label", "Letter"): ((215.9, 279.4), (2, 7), (101.6, 33.867), (106.363, 33.867), (3.969, 21.167)),
}


def filled_sheet(sheet, copies=None, start_at=1):
    """Sheets of cells filled with black, as the engine lays them out and the imposition places them."""
    style = (
        f"<style>@page {{ size: {sheet.width}mm {sheet.height}mm; margin: 0 }} body {{ margin: 0 }}"
        f"div {{ background: #000; width: {sheet.width}mm; height: {sheet.height}mm; break-after: page }}"
        "div:last-child { break-after: auto }</style>"
    )
    tag = printing.render_pdf(f"<html>{style}<body>{'<div></div>' * sheet.sides}")
    return printing.impose(tag, [copies or sheet.cells], sheet, start_at)


def black_cells(page):
    return [(rect["x0"], rect["top"], rect["x1"], rect["bottom"]) for rect in page.rects if rect["fill"]]


@pytest.mark.parametrize("kind", ALL)
def test_every_cell_lies_where_the_sheet_is_cut(kind):
    (paper_w, paper_h), (columns, rows), (w, h), (pitch_x, pitch_y), (left, top) = TRADE[kind]
    with plumbed(filled_sheet(printing.sheet_for(*kind))) as pdf:
        page = pdf.pages[0]
        assert (page.width, page.height) == pytest.approx((paper_w * MM, paper_h * MM), abs=WITHIN)
        corners = [(left + c * pitch_x, top + r * pitch_y) for r in range(rows) for c in range(columns)]
        wanted = [(x * MM, y * MM, (x + w) * MM, (y + h) * MM) for x, y in corners]
        found = black_cells(page)
        assert len(found) == len(wanted)
        for cell, place in zip(found, wanted, strict=True):
            assert cell == pytest.approx(place, abs=WITHIN)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_backs_meet_their_fronts_when_the_sheet_is_turned_over_its_long_edge(paper):
    sheet = printing.sheet_for("swing", paper)
    with plumbed(filled_sheet(sheet, copies=2, start_at=4)) as pdf:
        front, back = (black_cells(page) for page in pdf.pages)
        for (x0, top, x1, bottom), seen in zip(front, back, strict=True):
            turned = (sheet.paper_width * MM - x1, top, sheet.paper_width * MM - x0, bottom)
            assert seen == pytest.approx(turned, abs=WITHIN)
        assert front[0][0] == pytest.approx(sheet.left * MM, abs=WITHIN)
        assert back[0][0] > front[0][0] + 100


@pytest.mark.parametrize("start_at", [1, 2, 20, 24])
def test_a_part_used_sheet_starts_at_its_first_free_place(start_at):
    sheet = printing.sheet_for("label", "A4")
    with plumbed(filled_sheet(sheet, copies=5, start_at=start_at)) as pdf:
        row, column = divmod(start_at - 1, 3)
        found = black_cells(pdf.pages[0])
        assert found[0][:2] == pytest.approx((column * 70 * MM, (4.5 + row * 36) * MM), abs=WITHIN)
        assert sum(len(black_cells(page)) for page in pdf.pages) == 5
        assert len(pdf.pages) == (2 if start_at > 20 else 1)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_cut_marks_stay_off_the_tags_and_off_the_edge(paper):
    sheet = printing.sheet_for("swing", paper)
    with plumbed(filled_sheet(sheet)) as pdf:
        page = pdf.pages[0]
        cells = black_cells(page)
        # 12 upright marks over and under six edges, and for each of six edges two in the margins, two in gaps.
        assert len(page.lines) == 12 + 24
        for line in page.lines:
            assert min(line["x0"], line["top"]) >= 4 * MM - WITHIN
            assert line["x1"] <= page.width - 4 * MM + WITHIN
            assert line["bottom"] <= page.height - 4 * MM + WITHIN
            for x0, top, x1, bottom in cells:
                assert not (x0 < line["x1"] and line["x0"] < x1 and top < line["bottom"] and line["top"] < bottom)


# --- what the tags say


@pytest.mark.parametrize("kind", ALL)
@pytest.mark.parametrize("make", [lambda design: kiln_door(), longest], ids=["usual", "longest"])
def test_every_word_is_inside_its_tag_and_none_on_another(kind, make):
    face, sheet = make(kind[0]), printing.sheet_for(*kind)
    with plumbed(tag_sheet([(face, 2)], *kind, start_at=2)) as pdf:
        said = "".join(text_of(page) for page in pdf.pages)
        for text in words_on(face, kind[0]):
            assert "".join(text.split()) in said
        for side, page in enumerate(pdf.pages):
            boxes = [sheet.corner(cell, side) for cell in (1, 2)]
            for char in page.chars:
                assert any(inside(char, box, sheet) for box in boxes), char["text"]
            assert_nothing_overlaps(page.chars)
            assert min(char["size"] for char in page.chars) >= 6.25 - 0.01
            # Most printers leave the outer few mm of a sheet white. common practice, no source
            assert min(char["x0"] for char in page.chars) >= 4 * MM - WITHIN
            assert max(char["x1"] for char in page.chars) <= page.width - 4 * MM + WITHIN


def words_on(face, design):
    texts = [face.colourway, face.base, face.content, face.dye_lot, face.price, face.unit_price, face.grade]
    texts += [*face.net.split(" / "), *face.length.split(" / "), *face.care, *face.notes, *face.maker]
    return texts + ([face.hand_dyed] if design == "swing" else [])


def inside(char, corner, sheet, margin=3):
    x, y = corner
    return (
        char["x0"] >= (x + margin) * MM - WITHIN
        and char["x1"] <= (x + sheet.width - margin) * MM + WITHIN
        and char["top"] >= (y + margin - 1) * MM
        and char["bottom"] <= (y + sheet.height - margin + 1) * MM
    )


def assert_nothing_overlaps(chars):
    seen = [char for char in chars if char["text"].strip()]
    places = sorted((char["x0"], (char["top"] + char["bottom"]) / 2, char["text"]) for char in seen)
    for i, (x, y, text) in enumerate(places):
        for other_x, other_y, other in places[i + 1 :]:
            if other_x - x > 1:
                break
            assert abs(other_y - y) > 5, f"{text} and {other} are printed over each other"


@pytest.mark.parametrize("kind", ALL)
@pytest.mark.parametrize("make", [lambda design: kiln_door(), longest], ids=["usual", "longest"])
def test_the_fibre_line_has_one_size_of_at_least_7_5_points(kind, make):
    # One size and weight for all fibre words: Regulation (EU) 1007/2011, article 16; 16 CFR 303.16(b).
    face = make(kind[0])
    with plumbed(tag_sheet([(face, 1)], *kind)) as pdf:
        chars = [char for page in pdf.pages for char in page.chars if char["text"].strip()]
    said, wanted = "".join(char["text"] for char in chars), "".join(face.content.split())
    line = chars[said.index(wanted) :][: len(wanted)]
    assert len({(round(char["size"], 2), char["fontname"]) for char in line}) == 1
    assert line[0]["size"] >= 7.5 - 0.01


def test_a_short_name_is_set_large_and_a_long_one_smaller():
    assert first_step("Kiln Door", "swing", "A4") == 0
    assert first_step("Foxglove", "swing", "A4") == 1
    assert first_step("Þingvallavatn", "swing", "A4") == 4
    assert first_step("x" * 80, "swing", "A4") == 4


@pytest.mark.parametrize("kind", ALL)
@pytest.mark.parametrize("changes", [{"care": ("Wash cool. " * 900,)}, {"colourway": "🧶" * 900}, {"base": "w" * 3000}])
def test_what_cannot_fit_is_refused_in_a_sentence(kind, changes):
    with pytest.raises(DoesNotFit, match="Shorten"):
        tag_sheet([(kiln_door(), 1), (kiln_door(**changes), 1)], *kind)


def test_letters_of_latin_extended_come_from_a_font_of_their_own():
    # Given one family name, the engine embeds one of the two files and prints wrong letters that still copy right.
    with plumbed(tag_sheet([(kiln_door(colourway="Kč"), 1)])) as pdf:
        fonts = {char["text"]: char["fontname"].partition("+")[2] for char in pdf.pages[0].chars}
    assert fonts["K"].startswith("Bitter-Semi")
    assert fonts["č"].startswith("Bitter-Extended")


def test_the_colour_bar_has_each_dye_by_mass_and_hatches_the_unweighed():
    face = kiln_door(dyes=(*kiln_door().dyes, Segment("pinch", "#7a8a3c", None, unweighed=True)))
    with translation.override("de"), plumbed(tag_sheet([(face, 1)])) as pdf:
        page = pdf.pages[0]
        bar = {rect["non_stroking_color"]: rect for rect in page.rects if 6.9 < rect["width"] / MM < 7.1}
        assert len(bar) == 4
        assert [rect["x0"] for rect in bar.values()] == [pytest.approx((20 + 4.5) * MM, abs=WITHIN)] * 4
        heights = [rect["height"] / MM for rect in bar.values()]
        assert sum(heights) == pytest.approx(72.5, abs=0.05)
        assert heights[0] / heights[1] == pytest.approx(5 / 3, abs=0.01)
    hatched = [part for part in upright_bar(face.dyes, 72.5) if part.hatch]
    assert [part.fill for part in hatched] == ["#7a8a3c"]


def test_numbers_stay_on_the_line_of_their_unit():
    face = kiln_door().set_solid()
    assert face.content == "75\u00a0%\u00a0wool, 25\u00a0%\u00a0polyamide"
    assert face.net == "100\u00a0g / 3.5\u00a0oz"
    assert kiln_door(base="No 4 goat").set_solid().base == "No 4 goat"


def test_empty_facts_leave_no_empty_lines():
    bare = kiln_door(price="", unit_price="", dyes=(), hand_dyed="", care=(), length="", content="")
    for kind in ALL:
        with plumbed(tag_sheet([(bare, 1)], *kind)) as pdf:
            said = "".join(text_of(page) for page in pdf.pages)
        assert "KilnDoor" in said
        for word in ("price", "about", "Thebar", "None", ",,"):
            assert word not in said


# --- the file


def test_2400_equal_tags_are_a_hundred_sheets_of_one_drawing():
    with pikepdf.open(io.BytesIO(tag_sheet([(kiln_door(), 2400)], "label"))) as pdf:
        assert len(pdf.pages) == 100
        drawn = {xobject.objgen for page in pdf.pages for xobject in page.Resources.XObject.values()}
        assert len(drawn) == 1


def test_each_distinct_tag_is_drawn_once_a_side_in_the_order_given():
    tags = [(kiln_door(), 3), (kiln_door(dye_lot="26-119"), 8), (kiln_door(), 1)]
    pdf = tag_sheet(tags, "swing")
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        assert len(opened.pages) == 4
        drawn = {xobject.objgen for page in opened.pages for xobject in page.Resources.XObject.values()}
        assert len(drawn) == 4
    with plumbed(pdf) as opened:
        fronts = "".join(text_of(page) for page in opened.pages[::2])
    assert fronts.count("26-118") == 4
    assert fronts.count("26-119") == 8
    assert fronts.index("26-119") > fronts.rindex("26-118")


def test_the_file_asks_to_be_printed_at_its_own_size_on_both_sides():
    with pikepdf.open(io.BytesIO(tag_sheet([(kiln_door(), 1)], title="Tags, 26-118", lang="en-GB"))) as pdf:
        assert pdf.Root.ViewerPreferences.PrintScaling == "/None"
        assert pdf.Root.ViewerPreferences.Duplex == "/DuplexFlipLongEdge"
        assert str(pdf.Root.Lang) == "en-GB"
        assert str(pdf.docinfo.Title) == "Tags, 26-118"
    with pikepdf.open(io.BytesIO(tag_sheet([(kiln_door(), 1)], "label"))) as pdf:
        assert "/Duplex" not in pdf.Root.ViewerPreferences


def test_a_plain_document_keeps_its_title_language_and_size():
    html = '<!doctype html><html lang="nb"><title>Dagens bad</title><body><p>Kaldt'
    with pikepdf.open(io.BytesIO(printing.render_pdf(html))) as pdf:
        assert pdf.Root.ViewerPreferences.PrintScaling == "/None"
        assert str(pdf.Root.Lang) == "nb"
        assert str(pdf.docinfo.Title) == "Dagens bad"


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: tag_sheet([(kiln_door(), 0)]), "1 or more"),
        (lambda: tag_sheet([(kiln_door(), -2)]), "1 or more"),
        (lambda: tag_sheet([]), "1 or more"),
        (lambda: tag_sheet([(kiln_door(), 1)], start_at=10), "1 to 9"),
        (lambda: tag_sheet([(kiln_door(), 1)], start_at=0), "1 to 9"),
        (lambda: tag_sheet([(kiln_door(), 1)], paper="A5"), "A5"),
        (lambda: tag_sheet([(kiln_door(), 10**9)]), "Print in parts"),
        (lambda: tag_sheet([(kiln_door(dye_lot=str(n)), 1) for n in range(101)]), "Print in parts"),
        (lambda: printing.render_pdf("<p>one" + "<p class=x>more" * 300 + "<style>.x{break-before:page}"), "parts"),
    ],
)
def test_what_cannot_be_printed_is_refused_in_a_sentence(ask, words):
    with pytest.raises(ValueError, match=words) as refusal:
        ask()
    assert str(refusal.value).endswith(".")


def test_without_the_engine_a_sentence_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(printing.PrinterMissing, match="Pango"):
        tag_sheet([(kiln_door(), 1)])


# --- what the engine may not do


@pytest.fixture
def doorbell():
    """A web server on this machine that notes whoever calls."""
    calls = []

    class Bell(http.server.BaseHTTPRequestHandler):
        def do_GET(self):
            calls.append(self.path)
            self.send_response(302)
            self.send_header("Location", "file:///etc/passwd")
            self.end_headers()

        def log_message(self, *words):
            pass

    server = http.server.HTTPServer(("127.0.0.1", 0), Bell)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}", calls
    server.shutdown()
    server.server_close()


def hostile(url, secret):
    return [
        f'<link rel="attachment" href="file://{secret}">',
        f'<a rel="attachment" href="file://{secret}">x</a>',
        f'<link rel="stylesheet" href="{url}/a.css">',
        f'<img src="{url}/b.png"><img src="file://{secret}">',
        f'<object data="{url}/c.svg"></object><embed src="{url}/d.svg">',
        f'<style>@import "{url}/e.css"; @font-face {{ font-family: f; src: url({url}/f) }} p {{ font: 9pt f }}</style>',
        f'<p style="background: url({url}/g.png); content: url(file://{secret})">x',
        f'<svg><image href="{url}/h.png"/><use href="file://{secret}#x"/></svg>',
        f'<base href="{url}/"><img src="i.png">',
        "<img src='data:image/svg+xml,<svg xmlns=\"http://www.w3.org/2000/svg\"/>'>",
    ]


@pytest.mark.parametrize("place", range(10))
def test_the_engine_fetches_nothing_and_embeds_nothing(place, doorbell, tmp_path):
    url, calls = doorbell
    secret = tmp_path / "secret.txt"
    secret.write_text("the till is under the stairs")
    bad = hostile(url, secret)[place]
    pdf = printing.render_pdf(f"<html><body><p>Before</p>{bad}<p>After</p>")
    assert calls == []
    assert_holds_no_file(pdf)
    with plumbed(pdf) as opened:
        assert "Before" in opened.pages[0].extract_text()


def assert_holds_no_file(pdf):
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        assert not opened.attachments
        for item in opened.objects:
            if isinstance(item, pikepdf.Stream):
                assert item.get("/Type") != "/EmbeddedFile"
                assert item.get("/Subtype") != "/Image"
                assert b"under the stairs" not in item.read_bytes()


@pytest.mark.parametrize("design", ["swing", "label"])
def test_markup_in_any_text_of_a_tag_is_only_text(design, doorbell):
    url, calls = doorbell
    for bad in ("<link rel=attachment href=file:///etc/passwd>", f"<img src={url}/x>"):
        for name in [field.name for field in fields(TagFace) if field.type is str or field.type == "str"]:
            bare = kiln_door(unit_price="", hand_dyed="", care=(), maker=("Lamp Lane Dyehouse",), notes=(bad,))
            assert_holds_no_file(tag_sheet([(replace(bare, **{name: bad}), 1)], design))
    assert calls == []
    with plumbed(tag_sheet([(kiln_door(grade="<b>&amp;"), 1)], design)) as opened:
        assert "<b>&amp;" in text_of(opened.pages[0])


@pytest.mark.parametrize(
    "url",
    [
        "file:///etc/passwd", "http://127.0.0.1/", "https://example.org/x.css", "data:text/css,p{}", "ftp://x/y.css",
        "static:../settings.py", "static:studio/../../settings.py", "static:studio/%2e%2e/%2e%2e/settings.css",
        "static:/etc/passwd", "static://studio/tags.css/../../../../urls.css", "static:", "STATIC:studio/x",
        "studio/tags.css", "static:studio/fonts/OFL.txt",
    ],
)  # fmt: skip
def test_only_our_own_styles_and_fonts_have_a_path(url):
    with pytest.raises(ValueError, match="own styles and fonts"):
        printing.static_file(url)
    assert printing.static_file("static:studio/tags.css").is_file()


def test_the_bar_needs_a_colour_to_be_a_colour():
    with pytest.raises(ValueError, match="#rrggbb"):
        tag_sheet([(kiln_door(dyes=dyes(("brick", "url(http://x)", 1))), 1)])
