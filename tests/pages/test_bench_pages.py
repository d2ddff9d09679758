"""Dyes, assistants, pots, tools and measures."""

from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from studio.models import Assistant, Document, Dye, Measure, MeasureWeighing, Tool, Vessel
from tests import builders
from tests.pages.shelf_forms import BAD_AMOUNTS, BAD_WORDS, boxes, problems, send

PDF = b"%PDF-1.4\n1 0 obj\n%%EOF\n"

FORMS = {
    "dyes": ("/shelf/dyes/new/", {"name": "Brick", "dye_class": "acid_milling", "colour": "#9c3122"}),
    "assistants": ("/shelf/assistants/new/", {"name": "Citric acid", "kind": "acid", "unit": "g"}),
    "pots": ("/shelf/bench/pots/new/", {"name": "Pot 1", "kind": "pot", "volume": "12 L", "fill": "8 L"}),
    "tools": ("/shelf/bench/tools/new/", {"name": "Scale", "kind": "scale", "step": "0.01", "largest": "200"}),
    "measures": ("/shelf/bench/measures/new/", {"name": "Pinch"}),
}
MODELS = {"dyes": Dye, "assistants": Assistant, "pots": Vessel, "tools": Tool, "measures": Measure}


@pytest.mark.parametrize("kind", FORMS)
def test_each_is_added_once_and_by_one_name(cast, client_of, kind):
    url, typed = FORMS[kind]
    browser = client_of(cast.maker)
    filled = boxes(browser.get(url)) | typed
    first, second = browser.post(url, filled), browser.post(url, filled)
    assert first.status_code == 302 and first.url == second.url and MODELS[kind].objects.count() == 1
    again = send(browser, url, **typed | {"name": typed["name"].upper()})
    assert "one of this name already" in problems(again) and MODELS[kind].objects.count() == 1


@pytest.mark.parametrize("kind", FORMS)
@pytest.mark.parametrize("role", ["helper", "viewer"])
def test_only_makers_add_them(cast, client_of, kind, role):
    assert client_of(getattr(cast, role)).post(FORMS[kind][0], FORMS[kind][1]).status_code == 403


@pytest.mark.parametrize("kind", FORMS)
def test_nothing_typed_breaks_their_forms(cast, client_of, kind):
    url, typed = FORMS[kind]
    browser = client_of(cast.maker)
    given = boxes(browser.get(url)) | typed
    for box in given:
        for number, value in enumerate(BAD_AMOUNTS + BAD_WORDS):
            answer = browser.post(url, given | {"once": str(uuid4()), "name": f"{box} {number}"} | {box: value})
            assert answer.status_code in (302, 422), (box, value)


@pytest.mark.parametrize(
    ("kind", "box", "value", "sentence"),
    [
        ("dyes", "colour", "red", "written as #"),
        ("dyes", "dye_class", "", "Choose one under"),
        ("dyes", "sheet_url", "javascript:alert(1)", "web address"),
        ("dyes", "sheet_url", "ftp://example.org/x", "https://"),
        ("assistants", "strength_pct", "0", "is water"),
        ("pots", "fill", "20 L", "more than it holds"),
        ("pots", "how_many", "0", "too little"),
        ("pots", "volume", "5 g", "write it in"),
        ("tools", "step", "0", "above zero"),
        ("tools", "largest", "0.001", "less than its smallest step"),
    ],
)
def test_a_slip_is_said(cast, client_of, kind, box, value, sentence):
    url, typed = FORMS[kind]
    answer = send(client_of(cast.maker), url, **typed | {box: value})
    assert answer.status_code == 422 and sentence in problems(answer) and not MODELS[kind].objects.exists()
    assert typed["name"] in answer.content.decode()


def test_a_dye_keeps_a_copy_of_its_safety_sheet(cast, client_of):
    browser = client_of(cast.maker)
    url, typed = FORMS["dyes"]
    answer = send(browser, url, **typed, sheet_file=SimpleUploadedFile("sheet.pdf", PDF))
    document = Document.objects.get()
    assert Dye.objects.get().sheet == document
    assert f"/documents/{document.pk}/" in browser.get(answer.url).content.decode()


def test_a_file_that_is_no_pdf_is_refused_beside_its_field(cast, client_of):
    url, typed = FORMS["dyes"]
    answer = send(client_of(cast.maker), url, **typed, sheet_file=SimpleUploadedFile("sheet.pdf", b"MZ not a pdf"))
    assert "not a PDF" in problems(answer) and not Document.objects.exists() and not Dye.objects.exists()


def test_a_dye_without_a_sheet_says_so(cast, client_of):
    dye = builders.make_dye()
    assert "No safety data sheet is kept" in client_of(cast.viewer).get(f"/shelf/dyes/{dye.pk}/").content.decode()


def test_the_unit_of_an_assistant_stays_once_there_are_lots(cast, client_of):
    acid = builders.make_assistant(unit="mL")
    builders.receive_assistant(cast.owner, acid)
    answer = send(client_of(cast.maker), f"/shelf/assistants/{acid.pk}/change/", unit="g")
    assert "the unit stays" in problems(answer)


def test_a_pot_is_changed_and_put_away(cast, client_of):
    pot = builders.make_vessel("Pot 3")
    browser = client_of(cast.maker)
    send(browser, f"/shelf/bench/pots/{pot.pk}/", name="Tall pot", retired="on")
    pot.refresh_from_db()
    assert (pot.name, pot.retired, pot.volume_ml) == ("Tall pot", True, 12000)
    assert "no longer used" in browser.get("/shelf/bench/").content.decode()
    assert "Tall pot" not in browser.get("/shelf/").content.decode()


