"""What is to be made up before a plan starts: how much of what, from which lot, and what has to be bought."""

from datetime import timedelta
from decimal import Decimal

from recipes.models import Basis, How, Ingredient, RecipeStep
from recipes.offers import lots_for
from recipes.planning import plan
from recipes.plans import Load
from studio.models import Studio, Tool
from tests import builders as build

D = Decimal
TOOLS = [Tool(kind="scale", step=D("0.01"), largest=D(200)), Tool(kind="syringe", step=D(1), largest=D(100))]


def worked(by, *ingredients, grams=100, pots=1, promised=None):
    recipe = build.colourway(by).next_version(by=by, now=build.NOON, fibre_g=D(100))
    recipe.write([(RecipeStep(), [each]) for each in ingredients])
    loads = [Load(fibre_g=D(grams))] * pots
    return plan(recipe, loads, lots_for(recipe, promised), TOOLS, Studio())


def stock(dye, depth, strength, **facts):
    facts = {"basis": Basis.OWF, "unit": "%", "how": How.BOTTLE} | facts
    return Ingredient(dye=dye, amount=D(depth), strength_pct=D(strength), **facts)


def weighed(making):
    return [(part.lot, part.amount, part.told) for part in making.parts]


def test_a_missing_bottle_is_made_of_its_powder(cast):
    powder = build.receive_powder(cast.maker, build.make_dye("Ochre"))
    master = build.make_solution("Ochre 1 %", [(powder.dye, 1)])
    result = worked(cast.maker, stock(powder.dye, "1.2", 1), pots=2)
    (making,) = result.mixing
    assert (making.name, making.volume, making.need, making.master) == ("Ochre, 1\u00a0%", 250, 240, master)
    assert weighed(making) == [(powder, D("2.5"), D("2.5"))]
    (short,) = result.shortages
    assert (
        short.make
        == "To make 250\u00a0mL of 1\u00a0%, weigh 2.5\u00a0g of powder and bring it to 250\u00a0mL with water."
    )


def test_a_weaker_lot_is_weighed_in_more(cast):
    powder = build.receive_powder(cast.maker, strength_pct=D(80))
    (making,) = worked(cast.maker, stock(powder.dye, 1, 1)).mixing
    assert weighed(making) == [(powder, D("1.25"), D("1.25"))]
    assert making.parts[0].lot.strength_now == 80


def test_a_master_of_another_strength_is_not_taken_for_it(cast):
    powder = build.receive_powder(cast.maker)
    build.make_solution(parts=[(powder.dye, 2)])
    build.make_solution(parts=[(powder.dye, 1)], retired=True)
    build.make_solution(parts=[(powder.dye, 1), (build.make_dye(), 1)])
    (making,) = worked(cast.maker, stock(powder.dye, 1, 1)).mixing
    assert making.master is None


def test_a_short_bottle_is_made_as_strong_as_itself(cast):
    """The line was written for 1 %, but a bottle of 2 % is taken: what is made for it is 2 % too."""
    powder = build.receive_powder(cast.maker)
    solution = build.make_solution(parts=[(powder.dye, 2)])
    build.bottle(cast.maker, [(powder, D(1))], volume=50, solution=solution)
    (making,) = worked(cast.maker, stock(powder.dye, "1.5", 1)).mixing
    assert (making.need, making.volume, making.strength_pct) == (75, 100, 2)
    assert weighed(making) == [(powder, 2, 2)]


def test_of_a_bottle_promised_beyond_what_it_holds_none_is_free(cast):
    """What other runs lack is made for those: needed and free add up to what is short here."""
    powder = build.receive_powder(cast.maker)
    bottle = build.bottle(cast.maker, [(powder, D("2.5"))], solution=build.make_solution(parts=[(powder.dye, 1)]))
    result = worked(cast.maker, stock(powder.dye, "0.7", 1), promised={bottle.pk: D(300)})
    (total,), (short,) = result.totals, result.shortages
    assert (total.free, total.short) == (0, 70)
    assert short.sentence.endswith(
        "70\u00a0mL short: 70\u00a0mL is needed, and of the 250\u00a0mL there none is free, as other plans are "
        "promised all of it."
    )


