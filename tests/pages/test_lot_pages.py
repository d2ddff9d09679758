"""One lot: its ledger in words, counting it, putting it right, throwing it away; and counting many at once."""

from datetime import date
from decimal import Decimal

import pytest

from studio.models import Count, Lot, Movement
from tests import builders
from tests.pages.shelf_forms import BAD_AMOUNTS, BAD_WORDS, boxes, problems, send


@pytest.fixture
def powder(cast):
    return builders.receive_powder(cast.owner, builders.make_dye("Brick"), 100, number="B-0417", cost_minor=3000)


def url(lot, act=""):
    return f"/shelf/lots/{lot.pk}/{act}"


def test_the_ledger_is_told_in_words(cast, client_of, powder):
    builders.bottle(cast.owner, [(powder, Decimal(5))], solution=builders.make_solution("Brick 1 %"))
    builders.addition(cast.helper, builders.one_pot(cast.owner), powder)
    page = client_of(cast.viewer).get(url(powder)).content.decode()
    moved = ("+100\u00a0g", "Brick 1\u00a0%", "\u22125\u00a0g", "not weighed")
    for words in ("Came", "Went into", "Used", "Hanne", *moved):
        assert words in page


def test_a_bottle_is_traced_to_its_powder(cast, client_of, powder):
    red = builders.bottle(cast.owner, [(powder, Decimal(5))], volume=500)
    page = client_of(cast.viewer).get(url(red)).content.decode()
    assert url(powder) in page and "1\u00a0%" in page


def test_a_lot_is_counted(cast, client_of, powder):
    answer = send(client_of(cast.helper), url(powder, "count/"), amount="86", why="scale B")
    assert answer.url == url(powder) and builders.on_hand(powder) == 86
    assert Count.objects.get().by == cast.helper


def test_yarn_is_counted_in_skeins_or_by_weight(cast, client_of):
    yarn = builders.receive_yarn(cast.owner, skeins=34)
    browser = client_of(cast.helper)
    send(browser, url(yarn, "count/"), amount="30")
    assert builders.on_hand(yarn) == 3000
    send(browser, url(yarn, "count/"), amount="2.95 kg")
    assert builders.on_hand(yarn) == 2950


def test_a_price_strength_and_use_by_date_are_put_right(cast, client_of, powder):
    send(
        client_of(cast.maker),
        url(powder, "put-right/"),
        cost="31.50",
        strength="92",
        use_by="2030-01-31",
        why="invoice",
    )
    lot = Lot.objects.with_facts().get(pk=powder.pk)
    assert (lot.cost_now, lot.strength_now, lot.use_by_now) == (3150, 92, date(2030, 1, 31))
    assert (lot.cost_minor, lot.strength_pct) == (3000, 100)


@pytest.mark.parametrize(("strength", "sentence"), [("0", "has some strength"), ("500", "400")])
def test_no_strength_and_one_beyond_belief_are_refused_and_nothing_typed_is_lost(
    cast, client_of, powder, strength, sentence
):
    answer = send(client_of(cast.maker), url(powder, "put-right/"), strength=strength, hue="bluer", why="a ladder")
    assert answer.status_code == 422 and sentence in problems(answer)
    assert all(typed in answer.content.decode() for typed in (f'value="{strength}"', "bluer", "a ladder"))
    assert not powder.corrections.exists()


def test_another_hue_is_noted_in_words_and_shown(cast, client_of, powder):
    browser = client_of(cast.maker)
    send(browser, url(powder, "put-right/"), hue="bluer than the last.", why="by the window")
    page = browser.get(url(powder)).content.decode()
    assert "Its hue" in page and page.count("bluer than the last") == 2
    assert "Its hue: bluer than the last. by the window" in page
    assert Lot.objects.with_facts().get(pk=powder.pk).strength_now == 100


def test_only_a_powder_has_a_hue(cast, client_of):
    acid = builders.receive_assistant(cast.maker)
    assert 'name="hue"' not in client_of(cast.maker).get(url(acid, "put-right/")).content.decode()


def test_putting_nothing_right_is_refused(cast, client_of, powder):
    answer = send(client_of(cast.maker), url(powder, "put-right/"), why="no reason")
    assert "fill in at least one" in problems(answer) and "no reason" in answer.content.decode()


