"""What wet hands see at the sink without scrolling: the pot, the last thing done, what is due and the next button."""

import pytest

from batches.demo import story
from tests.browser.walking import PHONE

pytestmark = pytest.mark.browser


def test_the_next_button_stands_on_the_first_screen(chromium, demo_address):
    context = chromium.new_context(viewport=PHONE, base_url=demo_address)
    page = context.new_page()
    page.goto("/sign-in/")
    page.get_by_label("Name").fill("Oda")
    page.get_by_label("Password").fill(story.PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/journal/")
    sinks = page.locator("a[href^='/sink/']").evaluate_all("links => links.map(a => a.pathname)")
    seen = []
    for sink in dict.fromkeys(sinks):
        page.goto(sink)
        button = page.locator(".next .button.main").first
        if button.count():
            seen.append(page.locator("h1").inner_text())
            low = button.evaluate("it => it.getBoundingClientRect().bottom")
            assert low <= PHONE["height"], f"{seen[-1]}: the next button ends at {low} px"
            for part in (".pot-head", ".block.last", ".due .timer"):
                assert page.locator(part).first.evaluate("it => it.getBoundingClientRect().bottom") <= low, part
    context.close()
    assert any("Kiln Door" in name for name in seen)  # two pots, two timers: the fullest of them
