"""Prices: what a first is sold for, what it cost, what is left, and what the rule proposes."""

from decimal import Decimal
from types import SimpleNamespace

import pytest

from tests import builders
from tests.pages.run_forms import BAD, boxes, fields_of, sentences, words

URL = "/prices/"


@pytest.fixture
def at(cast, client_of, studio):
    """A base whose firsts cost 15.60 each by the newest sheet; tax 20 %."""
    studio.tax_pct = 20
    studio.save()
    base = builders.make_base("Sparrow", price_minor=2895)
    run = builders.run_with_pots(cast.maker, builders.receive_yarn(cast.maker, base, skeins=4), pots=1)
    builders.finish(cast.maker, run.batches.get())
    builders.cost_sheet(cast.maker, run, yarn=3000, dye=120)
    return SimpleNamespace(base=base, box=f"base-{base.pk}-price", browser=client_of(cast.maker))


def send(at, price, **said):
    return at.browser.post(URL, fields_of(at.browser.get(URL), at.box) | {at.box: price} | said)


def test_cost_and_what_is_left_stand_by_the_price(at):
    page = words(at.browser.get(URL))
    # 28.95 holds 4.82 of tax (28.95 - 28.95/1.2 = 4.825, net 24.13); less 15.60 leaves 8.53
    assert "cost €15.60" in page and "leaves €8.53 after €4.82 tax" in page


def bar(at):
    """[(part, share of the bar in %)] of the base's price."""
    row = next(row for row in at.browser.get(URL).context["rows"] if row.base == at.base)
    return [(part.kind, part.minor, Decimal(part.width)) for part in row.bar]


def test_the_price_is_one_bar_of_cost_tax_and_what_is_left(at):
    found = bar(at)
    assert [(kind, amount) for kind, amount, _ in found] == [
        ("Cost", Decimal("15.60")),
        ("Tax", Decimal("4.82")),
        ("Left", Decimal("8.53")),
    ]
    assert sum(width for _, _, width in found) == 100
    assert found[0][2] == pytest.approx(100 * Decimal("15.60") / Decimal("28.95"), abs=Decimal("0.01"))


def test_a_price_that_loses_is_called(at):
    send(at, "12")
    page = words(at.browser.get(URL))
    assert "This price falls €5.60 short." in page  # 12 less 2.00 of tax covers 10.00 of 15.60
    assert [(kind, amount) for kind, amount, _ in bar(at)] == [("Covered", 10), ("Short", Decimal("5.60"))]


def test_a_price_is_kept_and_may_be_taken_off(at):
    assert send(at, "30,50").status_code == 302
    at.base.refresh_from_db()
    assert at.base.price_minor == 3050
    send(at, "")
    at.base.refresh_from_db()
    assert at.base.price_minor is None


def test_the_newest_sheet_counts(at, cast):
    run = builders.run_with_pots(cast.maker, builders.receive_yarn(cast.maker, at.base, skeins=4), pots=1)
    builders.finish(cast.maker, run.batches.get())
    sheet = builders.cost_sheet(cast.maker, run, yarn=4000, dye=0)
    page = words(at.browser.get(URL))
    assert sheet.run.code in page and "cost €20.00" in page


def test_the_rule_proposes_and_stores_nothing(at):
    page = words(at.browser.get(URL, {"keep": "30", "fee": "3", "ending": ".95"}))
    # 15.60 / (0.70/1.2 - 0.03) = 28.19, up to the ending
    assert "By the rule it would be €28.95" in page
    at.base.refresh_from_db()
    assert at.base.price_minor == 2895


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({"keep": "95"}, "too much"),
        ({"keep": "x"}, "can't be read"),
        ({"keep": "1", "ending": "soon"}, "price ending"),
        ({"keep": "-5"}, "below"),
    ],
)
def test_a_rule_that_can_not_be_is_refused_with_a_sentence(at, said, sentence):
    answer = at.browser.get(URL, said)
    assert answer.status_code == 422
    assert any(sentence in found for found in sentences(answer)), sentences(answer)


def test_a_rule_that_no_price_can_meet_says_so(at):
    answer = at.browser.get(URL, {"keep": "80", "fee": "40"})
    assert answer.status_code == 200 and "no price is high enough" in words(answer)


@pytest.mark.parametrize("junk", BAD.values(), ids=BAD)
def test_what_cannot_be_read_is_said_and_kept(at, junk):
    answer = send(at, junk)
    assert answer.status_code == 422 and sentences(answer)
    assert boxes(answer)[at.box] == junk.replace("\x00", "")
    at.base.refresh_from_db()
    assert at.base.price_minor == 2895


@pytest.mark.parametrize("which", ["", "base-999", "zzz", "x" * 10_000])
def test_a_form_that_names_no_base_changes_nothing(at, which):
    answer = send(at, "30", which=which)
    assert answer.status_code == 422
    at.base.refresh_from_db()
    assert at.base.price_minor == 2895


def test_a_base_without_a_cost_says_so(at):
    builders.make_base("Wren")
    assert "No run of it has a frozen cost yet." in words(at.browser.get(URL))


def test_an_empty_shelf_says_so(cast, client_of, studio):
    assert "no base on the shelf" in words(client_of(cast.owner).get(URL))


def test_helpers_and_viewers_see_no_prices(at, cast, client_of):
    for person in (cast.helper, cast.viewer):
        browser = client_of(person)
        assert browser.get(URL).status_code == browser.post(URL).status_code == 403
        assert f'href="{URL}"' not in browser.get("/journal/").content.decode()


def test_queries_do_not_grow_with_the_bases(at, django_assert_max_num_queries):
    with django_assert_max_num_queries(15) as few:
        at.browser.get(URL)
    for _ in range(6):
        builders.make_base()
    with django_assert_max_num_queries(len(few)):
        at.browser.get(URL)
