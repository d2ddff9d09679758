"""The first hour: a new studio asks where it is, and the journal leads to the first run."""

import re
from urllib.parse import quote

import pytest
from django.test import Client

from batches.models import Run
from studio.models import Base, Dye, Studio
from tests import builders
from tests.pages.shelf_forms import problems, send

STEP = "/studio/first/"
IRISH = {"HTTP_ACCEPT_LANGUAGE": "en-IE,en;q=0.8"}
KEPT = {
    "name": "Marsh Lane",
    "country": "IE",
    "currency": "EUR",
    "time_zone": "Europe/Dublin",
    "locale": "en_IE",
    "market": "EU",
    "system": "metric",
}


@pytest.fixture
def owner(cast, client_of):
    return client_of(cast.owner)


def guide(client):
    """The steps as the journal shows them: [(title, its mark, the links)]."""
    page = client.get("/journal/").content.decode()
    found = re.search(r'<ol class="way">.*?</ol>', page, re.DOTALL)
    if not found:
        return []
    steps = []
    for step in re.findall(r"<li.*?</li>", found[0], re.DOTALL):
        title, mark = re.search(r"<h3>(.*?)(?: <span class=\"\w+\">(\w+)</span>)?</h3>", step).groups()
        main = re.findall(r'class="button main" href="([^"]+)"', step)
        steps.append((title, mark, main))
    return steps


def chosen(page, name):
    """What a select of the page stands at."""
    select = re.search(rf'<select name="{name}".*?</select>', page, re.DOTALL)[0]
    found = re.search(r'<option value="([^"]*)" selected', select)
    return found[1] if found else ""


# --- where the studio is


def test_the_browser_s_language_fills_in_what_is_usual_there(owner):
    page = owner.get(STEP, **IRISH).content.decode()
    names = ("country", "currency", "time_zone", "locale", "market")
    assert [chosen(page, name) for name in names] == ["IE", "EUR", "Europe/Dublin", "en_IE", "EU"]
    assert not Studio.get().is_said


@pytest.mark.parametrize("languages", ["", "de", "en-XX", "\x00"])
def test_nothing_is_chosen_where_the_browser_says_no_country(owner, languages):
    """Never UTC and euros without a word."""
    page = owner.get(STEP, HTTP_ACCEPT_LANGUAGE=languages).content.decode()
    assert [chosen(page, name) for name in ("country", "currency", "time_zone", "locale", "market")] == [""] * 5


def test_a_country_proposes_the_rest_and_stores_nothing(owner):
    page = owner.post(STEP, {"propose": "1", "country": "SE", "name": "Fjordgatan"}, **IRISH).content.decode()
    assert [chosen(page, name) for name in ("currency", "time_zone", "market")] == ["SEK", "Europe/Stockholm", "EU"]
    assert 'value="Fjordgatan"' in page
    assert Studio.get().currency == "EUR"
    assert not Studio.get().is_said


@pytest.mark.parametrize("country", ["", "XX", "\x00", "x" * 5000])
def test_a_country_that_is_none_proposes_nothing(owner, country):
    assert owner.post(STEP, {"propose": "1", "country": country}).status_code == 200


def test_what_is_kept_is_what_was_said(owner):
    answer = owner.post(STEP, KEPT | {"country": "US", "currency": "USD", "time_zone": "America/Chicago",
                                      "locale": "en_US", "market": "US", "system": "us"})  # fmt: skip
    assert (answer.status_code, answer.url) == (302, "/")
    studio = Studio.get()
    assert (studio.currency, studio.time_zone, studio.locale) == ("USD", "America/Chicago", "en_US")
    assert (studio.market, studio.system, studio.spoons, studio.paper) == ("US", "us", "us", "Letter")
    assert studio.is_said


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"currency": ""}, "Choose one under “Currency”."),
        ({"time_zone": ""}, "Choose one under “Time zone”."),
        ({"time_zone": "Mars/Base"}, "no longer there"),
        ({"country": ""}, "Choose one under “Where the studio is”."),
        ({"market": ""}, "Choose one under “Where you sell most”."),
        ({"name": ""}, "Fill in “The studio's name”."),
    ],
)
def test_what_is_missing_is_asked_for(owner, changed, sentence):
    answer = owner.post(STEP, KEPT | changed)
    assert answer.status_code == 422
    assert sentence in problems(answer).replace("’", "'")
    assert not Studio.get().is_said


