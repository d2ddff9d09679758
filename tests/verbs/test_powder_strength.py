"""A powder lot of another strength, wherever dye becomes powder or back."""

from decimal import Decimal

import pytest

from batches import costs, depth
from batches.models import PlanLine, Run
from recipes import bottles, holding
from recipes.bottle_views import made_in_words
from recipes.models import Basis, How, Ingredient, RecipeStep
from recipes.offers import lots_for
from recipes.planning import plan
from recipes.plans import Load
from studio import naming
from studio.models import Lot, Studio, Tool
from tests import builders as build

D = Decimal


def worked(recipe, *loads, chosen=None):
    return plan(recipe, loads, lots_for(recipe), list(Tool.objects.all()), Studio.get(), chosen)


def version(by, *ingredients, fibre_g=100, **facts):
    recipe = build.colourway(by).next_version(by=by, now=build.NOON, fibre_g=D(fibre_g), **facts)
    recipe.write([(RecipeStep(), [each]) for each in ingredients])
    return recipe


def from_bottle(dye, depth_pct, strength):
    return Ingredient(dye=dye, amount=D(depth_pct), unit="%", basis=Basis.OWF, strength_pct=D(strength), how=How.BOTTLE)


@pytest.fixture
def weak(cast):
    """100 g of a red that is 85 % strong."""
    return build.receive_powder(cast.maker, build.make_dye("Brick"), strength_pct=D(85), number="S-2")


def lines_of(result):
    return [line for pot in result.pots for line in pot.lines if line.substance is not None]


# --- asked for: amount x 100 / strength


@pytest.mark.parametrize("depth_pct", ["0.5", "1", "3"])
def test_a_weak_lot_is_asked_for_100_85ths_as_powder(cast, weak, depth_pct):
    result = worked(version(cast.maker, build.ingredient(weak.dye, depth_pct)), Load(fibre_g=D(340)))
    (line,) = lines_of(result)
    assert line.exact * 85 == D(340) * D(depth_pct)
    assert (result.pots[0].depth_pct, line.dye_g) == (D(depth_pct), D("3.4") * D(depth_pct))
    assert result.totals[0].exact == line.exact


def test_a_bottle_is_as_strong_as_its_powder_colours(cast, weak):
    bottle = build.bottle(cast.maker, [(weak, D(5))], volume=500)
    bottle = bottles.with_contents(Lot.objects.filter(pk=bottle.pk)).get()
    assert (bottle.strength(), holding.strength_at_standard(bottle)) == (1, D("0.85"))
    assert "it colours like 0.85" in made_in_words(bottle)
    (line,) = lines_of(worked(version(cast.maker, from_bottle(weak.dye, 1, 1)), Load(fibre_g=D(85))))
    assert (line.exact, line.unit, line.dye_g) == (100, "mL", D("0.85"))


def test_a_bottle_is_made_up_with_more_of_a_weak_lot(cast, weak):
    master = build.make_solution("Brick 1 %", [(weak.dye, 1)])
    (part,) = bottles.work_out(master, D(500), bottles.shelf_for(master))
    assert round(part.sources[0].wanted, 4) == D("5.8824")  # 500 x 1 / 100 x 100 / 85


def test_a_shortage_says_how_much_of_the_weak_lot_makes_the_bottle(cast, weak):
    (short,) = worked(version(cast.maker, from_bottle(weak.dye, 1, 1)), Load(fibre_g=D(170))).shortages
    assert round(short.making.parts[0].amount * 85, 9) == short.making.volume  # 100 / 85 of 1 g in 100 mL
    assert "weigh 2.94" in short.make.replace("\xa0", " ")


def test_a_mixed_bottle_of_a_weak_lot_gives_more(cast, weak):
    ochre = build.receive_powder(cast.maker, build.make_dye("Ochre"))
    mix = build.make_solution("Autumn", [(weak.dye, D("0.5")), (ochre.dye, D("0.5"))])
    build.bottle(cast.maker, [(weak, D("2.5")), (ochre, D("2.5"))], volume=500, solution=mix)
    recipe = version(cast.maker, build.ingredient(mix, 100, Basis.PER_POT, unit="mL"))
    result = worked(recipe, Load(fibre_g=D(100)))
    (line,) = lines_of(result)
    assert round(line.exact * D("0.925"), 6) == 100  # it holds 0.425 + 0.5 of the 1 g that 100 mL should
    assert round(line.dye_g, 6) == 1
    facts = {"fibre_g": 100, "lines": [PlanLine(**line.facts())]}
    run = Run.plan(by=cast.maker, day=build.DAY, pots=[facts], clock=build.clock())
    assert round(sum(one.grams for one in depth.planned_of_run(run)), 4) == 1


# --- counted back: amount x strength / 100


def fed(batch):
    return {one.dye.name: one.grams for one in depth.fed_of_batches([batch])[batch.pk]}