def test_a_runs_stock_is_not_made_of_twice_the_powder(cast):
    powder = build.receive_powder(cast.maker)
    (making,) = worked(cast.maker, stock(powder.dye, 1, 1), grams=2480).mixing
    assert (making.need, making.volume) == (2480, 3000)


def test_a_bottle_is_made_large_enough_for_its_powder_to_be_weighed(cast):
    powder = build.receive_powder(cast.maker)
    (making,) = worked(cast.maker, stock(powder.dye, "0.04", "0.1")).mixing
    assert (making.need, making.volume) == (40, 100)  # 0.05 g for 50 mL repeats to 8 %
    assert making.parts[0].sure


def test_powder_for_a_bottle_and_powder_that_goes_in_are_counted_together(cast):
    powder = build.receive_powder(cast.maker, build.make_dye("Ochre"), grams=4)
    result = worked(cast.maker, stock(powder.dye, 1, 1), build.ingredient(powder.dye, 2, how=How.SPRINKLED), grams=150)
    (making,) = result.mixing
    assert weighed(making) == [(powder, 1, 1), (None, D("1.5"), D("1.5"))]
    bottle, short = result.shortages
    assert bottle.making == making
    assert short.sentence == (
        "Ochre, powder, is 1.5\u00a0g short: 2.5\u00a0g for what is to be made and 3\u00a0g as it is, "
        "and 4\u00a0g is free. Buy at least 1.5\u00a0g."
    )


def test_what_other_plans_spoke_for_makes_no_bottle(cast):
    powder = build.receive_powder(cast.maker, grams=10)
    result = worked(cast.maker, stock(powder.dye, 1, 1), promised={powder.pk: D("9.5")})
    assert weighed(result.mixing[0]) == [(powder, D("0.5"), D("0.5")), (None, D("0.5"), D("0.5"))]
    assert result.shortages[1].short == D("0.5")


def test_the_lot_that_is_in_use_already_is_taken_for_the_bottle_too(cast):
    dye = build.make_dye()
    build.receive_powder(cast.maker, dye, grams=2, at=build.hours(-48))
    new = build.receive_powder(cast.maker, dye, grams=50)
    (making,) = worked(cast.maker, build.ingredient(dye, 3), stock(dye, 1, 1)).mixing
    assert [part.lot for part in making.parts] == [new]


def test_a_mix_is_made_of_each_of_its_parts(cast):
    red, acid = (
        build.receive_powder(cast.maker, strength_pct=D(50)),
        build.receive_assistant(cast.maker, build.make_assistant("Citric acid", unit="g")),
    )
    mix = build.make_solution("Plum paint", [(red.dye, 1), (acid.assistant, 2)], kind="painting")
    line = Ingredient(solution=mix, amount=D(60), unit="mL", basis=Basis.PER_SKEIN, how=How.PAINTED)
    (making,) = worked(cast.maker, line).mixing
    assert (making.master, making.volume, making.strength_pct) == (mix, 100, None)
    assert sorted((str(lot), amount) for lot, amount, _ in weighed(making)) == [("Citric acid", 2), (str(red), 2)]


def test_paint_from_a_stronger_bottle_is_thinned_once_for_all(cast):
    powder = build.receive_powder(cast.maker)
    lot = build.bottle(cast.maker, [(powder, D("5"))], volume=250)
    painted = stock(powder.dye, 5, "0.5", basis=Basis.PER_SKEIN, unit="mL", how=How.PAINTED)
    (making,) = worked(cast.maker, painted, pots=3).mixing
    assert (making.how, making.volume, making.water_ml) == ("thin", 15, 11)
    assert weighed(making) == [(lot, D("3.75"), 4)]  # and water, so that both are told as the syringe shows them


def test_what_there_is_none_of_is_to_be_bought(cast):
    vinegar = build.make_assistant("Vinegar")
    (short,) = worked(cast.maker, build.ingredient(vinegar, 15)).shortages
    assert short.sentence == "There is no Vinegar, and 15\u00a0mL is needed. Buy at least 15\u00a0mL."


