"""What a run cost: worked out, frozen, out of date."""

from types import SimpleNamespace

import pytest
from django.utils import timezone

from batches.models import CostSheet
from tests import builders
from tests.pages.run_forms import fields_of, sentences, words


@pytest.fixture
def at(cast, client_of, studio):
    yarn = builders.receive_yarn(cast.maker, builders.make_base("Sparrow"), skeins=10, cost_minor=9400)
    run = builders.run_with_pots(cast.maker, yarn, skeins=3)
    for batch in run.batches.all():
        builders.finish(cast.maker, batch)
    return SimpleNamespace(run=run, yarn=yarn, url=f"/runs/{run.code}/cost/", browser=client_of(cast.maker))


def freeze(at):
    return at.browser.post(at.url, fields_of(at.browser.get(f"{at.url}?now"), "once"))


def test_it_is_worked_out_before_anything_is_frozen(at):
    page = words(at.browser.get(at.url))
    assert "As it would be frozen now" in page
    assert "6 firsts" in page and "€9.40" in page and "€56.40" in page
    assert not CostSheet.objects.exists()


def test_freezing_keeps_a_numbered_sheet(at, cast):
    assert freeze(at).url == at.url
    assert "Sheet 1, frozen" in words(at.browser.get(at.url))
    assert CostSheet.objects.get().by == cast.maker


def test_the_same_page_sent_twice_freezes_one_sheet(at):
    fields = fields_of(at.browser.get(at.url), "once")
    for _ in range(2):
        assert at.browser.post(at.url, fields).status_code == 302
    assert CostSheet.objects.count() == 1


def test_a_late_entry_makes_it_out_of_date_until_the_next_sheet(at, cast):
    freeze(at)
    assert "Out of date" not in words(at.browser.get(at.url))
    jar = builders.receive_powder(cast.maker, cost_minor=1000)
    builders.addition(cast.helper, at.run.batches.first(), jar, 2, received_at=timezone.now())
    assert "Out of date" in words(at.browser.get(at.url))
    freeze(at)
    page = words(at.browser.get(at.url))
    assert "Sheet 2, frozen" in page and "Sheet 1" in page and "Out of date" not in page


def test_a_page_without_its_number_freezes_nothing(at):
    answer = at.browser.post(at.url, {"once": "zzz"})
    assert answer.status_code == 422
    assert any("without its number" in sentence for sentence in sentences(answer))
    assert not CostSheet.objects.exists()


def test_before_anything_came_out_it_says_what_to_do(at, cast):
    run = builders.run_with_pots(cast.maker)
    page = at.browser.get(f"/runs/{run.code}/cost/")
    assert page.status_code == 200 and "Say what came out of the pots first" in words(page)


def test_the_bar_is_drawn_without_inline_style(at):
    source = at.browser.get(at.url).content.decode()
    assert 'class="costbar"' in source and "Cost of the run: yarn €56.40" in source
    assert "style=" not in source


def test_helpers_and_viewers_see_no_costs(at, cast, client_of):
    for person in (cast.helper, cast.viewer):
        assert client_of(person).get(at.url).status_code == client_of(person).post(at.url).status_code == 403


def test_a_cost_that_cannot_be_right_is_said_and_not_frozen(cast, client_of, studio):
    batch = builders.one_pot(cast.owner)
    powder = builders.receive_powder(cast.owner, grams="0.001", cost_minor=1_000_000_000)
    builders.addition(cast.owner, batch, powder, 1_000_000)
    builders.finish(cast.owner, batch)
    address = f"/runs/{batch.run.code}/cost/"
    browser = client_of(cast.owner)
    assert "more than can be right" in browser.get(address).content.decode()
    browser.post(address, {"once": "0b9b6a8e-4a5e-4a53-9b2e-0d1f2a3b4c5f"})
    assert not CostSheet.objects.exists()
