"""A trusted phone in a browser: two people, a touch each; a name touched where there is no network; without scripts."""

from types import SimpleNamespace

import pytest
from axe_playwright_python.sync_playwright import Axe

from batches.models import Entry
from studio.models import Person, Role, Studio
from tests import builders
from tests.browser.walking import AXE

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def at(transactional_db):
    """A pot with two planned amounts, and the cast: Oda the owner, Mats, and Hanne, who has had her first day."""
    Studio.get()
    cast = builders.make_cast()
    Person.objects.filter(pk=cast.helper.pk).update(welcomed_at=builders.NOON)
    bottle = builders.bottle(cast.maker)
    run = builders.run_with_pots(cast.maker, pots=1, title="Low Tide", lines=[(bottle, 30), (bottle, 20)])
    return SimpleNamespace(cast=cast, run=run, url=f"/sink/{run.batches.get().pk}/")


@pytest.fixture
def phone(at, open_browser, sign_in):
    """`phone(script)`: a page on a phone that Oda has trusted, with nobody signed in."""

    def trusted(script=True):
        page = open_browser(script=script)
        sign_in(page, at.cast.owner.name)
        page.goto("/account/")
        page.get_by_role("link", name="Trust this phone").click()
        page.get_by_label("What this phone is called").fill("the phone in the stand")
        page.get_by_label("Your password").fill(builders.PASSWORD)
        page.get_by_role("button", name="Trust this phone").click()
        page.get_by_text("This is the phone in the stand now").wait_for()
        page.goto("/account/")
        page.get_by_role("button", name="Sign out on this device").click()
        page.get_by_role("heading", name="Who is dyeing?").wait_for()
        return page

    return trusted


def pressed(page):
    return [chip.inner_text() for chip in page.locator("button[data-by][aria-pressed=true]").all()]


def who_did(run):
    entries = Entry.objects.filter(batch__run=run, kind=Entry.Kind.ADDITION).in_order().select_related("by", "sent_by")
    return [(entry.by.name, entry.sent_by.name) for entry in entries]


def log_next(page, said, name):
    """One touch, and the line stands in the log as the studio has it."""
    page.get_by_role("button", name=said).click()
    page.locator(".so-far .log li", has_text=name).wait_for()


def to_sink_as_hanne(page, at):
    """At the pot, once the scripts that a page asks for when it needs them have come."""
    page.get_by_role("button", name="Hanne").click()
    page.goto(at.url)
    page.wait_for_load_state("networkidle")


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
def test_two_people_log_with_a_touch_each(at, phone, script):
    page = phone(script)
    page.get_by_role("button", name="Hanne").click()
    page.goto(at.url)
    assert pressed(page) == ["Hanne"]
    log_next(page, "Log 30 mL", "Hanne")
    page.get_by_role("button", name="Mats", exact=True).click()
    page.locator("button[data-by][aria-pressed=true]", has_text="Mats").wait_for()
    page.locator(".so-far").get_by_role("link", name="Strike out").wait_for(state="detached")
    log_next(page, "Log 20 mL", "Mats")
    assert who_did(at.run) == [("Hanne", "Oda"), ("Mats", "Oda")]
    newest, oldest = page.locator(".so-far .log li").all()[:2]
    assert "Mats" in newest.inner_text() and "Hanne" in oldest.inner_text()
    # Hanne's line is hers: nobody is offered to strike it under another name.
    assert newest.get_by_role("link", name="Strike out").count() == 1
    assert oldest.get_by_role("link", name="Strike out").count() == 0


def test_a_name_touched_without_a_network_counts_at_once_and_is_told_later(at, phone):
    page = phone()
    to_sink_as_hanne(page, at)
    page.context.set_offline(True)
    page.get_by_role("button", name="Mats", exact=True).click()
    assert pressed(page) == ["Mats"]
    assert page.locator("main").get_attribute("data-by") == str(at.cast.maker.pk)
    assert page.locator("main").get_attribute("data-person") == str(at.cast.owner.pk)
    with page.expect_response("**/who/") as told:
        page.context.set_offline(False)
    assert told.value.ok
    page.goto("/journal/")
    assert "Mats, on the phone in the stand" in page.locator(".who").inner_text()


