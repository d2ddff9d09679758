"""Finish: what came out, whether the pots match, the verdict, and a change of mind."""

from types import SimpleNamespace

import pytest

from batches.models import Entry, Finish, Output, Strike
from tests import builders
from tests.builders import hours, stamp
from tests.pages.run_forms import BAD, boxes, fields_of, sentences, words


@pytest.fixture
def at(cast, client_of):
    """Two pots of three skeins, running."""
    yarn = builders.receive_yarn(cast.maker, builders.make_base("Sparrow"), skeins=10)
    run = builders.run_with_pots(cast.maker, yarn, skeins=3, title="Low tide")
    return SimpleNamespace(run=run, url=f"/runs/{run.code}/finish/", browser=client_of(cast.maker))


def send(at, **said):
    fields = fields_of(at.browser.get(at.url), "verdict")
    return at.browser.post(at.url, fields | {name.replace("__", "-"): value for name, value in said.items()})


def state(at):
    at.run.refresh_from_db()
    return at.run.state


def test_the_page_expects_every_skein_as_a_first(at):
    answer = send(at, pots_match="yes", verdict="standard", next_time="Hotter", snippet="Page 12")
    assert answer.url == f"/runs/{at.run.code}/"
    assert list(Output.objects.values_list("skeins", "grade")) == [(3, "first"), (3, "first")]
    assert state(at) == "finished"
    page = words(at.browser.get(answer.url))
    assert "6 firsts" in page and "This is the colour to match" in page and "Hotter" in page and "Page 12" in page


def test_whether_the_pots_match_has_to_be_said_of_several(at):
    answer = send(at)
    assert answer.status_code == 422
    assert sentences(answer) == ["Choose one under “Do the pots match?”."]  # once, though two forms are on the page
    assert state(at) == "running"


def test_a_lone_pot_is_not_asked_whether_it_matches(at, cast):
    one = builders.run_with_pots(cast.maker, pots=1)
    page = at.browser.get(f"/runs/{one.code}/finish/")
    assert "Do the pots match?" not in words(page)
    at.browser.post(f"/runs/{one.code}/finish/", fields_of(page, "verdict"))
    assert Finish.objects.get().pots_match is None


def test_pots_that_do_not_match_get_a_dye_lot_each(at):
    send(at, pots_match="no")
    page = words(at.browser.get(f"/runs/{at.run.code}/tags/"))
    assert f"dye lot {at.run.code}-1" in page and f"dye lot {at.run.code}-2" in page


def test_numbers_that_do_not_tally_need_a_word(at):
    answer = send(at, pots_match="yes", out__1__skeins="2", next_time="Hotter")
    assert answer.status_code == 422
    assert any("3 went in, 2 came out" in sentence for sentence in sentences(answer))
    assert boxes(answer)["next_time"] == "Hotter" and boxes(answer)["out-1-skeins"] == "2"
    assert not Finish.objects.exists()
    assert send(at, pots_match="yes", out__1__skeins="2", why_off="One is still drying").status_code == 302


def test_more_skeins_come_on_a_later_day(at):
    send(at, pots_match="yes", out__1__skeins="2", why_off="One is still drying")
    page = at.browser.get(at.url)
    assert boxes(page)["out-0-skeins"] == "1" and "2 out already" in words(page)
    send(at)
    assert sum(output.skeins for output in Output.objects.standing()) == 6


def test_a_struck_finish_opens_the_run_again(at, cast):
    send(at, pots_match="yes")
    entry = Entry.objects.filter(kind="finish").first()
    Strike.log(entry.batch, stamp(cast.maker, hours(5)), target=entry.pk)
    assert state(at) == "running"
    assert boxes(at.browser.get(at.url))["out-0-skeins"] == "3"


def test_the_verdict_may_change_on_a_finished_run(at):
    send(at, pots_match="yes", verdict="standard", next_time="Hotter")
    page = at.browser.get(at.url)
    assert (boxes(page)["verdict"], boxes(page)["next_time"]) == ("standard", "Hotter")
    assert send(at, verdict="sell", next_time="Much hotter").status_code == 302
    assert Output.objects.count() == 2
    shown = words(at.browser.get(f"/runs/{at.run.code}/"))
    assert "Sell, but don't repeat" in shown and "Much hotter" in shown and "This is the colour to match" not in shown


def test_a_finished_run_sent_again_unchanged_is_told_so(at):
    send(at, pots_match="yes", verdict="standard")
    answer = send(at)
    assert answer.status_code == 422
    assert any("Nothing here is new" in sentence for sentence in sentences(answer))


