"""A powder weighed once for several pots: what is weighed, what is poured, and what each pot is told."""

from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from batches.models import PlanLine, Run
from recipes.models import Basis, How, Ingredient, RecipeStep
from recipes.offers import lots_for
from recipes.planning import plan
from recipes.plans import Load, Once, Wishes
from studio.models import Studio, Tool
from tests import builders as build

D = Decimal
TOOLS = [
    Tool(kind="scale", name="Scale", step=D("0.01"), largest=D(200)),
    Tool(kind="syringe", name="Syringe", step=D(1), largest=D(60)),
    Tool(kind="cylinder", name="Cylinder", step=D(5), largest=D(500)),
]


def version(by, *ingredients):
    recipe = build.colourway(by).next_version(by=by, now=build.NOON, fibre_g=D(100))
    recipe.write([(RecipeStep(), [each]) for each in ingredients])
    return recipe


def worked(recipe, grams, once=True, lots=None, limit=5):
    keys = (
        frozenset(Ingredient.objects.filter(step__recipe=recipe).values_list("pk", flat=True)) if once else frozenset()
    )
    loads = [Load(fibre_g=D(each)) for each in grams]
    lots = lots_for(recipe) if lots is None else lots
    return plan(recipe, loads, lots, TOOLS, Studio(repeats_pct=D(limit)), wishes=Wishes(weigh_once=keys))


def amounts(result):
    return [(pot.lines[0].told, pot.lines[0].pour_ml) for pot in result.pots]


def test_six_jars_are_poured_their_share_of_one_weighing(cast):
    powder = build.receive_powder(cast.maker)
    result = worked(version(cast.maker, build.ingredient(powder.dye, "0.04")), [100] * 6)
    assert amounts(result) == [(D("0.04"), 25)] * 6
    line = result.pots[0].lines[0]
    assert line.note == (
        "Weighed once for all 6 pots: 0.24\u00a0g, dissolved to 150\u00a0mL. Pour 25\u00a0mL of it in here."
    )
    assert (line.lot, line.unit, line.problem) == (powder, "g", "")
    assert result.totals[0].told == D("0.24")


def test_it_is_offered_where_one_pot_cant_be_weighed_and_all_of_them_can(cast):
    powder = build.receive_powder(cast.maker)
    (once,) = worked(version(cast.maker, build.ingredient(powder.dye, "0.04")), [100] * 6, once=False).once
    assert (once.surer, once.chosen, once.told, once.volume_ml, once.pours) == (True, False, D("0.24"), 150, [25])
    (once,) = worked(version(cast.maker, build.ingredient(powder.dye, 1)), [100] * 6, once=False).once
    assert not once.surer


def test_it_is_not_offered_for_one_pot_nor_for_what_goes_on_dry(cast):
    powder = build.receive_powder(cast.maker)
    assert worked(version(cast.maker, build.ingredient(powder.dye, "0.04")), [100]).once == []
    sprinkled = version(cast.maker, build.ingredient(powder.dye, "0.04", how=How.SPRINKLED))
    result = worked(sprinkled, [100] * 6)
    assert result.once == [] and result.pots[0].lines[0].pour_ml is None


def test_pots_of_different_weight_get_different_shares(cast):
    powder = build.receive_powder(cast.maker)
    result = worked(version(cast.maker, build.ingredient(powder.dye, "0.04")), [300, 200, 100])
    assert [pour for _, pour in amounts(result)] == [75, 50, 25]
    assert [told for told, _ in amounts(result)] == [D("0.12"), D("0.08"), D("0.04")]


def test_three_pots_are_not_poured_a_third_of_a_hundred(cast):
    powder = build.receive_powder(cast.maker)
    assert (
        amounts(worked(version(cast.maker, build.ingredient(powder.dye, "0.05")), [100] * 3)) == [(D("0.05"), 50)] * 3
    )


def test_much_of_it_is_dissolved_in_much(cast):
    acid = build.receive_assistant(cast.maker, build.make_assistant("Citric acid", unit="g"))
    result = worked(version(cast.maker, build.ingredient(acid.assistant, 20)), [100] * 2)
    assert result.once[0].volume_ml == 200  # 40 g at 20 %


def test_all_of_it_too_little_is_still_said(cast):
    powder = build.receive_powder(cast.maker)
    result = worked(version(cast.maker, build.ingredient(powder.dye, "0.01")), [100] * 3)
    assert result.once[0].surer is False
    assert "0.03\u00a0g repeats only to" in result.pots[0].lines[0].note
    assert "0.01\u00a0g repeats" not in result.pots[0].lines[0].note


def test_what_is_poured_counts_as_water(cast):
    powder = build.receive_powder(cast.maker)
    water = Ingredient(water=True, amount=D(10), basis=Basis.RATIO, unit=":1")
    recipe = version(cast.maker, water, build.ingredient(powder.dye, "0.04"))
    poured = worked(recipe, [100] * 6).pots[0].lines[0]
    assert (poured.exact, poured.told) == (975, 975)
    assert poured.note == "The bottles bring 25\u00a0mL more: 1\u00a0L of bath in all."


def test_portions_of_one_pot_after_another_are_no_pots():
    once = Once(None, None, None, D(1), D(1), D(100), {(0, 1): (D("0.5"), D(50)), (0, 3): (D("0.5"), D(50))})
    assert once.among == "2 additions"


def test_it_is_kept_with_the_plan(cast):
    powder = build.receive_powder(cast.maker)
    result = worked(version(cast.maker, build.ingredient(powder.dye, "0.04")), [100] * 6)
    lines = [[PlanLine(**line.facts()) for line in pot.lines] for pot in result.pots]
    run = Run.plan(by=cast.maker, day=build.DAY, pots=[{"fibre_g": 100, "lines": each} for each in lines])
    kept = PlanLine.objects.filter(batch__run=run)
    assert {(line.told, line.pour_ml, line.lot) for line in kept} == {(D("0.04"), 25, powder)}
    assert "Pour 25\u00a0mL of it in here." in kept[0].note


@pytest.fixture
def ochre(cast):
    recipe = version(cast.maker, build.ingredient(build.receive_powder(cast.maker, grams=1000).dye, "0.05"))
    return recipe, lots_for(recipe)


@given(grams=st.lists(st.decimals(min_value=10, max_value=2000, places=1), min_size=2, max_size=8))
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
def test_the_shares_sum_to_what_is_weighed_and_the_pours_to_what_it_is_dissolved_to(ochre, grams):
    recipe, lots = ochre
    result = worked(recipe, grams, lots=lots)
    for once in result.once:
        lines = [pot.lines[0] for pot in result.pots]
        assert sum(line.told for line in lines) == once.told
        assert sum(line.pour_ml for line in lines) == once.volume_ml
        assert all(line.told > 0 and line.pour_ml > 0 for line in lines)
        for line in lines:  # what is told is what is poured, to the last digit that is kept
            assert abs(line.told - once.told * line.pour_ml / once.volume_ml) <= D("0.001")
            sure = float(Tool.step_for(line.pour_ml, "mL", TOOLS)) / 12**0.5 * 20 <= float(line.pour_ml)
            assert sure or "mL repeats only to" in line.note.replace("\u00a0", " ")
    if not result.once:
        assert all(pot.lines[0].pour_ml is None for pot in result.pots)
