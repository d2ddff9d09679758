"""The frame every page stands in, and the parts drawn in it."""

import json
import re
from datetime import UTC, datetime
from decimal import Decimal
from html.parser import HTMLParser
from pathlib import Path

import pytest
import time_machine
from django import forms
from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.contrib.staticfiles import finders
from django.template import engines
from django.template.loader import get_template, render_to_string
from django.test import RequestFactory
from django.urls import include, path

from studio import cautions, units, writing
from studio.colourbar import Segment
from studio.forms import rows
from studio.forms.base import StudioForm
from studio.models import Studio
from studio.templatetags import parts
from studio.views.errors import csrf_failure

TEMPLATES = Path(settings.BASE_DIR) / "templates"
BRICK = Segment("Brick", "#9c3122", Decimal(3))
OCHRE = Segment("Ochre", "#d39a3c", Decimal(1))
SOOT = Segment("Soot", "#3a3034", None)


def drawn(text, **context):
    return engines["django"].from_string("{% load parts %}" + text).render(context)


@pytest.fixture(autouse=True)
def usual_writing():
    yield
    writing.deactivate()


def page(template="base.html", person=None, address="/", **context):
    request = RequestFactory().get(address)
    request.user = person or AnonymousUser()
    return render_to_string(template, context, request=request)


class OneForm(StudioForm):
    name = forms.CharField(label="Name")
    pot = forms.ChoiceField(label="Pot", choices=[("1", "Pot 1")], widget=forms.RadioSelect)


# The page


def all_templates():
    return [str(file.relative_to(TEMPLATES)) for file in sorted(TEMPLATES.rglob("*.html"))]


@pytest.mark.parametrize("name", all_templates())
def test_no_template_needs_more_than_the_policy_allows(name):
    source = (TEMPLATES / name).read_text()
    assert not re.search(r"\sstyle=|<style|\son[a-z]+=|hx-on|javascript:|\|safe\b", source)
    assert not re.search(r"<script(?![^>]*\ssrc=)", source)
    assert not re.search(r"(src|href|action)=[\"'](https?:)?//", source)


@pytest.mark.parametrize("name", all_templates())
def test_every_template_can_be_read(name):
    get_template(name)


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["base.html", "base_sink.html", "base_door.html"])
def test_a_page_has_its_language_title_main_and_skip_link(name):
    html = page(name)
    assert html.lstrip().startswith("<!doctype html>")
    assert '<html lang="en">' in html
    assert re.search(r"<title>[^<]+ · Clearbath</title>", html)
    assert 'href="#main"' in html and '<main id="main">' in html


@pytest.mark.django_db
def test_htmx_is_told_to_swap_refused_forms_and_to_run_nothing():
    config = re.search(r"name=\"htmx-config\" content='([^']+)'", page())[1]
    told = json.loads(config)
    assert told["allowEval"] is told["allowScriptTags"] is told["includeIndicatorStyles"] is False
    assert told["selfRequestsOnly"] is True and told["historyCacheSize"] == 0
    rule = next(rule for rule in told["responseHandling"] if re.fullmatch(rule["code"], "422"))
    assert rule["swap"] is True


@pytest.mark.django_db
def test_htmx_sends_the_token():
    headers = re.search(r"hx-headers='([^']+)'", page())[1]
    assert len(json.loads(headers)["X-CSRFToken"]) == 64


@pytest.mark.django_db
def test_the_sink_has_no_second_way_to_send():
    assert "htmx" not in page("base_sink.html")


@pytest.mark.django_db
def test_plain_http_is_said_at_the_foot_where_others_could_listen(settings):
    assert "plain http" not in page(), "an address of this computer itself"
    settings.BASE_URL, settings.ONLY_HERE = "http://dye.example", False
    assert "plain http" in page()
    settings.BASE_URL = "https://dye.example"
    assert "plain http" not in page()


