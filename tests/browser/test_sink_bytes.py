"""How much the sink page weighs over bad Wi-Fi: its first visit, and every visit after that.

What is counted goes over the wire, whoever in the browser asks for it.
"""

import pytest

from batches.demo import story
from tests.browser.walking import PHONE, is_kept
from tests.browser.wire import wire_to

pytestmark = pytest.mark.browser

# Bytes over the wire, headers and all. When the page stands, a worker behind it fetches what works without a network.
MOST_OF_THE_PAGE, MOST_IN_ALL = 80_000, 110_000


@pytest.fixture
def wire(demo_address):
    with wire_to(demo_address) as wire:
        yield wire


@pytest.fixture
def phone(chromium, wire):
    """A signed-in phone that has never seen a page: its cookies are there, its cache is empty."""
    door = chromium.new_context(base_url=wire.address)
    page = door.new_page()
    page.goto("/sign-in/")
    page.get_by_label("Name").fill("Wim")
    page.get_by_label("Password").fill(story.PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/")
    sink = page.locator("a[href*='/sink/']").first.get_attribute("href")
    state = door.storage_state()
    door.close()
    context = chromium.new_context(viewport=PHONE, base_url=wire.address, storage_state=state)
    wire.settle()
    yield context, sink
    context.close()


def visit(context, wire, path):
    """Open a page in a tab of its own, wait until all of it is there, and what is kept behind it, and close it."""
    wire.begin()
    page = context.new_page()
    page.goto(path, wait_until="load")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    is_kept(page, f"{path}add/note/")
    wire.settle()
    page.close()


def test_the_sink_is_light_at_first_and_one_request_after_that(phone, wire):
    context, sink = phone
    visit(context, wire, sink)
    assert f"{sink}kit/" in wire.asked
    print(f"\nFirst visit: {wire.bytes} bytes in {len(wire.asked)} requests, {wire.answers}")
    page = wire.answers[: wire.asked.index("/sw.js")]
    first = sum(size for _, size in page)
    print(f"Of these the page itself: {first} bytes in {len(page)} requests")
    assert first <= MOST_OF_THE_PAGE and wire.bytes <= MOST_IN_ALL
    for _ in range(3):
        visit(context, wire, sink)
        print(f"Again: {wire.bytes} bytes: {wire.asked}")
        assert wire.asked == [sink]
