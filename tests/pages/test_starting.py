"""Beginning a run: with nothing but pots, and from a recipe."""

from datetime import timedelta
from decimal import Decimal
from types import SimpleNamespace
from urllib.parse import urlencode

import pytest
from django.utils import timezone
from lxml import html

from batches.models import BatchYarn, Run, promised_by_lot
from recipes.models import Basis, How, Ingredient, RecipeStep
from tests import builders
from tests.pages.run_forms import BAD, boxes, fields_of, sentences, words

BARE = "/runs/new/bare/"


# With nothing but pots


def test_eight_jars_in_three_touches(cast, maker):
    jars = builders.make_vessel("Jam jar", kind="jar", how_many=8, skeins=1, volume_ml=1000, fill_ml=700)
    page = maker.get("/runs/new/")
    assert "8 × Jam jar, 1 skein each" in words(page)
    answer = maker.post(BARE, fields_of(page, "vessel"))
    run = Run.objects.get()
    assert (run.state, run.batches.count(), run.method) == ("running", 8, "jar")
    assert {batch.vessel for batch in run.batches.all()} == {jars}
    assert {(yarn.source, yarn.skeins) for yarn in BatchYarn.objects.all()} == {("unlabelled", 1)}
    assert answer.url == f"/sink/{run.batches.order_by('number').first().pk}/"


def test_a_studio_without_pots_begins_a_run_too(maker):
    page = maker.get("/runs/new/").content.decode()
    assert 'class="button main" href="/runs/new/bare/"' in page


def test_yarn_that_is_said_leaves_the_shelf(cast, maker):
    lot = builders.receive_yarn(cast.maker, skeins=10)
    fields = fields_of(maker.get(BARE), "title")
    maker.post(BARE, fields | {"pots": "2", "skeins": "3", "lot": lot.pk, "title": "Low tide"})
    assert builders.on_hand(lot) == 400
    assert [batch.fibre_g for batch in Run.objects.get().batches.all()] == [300, 300]


def test_the_same_page_sent_twice_starts_one_run(maker):
    fields = fields_of(maker.get(BARE), "title")
    first, second = maker.post(BARE, fields), maker.post(BARE, fields)
    assert first.url == second.url and Run.objects.count() == 1


@pytest.mark.parametrize("junk", BAD.values(), ids=BAD)
@pytest.mark.parametrize("box", ["pots", "skeins"])
def test_what_cannot_be_read_is_said_and_kept(maker, box, junk):
    answer = maker.post(BARE, fields_of(maker.get(BARE), "title") | {box: junk})
    assert answer.status_code == 422 and sentences(answer)
    assert boxes(answer)[box].strip() == junk.replace("\x00", "")
    assert not Run.objects.exists()


@pytest.mark.parametrize(
    ("box", "value"), [("vessel", "999"), ("lot", "999"), ("lot", "zzz"), ("pots", ""), ("pots", "0"), ("pots", "61")]
)
def test_what_is_not_there_is_refused(maker, box, value):
    answer = maker.post(BARE, fields_of(maker.get(BARE), "title") | {box: value})
    assert answer.status_code == 422 and sentences(answer)


@pytest.mark.parametrize("address", ["/runs/new/", BARE])
def test_only_makers_begin_a_run(cast, client_of, address):
    for person in (cast.helper, cast.viewer):
        assert client_of(person).get(address).status_code == 403
    assert client_of(cast.helper).post(BARE, {"pots": "1"}).status_code == 403


# From a recipe


@pytest.fixture
def kit(cast):
    """1 % of rust, 12 skeins of a base, a bottle of 500 mL at 1 %, and two pots of 12 L."""
    rust = builders.make_dye("Rust")
    recipe = builders.recipe(cast.maker, builders.colourway(cast.maker, "Low tide"), [(rust, 1, Basis.OWF)])
    jar = builders.receive_powder(cast.maker, rust)
    solution = builders.make_solution("Rust, 1 %", [(rust, 1)])
    bottle = builders.bottle(cast.maker, [(jar, Decimal(5))], volume=500, solution=solution)
    yarn = builders.receive_yarn(cast.maker, builders.make_base("Sparrow"), skeins=12)
    pot = builders.make_vessel("Tall pot", how_many=2)
    return SimpleNamespace(
        recipe=recipe, bottle=bottle, jar=jar, yarn=yarn, pot=pot, url=f"/runs/new/plan/{recipe.pk}/"
    )


