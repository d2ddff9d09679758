"""What wet hands see at the sink without scrolling: the pot, the last thing done, what is due and the next button."""

from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from batches.demo import story
from batches.models import Timer
from tests import builders
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


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(("pots", "name"), [(6, "sink"), (6, "sink-all"), (8, "sink"), (8, "sink-all"), (12, "sink")])
def test_many_jars_push_nothing_below_it(cast, open_browser, sign_in, pots, name):
    """With a timer that runs for all of them and the undo of the last touch: still last, due and next."""
    maker, now = cast.maker, timezone.now()
    powder = builders.receive_powder(maker)
    run = builders.run_with_pots(
        maker, pots=pots, skeins=1, method="jar", lines=[(powder, 2)], title="Button box", at=now - timedelta(hours=1)
    )
    run.batches.update(vessel=builders.make_vessel("Preserving jars", kind="jar", how_many=12))
    touch = uuid4()
    for jar in run.batches.all():
        Timer.log(jar, builders.stamp(maker, now, together=touch), what="soak", minutes=Decimal(45))
    page = open_browser(PHONE)
    sign_in(page, maker.name)
    page.goto(reverse(f"batches:{name}", args=[run.batches.order_by("number").first().pk]))
    for part in (".potnav", ".block.last .undo", ".due .timer", ".next .button.main"):
        low = page.locator(part).first.evaluate("it => it.getBoundingClientRect().bottom")
        assert low <= PHONE["height"], f"{part} ends at {low} px"
    gaps = page.evaluate(
        """() => {
          const shown = [...document.querySelectorAll(".potbox")].filter((box) => box.checkVisibility());
          const boxes = shown.map((box) => box.getBoundingClientRect());
          return boxes.slice(1).map((box, at) => [box.left - boxes[at].right, box.height, box.top - boxes[at].top]);
        }"""
    )
    assert len(gaps) == 3 and all(gap >= 15.9 and height >= 72 and not lower for gap, height, lower in gaps), gaps
    page.locator(".potnav summary").click()
    assert page.locator(".potbox:visible").count() == pots + 2  # all of them, the jars, and what was touched
