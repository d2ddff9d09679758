"""The board in a real browser: it fits a tablet, fetches itself anew, and says when it has lost the studio."""

import re
from decimal import Decimal
from uuid import uuid4

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from batches.models import Timer
from studio.models import Studio
from tests import builders

pytestmark = pytest.mark.browser


@pytest.fixture
def cast(transactional_db):
    Studio.get()
    return builders.make_cast()


def hold(cast, title, minutes=45):
    now = timezone.now()
    run = builders.run_with_pots(cast.maker, pots=2, at=now, title=title)
    touch = uuid4()
    for pot in run.batches.all():
        Timer.log(pot, builders.stamp(cast.helper, now, together=touch), what="hold", minutes=Decimal(minutes))


@pytest.mark.parametrize("size", [(1024, 768), (1280, 800), (600, 1024)])
def test_it_ticks_in_large_figures_without_scrolling_sideways(cast, open_browser, sign_in, size):
    hold(cast, "Stove door")
    hold(cast, "Rhubarb and custard", 90)
    page = open_browser({"width": size[0], "height": size[1]})
    sign_in(page, "Vera")
    page.goto("/board/")
    figure = page.locator(".left").first
    expect(figure).to_have_text(re.compile(r"^4[45]:\d\d$"))
    assert float(figure.evaluate("(box) => parseFloat(getComputedStyle(box).fontSize)")) >= 72
    assert not page.evaluate("document.documentElement.scrollWidth > innerWidth")
    assert figure.evaluate("(box) => box.getBoundingClientRect().bottom < innerHeight")


@pytest.mark.parametrize("size", [(1024, 768), (1280, 800)])
def test_the_demo_studios_usual_day_fits_an_old_tablet(demo_studio, size):
    page = demo_studio.open("Guest", {"width": size[0], "height": size[1]})
    page.goto("/board/")
    expect(page.locator(".card")).to_have_count(4)
    page.evaluate("document.querySelectorAll('.left').forEach((figure) => { figure.textContent = '+1:17:08'; })")
    expect(page.get_by_role("button", name="Ring here")).to_be_in_viewport(ratio=1)
    assert page.evaluate("[document.scrollingElement.scrollHeight, document.scrollingElement.scrollWidth]") == [
        size[1],
        size[0],
    ]


def test_it_fetches_itself_anew_and_says_when_it_has_lost_the_studio(cast, open_browser, sign_in):
    page = open_browser({"width": 1024, "height": 768})
    page.clock.install()
    sign_in(page, "Vera")
    page.goto("/board/")
    expect(page.get_by_text("Nothing is in a pot")).to_be_visible()
    hold(cast, "Stove door")
    page.clock.run_for(26_000)
    expect(page.get_by_text("Stove door")).to_be_visible()
    expect(page.locator(".left")).to_have_text(re.compile(r"^4[45]:\d\d$"))
    page.route(re.compile(r"\?part$"), lambda route: route.fulfill(status=200, body="<p>Welcome to the hotel</p>"))
    page.clock.run_for(26_000)
    expect(page.get_by_text("not fresh since")).to_be_visible()
    page.unroute(re.compile(r"\?part$"))
    page.clock.run_for(26_000)
    expect(page.get_by_text("not fresh since")).to_be_hidden()


def test_without_a_network_it_says_since_when(cast, open_browser, sign_in):
    page = open_browser({"width": 1024, "height": 768})
    page.clock.install()
    sign_in(page, "Vera")
    page.goto("/board/")
    fresh = page.locator("[data-fresh]").get_attribute("data-fresh")
    page.route(re.compile(r"\?part$"), lambda route: route.fulfill(status=204))
    page.clock.run_for(30_000)
    expect(page.get_by_text("not fresh since")).to_be_hidden()  # once may be a hiccup
    for _ in range(3):
        page.clock.run_for(26_000)
        page.wait_for_timeout(50)
    expect(page.get_by_text(f"not fresh since {fresh}")).to_be_visible()


def test_signed_out_it_says_so(cast, open_browser, sign_in):
    page = open_browser({"width": 1024, "height": 768})
    page.clock.install()
    sign_in(page, "Vera")
    page.goto("/board/")
    page.context.clear_cookies()
    page.clock.run_for(26_000)
    expect(page.get_by_text("This tablet was signed out")).to_be_visible()


def test_without_a_script_it_says_until_when(cast, open_browser, sign_in):
    hold(cast, "Stove door")
    page = open_browser({"width": 1024, "height": 768}, script=False)
    sign_in(page, "Vera")
    page.goto("/board/")
    expect(page.get_by_text(re.compile(r"until \d\d:\d\d"))).to_be_visible()