@pytest.mark.django_db
def test_a_page_is_drawn_before_there_is_a_studio():
    assert "Clearbath." in page()
    assert not Studio.objects.exists()


def test_the_studios_way_of_writing_is_used_on_its_pages(db):
    Studio.objects.create(pk=1, name="Lamp Lane Dyehouse", system="us", currency="USD", locale="en_US")
    assert "Lamp Lane Dyehouse" in page()
    assert drawn("{{ value|celsius }} {{ value|money }}", value=Decimal(85)) == "185\u00a0°F $85.00"


# The links of the masthead


def a_page(request):
    """A view that is never called."""


@pytest.fixture
def two_sections(settings, monkeypatch):
    sections = [path("", a_page, name="journal"), path("colourways/", a_page, name="colourways")]
    settings.ROOT_URLCONF = (path("", include((sections, "batches"))),)
    monkeypatch.setattr(parts.doors, "allows", lambda person, name, method: name in person.may)


def links_for(address, may, **context):
    request = RequestFactory().get(address)
    request.resolver_match = object()
    request.user = type("Person", (), {"may": may})
    found = parts.sections({"request": request, **context})["links"]
    return {link["word"]: link.get("current") for link in found}


def test_links_are_those_this_person_may_open(two_sections):
    both = {"batches:journal", "batches:colourways", "batches:prices"}
    assert list(links_for("/", both)) == ["Journal", "Colourways"]  # prices has no address here
    assert list(links_for("/", {"batches:journal"})) == ["Journal"]
    assert list(links_for("/", set())) == []


@pytest.mark.parametrize(
    ("address", "current"),
    [
        ("/", {"Journal": "page", "Colourways": None}),
        ("/colourways/", {"Journal": None, "Colourways": "page"}),
        ("/colourways/kiln-door/", {"Journal": None, "Colourways": "true"}),
        ("/26-119/", {"Journal": "true", "Colourways": None}),
    ],
)
def test_the_section_one_stands_in_is_marked(two_sections, address, current):
    assert links_for(address, {"batches:journal", "batches:colourways"}) == current


def test_a_view_may_say_where_it_stands(two_sections):
    may = {"batches:journal", "batches:colourways"}
    assert links_for("/x/", may, here="colourways") == {"Journal": None, "Colourways": "true"}


# What went wrong


@pytest.mark.django_db
def test_a_refused_form_is_said_in_the_title_the_summary_and_beside_the_field():
    form = OneForm({})
    html = page(form=form) + str(form)
    assert "<title>Error: " in html
    assert "2 things to put right" in html
    assert '<a href="#id_name">Fill in “Name”.</a>' in html
    assert '<a href="#id_pot_0">Choose one under “Pot”.</a>' in html
    assert html.count("Fill in “Name”.") == 2
    assert 'aria-invalid="true" aria-describedby="id_name_error" id="id_name"' in html
    assert '<fieldset class="field wrong" aria-describedby="id_pot_error">' in html


def test_every_link_of_the_summary_has_its_target():
    form = OneForm({})
    summary = drawn("{% errors form %}", form=form)
    targets = re.findall(r'href="#([^"]+)"', summary)
    assert len(targets) == 2
    for target in targets:
        assert f'id="{target}"' in str(form)


@pytest.mark.django_db
def test_a_page_without_problems_says_nothing():
    html = page(form=OneForm())
    assert "Error" not in html and 'class="errors"' not in html


def test_one_problem_is_one_thing():
    assert "One thing to put right" in drawn("{% errors form %}", form=OneForm({"name": "Oda"}))


def test_rows_that_are_wrong_are_in_the_summary():
    formset = rows.rows_of(OneForm)({"form-TOTAL_FORMS": 1, "form-INITIAL_FORMS": 0, "form-0-name": "Oda"})
    assert '<a href="#id_form-0-pot_0">' in drawn("{% errors formset %}", formset=formset)