def test_what_goes_in_by_eye_and_is_not_there_is_said(cast):
    dye = build.make_dye("Ochre")
    by_eye = Ingredient(dye=dye, amount=None, unit="g", basis=Basis.PER_POT, how=How.SPRINKLED)
    (short,) = worked(cast.maker, by_eye).shortages
    assert short.sentence == "There is no Ochre: it goes in by eye."


def test_a_bottle_past_its_date_may_be_made_anew(cast):
    powder = build.receive_powder(cast.maker, build.make_dye("Ochre"))
    solution = build.make_solution("Ochre 1 %", [(powder.dye, 1)])
    build.bottle(cast.maker, [(powder, D("2.5"))], solution=solution, use_by=build.DAY - timedelta(days=4000))
    result = worked(cast.maker, stock(powder.dye, "0.9", 1))
    (short,) = result.shortages
    assert short.sentence.startswith("Ochre 1\u00a0% is past its use-by date, ")
    assert short.sentence.endswith(": test it first, or make it anew.")
    assert (short.short, short.making.why, short.making.volume) == (0, "past its date", 100)


def test_what_nobody_knows_the_contents_of_is_not_made(cast):
    liquor = build.make_solution("Old bath", kind="liquor")
    line = Ingredient(solution=liquor, amount=D(100), unit="mL", basis=Basis.PER_POT, how=How.ADDED)
    result = worked(cast.maker, line)
    assert result.mixing == []
    assert result.shortages[0].making is None


# --- all of it at once


def test_a_runs_stock_is_all_that_its_pots_take_and_a_little_more(cast):
    powder = build.receive_powder(cast.maker, strength_pct=D(80))
    build.bottle(cast.maker, [(powder, D("6.25"))], volume=500)
    (making,) = worked(cast.maker, stock(powder.dye, "1.35", 1), pots=3).stock
    assert (making.need, making.each) == (405, (135, 135, 135))
    assert making.volume == 450  # 425.25 rounded up
    assert weighed(making) == [(powder, D("5.625"), D("5.63"))]


def test_what_the_plan_tells_and_what_is_made_up_are_one_number(cast):
    """As the syringe reads it, whatever the pots' amounts add up to; what is to spare is in the volume alone."""
    powder = build.receive_powder(cast.maker)
    bottle = build.bottle(
        cast.maker, [(powder, D("0.2"))], volume=20, solution=build.make_solution(parts=[(powder.dye, 1)])
    )
    result = worked(cast.maker, stock(powder.dye, "0.226", 1), pots=3)
    told = [pot.lines[0].told for pot in result.pots]
    assert told == [23, 23, 23] and result.pots[0].lines[0].lot == bottle
    assert result.mixing[0].need == result.stock[0].need == 69 and result.stock[0].each == (23, 23, 23)
    (making,) = worked(cast.maker, stock(powder.dye, "0.0145", 1)).stock  # 1.45 mL
    assert (making.need, making.each, making.volume) == (1, (1,), 10)


def test_a_runs_stock_is_reckoned_as_strong_as_it_will_be_made(cast):
    """The bottle at hand turned out weak, and so much of it goes in; the new one is as strong as its master says."""
    powder = build.receive_powder(cast.maker)
    solution = build.make_solution(parts=[(powder.dye, 1)])
    build.bottle(cast.maker, [(powder, D(4))], volume=500, solution=solution)
    result = worked(cast.maker, stock(powder.dye, 1, 1))
    assert result.pots[0].lines[0].told == 125
    assert result.stock[0].need == 100


def test_a_runs_stock_comes_from_one_lot_where_one_has_enough(cast):
    dye = build.make_dye()
    build.receive_powder(cast.maker, dye, grams=1, at=build.hours(-48))
    enough = build.receive_powder(cast.maker, dye, grams=50)
    (making,) = worked(cast.maker, stock(dye, 1, 1), pots=4).stock
    assert [part.lot for part in making.parts] == [enough]