def test_the_same_page_sent_twice_is_one_finish(at):
    fields = fields_of(at.browser.get(at.url), "verdict") | {"pots_match": "yes"}
    for _ in range(2):
        assert at.browser.post(at.url, fields).status_code == 302
    assert Finish.objects.count() == 2  # one for each pot


def test_nothing_at_all_is_not_a_finish(at):
    answer = send(at, pots_match="yes", out__0__skeins="", out__1__skeins="0", next_time="Hotter")
    assert answer.status_code == 422
    assert "Say how many skeins came out of at least one pot." in sentences(answer)
    assert boxes(answer)["next_time"] == "Hotter"


def test_another_line_keeps_what_was_typed_and_finds_no_fault(at):
    answer = send(at, more="out", out__0__skeins="two", next_time="Hotter")
    assert answer.status_code == 200 and not sentences(answer)
    assert boxes(answer)["out-0-skeins"] == "two" and "out-2-skeins" in boxes(answer)
    assert not Finish.objects.exists()


def test_firsts_and_seconds_of_one_pot_are_two_lines(at):
    yarn = at.run.batches.get(number=1).yarns.get()
    fields = {
        "out__TOTAL_FORMS": "3",
        "out__0__skeins": "2",
        "out__2__yarn": yarn.pk,
        "out__2__grade": "second",
        "out__2__skeins": "1",
    }
    assert send(at, pots_match="yes", **fields).status_code == 302
    assert sorted(Output.objects.values_list("grade", "skeins")) == [("first", 2), ("first", 3), ("second", 1)]


def test_skeins_that_came_out_shorter_say_so_on_their_tag(at):
    send(at, pots_match="yes", out__0__skein_g="98", out__0__skein_m="400")
    output = Output.objects.get(skein_m__isnull=False)
    assert (output.skein_g, output.skein_m) == (98, 400)
    page = words(at.browser.get(f"/runs/{at.run.code}/tags/")).replace("\xa0", " ")
    assert "98 g / 3.46 oz, about 400 m / 437 yd" in page and "about 420 m / 459 yd" in page


@pytest.mark.parametrize("junk", BAD.values(), ids=BAD)
@pytest.mark.parametrize("box", ["out-0-skeins", "out-0-skein_g", "out-0-skein_m"])
def test_what_cannot_be_read_is_said_and_kept(at, box, junk):
    answer = send(at, pots_match="yes", **{box.replace("-", "__"): junk})
    assert answer.status_code == 422 and sentences(answer)
    assert boxes(answer)[box].strip() == junk.replace("\x00", "")
    assert not Finish.objects.exists()


@pytest.mark.parametrize(
    ("box", "value"),
    [
        ("out-0-grade", "best"),
        ("verdict", "superb"),
        ("pots_match", "perhaps"),
        ("snippet", "x" * 200),
        ("out-0-name", "x" * 10_000),
    ],
)
def test_what_is_not_offered_is_refused(at, box, value):
    answer = send(at, **{"pots_match": "yes", box.replace("-", "__"): value})
    assert answer.status_code == 422 and sentences(answer)


def test_the_yarn_of_another_run_is_refused(at, cast):
    other = builders.one_pot(cast.maker).yarns.get()
    answer = send(at, pots_match="yes", out__0__yarn=other.pk)
    assert answer.status_code == 422 and not Finish.objects.exists()


def test_a_page_whose_rows_were_lost_is_refused(at):
    answer = at.browser.post(at.url, {"pots_match": "yes"})
    assert answer.status_code == 422 and sentences(answer)


def test_a_planned_run_is_not_finished(at, cast):
    planned = builders.run_with_pots(cast.maker, start=False)
    assert at.browser.get(f"/runs/{planned.code}/finish/").url == f"/runs/{planned.code}/"


def test_only_makers_finish(at, cast, client_of):
    for person in (cast.helper, cast.viewer):
        assert client_of(person).get(at.url).status_code == client_of(person).post(at.url).status_code == 403


def test_queries_do_not_grow_with_the_pots(at, cast, django_assert_max_num_queries):
    with django_assert_max_num_queries(25) as few:
        at.browser.get(at.url)
    many = builders.run_with_pots(cast.maker, pots=12)
    with django_assert_max_num_queries(len(few)):
        at.browser.get(f"/runs/{many.code}/finish/")
