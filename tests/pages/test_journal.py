"""The journal: what waits, what is in the pot, the past in pages, and finding again."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.utils import timezone
from lxml import html

from batches.models import Answer, Batch, Check, Finish, Move, Output, PhotoTaken, Run, Strike
from batches.under_way import pots_in_words
from tests import builders
from tests.builders import DAY, hours, stamp
from tests.pages.run_forms import words


def titles(answer):
    return [row["run"].title for _, rows in answer.context["months"] for row in rows]


def test_an_empty_studio_is_led_on(maker):
    page = maker.get("/journal/")
    shown = page.content.decode()
    assert "Nothing has been dyed here yet" in words(page)
    for address in ("/shelf/bases/new/?next=/", "/shelf/dyes/new/?next=/", "/colourways/new/", "/runs/new/bare/"):
        assert f'href="{address}"' in shown


def test_a_helper_is_led_on_to_nothing_they_may_not_do(cast, client_of):
    page = client_of(cast.helper).get("/journal/").content.decode()
    assert "Nothing has been dyed here yet" in page
    assert "/new/" not in page


def test_what_is_in_the_pot_leads_to_the_sink(cast, maker):
    run = builders.run_with_pots(cast.maker, title="Low tide")
    page = maker.get("/journal/")
    assert "1 run, 400 g of fibre" in words(page).replace("\xa0", " ")
    assert f"/sink/{run.batches.first().pk}/" in page.content.decode()


def test_jars_are_called_jars(cast, maker):
    jars = builders.make_vessel(kind="jar", how_many=8)
    run = builders.run_with_pots(cast.maker, pots=3, title="Low tide")
    assert "in 3 pots" in words(maker.get("/journal/"))
    run.batches.update(vessel=jars)
    assert "in 3 jars" in words(maker.get("/journal/"))


def waiting(answer):
    """{"Low tide 26-001": (why, action, address)} of the page's first section."""
    found = {}
    for row in html.fromstring(answer.content.decode()).xpath('//section[@aria-labelledby="waits"]//li'):
        name, why = (" ".join(part.text_content().split()) for part in row.xpath(".//p"))
        link = row.xpath(".//a")[0]
        found[name] = (why, link.text, link.get("href"))
    return found


def test_each_thing_that_waits_is_a_row_with_why_and_one_action(cast, maker):
    jar = builders.receive_powder(cast.maker)
    late = builders.run_with_pots(cast.maker, start=False, title="Low ebb")
    running = builders.run_with_pots(cast.maker, pots=1, title="Low tide")
    builders.addition(cast.helper, running.batches.get(), jar, how="sprinkled")
    Move.log(running.batches.get(), stamp(cast.helper, hours(5)), what="where", where="to_check")
    done = builders.run_with_pots(cast.maker, pots=1, title="High field")
    builders.finish(cast.maker, done.batches.get(), verdict="sell")
    found = waiting(maker.get("/journal/"))
    assert found[f"Low ebb {late.code}"][0] == "Planned for an earlier day, and not started."
    assert found["Weigh-in"] == ("1 addition was not weighed.", "Put the jar on the scale", "/weigh-in/")
    assert found[f"Low tide {running.code}"][1:] == ("Judge it", f"/runs/{running.code}/judge/")
    assert found[f"High field {done.code}"] == (
        "2 skeins to sell, without tags.",
        "Print tags",
        f"/runs/{done.code}/tags/",
    )
    assert len(found) == 4


def test_a_finish_without_a_verdict_waits_to_be_judged(cast, maker):
    run = builders.run_with_pots(cast.maker, pots=1, title="Low tide")
    batch = run.batches.get()
    builders.finish(cast.maker, batch)
    assert [wait.kind for wait, _ in maker.get("/journal/").context["waits"]] == ["judge", "tag"]
    Finish.log(batch, stamp(cast.maker, hours(9)), outputs=[], verdict="standard")
    assert [wait.kind for wait, _ in maker.get("/journal/").context["waits"]] == ["tag"]
    Finish.log(batch, stamp(cast.maker, hours(10)), outputs=[], next_time="Look at it by daylight first.")
    assert [wait.kind for wait, _ in maker.get("/journal/").context["waits"]] == ["judge", "tag"], "taken back"