def test_a_way_of_writing_outside_the_usual_ones_is_kept(owner):
    page = owner.post(STEP, {"propose": "1", "country": "SG"}).content.decode()
    assert chosen(page, "locale") == "en_SG"
    assert owner.post(STEP, KEPT | {"country": "SG", "locale": "en_SG"}).status_code == 302
    assert Studio.get().locale == "en_SG"


# --- the way to the first run


def test_the_owner_is_led_from_the_studio_to_the_first_run(owner):
    assert guide(owner) == [
        ("Where the studio is", "next", [STEP]),
        ("The first base", None, []),
        ("The first dye", None, []),
        ("The first run", None, []),
    ]
    owner.post(STEP, KEPT)
    assert guide(owner)[:2] == [
        ("Where the studio is", "done", []),
        ("The first base", "next", ["/shelf/bases/new/?next=/"]),
    ]
    answer = send(owner, "/shelf/bases/new/?next=/", name="Tessel 4-ply", skein_weight="100")
    assert (answer.status_code, answer.url) == (302, "/")
    assert guide(owner)[2] == ("The first dye", "next", ["/shelf/dyes/new/?next=/"])
    send(owner, "/shelf/dyes/new/?next=/", name="Brick", dye_class="acid_milling", colour="#9c3122")
    assert guide(owner)[3] == ("The first run", "next", ["/runs/new/bare/"])
    assert (Base.objects.count(), Dye.objects.count()) == (1, 1)


@pytest.mark.parametrize("elsewhere", ["elsewhere", "//elsewhere.example", "/\x00"])
def test_a_first_base_leads_nowhere_else(owner, elsewhere):
    answer = send(owner, f"/shelf/bases/new/?next={quote(elsewhere)}", name="Tessel 4-ply", skein_weight="100")
    assert (answer.status_code, answer.url) == (302, f"/shelf/bases/{Base.objects.get().pk}/")


def test_with_a_base_and_no_yarn_of_it_the_guide_asks_how_much_is_here(owner, cast):
    base = builders.make_base()
    assert "/shelf/here-already/?next=/" in owner.get("/journal/").content.decode()
    answer = send(owner, "/shelf/here-already/?next=/", what=f"base-{base.pk}", amount="4 skeins")
    assert (answer.status_code, answer.url) == (302, "/")
    assert "/shelf/here-already/" not in owner.get("/journal/").content.decode()


def test_steps_tick_themselves_off_whatever_their_order(owner):
    builders.make_dye()
    assert [mark for _, mark, _ in guide(owner)] == ["next", None, "done", None]


def test_with_a_recipe_written_the_run_begins_from_it(owner, cast):
    builders.recipe(cast.owner)
    page = owner.get("/journal/").content.decode()
    assert "A recipe is written" in page
    assert 'href="/runs/new/"' in page


def test_the_guide_is_gone_when_the_first_run_is_there(owner, cast):
    builders.run_with_pots(cast.owner)
    assert Run.objects.exists()
    assert guide(owner) == []


def test_a_maker_is_led_past_what_only_the_owner_may_say(client_of, cast):
    steps = guide(client_of(cast.maker))
    assert [title for title, _, _ in steps] == ["The first base", "The first dye", "The first run"]
    assert steps[0][1] == "next"


@pytest.mark.parametrize("role", ["helper", "viewer"])
def test_who_only_helps_or_looks_sees_how_far_it_is(client_of, cast, role):
    client = client_of(getattr(cast, role))
    builders.make_base()
    assert guide(client) == [("The first base", "done", []), ("The first dye", None, []), ("The first run", None, [])]
    page = client.get("/journal/").content.decode()
    assert "A maker begins it" in page
    assert "/shelf/bases/new/" not in page


@pytest.mark.parametrize("role", ["maker", "helper", "viewer"])
def test_only_the_owner_says_where_the_studio_is(client_of, cast, role):
    assert client_of(getattr(cast, role)).get(STEP).status_code == 403


@pytest.mark.parametrize(
    "elsewhere", ["https://example.org/", "//example.org", "javascript:1", "/" + "x" * 300, "\\\\e"]
)
def test_a_form_leads_on_inside_the_studio_only(owner, elsewhere):
    page = f"/shelf/bases/new/?next={elsewhere}"
    answer = send(owner, page, name="Tessel 4-ply", skein_weight="100")
    assert answer.url == f"/shelf/bases/{Base.objects.get().pk}/"


def test_a_stranger_is_asked_to_sign_in_first(db):
    assert Client().get(STEP).url.startswith("/sign-in/")
