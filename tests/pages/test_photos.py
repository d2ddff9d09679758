"""The photographs of a run: all of them, one by itself, its crop for the cover, before and after."""

import io
from types import SimpleNamespace
from uuid import uuid4

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils.datastructures import MultiValueDict
from lxml import html
from PIL import Image

from batches import intake, photos
from batches.models import BatchYarn, PhotoTaken, Run, Strike
from studio.colourbar import Segment
from studio.models import Picture, Studio
from tests import builders
from tests.builders import hours, stamp
from tests.pages.run_forms import fields_of, sentences, words

NOT_OF_THIS_RUN = "That photo is not in this run's log any more, or never was"


def image_file(name="a.jpg", colour="#9c3122", size=(200, 250)):
    held = io.BytesIO()
    Image.new("RGB", size, colour).save(held, "JPEG")
    return SimpleUploadedFile(name, held.getvalue(), "image/jpeg")


@pytest.fixture
def at(cast, client_of, settings, tmp_path):
    """A run of one pot with brick and ochre in it, a wet photo and a dry one."""
    settings.MEDIA_ROOT = tmp_path
    way = builders.colourway(cast.maker, "Kiln Door")
    run = builders.run_with_pots(cast.maker, pots=1, colourway=way)
    pot = run.batches.get()
    for name, grams in (("Brick", 2), ("Ochre", 1)):
        builders.addition(cast.helper, pot, builders.receive_powder(cast.maker, builders.make_dye(name)), grams)
    found = SimpleNamespace(run=run, pot=pot, cast=cast, url=f"/runs/{run.code}/", browser=client_of(cast.maker))
    found.wet = take(found, "wet", 1)
    found.dry = take(found, "dry", 2)
    return found


def take(at, stage, hour, said="", pot=None, picture=None):
    shown = picture or builders.picture(at.cast.maker, width=400, height=300)
    where = pot or at.pot
    return PhotoTaken.log(where, stamp(at.cast.helper, hours(hour), words=said), picture=shown, stage=stage).photo


def page(at, path="", **query):
    answer = at.browser.get(f"{at.url}{path}", query)
    assert answer.status_code == 200
    return answer


def images(answer):
    return html.fromstring(answer.content.decode()).xpath("//main//img")


def page_of(photo):
    return f"photos/{photo.pk}/"


def cover(at):
    return Run.objects.get(pk=at.run.pk).cover


# What a picture says


def test_a_picture_is_said_by_its_colourway_stage_and_dyes():
    dyes = [Segment(name) for name in ("Brick", "Ochre", "Rust", "Plum")]
    assert photos.alt_of("Kiln Door", "dry", dyes) == "Kiln Door, dry: brick, ochre, rust and plum"
    assert photos.alt_of("Kiln Door", "dry", dyes[:1]) == "Kiln Door, dry: brick"
    assert photos.alt_of("Kiln Door", "before dyeing") == "Kiln Door, before dyeing"
    assert photos.alt_of("Kiln Door", "dry", dyes, "Three hanks\n on the line") == "Three hanks on the line"


def test_many_dyes_are_counted_and_names_in_capitals_stay():
    dyes = [Segment(f"Dye {letter}") for letter in "abcdefghij"]
    assert photos.alt_of("Low Tide", "wet", dyes).endswith("dye e, dye f and 4 more")
    assert (
        photos.alt_of("Low Tide", "wet", [Segment("Sea Moss"), Segment("QX-07")]) == "Low Tide, wet: sea moss and QX-07"
    )


def test_every_picture_of_a_run_says_something_useful(at):
    for path in ("", "photos/", page_of(at.dry), "compare/"):
        said = [image.get("alt") for image in images(page(at, path))]
        assert said and all(alt.startswith("Kiln Door, ") for alt in said), path
        assert "Kiln Door, dry: brick and ochre" in said
    for path in ("/journal/", reverse("batches:colourway", args=[at.run.colourway_id])):
        Run.objects.filter(pk=at.run.pk).update(state="abandoned", finished_at=hours(3))
        assert [image.get("alt") for image in images(at.browser.get(path))][0].endswith("brick and ochre"), path


def test_words_that_were_given_are_what_it_says(at):
    given = take(at, "cloth", 3, "The cloth <b>after</b> a wet rub")
    assert "The cloth <b>after</b> a wet rub" in [image.get("alt") for image in images(page(at, page_of(given)))]


# All of them


def test_the_run_shows_its_photos_with_their_size_kept_free(at):
    for hour in range(3, 9):
        take(at, "dry", hour)
    answer = page(at)
    assert "8 photos, the oldest first" in words(answer)
    prints = html.fromstring(answer.content.decode()).xpath("//section[@aria-labelledby='photos']//li")
    shown = [each.xpath(".//img")[0] for each in prints]
    assert [image.get("loading") for image in shown] == [None] * 4 + ["lazy"] * 4
    assert {(image.get("width"), image.get("height")) for image in shown} == {("300", "225")}
    assert prints[0].get("id") == f"photo-{at.wet.pk}"
    assert "Leads the run" in prints[-1].text_content() and "Leads the run" not in prints[0].text_content()