def plan(browser, kit, do="work", **said):
    fields = fields_of(browser.get(kit.url), "pots")
    facts = {"yarn-0-lot": kit.yarn.pk, "yarn-0-skeins": "4", "pots": "2", "vessel": kit.pot.pk, "do": do}
    return browser.post(kit.url, fields | facts | {name.replace("__", "-"): value for name, value in said.items()})


def test_every_amount_is_worked_out_before_anything_is_kept(maker, kit):
    page = plan(maker, kit)
    assert page.status_code == 200
    shown = words(page).replace("\xa0", " ")
    assert "4 g of dye for 400 g of dry fibre in 2 pots" in shown
    assert "Pots 1 and 2, each" in shown and "Tall pot: 2 skeins, 200 g" in shown
    assert not Run.objects.exists()


def cards(answer):
    """{name of a card: [(amount, what, more)]} of the plan's pots."""
    page = html.fromstring(answer.content.decode())

    def text(row, wanted):
        return " ".join(" ".join(one.text_content().split()) for one in row.xpath(wanted)).replace("\xa0", " ")

    return {
        card.xpath("h3")[0].text_content(): [
            (
                text(row, './/b[contains(@class, "much")]'),
                text(row, './/*[@class="what"]'),
                text(row, './/*[@class="sub"]'),
            )
            for row in card.xpath(".//li")
        ]
        for card in page.xpath('//section[@class="potcard"]')
    }


def test_pots_that_get_the_same_are_one_card(maker, kit):
    assert list(cards(plan(maker, kit, yarn__0__skeins="6", pots="3"))) == ["Pots 1 to 3, each"]
    found = cards(plan(maker, kit, yarn__0__skeins="5", pots="3"))
    assert list(found) == ["Pots 1 and 2, each", "Pot 3"]
    assert [rows[-1][:2] for rows in found.values()] == [("2 g", "Rust"), ("1 g", "Rust")]


def poured(kit, *first):
    """The plan's page of a version that takes its dye out of the bottle."""
    rust = kit.bottle.solution.parts.get().dye
    version = kit.recipe.colourway.next_version(by=kit.recipe.by, now=timezone.now(), fibre_g=Decimal(100))
    line = builders.ingredient(rust, 1, strength_pct=Decimal(1), how=How.BOTTLE)
    version.write([(RecipeStep(), [*first, line])])
    kit.url = f"/runs/new/plan/{version.pk}/"


def test_what_is_said_of_the_water_stands_in_the_pot_it_is_of(maker, kit):
    poured(kit, Ingredient(water=True, amount=Decimal(20), unit=":1", basis=Basis.RATIO, how=How.ADDED))
    found = cards(plan(maker, kit, yarn__0__skeins="5", pots="3"))
    assert "The bottles bring 200 mL more: 4 L of bath in all" in found["Pots 1 and 2, each"][0][2]
    assert "The bottles bring 100 mL more: 2 L of bath in all" in found["Pot 3"][0][2]


def test_the_exact_amount_is_one_touch_away(maker, kit):
    poured(kit)
    builders.make_tool("Cylinder", kind="cylinder", step="50")
    assert "exactly" not in words(plan(maker, kit))  # 200 mL is 200 mL
    odd = builders.receive_yarn(kit.recipe.by, builders.make_base("Odd", skein_g=Decimal(115)), skeins=4)
    shown = html.fromstring(plan(maker, kit, yarn__0__lot=odd.pk, yarn__0__skeins="1", pots="1").content.decode())
    assert [one.text for one in shown.xpath('//span[@class="sub exact"]')] == ["exactly 115\xa0mL"]
    assert shown.xpath('//input[@id="exact"]/@name') == []  # it is never sent


def test_what_all_pots_take_together_stands_beside_what_is_free(maker, kit):
    poured(kit)
    shown = html.fromstring(plan(maker, kit, yarn__0__skeins="12").content.decode())
    row = shown.xpath('//section[@aria-labelledby="from"]//tbody/tr')[0]
    cells = [" ".join(cell.text_content().split()).replace("\xa0", " ") for cell in row]
    assert cells == ["Rust, 1 %", "1.2 L", "500 mL 700 mL short"]


def test_a_bottle_that_is_short_leads_to_where_it_is_made(maker, kit):
    poured(kit)
    shown = html.fromstring(plan(maker, kit, yarn__0__skeins="12").content.decode())
    assert "700" in shown.xpath('//section[@aria-labelledby="short"]//li')[0].text_content()
    listed = " ".join(shown.xpath('//section[@aria-labelledby="mixing"]//li')[0].text_content().split())
    assert "15 g of Rust, powder" in listed
    (link,) = shown.xpath('//section[@aria-labelledby="mixing"]//a[contains(@class, "button")]/@href')
    assert link.startswith(f"/shelf/masters/{kit.bottle.solution_id}/make/?volume=1500&")


