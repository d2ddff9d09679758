"""Bases: what a yarn is made of, and what a tag would say of it."""

from decimal import Decimal

import pytest

from studio.models import Base
from tests import builders
from tests.pages.shelf_forms import BAD_AMOUNTS, BAD_WORDS, boxes, problems, send

NEW = "/shelf/bases/new/"


def typed(**more):
    return {
        "name": "Tessel 4-ply",
        "skein_weight": "100",
        "skein_length": "425",
        "form-0-fibre": "wool",
        "form-0-percent": "75",
        "form-1-fibre": "polyamide",
        "form-1-percent": "25",
    } | more


def test_a_base_is_kept_with_its_fibres(cast, client_of):
    answer = send(client_of(cast.maker), NEW, **typed(price="26.00"))
    base = Base.objects.get()
    assert answer.url == f"/shelf/bases/{base.pk}/"
    assert (base.skein_g, base.skein_m, base.price_minor) == (100, 425, 2600)
    assert [(row.fibre, row.percent) for row in base.fibres.all()] == [("wool", 75), ("nylon", 25)]


def test_ounces_and_yards_are_kept_as_grams_and_metres(cast, client_of):
    send(client_of(cast.maker), NEW, **typed(skein_weight="3.5 oz", skein_length="465 yd"))
    base = Base.objects.get()
    # NIST Handbook 44, Appendix C: 1 oz is 28.349523125 g, 1 yd is 0.9144 m.
    assert (base.skein_g, base.skein_m) == (Decimal("99.223"), Decimal("425.196"))


def test_a_breed_stays_apart_from_its_fibre(cast, client_of):
    send(client_of(cast.maker), NEW, **typed(**{"form-0-fibre": "Merino wool", "form-0-percent": "75"}))
    row = Base.objects.get().fibres.first()
    assert (row.fibre, row.breed) == ("wool", "Merino")


def test_the_page_says_the_line_a_tag_would_print(cast, client_of, studio):
    base = builders.make_base(fibres=(("wool", 75), ("nylon", 25)))
    browser = client_of(cast.viewer)
    # Regulation (EU) 1007/2011, Annex I: the generic name is polyamide; 16 CFR 303.7: nylon.
    assert "75% wool, 25% polyamide" in browser.get(f"/shelf/bases/{base.pk}/").content.decode()
    studio.market = "US"
    studio.save()
    assert "75% Wool 25% Nylon" in browser.get(f"/shelf/bases/{base.pk}/").content.decode()


def test_incomplete_content_is_kept_and_tags_wait(cast, client_of):
    browser = client_of(cast.maker)
    answer = send(browser, NEW, **typed(**{"form-1-percent": "15"}))
    page = browser.get(answer.url).content.decode()
    assert "add up to 90\u00a0%" in page and "tags wait" in page


def test_more_than_all_of_the_yarn_is_refused(cast, client_of):
    answer = send(client_of(cast.maker), NEW, **typed(**{"form-1-percent": "35"}))
    assert answer.status_code == 422 and "110 %" in problems(answer)
    assert not Base.objects.exists()


@pytest.mark.parametrize("word", ["Sparkleyarn", "fluff", "☃"])
def test_an_unknown_fibre_is_refused_with_a_way_on(cast, client_of, word):
    answer = send(client_of(cast.maker), NEW, **typed(**{"form-1-fibre": word}))
    assert "is not a generic fibre name" in problems(answer)
    assert word in answer.content.decode()


@pytest.mark.parametrize(
    ("box", "value", "sentence"),
    [
        ("form-1-percent", "", "how much of the yarn"),
        ("form-1-fibre", "", "which fibre"),
        ("skein_weight", "1,000", "could be 1 or 1000"),
        ("skein_weight", "5 mL", "write it in"),
        ("skein_weight", "0", "is nothing"),
        ("name", "", "Fill in"),
        ("price", "12.345", "2 digits"),
        ("low_skeins", "2.5", "whole number"),
        ("dye_factor", "10", "too little: write 25"),
        ("dye_factor", "500", "too much: write 400"),
    ],
)
def test_a_slip_is_said_beside_its_field_and_nothing_is_lost(cast, client_of, box, value, sentence):
    answer = send(client_of(cast.maker), NEW, **typed(**{box: value, "supplier": "Fernside Mill"}))
    page = answer.content.decode()
    assert answer.status_code == 422 and sentence in problems(answer) and page.count(sentence) > 1
    assert "Fernside Mill" in page and "<title>Error: " in page
    assert not Base.objects.exists()