def test_depth_counts_powder_and_bottle_at_standard_strength(cast, weak):
    batch = build.one_pot(cast.maker, skeins=1)
    bottle = build.bottle(cast.maker, [(weak, D(5))], volume=500)
    build.addition(cast.maker, batch, weak, 1)
    build.addition(cast.maker, batch, bottle, 100)
    assert fed(batch) == {"Brick": D("1.7")}
    assert depth.depths_of([batch])[batch.pk].pct == D("1.7")


def test_what_a_lot_turns_out_to_be_it_was_before(cast, weak):
    batch = build.one_pot(cast.maker, skeins=1)
    build.addition(cast.maker, batch, weak, 1)
    weak.correct(by=cast.maker, strength_pct=D(50), clock=build.clock(build.hours(1)))
    weak.correct(by=cast.maker, strength_pct=D(90), clock=build.clock(build.hours(2)))
    weak.correct(by=cast.maker, hue="bluer", clock=build.clock(build.hours(3)))
    assert fed(batch) == {"Brick": D("0.9")}


def test_the_planned_amount_logged_is_the_planned_depth(cast, weak):
    result = worked(version(cast.maker, build.ingredient(weak.dye, 2)), Load(fibre_g=D(100)))
    (line,) = lines_of(result)
    batch = build.one_pot(cast.maker, skeins=1)
    build.addition(cast.maker, batch, line.lot, line.told)
    assert round(depth.depths_of([batch])[batch.pk].pct, 2) == 2


def test_a_weak_lot_costs_as_much_as_was_weighed_of_it(cast):
    weak = build.receive_powder(cast.maker, strength_pct=D(85), grams=100, cost_minor=10_000)
    batch = build.one_pot(cast.maker, skeins=1)
    build.addition(cast.maker, batch, weak, 10)
    assert costs.so_far(batch.run).total == 10


def test_two_lots_of_one_dye_are_one_dye_fed(cast, weak):
    other = build.receive_powder(cast.maker, weak.dye)
    batch = build.one_pot(cast.maker, skeins=1)
    build.addition(cast.maker, batch, weak, 2)
    build.addition(cast.maker, batch, other, 1)
    assert fed(batch) == {"Brick": D("2.7")}


# --- one lot for a run


def test_two_powder_lots_of_one_dye_are_warned_of(cast, weak):
    other = build.receive_powder(cast.maker, weak.dye, at=build.hours(1), number="S-3")
    recipe = version(cast.maker, build.ingredient(weak.dye, 1), build.ingredient(weak.dye, 1, Basis.PER_POT))
    first, second = (step.ingredients.get() for step in recipe.steps.all())
    assert worked(recipe, Load(fibre_g=D(100))).warnings == []
    (said,) = worked(recipe, Load(fibre_g=D(100)), chosen={first.pk: weak.pk, second.pk: other.pk}).warnings
    assert said.startswith("Brick comes from two powder lots here: lot S-2, 85\xa0% strong and lot S-3.")


def test_bottles_of_two_powder_lots_are_warned_of(cast, weak):
    other = build.receive_powder(cast.maker, weak.dye, number="S-3")
    strong = build.make_solution("Brick 1 %", [(weak.dye, 1)])
    pale = build.make_solution("Brick 0.1 %", [(weak.dye, D("0.1"))])
    build.bottle(cast.maker, [(weak, D(5))], volume=500, solution=strong)
    build.bottle(cast.maker, [(other, D("0.5"))], volume=500, solution=pale)
    recipe = version(cast.maker, from_bottle(weak.dye, 1, 1), from_bottle(weak.dye, "0.01", "0.1"))
    (said,) = worked(recipe, Load(fibre_g=D(100))).warnings
    assert "Brick comes from two powder lots here, in Brick 1" in said and "S-2" in said and "S-3" in said


def test_the_bottle_of_the_same_powder_lot_is_taken_where_there_are_two(cast, weak):
    other = build.receive_powder(cast.maker, weak.dye)
    strong = build.make_solution("Brick 1 %", [(weak.dye, 1)])
    pale = build.make_solution("Brick 0.1 %", [(weak.dye, D("0.1"))])
    build.bottle(cast.maker, [(weak, D(5))], volume=500, solution=strong)
    build.bottle(cast.maker, [(other, D("0.5"))], volume=500, solution=pale, at=build.NOON)
    same = build.bottle(cast.maker, [(weak, D("0.5"))], volume=500, solution=pale, at=build.hours(1))
    recipe = version(cast.maker, from_bottle(weak.dye, 1, 1), from_bottle(weak.dye, "0.01", "0.1"))
    result = worked(recipe, Load(fibre_g=D(100)))
    assert lines_of(result)[1].lot == same and result.warnings == []