def test_a_measure_is_known_by_weighing_it(cast, client_of):
    soot = builders.make_dye("Soot")
    pinch = Measure.objects.create(name="Pinch")
    browser = client_of(cast.helper)
    url = f"/shelf/bench/measures/{pinch.pk}/"
    assert "Nobody has weighed it yet" in browser.get(url).content.decode()
    send(browser, url, dye=str(soot.pk), fillings="10", grams="0.8")
    send(browser, url, dye=str(soot.pk), fillings="10", grams="1.0")
    (holds,) = Measure.objects.get().holds()
    # Mean 0.09 g; tens that lie 0.014142 g apart for each filling are of fillings that lie root 10 times as far apart.
    assert (holds.filling.grams, holds.filling.fillings) == (Decimal("0.09"), 20)
    assert round(holds.filling.spread_g, 6) == Decimal("0.044721")
    assert "0.09\N{NO-BREAK SPACE}g" in browser.get(url).content.decode()


@pytest.mark.parametrize(
    ("box", "value", "sentence"),
    [
        ("grams", "1/4 tsp", "write it in"),
        ("grams", "0", "is nothing"),
        ("fillings", "0", "too little"),
        ("fillings", "2.5", "whole number"),
        ("dye", "999", "no longer there"),
    ],
)
def test_a_weighing_with_a_slip_is_refused(cast, client_of, box, value, sentence):
    soot, pinch = builders.make_dye("Soot"), Measure.objects.create(name="Pinch")
    typed = {"dye": str(soot.pk), "fillings": "10", "grams": "0.8"} | {box: value}
    answer = send(client_of(cast.helper), f"/shelf/bench/measures/{pinch.pk}/", **typed)
    assert sentence in problems(answer) and not MeasureWeighing.objects.exists()


@pytest.mark.parametrize(
    "path",
    [
        "dyes/9/",
        "dyes/9/change/",
        "assistants/9/",
        "bench/pots/9/",
        "bench/tools/9/",
        "bench/measures/9/",
        "masters/9/",
    ],
)
def test_what_is_not_there_is_not_found(cast, client_of, path):
    assert client_of(cast.maker).get(f"/shelf/{path}").status_code == 404


@pytest.mark.parametrize("kind", FORMS)
def test_no_part_of_a_form_leaves_a_box_out(cast, client_of, kind):
    form = client_of(cast.maker).get(FORMS[kind][0]).context["form"]
    shown = [field.name for _, _, fields in form.in_parts() for field in fields]
    assert sorted(shown) == sorted(field.name for field in form.visible_fields())


def test_the_page_says_what_a_spoon_is_good_for(cast, client_of):
    soot = builders.make_dye("Soot")
    spoon = Measure.objects.create(name="Bone spoon")
    browser = client_of(cast.helper)
    url = f"/shelf/bench/measures/{spoon.pk}/"
    send(browser, url, dye=str(soot.pk), fillings="10", grams="2.0")
    assert "weighed once, so how far off one is, is not known" in browser.get(url).content.decode()
    send(browser, url, dye=str(soot.pk), fillings="10", grams="2.1")
    page = browser.get(url).content.decode()
    # Mean 0.205 g; s = root 10 times 0.01/√2 = 0.0224 g: 10.9 %; six are ±√(6 + 36/20)·s on 1.23 g: 5.1 %.
    assert "0.205\N{NO-BREAK SPACE}g, ±\N{NO-BREAK SPACE}11\N{NO-BREAK SPACE}% each" in page
    assert "6 fillings ±\N{NO-BREAK SPACE}5.1\N{NO-BREAK SPACE}%" in page
    assert "from 20 fillings in 2 weighings" in page


def test_the_bench_asks_no_more_for_many_spoons(cast, client_of, django_assert_max_num_queries):
    browser = client_of(cast.helper)
    dyes = [builders.make_dye(f"Dye {n}") for n in range(4)]
    for n in range(5):
        spoon = Measure.objects.create(name=f"Spoon {n}")
        for dye in dyes:
            MeasureWeighing.objects.create(
                measure=spoon, dye=dye, fillings=10, grams=2, at=builders.NOON, by=cast.maker
            )
    browser.get("/shelf/bench/")
    with django_assert_max_num_queries(12):
        page = browser.get("/shelf/bench/").content.decode()
    assert page.count("weighed once") == 20


def test_where_a_spoon_was_used(cast, client_of, django_assert_max_num_queries):
    spoon = Measure.objects.create(name="Bone spoon")
    browser = client_of(cast.viewer)
    url = f"/shelf/bench/measures/{spoon.pk}/used/"
    assert "Nothing has gone into a pot by it yet." in browser.get(url).content.decode()
    jar = builders.receive_powder(cast.maker)
    for _ in range(6):
        pot = builders.one_pot(cast.maker)
        builders.addition(cast.helper, pot, jar, "0.4", measure=spoon, fillings=2, spread_g=Decimal("0.04"))
    browser.get(url)
    with django_assert_max_num_queries(12):
        page = browser.get(url).content.decode()
    assert page.count("× Bone spoon, about 0.4") == 6 and pot.run.code in page
    assert browser.get("/shelf/bench/measures/9999/used/").status_code == 404