@pytest.mark.parametrize(
    "box", ["name", "skein_weight", "skein_length", "price", "low_skeins", "form-0-fibre", "form-0-percent", "note"]
)
def test_nothing_typed_breaks_the_page(cast, client_of, box):
    browser = client_of(cast.maker)
    for number, value in enumerate(BAD_AMOUNTS + BAD_WORDS):
        answer = send(browser, NEW, **typed(name=f"Base {number}") | {box: value})
        assert answer.status_code in (302, 422), value


@pytest.mark.parametrize("box", ["form-TOTAL_FORMS", "form-0-origin", "skein_weight_unit", "once", "form-0-part"])
def test_a_forged_box_is_refused(cast, client_of, box):
    assert send(client_of(cast.maker), NEW, **typed(**{box: "☃"})).status_code == 422


def test_a_page_sent_twice_makes_one_base(cast, client_of):
    browser = client_of(cast.maker)
    filled = boxes(browser.get(NEW)) | typed()
    first, second = browser.post(NEW, filled), browser.post(NEW, filled)
    assert first.url == second.url and Base.objects.count() == 1


def test_a_name_is_there_once_whatever_its_capitals(cast, client_of):
    builders.make_base("Tessel 4-ply")
    assert "one of this name already" in problems(send(client_of(cast.maker), NEW, **typed(name="TESSEL 4-ply")))


def test_changing_a_base_starts_with_what_is_there(cast, client_of):
    base = builders.make_base("Wend DK", fibres=(("wool", 100),), skein_g=Decimal("99.223"))
    browser = client_of(cast.maker)
    filled = boxes(browser.get(f"/shelf/bases/{base.pk}/change/"))
    assert (filled["name"], filled["form-0-fibre"], filled["form-0-percent"]) == ("Wend DK", "Wool", "100")
    assert browser.post(f"/shelf/bases/{base.pk}/change/", filled | {"form-0-percent": "90"}).status_code == 302
    base.refresh_from_db()
    assert base.skein_g == Decimal("99.223") and base.fibres.get().percent == 90


def test_how_much_dye_a_base_wants_is_said_on_its_page_and_empty_is_as_much(cast, client_of):
    browser = client_of(cast.maker)
    base = builders.make_base("Wend DK")
    change = f"/shelf/bases/{base.pk}/change/"
    filled = boxes(browser.get(change))
    assert filled["dye_factor"] == "100"
    page = browser.get(browser.post(change, filled | {"dye_factor": "110 %"}).url)
    assert "It wants 110\u00a0% of the usual dye" in page.content.decode()
    browser.post(change, boxes(browser.get(change)) | {"dye_factor": ""})
    base.refresh_from_db()
    assert base.dye_factor_pct == 100


def test_one_more_row_loses_nothing_and_judges_nothing(cast, client_of):
    browser = client_of(cast.maker)
    filled = boxes(browser.get(NEW)) | typed(name="", more="form")
    page = browser.post(NEW, filled)
    assert page.status_code == 200 and problems(page) == ""
    assert boxes(page)["form-2-fibre"] == "" and boxes(page)["form-1-fibre"] == "polyamide"


def test_who_sees_no_costs_sees_no_price(cast, client_of):
    base = builders.make_base(price_minor=2655)
    assert "26.55" in client_of(cast.maker).get(f"/shelf/bases/{base.pk}/").content.decode()
    assert "26.55" not in client_of(cast.helper).get(f"/shelf/bases/{base.pk}/").content.decode()


@pytest.mark.parametrize("role", ["helper", "viewer"])
def test_only_makers_write_bases(cast, client_of, role):
    browser = client_of(getattr(cast, role))
    assert browser.get(NEW).status_code == 403 and browser.post(NEW, typed()).status_code == 403


def test_a_base_that_is_not_there_is_not_found(cast, client_of):
    assert client_of(cast.maker).get("/shelf/bases/999/").status_code == 404


def test_a_studio_in_ounces_is_offered_and_shown_ounces(cast, client_of, studio):
    studio.system = "us"
    studio.save()
    browser = client_of(cast.maker)
    send(browser, NEW, **typed(skein_weight="3.5", skein_length="465"))
    base = Base.objects.get()
    assert base.skein_g == Decimal("99.223")
    assert boxes(browser.get(f"/shelf/bases/{base.pk}/change/"))["skein_weight"] == "3.5"
    page = browser.get(f"/shelf/bases/{base.pk}/").content.decode()
    assert "3.5\u00a0oz" in page and "465\u00a0yd" in page
