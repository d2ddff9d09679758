"""Whose a waiting entry is, what the studio refuses, and how somebody puts that right or takes it back."""

import json
import re
from datetime import UTC, datetime
from uuid import UUID

import pytest

from tests.browser.walking import ANSWERS_IN_TIME

pytestmark = pytest.mark.browser


NO_ROOM = """() => {
  const open = IDBDatabase.prototype.transaction;
  IDBDatabase.prototype.transaction = function (names, mode, ...more) {
    if (mode === "readwrite" && names.includes("files")) throw new DOMException("full", "QuotaExceededError");
    return open.call(this, names, mode, ...more);
  };
}"""


def refused(phone):
    return phone.page.locator("[data-rows-here] > li")


def test_what_one_person_logged_is_never_sent_as_anothers(own_studio, phone_of):
    phone = phone_of("Oda")
    phone.context.set_offline(True)
    phone.note("heather by Oda")
    phone.page.route("**/log/", lambda route: route.abort())
    phone.context.set_offline(False)
    phone.page.goto("/account/")
    phone.page.get_by_text("One thing logged on this phone has not reached the studio yet.").first.wait_for()
    phone.page.get_by_role("button", name="Sign out on this device").click()
    phone.page.wait_for_url("**/sign-in/**")
    phone.page.unroute("**/log/")
    phone.sign_in("Wim")
    sink = phone.to_sink()
    phone.says("1 of somebody else waits here until they sign in")
    assert phone.page.evaluate("phone.all('pages').then((all) => new Set(all.map((one) => one.person)).size)") == 1
    phone.note("heather by Wim")
    phone.says("All sent")
    assert [note["who"] for note in own_studio.notes("heather by")] == ["Wim"]
    answer = phone.page.evaluate("phone.all('waiting').then(([one]) => sender.post(one))")
    assert (answer["status"], answer["said"]["error"]) == (403, "other_person"), "also if the page were mistaken"
    phone.page.goto("/account/")
    phone.page.get_by_role("button", name="Sign out on this device").click()
    phone.page.wait_for_url("**/sign-in/**")
    phone.sign_in("Oda")
    phone.page.goto(sink)
    phone.all_sent()
    assert [note["who"] for note in own_studio.notes("heather by")] == ["Oda", "Wim"]


def test_a_sign_in_that_ended_keeps_what_is_logged_and_asks_for_a_new_one(own_studio, phone_of):
    phone = phone_of("Oda")
    own_studio.rows("DELETE FROM django_session")
    phone.context.set_offline(True)
    phone.note("clover, signed out")
    phone.context.set_offline(False)
    phone.send_now()
    phone.says("1 on this phone, kept until you sign in")
    phone.page.locator("[data-sign-in]").click()
    phone.page.get_by_label("Name").fill("Oda")
    phone.page.get_by_label("Password").fill("quern and kettle")
    phone.page.get_by_role("button", name="Sign in").click()
    phone.page.wait_for_url(f"**{phone.sink}**")
    phone.all_sent()
    assert len(own_studio.notes("clover, signed")) == 1


def test_a_server_that_starts_again_gets_what_waited_without_a_touch(own_studio, phone_of):
    phone = phone_of("Oda")
    own_studio.stop()
    phone.note("vetch over a restart")
    phone.says("1 on this phone, not sent yet")
    phone.page.get_by_text("The studio does not answer: this is how it stood at").wait_for()
    own_studio.start()
    phone.page.locator("[data-outbox]").filter(has_text="All sent").wait_for(timeout=60_000)
    assert len(own_studio.notes("vetch over")) == 1


def test_a_token_that_is_no_longer_good_is_fetched_anew(own_studio, phone_of):
    phone = phone_of("Oda")
    cookies = phone.context.cookies()
    phone.context.clear_cookies(name="csrf")
    phone.note("a note with a new token")
    phone.all_sent()
    assert len(own_studio.notes("with a new token")) == 1 and any(one["name"] == "csrf" for one in cookies)


def test_two_phones_on_one_pot_tick_a_line_once(own_studio, phone_of):
    first, second = phone_of("Oda"), phone_of("Wim")
    [pot] = own_studio.rows(
        "SELECT l.batch_id AS pk FROM batches_planline l JOIN batches_batch b ON b.id = l.batch_id "
        "WHERE b.state IN ('planned', 'running') AND l.id NOT IN "
        "(SELECT plan_line_id FROM batches_entry WHERE plan_line_id IS NOT NULL) LIMIT 1"
    )
    first.page.goto(f"/sink/{pot['pk']}/")
    second.page.goto(f"/sink/{pot['pk']}/")
    for phone in (first, second):
        phone.context.set_offline(True)
        tick = phone.page.locator("form:has([name=kind][value=tick])")
        line = tick.first.locator("[name=line]").input_value()
        tick.first.locator("button[name=pots]").first.click()
        phone.settled()
        phone.says("1 on this phone")
        same = phone.page.locator(f"form:has([name=kind][value=tick]):has([name=line][value='{line}'])")
        assert same.count() == 1 and not same.is_visible(), "not to be touched twice"
    first.context.set_offline(False)
    first.all_sent()
    second.context.set_offline(False)
    second.send_now()
    second.says("1 needs a look from you")
    refused(second).get_by_text("is in the log already").wait_for()
    refused(second).get_by_role("button", name=re.compile("Throw away")).click()
    second.says("Nothing waits on this phone")
    assert (
        own_studio.rows("SELECT count(*) AS n FROM batches_strike WHERE reason = 'Taken back on the phone'")[0]["n"]
        == 0
    )