def test_what_bleeds_waits_until_something_was_done_about_it(cast, client_of):
    helper, batch = client_of(cast.helper), builders.one_pot(cast.maker, title="Low tide")
    bled = Check.log(batch, stamp(cast.helper, hours(1)), what="cloth", result="a_lot")
    row = waiting(helper.get("/journal/"))[f"Low tide {batch.run.code}"]
    assert row[:2] == (
        "Damp white cloth: a lot. Nobody has said yet what was done about it.",
        "Say what was done",
    )
    assert f"because={bled.pk}" in row[2]
    assert helper.get(row[2]).status_code == 200
    Check.log(batch, stamp(cast.helper, hours(2), words="More acid"), what="remedy", because=bled)
    assert waiting(helper.get("/journal/")) == {}


def test_a_struck_check_bleeds_no_more(cast, maker):
    batch = builders.one_pot(cast.maker)
    bled = Check.log(batch, stamp(cast.helper, hours(1)), what="cloth", result="a_lot")
    assert waiting(maker.get("/journal/"))
    Strike.log(batch, stamp(cast.helper, hours(2)), target=bled.pk)
    assert not waiting(maker.get("/journal/"))


def test_nothing_to_tag_where_nothing_can_be_sold(cast, maker):
    batch = builders.one_pot(cast.maker)
    outputs = [Output(yarn=batch.yarns.get(), grade="lost", skeins=2)]
    Finish.log(batch, stamp(cast.maker), outputs=outputs, verdict="never")
    assert not waiting(maker.get("/journal/"))


def test_a_helper_is_told_what_a_helper_sees_to(cast, client_of):
    jar = builders.receive_powder(cast.maker)
    running = builders.run_with_pots(cast.maker, pots=1, title="Low tide")
    builders.addition(cast.helper, running.batches.get(), jar, how="sprinkled")
    done = builders.run_with_pots(cast.maker, pots=1, title="High field")
    builders.finish(cast.maker, done.batches.get())
    builders.run_with_pots(cast.maker, start=False, title="Next week")
    page = client_of(cast.helper).get("/journal/")
    assert [wait.kind for wait, _ in page.context["waits"]] == ["unweighed", "judge"]
    assert "Waiting" not in words(client_of(cast.viewer).get("/journal/"))


def test_planned_runs_say_their_day_the_nearest_first(cast, maker):
    today = timezone.localdate()
    for title, days in [("Later", 9), ("Morrow", 1), ("Now", 0), ("Missed", -2)]:
        run = builders.run_with_pots(cast.maker, start=False, title=title)
        Run.objects.filter(pk=run.pk).update(day=today + timedelta(days=days))
    page = maker.get("/journal/")
    said = [(row["run"].title, row["day"], row["late"]) for row in page.context["planned"]]
    assert said == [("Missed", "", True), ("Now", "today", False), ("Morrow", "tomorrow", False), ("Later", "", False)]
    assert {wait.run.title for wait, _ in page.context["waits"]} == {"Missed", "Now"}


def test_a_pot_says_where_its_yarn_is_what_was_last_and_what_is_next(cast, maker):
    bottle = builders.bottle(cast.maker)
    run = builders.run_with_pots(cast.maker, pots=3, lines=[(bottle, 40), ()], title="Low tide")
    pots = list(run.batches.order_by("number"))
    page = maker.get("/journal/").context["running"][0]["now"]
    assert page["where"] == [("soaking", "")] and page["last"] is None
    assert page["next"].endswith("40\xa0mL in each pot")
    for pot in pots:
        builders.addition(cast.helper, pot, bottle, 40, plan_line=pot.plan.first(), at=hours(1))
    wrong = Move.log(pots[0], stamp(cast.helper, hours(3)), what="where", where="rinsing")
    Move.log(pots[1], stamp(cast.helper, hours(2)), what="where", where="cooling")
    Strike.log(pots[0], stamp(cast.helper, hours(4)), target=wrong.pk)
    page = maker.get("/journal/").context["running"][0]["now"]
    assert page["where"] == [("in the pot", "pots 1 and 3"), ("cooling", "pot 2")]
    assert (page["last"].what, page["next"]) == ("The yarn is now cooling", "Heat slowly")


def test_what_the_evening_was_told_is_not_what_was_done_last(cast, maker):
    pot = builders.one_pot(cast.maker)
    added = builders.addition(cast.helper, pot, builders.bottle(cast.maker), at=hours(1))
    Answer.log(pot, stamp(cast.helper, hours(2)), question="amount", about=added, known=False)
    last = maker.get("/journal/").context["running"][0]["now"]["last"]
    assert last.entry == added


