"""A studio reached over plain http by a name of the local network, as from a phone: what the browser keeps from such a
page, what the page says of it, and that nothing which was logged is lost.

The name is mapped to this computer inside the browser. To it, that is no safe origin, while localhost is one (W3C
"Secure Contexts", section 3.1).
"""

from types import SimpleNamespace
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe

from batches.models import Entry
from studio.models import Studio
from tests import builders
from tests.browser.conftest import PATIENCE_MS, QUIET
from tests.browser.walking import ANSWERS_IN_TIME, AXE, PHONE, is_kept, logged

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

LAN = "studio.lan"
KEPT_FROM_IT = """() => [window.isSecureContext, "serviceWorker" in navigator, "wakeLock" in navigator,
    "randomUUID" in crypto, "mediaDevices" in navigator]"""
LINE = "[data-plain-http]:visible"
LARGE_KEYS_CAME = "() => performance.getEntriesByType('resource').some((one) => one.name.endsWith('/pad.js'))"
TWO_TOUCHES_MS = 600  # the sink takes two touches of one place within half a second for one


@pytest.fixture(scope="module")
def phone(chromium):
    """A browser for which the studio's name leads to this computer."""
    args = (*QUIET, f"--host-resolver-rules=MAP {LAN} 127.0.0.1")
    browser = chromium.browser_type.launch(executable_path="/usr/bin/chromium", args=args)
    yield browser
    browser.close()


@pytest.fixture
def at(transactional_db, live_server, phone, settings, sign_in):
    """A page over plain http on which a maker is signed in, and a pot of theirs."""
    Studio.get()
    cast = builders.make_cast()
    pot = builders.one_pot(cast.maker)
    port = urlsplit(live_server.url).port
    settings.BASE_URL, settings.ONLY_HERE = f"http://{LAN}:{port}", False
    settings.ALLOWED_HOSTS = [LAN, "localhost"]
    context = phone.new_context(viewport=PHONE, base_url=settings.BASE_URL)
    context.set_default_timeout(PATIENCE_MS)
    page = context.new_page()
    faults = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    sign_in(page, cast.maker.name)
    yield SimpleNamespace(page=page, pot=pot, sink=f"/sink/{pot.pk}/", name=cast.maker.name, origin=settings.BASE_URL)
    context.close()
    assert not faults


def log_words(at, words):
    at.page.goto(f"{at.sink}add/note/")
    at.page.locator("textarea").first.fill(words)
    at.page.locator("main form[method=post] button.main").last.click()


def test_the_browser_keeps_from_it_what_the_page_says(at):
    at.page.goto(at.sink)
    assert at.page.evaluate(KEPT_FROM_IT) == [False] * 5


def test_signing_in_and_logging_work_as_ever(at):
    log_words(at, "Smells of wet sheep")
    at.page.wait_for_url(f"**{at.sink}")
    at.page.locator("main .log", has_text="Smells of wet sheep").wait_for()
    assert Entry.objects.filter(batch=at.pot, words="Smells of wet sheep").count() == 1


@pytest.mark.parametrize("address", ["sink", "/studio/"])
def test_one_line_says_what_to_do_about_it(at, address):
    at.page.goto(getattr(at, address, address))
    line = at.page.locator(LINE)
    assert line.count() == 1 and "keep the sink open" in line.locator("summary").inner_text()
    assert line.locator("summary").bounding_box()["height"] >= 44
    line.locator("summary").click()
    assert "README" in line.inner_text()
    assert not Axe().run(at.page, options=AXE).response["violations"]