def test_a_run_that_was_finished_meanwhile_still_takes_what_happened(own_studio, phone_of):
    phone = phone_of("Oda")
    pot = int(phone.sink.split("/")[2])
    [was] = own_studio.rows("SELECT state, finished_at FROM batches_batch WHERE id = ?", pot)
    phone.context.set_offline(True)
    phone.note("bracken before the end")
    now = datetime.now(UTC).replace(tzinfo=None).isoformat(" ")
    own_studio.rows("UPDATE batches_batch SET state = 'finished', finished_at = ? WHERE id = ?", now, pot)
    phone.context.set_offline(False)
    phone.all_sent()
    own_studio.rows(
        "UPDATE batches_batch SET state = ?, finished_at = ? WHERE id = ?", was["state"], was["finished_at"], pot
    )
    [note] = own_studio.notes("bracken before")
    assert note["after_finish"] == 1


def test_a_phone_without_room_says_so_and_what_was_typed_stays(own_studio, phone_of):
    phone = phone_of("Oda")
    phone.page.evaluate(NO_ROOM)
    phone.context.set_offline(True)
    phone.page.evaluate("pages.visit(`${location.pathname}add/note/`)")
    phone.page.locator("textarea[name=note]").fill("juniper without room")
    phone.press("Log it")
    phone.settled()
    phone.page.get_by_text("There is no room left on this phone, and the studio does not answer.").wait_for()
    assert phone.page.locator("textarea[name=note]").input_value() == "juniper without room"
    assert phone.waiting() == []
    phone.context.set_offline(False)
    phone.press("Log it")
    phone.page.wait_for_url(f"**{phone.sink}")
    assert len(own_studio.notes("juniper without")) == 1


def test_a_mistake_is_said_at_once_where_it_was_made(own_studio, phone_of):
    phone = phone_of("Oda", ANSWERS_IN_TIME)
    phone.page.goto(f"{phone.sink}add/reading/")
    phone.page.locator("[name=temperature]").fill("warm")
    phone.press("Log it")
    wrong = phone.page.locator("main .errors")
    wrong.wait_for()
    assert "warm" in wrong.text_content() and phone.page.locator("[name=temperature]").input_value() == "warm"
    phone.page.locator("[name=temperature]").fill("61.5")
    phone.press("Log it")
    phone.says("All sent")
    assert phone.waiting() == []
    assert len(own_studio.rows("SELECT 1 FROM batches_reading WHERE temperature_c = 61500")) == 1


def test_what_is_refused_later_opens_with_what_was_typed(own_studio, phone_of):
    phone = phone_of("Oda")
    phone.context.set_offline(True)
    phone.page.goto(f"{phone.sink}add/reading/")
    phone.page.locator("[name=temperature]").fill("rather hot")
    phone.press("Log it")
    phone.settled()
    phone.note("a note behind it")
    phone.context.set_offline(False)
    phone.send_now()
    phone.says(re.compile(r"^1 needs a look from you"))  # and nothing else is left
    assert len(own_studio.notes("a note behind it")) == 1, "what is refused keeps nothing else back"
    refused(phone).get_by_role("link", name=re.compile("Put it right")).click()
    phone.page.locator("main .errors").wait_for()
    assert phone.page.locator("[name=temperature]").input_value() == "rather hot"
    refused(phone).wait_for(state="detached")  # said once: in the form that puts it right, and not above it as well
    assert phone.page.locator("main .errors").get_by_role("button", name="Throw away").is_visible()
    phone.page.locator("[name=temperature]").fill("62.5")
    phone.press("Log it")
    phone.says("All sent")
    assert phone.waiting() == []
    assert len(own_studio.rows("SELECT 1 FROM batches_reading WHERE temperature_c = 62500")) == 1


def test_what_was_never_sent_is_just_taken_back(own_studio, phone_of):
    phone = phone_of("Oda")
    phone.context.set_offline(True)
    phone.page.goto(f"{phone.sink}add/note/")
    phone.page.evaluate("() => { sender.flush = () => Promise.resolve(); }")
    phone.page.locator("textarea[name=note]").fill("broom, taken back unsent")
    phone.press("Log it")
    phone.settled()
    phone.says("1 on this phone")
    phone.page.locator("[data-take-back]").first.click()
    phone.until("async () => !(await phone.all('waiting')).length")
    phone.page.reload()
    phone.context.set_offline(False)
    phone.send_now()
    assert own_studio.notes("broom, taken") == [] and phone.waiting() == []