def test_a_picture_shown_in_each_pot_is_one_photo(at, cast):
    run = builders.run_with_pots(cast.maker, pots=2)
    one, two = run.batches.order_by("number")
    first = take(at, "dry", 1, pot=one)
    second = take(at, "dry", 1, pot=two, picture=first.picture)
    answer = at.browser.get(f"/runs/{run.code}/")
    assert "1 photo" in words(answer) and "all pots" in words(answer)
    assert at.browser.get(f"/runs/{run.code}/{page_of(second)}").status_code == 200


def test_many_files_are_chosen_in_one_go_and_the_limits_are_said_first(at):
    answer = page(at, "photos/")
    assert "Up to 12 at once, 25 MB each: JPEG, PNG, WebP or HEIC." in words(answer)
    sent = fields_of(answer, "stage") | {"stage": "dry", "note": "On the line"}
    sent["photos"] = [image_file("a.jpg"), image_file("b.jpg", "#203040")]
    answer = at.browser.post(f"{at.url}photos/?pot=1", sent, follow=True)
    assert "2 photos kept." in words(answer) and PhotoTaken.objects.of_run(at.run).count() == 4
    again = at.browser.post(f"{at.url}photos/?pot=1", sent | {"photos": [image_file()]}, follow=True)
    assert again.status_code == 409, "the same page with something else on it is something else"


@pytest.mark.parametrize("where", ["run", "sink"])
def test_a_bad_file_among_good_ones_is_named(at, where):
    address = f"{at.url}photos/" if where == "run" else f"/sink/{at.pot.pk}/add/photo/"
    sent = fields_of(at.browser.get(address), "stage")
    sent["photos"] = [image_file("a.jpg"), SimpleUploadedFile("<i>.pdf", b"%PDF-1.4"), image_file("c.jpg", "#203040")]
    to = address if where == "run" else f"/sink/{at.pot.pk}/log/"
    answer = at.browser.post(to, sent, follow=True)
    assert "2 photos kept." in words(answer)
    assert "“<i>.pdf” was not kept. This file is not a photo. Choose a JPEG" in words(answer)
    assert PhotoTaken.objects.of_run(at.run).count() == 4


def test_where_none_is_a_photo_the_page_comes_back_with_what_was_typed(at):
    sent = fields_of(page(at, "photos/"), "stage") | {"note": "On the line", "stage": "bath"}
    sent["photos"] = [SimpleUploadedFile("a.pdf", b"%PDF-1.4")]
    answer = at.browser.post(f"{at.url}photos/", sent)
    assert answer.status_code == 422 and "not a photo" in sentences(answer)[0]
    assert "On the line" in answer.content.decode()
    assert fields_of(answer, "stage")["stage"] == "bath"


def test_a_machine_is_told_what_was_not_kept(at):
    sent = {"kind": "photo", "id": str(uuid4()), "photos": [image_file(), SimpleUploadedFile("b.txt", b"b")]}
    answer = at.browser.post(f"/sink/{at.pot.pk}/log/", sent, headers={"Accept": "application/json"})
    assert answer.status_code == 201 and "“b.txt” was not kept." in answer.json()["refused"][0]


# One


def test_one_photo_has_its_neighbours_and_what_the_log_said_before(at):
    first = words(page(at, page_of(at.wet)))
    assert "1 of 2" in first and "Wet" in first and "Just before" in first and "Ochre" in first
    dry = html.fromstring(page(at, page_of(at.dry)).content.decode())
    assert dry.xpath("//a[@rel='prev']/@href") == [f"{at.url}{page_of(at.wet)}"] and not dry.xpath("//a[@rel='next']")
    assert dry.xpath("//nav//a/@href")[0] == f"{at.url}#photo-{at.dry.pk}"


def test_a_photo_of_another_run_is_refused_with_a_sentence(at, cast):
    other = builders.one_pot(cast.maker)
    theirs = take(at, "dry", 1, pot=other)
    for method, path in (
        ("get", page_of(theirs)),
        ("get", f"{page_of(theirs)}crop/"),
        ("post", f"{page_of(theirs)}crop/"),
    ):
        answer = getattr(at.browser, method)(f"{at.url}{path}", follow=True)
        assert NOT_OF_THIS_RUN in words(answer), path
    for key in (theirs.pk, "", "zzz", uuid4()):
        answer = at.browser.post(f"{at.url}cover/", {"photo": str(key)}, follow=True)
        assert NOT_OF_THIS_RUN in words(answer), key
    assert cover(at) == at.dry.picture


