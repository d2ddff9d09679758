"""Spoken notes: sent at the pot, kept small and clean, heard again in the log."""

import zipfile
from datetime import date
from uuid import uuid4

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from batches import export, finding, intake, lookup
from batches.models import Entry, Talk
from studio.models import Sound, Studio
from tests import builders
from tests.maths.test_sound import PLACE, film, recorded

NOTE = recorded("mov", seconds=1, metadata={"location": PLACE})


@pytest.fixture(autouse=True)
def storage(tmp_path, settings):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def pot(cast):
    return builders.one_pot(cast.maker)


def voice(raw=NOTE, name="note.m4a", kind="audio/mp4"):
    return SimpleUploadedFile(name, raw, kind)


def address(pot):
    return reverse("batches:intake", args=[pot.pk])


def send(client, pot, file=None, **fields):
    said = {"kind": "talk", "page": "talk", "id": str(uuid4())} | fields
    return client.post(address(pot), said | {"sound": file or voice()}, follow=True)


def test_a_note_is_kept_and_heard_in_the_log(cast, client_of, pot):
    helper = client_of(cast.helper)
    page = helper.get(reverse("batches:entry", args=[pot.pk, "talk"])).content.decode()
    assert 'type="file"' in page and 'accept="audio/*"' in page and "multipart/form-data" in page
    after = send(helper, pot, note="More Plum next time").content.decode()
    sound = Sound.objects.get()
    heard = reverse("studio:sound", args=[sound.pk])
    assert f'<audio controls preload="none" src="{heard}"' in after and "Spoken note, 0:0" in after
    assert "More Plum next time" in after
    for name in ("run", "run-log"):
        page = helper.get(reverse(f"batches:{name}", args=[pot.run.code])).content.decode()
        assert "Spoken note, 0:0" in page, name
    assert heard in page
    assert sound.by == cast.helper and 0.9 < sound.seconds < 1.3
    with default_storage.open(sound.path) as file:
        kept = file.read()
    assert PLACE.encode() in NOTE and PLACE.encode() not in kept and len(kept) == sound.size


def test_it_is_found_by_its_words(cast, client_of, pot):
    send(client_of(cast.helper), pot, note="Smelt of wet sheep")
    assert [one.key for one in finding.find(lookup.Question.of("sheep")).runs] == [pot.run_id]


def test_in_all_pots_it_is_one_file(cast, client_of):
    run = builders.run_with_pots(cast.maker, pots=2)
    send(client_of(cast.helper), run.batches.first(), pots="all")
    assert Sound.objects.count() == 1 and Talk.objects.count() == 2


def test_sent_twice_it_is_kept_once_and_another_under_its_id_is_refused(cast, pot):
    data = {"kind": "talk", "id": str(uuid4())}
    sent = [
        intake.take(data, {"sound": voice(raw)}, batch=pot, person=cast.helper) for raw in (NOTE, NOTE, recorded("ogg"))
    ]
    assert [answer.state for answer in sent] == ["saved", "already", "clash"]
    assert Sound.objects.count() == 1 and Entry.objects.count() == 1


@pytest.mark.parametrize(
    ("raw", "sentence"),
    [
        (b"\xff\xd8\xff a photo", "not a recording"),
        (NOTE[:60], "damaged"),
        (film(), "This is a film"),
        (b"<html>", "not a recording"),
    ],
)
def test_what_is_no_recording_is_said_and_nothing_kept(cast, client_of, pot, raw, sentence):
    answer = send(client_of(cast.helper), pot, voice(raw), note="Kept words")
    page = answer.content.decode()
    assert answer.status_code == 422 and sentence in page and "Kept words" in page
    assert not Sound.objects.exists() and not Entry.objects.exists()


def test_none_at_all_is_asked_for(cast, client_of, pot):
    said = {"kind": "talk", "page": "talk", "id": str(uuid4())}
    answer = client_of(cast.helper).post(address(pot), said)
    assert answer.status_code == 422 and "Record something" in answer.content.decode()


def test_too_large_a_recording_is_refused(cast, client_of, pot, settings):
    settings.UPLOAD_MB = 1
    answer = send(client_of(cast.helper), pot, voice(b"OggS" + bytes(1_000_001)))
    assert answer.status_code == 422 and "larger than 1 MB" in answer.content.decode()


