"""Entries from paper: each row goes in by itself, at the time it says, and names the photo of its page."""

from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from lxml import html

from batches.models import Addition, Entry, PhotoTaken, Reading, StepDone, Strike, TimeFrom
from tests import builders
from tests.builders import stamp
from tests.pages.test_photos import image_file


@pytest.fixture
def day():
    return timezone.localdate() - timedelta(days=1)


@pytest.fixture
def run(cast):
    return builders.run_with_pots(cast.maker, pots=2, title="Low tide", at=timezone.now() - timedelta(days=2))


@pytest.fixture
def pots(run):
    return list(run.batches.order_by("number"))


@pytest.fixture
def notes(cast, pots):
    return PhotoTaken.log(
        pots[0], stamp(cast.helper, timezone.now()), picture=builders.picture(cast.helper), stage="paper"
    )


@pytest.fixture
def helper(cast, client_of):
    return client_of(cast.helper)


def address(run):
    return f"/runs/{run.code}/paper/"


def sent(cast, day, *rows, notes=None, **more):
    data = {
        "page": str(uuid4()),
        "day": str(day),
        "by": cast.helper.pk,
        "row-TOTAL_FORMS": len(rows),
        "row-INITIAL_FORMS": 0,
    }
    for number, row in enumerate(rows):
        data |= {f"row-{number}-{name}": value for name, value in row.items()}
        data.setdefault(f"row-{number}-pot", "all")
    return data | ({"photo": str(notes.pk)} if notes else {}) | more


def test_rows_of_every_kind_go_in_at_their_time(helper, cast, run, pots, notes, day):
    red, soot = builders.bottle(cast.maker), builders.receive_powder(cast.maker)
    acid = builders.receive_assistant(cast.maker)
    data = sent(
        cast,
        day,
        {"at": "9:05", "what": "water", "amount": "4 L"},
        {"at": "0910", "what": f"lot-{red.pk}", "amount": "30", "place": "first third", "pot": pots[0].pk},
        {"at": "", "what": f"lot-{soot.pk}", "amount": "0,4 g", "pot": pots[1].pk},
        {"at": "9.20", "what": f"lot-{acid.pk}", "amount": "10"},
        {"at": "9:30", "what": "step-heat", "amount": "85 °C, 45 min"},
        {"at": "9:50", "what": "temperature", "amount": "83"},
        {"at": "9:55", "what": "clear-nearly"},
        {"at": "10:00", "what": "", "note": "Smells of wet sheep"},
        {"at": "10:05", "what": "other", "note": "Onion skins", "amount": "20 g"},
        notes=notes,
    )
    answer = helper.post(address(run), data)
    assert (answer.status_code, answer.url) == (302, f"{address(run)}?photo={notes.pk}")
    entries = Entry.objects.exclude(pk=notes.pk)
    assert {entry.time_from for entry in entries} == {TimeFrom.PAPER}
    assert {entry.because_id for entry in entries} == {notes.pk}
    at = {timezone.localtime(entry.at).strftime("%Y-%m-%d %H:%M") for entry in entries}
    clocks = ("09:05", "09:10", "09:20", "09:30", "09:50", "09:55", "10:00", "10:05")
    assert at == {f"{day} {clock}" for clock in clocks}
    poured = Addition.objects.get(lot=red)
    assert (poured.amount, poured.place, poured.entry.batch) == (30, "first third", pots[0])
    weighed = Addition.objects.get(lot=soot)
    assert (weighed.amount, weighed.entry.at, weighed.entry.batch) == (Decimal("0.4"), poured.entry.at, pots[1])
    assert [added.amount for added in Addition.objects.filter(other="water")] == [4000, 4000]
    assert [added.amount for added in Addition.objects.filter(lot=acid)] == [10, 10]
    assert set(StepDone.objects.values_list("kind", "temperature_c", "minutes")) == {("heat", 85, 45)}
    assert Reading.objects.filter(temperature_c=83).count() == Reading.objects.filter(clear="nearly").count() == 2
    assert Entry.objects.filter(words="Smells of wet sheep").count() == 2
    assert Addition.objects.filter(what="Onion skins", amount=20, unit="g").count() == 2


def test_the_record_leads_to_the_page(helper, cast, run, pots, notes, day):
    helper.post(address(run), sent(cast, day, {"at": "9:05", "what": "note", "note": "Rain"}, notes=notes))
    link = f"/runs/{run.code}/photos/{notes.pk}/"
    page = html.fromstring(helper.get(f"/runs/{run.code}/").content)
    (line,) = [line for line in page.iter("li") if "Rain" in line.text_content() and line.find(".//time") is not None]
    assert "from paper" in line.text_content() and line.xpath(f".//a[@href='{link}']")
    assert f'href="{link}"' in helper.get(f"/sink/{pots[0].pk}/").content.decode()


