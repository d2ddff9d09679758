"""Tags: what they will say, and a sheet that can be printed again."""

from io import BytesIO
from types import SimpleNamespace
from uuid import uuid4

import pdfplumber
import pytest
from lxml import html

from batches.models import TagPrint
from tests import builders
from tests.pages.run_forms import BAD, boxes, fields_of, sentences, words


@pytest.fixture
def at(cast, client_of, studio):
    base = builders.make_base("Sparrow", price_minor=2895)
    run = builders.run_with_pots(
        cast.maker,
        builders.receive_yarn(cast.maker, base, skeins=10),
        colourway=builders.colourway(cast.maker, "Low tide"),
    )
    for batch in run.batches.all():
        builders.finish(cast.maker, batch, pots_match=True)
    return SimpleNamespace(run=run, base=base, url=f"/runs/{run.code}/tags/", browser=client_of(cast.maker))


def send(at, **said):
    fields = fields_of(at.browser.get(at.url), "start_at")
    return at.browser.post(at.url, fields | {name.replace("__", "-"): value for name, value in said.items()})


def text_of(pdf):
    with pdfplumber.open(BytesIO(pdf)) as opened:
        return [page.extract_text() for page in opened.pages], [(page.width, page.height) for page in opened.pages]


def test_the_page_offers_a_tag_for_each_skein_at_the_usual_price(at):
    page = at.browser.get(at.url)
    found = boxes(page)
    assert (found["tag-0-copies"], found["tag-0-price"], found["tag-1-copies"]) == ("2", "28.95", "2")
    assert (
        "75% wool" in words(page).replace("\xa0", " ").lower()
        or "75 % wool" in words(page).replace("\xa0", " ").lower()
    )


@pytest.mark.parametrize(("paper", "width"), [("A4", 595), ("Letter", 612)])
def test_the_sheet_is_a_pdf_of_that_paper(at, paper, width):
    answer = send(at, paper=paper)
    assert answer.status_code == 302, sentences(answer)
    pdf = at.browser.get(answer.url)
    assert pdf["Content-Type"] == "application/pdf"
    texts, sizes = text_of(pdf.content)
    assert round(sizes[0][0]) == width
    assert at.run.code in texts[0] and "28.95" in texts[0]


def test_printing_again_says_the_same_words_whatever_changed_since(at, studio):
    url = send(at).url
    before = text_of(at.browser.get(url).content)
    at.base.name, at.base.price_minor = "Renamed", 9900
    at.base.save()
    at.base.fibres.all().delete()
    studio.name = "Another house"
    studio.save()
    assert text_of(at.browser.get(url).content) == before


def test_the_same_page_sent_twice_is_one_sheet(at):
    fields = fields_of(at.browser.get(at.url), "start_at")
    first, second = at.browser.post(at.url, fields), at.browser.post(at.url, fields)
    assert first.url == second.url
    assert TagPrint.objects.count() == 2  # one for each pot's skeins


def test_incomplete_fibre_content_stops_the_tag_and_says_where_to_put_it_right(at):
    at.base.fibres.last().delete()
    page = at.browser.get(at.url)
    assert "does not add up to 100 %" in words(page)
    assert boxes(page)["tag-0-copies"] == ""
    answer = send(at, tag__0__copies="2")
    assert answer.status_code == 422
    assert any("does not add up to 100 %" in sentence for sentence in sentences(answer))
    assert not TagPrint.objects.exists()


def test_what_is_missing_links_to_where_it_is_put_right(at):
    at.base.fibres.last().delete()
    page = at.browser.get(at.url).content.decode()
    assert f'href="/shelf/bases/{at.base.pk}/change/"' in page and "Nothing can be tagged yet" in page


def test_the_page_shows_the_tag_before_it_is_printed(at):
    shown = at.browser.get(at.url)
    view = html.fromstring(shown.content.decode()).xpath("//*[@id='looks']")[0].text_content()
    texts, _ = text_of(at.browser.get(send(at).url).content)
    for said in ("Low tide", "€28.95", at.run.code, "Sparrow"):
        assert said in view and said in " ".join(texts)