def test_on_this_computer_itself_nothing_is_said(at, live_server):
    """There the browser keeps nothing back, though the address is an http one too."""
    page = at.page.context.browser.new_page(base_url=live_server.url.replace("127.0.0.1", "localhost"))
    try:
        page.goto("/sign-in/")
        page.get_by_label("Name").fill(at.name)
        page.get_by_label("Password").fill(builders.PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_url("**/journal/**")
        for address in (at.sink, "/studio/"):
            page.goto(address)
            assert page.evaluate("window.isSecureContext")
            assert page.locator("[data-plain-http]").count() >= 1 and page.locator(LINE).count() == 0
    finally:
        page.context.close()


def test_what_is_logged_while_the_network_is_away_waits_in_the_open_page_and_arrives_once(at):
    """No worker stands in for the network here, so the page is never left: a mark in its window stays."""
    at.page.goto(at.sink)
    is_kept(at.page, f"{at.sink}add/note/")
    at.page.evaluate("window.neverLeft = true")
    at.page.context.set_offline(True)
    said = ["First the soak", "Then the red", "Then it cleared"]
    for number, words in enumerate(said, 1):
        at.page.get_by_role("link", name="Note").click()
        at.page.locator("main textarea").first.fill(words)
        at.page.locator("main form[data-log] button.main").last.click()
        at.page.locator("[data-outbox]", has_text=f"{number} on this phone").wait_for()
        logged(at.page)
        at.page.wait_for_timeout(TWO_TOUCHES_MS)
        at.page.locator(".last").get_by_text(words).first.wait_for()
    assert not Entry.objects.filter(batch=at.pot).exists()

    at.page.context.set_offline(False)
    at.page.locator("[data-outbox]", has_text="All sent").wait_for(timeout=40_000)  # it tries again each half minute
    arrived = Entry.objects.filter(batch=at.pot).order_by("at")
    assert [entry.words for entry in arrived] == said
    assert all(entry.pk.version == 4 for entry in arrived), "numbers made without crypto.randomUUID"
    assert at.page.evaluate("window.neverLeft")
    at.page.reload()
    for words in said:
        assert at.page.locator("main .log li", has_text=words).count() == 1
    assert Entry.objects.filter(batch=at.pot).count() == len(said)


def test_the_large_keys_are_there_when_a_page_is_first_drawn_without_a_network(at):
    at.page.goto(at.sink)
    is_kept(at.page, f"{at.sink}add/reading/")
    at.page.wait_for_function(LARGE_KEYS_CAME)
    at.page.context.set_offline(True)
    at.page.get_by_role("link", name="Reading").click()
    at.page.locator(".pad").get_by_text("7", exact=True).click()
    assert at.page.locator("main [name=temperature]").input_value() == "7"


def test_a_link_to_a_place_on_the_page_loses_nothing_typed(at):
    at.page.add_init_script(ANSWERS_IN_TIME)
    at.page.goto(f"{at.sink}add/reading/")
    box = at.page.locator("main [name=temperature]")
    box.fill("rather hot")
    at.page.get_by_role("button", name="Log it").click()
    wrong = at.page.locator("main .errors a")
    wrong.wait_for()
    at.page.wait_for_timeout(TWO_TOUCHES_MS)
    wrong.click()
    assert box.input_value() == "rather hot"
    assert box.evaluate("box => box === document.activeElement")


def test_what_is_refused_later_opens_with_what_was_typed(at):
    at.page.goto(at.sink)
    is_kept(at.page, f"{at.sink}add/reading/")
    at.page.context.set_offline(True)
    at.page.get_by_role("link", name="Reading").click()
    at.page.locator("main [name=temperature]").fill("rather hot")
    at.page.get_by_role("button", name="Log it").click()
    at.page.locator("[data-outbox]", has_text="1 on this phone").wait_for()
    at.page.wait_for_url(f"**{at.sink}")  # where it was made it would be said in the form itself
    at.page.context.set_offline(False)
    at.page.evaluate("sender.flush()")
    at.page.get_by_role("link", name="Put it right").click()
    at.page.locator("main .errors").wait_for()
    assert at.page.locator("main [name=temperature]").input_value() == "rather hot"
    at.page.goto(f"{at.sink}add/reading/")
    at.page.get_by_role("link", name="Put it right").click()  # from the very page it leads to
    at.page.locator("main .errors").wait_for()