def test_a_photo_that_was_struck_out_is_no_longer_shown(at):
    Strike.log(at.pot, stamp(at.cast.helper, hours(3)), target=at.dry.pk)
    assert NOT_OF_THIS_RUN in words(at.browser.get(f"{at.url}{page_of(at.dry)}", follow=True))
    assert "choose another" in words(at.browser.post(f"{at.url}cover/", {"photo": str(at.dry.pk)}, follow=True))
    assert cover(at) is None


def test_another_photo_may_lead(at):
    answer = at.browser.post(f"{at.url}cover/", {"photo": str(at.wet.pk)}, follow=True)
    assert "This photo leads the run now." in words(answer) and cover(at) == at.wet.picture
    assert answer.redirect_chain[-1][0] == f"{at.url}{page_of(at.wet)}"


def test_who_may_look_does_not_thereby_choose(at, cast, client_of):
    for person in (cast.helper, cast.viewer):
        browser = client_of(person)
        shown = words(browser.get(f"{at.url}{page_of(at.wet)}"))
        assert "Lead with this one" not in shown and "Crop" not in shown
        assert browser.get(f"{at.url}{page_of(at.wet)}crop/").status_code == 403
        assert browser.post(f"{at.url}{page_of(at.wet)}crop/").status_code == 403
    assert "Add photos" not in words(client_of(cast.viewer).get(f"{at.url}photos/"))
    assert client_of(cast.viewer).post(f"{at.url}photos/").status_code == 403


# Its crop


def crop(at, photo, **said):
    address = f"{at.url}{page_of(photo)}crop/"
    return at.browser.post(address, fields_of(at.browser.get(address), "across") | said)


def test_a_crop_is_shown_first_and_kept_when_it_is_right(at):
    looked = crop(at, at.dry, across="75", down="50", size="50", look="1")
    view = html.fromstring(looked.content.decode()).xpath("//svg[@data-cropped]/@viewbox")[0]
    assert looked.status_code == 200 and view == "240 75 120 150"  # of 400 by 300 px, 240 by 300 fits
    assert not Picture.objects.filter(crop_of__isnull=False).exists()
    kept = fields_of(looked, "across")
    assert (kept["across"], kept["down"], kept["size"]) == ("75", "50", "50")
    answer = at.browser.post(f"{at.url}{page_of(at.dry)}crop/", kept, follow=True)
    assert "This crop leads the run now." in words(answer)
    made = cover(at)
    assert (made.crop_of, made.across_pct, made.down_pct, made.size_pct) == (at.dry.picture, 75, 50, 50)
    assert made.pk and str(made.pk) in at.browser.get(at.url).content.decode()
    assert "leads the run, cropped" in words(answer)


def test_a_new_crop_is_a_new_row_and_begins_at_the_last(at):
    crop(at, at.dry, across="20", down="30", size="60")
    first = cover(at)
    fields = fields_of(page(at, f"{page_of(at.dry)}crop/"), "across")
    assert (fields["across"], fields["down"], fields["size"]) == ("20", "30", "60")
    crop(at, at.dry, size="80")
    assert cover(at) != first and Picture.objects.filter(crop_of=at.dry.picture).count() == 2


def test_the_same_page_sent_twice_makes_one_crop(at):
    address = f"{at.url}{page_of(at.dry)}crop/"
    sent = fields_of(at.browser.get(address), "across")
    for _ in range(2):
        assert at.browser.post(address, sent).url == f"{at.url}{page_of(at.dry)}"
    assert Picture.objects.filter(crop_of__isnull=False).count() == 1


@pytest.mark.parametrize("bad", ["", "x", "101", "-1", "1,000", "NaN", "9" * 400])
def test_a_place_that_is_none_is_refused_and_nothing_is_made(at, bad):
    answer = crop(at, at.dry, across=bad)
    assert answer.status_code == 422 and len(sentences(answer)) == 1
    assert not Picture.objects.filter(crop_of__isnull=False).exists()


def test_a_crop_is_not_closer_than_the_picture_has_dots_for(at):
    assert crop(at, at.dry, size="24").status_code == 422


# Before and after


def test_before_and_after_stand_side_by_side(at):
    assert "Before and after" not in words(page(at))
    before = take(at, "before", 0)
    answer = page(at)
    assert "Before and after" in words(answer)
    pair = html.fromstring(answer.content.decode()).xpath("//section[@aria-labelledby='pair']//img/@src")
    assert [address.split("/")[2] for address in pair] == [str(before.picture.pk), str(at.dry.picture.pk)]