def test_the_look_follows_what_is_written_and_keeps_nothing(at):
    fields = fields_of(at.browser.get(at.url), "start_at")
    look = at.browser.post(f"{at.url}?look", fields | {"design": "label", "tag-0-price": "31", "tag-0-copies": ""})
    assert "€31.00" in look.content.decode() and 'class="tagview label"' in look.content.decode()
    assert "<html" not in look.content.decode() and not TagPrint.objects.exists()
    assert at.browser.post(f"{at.url}?look", fields | {"tag-0-price": "dear"}).status_code == 204


def test_both_sheets_are_drawn_with_their_places(at):
    page = words(at.browser.get(at.url))
    assert "Swing tags: 9 on a sheet" in page and "Labels: 24 on a sheet" in page


def test_a_skein_that_still_runs_is_held_back_in_words(at, cast):
    builders.Check.log(at.run.batches.first(), builders.stamp(cast.maker), what="cloth", result="running")
    assert "still gives off colour" in words(at.browser.get(at.url))


def test_cool_and_separate_is_printed_unless_a_person_takes_it_off(at):
    texts, _ = text_of(at.browser.get(send(at).url).content)
    assert "separately" in " ".join(texts)
    fields = fields_of(at.browser.get(at.url), "start_at")
    del fields["first_wash"]
    texts, _ = text_of(at.browser.get(at.browser.post(at.url, fields).url).content)
    assert "separately" not in " ".join(texts)


@pytest.mark.parametrize("junk", BAD.values(), ids=BAD)
@pytest.mark.parametrize("box", ["tag-0-copies", "tag-0-price", "start_at"])
def test_what_cannot_be_read_is_said_and_kept(at, box, junk):
    answer = send(at, **{box.replace("-", "__"): junk})
    assert answer.status_code == 422 and sentences(answer)
    assert boxes(answer)[box].strip() == junk.replace("\x00", "")
    assert not TagPrint.objects.exists()


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({"tag__0__copies": "", "tag__1__copies": "0"}, "Say how many tags to print."),
        ({"start_at": "61"}, "60 or less"),
        ({"design": "poster"}, "no longer there"),
        ({"paper": "A0"}, "no longer there"),
        ({"tag__0__copies": "2401"}, "2400 or less"),
    ],
)
def test_what_can_not_be_printed_is_refused_with_a_sentence(at, said, sentence):
    answer = send(at, **said)
    assert answer.status_code == 422
    assert any(sentence in found for found in sentences(answer)), sentences(answer)


def test_skeins_of_another_run_are_refused(at, cast):
    other = builders.one_pot(cast.maker)
    builders.finish(cast.maker, other)
    answer = send(at, tag__0__output=other.yarns.get().outputs.get().pk)
    assert answer.status_code == 422 and not TagPrint.objects.exists()


def test_a_run_with_nothing_to_sell_says_so(at, cast):
    run = builders.run_with_pots(cast.maker)
    assert "nothing to tag" in words(at.browser.get(f"/runs/{run.code}/tags/"))


def test_a_sheet_that_is_not_there_is_not_found(at):
    assert at.browser.get(f"/tags/{uuid4()}.pdf").status_code == 404


def test_only_makers_print(at, cast, client_of):
    url = send(at).url
    for person in (cast.helper, cast.viewer):
        browser = client_of(person)
        assert (
            browser.get(at.url).status_code == browser.post(at.url).status_code == browser.get(url).status_code == 403
        )


def test_queries_do_not_grow_with_the_kinds_of_skein(at, cast, django_assert_max_num_queries):
    with django_assert_max_num_queries(40) as few:
        at.browser.get(at.url)
    many = builders.run_with_pots(cast.maker, pots=9)
    for batch in many.batches.all():
        builders.finish(cast.maker, batch, pots_match=False)
    with django_assert_max_num_queries(len(few)):
        at.browser.get(f"/runs/{many.code}/tags/")
