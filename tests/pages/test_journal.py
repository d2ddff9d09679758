"""The journal: what waits, what is in the pot, the past in pages, and finding again."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from batches.models import Batch, Finish, Move, Output, Run
from tests import builders
from tests.builders import DAY, NOON, hours, stamp
from tests.pages.run_forms import words


@pytest.fixture
def maker(cast, client_of):
    return client_of(cast.maker)


def past_runs(by, number, begin=0):
    """Finished runs, one a day backwards, without yarn."""
    runs = Run.objects.bulk_create(
        Run(
            code=f"20-{begin + n:03d}",
            title=f"Run {begin + n}",
            day=DAY - timedelta(days=begin + n),
            state="finished",
            made_at=NOON,
            by=by,
            started_at=NOON,
            finished_at=NOON,
        )
        for n in range(number)
    )
    Batch.objects.bulk_create(Batch(run=run, number=1, state="finished", where="stored") for run in runs)
    return runs


def titles(answer):
    return [row["run"].title for _, rows in answer.context["months"] for row in rows]


def test_an_empty_studio_is_led_on(maker):
    page = maker.get("/journal/")
    shown = page.content.decode()
    assert "Nothing has been dyed here yet" in words(page)
    for address in ("/shelf/", "/colourways/", "/runs/new/"):
        assert f'href="{address}"' in shown


def test_a_helper_is_led_on_to_nothing_they_may_not_do(cast, client_of):
    page = client_of(cast.helper).get("/journal/").content.decode()
    assert "Nothing has been dyed here yet" in page
    assert 'href="/runs/new/"' not in page and 'href="/colourways/"' not in page


def test_what_is_in_the_pot_leads_to_the_sink(cast, maker):
    run = builders.run_with_pots(cast.maker, title="Low tide")
    page = maker.get("/journal/")
    assert "1 run, 400 g of fibre" in words(page).replace("\xa0", " ")
    assert f"/sink/{run.batches.first().pk}/" in page.content.decode()


def test_what_waits_is_said_in_plain_sentences(cast, maker):
    jar = builders.receive_powder(cast.maker)
    builders.run_with_pots(cast.maker, start=False, title="Next week")
    running = builders.run_with_pots(cast.maker, pots=1, title="Low tide")
    builders.addition(cast.helper, running.batches.get(), jar, how="sprinkled")
    Move.log(running.batches.get(), stamp(cast.helper, hours(5)), what="where", where="to_check")
    done = builders.run_with_pots(cast.maker, pots=1, title="High field")
    builders.finish(cast.maker, done.batches.get(), verdict="sell")
    page = words(maker.get("/journal/"))
    assert "Planned: Next week for" in page
    assert "1 addition was not weighed: put the jar on the scale." in page
    assert f"To judge: Low tide {running.code}." in page
    assert f"To tag: High field {done.code}." in page


def test_a_finish_without_a_verdict_waits_to_be_judged(cast, maker):
    run = builders.run_with_pots(cast.maker, pots=1, title="Low tide")
    batch = run.batches.get()
    builders.finish(cast.maker, batch)
    assert f"To judge: Low tide {run.code}." in words(maker.get("/journal/"))
    Finish.log(batch, stamp(cast.maker, hours(9)), outputs=[], verdict="standard")
    assert "To judge" not in words(maker.get("/journal/"))


def test_nothing_to_tag_where_nothing_can_be_sold(cast, maker):
    batch = builders.one_pot(cast.maker)
    outputs = [Output(yarn=batch.yarns.get(), grade="lost", skeins=2)]
    Finish.log(batch, stamp(cast.maker), outputs=outputs, verdict="never")
    assert "To tag" not in words(maker.get("/journal/"))


def test_a_helper_is_told_what_a_helper_sees_to(cast, client_of):
    jar = builders.receive_powder(cast.maker)
    running = builders.run_with_pots(cast.maker, pots=1, title="Low tide")
    builders.addition(cast.helper, running.batches.get(), jar, how="sprinkled")
    builders.run_with_pots(cast.maker, start=False, title="Next week")
    page = words(client_of(cast.helper).get("/journal/"))
    assert "not weighed" in page and "Planned: Next week" not in page
    assert "Waiting" not in words(client_of(cast.viewer).get("/journal/"))


def test_pages_follow_each_other_without_a_gap_or_a_run_twice(cast, maker):
    past_runs(cast.maker, 60)
    seen, address = [], "/journal/"
    while address:
        page = maker.get(address)
        seen += titles(page)
        address = f"/journal/?before={page.context['older']}" if page.context["older"] else ""
    assert seen == [f"Run {n}" for n in range(60)]


def test_runs_of_one_day_stay_apart_over_the_edge_of_a_page(cast, maker):
    past_runs(cast.maker, 30)
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
    past_runs(cast.maker, 20)
    months = [month for month, _ in maker.get("/journal/").context["months"]]
    assert months == [date(2026, 3, 1), date(2026, 2, 1)]


@pytest.mark.parametrize("text", ["tide sparrow", "26-001", "LOW"])
def test_every_word_is_looked_for(cast, maker, text):
    run = builders.run_with_pots(
        cast.maker, builders.receive_yarn(cast.maker, builders.make_base("Sparrow")), title="Low tide"
    )
    builders.run_with_pots(cast.maker, title="High field")
    assert [row["run"] for row in maker.get("/journal/", {"q": text}).context["runs"]] == [run]


@pytest.mark.parametrize("text", ["zebra", "🧶", "x" * 10_000, "a\x00b", "%", "' or 1=1 --", "<script>"])
def test_finding_nothing_is_said_and_the_words_are_kept(cast, maker, text):
    builders.run_with_pots(cast.maker, title="Low tide")
    page = maker.get("/journal/", {"q": text})
    assert page.status_code == 200
    assert "No run has all of these words" in words(page)
    assert page.context["q"] == text.replace("\x00", "")[:200]


def test_words_that_were_too_many_are_named(maker):
    page = words(maker.get("/journal/", {"q": "a b c d e f g h i j"}))
    assert "These were left out: i, j." in page


def many(by, number):
    yarn = builders.receive_yarn(by, skeins=200)
    jar = builders.receive_powder(by)
    for n in range(number):
        run = builders.run_with_pots(by, yarn, pots=2, title=f"Run {n}")
        for batch in run.batches.all():
            builders.addition(by, batch, jar, Decimal(1))
            if n % 2:
                builders.finish(by, batch)


@pytest.mark.parametrize("address", ["/journal/", "/journal/?q=run"])
def test_queries_do_not_grow_with_the_runs(cast, maker, django_assert_max_num_queries, address):
    many(cast.maker, 3)
    with django_assert_max_num_queries(40) as few:
        maker.get(address)
    many(cast.maker, 8)
    with django_assert_max_num_queries(len(few)):
        maker.get(address)
