"""A delivery becomes lots whose costs sum exactly; and what was here before."""

from decimal import Decimal

import pytest

from studio.models import Delivery, Lot
from tests import builders
from tests.pages.shelf_forms import BAD_AMOUNTS, BAD_WORDS, boxes, problems, send

NEW = "/shelf/deliveries/new/"
OPENING = "/shelf/here-already/"


@pytest.fixture
def goods(cast):
    """A base, a powder and an acid by the keys of the form."""
    return {
        "base": f"base-{builders.make_base(skein_g=Decimal(100)).pk}",
        "dye": f"dye-{builders.make_dye().pk}",
        "acid": f"assistant-{builders.make_assistant(unit='mL').pk}",
    }


def lines(goods, **more):
    return {
        "form-0-what": goods["base"],
        "form-0-amount": "10",
        "form-0-amount_unit": "skeins",
        "form-0-price": "100.00",
        "form-1-what": goods["dye"],
        "form-1-amount": "50 g",
        "form-1-price": "10.00",
        "form-2-what": goods["acid"],
        "form-2-amount": "1 L",
        "form-2-price": "5.00",
        "supplier": "Fernside Mill",
    } | more


def test_each_line_becomes_a_lot_in_its_own_unit(cast, client_of, goods):
    answer = send(client_of(cast.maker), NEW, **lines(goods))
    assert answer.url == f"/shelf/deliveries/{Delivery.objects.get().pk}/"
    lots = {lot.substance._meta.model_name: lot for lot in Lot.objects.all()}
    assert {name: builders.on_hand(lot) for name, lot in lots.items()} == {"base": 1000, "dye": 50, "assistant": 1000}
    assert {name: lot.cost_minor for name, lot in lots.items()} == {"base": 10000, "dye": 1000, "assistant": 500}


def test_carriage_and_duty_are_shared_by_price_to_the_cent(cast, client_of, goods):
    send(client_of(cast.maker), NEW, **lines(goods, carriage="10.00", duty="0.01"))
    costs = list(Lot.objects.order_by("pk").values_list("cost_minor", flat=True))
    # 1001 over 10000 : 1000 : 500 is 870.43, 87.04, 43.52 (largest remainder; IAS 2, paragraphs 10 and 11).
    assert costs == [10870, 1087, 544] and sum(costs) == 11500 + 1001


def test_a_price_may_be_unknown(cast, client_of, goods):
    send(client_of(cast.maker), NEW, **lines(goods, **{"form-1-price": ""}))
    assert Lot.objects.get(dye__isnull=False).cost_minor is None


def test_carriage_cannot_be_shared_over_an_unknown_price(cast, client_of, goods):
    answer = send(client_of(cast.maker), NEW, **lines(goods, carriage="10", **{"form-1-price": ""}))
    assert answer.status_code == 422 and "every line needs one" in problems(answer)
    assert "#id_form-1-price" in answer.content.decode() and not Lot.objects.exists()


def test_carriage_on_gifts_is_said_beside_it(cast, client_of, goods):
    free = {f"form-{row}-price": "0" for row in range(3)}
    assert "worth nothing" in problems(send(client_of(cast.maker), NEW, **lines(goods, carriage="10", **free)))


def test_a_powder_keeps_its_strength_and_others_have_none(cast, client_of, goods):
    send(client_of(cast.maker), NEW, **lines(goods, **{"form-1-strength": "85"}))
    assert Lot.objects.get(dye__isnull=False).strength_pct == 85
    answer = send(client_of(cast.maker), NEW, **lines(goods, **{"form-0-strength": "85"}))
    assert "Only a dye powder has a strength" in problems(answer)


@pytest.mark.parametrize(("strength", "sentence"), [("0", "has some strength"), ("500", "400")])
def test_no_strength_and_one_beyond_belief_are_refused_and_nothing_typed_is_lost(
    cast, client_of, goods, strength, sentence
):
    answer = send(client_of(cast.maker), NEW, **lines(goods, **{"form-1-strength": strength}))
    assert answer.status_code == 422 and sentence in problems(answer)
    typed = boxes(answer)
    assert (typed["form-1-strength"], typed["form-1-amount"], typed["supplier"]) == (strength, "50 g", "Fernside Mill")
    assert not Lot.objects.exists()


def test_a_cone_is_received_by_weight(cast, client_of, goods):
    send(client_of(cast.maker), NEW, **lines(goods, **{"form-0-amount": "1.85 kg"}))
    assert Lot.objects.get(base__isnull=False).received == 1850


