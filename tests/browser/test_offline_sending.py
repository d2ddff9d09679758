"""How what waits is sent: by one page at a time, photos with their progress, and what was refused only once."""

import re

import pytest

from tests.browser.test_offline import MANY, PHOTO

pytestmark = pytest.mark.browser

NO_LOCKS = "Object.defineProperty(Navigator.prototype, 'locks', { get: () => undefined });"
SHARES = """() => {
  globalThis.shares = [];
  const bar = document.querySelector("progress");
  document.addEventListener("clearbath:progress", () => { if (!bar.hidden) shares.push(bar.value); });
}"""
SLOW = {"offline": False, "latency": 20, "downloadThroughput": -1, "uploadThroughput": 60_000}


def test_two_pages_send_each_thing_once_where_the_browser_has_no_locks(own_studio, phone_of):
    phone = phone_of("Oda", NO_LOCKS)
    sent = phone.answered()
    phone.context.set_offline(True)
    phone.page.evaluate(MANY, [f"{phone.sink}add/note/", "saffron", 0, 8])
    other = phone.context.new_page()
    other.goto(phone.sink)
    other.locator("[data-outbox]").filter(has_text="8 on this phone").wait_for()
    assert [page.evaluate("navigator.locks === undefined") for page in (phone.page, other)] == [True, True]
    phone.context.set_offline(False)
    for page in (phone.page, other):
        page.evaluate("() => { sender.flush(); }")
    phone.says("All sent")
    other.locator("[data-outbox]").filter(has_text="All sent").wait_for()
    assert len(own_studio.notes("saffron")) == 8
    bodies = [body for body in sent if "saffron" in body]
    assert len({re.search(r"saffron\D+(\d+)", body)[1] for body in bodies}) == len(bodies) == 8


def test_a_page_that_died_while_sending_holds_the_others_up_for_a_while_only(own_studio, phone_of):
    phone = phone_of("Oda", NO_LOCKS)
    phone.context.set_offline(True)
    phone.note("weld behind a dead page")
    phone.page.evaluate(
        "() => phone.put('small', { tab: 'of a page that is gone', until: Date.now() + 3000 }, 'lease')"
    )
    phone.context.set_offline(False)
    phone.page.evaluate("() => { sender.flush(); }")
    phone.says("All sent")
    assert len(own_studio.notes("weld behind")) == 1


def test_a_photo_on_its_way_shows_how_much_of_it_has_gone(own_studio, phone_of):
    phone = phone_of("Oda")
    before = own_studio.rows("SELECT count(*) AS n FROM batches_phototaken")[0]["n"]
    session = phone.context.new_cdp_session(phone.page)
    session.send("Network.enable")
    session.send("Network.emulateNetworkConditions", SLOW)
    phone.page.evaluate(SHARES)
    phone.page.evaluate(PHOTO, [f"{phone.sink}add/photo/", 1])
    phone.all_sent()
    shares = phone.page.evaluate("shares")
    assert len(shares) >= 1 and shares == sorted(shares) and shares[-1] == 1
    assert phone.page.locator("[data-desk] progress").is_hidden()
    assert own_studio.rows("SELECT count(*) AS n FROM batches_phototaken")[0]["n"] == before + 1


def test_a_photo_too_large_for_what_stands_before_the_studio_holds_nothing_else_up(own_studio, phone_of):
    """A proxy with a limit of its own answers in a page of its own, as often as it is asked."""
    phone = phone_of("Oda")

    def proxy(route):
        if route.request.headers["content-type"].startswith("multipart"):
            return route.fulfill(status=413, content_type="text/html", body="<h1>413 Request Entity Too Large</h1>")
        return route.continue_()

    phone.page.route("**/log/", proxy)
    phone.context.set_offline(True)
    phone.page.evaluate(PHOTO, [f"{phone.sink}add/photo/", 1])
    phone.note("madder behind a photo")
    phone.context.set_offline(False)
    for _ in range(4):
        phone.page.evaluate("() => sender.flush()")
    phone.says("1 on this phone, not sent yet")
    assert len(own_studio.notes("madder behind")) == 1
    phone.page.unroute("**/log/")
    phone.page.evaluate("() => sender.flush()")
    phone.says("All sent")