def test_what_is_in_the_pot_shows_its_newest_photo_wet_as_it_is(cast, maker):
    run = builders.run_with_pots(cast.maker, title="Kiln Door")
    pot = run.batches.first()
    bath = PhotoTaken.log(pot, stamp(cast.maker), picture=builders.picture(cast.maker), stage="bath")
    assert str(bath.photo.picture_id) not in maker.get("/journal/").content.decode()
    older = PhotoTaken.log(
        pot, stamp(cast.maker, hours(1)), picture=builders.picture(cast.maker, "#5d6b7c"), stage="wet"
    )
    newer = PhotoTaken.log(
        pot, stamp(cast.maker, hours(2)), picture=builders.picture(cast.maker, "#6d4a63"), stage="wet"
    )
    assert f'{newer.photo.picture_id}/record.jpg" width="600" height="400" alt="Kiln Door, wet"' in (
        maker.get("/journal/").content.decode()
    )
    Strike.log(pot, stamp(cast.maker, hours(3)), target=newer.pk)
    page = maker.get("/journal/").content.decode()
    assert str(newer.photo.picture_id) not in page and str(older.photo.picture_id) in page
    run.refresh_from_db()
    assert run.cover is None  # a wet one leads nothing by itself


def test_queries_do_not_grow_with_what_waits(cast, maker, django_assert_max_num_queries):
    bottle = builders.bottle(cast.maker)

    def one_more(title):
        run = builders.run_with_pots(cast.maker, lines=[(bottle, 40), ()], title=title)
        for pot in run.batches.all():
            builders.addition(cast.helper, pot, bottle, 4, at=hours(1))  # the last line of the log
            Check.log(pot, stamp(cast.helper), what="cloth", result="a_lot")
        builders.run_with_pots(cast.maker, start=False, title=f"{title} planned")
        done = builders.run_with_pots(cast.maker, pots=1, title=f"{title} done")
        builders.finish(cast.maker, done.batches.get())

    one_more("First")
    with django_assert_max_num_queries(60) as few:
        maker.get("/journal/")
    one_more("Second"), one_more("Third")
    with django_assert_max_num_queries(len(few)):
        maker.get("/journal/")


@pytest.mark.parametrize(
    ("numbers", "said"),
    [([3], "pot 3"), ([1, 2], "pots 1 and 2"), ([1, 2, 3, 4, 6], "pots 1 to 4 and 6"), ([9, 1, 5], "pots 1, 5 and 9")],
)
def test_pots_are_told_by_their_numbers(numbers, said):
    assert pots_in_words([Batch(number=number) for number in numbers]) == said


def test_pages_follow_each_other_without_a_gap_or_a_run_twice(cast, maker):
    builders.past_runs(cast.maker, 60)
    seen, address = [], "/journal/"
    while address:
        page = maker.get(address)
        seen += titles(page)
        address = f"/journal/?before={page.context['older']}" if page.context["older"] else ""
    assert seen == [f"Run {n}" for n in range(60)]


def test_runs_of_one_day_stay_apart_over_the_edge_of_a_page(cast, maker):
    builders.past_runs(cast.maker, 30)
    Run.objects.update(day=DAY)
    first = maker.get("/journal/")
    second = maker.get(f"/journal/?before={first.context['older']}")
    assert len({*titles(first), *titles(second)}) == 30


@pytest.mark.parametrize(
    "before", ["", "x", "2026-13-01.5", "2026-01-01.", "2026-01-01.99999999999999999999", "🧶", "a\x00b"]
)
def test_an_address_that_means_nothing_still_opens(maker, before):
    assert maker.get("/journal/", {"before": before}).status_code == 200


def test_the_past_is_parted_by_months(cast, maker):
    builders.past_runs(cast.maker, 20)
    months = [month for month, _ in maker.get("/journal/").context["months"]]
    assert months == [date(2026, 3, 1), date(2026, 2, 1)]


def many(by, number):
    yarn = builders.receive_yarn(by, skeins=200)
    jar = builders.receive_powder(by)
    for n in range(number):
        run = builders.run_with_pots(by, yarn, pots=2, title=f"Run {n}")
        for batch in run.batches.all():
            builders.addition(by, batch, jar, Decimal(1))
            if n % 2:
                builders.finish(by, batch)


@pytest.mark.parametrize("address", ["/journal/"])
def test_queries_do_not_grow_with_the_runs(cast, maker, django_assert_max_num_queries, address):
    many(cast.maker, 3)
    with django_assert_max_num_queries(40) as few:
        maker.get(address)
    many(cast.maker, 8)
    with django_assert_max_num_queries(len(few)):
        maker.get(address)
