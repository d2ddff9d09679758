"""What can't be measured again is said, and what would do."""

from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from recipes import precision
from recipes.models import Basis, How, Ingredient, RecipeStep
from recipes.offers import lots_for
from recipes.planning import plan
from recipes.plans import Load
from studio.models import Studio, Tool
from tests import builders as build

D = Decimal


def scale(step, largest=None):
    return Tool(kind="scale", name=f"{step} g scale", step=D(step), largest=largest and D(largest))


def syringe(step, largest):
    return Tool(kind="syringe", name=f"{largest} mL syringe", step=D(step), largest=D(largest))


def version(by, *ingredients):
    recipe = build.colourway(by).next_version(by=by, now=build.NOON, fibre_g=D(100))
    recipe.write([(RecipeStep(), [each]) for each in ingredients])
    return recipe


def only_line(recipe, tools, grams=100, **facts):
    (line,) = plan(recipe, [Load(fibre_g=D(grams))], lots_for(recipe), tools, Studio(**facts)).pots[0].lines
    return line


def test_the_limit_is_the_studios_own(cast):
    recipe = version(cast.maker, build.ingredient(build.receive_powder(cast.maker).dye, "0.1"))
    assert only_line(recipe, [scale("0.01")], repeats_pct=D(5)).note == ""
    assert "repeats only to \u00b1 4.1\u00a0%" in only_line(recipe, [scale("0.01")], repeats_pct=D(4)).note


def test_an_assistant_is_held_to_the_same_rule(cast):
    acid = build.receive_assistant(cast.maker, build.make_assistant("Citric acid", unit="g"))
    line = only_line(version(cast.maker, build.ingredient(acid.assistant, "3")), [scale(1), syringe(1, 60)])
    assert line.note == (
        "3\u00a0g repeats only to \u00b1 14\u00a0% on a scale that shows 1\u00a0g: "
        "take 60\u00a0mL of a 5\u00a0% bottle, or use a scale that shows 0.1\u00a0g."
    )


def test_a_bottle_that_is_there_is_named(cast):
    powder = build.receive_powder(cast.maker, build.make_dye("Ochre"))
    build.bottle(cast.maker, [(powder, D("2.5"))], solution=build.make_solution("Ochre 1 %", [(powder.dye, 1)]))
    line = only_line(version(cast.maker, build.ingredient(powder.dye, "0.04")), [scale("0.01"), syringe("0.2", 10)])
    assert "take 4\u00a0mL of Ochre 1\u00a0%, or use a scale that shows 0.001\u00a0g." in line.note


def test_what_goes_on_dry_is_not_sent_to_a_bottle(cast):
    powder = build.receive_powder(cast.maker)
    line = only_line(
        version(cast.maker, build.ingredient(powder.dye, "0.04", how=How.SPRINKLED)),
        [scale("0.01"), syringe("0.2", 10)],
    )
    assert line.note.endswith("on a scale that shows 0.01\u00a0g: use a scale that shows 0.001\u00a0g.")


def test_a_small_syringe_filled_twice_may_do(cast):
    vinegar = build.receive_assistant(cast.maker)
    line = only_line(
        version(cast.maker, build.ingredient(vinegar.assistant, 15)), [syringe("0.2", 10), syringe(5, 250)]
    )
    assert "measure it in 2 goes with \u201c10 mL syringe\u201d" in line.note
    assert "thin some with 9 times as much water and take 150\u00a0mL" in line.note


def test_paint_is_made_up_no_weaker_than_it_is_painted(cast):
    powder = build.receive_powder(cast.maker)
    build.bottle(cast.maker, [(powder, D(5))], volume=100)
    painted = Ingredient(
        dye=powder.dye, amount=D("1.5"), unit="mL", strength_pct=D(1), basis=Basis.PER_SKEIN, how=How.PAINTED
    )
    line = only_line(version(cast.maker, painted), [syringe("0.1", 5)], grams=100)
    assert line.exact == D("0.3")
    assert line.note.startswith("Dilute first:") and "take 1.5\u00a0mL of a 1\u00a0% bottle" in line.note


@given(
    grams=st.decimals(min_value="0.01", max_value=5000, places=3),
    steps=st.lists(st.sampled_from(["0.001", "0.01", "0.1", "1"]), max_size=3),
    syringes=st.lists(st.sampled_from([("0.01", 1), ("0.2", 10), ("1", 60), ("5", 500)]), max_size=3),
    limit=st.decimals(min_value="0.5", max_value=50, places=1),
)
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
def test_no_plan_asks_for_what_cant_be_measured_without_a_word(small_amounts, grams, steps, syringes, limit):
    recipe, lots = small_amounts
    tools = [scale(step) for step in steps] + [syringe(*each) for each in syringes]
    lines = plan(recipe, [Load(fibre_g=grams)], lots, tools, Studio(repeats_pct=limit)).pots[0].lines
    for line in lines:
        step = float(Tool.step_for(line.exact, line.unit, tools))
        u = step / 6**0.5 if line.unit == "g" else step / 12**0.5
        assert line.told > 0
        if u * 100 / float(line.exact) > float(limit) * (1 + 1e-9):
            assert "repeats only to" in line.note or "is too little to" in line.problem
        elif u * 100 / float(line.exact) < float(limit) * (1 - 1e-9):
            assert (line.note, line.problem) == ("", "")


@pytest.fixture
def small_amounts(cast):
    """A version with powder, stock, a weighed and a measured assistant, and what the shelf has for it."""
    powder = build.receive_powder(cast.maker)
    build.bottle(cast.maker, [(powder, D("2.5"))])
    acid = build.receive_assistant(cast.maker, build.make_assistant("Citric acid", unit="g"))
    recipe = version(
        cast.maker,
        build.ingredient(powder.dye, "0.05"),
        Ingredient(dye=powder.dye, amount=D("0.02"), unit="%", basis=Basis.OWF, strength_pct=D(1), how=How.BOTTLE),
        build.ingredient(acid.assistant, "0.5"),
        build.ingredient(build.receive_assistant(cast.maker).assistant, "0.7"),
    )
    return recipe, lots_for(recipe)


@given(
    amount=st.floats(min_value=0.0001, max_value=1000),
    limit=st.floats(min_value=0.5, max_value=50),
    weighed=st.booleans(),
)
def test_the_step_that_would_do_does_and_the_next_coarser_would_not(amount, limit, weighed):
    steps = precision.SCALES_G if weighed else precision.SYRINGES_ML
    found = precision.step_that_repeats(amount, limit, steps, weighed=weighed)
    for step in steps:
        does = precision.measured_pct(amount, step, weighed=weighed) <= limit
        assert does == (found is not None and step <= found)