def test_a_kept_plan_promises_yarn_and_dye(maker, kit):
    answer = plan(maker, kit, "plan")
    run = Run.objects.get()
    assert (run.state, run.recipe, answer.url) == ("planned", kit.recipe, f"/runs/{run.code}/")
    promised = promised_by_lot()
    assert promised[kit.yarn.pk] == 400
    assert builders.on_hand(kit.yarn) == 1200
    assert len(promised) == 2


def test_starting_freezes_the_plan_and_takes_the_yarn(maker, kit):
    answer = plan(maker, kit, "start")
    run = Run.objects.get()
    assert run.state == "running" and answer.url.startswith("/sink/")
    assert builders.on_hand(kit.yarn) == 800
    assert all(batch.plan.exists() for batch in run.batches.all())


def test_starting_leads_to_the_labels_for_its_ties_where_asked(maker, kit):
    answer = plan(maker, kit, "ties")
    run = Run.objects.get()
    assert (answer.url, run.state) == (f"/runs/{run.code}/ties/", "running")
    labels = boxes(maker.get(answer.url))
    assert [labels[f"pot-{pot.pk}"] for pot in run.batches.all()] == ["2", "2"], "one for each skein"


def test_what_is_short_is_said_before_starting(maker, kit):
    page = words(plan(maker, kit, yarn__0__skeins="14"))
    assert "14 skeins wanted, 12 free" in page
    assert not Run.objects.exists()


def test_what_another_plan_promised_is_not_free(maker, kit):
    plan(maker, kit, "plan", yarn__0__skeins="10")
    assert "4 skeins wanted, 2 free" in words(plan(maker, kit))


def test_two_lots_in_one_pot_are_said(cast, maker, kit):
    other = builders.receive_yarn(cast.maker, kit.yarn.base, skeins=4)
    rows = {"yarn__TOTAL_FORMS": "2", "yarn__0__skeins": "3", "yarn__1__lot": other.pk, "yarn__1__skeins": "1"}
    said = words(plan(maker, kit, **rows))
    assert f"Pot 2 would hold more than one lot of {kit.yarn.base}." in said


def test_the_same_plan_sent_twice_is_one_run(maker, kit):
    fields = fields_of(maker.get(kit.url), "pots") | {"yarn-0-lot": kit.yarn.pk, "yarn-0-skeins": "2", "do": "plan"}
    first, second = maker.post(kit.url, fields), maker.post(kit.url, fields)
    assert first.status_code == second.status_code == 302
    assert first.url == second.url and Run.objects.count() == 1


def test_a_later_price_or_bottle_leaves_a_kept_plan_alone(cast, maker, kit):
    plan(maker, kit, "plan")
    before = [(line.lot_id, line.told) for line in Run.objects.get().batches.first().plan.all()]
    builders.bottle(cast.maker, [(kit.jar, Decimal(10))], volume=500, solution=kit.bottle.solution)
    assert [(line.lot_id, line.told) for line in Run.objects.get().batches.first().plan.all()] == before


def test_a_step_without_words_says_its_heat_and_its_time(maker, kit):
    """As a version has them that was taken from a log."""
    kit.recipe.write(
        [
            (RecipeStep(kind="heat", temperature_c=85, minutes=25), []),
            (RecipeStep(kind="hold", minutes=40), []),
            (RecipeStep(kind="cool"), []),
            (RecipeStep(kind="rinse", words="Rinse at 40 °C", temperature_c=40), []),
            (RecipeStep(), [builders.ingredient(kit.jar.dye, 1)]),
        ]
    )
    (steps,) = cards(plan(maker, kit)).values()
    said = [(what, more) for _, what, more in steps[:4]]
    assert said == [("Heat", "85 °C, 25 min"), ("Hold", "40 min"), ("Cool", ""), ("Rinse at 40 °C", "")]


def test_what_is_only_by_estimate_makes_the_sum_and_the_depth_of_its_dye_one(maker, kit):
    kit.recipe.write([(RecipeStep(), [builders.ingredient(kit.jar.dye, 1, estimated=True)])])
    shown = words(plan(maker, kit)).replace("\xa0", " ")
    assert "about 4 g of dye for 400 g of dry fibre" in shown
    assert "Rust about 4 g" in shown and "Tall pot: 2 skeins, 200 g in 8 L, 40:1, about 1 % owf" in shown


