"""What is logged at the sink is neither lost nor kept twice, whatever happens to network, phone or server."""

import time
from datetime import UTC, datetime, timedelta

import pytest

pytestmark = pytest.mark.browser

AHEAD_3_HOURS = """(() => {
  const Real = Date, ahead = 3 * 3600_000;
  globalThis.Date = class extends Real {
    constructor(...said) { said.length ? super(...said) : super(Real.now() + ahead); }
    static now() { return Real.now() + ahead; }
  };
})();"""

MANY = """async ([path, mark, from, many]) => {
  await pages.ready;
  for (let number = from; number < from + many; number++) {
    pages.draw(await pages.get(path), path);
    const form = document.querySelector("form[data-log]");
    form.elements.note.value = `${mark} ${String(number).padStart(3, "0")}`;
    form.requestSubmit(form.querySelector("button.main"));
    while ("logging" in document.documentElement.dataset) await new Promise((go) => setTimeout(go, 20));
  }
}"""

PHOTO = """async ([path, many]) => {
  await pages.ready;
  const HOUR_AGO = Date.now() - 3_600_000;
  for (let number = 0; number < many; number++) {
    pages.draw(await pages.get(path), path);
    const sheet = Object.assign(document.createElement("canvas"), { width: 2600, height: 1800 });
    const brush = sheet.getContext("2d");
    brush.fillStyle = `hsl(${number * 50} 60% 40%)`;
    brush.fillRect(0, 0, 2600, 1800);
    const held = await new Promise((done) => sheet.toBlob(done, "image/jpeg"));
    const files = new DataTransfer();
    files.items.add(
      new File([held], `wet ${number}.jpg`, { type: "image/jpeg", lastModified: HOUR_AGO }),
    );
    const form = document.querySelector("form[data-log]");
    form.elements.photos.files = files.files;
    form.requestSubmit(form.querySelector("button.main"));
    while ("logging" in document.documentElement.dataset) await new Promise((go) => setTimeout(go, 20));
  }
}"""


def test_a_page_opens_anew_without_a_network_and_what_waits_is_there(own_studio, phone_of):
    phone = phone_of("Oda")
    own_studio.stop()
    phone.page.reload()
    phone.page.get_by_text("this is how it stood at").wait_for()
    phone.note("moss after a reload")
    phone.says("1 on this phone")
    phone.close()
    phone.open().goto(phone.sink)
    phone.says("1 on this phone")
    phone.page.get_by_text("moss after a reload").first.wait_for()
    assert own_studio.notes("moss after") == []
    own_studio.start()
    phone.all_sent()
    assert [note["who"] for note in own_studio.notes("moss after")] == ["Oda"]


def test_without_a_network_other_pages_say_so_and_name_the_pots_that_are_kept(own_studio, phone_of):
    phone = phone_of("Oda")
    own_studio.stop()
    phone.page.goto("/prices/")
    phone.page.get_by_role("heading", name="This page needs the studio’s network").wait_for()
    phone.page.locator("[data-kept-pots] a").first.click()
    phone.page.get_by_text("this is how it stood at").wait_for()
    assert phone.page.url.endswith(phone.sink)


def test_nobodys_page_is_in_the_browsers_own_cache(own_studio, phone_of):
    phone = phone_of("Oda")
    held = phone.page.evaluate(
        """async () => {
          const found = [];
          for (const name of await caches.keys()) {
            const kept = await caches.open(name);
            for (const asked of await kept.keys()) {
              found.push([new URL(asked.url).pathname, await (await kept.match(asked)).text()]);
            }
          }
          return found;
        }"""
    )
    pages = [path for path, _ in held if not path.startswith("/static/")]
    assert pages == ["/shell/"] and len(held) > 10
    assert not any("Oda" in text or "csrfmiddlewaretoken" in text for path, text in held if path == "/shell/")


