"""A recipe worked out for pots, bottles, powder lots and tools."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from recipes.models import Basis, How, Ingredient, RecipeStep
from recipes.offers import lots_for
from recipes.planning import plan
from recipes.plans import Load, Wishes
from studio.models import LotCorrection, Studio, Tool
from tests import builders as build

D = Decimal


def worked(recipe, *loads, tools=None, chosen=None, promised=None):
    tools = list(Tool.objects.all()) if tools is None else tools
    return plan(recipe, loads, lots_for(recipe, promised), tools, Studio.get(), chosen)


def load(grams, **facts):
    return Load(fibre_g=D(grams), **facts)


def from_bottle(dye, depth, strength, **facts):
    return Ingredient(
        dye=dye, amount=D(depth), unit="%", basis=Basis.OWF, strength_pct=D(strength), how=How.BOTTLE, **facts
    )


def water(amount, basis=Basis.RATIO, unit=":1"):
    return Ingredient(water=True, amount=D(amount), basis=basis, unit=unit)


def version(by, *ingredients, fibre_g=100, kind=RecipeStep.Kind.ADD, **facts):
    recipe = build.colourway(by).next_version(by=by, now=build.NOON, fibre_g=D(fibre_g), **facts)
    recipe.write([(RecipeStep(kind=kind), [each]) for each in ingredients])
    return recipe


@pytest.fixture
def bench(db):
    return [
        build.make_tool("Jeweller's scale", "scale", "0.01", largest=200),
        build.make_tool("Kitchen scale", "scale", "1", largest=5000),
        build.make_tool("Small syringe", "syringe", "0.2", largest=10),
        build.make_tool("Cylinder", "cylinder", "1", largest=250),
    ]


def only_line(worked):
    (line,) = worked.pots[0].lines
    return line


# --- amounts


def test_the_bottles_true_strength_counts(cast, bench):
    powder = build.receive_powder(cast.maker)
    lot = build.bottle(cast.maker, [(powder, D("4.87"))], volume=500)
    line = only_line(worked(version(cast.maker, from_bottle(powder.dye, 1, 1)), load(100)))
    assert line.lot == lot
    assert line.exact.quantize(D("0.01")) == D("102.67")
    assert (line.told, line.dye_g) == (103, 1)


def test_a_weak_powder_lot_takes_more(cast, bench):
    lot = build.receive_powder(cast.maker, strength_pct=D(85))
    line = only_line(worked(version(cast.maker, build.ingredient(lot.dye, 9)), load(100)))
    assert (line.told, line.unit, line.dye_g) == (D("10.59"), "g", 9)


def test_a_corrected_strength_is_the_one_that_counts(cast, bench):
    lot = build.receive_powder(cast.maker)
    LotCorrection.objects.create(lot=lot, strength_pct=D(50), recorded_at=build.NOON, by=cast.maker)
    assert only_line(worked(version(cast.maker, build.ingredient(lot.dye, 1)), load(100))).told == 2


def test_a_bottle_of_weak_powder_gives_more(cast, bench):
    powder = build.receive_powder(cast.maker, strength_pct=D(80))
    build.bottle(cast.maker, [(powder, D("2.5"))])
    line = only_line(worked(version(cast.maker, from_bottle(powder.dye, 1, 1)), load(100)))
    assert line.told == 125


@pytest.mark.parametrize(
    "basis, unit, amount, told",
    [
        pytest.param(Basis.OWF, "%", 2, [6, 3], id="follows the yarn"),
        pytest.param(Basis.PER_L, "g", 1, [6, 3], id="follows the bath"),
        pytest.param(Basis.PER_SKEIN, "g", 1, [3, 2], id="follows the skeins"),
        pytest.param(Basis.PER_POT, "g", 5, [5, 5], id="the same for each pot"),
        pytest.param(Basis.FIXED, "g", 9, [6, 3], id="shared out over the pots"),
    ],
)
def test_each_basis_follows_its_own(cast, bench, basis, unit, amount, told):
    lot = build.receive_assistant(cast.maker, build.make_assistant(unit="g"))
    recipe = version(cast.maker, build.ingredient(lot.assistant, amount, basis, unit=unit), liquor_ratio=D(20))
    pots = worked(recipe, load(300, skeins=3), load(150, skeins=2)).pots
    assert [pot.lines[0].told for pot in pots] == told


def test_what_is_for_all_adds_up_over_three_pots(cast, bench):
    lot = build.receive_assistant(cast.maker)
    recipe = version(cast.maker, build.ingredient(lot.assistant, 100, Basis.FIXED, unit="mL"))
    parts = [pot.lines[0].exact for pot in worked(recipe, load(100), load(100), load(100)).pots]
    assert sum(parts) == 100


def test_equal_pots_get_equal_amounts_that_add_up_to_the_total(cast, bench):
    powder = build.receive_powder(cast.maker)
    build.bottle(cast.maker, [(powder, D("5"))], volume=500)
    result = worked(version(cast.maker, from_bottle(powder.dye, "0.3", 1)), load(300), load(300))
    (total,) = result.totals
    assert {pot.lines[0].told for pot in result.pots} == {90}
    assert (total.told, total.exact, total.short) == (180, 180, 0)


def test_a_liquid_follows_the_yarn_in_ml_for_100_g(cast, bench):
    lot = build.receive_assistant(cast.maker)
    line = only_line(worked(version(cast.maker, build.ingredient(lot.assistant, "2.5")), load(600)))
    assert (line.told, line.unit) == (15, "mL")
    assert line.basis == "2.5\u00a0mL for each 100 g"


def test_by_eye_stays_unknown(cast, bench):
    lot = build.receive_powder(cast.maker)
    line = only_line(worked(version(cast.maker, by_eye(lot.dye)), load(100)))
    assert (line.exact, line.told, line.basis, line.dye_g) == (None, None, "by eye", None)
    assert line.lot == lot


def by_eye(dye):
    return Ingredient(dye=dye, amount=None, unit="g", basis=Basis.PER_POT, how=How.SPRINKLED)


def test_painted_keeps_strength_and_volume_for_each_skein(cast, bench):
    powder = build.receive_powder(cast.maker)
    build.bottle(cast.maker, [(powder, D("2.5"))])
    painted = Ingredient(
        dye=powder.dye,
        amount=5,
        unit="mL",
        strength_pct=D("0.5"),
        basis=Basis.PER_SKEIN,
        how=How.PAINTED,
        place="middle",
    )
    line = only_line(worked(version(cast.maker, painted), load(200, skeins=4)))
    assert (line.told, line.dye_g, line.place) == (10, D("0.1"), "middle")
    assert line.note == "Dilute first: bring it to 20\u00a0mL with water for 0.5\u00a0%."


def test_a_bottle_too_weak_to_paint_with_is_said(cast, bench):
    powder = build.receive_powder(cast.maker)
    build.bottle(cast.maker, [(powder, D("0.25"))])
    painted = Ingredient(
        dye=powder.dye, amount=5, unit="mL", strength_pct=D("0.5"), basis=Basis.PER_SKEIN, how=How.PAINTED
    )
    line = only_line(worked(version(cast.maker, painted), load(200, skeins=4)))
    assert line.told == 20
    assert "weaker than the 0.5\u00a0%" in line.problem


# --- the bath


def test_the_pot_caps_the_water_and_what_is_said_for_a_litre(cast, bench):
    acid = build.receive_assistant(cast.maker, build.make_assistant("Citric acid", unit="g"))
    dye = build.receive_powder(cast.maker)
    recipe = version(
        cast.maker,
        water(20),
        build.ingredient(acid.assistant, 2, Basis.PER_L, unit="g"),
        build.ingredient(dye.dye, 1),
    )
    small = build.make_vessel("Little pot", volume_ml=6000, fill_ml=4000)
    result = worked(recipe, load(300, vessel=small))
    bath, citric, red = result.pots[0].lines
    assert (bath.told, citric.told, red.told) == (4000, 8, 3)
    assert result.pots[0].water_ml == 4000
    assert "Little pot takes 4\u00a0L: pot 1 has 13.3:1, not 20:1." in result.warnings[0]


def test_a_soak_has_a_bath_of_its_own(cast, bench):
    wetting = build.receive_assistant(cast.maker)
    recipe = build.colourway(cast.maker).next_version(by=cast.maker, now=build.NOON, fibre_g=100, liquor_ratio=D(20))
    soak = RecipeStep(kind="soak", words="Soak:")
    recipe.write([(soak, [water(30), build.ingredient(wetting.assistant, 1, Basis.PER_L, unit="mL")])])
    pot = worked(recipe, load(100)).pots[0]
    assert [line.told for line in pot.lines] == [None, 3000, 3]
    assert pot.water_ml == 2000


def test_an_unknown_bath_is_said_not_guessed(cast, bench):
    acid = build.receive_assistant(cast.maker)
    line = only_line(
        worked(version(cast.maker, build.ingredient(acid.assistant, 2, Basis.PER_L, unit="mL")), load(100))
    )
    assert line.told is None
    assert line.problem.startswith("The bath is not known")


def test_what_the_bottles_bring_is_not_poured_twice(cast, bench):
    powder = build.receive_powder(cast.maker)
    build.bottle(cast.maker, [(powder, D("5"))], volume=500)
    lines = worked(version(cast.maker, water(20), from_bottle(powder.dye, 3, 1)), load(100)).pots[0].lines
    assert (lines[0].exact, lines[0].told) == (1700, 1700)
    assert lines[0].note == "The bottles bring 300\u00a0mL more: 2\u00a0L of bath in all."


def test_a_bottle_that_is_still_to_be_made_brings_its_water_too(cast, bench):
    dye, vinegar = build.make_dye(), build.make_assistant("Vinegar", unit="mL")
    acid = build.ingredient(vinegar, 100, Basis.PER_POT, unit="mL")
    lines = worked(version(cast.maker, water(20), from_bottle(dye, 3, "0.5"), acid), load(100)).pots[0].lines
    assert [line.lot for line in lines] == [None, None, None]
    assert [line.told for line in lines] == [1300, 600, 100]
    assert lines[0].note == "The bottles bring 700\u00a0mL more: 2\u00a0L of bath in all."


def test_what_is_told_of_a_bath_adds_up(cast, bench):
    powder = build.receive_powder(cast.maker)
    build.bottle(cast.maker, [(powder, D("5"))], volume=500)
    pan = build.make_vessel("Pan", kind="pan", volume_ml=800, fill_ml=715)
    (water_line, *_) = (
        worked(version(cast.maker, water(20), from_bottle(powder.dye, 3, 1)), load(100, vessel=pan)).pots[0].lines
    )
    assert (water_line.told, water_line.basis) == (415, "20:1, but no more fits")
    assert water_line.note == "The bottles bring 300\u00a0mL more: 715\u00a0mL of bath in all."


def test_the_water_of_a_jar_is_told_as_the_notebook_has_it(cast, bench):
    """715 mL stays 715 mL, and is not 720; 713 mL is what a jug of this size shows, 710."""
    for written, told in ((715, 715), (713, 710), (1250, 1300)):
        line = Ingredient(water=True, amount=D(written), unit="mL", basis=Basis.PER_POT)
        dye = build.ingredient(build.receive_powder(cast.maker).dye, 1)
        assert worked(version(cast.maker, line, dye), load(100)).pots[0].lines[0].told == told


def test_the_little_that_bottles_bring_to_a_little_bath_is_told_to_the_millilitre(cast, bench):
    powder = build.receive_powder(cast.maker)
    build.bottle(cast.maker, [(powder, D("5"))], volume=500)
    lines = worked(version(cast.maker, water(8), from_bottle(powder.dye, "0.3", 1)), load(10)).pots[0].lines
    assert lines[0].note == "The bottles bring 3\u00a0mL more: 80\u00a0mL of bath in all."


def test_more_in_the_bottles_than_the_bath_holds_is_said(cast, bench):
    powder = build.receive_powder(cast.maker)
    build.bottle(cast.maker, [(powder, D("5"))], volume=500)
    lines = worked(version(cast.maker, water(2), from_bottle(powder.dye, 3, 1)), load(100)).pots[0].lines
    assert "already hold more water than this bath" in lines[0].problem
    assert (lines[0].told, lines[0].note) == (0, "")


# --- what the hands can measure


def test_too_little_to_weigh_is_said_and_kept(cast, db):
    scale = build.make_tool("Scale", "scale", "0.1")
    lot = build.receive_powder(cast.maker)
    line = only_line(worked(version(cast.maker, build.ingredient(lot.dye, "0.012")), load(100), tools=[scale]))
    assert line.told == D("0.012")
    assert line.problem == (
        "0.012\u00a0g is too little to weigh on a scale that shows 0.1\u00a0g: take 6\u00a0mL of a 0.2\u00a0% bottle, "
        "or use a scale that shows 0.001\u00a0g."
    )


def test_what_repeats_badly_is_said_with_something_surer(cast, bench):
    lot = build.receive_powder(cast.maker)
    line = only_line(worked(version(cast.maker, build.ingredient(lot.dye, "0.03")), load(100)))
    assert line.told == D("0.03")
    assert line.note == (
        "0.03\u00a0g repeats only to \u00b1 14\u00a0% on a scale that shows 0.01\u00a0g: "
        "take 3\u00a0mL of a 1\u00a0% bottle, or use a scale that shows 0.001\u00a0g."
    )


# --- which lot


def test_the_oldest_lot_with_enough_is_taken(cast, bench):
    dye = build.make_dye()
    build.receive_powder(cast.maker, dye, grams=1, at=build.hours(-48))
    enough = build.receive_powder(cast.maker, dye, grams=50, at=build.hours(-24))
    build.receive_powder(cast.maker, dye, grams=50)
    assert only_line(worked(version(cast.maker, build.ingredient(dye, 2)), load(100))).lot == enough


def test_the_bottle_nearest_in_strength_is_taken(cast, bench):
    powder = build.receive_powder(cast.maker)
    build.bottle(cast.maker, [(powder, D("0.25"))], at=build.hours(-24))
    near = build.bottle(cast.maker, [(powder, D("2.6"))])
    assert only_line(worked(version(cast.maker, from_bottle(powder.dye, 1, 1)), load(100))).lot == near


def test_a_person_may_choose_the_powder_instead(cast, bench):
    powder = build.receive_powder(cast.maker)
    build.bottle(cast.maker, [(powder, D("2.5"))])
    recipe = version(cast.maker, from_bottle(powder.dye, 1, 1))
    (ingredient,) = Ingredient.objects.filter(step__recipe=recipe)
    line = only_line(worked(recipe, load(100), chosen={ingredient.pk: powder.pk}))
    assert (line.lot, line.told, line.unit) == (powder, 1, "g")


def test_powder_instead_of_a_bottle_is_dissolved_first(cast, bench):
    powder = build.receive_powder(cast.maker)
    recipe = version(cast.maker, from_bottle(powder.dye, 1, 1), build.ingredient(powder.dye, 1))
    first, second = Ingredient.objects.filter(step__recipe=recipe).order_by("step__position")
    (pot,) = worked(recipe, load(100), chosen={first.pk: powder.pk, second.pk: powder.pk}).pots
    assert [line.note for line in pot.lines] == ["Dissolve it first.", ""]
    once = plan(
        recipe,
        [load(100), load(100)],
        lots_for(recipe),
        bench,
        Studio.get(),
        {first.pk: powder.pk},
        Wishes(weigh_once=frozenset({first.pk})),
    )
    assert "Weighed once" in once.pots[0].lines[0].note and "Dissolve it first" not in once.pots[0].lines[0].note


def test_what_other_plans_have_spoken_for_is_not_free(cast, bench):
    powder = build.receive_powder(cast.maker, grams=10)
    result = worked(version(cast.maker, build.ingredient(powder.dye, 4)), load(100), promised={powder.pk: D(9)})
    said = result.shortages[0].sentence
    assert said.endswith(
        "is 3\u00a0g short: 4\u00a0g is needed, and of the 10\u00a0g there 1\u00a0g is free, as other plans are "
        "promised the rest. Buy at least 3\u00a0g."
    )


def test_a_bottle_past_its_date_is_said(cast, bench):
    powder = build.receive_powder(cast.maker)
    build.bottle(cast.maker, [(powder, D("2.5"))], use_by=build.DAY - timedelta(days=400))
    line = only_line(worked(version(cast.maker, from_bottle(powder.dye, 1, 1)), load(100)))
    assert line.note == "Its use-by date has passed: test it first."


# --- what is short


def test_a_short_bottle_says_what_to_make(cast, bench):
    powder = build.receive_powder(cast.maker, build.make_dye("Ochre"), grams=55)
    build.bottle(cast.maker, [(powder, D("0.45"))], volume=45)
    (short,) = worked(version(cast.maker, from_bottle(powder.dye, "0.9", 1)), load(100)).shortages
    assert short.sentence == "Ochre, 1\u00a0% is 45\u00a0mL short: 90\u00a0mL is needed and 45\u00a0mL is free."
    assert short.make.startswith(
        "To make 100\u00a0mL of 1\u00a0%, weigh 1\u00a0g of powder and bring it to 100\u00a0mL"
    )
    assert (short.making.volume, short.making.strength_pct, short.making.parts[0].amount) == (100, 1, 1)


def test_a_short_bottle_past_its_date_says_both(cast, bench):
    powder = build.receive_powder(cast.maker, build.make_dye("Ochre"), grams=55)
    build.bottle(cast.maker, [(powder, D("0.45"))], volume=45, use_by=build.DAY - timedelta(days=400))
    (short,) = worked(version(cast.maker, from_bottle(powder.dye, "0.9", 1)), load(100)).shortages
    assert "45\u00a0mL is free. It is past its use-by date too, " in short.sentence
    assert short.sentence.endswith(": test it first, or make all of it anew.")


def test_no_bottle_at_all_says_what_to_make(cast, bench):
    powder = build.receive_powder(cast.maker, build.make_dye("Ochre"), strength_pct=D(80))
    result = worked(version(cast.maker, from_bottle(powder.dye, 1, 1)), load(200))
    (short,) = result.shortages
    assert short.sentence == "There is no bottle of Ochre, 1\u00a0%, and 200\u00a0mL is needed."
    assert short.making.parts[0].amount == D("3.125")
    line = result.pots[0].lines[0]
    assert (line.lot, line.told, line.unit) == (None, 200, "mL")


def test_two_lines_of_one_bottle_are_short_together(cast, bench):
    powder = build.receive_powder(cast.maker)
    build.bottle(cast.maker, [(powder, D("1"))], volume=100)
    recipe = version(cast.maker, from_bottle(powder.dye, "0.6", 1), from_bottle(powder.dye, "0.6", 1))
    (short,) = worked(recipe, load(100)).shortages
    assert short.short == 20


def test_yarn_that_takes_only_part_of_the_dye_is_said(cast, bench):
    base = build.make_base("Sparrow", fibres=[("wool", 75), ("polyester", 25)])
    lot = build.receive_powder(cast.maker)
    (on,) = worked(version(cast.maker, build.ingredient(lot.dye, 1)), load(100, bases=(base,))).moved.bases
    (said,) = on.said
    assert said.startswith("75\u00a0% of it takes dye") and "1.33\u00a0% on that part" in said


# --- the whole


def test_the_lines_become_a_run(cast, bench):
    from batches.models import PlanLine, Run

    powder = build.receive_powder(cast.maker)
    build.bottle(cast.maker, [(powder, D("2.5"))])
    recipe = version(cast.maker, water(20), from_bottle(powder.dye, 1, 1))
    (pot,) = worked(recipe, load(100)).pots
    lines = [PlanLine(**line.facts()) for line in pot.lines]
    run = Run.plan(by=cast.maker, day=build.DAY, pots=[{"fibre_g": 100, "lines": lines}])
    kept = run.batches.get().plan.values_list("water", "told", "unit", "dye_g", "basis")
    assert list(kept) == [(True, 1900, "mL", None, "20:1"), (False, 100, "mL", 1, "1\u00a0% owf, from 1\u00a0%")]


def test_what_to_mind_of_a_line_is_kept_whole_whatever_things_are_called(cast, bench):
    """Every sentence at once: past its date, hardly to be measured, with names as long as the shelf takes them."""
    from batches.models import PlanLine, Run

    dye = build.make_dye("D" * 80)
    powder = build.receive_powder(cast.maker, dye)
    past = build.DAY - timedelta(days=400)
    build.bottle(cast.maker, [(powder, D("12.5"))], solution=build.make_solution("S" * 80, [(dye, 5)]), use_by=past)
    build.bottle(cast.maker, [(powder, D("1.25"))], solution=build.make_solution("T" * 80, [(dye, D("0.5"))]))
    build.make_tool("Y" * 60, "syringe", "0.01", largest=D("0.3"))
    recipe = version(cast.maker, from_bottle(dye, "0.035", 5))
    (pot,) = worked(recipe, load(100)).pots
    (line,) = pot.lines
    sentences = (line.problem, line.note)
    assert "use-by date" in line.note and "T" * 80 in line.note and "Y" * 60 in line.note
    run = Run.plan(by=cast.maker, day=build.DAY, pots=[{"fibre_g": 100, "lines": [PlanLine(**line.facts())]}])
    assert run.batches.get().plan.get().note == " ".join(sentence for sentence in sentences if sentence)


def test_no_sentence_of_a_line_is_cut(cast, bench):
    from batches.models import PlanLine, Run

    (pot,) = worked(version(cast.maker, water(20)), load(100)).pots
    line = replace(pot.lines[0], problem="It can't be measured. " * 90, note="Dilute first. " * 90)
    run = Run.plan(by=cast.maker, day=build.DAY, pots=[{"fibre_g": 100, "lines": [PlanLine(**line.facts())]}])
    assert run.batches.get().plan.get().note.count("Dilute first.") == 90


@pytest.mark.parametrize(
    "loads, said",
    [([], "There is no pot yet"), ([Load(fibre_g=D(0))], "A pot has no yarn"), ([Load(fibre_g=None)], "A pot has no")],
)
def test_nothing_to_reckon_with_is_refused_in_a_sentence(cast, loads, said):
    recipe = build.recipe(cast.maker)
    with pytest.raises(ValueError, match=said):
        worked(recipe, *loads)


def test_planning_asks_the_database_as_often_for_many_lines_as_for_one(cast, bench, django_assert_max_num_queries):
    def counted(number):
        dyes = [build.receive_powder(cast.maker) for _ in range(number)]
        for powder in dyes:
            build.bottle(cast.maker, [(powder, D("2.5"))])
        recipe = version(cast.maker, *(from_bottle(each.dye, "0.1", 1) for each in dyes))
        with django_assert_max_num_queries(13) as queries:
            worked(recipe, load(100), load(100), tools=bench)
        return len(queries)

    Studio.get()
    assert counted(1) == counted(8)


def test_more_than_can_be_right_is_said_and_never_written_down(cast, bench):
    # Kept, it would be promised: a few of these, and the sum of what is promised would be past what a table holds.
    lot = build.receive_powder(cast.maker)
    recipe = version(cast.maker, build.ingredient(lot.dye, 10**9, Basis.PER_SKEIN, unit="g"))
    with pytest.raises(ValueError, match="comes to more than can be right for one pot"):
        worked(recipe, load(100, skeins=1))