@pytest.mark.django_db
def test_a_stale_form_tells_people_that_nothing_typed_is_lost():
    response = csrf_failure(RequestFactory().post("/"))
    assert response.status_code == 403
    assert "what you typed is still there" in response.content.decode()


def test_a_stale_form_tells_machines_in_json():
    response = csrf_failure(RequestFactory().post("/", HTTP_ACCEPT="application/json"))
    assert response.status_code == 403
    assert json.loads(response.content)["error"] == "csrf"


@pytest.mark.django_db
@pytest.mark.parametrize("signed_in", [True, False])
@pytest.mark.parametrize("name", ["400", "403", "403_csrf", "404", "413", "500"])
def test_each_page_for_what_went_wrong_says_that_nothing_is_lost_and_the_way_on(rf, cast, name, signed_in):
    request = rf.get("/nothing/")
    request.user = cast.helper if signed_in else AnonymousUser()
    html = get_template(f"{name}.html").render({"user": request.user}, request)
    said = " ".join(re.sub("<[^>]+>", " ", html.split("<main")[1]).split())
    assert any(words in said for words in ("Nothing was", "Nothing is", "Nothing of it", "nothing was stored"))
    assert 'href="/"' in html or 'href="/sign-in/"' in html
    assert html.count("<h1>") == 1 and "/studio/" not in said


@pytest.mark.parametrize("name", ["400.html", "500.html"])
def test_the_pages_for_the_worst_need_nothing(name):
    html = get_template(name).render()  # no request, no database: pytest refuses one here
    for file in re.findall(r'href="/static/([^"]+)"', html):
        assert finders.find(file)
    assert "still there" in html


def test_the_stylesheet_names_files_that_are_there():
    css = Path(finders.find("studio/clearbath.css")).read_text()
    found = re.findall(r'url\("([^"]+)"\)', css)
    assert len(found) == 2
    for file in found:
        assert finders.find(f"studio/{file}")


# Drawn parts


class Parsed(HTMLParser):
    def __init__(self, html):
        super().__init__()
        self.tags = []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def all(self, tag):
        return [attrs for name, attrs in self.tags if name == tag]


def test_a_colour_bar_is_drawn_and_said():
    bar = Parsed(drawn('{% colourbar segments "tall" %}', segments=[BRICK, OCHRE]))
    assert bar.all("svg") == [
        {"class": "colourbar tall", "role": "img", "aria-label": "Dyes by mass: Brick 75\u00a0%, Ochre 25\u00a0%"}
    ]
    assert [(r["x"], r["width"], r["fill"]) for r in bar.all("rect")] == [
        ("0%", "75.00%", "#9c3122"),
        ("75.00%", "25.00%", "#d39a3c"),
    ]
    assert [line["x1"] for line in bar.all("line")] == ["75.00%"]


def test_unweighed_dye_is_hatched_with_a_pattern_of_its_own():
    html = drawn("{% colourbar segments %}{% colourbar segments %}", segments=[BRICK, SOOT])
    bar = Parsed(html)
    ids = [pattern["id"] for pattern in bar.all("pattern")]
    assert len(set(ids)) == 2
    fills = [rect.get("fill", "") for rect in bar.all("rect")]
    assert [fill for fill in fills if fill.startswith("url")] == [f"url(#{i})" for i in ids]
    assert "Brick 100\u00a0% of what was weighed, Soot not weighed" in html


def test_dicts_amounts_and_a_label_of_its_own():
    segments = [{"name": "Brick", "fill": "#9c3122", "share": 1, "amount": "2.60\u00a0g"}]
    html = drawn('{% colourbar segments "thin" label="Logged" %}{% dyes segments %}', segments=segments)
    assert 'aria-label="Logged: Brick 2.60\u00a0g"' in html
    assert '<span class="num">2.60\u00a0g</span>' in html


