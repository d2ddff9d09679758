"""The shelf: what is here, what plans have spoken for, and what is free."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from batches.shelf import shelf
from studio.models import Lot
from tests import builders

SHELF = "/shelf/"


def test_yarn_is_said_in_skeins_here_promised_and_free(cast, client_of):
    lot = builders.receive_yarn(cast.owner, builders.make_base("Tessel 4-ply"), skeins=34, number="T-2209")
    builders.run_with_pots(cast.owner, lot=lot, pots=2, skeins=6, start=False)
    (row,) = shelf(timezone.now()).yarn
    held = row.lots[0]
    assert (held.here, held.promised, held.free) == (3400, 1200, 2200)
    page = client_of(cast.viewer).get(SHELF).content.decode()
    assert "Tessel 4-ply" in page and "T-2209" in page and ">22<" in page


def test_what_plans_want_beyond_what_is_here_is_called_short(cast, client_of):
    lot = builders.receive_yarn(cast.owner, skeins=5)
    builders.run_with_pots(cast.owner, lot=lot, pots=2, skeins=4, start=False)
    assert "3\u00a0skeins short" in client_of(cast.maker).get(SHELF).content.decode()


def test_yarn_on_a_cone_is_said_by_weight(cast, client_of):
    Lot.receive(by=cast.owner, came_at=builders.NOON, received=Decimal(1850), base=builders.make_base())
    assert "1.85\u00a0kg" in client_of(cast.maker).get(SHELF).content.decode()


def test_a_base_under_its_mark_is_called_low(cast, client_of):
    base = builders.make_base(low_skeins=6)
    builders.receive_yarn(cast.owner, base, skeins=6)
    assert "low: under 6" not in client_of(cast.maker).get(SHELF).content.decode()
    builders.receive_yarn(cast.owner, builders.make_base(low_skeins=7), skeins=6)
    assert "low: under 7" in client_of(cast.maker).get(SHELF).content.decode()


def test_a_base_without_any_yarn_is_still_on_the_page(cast, client_of):
    builders.make_base("Corm Aran")
    assert "Corm Aran" in client_of(cast.maker).get(SHELF).content.decode()


def test_a_bottle_shows_its_true_strength_and_what_is_left(cast, client_of):
    red = builders.bottle(cast.owner, parts=[(builders.receive_powder(cast.owner), Decimal("5.1"))], volume=500)
    builders.count(cast.owner, red, 410)
    page = client_of(cast.maker).get(SHELF).content.decode()
    assert "1.02\u00a0%" in page and "410\u00a0mL of 500\u00a0mL" in page


@pytest.mark.parametrize(
    ("left", "days", "use_by", "said"),
    [
        (45, 1, None, "low"),
        (400, 50, None, "7 weeks old"),
        (400, 1, -3, "past its use by"),
        (400, 1, 3, "made"),
    ],
)
def test_a_bottle_says_what_is_wrong_with_it(cast, client_of, left, days, use_by, said):
    made = timezone.now() - timedelta(days=days)
    day = timezone.localdate() + timedelta(days=use_by) if use_by else None
    red = builders.bottle(cast.owner, volume=500, at=made, use_by=day)
    builders.count(cast.owner, red, left, at=timezone.now())
    page = client_of(cast.maker).get(SHELF).content.decode()
    rack = page.split('id="bottles"')[1].split('id="powder"')[0]
    assert said in rack
    assert ("call" in rack) == (said != "made")


def test_powder_comes_with_its_caution(cast, client_of):
    browser = client_of(cast.maker)
    assert "hazard to the lungs" not in browser.get(SHELF).content.decode()
    builders.receive_powder(cast.owner)
    assert "hazard to the lungs" in browser.get(SHELF).content.decode()


def test_the_level_of_a_bottle_is_drawn_in_its_dye(cast, client_of):
    powder = builders.receive_powder(cast.owner, builders.make_dye(colour="#123456"))
    builders.bottle(cast.owner, parts=[(powder, Decimal(1))])
    rack = client_of(cast.maker).get(SHELF).content.decode().split('id="bottles"')[1].split('id="powder"')[0]
    assert 'fill="#123456"' in rack and "style=" not in rack


def test_more_rows_cost_no_more_queries(cast, client_of, django_assert_num_queries):
    def stock(number):
        for _ in range(number):
            lot = builders.receive_yarn(cast.owner)
            powder = builders.receive_powder(cast.owner)
            builders.bottle(cast.owner, parts=[(powder, Decimal(1))])
            builders.receive_assistant(cast.owner)
            builders.run_with_pots(cast.owner, lot=lot, pots=1, start=False)
            builders.make_vessel()
            builders.make_tool()

    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    browser = client_of(cast.owner)
    stock(1)
    with CaptureQueriesContext(connection) as few:
        browser.get(SHELF)
    stock(4)
    with django_assert_num_queries(len(few)):
        browser.get(SHELF)


@pytest.mark.parametrize("role", ["owner", "maker", "helper", "viewer"])
def test_everyone_sees_the_shelf_and_nobody_a_cost(cast, client_of, role):
    builders.receive_yarn(cast.owner, cost_minor=123456)
    page = client_of(getattr(cast, role)).get(SHELF)
    assert page.status_code == 200
    assert "1,234.56" not in page.content.decode()


def test_a_stranger_is_sent_to_sign_in(db, client):
    assert client.get(SHELF).status_code == 302


def test_only_makers_are_offered_what_only_makers_may(cast, client_of):
    assert "Receive a delivery" in client_of(cast.maker).get(SHELF).content.decode()
    helper = client_of(cast.helper).get(SHELF).content.decode()
    assert "Receive a delivery" not in helper and "Make a bottle" in helper and "Count the shelf" in helper
