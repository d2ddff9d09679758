"""Work over several days: its runs name each other, the spares are said, and a planned day can be moved."""

from datetime import timedelta

import pytest
from django.utils import timezone
from lxml import html

from batches.models import Run
from tests import builders
from tests.pages.run_forms import boxes, sentences, words


@pytest.fixture
def runs(cast):
    """Ten skeins over three days, two of them spare; the first day is under way."""
    lot, today = builders.receive_yarn(cast.maker, skeins=20), timezone.localdate()
    found = []
    for after, skeins in enumerate([4, 4, 2]):
        pot = {"fibre_g": lot.skein_g * skeins, "yarns": [builders.shelf_yarn(lot, skeins)]}
        facts = {"day_one": found[0]} if found else {"spares": 2}
        found.append(Run.plan(by=cast.maker, day=today + timedelta(days=after), pots=[pot], title="Low tide", **facts))
    found[0].start(by=cast.maker)
    return found


def run_page(browser, run):
    return browser.get(f"/runs/{run.code}/")


def test_a_run_says_which_day_it_is_and_leads_to_the_others(maker, runs):
    for number, run in enumerate(runs, 1):
        page = run_page(maker, run)
        assert f"day {number} of 3" in words(page)
        others = [other for other in runs if other != run]
        assert all(f'href="/runs/{other.code}/"' in page.content.decode() for other in others)


def test_the_spares_are_said_on_every_day_and_at_the_finish(maker, runs):
    for run in runs:
        assert "8 wanted and 2 spare, over 3 days" in words(run_page(maker, run))
    assert "8 wanted and 2 spare, over 3 days" in words(maker.get(f"/runs/{runs[0].code}/finish/"))


def test_a_run_of_one_day_says_nothing_of_it(cast, maker):
    page = words(run_page(maker, builders.run_with_pots(cast.maker)))
    assert "day 1 of" not in page and "spare" not in page


def test_the_journal_says_which_day_a_run_is(maker, runs):
    page = words(maker.get("/journal/"))
    assert all(f"day {number} of 3" in page for number in (1, 2, 3))


def test_the_journal_asks_as_often_for_many_days(cast, maker, runs, django_assert_max_num_queries):
    with django_assert_max_num_queries(60) as few:
        maker.get("/journal/")
    for after in range(4, 12):
        day = timezone.localdate() + timedelta(days=after)
        Run.plan(by=cast.maker, day=day, pots=[{}], title="Low tide", day_one=runs[0])
    with django_assert_max_num_queries(len(few)):
        maker.get("/journal/")


# Another day


def test_a_planned_run_is_moved_to_another_day(maker, runs):
    day = timezone.localdate() + timedelta(days=9)
    assert "Another day" in words(run_page(maker, runs[1]))
    answer = maker.post(f"/runs/{runs[1].code}/day/", {"day": day.isoformat()})
    assert answer.url == f"/runs/{runs[1].code}/"
    runs[1].refresh_from_db()
    assert runs[1].day == day
    assert "day 3 of 3" in words(run_page(maker, runs[1])), "days are counted as they come"


@pytest.mark.parametrize(
    ("day", "sentence"), [("", "Fill in"), ("soon", "year, month and day"), ("1999-01-01", "more than two years away")]
)
def test_a_day_that_makes_no_sense_is_refused_and_kept(maker, runs, day, sentence):
    answer = maker.post(f"/runs/{runs[1].code}/day/", {"day": day})
    assert answer.status_code == 422 and sentence in sentences(answer)[0]
    assert boxes(answer)["day"] == day


def test_a_run_that_was_started_stays_on_its_day(maker, runs):
    before = runs[0].day
    answer = maker.post(f"/runs/{runs[0].code}/day/", {"day": "2026-12-24"}, follow=True)
    runs[0].refresh_from_db()
    assert runs[0].day == before and "Only a planned run" in answer.content.decode()
    with pytest.raises(ValueError, match="Only a planned run"):
        runs[0].dye_on(before)
    assert "Another day" not in words(run_page(maker, runs[0]))


def test_only_makers_move_a_run(cast, client_of, runs):
    assert client_of(cast.helper).get(f"/runs/{runs[1].code}/day/").status_code == 403


# Labels of pots


def test_what_sets_a_pot_apart_stands_beside_its_name(cast, maker):
    lot = builders.receive_yarn(cast.maker, skeins=4)
    pots = [
        {"fibre_g": 100, "label": label, "yarns": [builders.shelf_yarn(lot, 1)]} for label in ("as it was", "10 % more")
    ]
    run = Run.plan(by=cast.maker, day=builders.DAY, pots=pots)
    run.start(by=cast.maker)
    (second,) = html.fromstring(run_page(maker, run).content.decode()).xpath("//*[@id='sample-2']//summary")
    assert second.text_content().split() == ["2", "10", "%", "more"]
    sink = maker.get(f"/sink/{run.batches.last().pk}/")
    assert "Pot 2 (10 % more)" in words(sink)