def test_what_may_have_arrived_is_struck_out_when_it_is_taken_back(own_studio, phone_of):
    phone = phone_of("Oda")
    arrived = []

    def lose(route):
        arrived.append(route.fetch().json()["id"])
        route.abort()

    phone.page.route("**/log/", lose, times=1)
    phone.page.route("**/log/", lambda route: route.abort())
    phone.page.unroute("**/log/")
    phone.page.route("**/log/", lose)
    phone.note("gorse, stored unseen")
    phone.page.locator("[data-take-back]").first.click()
    phone.page.unroute("**/log/")
    phone.all_sent()
    [note] = own_studio.notes("gorse, stored")
    assert UUID(note["id"]) == UUID(arrived[0])
    assert len(own_studio.rows("SELECT 1 FROM batches_strike WHERE target = ?", note["id"])) == 1


def test_wet_hands_see_what_they_just_did_and_scroll_past_nothing_that_waits(own_studio, phone_of):
    phone = phone_of("Oda")
    page, stands = phone.page, phone.page.get_by_text("this is how it stood at")
    phone.context.set_offline(True)
    phone.note("bracken, the first")
    page.get_by_role("link", name="Reading", exact=True).click()
    page.locator("[name=temperature]").fill("hotter")
    phone.press("Log it")
    phone.settled()
    phone.note("bracken, the newest")
    last = page.locator(".block.last")
    last.get_by_text("bracken, the newest").first.wait_for()
    page.get_by_role("link", name="Water", exact=True).click()
    waits = page.locator("[data-waits-too]")
    waits.get_by_text("What waits").wait_for()
    assert not waits.locator("li").first.is_visible() and page.locator(".desk").bounding_box()["height"] < 200
    waits.locator("summary").click()
    assert waits.locator("li").count() == 3
    page.goto(phone.sink)
    last.get_by_role("button", name=re.compile("Undo.*bracken, the newest")).click()
    last.get_by_text("hotter").first.wait_for()
    assert stands.is_visible()
    phone.context.set_offline(False)
    phone.send_now()
    phone.says("1 needs a look from you")
    stands.wait_for(state="hidden")
    assert last.get_by_text("bracken, the first").first.is_visible() and refused(phone).count() == 1
    assert own_studio.notes("bracken, the newest") == []


def test_a_newer_program_is_taken_when_nothing_is_half_filled_in(own_studio, phone_of):
    phone = phone_of("Oda")
    manifest = own_studio.folder / "static" / "staticfiles.json"
    held = json.loads(manifest.read_text())
    script = own_studio.folder / "static" / held["paths"]["batches/sink.js"]
    newer = "batches/sink.0123456789ab.js"
    (own_studio.folder / "static" / newer).write_text(script.read_text() + "\nglobalThis.newer = true;\n")
    before = held["paths"]["batches/sink.js"]
    held["paths"]["batches/sink.js"] = newer
    manifest.write_text(json.dumps(held))
    try:
        own_studio.stop()
        own_studio.start()
        # The browser's own copy of the worker answers for an hour: here the hour is over.
        phone.context.new_cdp_session(phone.page).send("Network.clearBrowserCache")
        phone.page.evaluate("navigator.serviceWorker.getRegistration().then((one) => one.update())")
        # The page itself lets it take over. To load anew in that moment would wake the old worker, which a browser that
        # is being watched, as in tests, lets sleep no more.
        phone.until("async () => (await caches.keys()).length === 2")
        phone.until("() => navigator.serviceWorker.getRegistration().then((one) => !one.waiting && !one.installing)")
        phone.page.reload()
        phone.until("async (path) => Boolean(await caches.match(path))", f"/static/{newer}")
        own_studio.stop()
        phone.page.reload()
        phone.page.get_by_text("this is how it stood at").wait_for()
        phone.page.wait_for_function(
            "() => globalThis.newer === true"
        )  # the page stands before its last script has run
        assert phone.page.evaluate("async (path) => Boolean(await caches.match(path))", f"/static/{before}"), (
            "kept a while"
        )
    finally:
        held["paths"]["batches/sink.js"] = before
        manifest.write_text(json.dumps(held))
        own_studio.stop()


def test_a_visit_anew_asks_the_studio_once(own_studio, phone_of):
    phone = phone_of("Oda")
    session = phone.context.new_cdp_session(phone.page)
    session.send("Network.enable")
    came, asked = {}, {}
    session.on("Network.requestWillBeSent", lambda event: asked.update({event["requestId"]: event["request"]["url"]}))
    session.on("Network.loadingFinished", lambda event: came.update({event["requestId"]: event["encodedDataLength"]}))
    phone.page.goto(phone.sink)
    phone.page.wait_for_timeout(4000)
    over_the_air = [asked[key] for key, size in came.items() if size and "/pictures/" not in asked.get(key, "")]
    assert over_the_air in ([], [f"{own_studio.address}{phone.sink}"]), over_the_air
