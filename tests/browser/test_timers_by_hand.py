"""Timers in a real browser, with its clock moved: they tick, are late, ring once touched, and live through a reload."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from batches.models import Run, Timer, TimerEnded
from tests import builders
from tests.browser.walking import LAPTOP, PHONE

pytestmark = pytest.mark.browser

COUNTS_BEEPS = """
window.beeps = 0;
const plain = AudioContext.prototype.createOscillator;
AudioContext.prototype.createOscillator = function () { window.beeps += 1; return plain.call(this); };
"""
SLOW_DEVICE = """
let state = "suspended";
Object.defineProperty(AudioContext.prototype, "state", { get: () => state });
AudioContext.prototype.resume = () => new Promise((go) => { window.heard = () => { state = "running"; go(); }; });
"""


@pytest.fixture
def pot(transactional_db):
    cast = builders.make_cast()
    now = timezone.now()
    pot = builders.run_with_pots(cast.maker, pots=2, at=now, title="Stove door").batches.first()
    for number, batch in enumerate(pot.run.batches.all()):
        builders.words(cast.helper, batch, at=now)
        Timer.log(batch, said(cast.helper, now), what="hold", minutes=Decimal(45 + 30 * number))
    return pot


def said(person, now):
    return builders.stamp(person, now)


def settled(page):
    """The page has looked for what waits on the phone, and says that nothing does."""
    expect(page.get_by_text("Nothing waits on this phone")).to_be_visible()
    page.wait_for_timeout(300)


def figure(page, nth=0):
    return page.locator(".timer .left").nth(nth)


def seconds_of(text):
    minutes, seconds = text.lstrip("+").split(":")
    return int(minutes) * 60 + int(seconds)


def over_at(page):
    """When the first timer is over by what the page says, as a number of seconds."""
    text, at = page.evaluate("[document.querySelector('.timer .left').textContent, Date.now()]")
    return at / 1000 + seconds_of(text)


def test_a_timer_ticks_and_counts_up_once_it_is_late(pot, open_browser, sign_in):
    page = open_browser(PHONE)
    page.clock.install()
    sign_in(page, "Hanne")
    page.goto(f"/sink/{pot.pk}/")
    expect(figure(page)).to_have_text(re.compile(r"^4[45]:\d\d$"))
    expect(figure(page, 1)).to_have_text(re.compile(r"^1:1\d h$"))
    page.clock.pause_at(page.evaluate("Date.now() / 1000 + 1"))  # from here on nothing passes but what is said here
    before = seconds_of(figure(page).inner_text())
    page.clock.run_for(10_000)
    assert 9 <= before - seconds_of(figure(page).inner_text()) <= 11
    page.clock.fast_forward("46:00")
    page.clock.run_for(1_000)
    expect(figure(page)).to_have_text(re.compile(r"^\+1:\d\d$"))
    row = page.locator(".timer").first
    expect(row).to_have_class(re.compile("over"))
    expect(row.get_by_text("Hold is over")).to_be_visible()
    expect(row.get_by_text("late since")).to_be_visible()
    expect(row.get_by_role("button", name="Done", exact=True)).to_be_visible()


def test_it_goes_by_the_studios_clock_not_the_phones_also_after_a_reload(pot, open_browser, sign_in):
    page = open_browser(PHONE)
    page.clock.install(time=timezone.now() - timedelta(hours=3))
    sign_in(page, "Hanne")
    page.goto(f"/sink/{pot.pk}/")
    expect(figure(page)).to_have_text(re.compile(r"^4[45]:\d\d$"))
    page.reload()
    expect(figure(page)).to_have_text(re.compile(r"^4[45]:\d\d$"))


def test_two_pages_say_the_same_and_an_end_is_seen_on_both(pot, open_browser, sign_in):
    phone, laptop = open_browser(PHONE), open_browser(LAPTOP)
    sign_in(phone, "Hanne")
    sign_in(laptop, "Mats")
    phone.goto(f"/sink/{pot.pk}/")
    laptop.goto("/shelf/")
    assert abs(over_at(phone) - over_at(laptop)) <= 3
    phone.locator(".timer").first.locator("summary").first.click()
    phone.locator(".timer").first.get_by_role("button", name="Done", exact=True).click()
    expect(phone.get_by_text("Logged: Hold")).to_be_visible()
    assert TimerEnded.objects.count() == 1
    laptop.reload()
    expect(laptop.locator(".duebar .timer")).to_have_count(1)


def test_it_rings_after_one_touch_until_it_is_touched(pot, open_browser, sign_in):
    page = open_browser(PHONE)
    page.clock.install()
    page.add_init_script(COUNTS_BEEPS)
    sign_in(page, "Hanne")
    page.goto(f"/sink/{pot.pk}/")
    page.get_by_role("button", name="Ring here").click()
    page.clock.run_for(1_000)
    expect(page.get_by_text("It rings while this page is open")).to_be_visible()
    tried = page.evaluate("window.beeps")
    assert tried > 0  # once, so that it is heard how loud it is
    page.clock.fast_forward("45:00")
    page.clock.run_for(6_000)
    expect(page.get_by_role("button", name="Quiet")).to_be_visible()
    assert page.evaluate("window.beeps") > tried
    expect(page.locator("[data-due-said]")).to_have_text(re.compile("Hold is over"))
    page.locator("h1").click()
    loud = page.evaluate("window.beeps")
    page.clock.run_for(10_000)
    assert page.evaluate("window.beeps") == loud
    page.reload()  # it is remembered that it rings here, and that this one was heard
    page.locator("h1").click()
    page.clock.run_for(5_000)
    expect(page.get_by_text("It rings while this page is open")).to_be_visible()
    assert page.evaluate("window.beeps") == 0


def test_it_is_heard_how_loud_it_rings_however_long_the_device_takes(pot, open_browser, sign_in):
    page = open_browser(PHONE)
    page.add_init_script(COUNTS_BEEPS + SLOW_DEVICE)
    sign_in(page, "Hanne")
    page.goto(f"/sink/{pot.pk}/")
    page.get_by_role("button", name="Ring here").click()
    page.wait_for_timeout(400)
    assert page.evaluate("window.beeps") == 0
    page.evaluate("() => window.heard()")
    expect(page.get_by_text("It rings while this page is open")).to_be_visible()
    assert page.evaluate("window.beeps") == 2


def test_it_stops_ringing_by_itself_after_two_minutes(pot, open_browser, sign_in):
    page = open_browser(PHONE)
    page.clock.install()
    page.add_init_script(COUNTS_BEEPS)
    sign_in(page, "Hanne")
    page.goto(f"/sink/{pot.pk}/")
    page.get_by_role("button", name="Ring here").click()
    expect(page.get_by_text("It rings while this page is open")).to_be_visible()
    page.clock.fast_forward("45:00")
    page.clock.run_for(125_000)
    loud = page.evaluate("window.beeps")
    page.clock.run_for(20_000)
    assert page.evaluate("window.beeps") == loud > 20


def test_one_begun_without_a_network_shows_and_ticks(pot, open_browser, sign_in):
    page = open_browser(PHONE)
    sign_in(page, "Hanne")
    page.goto(f"/sink/{pot.pk}/")
    settled(page)
    waits = {"id": "00000000-0000-4000-8000-000000000001", "kind": "timer", "say": "Soak, 30 min"}
    fields = [["what", "soak"], ["minutes", "30"], ["pots", "all"]]
    tell = """([one, fields]) => document.dispatchEvent(new CustomEvent("clearbath:waiting",
        {detail: [{...one, fields, at: new Date().toISOString()}]}))"""
    page.evaluate(tell, [waits, fields])
    row = page.locator("[data-of-phone]")
    expect(row.locator(".left")).to_have_text(re.compile(r"^(30:00|29:\d\d)$"))
    expect(row).to_contain_text("Soak, 30 min")
    assert row.locator("input[name=target]").input_value() == waits["id"]
    page.evaluate("""document.dispatchEvent(new CustomEvent("clearbath:waiting", {detail: []}))""")
    expect(row).to_have_count(0)


def test_a_planned_hold_begun_without_a_network_runs_and_arrives(transactional_db, open_browser, sign_in):
    cast, now = builders.make_cast(), timezone.now()
    line = builders.plan_line(step="hold", words="Hold it", minutes=45)
    told = [{"fibre_g": 100, "yarns": [], "lines": [line]}]
    run = Run.plan(by=cast.maker, day=now.date(), pots=told, title="A lone pot")
    run.start(by=cast.maker)
    page = open_browser(PHONE)
    sign_in(page, "Hanne")
    page.goto(f"/sink/{run.batches.get().pk}/")
    page.context.set_offline(True)
    start = page.locator("form.starts button")
    start.click()
    row = page.locator("[data-of-phone]")
    expect(row.locator(".left")).to_have_text(re.compile(r"^(45:00|44:\d\d)$"))
    expect(start).to_be_hidden()
    page.context.set_offline(False)
    expect(page.locator(".timer:not([data-of-phone]) .left")).to_have_text(re.compile(r"^4[45]:\d\d$"), timeout=30_000)
    expect(row).to_have_count(0)
    assert Timer.objects.running().get().entry.plan_line == run.batches.get().plan.get()


def test_one_ended_without_a_network_is_not_waited_for_here(pot, open_browser, sign_in):
    page = open_browser(PHONE)
    sign_in(page, "Hanne")
    page.goto(f"/sink/{pot.pk}/")
    settled(page)
    expect(page.locator(".timers .timer:visible")).to_have_count(2)
    target = str(Timer.objects.order_by("due_at").first().pk)
    tell = """(target) => document.dispatchEvent(new CustomEvent("clearbath:waiting",
        {detail: [{id: "x", kind: "timer_end", fields: [["target", target]], say: "", at: Date.now()}]}))"""
    page.evaluate(tell, target)
    expect(page.locator(".timers .timer:visible")).to_have_count(1)


def test_a_page_that_stays_open_sees_what_another_phone_did(pot, open_browser, sign_in):
    page = open_browser(LAPTOP)
    page.clock.install()
    sign_in(page, "Mats")
    page.goto("/shelf/")
    expect(page.locator(".duebar .timer")).to_have_count(2)
    helper = pot.entries.first().by
    TimerEnded.log(pot, said(helper, timezone.now()), target=Timer.objects.order_by("due_at").first().pk)
    page.clock.run_for(61_000)
    expect(page.locator(".duebar .timer")).to_have_count(1)
    other = pot.run.batches.last()
    TimerEnded.log(other, said(helper, timezone.now()), target=Timer.objects.order_by("due_at").last().pk)
    page.clock.run_for(61_000)
    expect(page.locator(".duebar")).to_have_count(0)
