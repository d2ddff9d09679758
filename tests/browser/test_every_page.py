"""Every page of the demo studio in a real browser: as each role, on a phone and on a laptop, light and dark.

Pages are found by following the links from the journal. Sizes of targets: WCAG 2.2 success criterion 2.5.5 (44 px,
links in running text excepted); for wet hands 72 px with 16 px between, which is this project's own measure (common
practice, no source). The budgets of bytes are the project's own as well.
"""

import pytest

from studio.models import Studio
from tests import builders
from tests.browser.walking import LAPTOP, NARROW, PHONE, faults_of, kind_of, packed, pages_from

pytestmark = [pytest.mark.browser]

MOST_HTML = 14_000  # bytes, compressed: what arrives in the first round trip
MOST_AT_THE_SINK = 80_000  # bytes, compressed: page, styles, scripts and typeface of a first visit
PEOPLE = {"owner": "Oda", "maker": "Wim", "helper": "Pia", "viewer": "Guest"}
LONG_LATE = "for (const left of document.querySelectorAll('.timer .left')) left.textContent = '+17:08 h'"
FORMS_LEFT_EMPTY = ["/shelf/bases/new/", "/shelf/deliveries/new/", "/colourways/new/", "/people/new/"]
WITHOUT_SIGNING_IN = ["/sign-in/", "/set-up/"]
NOT_THERE = ["/runs/99-999/", "/shelf/lots/99999/", "/no-such-page/"]


@pytest.mark.parametrize("role", PEOPLE)
def test_every_page_is_whole(demo_studio, role):
    page = demo_studio.open(PEOPLE[role])
    faults, opened = [], []
    for address, answer in pages_from(page, "/journal/"):
        opened.append(address)
        size = packed(answer)
        if size > MOST_HTML:
            faults.append(f"{address} has {size} bytes")
        faults += faults_of(page)
    faults += demo_studio.complaints(page)
    assert len(opened) > {"owner": 150, "maker": 150, "helper": 60, "viewer": 60}[role]
    assert not faults, f"{len(opened)} pages\n" + "\n".join(faults)


@pytest.mark.parametrize("role", ["owner", "helper"])
def test_every_kind_of_page_passes_axe(demo_studio, role):
    page = demo_studio.open(PEOPLE[role])
    faults = []
    for _ in pages_from(page, "/journal/", same=kind_of):
        faults += faults_of(page, sizes=(NARROW, LAPTOP), axe=True)
    assert not faults, "\n".join(faults)


def test_text_of_twice_the_size_scrolls_one_way_only(demo_studio):
    """WCAG 2.2, success criterion 1.4.4, on the narrowest phone that is common."""
    page = demo_studio.open("Oda")
    faults = []
    for address, _ in pages_from(page, "/journal/", same=kind_of):
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        page.evaluate(LONG_LATE)
        wide = page.evaluate("[document.scrollingElement.scrollWidth, document.scrollingElement.clientWidth]")
        if wide[0] > wide[1]:
            faults.append(f"{address} is {wide[0]} px wide")
    assert not faults, "\n".join(faults)


def test_forms_left_empty_are_whole_and_pass_axe(demo_studio):
    page = demo_studio.open("Oda")
    faults = []
    for address in FORMS_LEFT_EMPTY:
        page.goto(address)
        page.locator("main form[method=post] button.main").last.click()
        page.locator(".errors").wait_for()
        faults += faults_of(page, sizes=(NARROW, PHONE, LAPTOP), axe=True)
    assert not faults, "\n".join(faults)


def test_what_is_shut_or_missing_says_so_on_a_whole_page(demo_studio):
    page = demo_studio.open(None)
    faults = []
    for address in WITHOUT_SIGNING_IN:
        page.goto(address)
        faults += faults_of(page, sizes=(NARROW, PHONE, LAPTOP), axe=True)
    page = demo_studio.open("Pia")
    for address in [*NOT_THERE, "/prices/", "/people/"]:
        assert page.goto(address).status in (403, 404)
        faults += faults_of(page, sizes=(NARROW, PHONE, LAPTOP), axe=True)
    assert not faults, "\n".join(faults)


@pytest.mark.django_db(transaction=True)
def test_an_empty_studio_is_whole_on_every_page(open_browser, sign_in):
    Studio.get()
    cast = builders.make_cast()
    page = open_browser(PHONE)
    sign_in(page, cast.owner.name)
    faults, opened = [], []
    for address, _ in pages_from(page, "/journal/", same=kind_of):
        opened.append(address)
        faults += faults_of(page, sizes=(NARROW, LAPTOP), axe=True)
    assert len(opened) > 20
    assert not faults, "\n".join(faults)


def test_the_first_visit_to_the_sink_is_light(demo_studio):
    """Counted as it came over the wire, photos left out: headers, the longest page, styles, scripts and typeface."""
    page = demo_studio.open("Oda")
    page.goto("/journal/")
    sinks = [link.get_attribute("href") for link in page.get_by_role("link", name="To the sink").all()]
    assert len(sinks) > 3
    sink = max(sinks, key=lambda sink: len(page.request.get(sink).body()))
    session = page.context.new_cdp_session(page)
    session.send("Network.enable")
    session.send("Network.setCacheDisabled", {"cacheDisabled": True})
    came, kinds = {}, {}
    session.on("Network.responseReceived", lambda event: kinds.update({event["requestId"]: event["type"]}))
    session.on("Network.loadingFinished", lambda event: came.update({event["requestId"]: event["encodedDataLength"]}))
    page.goto(sink, wait_until="networkidle")
    counted = {key: size for key, size in came.items() if kinds.get(key) != "Image"}
    assert len(counted) >= 4, "page, styles, script and typeface"
    assert sum(counted.values()) <= MOST_AT_THE_SINK, counted