def test_another_hue_is_said_on_every_plan_that_takes_the_lot(cast, weak):
    weak.correct(by=cast.maker, hue="bluer than the last.")
    (said,) = worked(version(cast.maker, build.ingredient(weak.dye, 1)), Load(fibre_g=D(100))).warnings
    assert said.startswith("The Brick of lot S-2, 85\xa0% strong, has another hue: bluer than the last. No amount")
    build.bottle(cast.maker, [(weak, D(5))], volume=500)
    (said,) = worked(version(cast.maker, from_bottle(weak.dye, 1, 1)), Load(fibre_g=D(100))).warnings
    assert "another hue" in said
    weak.correct(by=cast.maker, strength_pct=D(100))
    (said,) = worked(version(cast.maker, build.ingredient(weak.dye, 1)), Load(fibre_g=D(100))).warnings
    assert said.startswith("The Brick of lot S-2 has another hue: bluer")


# --- samples


def test_a_sample_gets_its_part_of_what_is_for_a_pot_or_for_all(cast, weak):
    acid = build.receive_assistant(cast.maker)
    recipe = version(
        cast.maker,
        build.ingredient(acid.assistant, 50, Basis.PER_POT, unit="mL"),
        build.ingredient(acid.assistant, 200, Basis.FIXED, unit="mL"),
        build.ingredient(acid.assistant, 20, Basis.PER_SKEIN, unit="mL"),
        Ingredient(water=True, amount=D(8000), basis=Basis.PER_POT, unit="mL"),
        fibre_g=400,
        pots=2,
        skeins=4,
    )
    pots = worked(recipe, *(Load(fibre_g=D(10), sample=True) for _ in range(3))).pots
    for pot in pots:
        assert [line.exact for line in pot.lines] == [D("2.5"), 5, 2, 400 - D("9.5")]
        assert pot.water_ml == 400


def test_a_dye_left_out_of_a_pot_has_no_line_there(cast, weak):
    ochre = build.receive_powder(cast.maker, build.make_dye("Ochre"))
    recipe = version(cast.maker, build.ingredient(weak.dye, 1), build.ingredient(ochre.dye, 1))
    one, two = (Load(fibre_g=D(100), dye_factors=factors) for factors in ({weak.dye_id: 0}, {ochre.dye_id: D("1.5")}))
    result = worked(recipe, one, two)
    assert [line.substance for line in result.pots[0].lines] == [ochre.dye]
    assert [line.dye_g for line in result.pots[1].lines] == [1, D("1.5")]


def test_dyes_of_one_bottle_are_multiplied_together_or_not_at_all(cast, weak):
    ochre = build.receive_powder(cast.maker, build.make_dye("Ochre"))
    mix = build.make_solution("Autumn", [(weak.dye, 1), (ochre.dye, 1)])
    recipe = version(cast.maker, build.ingredient(mix, 10, Basis.PER_POT, unit="mL"))
    both = Load(fibre_g=D(100), dye_factors={weak.dye_id: 2, ochre.dye_id: 2})
    assert worked(recipe, both).pots[0].lines[0].exact == 20
    with pytest.raises(ValueError, match="holds several dyes in one bottle"):
        worked(recipe, Load(fibre_g=D(100), dye_factors={weak.dye_id: 2}))


def test_a_lot_says_which_one_it_is_and_how_strong(cast, weak):
    usual = build.receive_powder(cast.maker, weak.dye)
    yarn, vinegar = build.receive_yarn(cast.maker), build.receive_assistant(cast.maker)
    lots = Lot.objects.with_facts().named().in_bulk()
    assert naming.powder_lot(lots[weak.pk]) == "lot S-2, 85\u00a0% strong"
    assert naming.jar_or_bottle(lots[weak.pk]) == "Brick, powder, lot S-2, 85\u00a0% strong"
    nameless = naming.powder_lot(lots[usual.pk])
    assert nameless.startswith("the lot of 14 Mar") and "strong" not in nameless
    assert naming.jar_or_bottle(lots[usual.pk]) == "Brick, powder"
    assert naming.jar_or_bottle(lots[vinegar.pk]) == str(vinegar.assistant)
    assert naming.powder_lot(lots[yarn.pk]) == nameless
    weak.correct(by=cast.maker, strength_pct=D("84.75"))
    assert naming.lot_strong(Lot.objects.with_facts().get(pk=weak.pk)) == "84.75\u00a0% strong"


def test_a_bottle_says_no_strength_of_its_powder(cast, weak):
    bottle = build.bottle(cast.maker, [(weak, D("2.5"))], number="3")
    assert naming.lot_strong(Lot.objects.with_facts().named().get(pk=bottle.pk)) == ""


@pytest.mark.parametrize(
    ("words", "said"), [([], ""), (["1"], "1"), (["1", "3"], "1 and 3"), (["1", "3", "4"], "1, 3 and 4")]
)
def test_several_are_joined_as_they_are_said(words, said):
    assert naming.joined(words) == said