def test_a_colour_that_is_no_colour_is_not_drawn():
    nasty = Segment('<b>"', '#123456"/><script>', 1)
    html = drawn("{% colourbar segments %}{% dyes segments %}", segments=[nasty])
    assert "<script" not in html and "<b>" not in html
    assert 'fill="none"' in html


def test_an_empty_bath_is_said():
    assert 'aria-label="Dyes by mass: nothing yet"' in drawn("{% colourbar segments %}", segments=[])


@pytest.mark.parametrize(
    ("state", "words"), [("clear", "clear"), ("nearly", "nearly clear"), ("not_yet", "not clear yet")]
)
def test_how_clear_the_bath_is_is_said_beside_the_ring(state, words):
    assert words in re.sub("<[^>]+>", "", drawn("{% ring state %}", state=state))


@pytest.mark.parametrize("kind", cautions.CAUTIONS)
def test_every_caution_defers(kind):
    html = drawn('{% caution kind sheet="/sheet" %}', kind=kind)
    assert "safety data sheet" in html and "local rules" in html and "licensed professionals" in html
    assert 'href="/sheet"' in html


def test_the_powder_caution_says_all_that_it_must():
    words = " ".join(cautions.CAUTIONS["powder"])
    for needed in ("respirator", "gloves", "eye protection", "damp", "draught", "food"):
        assert needed in words


def test_jars_are_never_to_be_sealed_in_heat():
    assert "sealed jar" in cautions.CAUTIONS["jars"].title and "loose" in cautions.CAUTIONS["jars"].words


# Amounts and times


@pytest.mark.parametrize(
    ("text", "written"),
    [
        ("{{ v|g }}", "57.5\u00a0g"),
        ("{{ v|ml }}", "57.5\u00a0mL"),
        ("{{ v|money }}", "€57.50"),
        ("{{ 1250|minor }}", "€12.50"),
        ("{{ v|percent }}", "57.5\u00a0%"),
        ("{{ typed|amount }}", "1.5\u00a0US tbsp"),
        ("{{ none|g }}, {{ none|minor }}, {{ none|when }}", "not known, not known, not known"),
        ("{{ zero|g }}", "0\u00a0g"),
    ],
)
def test_amounts_are_written_and_unknown_is_not_zero(text, written):
    values = {"v": Decimal("57.5"), "typed": units.Amount(Decimal("1.5"), "us_tbsp"), "none": None, "zero": 0}
    assert drawn(text, **values) == written


@time_machine.travel(datetime(2026, 10, 9, 15, tzinfo=UTC), tick=False)
@pytest.mark.parametrize(
    ("at", "locale", "written"),
    [
        (datetime(2026, 10, 9, 14, 31, tzinfo=UTC), "en_GB", "14:31"),
        (datetime(2026, 10, 8, 14, 31, tzinfo=UTC), "en_GB", "8 Oct, 14:31"),
        (datetime(2025, 10, 8, 14, 31, tzinfo=UTC), "en_GB", "8 Oct 2025, 14:31"),
        (datetime(2026, 10, 8, 14, 31, tzinfo=UTC), "en_US", "Oct 8, 2:31\u202fPM"),
    ],
)
def test_times_are_short_and_in_the_studios_locale(at, locale, written):
    writing._writing.set(writing.Writing(locale=locale))
    assert drawn("{{ at|when }}", at=at) == written


def test_the_styles_can_be_read_to_their_end():
    """A mark of a merge, or a brace too few, ends the rules around it without a word."""
    styles = sorted(Path(settings.BASE_DIR).glob("*/static/**/*.css"))
    assert styles
    for sheet in styles:
        text = re.sub(r"/\*.*?\*/", "", sheet.read_text(), flags=re.DOTALL)
        assert not re.search(r"^(<{7}|={7}|>{7})", text, re.MULTILINE), sheet
        depth = 0
        for mark in re.findall(r"[{}]", text):
            depth += 1 if mark == "{" else -1
            assert depth >= 0, sheet
        assert depth == 0, sheet
