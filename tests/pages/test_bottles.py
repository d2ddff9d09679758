"""Making up bottles: fresh, from a weaker powder, mixed, topped up, weaker, and liquor nobody knows."""

from decimal import Decimal

import pytest

from recipes import holding
from studio.models import Lot, Solution
from studio.naming import says_strength
from tests import builders
from tests.pages.shelf_forms import BAD_AMOUNTS, BAD_WORDS, boxes, problems, send


@pytest.fixture
def brick(cast):
    """A dye with one lot of powder at 100 % and a master at 1 %: `.dye`, `.powder`, `.master`, `.url`."""

    class Brick:
        dye = builders.make_dye("Brick")
        powder = builders.receive_powder(cast.owner, dye, 100, number="B-0417")
        master = builders.make_solution("Brick 1 %", [(dye, 1)])
        url = f"/shelf/masters/{master.pk}/make/"
        box = f"lot-{powder.pk}"

    return Brick


def newest():
    return Lot.objects.filter(solution__isnull=False).order_by("pk").last()


def test_the_grams_wanted_are_worked_out_for_the_volume(cast, client_of, brick):
    # 250 mL at 1 % w/v is 2.5 g: 1 g in 100 mL by the definition of % w/v.
    page = client_of(cast.helper).get(brick.url, {"volume": "250"}).content.decode()
    assert "2.5\u00a0g" in page and "hazard to the lungs" in page
    assert boxes(client_of(cast.helper).get(brick.url, {"volume": "1/4 L"}))["volume"] == "1/4 L"
    assert "2.5\u00a0g" in client_of(cast.helper).get(brick.url, {"volume": "1/4 L"}).content.decode()


def test_a_weaker_powder_is_weighed_more_of(cast, client_of, brick):
    builders.receive_powder(cast.owner, brick.dye, 50, strength_pct=Decimal(85))
    page = client_of(cast.maker).get(brick.url, {"volume": "900"}).content.decode()
    # 9 g at the standard strength are 10.588 g of an 85 % lot (DESIGN's worked example: 9.00, 85 -> 10.588...).
    assert "10.59\u00a0g" in page and "exactly 10.588" not in page
    builders.make_tool("Scale", "scale", "0.1")
    page = client_of(cast.maker).get(brick.url, {"volume": "900"}).content.decode()
    assert "10.6\u00a0g" in page and "exactly 10.59\u00a0g" in page


def test_what_was_weighed_gives_the_true_strength(cast, client_of, brick):
    browser = client_of(cast.helper)
    answer = send(browser, brick.url, volume="500", **{brick.box: "5.1"})
    bottle = newest()
    assert answer.url == f"/shelf/lots/{bottle.pk}/"
    assert bottle.strength() == Decimal("1.02") and builders.on_hand(brick.powder) == Decimal("94.9")
    page = browser.get(answer.url).content.decode()
    assert "true strength is 1.02\u00a0%" in page and "2 % stronger than meant" in page and "B-0417" in page


def test_a_bottle_of_weak_powder_says_how_it_colours(cast, client_of, brick):
    weak = builders.receive_powder(cast.owner, brick.dye, 50, strength_pct=Decimal(50))
    browser = client_of(cast.maker)
    page = browser.get(send(browser, brick.url, volume="100", **{f"lot-{weak.pk}": "2"}).url).content.decode()
    assert "true strength is 2\u00a0%" in page and "colours like 1\u00a0%" in page and "than meant" not in page


def test_two_lots_of_powder_go_into_one_bottle(cast, client_of, brick):
    other = builders.receive_powder(cast.owner, brick.dye, 10)
    send(client_of(cast.maker), brick.url, volume="500", **{brick.box: "3", f"lot-{other.pk}": "2"})
    assert {content.source_id for content in newest().contents.all()} == {brick.powder.pk, other.pk}
    assert newest().strength() == 1


def test_more_than_the_shelf_says_is_taken_and_said(cast, client_of, brick):
    browser = client_of(cast.maker)
    page = browser.get(send(browser, brick.url, volume="20 L", **{brick.box: "150"}).url).content.decode()
    assert "went in than the shelf said" in page and builders.on_hand(brick.powder) == -50