def test_fifty_entries_and_six_photos_survive_a_reload_and_a_killed_browser(own_studio, phone_of):
    phone = phone_of("Oda")
    note, photo = f"{phone.sink}add/note/", f"{phone.sink}add/photo/"
    before = own_studio.rows("SELECT count(*) AS n FROM batches_phototaken")[0]["n"]
    own_studio.stop()
    phone.page.reload()
    phone.page.evaluate(MANY, [note, "lichen", 0, 25])
    phone.page.reload()
    phone.page.evaluate(PHOTO, [photo, 6])
    phone.page.evaluate(MANY, [note, "lichen", 25, 25])
    phone.says("56 on this phone")
    phone.kill()
    phone.open().goto(phone.sink)
    phone.says("56 on this phone")
    own_studio.start()
    if not phone.send_now():  # a browser writes its cookies down only now and then
        phone.sign_in("Oda")
        phone.page.goto(phone.sink)
    phone.all_sent()
    assert [row["words"] for row in own_studio.notes("lichen")] == [f"lichen {number:03}" for number in range(50)]
    photos = own_studio.rows(
        "SELECT e.at, e.received_at FROM batches_phototaken p JOIN batches_entry e ON e.id = p.entry_id "
        "ORDER BY e.received_at"
    )
    assert len(photos) - before == 6
    taken = [datetime.fromisoformat(row["received_at"]) - datetime.fromisoformat(row["at"]) for row in photos[-6:]]
    assert all(timedelta(minutes=55) < ago < timedelta(minutes=75) for ago in taken), "when they were taken"
    width = own_studio.rows("SELECT max(width) AS w FROM studio_picture")[0]["w"]
    assert width <= 2000


def test_an_answer_that_is_lost_leaves_one_entry(own_studio, phone_of):
    phone = phone_of("Oda")
    lost = []

    def lose(route):
        lost.append(route.fetch().status)
        route.abort()

    phone.page.route("**/log/", lose, times=2)
    phone.note("fern, twice unanswered")
    phone.send_now()
    phone.all_sent()
    assert lost == [201, 200]
    assert len(own_studio.notes("fern, twice")) == 1


def test_one_entry_sent_twenty_times_at_once_is_stored_once(own_studio, phone_of):
    phone = phone_of("Oda")
    phone.context.set_offline(True)
    phone.note("sorrel, twenty times")
    [waits] = [one["id"] for one in phone.waiting()]
    phone.page.route("**/log/", lambda route: route.abort(), times=1)  # what waits does not go by itself meanwhile
    phone.context.set_offline(False)
    answers = phone.page.evaluate(
        """async (id) => {
          const one = { ...await phone.get("waiting", id), id: id.replace(/^.{8}/, "5077e1e5") };
          return Promise.all(Array.from({ length: 20 }, () => sender.post(one)));
        }""",
        waits,
    )
    answers = [answer for answer in answers if answer["status"]]
    assert sorted({answer["status"] for answer in answers}) == [200, 201]
    assert [answer["status"] for answer in answers].count(201) == 1
    assert len({answer["said"]["id"] for answer in answers}) == 1
    twin = own_studio.rows("SELECT id FROM batches_entry WHERE id LIKE '5077e1e5%'")
    assert len(twin) == 1


def test_two_open_pages_send_each_thing_once(own_studio, phone_of):
    phone = phone_of("Oda")
    sent = phone.answered()
    phone.context.set_offline(True)
    phone.page.evaluate(MANY, [f"{phone.sink}add/note/", "tansy", 0, 10])
    other = phone.context.new_page()
    other.goto(phone.sink)
    other.locator("[data-outbox]").filter(has_text="10 on this phone").wait_for()
    phone.context.set_offline(False)
    for page in (phone.page, other):
        page.evaluate("() => { sender.flush(); }")
    phone.all_sent()
    other.locator("[data-outbox]").filter(has_text="All sent").wait_for()
    assert len(own_studio.notes("tansy")) == 10
    assert len([body for body in sent if "tansy" in body]) == 10


def test_a_clock_three_hours_ahead_is_put_right(own_studio, phone_of):
    phone = phone_of("Oda", AHEAD_3_HOURS)
    phone.context.set_offline(True)
    phone.note("yarrow by a wrong clock")
    logged = datetime.now(UTC)
    time.sleep(2)
    phone.context.set_offline(False)
    phone.all_sent()
    [note] = own_studio.notes("yarrow by")
    said, at = (datetime.fromisoformat(note[name]).replace(tzinfo=UTC) for name in ("happened_at", "at"))
    assert abs(said - logged - timedelta(hours=3)) < timedelta(minutes=1), "as the phone said"
    assert abs(at - logged) < timedelta(minutes=1), "as it was"