def of_the_page(browser, run, notes):
    """The page of the photo of these notes."""
    return html.fromstring(browser.get(f"/runs/{run.code}/photos/{notes.pk}/").content)


def copied_lines(page):
    found = page.xpath("//section[@aria-labelledby='copied']//li")
    return [" ".join(" ".join(line.itertext()).split()) for line in found]


def test_the_page_lists_what_was_copied_from_it_by_its_time_and_pots(helper, cast, run, pots, notes, day):
    assert not copied_lines(of_the_page(helper, run, notes))
    rows = [{"at": "9:05", "what": "note", "note": "Rain"}, {"at": "8:50", "what": "water", "amount": "4 L"}]
    helper.post(address(run), sent(cast, day, *rows, {"at": "9:30", "what": "ph", "amount": "4.2"}, notes=notes))
    Entry.log_words(pots[0], stamp(cast.helper, timezone.now(), words="Of no page", time_from=TimeFrom.PAPER))
    struck = Entry.objects.filter(reading__ph="4.2", batch=pots[1]).get()
    Strike.log(pots[1], stamp(cast.helper, timezone.now()), target=struck.pk)
    page = of_the_page(helper, run, notes)
    assert copied_lines(page) == [
        "08:50 Water, 4 L Each of both pots",
        "09:05 Rain Each of both pots",
        "09:30 pH 4.2 Pot 1",
    ]
    assert page.xpath(f"//a[contains(@href, '/runs/{run.code}/paper/?photo={notes.pk}')]")


def test_each_of_them_leads_to_its_line_of_the_record_on_whichever_page(
    helper, cast, run, pots, notes, day, monkeypatch
):
    monkeypatch.setattr("batches.views.run.LINES_A_PAGE", 2)
    rows = [{"at": f"9:{minute:02}", "what": "note", "note": f"Line {minute}"} for minute in range(10, 15)]
    helper.post(address(run), sent(cast, day, *rows, notes=notes))
    links = of_the_page(helper, run, notes).xpath("//section[@aria-labelledby='copied']//a/@href")
    assert len(links) == 5
    for minute, link in enumerate(links, 10):
        where, anchor = link.split("#")
        (line,) = html.fromstring(helper.get(where).content).xpath(f"//li[@id='{anchor}']")
        assert f"Line {minute}" in line.text_content()
    assert helper.get(f"/runs/{run.code}/log/?line=zebra").status_code == 200


def test_a_viewer_reads_what_was_copied_and_is_not_asked_to_copy(client_of, helper, cast, run, notes, day):
    helper.post(address(run), sent(cast, day, {"at": "9:05", "what": "note", "note": "Rain"}, notes=notes))
    page = of_the_page(client_of(cast.viewer), run, notes)
    assert copied_lines(page) and not page.xpath("//a[contains(@href, '/paper/')]")


def test_queries_do_not_grow_with_what_was_copied(helper, cast, run, notes, day, django_assert_max_num_queries):
    def copy(*minutes):
        lot = builders.bottle(cast.maker)
        rows = [{"at": f"9:{minute:02}", "what": f"lot-{lot.pk}", "amount": "3"} for minute in minutes]
        helper.post(address(run), sent(cast, day, *rows, notes=notes))

    copy(1, 2)
    with django_assert_max_num_queries(60) as few:
        of_the_page(helper, run, notes)
    at_first = len(few)
    copy(3, 4, 5, 6, 7)
    with django_assert_max_num_queries(at_first):
        assert len(copied_lines(of_the_page(helper, run, notes))) == 7


def test_good_rows_are_kept_and_the_wrong_ones_stay_with_their_sentence(helper, cast, run, notes, day):
    red = builders.bottle(cast.maker)
    rows = (
        {"at": "9:05", "what": "water", "amount": "4 L"},
        {"at": "", "what": f"lot-{red.pk}", "amount": "a dash"},
        {"at": "25:99", "what": "note", "note": "Rain"},
        {"at": "9:40", "what": "temperature", "amount": "hot"},
    )
    answer = helper.post(address(run), sent(cast, day, *rows, notes=notes))
    page = html.fromstring(answer.content)
    assert answer.status_code == 422 and Addition.objects.count() == 2
    assert [box.get("value") for box in page.xpath("//input[contains(@name, '-amount')]")] == ["a dash", None, "hot"]
    assert page.xpath("//input[@name='row-0-at']/@value") == ["09:05"]  # the row above is gone
    assert len(page.xpath("//*[contains(@class, 'noted')]//*[contains(@class, 'problem')]")) == 3
    assert "1 row kept." in page.text_content() and "3 things to put right" in page.text_content()


