"""Judging: what is found, what is still to do, and every entry through the one way in."""

import io
from types import SimpleNamespace
from uuid import uuid4

import pytest
from PIL import Image

from batches.models import Check, Entry, PhotoTaken
from tests import builders
from tests.builders import hours, stamp
from tests.pages.run_forms import BAD, boxes, fields_of, sentences, words


@pytest.fixture
def at(cast, client_of):
    run = builders.run_with_pots(cast.maker, pots=2, title="Low tide")
    return SimpleNamespace(
        run=run,
        url=f"/runs/{run.code}/judge/",
        browser=client_of(cast.helper),
        pots=list(run.batches.order_by("number")),
    )


def log(at, what="cloth", pot=1, **said):
    page = at.browser.get(f"{at.url}?check={what}&pot={pot}")
    fields = fields_of(page, "what") | said
    return at.browser.post(f"{at.url}?check={what}&pot={pot}", fields)


def test_a_check_is_logged_for_one_pot(at, cast):
    answer = log(at, result="trace", note="Only at the tie")
    assert (answer.status_code, answer.url) == (302, f"{at.url}?pot=1")
    check = Check.objects.get()
    assert (check.what, check.result, check.entry.batch, check.entry.by) == ("cloth", "trace", at.pots[0], cast.helper)
    page = words(at.browser.get(at.url))
    assert "A trace" in page and "Only at the tie" in page and "It does not bleed" in page


def test_a_check_is_logged_for_all_pots(at):
    log(at, "rinse", rinses="3", pots="all")
    assert list(Check.objects.values_list("rinses", flat=True)) == [3, 3]
    assert Entry.objects.values("together").distinct().count() == 1
    page = words(at.browser.get(at.url))
    assert page.count("At rinse 3") == 1 and "all pots" in page  # one touch is one card


@pytest.mark.parametrize(
    ("what", "said"),
    [
        ("rinse", {"rinses": "2"}),
        ("cloth", {"result": "none"}),
        ("rub_dry", {"result": "some"}),
        ("rub_wet", {"result": "a_lot"}),
        ("wash", {"result": "running", "water": "40", "water_unit": "degC"}),
        ("cards", {"stain_grade": "4.5", "standard": "ISO 105-A03"}),
        ("sent", {"change_grade": "3", "standard": "ISO 105-C06"}),
        ("remedy", {"note": "More acid, back to heat"}),
    ],
)
def test_each_check_takes_its_own_facts(at, what, said):
    assert log(at, what, **said).status_code == 302
    assert Check.objects.get().what == what
    assert at.browser.get(at.url).status_code == at.browser.get(f"/runs/{at.run.code}/").status_code == 200


@pytest.mark.parametrize(
    ("what", "said", "sentence"),
    [
        ("rinse", {}, "at which rinse the water ran clear"),
        ("cloth", {}, "nothing, a trace, some, a lot, or still running"),
        ("cloth", {"result": "none", "stain_grade": "4"}, "Grades are read from grey-scale cards"),
        ("cards", {"standard": "ISO 105-A03"}, "Choose a grade"),
        ("cards", {"stain_grade": "4"}, "Name the method"),
        ("sent", {"stain_grade": "4.25", "standard": "X"}, "no longer there"),
        ("remedy", {}, "Write what was done"),
    ],
)
def test_a_check_that_says_too_little_is_refused_with_a_sentence(at, what, said, sentence):
    answer = log(at, what, **said)
    assert answer.status_code == 422
    assert any(sentence in found for found in sentences(answer)), sentences(answer)
    assert not Check.objects.exists()


def test_a_remedy_names_its_check_and_a_retest_its_remedy(at):
    log(at, result="a_lot")
    bled = Check.objects.get()
    page = at.browser.get(at.url)
    assert f"because={bled.pk}" in page.content.decode() and "If it bleeds" in words(page)
    at.browser.post(
        f"{at.url}?check=remedy&because={bled.pk}",
        fields_of(at.browser.get(f"{at.url}?check=remedy&because={bled.pk}"), "what") | {"note": "More acid"},
    )
    remedy = Check.objects.get(what="remedy")
    assert remedy.entry.because_id == bled.pk
    again = fields_of(at.browser.get(f"{at.url}?check=cloth&because={remedy.pk}"), "what") | {"result": "none"}
    at.browser.post(at.url, again)
    assert Check.objects.get(result="none").entry.because_id == remedy.pk
    assert "It does not bleed" in words(at.browser.get(at.url))


def test_the_remedies_are_hints_in_their_order_and_only_where_it_bleeds(at):
    assert "If it bleeds" not in words(at.browser.get(at.url))
    log(at, result="some")
    page = words(at.browser.get(at.url))
    order = [
        page.index(part) for part in ("Measure the pH", "Add acid", "Rinse cooler", "neutral soap, and", "fixative")
    ]
    assert order == sorted(order)
    assert "safety data sheet" in page