def touched_away_from_the_network(page, at):
    """Mats's name, touched as the network goes: the question that tells of it, which neither arrives nor fails yet."""
    held = []
    to_sink_as_hanne(page, at)
    page.route("**/who/", lambda route: route.continue_() if held else held.append(route))
    with page.expect_request("**/who/"):
        page.get_by_role("button", name="Mats", exact=True).click()
    while not held:
        page.wait_for_timeout(10)  # the driver hands the question over a moment after it is asked
    return held[0]


def test_a_name_is_told_although_the_network_comes_back_while_the_telling_still_fails(at, phone):
    page = phone()
    lost = touched_away_from_the_network(page, at)
    page.evaluate("dispatchEvent(new Event('online'))")
    with page.expect_response("**/who/") as told:
        lost.abort("internetdisconnected")
    assert told.value.ok
    page.goto("/journal/")
    assert "Mats, on the phone in the stand" in page.locator(".who").inner_text()


def test_a_name_that_could_not_be_told_is_told_later_though_nothing_says_that_the_network_is_back(at, phone):
    page = phone()
    page.clock.install()
    lost = touched_away_from_the_network(page, at)
    with page.expect_event("requestfailed", lambda request: request.url.endswith("/who/")):
        lost.abort("internetdisconnected")
    with page.expect_response("**/who/") as told:
        page.clock.run_for(60_000)
    assert told.value.ok


def test_one_phone_keeps_what_two_people_log_without_a_network(at, phone):
    note = f"{at.url}add/note/"
    page = phone()
    to_sink_as_hanne(page, at)
    page.evaluate("path => pages.fresh(path, {wanted: () => false})", note)  # kept while Hanne was dyeing
    page.context.set_offline(True)
    page.locator(".next .wet .button.main").first.click()
    page.get_by_text("1 on this phone").wait_for()
    page.get_by_role("button", name="Mats", exact=True).click()
    assert pressed(page) == ["Mats"]
    page.evaluate("async path => pages.draw(await pages.get(path), path)", note)
    page.get_by_role("textbox", name="Note").fill("Smells of wet sheep")
    page.get_by_role("button", name="Log it").click()
    page.get_by_text("2 on this phone").wait_for()
    assert not Entry.objects.filter(batch__run=at.run).exists()
    with page.expect_response(lambda answer: answer.url.endswith("/who/"), timeout=20_000):
        page.context.set_offline(False)
    page.goto(at.url)
    assert [
        (one.by.name, one.sent_by.name) for one in Entry.objects.filter(batch__run=at.run).order_by("received_at")
    ] == [
        ("Hanne", "Oda"),
        ("Mats", "Oda"),
    ]
    assert pressed(page) == ["Mats"]


def test_the_names_are_large_enough_and_can_be_read_out(at, phone):
    for number in range(9):
        Person.objects.create_person(f"Zofia {number}", builders.PASSWORD, Role.HELPER)
    page = phone()
    boxes = [chip.bounding_box() for chip in page.locator(".chip").all()]
    assert len(boxes) == 12 and min(box["height"] for box in boxes) >= 72
    page.get_by_role("button", name="Zofia 7").click()
    page.goto(at.url)
    assert page.locator(".who-dyes").bounding_box()["height"] <= 190
    assert pressed(page) == ["Zofia 7"]
    assert min(chip.bounding_box()["height"] for chip in page.locator(".chip:visible").all()) >= 48
    page.get_by_text("8 more names").click()
    page.context.set_offline(True)
    page.get_by_role("button", name="Zofia 8").click()
    assert pressed(page) == ["Zofia 8"] and page.get_by_role("button", name="Zofia 8").is_visible()
    assert not Axe().run(page, options=AXE).response["violations"]