def test_a_page_sent_twice_is_stored_once(helper, cast, run, notes, day):
    data = sent(cast, day, {"at": "9:05", "what": "water", "amount": "4 L"}, notes=notes)
    assert [helper.post(address(run), data).status_code for _ in range(2)] == [302, 302]
    assert Addition.objects.count() == 2


def test_the_first_row_needs_a_time(helper, cast, run, day):
    answer = helper.post(address(run), sent(cast, day, {"at": "", "what": "note", "note": "Rain"}))
    assert answer.status_code == 422 and "Write the time of the first row" in answer.content.decode()
    assert not Entry.objects.exists()


def test_more_rows_without_a_script_keep_what_was_typed(helper, cast, run, day):
    data = sent(cast, day, {"at": "9:05", "what": "note", "note": "Rain"}, more="row")
    page = html.fromstring(helper.post(address(run), data).content)
    assert page.xpath("//input[@name='row-0-note']/@value") == ["Rain"] and page.xpath("//input[@name='row-1-note']")
    assert not Entry.objects.exists()


def test_the_page_itself_is_photographed_first(helper, run, settings, tmp_path):
    page = helper.get(address(run)).content.decode()
    assert "First the page itself" in page
    data = {"kind": "photo", "id": str(uuid4()), "pots": "this", "photos": [image_file("notes.jpg")]}
    answer = helper.post(address(run), data)
    taken = PhotoTaken.objects.get()
    assert taken.stage == "paper" and answer.url == f"{address(run)}?photo={taken.pk}"
    assert str(taken.picture_id) in helper.get(answer.url).content.decode()


def test_a_photo_that_is_none_is_refused_with_a_sentence(helper, run):
    data = {"kind": "photo", "id": str(uuid4()), "photos": [SimpleUploadedFile("notes.jpg", b"no photo")]}
    assert helper.post(address(run), data).status_code == 422


def test_a_page_of_another_run_is_not_named(helper, cast, run, day, notes):
    other = builders.run_with_pots(cast.maker, pots=1, at=timezone.now() - timedelta(days=2))
    row = {"at": "9:05", "what": "note", "note": "Rain", "pot": other.batches.get().pk}
    helper.post(address(other), sent(cast, day, row, notes=notes))
    assert Entry.objects.get(words="Rain").because is None


BROKEN = [
    {"page": "x"},
    {"day": "tomorrow"},
    {"by": "999999"},
    {"row-TOTAL_FORMS": "x"},
    {"row-TOTAL_FORMS": "9999"},
    {"row-0-what": "lot-99999999"},
    {"row-0-pot": "77777777"},
    {"row-0-at": "\N{SNOWMAN}"},
    {"row-0-note": "x" * 9000},
    {"photo": "x"},
]


@pytest.mark.parametrize("bad", BROKEN)
def test_a_broken_page_is_answered_and_never_fails(helper, cast, run, day, bad):
    answer = helper.post(address(run), sent(cast, day, {"at": "9:05", "what": "note", "note": "Rain"}) | bad)
    assert answer.status_code in (302, 422)


def test_nothing_written_is_said(helper, cast, run, day):
    answer = helper.post(address(run), sent(cast, day, {"at": ""}))
    assert answer.status_code == 422 and "Nothing is written yet" in answer.content.decode()


def test_a_viewer_copies_nothing_and_a_planned_run_has_no_notes(client_of, cast, run, day, helper):
    viewer = client_of(cast.viewer)
    assert viewer.get(address(run)).status_code == 403 and viewer.post(address(run), {}).status_code == 403
    planned = builders.run_with_pots(cast.maker, pots=1, start=False)
    answer = helper.get(address(planned), follow=True)
    assert answer.redirect_chain == [(f"/runs/{planned.code}/", 302)]
    assert "start it, then copy what was noted" in answer.content.decode()


def test_queries_do_not_grow_with_the_shelf_and_the_rows(helper, cast, run, notes, django_assert_max_num_queries):
    builders.bottle(cast.maker)
    with django_assert_max_num_queries(40) as few:
        helper.get(address(run))
    at_first = len(few)
    for _ in range(5):
        builders.bottle(cast.maker)
    with django_assert_max_num_queries(at_first):
        helper.get(address(run))