def test_a_weaker_bottle_is_poured_from_a_stronger(cast, client_of, brick):
    strong = builders.bottle(cast.owner, [(brick.powder, Decimal(5))], volume=500, solution=brick.master)
    browser = client_of(cast.helper)
    answer = browser.post(f"/shelf/lots/{strong.pk}/weaker/", {"strength": "0.1", "volume": "100"})
    master = Solution.objects.get(name="Brick 0.1 %")
    assert answer.url == f"/shelf/masters/{master.pk}/make/?volume=100"
    page = browser.get(answer.url)
    # 10 mL of stock and 90 mL of water: DESIGN's worked example of dilution_ml(1, 0.1, 100).
    assert "10\u00a0mL" in page.content.decode()
    send(browser, answer.url, **{f"lot-{strong.pk}": "10"})
    assert newest().strength() == Decimal("0.1") and builders.on_hand(strong) == 490
    assert newest().contents.get().source_id == brick.powder.pk


def test_a_stronger_bottle_cannot_be_made_by_water(cast, client_of, brick):
    weak = builders.bottle(cast.owner, [(brick.powder, Decimal(1))], volume=1000, solution=brick.master)
    answer = client_of(cast.helper).post(f"/shelf/lots/{weak.pk}/weaker/", {"strength": "5", "volume": "100"})
    assert answer.status_code == 422 and "can't make a stock stronger" in problems(answer)


def test_topping_up_pours_the_rest_in_first(cast, client_of, brick):
    old = builders.bottle(cast.owner, [(brick.powder, Decimal(5))], volume=500, solution=brick.master)
    builders.count(cast.owner, old, 100)
    browser = client_of(cast.helper)
    url = f"{brick.url}?rest={old.pk}"
    page = browser.get(url)
    assert boxes(page)["volume"] == "500" and "4\u00a0g" in page.content.decode()
    send(browser, url, rest="100", **{brick.box: "4"})
    assert newest().continues_id == old.pk and builders.on_hand(old) == 0
    assert newest().strength() == 1


def test_a_rest_that_is_gone_meanwhile_is_said_and_loses_nothing(cast, client_of, brick):
    old = builders.bottle(cast.owner, [(brick.powder, Decimal(5))], volume=500, solution=brick.master)
    browser = client_of(cast.helper)
    url = f"{brick.url}?rest={old.pk}"
    filled = boxes(browser.get(url)) | {brick.box: "5", "note": "boiled"}
    builders.count(cast.owner, old, 0)
    answer = browser.post(url, filled)
    assert answer.status_code == 422 and "empty by the books, or gone" in problems(answer)
    assert boxes(answer)["note"] == "boiled" and newest() == old
    send(browser, brick.url, **{brick.box: "5"})
    assert newest().continues_id is None
    assert f'action="{brick.url}"' in answer.content.decode() or 'action="?"' in answer.content.decode()


def test_a_mix_of_two_bottles_is_traced_to_both_powders(cast, client_of, brick):
    ochre = builders.make_dye("Ochre")
    yellow = builders.receive_powder(cast.owner, ochre, 100)
    reds = builders.bottle(cast.owner, [(brick.powder, Decimal(1))], volume=100, solution=brick.master)
    yellows = builders.bottle(cast.owner, [(yellow, Decimal(1))], volume=100)
    mix = builders.make_solution("Autumn", [(brick.dye, "0.5"), (ochre, "0.25")], kind="painting")
    poured = {f"lot-{reds.pk}": "50", f"lot-{yellows.pk}": "25"}
    send(client_of(cast.maker), f"/shelf/masters/{mix.pk}/make/", volume="100", **poured)
    held = {content.source_id: content.g_per_100 for content in newest().contents.all()}
    assert held == {brick.powder.pk: Decimal("0.5"), yellow.pk: Decimal("0.25")}


def test_kept_liquor_is_kept_without_contents(cast, client_of):
    liquor = builders.make_solution("Kept liquor", kind="liquor")
    browser = client_of(cast.helper)
    answer = send(browser, f"/shelf/masters/{liquor.pk}/make/", volume="5 L")
    assert newest().strength() is None and holding.held(newest()) is None
    assert "not known" in browser.get(answer.url).content.decode()