def test_the_rest_is_thrown_away_and_that_is_taken_back(cast, client_of, powder):
    browser = client_of(cast.maker)
    send(browser, url(powder, "throw-away/"), why="damp")
    assert builders.on_hand(powder) == 0
    thrown = Movement.objects.get(kind="tipped")
    page = browser.get(url(powder)).content.decode()
    assert "Thrown away" in page and "damp" in page
    back = url(powder, f"take-back/{thrown.pk}/")
    assert back in page
    send(browser, back, why="wrong jar")
    assert builders.on_hand(powder) == 100
    assert back not in browser.get(url(powder)).content.decode() and browser.get(back).status_code == 404


def test_nothing_else_is_taken_back_here(cast, client_of, powder):
    came = powder.movements.get()
    assert client_of(cast.maker).get(url(powder, f"take-back/{came.pk}/")).status_code == 404


def test_another_lots_movement_is_not_taken_back(cast, client_of, powder):
    other = builders.receive_powder(cast.owner)
    thrown = other.throw_away(by=cast.owner)
    assert client_of(cast.maker).get(url(powder, f"take-back/{thrown.pk}/")).status_code == 404


def test_who_sees_no_costs_sees_none_here(cast, client_of, powder):
    powder.correct(by=cast.owner, cost_minor=4567)
    for role, seen in (("maker", True), ("helper", False), ("viewer", False)):
        page = client_of(getattr(cast, role)).get(url(powder)).content.decode()
        assert ("45.67" in page) is seen and ("Cost of all" in page) is seen


@pytest.mark.parametrize(
    ("act", "role", "status"),
    [
        ("", "viewer", 200),
        ("count/", "viewer", 403),
        ("count/", "helper", 200),
        ("put-right/", "helper", 403),
        ("throw-away/", "helper", 403),
        ("put-right/", "maker", 200),
    ],
)
def test_who_may_do_what(cast, client_of, powder, act, role, status):
    assert client_of(getattr(cast, role)).get(url(powder, act)).status_code == status


@pytest.mark.parametrize("act", ["", "count/", "put-right/", "throw-away/", "take-back/1/"])
def test_a_lot_that_is_not_there_is_not_found(cast, client_of, act):
    assert client_of(cast.maker).get(f"/shelf/lots/999/{act}").status_code == 404


@pytest.mark.parametrize(
    ("act", "box"),
    [
        ("count/", "amount"),
        ("count/", "at"),
        ("count/", "why"),
        ("put-right/", "cost"),
        ("put-right/", "strength"),
        ("put-right/", "use_by"),
        ("throw-away/", "why"),
    ],
)
def test_nothing_typed_breaks_the_page(cast, client_of, powder, act, box):
    browser = client_of(cast.maker)
    for value in BAD_AMOUNTS + BAD_WORDS:
        assert send(browser, url(powder, act), **{box: value}).status_code in (302, 422), value


@pytest.mark.parametrize("value", ["", "-5", "1,000", "5 mL", "5 skeins", "99999999999999", "☃"])
def test_a_count_that_cannot_be_read_counts_nothing(cast, client_of, powder, value):
    answer = send(client_of(cast.helper), url(powder, "count/"), amount=value)
    assert answer.status_code == 422 and problems(answer) and not Count.objects.exists()


def test_a_count_sent_twice_is_one_count(cast, client_of, powder):
    browser = client_of(cast.helper)
    filled = boxes(browser.get(url(powder, "count/"))) | {"amount": "86"}
    browser.post(url(powder, "count/"), filled)
    browser.post(url(powder, "count/"), filled)
    assert Count.objects.count() == 1


# --- the whole shelf


def test_many_lots_are_counted_on_one_page(cast, client_of, powder):
    yarn = builders.receive_yarn(cast.owner, skeins=34)
    untouched = builders.receive_assistant(cast.owner)
    answer = send(client_of(cast.helper), "/shelf/count/", **{f"lot-{powder.pk}": "86", f"lot-{yarn.pk}": "30"})
    assert answer.status_code == 302
    assert [builders.on_hand(lot) for lot in (powder, yarn, untouched)] == [86, 3000, 1000]
    assert Count.objects.count() == 2