def test_which_yarn_goes_into_which_pot_is_said_where_there_are_several(maker, kit):
    assert "In which pot" not in words(plan(maker, kit))
    other = builders.receive_yarn(kit.yarn.by, builders.make_base("Wren"), skeins=2)
    more = {"yarn__TOTAL_FORMS": "2", "yarn__1__lot": other.pk, "yarn__1__skeins": "2"}
    shown = words(plan(maker, kit, **more)).replace("\xa0", " ")
    assert "In which pot6 skeins Pot 1Tall pot: 3 skeinsSparrowPot 2Tall pot: 3 skeins1 Sparrow, 2 Wren" in shown


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({"yarn__0__lot": "", "yarn__0__skeins": ""}, "Choose the yarn to dye"),
        ({"yarn__0__skeins": ""}, "Say how many skeins"),
        ({"yarn__0__lot": ""}, "Choose which yarn these skeins are"),
        ({"pots": "5"}, "4 skeins do not fill 5 pots"),
        ({"day": "1999-01-01"}, "more than two years away"),
        ({"day": "yesterday"}, "year, month and day"),
        ({"vessel": "999"}, "no longer there"),
        ({"yarn__0__lot": "999"}, "no longer there"),
    ],
)
def test_what_does_not_fit_is_refused_with_a_sentence(maker, kit, said, sentence):
    answer = plan(maker, kit, "start", **said)
    assert answer.status_code == 422
    assert any(sentence in found for found in sentences(answer)), sentences(answer)
    assert not Run.objects.exists()


@pytest.mark.parametrize("junk", BAD.values(), ids=BAD)
@pytest.mark.parametrize("box", ["pots", "yarn-0-skeins"])
def test_what_cannot_be_read_is_said_and_kept_on_the_plan(maker, kit, box, junk):
    answer = plan(maker, kit, "plan", **{box.replace("-", "__"): junk})
    assert answer.status_code == 422 and sentences(answer)
    assert boxes(answer)[box].strip() == junk.replace("\x00", "")


@pytest.mark.parametrize("value", ["999999", "zzz", "", "-1", "9" * 40])
def test_a_chosen_lot_that_means_nothing_is_left_out(maker, kit, value):
    ingredient = kit.recipe.steps.get().ingredients.get()
    assert plan(maker, kit, **{f"choose-{ingredient.pk}": value}).status_code == 200


def test_a_bottle_of_weak_powder_says_how_it_colours(maker, kit):
    """1.25 g of an 80 % lot in 100 mL colours like 1 g: amount x 100 / strength, an identity."""
    dye = builders.make_dye("Plum")
    weak = builders.receive_powder(kit.yarn.by, dye, strength_pct=Decimal(80))
    master = builders.make_solution("Plum 1 %", [(dye, 1)])
    builders.bottle(kit.yarn.by, [(weak, Decimal("6.25"))], volume=500, solution=master)
    line = builders.ingredient(dye, 1, strength_pct=Decimal(1), how=How.BOTTLE)
    kit.recipe.write([(RecipeStep(), [line])])
    page = plan(maker, kit)
    ((amount, _, more),) = cards(page)["Pots 1 and 2, each"]
    assert amount == "200 mL" and more.startswith("Plum 1 %, 1.25 %, colours like 1 %: 1 % owf")
    assert "Plum 1 %, 1.25 %, colours like 1 % 400 mL" in words(page).replace("\xa0", " ")


@pytest.fixture
def two(kit):
    """2 % of rust from a bottle of 1 %, of which there are 500 mL and 400 mL: four skeins take 800 mL."""
    kit.recipe.write([(RecipeStep(), [builders.ingredient(kit.jar.dye, 2, strength_pct=Decimal(1), how=How.BOTTLE)])])
    jar = builders.receive_powder(kit.jar.by, kit.jar.dye, number="R-9")
    more = {"solution": kit.bottle.solution, "at": builders.hours(24)}
    kit.other = builders.bottle(kit.jar.by, [(jar, Decimal(4))], volume=400, **more)
    kit.key = kit.recipe.steps.get().ingredients.get().pk
    return kit


def test_what_one_bottle_lacks_can_be_taken_from_another_and_is_kept_so(maker, two):
    page = plan(maker, two)
    button = f'<button class="button" name="rest-{two.key}" value="{two.other.pk}" formaction="#worked" data-once>'
    assert button in page.content.decode()
    shown = words(page).replace("\xa0", " ")
    assert "Rust, 1 % is 300 mL short" in shown and "Take the rest from Rust, 1 %, 400 mL free, made 15 Mar" in shown
    page = plan(maker, two, **{f"rest-{two.key}": two.other.pk})
    assert boxes(page)[f"rest-{two.key}"] == str(two.other.pk) and "Take the rest" not in words(page)
    shown = words(page).replace("\xa0", " ")
    assert "short" not in shown and "Rust, 1 %: the bottle of 14 Mar" in shown
    assert "the rest of it, from the bottle of 15 Mar" in shown
    plan(maker, two, "plan", **{f"rest-{two.key}": two.other.pk})
    assert promised_by_lot() == {two.bottle.pk: 500, two.other.pk: 300, two.yarn.pk: 400}