def test_a_dry_mix_is_made_by_weight(cast, client_of, brick):
    mix = builders.make_solution("Sprinkle", [(brick.dye, 50)], kind="dry")
    send(client_of(cast.maker), f"/shelf/masters/{mix.pk}/make/", volume="20 g", **{brick.box: "10"})
    assert (newest().unit, newest().received, newest().contents.get().g_per_100) == ("g", 20, 50)


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({}, "Nothing went in yet"),
        ({"grams": "60", "volume": "50"}, "more powder than a solution can hold"),
        ({"grams": "5 mL"}, "write it in g"),
        ({"grams": "1,000"}, "could be 1 or 1000"),
        ({"grams": "-1"}, "below zero"),
        ({"grams": "5", "volume": ""}, "Fill in"),
        ({"grams": "5", "volume": "0"}, "is nothing"),
    ],
)
def test_a_slip_is_said_and_nothing_is_lost(cast, client_of, brick, typed, sentence):
    typed = dict(typed)
    boxes_typed = {brick.box: typed.pop("grams", "")} | {"volume": "500", "note": "boiled"} | typed
    answer = send(client_of(cast.maker), brick.url, **boxes_typed)
    assert answer.status_code == 422 and sentence in problems(answer)
    assert "boiled" in answer.content.decode() and newest() is None


@pytest.mark.parametrize("box", ["volume", "grams", "made_at", "use_by", "tare", "number", "once"])
def test_nothing_typed_breaks_the_page(cast, client_of, brick, box):
    browser = client_of(cast.maker)
    for value in BAD_AMOUNTS + BAD_WORDS:
        typed = {brick.box: "5"} | {(brick.box if box == "grams" else box): value}
        assert send(browser, brick.url, **typed).status_code in (302, 422), value


@pytest.mark.parametrize(
    "query", ["volume=", "volume=1,000", "volume=☃", "rest=999", "rest=x", "volume=-5", "volume=1e9"]
)
def test_nothing_asked_breaks_the_page(cast, client_of, brick, query):
    assert client_of(cast.maker).get(f"{brick.url}?{query}").status_code == 200


def test_another_lots_box_is_not_taken(cast, client_of, brick):
    strange = builders.receive_powder(cast.owner, builders.make_dye("Soot"))
    send(client_of(cast.maker), brick.url, **{brick.box: "5", f"lot-{strange.pk}": "5"})
    assert newest().contents.get().source_id == brick.powder.pk and builders.on_hand(strange) == 100


def test_a_page_sent_twice_makes_one_bottle(cast, client_of, brick):
    browser = client_of(cast.helper)
    filled = boxes(browser.get(brick.url)) | {brick.box: "5"}
    assert browser.post(brick.url, filled).url == browser.post(brick.url, filled).url
    assert Lot.objects.filter(solution__isnull=False).count() == 1 and builders.on_hand(brick.powder) == 95


def test_a_new_kind_of_bottle_is_described_with_its_parts(cast, client_of, brick):
    answer = send(
        client_of(cast.helper),
        "/shelf/masters/new/",
        name="Brick 0.5 %",
        **{"form-0-what": f"dye-{brick.dye.pk}", "form-0-strength": "0,5"},
    )
    master = Solution.objects.get(name="Brick 0.5 %")
    assert answer.url == f"/shelf/masters/{master.pk}/" and master.parts.get().g_per_100 == Decimal("0.5")


@pytest.fixture
def ochre(cast):
    return builders.receive_powder(cast.owner, builders.make_dye("Ochre")).dye


def by_parts(brick, ochre, **more):
    rows = {"form-0-what": f"dye-{ochre.pk}", "form-0-share": "3", "form-1-what": f"dye-{brick.dye.pk}"}
    return rows | {"form-1-share": "1", "total": "1", "name": "Autumn"} | more


