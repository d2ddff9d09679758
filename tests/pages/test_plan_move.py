"""What the page of a plan asks and says where a recipe goes onto other yarn."""

from decimal import Decimal
from types import SimpleNamespace

import pytest
from lxml import html

from batches.models import PlanLine, Run
from recipes.models import Basis
from tests import builders
from tests.pages.run_forms import boxes, fields_of, sentences, words


@pytest.fixture
def kit(cast):
    """1 % of rust, written for wool; ten skeins of wool, and ten of which a quarter takes none of the dye."""
    rust = builders.make_dye("Rust")
    builders.receive_powder(cast.maker, rust)
    recipe = builders.recipe(cast.maker, builders.colourway(cast.maker, "Low tide"), [(rust, 1, Basis.OWF)])
    wool = builders.receive_yarn(cast.maker, builders.make_base("Wend DK", fibres=[("wool", 100)]))
    tweed = builders.receive_yarn(
        cast.maker, builders.make_base("Skerry", fibres=[("wool", 75), ("polyester", 25)], dye_factor_pct=Decimal(120))
    )
    recipe.bases.set([wool.base])
    return SimpleNamespace(recipe=recipe, rust=rust, wool=wool, tweed=tweed, url=f"/runs/new/plan/{recipe.pk}/")


def plan(browser, kit, yarn, do="work", url=None, **said):
    fields = fields_of(browser.get(kit.url), "pots")
    facts = {"yarn-0-lot": yarn.pk, "yarn-0-skeins": "2", "pots": "1", "do": do}
    return browser.post(
        url or kit.url, fields | facts | {name.replace("__", "-"): value for name, value in said.items()}
    )


def test_nothing_is_asked_where_nothing_differs(maker, kit):
    page = plan(maker, kit, kit.wool)
    assert page.status_code == 200
    assert not {"move-hold", "move-scales"} & boxes(page).keys()
    assert "On this yarn" not in words(page)


def test_on_another_base_its_share_is_said_and_how_depth_is_held_is_asked(maker, kit):
    page = plan(maker, kit, kit.tweed)
    said = words(page).replace("\xa0", " ")
    assert "Version 1 was written for Wend DK, not for Skerry. Dye a small piece first." in said
    assert "Skerry: 75 % of it takes dye of the class “Acid, milling”. 1 % of all is 1.33 % on that part" in said
    assert "It gets 1.2 times the dye: the studio's own factor for it is 120 %." in said
    assert "2.4 g of dye for 200 g of dry fibre" in said
    assert boxes(page)["move-hold"] == "total"


def test_depth_held_on_the_part_that_takes_the_dye_is_kept_with_the_plan(maker, kit):
    page = plan(maker, kit, kit.tweed, move__hold="dyeable")
    assert "1.8 g of dye for 200 g of dry fibre" in words(page).replace("\xa0", " ")
    assert boxes(page)["move-hold"] == "dyeable"
    plan(maker, kit, kit.tweed, "plan", move__hold="dyeable")
    line = PlanLine.objects.get()
    assert (line.exact, line.basis) == (Decimal("1.8"), "1\u00a0% owf, \u00d7 0.9")


def test_a_choice_that_is_made_stays_in_sight_while_something_else_is_wrong(maker, kit):
    page = plan(maker, kit, kit.tweed, move__hold="dyeable", yarn__0__skeins="many")
    assert page.status_code == 422
    assert (boxes(page)["move-hold"], boxes(page)["yarn-0-skeins"]) == ("dyeable", "many")


@pytest.mark.parametrize("name", ["move-hold", "move-scales"])
def test_a_choice_that_is_none_is_refused_in_a_sentence(maker, kit, name):
    page = plan(maker, kit, kit.tweed, "plan", **{name: "half"})
    assert page.status_code == 422 and "no longer there" in sentences(page)[0]
    assert not Run.objects.exists()


def test_another_version_that_is_for_the_base_is_one_touch_away_with_all_that_was_typed(cast, maker, kit):
    other = builders.recipe(cast.maker, kit.recipe.colourway, [(kit.rust, 2, Basis.OWF)])
    other.bases.set([kit.tweed.base])
    page = plan(maker, kit, kit.tweed)
    (button,) = html.fromstring(page.content.decode()).xpath("//button[contains(@formaction, '/plan/')]")
    assert button.text_content() == "Plan version 2 instead: it is for Skerry"
    page = plan(maker, kit, kit.tweed, url=button.get("formaction"))
    assert "4 g of dye for 200 g of dry fibre" in words(page).replace("\xa0", " ")
    assert boxes(page)["yarn-0-skeins"] == "2" and "was written for Wend DK" not in words(page)