def test_one_slip_counts_none_of_them(cast, client_of, powder):
    yarn = builders.receive_yarn(cast.owner, skeins=34)
    answer = send(client_of(cast.helper), "/shelf/count/", **{f"lot-{powder.pk}": "86", f"lot-{yarn.pk}": "1,000"})
    assert answer.status_code == 422 and "could be 1 or 1000" in problems(answer)
    assert not Count.objects.exists() and 'value="86"' in answer.content.decode()


def test_an_empty_count_says_so(cast, client_of, powder):
    assert "Nothing is counted yet" in problems(send(client_of(cast.helper), "/shelf/count/"))


def test_nothing_typed_breaks_the_count(cast, client_of, powder):
    browser = client_of(cast.helper)
    for value in BAD_AMOUNTS:
        assert send(browser, "/shelf/count/", **{f"lot-{powder.pk}": value}).status_code in (302, 422), value


def test_viewers_count_nothing(cast, client_of, powder):
    assert client_of(cast.viewer).get("/shelf/count/").status_code == 403


def test_a_lot_page_costs_the_same_however_much_happened(cast, client_of, powder, django_assert_num_queries):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    browser = client_of(cast.maker)
    builders.bottle(cast.owner, [(powder, Decimal(1))])
    with CaptureQueriesContext(connection) as few:
        browser.get(url(powder))
    for _ in range(5):
        builders.bottle(cast.owner, [(powder, Decimal(1))])
        builders.count(cast.owner, powder, 50)
    with django_assert_num_queries(len(few)):
        browser.get(url(powder))


@pytest.mark.parametrize(
    ("typed", "unit", "spoons", "ml"),
    [
        ("2 tbsp", "mL", "metric", 30),
        ("2 tbsp", "mL", "us", Decimal("29.574")),
        ("1/2", "L", "metric", 500),
        ("1,5 L", "mL", "metric", 1500),
    ],
)
def test_acid_is_counted_in_the_studios_own_units(cast, client_of, studio, typed, unit, spoons, ml):
    # A metric tablespoon is 15 mL (common practice, no source); a US one 14.787 mL (NIST Handbook 44, Appendix C).
    studio.spoons = spoons
    studio.save()
    acid = builders.receive_assistant(cast.owner)
    send(client_of(cast.helper), url(acid, "count/"), amount=typed, amount_unit=unit)
    assert builders.on_hand(acid) == ml


@pytest.mark.parametrize(
    ("typed", "unit", "grams"),
    [
        ("½", "skeins", 50),
        ("30 hanks", "skeins", 3000),
        ("2 skeins", "g", 200),
        ("250", "g", 250),
        ("7 oz", "skeins", Decimal("198.447")),
    ],
)
def test_yarn_is_counted_however_it_is_written(cast, client_of, typed, unit, grams):
    yarn = builders.receive_yarn(cast.owner)
    send(client_of(cast.helper), url(yarn, "count/"), amount=typed, amount_unit=unit)
    assert builders.on_hand(yarn) == grams


def test_a_cone_is_counted_by_weight_unless_skeins_are_said(cast, client_of):
    cone = Lot.receive(by=cast.owner, came_at=builders.NOON, received=Decimal(1850), base=builders.make_base())
    send(client_of(cast.helper), url(cone, "count/"), amount="1700")
    assert builders.on_hand(cone) == 1700


def test_a_lot_is_drawn_as_full_as_it_is(cast, client_of):
    powder = builders.receive_powder(cast.owner, builders.make_dye(colour="#123456"))
    bottle = builders.bottle(cast.owner, [(powder, Decimal(5))], volume=500)
    yarn = builders.receive_yarn(cast.owner, skeins=40)
    builders.count(cast.owner, yarn, 1000)
    browser = client_of(cast.viewer)
    for lot in (powder, bottle):
        page = browser.get(url(lot)).content.decode()
        assert '<svg class="bottle"' in page and 'fill="#123456"' in page
    assert '<rect class="ink" x="0.0%" width="25.0%"' in browser.get(url(yarn)).content.decode()


def test_a_dye_s_page_shows_its_colour_with_its_name(cast, client_of):
    dye = builders.make_dye("Brick", colour="#9c3122")
    page = client_of(cast.viewer).get(f"/shelf/dyes/{dye.pk}/").content.decode()
    assert 'aria-label="Brick on the fibre"><rect width="100%" height="100%" fill="#9c3122"/>' in page
