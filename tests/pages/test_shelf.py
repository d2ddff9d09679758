"""The shelf: what is here, what plans have spoken for, and what is free."""

import gzip
from datetime import timedelta
from decimal import Decimal
from random import Random

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
    assert "Tessel 4-ply" in page and "T-2209" in page
    assert "12\u00a0skeins promised, 22\u00a0skeins free" in page


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


def test_the_bar_of_a_lot_is_what_is_left_of_what_came_with_the_promised_part_marked(cast, client_of):
    lot = builders.receive_yarn(cast.owner, skeins=40)
    builders.count(cast.owner, lot, 3000)
    builders.run_with_pots(cast.owner, lot=lot, pots=1, skeins=10, start=False)
    page = client_of(cast.viewer).get(SHELF).content.decode()
    assert '<rect class="ink" x="0.0%" width="50.0%"' in page
    assert '<rect class="stripes" x="50.0%" width="25.0%"' in page
    assert 'id="stripes"' in page


def test_what_is_wrong_stands_on_top_the_lots_that_plans_wait_for_first(cast, client_of):
    low = builders.bottle(cast.owner, volume=500, solution=builders.make_solution("Aniseed 1 %"), at=timezone.now())
    builders.count(cast.owner, low, 20, at=timezone.now())
    yarn = builders.receive_yarn(cast.owner, builders.make_base("Wend DK", low_skeins=9), skeins=5)
    builders.run_with_pots(cast.owner, lot=yarn, pots=1, skeins=8, start=False)
    builders.make_assistant("Alum", kind="mordant", unit="g")
    top = client_of(cast.viewer).get(SHELF).content.decode().split('id="calling"')[1].split("</section>")[0]
    assert "low: 0\u00a0skeins free, under 9" in top
    assert top.index("3\u00a0skeins short") < top.index("Aniseed")
    assert 'Alum</a> <span class="call">none here' in top


def test_nothing_stands_on_top_when_all_is_well(cast, client_of):
    builders.receive_yarn(cast.owner)
    assert 'id="calling"' not in client_of(cast.maker).get(SHELF).content.decode()


def test_the_strength_is_not_said_twice(cast, client_of):
    powder = builders.receive_powder(cast.owner)
    builders.bottle(cast.owner, [(powder, Decimal("2.5"))], volume=250, solution=builders.make_solution("Brick 1 %"))
    builders.bottle(cast.owner, [(powder, Decimal("2.6"))], volume=250, solution=builders.make_solution("Rust 1 %"))
    builders.bottle(cast.owner, [(powder, Decimal("2.495"))], volume=250, solution=builders.make_solution("Soot 1 %"))
    rack = client_of(cast.maker).get(SHELF).content.decode().split('id="bottles"')[1].split('id="powder"')[0]
    assert rack.count("1\u00a0%</a>") == 3
    assert "truly 1.04\u00a0%" in rack and "truly 1\u00a0%" not in rack
    assert "0.998" not in rack  # what no jug could show is not worth saying


def test_bottles_and_jars_stand_by_kind_once_there_are_several(cast, client_of):
    builders.receive_powder(cast.owner)
    page = client_of(cast.maker).get(SHELF).content.decode()
    assert "<h3>Acid, milling</h3>" not in page
    builders.receive_powder(cast.owner, builders.make_dye("Madder", dye_class="natural"))
    page = client_of(cast.maker).get(SHELF).content.decode()
    assert page.index("<h3>Acid, milling</h3>") < page.index("<h3>Natural, with a mordant</h3>") < page.index("Madder")


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("tessel", {"Tessel"}),
        ("TÉSSEL", {"Tessel"}),
        ("t-2209", {"Tessel"}),
        ("brick", {"Brick", "Kiln"}),
        ("alum", {"Alum"}),
        ("four litre", {"Four litre pot"}),
    ],
)
def test_the_shelf_shows_only_what_is_asked_for(cast, client_of, words, found):
    builders.receive_yarn(cast.owner, builders.make_base("Tessel 4-ply"), number="T-2209")
    brick = builders.receive_powder(cast.owner, builders.make_dye("Brick"), number="B-1")
    builders.bottle(cast.owner, [(brick, Decimal(5))], solution=builders.make_solution("Kiln red"))
    builders.receive_assistant(cast.owner, builders.make_assistant("Alum", kind="mordant", unit="g"))
    builders.make_vessel("Four litre pot")
    page = client_of(cast.viewer).get(SHELF, {"q": words})
    text = page.content.decode().split("</header>")[-1]
    assert {name for name in ("Tessel", "Brick", "Kiln", "Alum", "Four litre pot") if name in text} == found
    assert f'value="{words}"' in page.content.decode()


def test_nothing_found_is_said_with_what_to_do(cast, client_of):
    builders.receive_yarn(cast.owner)
    page = client_of(cast.viewer).get(SHELF, {"q": "<b>mauve"}).content.decode()
    assert "Nothing on the shelf is called “&lt;b&gt;mauve”" in page and "show everything" in page


def test_an_empty_shelf_says_what_it_is_for_and_where_to_begin(cast, client_of):
    page = client_of(cast.maker).get(SHELF).content.decode()
    assert "Nothing is on it yet" in page and "/shelf/bases/new/" in page and "Show only" not in page
    assert "/shelf/bases/new/" not in client_of(cast.viewer).get(SHELF).content.decode()


def test_a_full_shelf_stays_within_the_bytes_of_a_page(cast, client_of):
    """60 dyes, 30 bases and 40 bottles in 14 kB compressed."""
    random = Random(60)
    powders = [
        builders.receive_powder(
            cast.owner,
            builders.make_dye(f"Dye {random.random():.6f}", colour=f"#{random.randrange(1 << 24):06x}"),
            grams=random.randrange(5, 400),
            number=f"L-{random.randrange(10_000)}",
        )
        for _ in range(60)
    ]
    for _ in range(30):
        base = builders.make_base(f"Base {random.random():.6f}", low_skeins=random.randrange(20))
        builders.receive_yarn(cast.owner, base, skeins=random.randrange(2, 60), number=f"Y-{random.randrange(10_000)}")
    for _ in range(40):
        volume = random.choice([100, 250, 500, 1000])
        parts = [(random.choice(powders), Decimal(volume) / random.randrange(95, 105))]
        red = builders.bottle(cast.owner, parts, volume=volume, solution=builders.make_solution())
        builders.count(cast.owner, red, random.randrange(1, volume), at=timezone.now())
    page = client_of(cast.owner).get(SHELF).content
    assert len(gzip.compress(page, 9)) <= 14 * 1024


def test_a_stranger_is_sent_to_sign_in(db, client):
    assert client.get(SHELF).status_code == 302


def test_only_makers_are_offered_what_only_makers_may(cast, client_of):
    builders.receive_yarn(cast.owner)
    assert "Receive a delivery" in client_of(cast.maker).get(SHELF).content.decode()
    helper = client_of(cast.helper).get(SHELF).content.decode()
    assert "Receive a delivery" not in helper and "Make a bottle" in helper and "Count the shelf" in helper