def test_yarn_dyed_again_shows_how_it_looked_before(at, cast):
    builders.finish(cast.maker, at.pot, at=hours(3), grade="again")
    output = at.pot.yarns.get().outputs.get()
    over = BatchYarn(source="output", output=output, skeins=2, grams=200)
    later = Run.plan(
        by=cast.maker,
        day=builders.DAY,
        pots=[{"yarns": [over], "fibre_g": 200}],
        title="Darker",
        clock=builders.clock(),
    )
    later.start(by=cast.maker, clock=builders.clock())
    after = take(at, "dry", 5, pot=later.batches.get())
    answer = at.browser.get(f"/runs/{later.code}/")
    pair = html.fromstring(answer.content.decode()).xpath("//section[@aria-labelledby='pair']//img")
    assert [image.get("alt") for image in pair] == ["Kiln Door, dry: brick and ochre", "Darker, dry"]
    sides = at.browser.get(f"/runs/{later.code}/compare/", {"left": str(after.pk), "right": str(at.dry.pk)})
    assert sides.status_code == 200, "the earlier run's cover may be chosen too"


def test_any_two_photos_of_a_run_are_put_side_by_side(at):
    third = take(at, "bath", 3)
    answer = page(at, "compare/", left=str(third.pk), right=str(at.wet.pk))
    shown = html.fromstring(answer.content.decode()).xpath("//div[contains(@class, 'compared')]//img/@src")
    assert [address.split("/")[2] for address in shown] == [str(third.picture.pk), str(at.wet.picture.pk)]
    assert fields_of(answer, "left") == {"left": str(third.pk), "right": str(at.wet.pk)}


@pytest.mark.parametrize("left", ["", "zzz", "00000000-0000-4000-8000-000000000000"])
def test_a_photo_of_another_run_is_not_compared(at, left):
    answer = at.browser.get(f"{at.url}compare/", {"left": left, "right": str(at.wet.pk)})
    assert answer.status_code == 422 and sentences(answer) == [
        "One of those photos is not of this run: choose two of these."
    ]


def test_one_photo_alone_is_not_compared(at, cast):
    other = builders.one_pot(cast.maker)
    assert "this run has none" in words(at.browser.get(f"/runs/{other.run.code}/compare/"))
    take(at, "dry", 1, pot=other)
    assert "this run has one" in words(at.browser.get(f"/runs/{other.run.code}/compare/"))


# Queries


@pytest.mark.parametrize("path", ["", "photos/", "one", "compare/"])
def test_queries_do_not_grow_with_the_photos(at, django_assert_max_num_queries, path):
    address = f"{at.url}{page_of(at.dry) if path == 'one' else path}"
    at.browser.get(address)
    with django_assert_max_num_queries(60) as few:
        at.browser.get(address)
    for hour in range(3, 12):
        take(at, "dry", hour)
    with django_assert_max_num_queries(len(few)):
        at.browser.get(address)


def test_another_photo_in_place_of_one_that_was_not_logged_is_not_taken_for_it(at, monkeypatch):
    """What was developed and then refused stays under its number; whoever goes back chooses another file there."""
    said = {"kind": "photo", "id": str(uuid4())}
    with monkeypatch.context() as refusing:
        refusing.setattr(PhotoTaken, "log", lambda *args, **kwargs: (_ for _ in ()).throw(ValueError("Not today.")))
        first = intake.take(
            said, MultiValueDict({"photos": [image_file(colour="#9c3122")]}), batch=at.pot, person=at.cast.helper
        )
    again = intake.take(
        said, MultiValueDict({"photos": [image_file(colour="#1f4e8c")]}), batch=at.pot, person=at.cast.helper
    )
    assert (first.state, again.state) == ("wrong", "saved")
    with Image.open(default_storage.open(again.entries[0].photo.picture.path("large"))) as kept:
        red, _, blue = kept.getpixel((5, 5))
    assert blue > red


@pytest.mark.parametrize("year", ["0001", "9999", "1949", "2201"])
@pytest.mark.parametrize("zone", ["Pacific/Auckland", "Pacific/Honolulu"])
def test_a_camera_without_a_real_time_is_no_reason_to_refuse_its_photo(at, year, zone):
    Studio.objects.update_or_create(defaults={"time_zone": zone})
    held, exif = io.BytesIO(), Image.Exif()
    ends = "12:31 23:59:59" if year == "9999" else "01:01 00:00:00"
    exif.get_ifd(0x8769)[0x9003] = f"{year}:{ends}"
    Image.new("RGB", (40, 50)).save(held, "JPEG", exif=exif)
    file = SimpleUploadedFile("a.jpg", held.getvalue(), "image/jpeg")
    answer = at.browser.post(
        f"/sink/{at.pot.pk}/log/", {"kind": "photo", "id": str(uuid4()), "photos": file}, follow=True
    )
    assert answer.status_code == 200
    entry = at.pot.entries.order_by("received_at").last()
    assert entry.photo.picture.taken_at is None and entry.at >= entry.received_at