def test_what_is_still_to_do_shrinks(at):
    assert "all pots" in words(at.browser.get(at.url))
    for what, said in [("rinse", {"rinses": "2"})] + [
        (w, {"result": "none"}) for w in ("cloth", "rub_dry", "rub_wet", "wash")
    ]:
        log(at, what, pots="all", **said)
    assert "All usual checks are made" in words(at.browser.get(at.url))


def test_a_dry_photo_goes_in_from_here(at, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    file = io.BytesIO()
    Image.new("RGB", (60, 80), "#9c3122").save(file, "PNG")
    file.seek(0)
    file.name = "hank.png"
    fields = fields_of(at.browser.get(at.url), "stage")
    answer = at.browser.post(at.url, fields | {"photos": file})
    assert answer.status_code == 302, sentences(answer)
    assert PhotoTaken.objects.get().stage == "dry"
    at.run.refresh_from_db()
    assert at.run.cover_id == PhotoTaken.objects.get().picture_id


def test_no_photo_is_said_and_nothing_is_stored(at):
    answer = at.browser.post(at.url, fields_of(at.browser.get(at.url), "stage"))
    assert answer.status_code == 422
    assert any("none has arrived" in sentence for sentence in sentences(answer))
    assert not Entry.objects.exists()


def test_the_same_page_sent_twice_is_one_check(at):
    fields = fields_of(at.browser.get(f"{at.url}?check=cloth"), "what") | {"result": "none"}
    for _ in range(2):
        assert at.browser.post(at.url, fields).status_code == 302
    assert Check.objects.count() == 1


def test_a_stale_page_with_other_words_is_refused_and_kept(at):
    fields = fields_of(at.browser.get(f"{at.url}?check=cloth"), "what") | {"result": "none"}
    at.browser.post(at.url, fields)
    answer = at.browser.post(at.url, fields | {"result": "some", "note": "No, look closer"})
    assert answer.status_code == 409
    shown = fields_of(answer, "what")
    assert shown["note"] == "No, look closer" and shown["id"] != fields["id"]
    assert Check.objects.count() == 1


@pytest.mark.parametrize("junk", BAD.values(), ids=BAD)
@pytest.mark.parametrize(("what", "box"), [("rinse", "rinses"), ("wash", "water"), ("cards", "standard")])
def test_what_cannot_be_read_is_said_and_kept(at, what, box, junk):
    answer = log(at, what, **{box: junk})
    assert answer.status_code == 422 and sentences(answer)
    assert boxes(answer)[box].strip() == junk.replace("\x00", "")
    assert not Check.objects.exists()


def test_a_check_of_another_run_is_not_answered_here(at, cast):
    other = builders.one_pot(cast.maker)
    bled = Check.log(other, stamp(cast.maker, hours(1)), what="cloth", result="some")
    answer = log(at, "remedy", note="More acid", because=str(bled.pk))
    assert answer.status_code == 422 and not Check.objects.filter(what="remedy").exists()


@pytest.mark.parametrize("kind", ["bottle", "finish", "", "🧶"])
def test_only_checks_and_photos_go_in_here(at, kind):
    answer = at.browser.post(at.url, {"kind": kind, "id": str(uuid4()), "what": "cloth", "result": "none"})
    assert answer.status_code == 422
    assert not Entry.objects.exists()


@pytest.mark.parametrize(
    "query",
    ["?pot=99", "?pot=x", "?check=zzz", "?because=zzz", "?check=remedy&because=5474579b-a80f-4419-86cc-01ae22991cdf"],
)
def test_an_address_that_means_nothing_still_opens(at, query):
    assert at.browser.get(at.url + query).status_code == 200


def test_a_planned_run_has_nothing_to_judge(at, cast):
    planned = builders.run_with_pots(cast.maker, start=False)
    assert at.browser.get(f"/runs/{planned.code}/judge/").url == f"/runs/{planned.code}/"


def test_a_finished_run_can_still_be_judged(at, cast):
    for batch in at.pots:
        builders.finish(cast.maker, batch)
    assert log(at, result="trace").status_code == 302
    assert Check.objects.get().entry.after_finish
    assert "added after finish" in words(at.browser.get(at.url))


def test_those_who_only_look_may_not_judge(at, cast, client_of):
    viewer = client_of(cast.viewer)
    assert viewer.get(at.url).status_code == viewer.post(at.url, {"kind": "check"}).status_code == 403


def test_queries_do_not_grow_with_the_checks(at, cast, django_assert_max_num_queries):
    with django_assert_max_num_queries(40) as few:
        at.browser.get(at.url)
    for hour in range(12):
        Check.log(at.pots[hour % 2], stamp(cast.maker, hours(hour)), what="cloth", result="some")
    with django_assert_max_num_queries(len(few)):
        at.browser.get(at.url)