@pytest.mark.parametrize(
    ("box", "value", "sentence"),
    [
        ("form-1-amount", "5 skeins", "Only yarn comes in skeins"),
        ("form-1-amount", "5 mL", "kept by weight"),
        ("form-2-amount", "5 g", "this is a volume"),
        ("form-0-amount", "1,000", "could be 1 or 1000"),
        ("form-0-amount", "0", "0 is nothing"),
        ("form-0-amount", "", "how much came"),
        ("form-0-what", "", "Choose what came"),
        ("form-0-price", "-1", "below zero"),
        ("came_at", "2999-01-01T10:00", "can't be right"),
        ("form-0-use_by", "tomorrow", "such as 2026-10-09"),
    ],
)
def test_a_slip_is_said_and_nothing_is_lost(cast, client_of, goods, box, value, sentence):
    answer = send(client_of(cast.maker), NEW, **lines(goods, **{box: value}))
    assert answer.status_code == 422 and sentence in problems(answer)
    assert "Fernside Mill" in answer.content.decode() and not Lot.objects.exists()


def test_an_empty_delivery_is_refused(cast, client_of):
    assert "at least one line" in problems(send(client_of(cast.maker), NEW))


@pytest.mark.parametrize(
    "box", ["form-0-amount", "form-0-price", "form-0-what", "form-1-strength", "carriage", "came_at"]
)
def test_nothing_typed_breaks_the_page(cast, client_of, goods, box):
    browser = client_of(cast.maker)
    for value in BAD_AMOUNTS + BAD_WORDS:
        assert send(browser, NEW, **lines(goods, **{box: value})).status_code in (302, 422), value


@pytest.mark.parametrize("what", ["base-999", "person-1", "dye-", "base-1; drop"])
def test_what_is_not_on_the_list_is_refused(cast, client_of, goods, what):
    answer = send(client_of(cast.maker), NEW, **lines(goods, **{"form-0-what": what}))
    assert answer.status_code == 422 and not Lot.objects.exists()


def test_a_page_sent_twice_brings_one_delivery(cast, client_of, goods):
    browser = client_of(cast.maker)
    filled = boxes(browser.get(NEW)) | lines(goods)
    assert browser.post(NEW, filled).url == browser.post(NEW, filled).url
    assert (Delivery.objects.count(), Lot.objects.count()) == (1, 3)


def test_what_is_here_already_is_a_lot_without_a_delivery(cast, client_of, goods):
    browser = client_of(cast.maker)
    answer = send(browser, OPENING, what=goods["dye"], amount="42", amount_unit="g", number="B-0417")
    lot = Lot.objects.get()
    assert answer.url == f"/shelf/lots/{lot.pk}/" and lot.delivery is None and builders.on_hand(lot) == 42


@pytest.mark.parametrize("box", ["amount", "price", "tare", "came_at"])
def test_nothing_typed_breaks_the_opening(cast, client_of, goods, box):
    browser = client_of(cast.maker)
    for value in BAD_AMOUNTS:
        typed = {"what": goods["dye"], "amount": "42", "amount_unit": "g"} | {box: value}
        assert send(browser, OPENING, **typed).status_code in (302, 422), value


@pytest.mark.parametrize("role", ["helper", "viewer"])
@pytest.mark.parametrize("url", [NEW, OPENING])
def test_only_makers_receive(cast, client_of, role, url):
    browser = client_of(getattr(cast, role))
    assert browser.get(url).status_code == 403 and browser.post(url, {}).status_code == 403


def test_a_delivery_page_is_for_those_who_see_costs(cast, client_of, goods):
    url = send(client_of(cast.maker), NEW, **lines(goods)).url
    assert "€100.00" in client_of(cast.owner).get(url).content.decode()
    assert client_of(cast.helper).get(url).status_code == 403


def test_a_wrong_unit_is_told_that_skeins_go_too(cast, client_of, goods):
    answer = send(client_of(cast.maker), NEW, **lines(goods, **{"form-0-amount": "3 bananas"}))
    assert "is not a unit to use here: write skeins, g," in answer.content.decode()


def test_what_is_here_already_needs_a_name_and_an_amount(cast, client_of, goods):
    maker = client_of(cast.maker)
    page = maker.get(OPENING).content.decode()
    assert "What is here</label>" in page and "How much</label>" in page  # neither is called optional
    answer = send(maker, OPENING)
    assert answer.status_code == 422 and "empty this line" not in answer.content.decode()
    assert "Choose one under “What is here”." in answer.content.decode()  # as its label says