def test_whole_pots_or_weight_is_asked_where_a_jar_holds_more(cast, maker, kit):
    jars = builders.recipe(cast.maker, kit.recipe.colourway, [(kit.rust, 1, Basis.OWF)], scales="pots")
    url = f"/runs/new/plan/{jars.pk}/"
    page = plan(maker, kit, kit.wool, url=url)
    assert "it comes out paler, at 50 % of the depth" in words(page).replace("\xa0", " ")
    assert boxes(page)["move-scales"] == "pots"
    page = plan(maker, kit, kit.wool, url=url, move__scales="weight")
    assert "2 g of dye for 200 g of dry fibre" in words(page).replace("\xa0", " ")
    assert boxes(page)["move-scales"] == "weight"


def test_a_base_that_takes_none_of_the_dye_says_what_would_and_goes_on(cast, maker, kit):
    sail = builders.receive_yarn(cast.maker, builders.make_base("Sailcloth", fibres=[("polyester", 100)]))
    page = plan(maker, kit, sail)
    assert page.status_code == 200
    assert (
        "None of its fibre takes dye of the class “Acid, milling” fully. Dye of the class “Disperse” would."
        in words(page)
    )


@pytest.mark.parametrize("facts", [{"volume_ml": 80, "fill_ml": 50}, {"skeins": 0}])
def test_a_vessel_smaller_than_one_skein_is_refused_and_nothing_is_lost(maker, kit, facts):
    cup = builders.make_vessel("Egg cup", **facts)
    page = plan(maker, kit, kit.wool, "start", vessel=cup.pk)
    assert page.status_code == 422
    assert sentences(page)[0].startswith("Egg cup takes")
    assert boxes(page)["yarn-0-skeins"] == "2" and not Run.objects.exists()


def test_a_recipe_without_dye_or_without_amounts_is_said(cast, maker, kit):
    alum = builders.receive_assistant(cast.maker, builders.make_assistant("Alum", unit="g")).assistant
    bare = builders.recipe(cast.maker, kit.recipe.colourway, [(alum, 12, Basis.OWF)])
    page = plan(maker, kit, kit.wool, url=f"/runs/new/plan/{bare.pk}/")
    assert page.status_code == 200 and "There is no dye in this version." in words(page)
    empty = kit.recipe.colourway.next_version(by=cast.maker, now=builders.NOON, fibre_g=100)
    page = plan(maker, kit, kit.wool, url=f"/runs/new/plan/{empty.pk}/")
    assert page.status_code == 422 and "has no amounts yet" in sentences(page)[0]


def test_planning_on_other_bases_asks_the_database_no_oftener(cast, maker, kit, django_assert_max_num_queries):
    def counted(kinds):
        bases = [builders.make_base(fibres=[("wool", 75), ("polyester", 25)]) for _ in range(kinds)]
        for base in bases:
            builders.recipe(cast.maker, kit.recipe.colourway, [(kit.rust, 2, Basis.OWF)]).bases.set([base])
        rows = {}
        for place in range(4):
            lot = builders.receive_yarn(cast.maker, bases[place % kinds])
            rows |= {f"yarn-{place}-lot": lot.pk, f"yarn-{place}-skeins": "2"}
        fields = fields_of(maker.get(kit.url), "pots") | rows | {"yarn-TOTAL_FORMS": 4, "pots": 4, "do": "work"}
        with django_assert_max_num_queries(60) as queries:
            assert maker.post(kit.url, fields).status_code == 200
        return len(queries)

    counted(2)  # makes the studio, as its first page does
    assert counted(1) == counted(4)


def test_a_plan_that_is_changed_holds_its_depth_as_it_was_planned(maker, kit):
    plan(maker, kit, kit.tweed, "plan", move__hold="dyeable")
    run = Run.objects.get()
    page = maker.get(f"/runs/{run.code}/change/")
    assert boxes(page)["move-hold"] == "dyeable"
    fields = fields_of(page, "why") | {f"dye-{kit.rust.pk}": "50", "why": "Too deep.", "do": "keep"}
    del fields["move-hold"]  # as where nothing was worked out yet
    assert maker.post(page.request["PATH_INFO"], fields).status_code == 302
    assert run.batches.get().plan.get().exact == Decimal("0.9")


def test_a_plan_that_is_changed_is_of_all_the_yarn_where_it_was(maker, kit):
    plan(maker, kit, kit.tweed, "plan")
    assert "move-hold" not in boxes(maker.get(f"/runs/{Run.objects.get().code}/change/"))