def test_a_struck_note_is_not_heard_any_more(cast, client_of, pot):
    helper = client_of(cast.helper)
    send(helper, pot)
    struck = {"kind": "strike", "id": str(uuid4()), "target": Entry.objects.get().pk, "reason": "Private"}
    helper.post(address(pot), struck)
    assert "<audio" not in helper.get(reverse("batches:sink", args=[pot.pk])).content.decode()


# Served


@pytest.fixture
def kept(cast, client_of, pot):
    send(client_of(cast.helper), pot)
    return Sound.objects.get()


def test_only_people_of_the_studio_hear_it_and_it_can_do_nothing_else(cast, client, client_of, kept):
    url = reverse("studio:sound", args=[kept.pk])
    assert client.get(url).status_code == 302
    answer = client_of(cast.viewer).get(url)
    assert (answer.status_code, answer["Content-Type"], len(answer.content)) == (200, "audio/mp4", kept.size)
    assert answer["X-Content-Type-Options"] == "nosniff" and "sandbox" in answer["Content-Security-Policy"]
    assert answer["Cache-Control"].startswith("private") and answer["Accept-Ranges"] == "bytes"
    assert client_of(cast.viewer).get(reverse("studio:sound", args=[uuid4()])).status_code == 404
    assert client_of(cast.viewer).post(url).status_code == 405


@pytest.mark.parametrize(
    ("asked", "part"),
    [
        ("bytes=0-1", (0, 2)),  # what some phones ask first
        ("bytes=10-", (10, None)),
        ("bytes=-5", (-5, None)),
        ("bytes=5-999999999", (5, None)),
        ("bytes=-999999999", (0, None)),
    ],
)
def test_a_part_is_given_where_a_part_is_asked_for(cast, client_of, kept, asked, part):
    url, viewer = reverse("studio:sound", args=[kept.pk]), client_of(cast.viewer)
    whole = viewer.get(url).content
    answer = viewer.get(url, headers={"Range": asked})
    wanted = whole[slice(*part)]
    begin = range(len(whole))[slice(*part)].start
    assert (answer.status_code, answer.content) == (206, wanted)
    assert answer["Content-Range"] == f"bytes {begin}-{begin + len(wanted) - 1}/{len(whole)}"
    assert int(answer["Content-Length"]) == len(wanted)


@pytest.mark.parametrize(
    "asked", ["bytes=5-2", "bytes=a-b", "bytes=0-1,4-5", "lines=0-1", "bytes=-", "", "bytes=" * 99]
)
def test_what_is_no_part_is_answered_whole(cast, client_of, kept, asked):
    answer = client_of(cast.viewer).get(reverse("studio:sound", args=[kept.pk]), headers={"Range": asked})
    assert (answer.status_code, len(answer.content)) == (200, kept.size)


@pytest.mark.parametrize("asked", ["bytes=99999999-", "bytes=-0"])
def test_a_part_beyond_its_end_is_refused(cast, client_of, kept, asked):
    answer = client_of(cast.viewer).get(reverse("studio:sound", args=[kept.pk]), headers={"Range": asked})
    assert (answer.status_code, answer["Content-Range"]) == (416, f"bytes */{kept.size}")


def test_a_part_of_another_file_is_answered_whole(cast, client_of, kept):
    url, viewer = reverse("studio:sound", args=[kept.pk]), client_of(cast.viewer)
    tag = viewer.get(url)["ETag"]
    assert viewer.get(url, headers={"Range": "bytes=0-1", "If-Range": tag}).status_code == 206
    assert viewer.get(url, headers={"Range": "bytes=0-1", "If-Range": '"other"'}).status_code == 200


def test_the_pages_may_hear_and_record(cast, client_of, pot):
    answer = client_of(cast.helper).get(reverse("batches:sink", args=[pot.pk]))
    assert "media-src 'self' blob:" in answer["Content-Security-Policy"]
    assert "microphone=(self)" in answer["Permissions-Policy"]


# Taken out


def test_what_is_taken_out_holds_it(kept):
    with default_storage.open(kept.path) as file:
        whole = file.read()
    with zipfile.ZipFile(export.write(Studio.get(), date(2026, 3, 14))) as out:
        assert out.read(f"sounds/{kept.pk}.m4a") == whole
        assert "folder sounds" in out.read("about.txt").decode()
