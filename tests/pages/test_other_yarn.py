"""Yarn that is not a lot of the shelf: overdyed seconds, a customer's own, a cone without a label."""

from decimal import Decimal

import pytest

from batches import costs
from batches.models import BatchYarn, Output, Run
from batches.yarns import to_dye_again
from tests import builders
from tests.pages.run_forms import fields_of

BARE = "/runs/new/bare/"


@pytest.fixture
def maker(cast, client_of, studio):
    return client_of(cast.maker)


@pytest.fixture
def seconds(cast):
    """Two seconds of a finished run of two skeins."""
    batch = builders.one_pot(cast.owner)
    builders.finish(cast.owner, batch, grade="second")
    return Output.objects.get()


@pytest.fixture
def plan(cast):
    return f"/runs/new/plan/{builders.recipe(cast.owner).pk}/"


def test_seconds_are_offered_until_they_are_dyed_again(seconds, maker):
    fields = fields_of(maker.get(BARE), "pots") | {"pots": "1", "skeins": "2", "before": seconds.pk}
    assert maker.post(BARE, fields).status_code == 302
    yarn = BatchYarn.objects.get(output=seconds)
    assert (yarn.source, yarn.skeins, yarn.grams) == ("output", 2, Decimal(200))
    assert yarn.known_base == seconds.yarn.known_base
    assert not to_dye_again().exists()


def test_more_seconds_than_there_are_is_said(seconds, maker, plan):
    fields = fields_of(maker.get(plan), "pots") | {"yarn-0-before": seconds.pk, "yarn-0-skeins": "3", "do": "work"}
    assert "3 skeins wanted, 2 free" in maker.post(plan, fields).content.decode()


def test_a_customers_own_yarn_is_weighed_and_costs_nothing(maker, cast, plan):
    said = {
        "yarn-0-other": "customer",
        "yarn-0-words": "Ilse's wool",
        "yarn-0-weight": "450",
        "yarn-0-skeins": "3",
    }
    fields = fields_of(maker.get(plan), "pots") | said | {"do": "start"}
    assert maker.post(plan, fields).status_code == 302
    yarn = BatchYarn.objects.get()
    assert (yarn.source, yarn.words, yarn.grams, yarn.batch.fibre_g) == ("customer", "Ilse's wool", 450, 450)
    builders.finish(cast.owner, yarn.batch, grade="customer")
    sheet, _ = costs.worked_out(Run.objects.get())
    assert [line.amount for line in sheet.lines if line.kind == "yarn"] == [0]


def test_a_cone_without_a_label_may_weigh_nobody_knows_what(maker):
    fields = fields_of(maker.get(BARE), "pots") | {
        "pots": "1",
        "skeins": "1",
        "other": "unlabelled",
        "words": "a cone",
    }
    assert maker.post(BARE, fields).status_code == 302
    assert BatchYarn.objects.values_list("words", "grams").get() == ("a cone", None)


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({"yarn-0-other": "customer", "yarn-0-skeins": "3", "yarn-0-weight": "300"}, "whose yarn it is"),
        ({"yarn-0-other": "unlabelled", "yarn-0-words": "cone", "yarn-0-skeins": "3"}, "what it weighs dry"),
        ({"yarn-0-other": "bananas", "yarn-0-skeins": "3"}, "choose another"),
        ({"yarn-0-before": "999", "yarn-0-skeins": "3"}, "choose another"),
        ({"yarn-0-words": "a cone", "yarn-0-skeins": "3"}, "Choose which yarn"),
    ],
)
def test_what_is_missing_is_said_and_the_fold_stays_open(maker, plan, said, sentence):
    answer = maker.post(plan, fields_of(maker.get(plan), "pots") | said | {"do": "work"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page and '<details class="fold" open>' in page


def test_two_yarns_in_one_row_are_told_apart(cast, seconds, maker, plan):
    lot = builders.receive_yarn(cast.owner)
    said = {"yarn-0-lot": lot.pk, "yarn-0-before": seconds.pk, "yarn-0-skeins": "2", "do": "work"}
    answer = maker.post(plan, fields_of(maker.get(plan), "pots") | said)
    assert answer.status_code == 422 and "a row of its own" in answer.content.decode()


def test_the_fold_stays_shut_while_nothing_is_typed_in_it(cast, maker, plan):
    lot = builders.receive_yarn(cast.owner)
    said = {"yarn-0-lot": lot.pk, "yarn-0-skeins": "2", "do": "work"}
    page = maker.post(plan, fields_of(maker.get(plan), "pots") | said).content.decode()
    assert "To measure" in page and '<details class="fold" open>' not in page
