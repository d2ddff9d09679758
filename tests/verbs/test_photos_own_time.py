"""A photo that is sent hours later stands where it was taken, where that can be known."""

import io
from datetime import datetime, timedelta
from uuid import uuid4

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import QueryDict
from django.utils.datastructures import MultiValueDict
from PIL import Image

from batches import intake
from tests import builders
from tests.builders import NOON, hours

SENT = hours(6)
MINUTE = timedelta(minutes=1)


@pytest.fixture(autouse=True)
def _evening():
    with time_machine.travel(SENT, tick=False):
        yield


@pytest.fixture
def pot(cast):
    return builders.one_pot(cast.maker)


def photo(colour="#9c3122", exif_time=None):
    held, exif = io.BytesIO(), Image.Exif()
    if exif_time:
        exif.get_ifd(0x8769)[0x9003] = f"{exif_time:%Y:%m:%d %H:%M:%S}"
    Image.new("RGB", (40, 30), colour).save(held, "JPEG", exif=exif)
    return SimpleUploadedFile("a.jpg", held.getvalue(), "image/jpeg")


def send(pot, person, files, times=(), **fields):
    data = QueryDict(mutable=True)
    data.update({"kind": "photo", "id": str(uuid4())} | fields)
    data.setlist("taken_at", [time.isoformat() if isinstance(time, datetime) else time for time in times])
    answer = intake.take(data, MultiValueDict({"photos": files}), batch=pot, person=person)
    assert answer.state == "saved", answer.errors
    return answer.entries


def test_each_of_several_stands_at_its_own_time(cast, pot):
    times = [hours(1), hours(3)]
    entries = send(pot, cast.helper, [photo(), photo("#203040")], times)
    assert [entry.at for entry in entries] == times
    assert [entry.photo.picture.taken_at for entry in entries] == times
    assert {entry.received_at for entry in entries} == {SENT}


def test_the_time_in_the_photo_stands_before_the_phone_s(cast, pot):
    (entry,) = send(pot, cast.helper, [photo(exif_time=hours(2))], [hours(4)])
    assert entry.at == hours(2)


def test_without_any_it_stands_where_it_was_sent(cast, pot):
    (entry,) = send(pot, cast.helper, [photo()])
    assert (entry.at, entry.photo.picture.taken_at) == (SENT, None)


@pytest.mark.parametrize(
    "taken",
    [
        NOON - timedelta(days=3),  # from before the pot
        SENT + 5 * MINUTE,  # from a clock that runs ahead
        "yesterday, about noon",
        "2026-13-45T99:99Z",
        "2026-03-14T13:00",  # without a zone
        "0001-01-01T00:00:00+14:00",
        "9999-12-31T23:59:59-14:00",  # no calendar of any zone has that
        "",
    ],
)
def test_a_time_that_can_t_be_its_own_is_not_believed(cast, pot, taken):
    (entry,) = send(pot, cast.helper, [photo()], [taken])
    assert entry.at == SENT


def test_fewer_times_than_photos_are_not_guessed_among_them(cast, pot):
    entries = send(pot, cast.helper, [photo(), photo("#203040")], [hours(1)])
    assert [entry.at for entry in entries] == [SENT, SENT]


def test_the_empty_box_of_the_page_counts_for_nothing(cast, pot):
    (entry,) = send(pot, cast.helper, [photo()], ["", hours(1)])
    assert entry.at == hours(1)


def test_what_somebody_said_stands_before_all(cast, pot):
    (entry,) = send(pot, cast.helper, [photo(exif_time=hours(2))], [hours(2)], when=hours(3).isoformat())
    assert entry.at == hours(3)


def test_a_phone_whose_clock_is_wrong_is_put_right_for_its_photos_too(cast, pot):
    """Its clock runs two hours ahead: a photo of 15:00 by it, sent at 20:00 by it, is of 13:00."""
    ahead = timedelta(hours=2)
    stamp = {"happened_at": (SENT + ahead).isoformat(), "sent_at": (SENT + ahead).isoformat()}
    (entry,) = send(pot, cast.helper, [photo()], [hours(1) + ahead], **stamp)
    assert entry.at == hours(1)


def test_a_photo_from_before_the_pot_is_known_by_a_clock_that_is_put_right(cast, pot):
    """Its clock runs a month ahead: a photo of the pot's own day by it is of a month before."""
    ahead = timedelta(days=30)
    stamp = {"happened_at": (SENT + ahead).isoformat(), "sent_at": (SENT + ahead).isoformat()}
    (entry,) = send(pot, cast.helper, [photo()], [hours(1)], **stamp)
    assert entry.at == SENT


def test_sent_once_more_it_is_there_already(cast, pot):
    data = {"kind": "photo", "id": str(uuid4()), "taken_at": hours(1).isoformat()}
    sent = [intake.take(data, {"photos": photo()}, batch=pot, person=cast.helper) for _ in range(2)]
    assert [answer.state for answer in sent] == ["saved", "already"]


def test_a_page_of_before_without_the_box_says_the_same(cast, pot):
    data = {"kind": "photo", "id": str(uuid4())}
    sent = [
        intake.take(data | more, {"photos": photo()}, batch=pot, person=cast.helper) for more in ({}, {"taken_at": ""})
    ]
    assert [answer.state for answer in sent] == ["saved", "already"]


def test_stage_and_line_come_along(cast, pot):
    line = builders.words(cast.helper, pot)
    (entry,) = send(pot, cast.helper, [photo()], [hours(1)], stage="bath", about=str(line.pk))
    assert (entry.photo.stage, entry.photo.about, entry.at) == ("bath", line, hours(1))