def test_the_other_bottle_stays_chosen_where_something_else_could_not_be_read(maker, two):
    answer = plan(maker, two, **{f"rest-{two.key}": two.other.pk, "pots": "zzz"})
    assert answer.status_code == 422 and boxes(answer)[f"rest-{two.key}"] == str(two.other.pk)


@pytest.mark.parametrize("value", ["999999", "zzz", "-1", "9" * 40, "①"])
def test_another_bottle_that_means_nothing_is_left_out(maker, two, value):
    page = plan(maker, two, **{f"rest-{two.key}": value})
    assert page.status_code == 200 and "300 mL short" in words(page).replace("\xa0", " ")


@pytest.mark.parametrize("key", ["9" * 40, "9" * 5000, "zzz", "①", "²"])
def test_a_choice_for_no_ingredient_is_left_out(maker, kit, key):
    fields = fields_of(maker.get(kit.url), "pots") | {"yarn-0-lot": kit.yarn.pk, "yarn-0-skeins": "4", "do": "work"}
    sent = urlencode(fields | {f"choose-{key}": kit.jar.pk})
    assert maker.post(kit.url, sent, content_type="application/x-www-form-urlencoded").status_code == 200


@pytest.mark.parametrize("rows", ["0", "-1", "-99999999999999999999", "zzz"])
def test_a_page_without_a_row_of_yarn_asks_for_it(maker, kit, rows):
    answer = maker.post(kit.url, fields_of(maker.get(kit.url), "pots") | {"yarn-TOTAL_FORMS": rows, "do": "work"})
    assert answer.status_code == 422 and "Choose the yarn to dye." in sentences(answer)
    assert "yarn-0-lot" in boxes(answer)


def test_a_plan_for_another_day_keeps_the_day(maker, kit):
    day = timezone.localdate() + timedelta(days=3)
    plan(maker, kit, "plan", day=day.isoformat())
    assert Run.objects.get().day == day


def test_more_rows_of_yarn_keep_what_was_typed(maker, kit):
    page = plan(maker, kit, more="yarn", yarn__0__skeins="many")
    assert page.status_code == 200 and not sentences(page)
    assert boxes(page)["yarn-0-skeins"] == "many" and "yarn-1-skeins" in boxes(page)


def test_only_makers_plan(cast, client_of, kit):
    for person in (cast.helper, cast.viewer):
        assert client_of(person).get(kit.url).status_code == 403


def test_a_plan_spans_pots_of_different_sizes(kit, maker):
    small = builders.make_vessel("Small pot", volume_ml=3000, fill_ml=2000)
    fields = fields_of(maker.get(kit.url), "pots") | {"yarn-0-lot": kit.yarn.pk, "yarn-0-skeins": "4", "pots": "1"}
    assert maker.post(kit.url, fields | {"vessel": kit.pot.pk, "also": [small.pk], "do": "start"}).status_code == 302
    pots = Run.objects.get().batches.order_by("number")
    assert [pot.vessel for pot in pots] == [kit.pot, small]
    assert [pot.yarns.get().skeins for pot in pots] == [2, 2]


def test_whole_pots_begin_with_the_jars_and_as_many_as_in_the_notebook(cast, maker):
    jars = builders.make_vessel("Jam jars", kind="jar", how_many=8, volume_ml=900, fill_ml=800)
    builders.make_vessel("Kettle")
    in_jars = builders.recipe(cast.maker, method="jar", scales="pots", pots=6)
    found = boxes(maker.get(f"/runs/new/plan/{in_jars.pk}/"))
    assert (found["vessel"], found["pots"]) == (str(jars.pk), "6")
    found = boxes(maker.get(f"/runs/new/plan/{builders.recipe(cast.maker).pk}/"))
    assert (found["vessel"], found["pots"]) == ("", "1")  # a pot by weight is chosen, and never guessed
    builders.make_vessel("Tall jars", kind="jar")
    assert boxes(maker.get(f"/runs/new/plan/{in_jars.pk}/"))["vessel"] == ""  # nobody knows which of the two
