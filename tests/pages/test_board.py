"""The board on the wall: every open pot, what is due and next, what waits for whom; no costs, and few queries."""

import html
import re
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from batches.models import Timer
from tests import builders
from tests.builders import NOON, hours, stamp

BOARD = "/board/"


@pytest.fixture(autouse=True)
def noon():
    with time_machine.travel(NOON, tick=False) as clock:
        yield clock


def text(page):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html.unescape(page.content.decode()))).replace(" ,", ",")


def run_with_hold(cast, minutes=45, **facts):
    run = builders.run_with_pots(cast.maker, pots=2, **facts)
    touch = uuid4()
    for pot in run.batches.all():
        Timer.log(pot, stamp(cast.helper, together=touch), what="hold", minutes=Decimal(minutes))
    return run


@pytest.mark.parametrize("role", ["owner", "maker", "helper", "viewer"])
def test_everybody_sees_every_pot_and_what_is_due_and_next(cast, client_of, role, noon):
    red = builders.bottle(cast.maker)
    run = run_with_hold(cast, lines=[(red, 40)], title="Stove door")
    run.batches.last().go("cooling")
    noon.move_to(hours(1))
    page = text(client_of(getattr(cast, role)).get(BOARD))
    assert "Stove door" in page and run.code in page
    assert "Pot 1: in the pot Pot 2: cooling" in page
    assert "Hold is over" in page and "late since 12:45" in page
    assert f"Next {red.solution}, 1 %, 40 mL in each pot" in page


def test_it_says_what_waits_for_whom(cast, client_of):
    builders.run_with_pots(cast.maker, start=False, title="For today")
    run = builders.run_with_pots(cast.maker, pots=1, title="Bleeds")
    pot = run.batches.get()
    builders.addition(cast.helper, pot, builders.receive_powder(cast.maker, tare_g=20))
    page = text(client_of(cast.viewer).get(BOARD))
    assert "For today Planned for today. For a maker." in page
    assert "1 addition was not weighed. For anybody." in page


def test_it_says_no_costs(cast, client_of):
    yarn = builders.receive_yarn(cast.maker, cost_minor=91357)
    run_with_hold(cast, lot=yarn)
    page = client_of(cast.owner).get(BOARD).content.decode()
    assert "€" not in page and "EUR" not in page and "913.57" not in page and "cost" not in page.lower()


def test_what_presses_most_stands_first(cast, client_of):
    run_with_hold(cast, 60, title="Later")
    builders.run_with_pots(cast.maker, title="Still")
    run_with_hold(cast, 30, title="Sooner")
    page = text(client_of(cast.viewer).get(BOARD))
    assert page.index("Sooner") < page.index("Later") < page.index("Still")


def test_the_part_that_is_fetched_anew_is_the_inner_one_alone(cast, client_of):
    run_with_hold(cast, title="Stove door")
    part = client_of(cast.viewer).get(f"{BOARD}?part").content.decode()
    assert part.startswith("<div") and "<html" not in part and 'data-fresh="' in part and "Stove door" in part
    whole = client_of(cast.viewer).get(BOARD).content.decode()
    assert part.split('data-now="')[0] in whole
    assert re.search(r'<noscript><meta http-equiv="refresh" content="2\d"></noscript>', whole)


def test_more_runs_ask_no_more_queries(cast, client_of):
    def asked():
        client = client_of(cast.viewer)
        client.get(BOARD)
        with CaptureQueriesContext(connection) as captured:
            client.get(BOARD)
        return len(captured)

    red = builders.bottle(cast.maker, volume=900)
    run_with_hold(cast, lines=[(red, 10)])
    few = asked()
    for _ in range(5):
        run_with_hold(cast, lines=[(red, 10)])
    assert asked() == few


def test_with_nothing_in_a_pot_it_says_so(cast, client_of, studio):
    assert "Nothing is in a pot" in text(client_of(cast.viewer).get(BOARD))


def test_the_journal_and_the_studio_lead_to_it(cast, client_of):
    run_with_hold(cast)
    for person in (cast.owner, cast.viewer):
        for name in ("batches:journal", "studio:studio"):
            assert f'href="{BOARD}"' in client_of(person).get(reverse(name)).content.decode()


def test_a_tablet_that_was_signed_out_is_not_shown_another_page_as_the_board(cast, client_of):
    answer = client_of(None).get(f"{BOARD}?part", follow=True)
    assert "data-fresh" not in answer.content.decode()


def test_late_since_yesterday_is_not_on_it(cast, client_of, noon):
    run_with_hold(cast)
    noon.move_to(NOON + timedelta(days=2))
    assert "Hold" not in text(client_of(cast.viewer).get(BOARD))
