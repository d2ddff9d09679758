"""A spoken note by two touches: one begins it, one keeps it. The browser hears a device of its own that beeps."""

import pytest

pytestmark = pytest.mark.browser

HEARS = ("--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream")
REFUSES = ("--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream=deny")
LISTENING = "() => /Listening 0:0[1-9]/.test(document.querySelector('form .wet button').textContent)"
PLAYS = """async (address) => {
  const heard = document.querySelector(`audio[src="${address}"]`);
  heard.muted = true;
  await heard.play();
  const part = await fetch(address, { headers: { Range: "bytes=0-99" } });
  return [heard.duration, part.status, part.headers.get("Content-Type"), (await part.arrayBuffer()).byteLength];
}"""


def talks(studio):
    return studio.rows(
        "SELECT e.id, s.id AS sound, s.seconds, e.at, e.received_at FROM batches_talk t "
        "JOIN batches_entry e ON e.id = t.entry_id JOIN studio_sound s ON s.id = t.sound_id ORDER BY e.received_at"
    )


def speak(phone):
    """From the page of a spoken note: one touch, a second or two of talk."""
    phone.page.get_by_role("button", name="Speak now").click()
    phone.page.wait_for_function(LISTENING)


def test_a_note_spoken_at_the_pot_is_in_the_log_and_plays(own_studio, phone_of):
    phone = phone_of("Oda", args=HEARS)
    before = len(talks(own_studio))
    phone.page.get_by_role("link", name="Talk", exact=True).click()
    speak(phone)
    phone.page.get_by_role("button", name="touch to keep it").click()
    phone.page.wait_for_url(f"**{phone.sink}")
    phone.all_sent()
    assert len(talks(own_studio)) == before + 1
    heard = phone.page.locator("main .log audio").first
    heard.wait_for()
    seconds, status, kind, part = phone.page.evaluate(PLAYS, heard.get_attribute("src"))
    assert 0.5 < seconds < 15
    assert (status, kind.split(";")[0], part) == (206, "audio/mp4", 100)


def test_a_note_spoken_without_a_network_waits_and_arrives_once(own_studio, phone_of):
    phone = phone_of("Oda", args=HEARS)
    before = len(talks(own_studio))
    own_studio.stop()
    phone.page.get_by_role("link", name="Talk", exact=True).click()
    speak(phone)
    phone.page.get_by_role("button", name="touch to keep it").click()
    phone.settled()
    phone.says("1 on this phone")
    phone.page.reload()
    phone.says("1 on this phone")
    phone.page.get_by_text("A spoken note").first.wait_for()
    own_studio.start()
    phone.all_sent()
    phone.send_now()
    assert len(talks(own_studio)) == before + 1 and phone.waiting() == []


def test_the_button_of_the_form_ends_a_note_too(own_studio, phone_of):
    phone = phone_of("Oda", args=HEARS)
    before = len(talks(own_studio))
    phone.page.get_by_role("link", name="Talk", exact=True).click()
    speak(phone)
    phone.page.get_by_role("button", name="Keep it", exact=True).click()
    phone.page.wait_for_url(f"**{phone.sink}")
    phone.all_sent()
    assert len(talks(own_studio)) == before + 1 and phone.waiting() == []


def test_without_leave_to_listen_it_says_so_and_a_file_can_be_chosen(own_studio, phone_of):
    phone = phone_of("Oda", args=REFUSES)
    phone.page.get_by_role("link", name="Talk", exact=True).click()
    phone.page.get_by_role("button", name="Speak now").click()
    said = phone.page.locator("[data-said]")
    said.filter(has_text="Allow the microphone for this studio, or choose a recording below.").wait_for()
    assert phone.page.locator("input[type=file][name=sound]").is_visible()
    assert phone.page.get_by_role("button", name="Speak now").is_enabled()
    assert phone.waiting() == []