def test_three_parts_to_one_and_one_percent_in_all(cast, client_of, brick, ochre):
    browser = client_of(cast.maker)
    send(browser, "/shelf/masters/new/", **by_parts(brick, ochre))
    master = Solution.objects.get(name="Autumn")
    assert {part.dye: part.g_per_100 * 4 for part in master.parts.all()} == {ochre: 3, brick.dye: 1}
    page = browser.get(f"/shelf/masters/{master.pk}/make/?volume=500").content.decode().replace("\xa0", " ")
    assert "3.75 g" in page and "1.25 g" in page


def test_parts_that_do_not_divide_sum_to_the_whole_beside_a_strength(cast, client_of, brick, ochre):
    third, acid = builders.make_dye("Soot"), builders.make_assistant("Citric", unit="g")
    rows = {"form-2-what": f"dye-{third.pk}", "form-2-share": "3", "form-0-share": "3", "form-1-share": "3"}
    rows |= {"form-3-what": f"assistant-{acid.pk}", "form-3-strength": "2", "form-TOTAL_FORMS": "4"}
    send(client_of(cast.maker), "/shelf/masters/new/", **by_parts(brick, ochre, **rows))
    parts = Solution.objects.get(name="Autumn").parts.all()
    assert sum(part.g_per_100 for part in parts if part.dye_id) == 1
    assert next(part.g_per_100 for part in parts if part.assistant_id) == 2


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"total": ""}, "how strong all parts are together"),
        ({"total": "0"}, "how strong all parts are together"),
        ({"form-0-share": "", "form-1-share": "", "form-0-strength": "1", "form-1-strength": "1"}, "No row has parts"),
        ({"form-0-strength": "1"}, "not both"),
        ({"form-0-share": "0"}, "No part of it is none"),
        ({"form-1-share": "x"}, "number"),
        ({"form-0-what": ""}, "Choose what is in it"),
        ({"total": "0.000001"}, "can't be told from nothing"),
        ({"total": "101"}, "too much"),
    ],
)
def test_parts_that_make_no_bottle_are_said_and_kept(cast, client_of, brick, ochre, typed, sentence):
    rows = by_parts(brick, ochre, **typed)
    answer = send(client_of(cast.maker), "/shelf/masters/new/", **rows)
    assert answer.status_code == 422 and sentence in answer.content.decode().replace("&#x27;", "'")
    assert {name: boxes(answer)[name] for name in rows} == rows
    assert not Solution.objects.filter(name="Autumn").exists()


@pytest.mark.parametrize(
    ("box", "value", "sentence"),
    [
        ("form-0-strength", "", "how strong"),
        ("form-0-strength", "0", "no strength"),
        ("form-0-what", "", "what is in it"),
        ("form-0-what", "dye-999", "no longer there"),
        ("form-0-strength", "120", "too much"),
    ],
)
def test_a_master_with_a_slip_is_refused(cast, client_of, brick, box, value, sentence):
    typed = {"name": "New", "form-0-what": f"dye-{brick.dye.pk}", "form-0-strength": "1"} | {box: value}
    assert sentence in problems(send(client_of(cast.maker), "/shelf/masters/new/", **typed))


def test_a_change_of_the_master_leaves_bottles_as_they_are(cast, client_of, brick):
    made = builders.bottle(cast.owner, [(brick.powder, Decimal(5))], volume=500, solution=brick.master)
    url = f"/shelf/masters/{brick.master.pk}/change/"
    assert send(client_of(cast.maker), url, **{"form-0-strength": "2"}).status_code == 302
    assert brick.master.parts.get().g_per_100 == 2 and Lot.objects.get(pk=made.pk).strength() == 1


@pytest.mark.parametrize("path", ["/shelf/bottles/new/", "/shelf/masters/{}/make/"])
def test_viewers_make_no_bottles(cast, client_of, brick, path):
    assert client_of(cast.viewer).get(path.format(brick.master.pk)).status_code == 403


def test_working_it_out_costs_no_more_queries_for_more_lots(cast, client_of, brick, django_assert_num_queries):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    browser = client_of(cast.maker)
    strong = builders.make_solution("Brick 5 %", [(brick.dye, 5)])
    builders.bottle(cast.owner, [(brick.powder, Decimal(5))], volume=100, solution=strong)
    with CaptureQueriesContext(connection) as few:
        browser.get(brick.url)
    for _ in range(4):
        builders.receive_powder(cast.owner, brick.dye)
        builders.bottle(cast.owner, [(brick.powder, Decimal(5))], volume=100, solution=strong)
    with django_assert_num_queries(len(few)):
        browser.get(brick.url)


