"""Two things at once at the sink: each test says itself which of them comes first, and holds the other one back."""

import os
import signal
from types import SimpleNamespace

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from batches.models import Entry
from tests import builders
from tests.browser.walking import logged

TAKEN_BACK_BEFORE_IT_GOES = """() => {
  const get = phone.get;
  phone.get = async (name, key) => {
    if (name === "files") { // what is asked for last before it goes
      phone.get = get;
      await outbox.takeBack(key);
    }
    return get(name, key);
  };
}"""

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def at(cast, studio, open_browser, sign_in):
    """A page on which a maker is signed in, and the address of a pot's sink."""
    page = open_browser()
    sign_in(page, cast.maker.name)
    pot = builders.one_pot(cast.maker)
    return SimpleNamespace(page=page, pot=pot, by=cast.maker, sink=f"/sink/{pot.pk}/")


class Held:
    """The studio's next answer for that page: it is given, and comes when it is let go."""

    def __init__(self, page, path):
        self.page, self.path, self.kept = page, path, []
        page.route(f"**{path}", self.hold, times=1)

    def hold(self, route):
        self.kept.append((route, route.fetch()))

    def is_given(self):
        while not self.kept:
            self.page.wait_for_timeout(20)

    def let_go(self):
        [(route, answer)] = self.kept
        route.fulfill(response=answer)


def test_what_is_taken_back_in_the_moment_before_it_goes_is_not_sent(at):
    at.page.goto(f"{at.sink}add/note/")
    at.page.evaluate(TAKEN_BACK_BEFORE_IT_GOES)
    at.page.locator("textarea").first.fill("Not this pot")
    at.page.get_by_role("button", name="Log it").click()
    logged(at.page)
    assert at.page.evaluate("phone.all('waiting')") == []
    assert not Entry.objects.filter(batch=at.pot).exists()


def test_an_answer_that_was_overtaken_is_neither_drawn_nor_kept(at):
    at.page.goto(at.sink)
    first = Held(at.page, at.sink)
    at.page.evaluate("(path) => { window.first = pages.fresh(path); }", at.sink)
    first.is_given()
    builders.words(at.by, at.pot, "Cleared at last")
    at.page.evaluate("(path) => pages.fresh(path)", at.sink)
    said = at.page.locator("main .log li", has_text="Cleared at last")
    said.wait_for()
    first.let_go()
    at.page.evaluate("() => window.first")
    assert said.count() == 1
    assert "Cleared at last" in at.page.evaluate("(path) => pages.get(path).then((kept) => kept.html)", at.sink)


def test_whoever_goes_on_before_the_sink_has_come_is_not_called_back(at):
    at.page.goto(f"{at.sink}add/note/")
    sink = Held(at.page, at.sink)
    at.page.locator("textarea").first.fill("Smells of wet sheep")
    at.page.get_by_role("button", name="Log it").click()
    sink.is_given()
    at.page.evaluate("(path) => pages.visit(path)", f"{at.sink}add/reading/")
    at.page.locator("main [name=temperature]").fill("61")
    sink.let_go()
    logged(at.page)
    assert at.page.url.endswith("/add/reading/")
    assert at.page.locator("main [name=temperature]").input_value() == "61"


def test_a_step_that_was_sent_is_not_offered_again_before_the_sink_has_come(at):
    """Nor is the undo of what was done before, where the newest stands: a hand would take it for that one's."""
    bottle = builders.bottle(at.by)
    pot = builders.run_with_pots(at.by, pots=1, lines=[(bottle, 30), (bottle, 20)]).batches.get()
    builders.words(at.by, pot, "Stirred once", at=timezone.now())
    sink = f"/sink/{pot.pk}/"
    at.page.goto(sink)
    last = at.page.locator(".block.last")
    held = Held(at.page, sink)
    log = at.page.get_by_role("button", name="Log 30 mL")
    log.click()
    held.is_given()
    at.page.locator("[data-outbox]", has_text="All sent").wait_for()
    assert not log.is_visible()
    assert last.get_by_text("30 mL").first.is_visible()
    assert not last.get_by_text("Stirred once").first.is_visible()
    assert not last.get_by_role("button", name="Undo").is_visible()
    held.let_go()
    logged(at.page)
    at.page.get_by_role("button", name="Log 20 mL").wait_for()
    assert last.get_by_role("button", name="Undo").is_visible()


def test_what_is_begun_on_the_sink_before_it_has_come_anew_stays(at):
    at.page.goto(at.sink)
    sink = Held(at.page, at.sink)
    at.page.evaluate("(path) => { window.came = pages.fresh(path); }", at.sink)
    sink.is_given()
    at.page.evaluate("document.querySelector('main').append(document.createElement('textarea'))")
    at.page.locator("main > textarea").fill("half a sentence")
    sink.let_go()
    at.page.evaluate("() => window.came")
    assert at.page.locator("main > textarea").input_value() == "half a sentence"


def test_of_two_links_the_one_touched_last_is_followed(at):
    """Where the browser keeps nothing, the links of the sink are followed in place."""
    note, reading = f"{at.sink}add/note/", f"{at.sink}add/reading/"
    at.page.goto(at.sink)
    first = Held(at.page, note)
    at.page.evaluate("(path) => { window.first = pages.visit(path); }", note)
    first.is_given()
    at.page.evaluate("(path) => pages.visit(path)", reading)
    first.let_go()
    at.page.evaluate("() => window.first")
    assert at.page.url.endswith(reading) and at.page.locator("main [name=temperature]").is_visible()


def test_a_page_opened_without_the_studio_follows_once_it_is_back(phone_of):
    phone = phone_of("Oda")
    phone.context.set_offline(True)
    phone.page.reload()
    old = phone.page.get_by_text("this is how it stood at")
    old.wait_for()
    phone.context.set_offline(False)
    old.wait_for(state="hidden")


def test_a_page_that_came_too_late_is_drawn_when_it_comes(own_studio, phone_of):
    """After three seconds the sink stands as it was kept; the studio may still answer after ten."""
    phone = phone_of("Oda")
    os.killpg(own_studio.server.pid, signal.SIGSTOP)
    try:
        phone.page.reload()
        old = phone.page.get_by_text("this is how it stood at")
        old.wait_for()
    finally:
        os.killpg(own_studio.server.pid, signal.SIGCONT)
    old.wait_for(state="hidden")


def test_what_another_open_page_sends_is_seen_in_the_log_of_this_one(phone_of):
    phone = phone_of("Oda")
    phone.context.set_offline(True)
    other = phone.context.new_page()
    other.goto(phone.sink)
    phone.note("alder from the other page")
    other.locator("[data-outbox]", has_text="1 on this phone").wait_for()
    other.route("**/log/", lambda route: route.abort())  # so it is the first page that sends
    phone.context.set_offline(False)
    phone.all_sent()
    expect(other.locator("[data-as-of]")).to_be_hidden()
    other.locator("main .log li:not([data-id])", has_text="alder from the other page").wait_for()