@pytest.mark.parametrize("box", ["strength", "volume"])
def test_nothing_typed_breaks_the_weaker_page(cast, client_of, brick, box):
    strong = builders.bottle(cast.owner, [(brick.powder, Decimal(5))], volume=500, solution=brick.master)
    browser = client_of(cast.maker)
    for value in BAD_AMOUNTS + BAD_WORDS:
        typed = {"strength": "0.1", "volume": "100"} | {box: value}
        assert browser.post(f"/shelf/lots/{strong.pk}/weaker/", typed).status_code in (302, 422), value


def test_a_master_of_that_name_with_other_dyes_is_left_alone(cast, client_of, brick):
    other = builders.make_solution("Brick 0.1 %", [(builders.make_dye("Soot"), "0.1")])
    strong = builders.bottle(cast.owner, [(brick.powder, Decimal(5))], volume=500, solution=brick.master)
    answer = client_of(cast.maker).post(f"/shelf/lots/{strong.pk}/weaker/", {"strength": "0.1", "volume": "100"})
    assert f"/masters/{other.pk}/" not in answer.url
    assert Solution.objects.get(name="Brick 0.1 %, 2").parts.get().dye == brick.dye


def test_a_weaker_master_is_known_by_what_it_holds_and_not_by_its_name(cast, client_of, brick):
    misnamed = builders.make_solution("Brick 0.1 %", [(brick.dye, "0.3")])
    same = builders.make_solution("Evening wash", [(brick.dye, "0.1")])
    strong = builders.bottle(cast.owner, [(brick.powder, Decimal(5))], volume=500, solution=brick.master)
    browser, page = client_of(cast.maker), f"/shelf/lots/{strong.pk}/weaker/"
    assert f"/masters/{same.pk}/" in browser.post(page, {"strength": "0.1", "volume": "100"}).url
    assert f"/masters/{misnamed.pk}/" in browser.post(page, {"strength": "0.3", "volume": "100"}).url


def test_a_weaker_mix_keeps_the_shares_of_its_dyes_and_its_kind(cast, client_of, brick):
    soot = builders.receive_powder(cast.owner)
    master = builders.make_solution("Dusk", [(brick.dye, 2), (soot.dye, 1)], kind="painting", keeps_days=9)
    dusk = builders.bottle(cast.owner, [(brick.powder, 2), (soot, 1)], volume=100, solution=master)
    browser, said = client_of(cast.maker), {"strength": "1.5", "volume": "100"}
    first, second = (browser.post(f"/shelf/lots/{dusk.pk}/weaker/", said).url for _ in range(2))
    weaker = Solution.objects.get(name="Dusk 1.5 %")
    assert first == second == f"/shelf/masters/{weaker.pk}/make/?volume=100"
    assert {part.dye: part.g_per_100 for part in weaker.parts.all()} == {brick.dye: 1, soot.dye: Decimal("0.5")}
    assert (weaker.kind, weaker.keeps_days) == ("painting", 9)


def test_a_trace_that_cannot_be_kept_is_refused(cast, client_of, brick):
    faint = builders.bottle(cast.owner, [(brick.powder, Decimal("0.001"))], volume=100_000)
    answer = send(client_of(cast.maker), brick.url, volume="200 L", **{brick.box: "5", f"lot-{faint.pk}": "0.001"})
    assert answer.status_code == 422 and "can't be told from nothing" in problems(answer)


@pytest.mark.parametrize(
    ("name", "says"),
    [("Brick 1 %", True), ("Brick 1%", True), ("1 % Brick", True), ("Brick 21 %", False), ("Brick", False)],
)
def test_a_name_says_its_strength_however_it_is_spaced(name, says):
    assert says_strength(name, Decimal("0.998")) is says


def test_a_name_says_its_strength_with_a_comma_too():
    assert says_strength("Teal 0,5%", Decimal("0.5"))
