"""A recipe on other yarn: other weights, pots, bases, bottles and vessels."""

from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from recipes.models import Basis, How, Ingredient, RecipeStep
from recipes.moving import versions_for
from recipes.offers import lots_for
from recipes.planning import plan
from recipes.plans import Load, Wishes
from studio.models import Studio, Tool
from tests import builders as build

D = Decimal
DYEABLE = Wishes(hold="dyeable")


def version(by, *ingredients, bases=(), **facts):
    facts = {"fibre_g": D(100)} | facts
    recipe = build.colourway(by).next_version(by=by, now=build.NOON, **facts)
    recipe.write([(RecipeStep(), [each]) for each in ingredients])
    recipe.bases.set(bases)
    return recipe


def worked(recipe, *loads, wishes=None, tools=(), chosen=None):
    return plan(recipe, loads, lots_for(recipe), list(tools), Studio(), chosen=chosen, wishes=wishes)


def one_dye(by, depth=1, **facts):
    return version(by, build.ingredient(build.receive_powder(by, grams=5000).dye, depth), **facts)


def on(*bases, grams=100, **facts):
    return Load(fibre_g=D(grams), bases=bases, **facts)


def dye_g(recipe, *loads, wishes=None):
    return [pot.dye_g for pot in worked(recipe, *loads, wishes=wishes).pots]


@pytest.fixture
def wool(db):
    return build.make_base("Wend DK", fibres=[("wool", 100)])


@pytest.fixture
def tweed(db):
    return build.make_base("Skerry", fibres=[("wool", 75), ("polyester", 25)])


@pytest.fixture
def sail(db):
    return build.make_base("Sailcloth", fibres=[("polyester", 100)])


def test_of_paint_no_base_is_said_to_get_more_or_less(cast, wool, tweed):
    thirsty = build.make_base("Moor", fibres=[("wool", 75), ("polyester", 25)], dye_factor_pct=D(92))
    powder = build.receive_powder(cast.maker)
    painted = Ingredient(
        dye=powder.dye, amount=D(5), basis=Basis.PER_SKEIN, unit="mL", strength_pct=D(1), how=How.PAINTED
    )
    moved = worked(version(cast.maker, painted), on(thirsty, skeins=1), wishes=DYEABLE).moved
    said = " ".join(moved.bases[0].said)
    assert "own factor for it, 92\u00a0%, is not used: what is painted keeps its strength." in said
    assert "times the dye" not in said and not moved.asks_hold
    both = version(cast.maker, build.ingredient(powder.dye, 1), painted)
    moved = worked(both, on(thirsty, skeins=1)).moved
    assert moved.asks_hold and "It gets 0.92 times the dye, but for what is painted" in " ".join(moved.bases[0].said)


# --- by whole pots


def test_each_pot_gets_what_a_pot_of_the_notebook_got(cast):
    acid = build.receive_assistant(cast.maker, build.make_assistant(unit="g")).assistant
    powder = build.receive_powder(cast.maker)
    recipe = version(
        cast.maker,
        build.ingredient(powder.dye, 1),
        build.ingredient(acid, 2, Basis.PER_L, unit="g"),
        build.ingredient(acid, 3, Basis.PER_SKEIN, unit="g"),
        build.ingredient(acid, 8, Basis.FIXED, unit="g"),
        build.ingredient(acid, 4, Basis.PER_POT, unit="g"),
        scales="pots",
        fibre_g=D(200),
        skeins=2,
        pots=2,
        liquor_ratio=D(20),
    )
    result = worked(recipe, on(grams=100, skeins=1), on(grams=104, skeins=1))
    assert [[line.exact for line in pot.lines] for pot in result.pots] == [[1, 4, 3, 4, 4]] * 2
    assert [pot.water_ml for pot in result.pots] == [2000, 2000]
    assert result.warnings == []


def test_a_pot_that_holds_much_more_is_said_with_how_pale_it_comes_out(cast):
    result = worked(one_dye(cast.maker, scales="pots"), on(grams=200, skeins=2))
    (said,) = result.warnings
    assert "holds 200\u00a0g of yarn and one of the notebook's 100\u00a0g" in said
    assert said.endswith("so it comes out paler, at 50\u00a0% of the depth.")
    assert result.pots[0].depth_pct == D("0.5")


def test_a_person_may_let_it_follow_the_weight_after_all(cast):
    recipe = one_dye(cast.maker, scales="pots")
    assert dye_g(recipe, on(grams=200), wishes=Wishes(scales="weight")) == [2]
    assert worked(recipe, on(grams=200)).moved.asks_scales
    assert not worked(recipe, on(grams=100)).moved.asks_scales


def test_what_is_said_for_each_pot_follows_the_weight_too_where_that_is_chosen(cast):
    """0.62 g for each pot of 100 g is 1.86 g in one of 300 g: dye = W x D / 100, with D = 0.62 % owf."""
    acid = build.receive_assistant(cast.maker, build.make_assistant(unit="mL")).assistant
    lines = (
        Ingredient(water=True, amount=D(700), basis=Basis.PER_POT, unit="mL", how="added"),
        build.ingredient(build.receive_powder(cast.maker).dye, D("0.62"), Basis.PER_POT, unit="g", estimated=True),
        build.ingredient(acid, 15, Basis.PER_POT, unit="mL"),
    )
    of_jars = {"fibre_g": D(600), "skeins": 6, "pots": 6}
    by_jars = version(cast.maker, *lines, scales="pots", **of_jars)
    (pot,) = worked(by_jars, on(grams=300, skeins=3), wishes=Wishes(scales="weight")).pots
    assert [line.exact for line in pot.lines] == [2100 - 45, D("1.86"), 45]
    assert pot.lines[1].basis == "about 0.62\u00a0g for each 100\u00a0g of yarn"
    assert pot.depth_pct == D("0.62")
    (pot,) = worked(by_jars, on(grams=300, skeins=3)).pots
    assert [line.exact for line in pot.lines] == [700 - 15, D("0.62"), 15]
    assert pot.lines[1].basis == "about 0.62\u00a0g for each pot"


def test_a_recipe_by_weight_offers_pots_only_where_they_could_be_meant(cast):
    recipe = one_dye(cast.maker)
    assert worked(recipe, on(grams=115)).moved.asks_scales
    assert not worked(recipe, on(grams=600)).moved.asks_scales
    assert dye_g(recipe, on(grams=115), wishes=Wishes(scales="pots")) == [1]


# --- another base


def test_depth_is_held_on_all_or_on_the_part_that_takes_the_dye(cast, tweed):
    recipe = one_dye(cast.maker)
    assert dye_g(recipe, on(tweed)) == [1]
    assert dye_g(recipe, on(tweed), wishes=DYEABLE) == [D("0.75")]
    (moved,) = worked(recipe, on(tweed), wishes=DYEABLE).moved.bases
    assert "The depth is held on that part, with 0.75 times the dye, and the rest stays" in moved.said[0]


def test_what_the_version_was_written_for_counts(cast, wool, tweed):
    assert dye_g(one_dye(cast.maker, bases=[tweed]), on(tweed), wishes=DYEABLE) == [1]
    (onto_wool,) = dye_g(one_dye(cast.maker, bases=[tweed]), on(wool), wishes=DYEABLE)
    assert round(onto_wool, 4) == D("1.3333")
    (moved,) = worked(one_dye(cast.maker, bases=[tweed]), on(wool)).moved.bases
    assert "All of it takes dye" in moved.said[0] and "75\u00a0% of what the version was written for" in moved.said[0]
    assert "is 1\u00a0% on that part instead of 1.33\u00a0%" in moved.said[0]


def test_two_bases_in_one_pot_count_by_their_weight(cast, wool, tweed):
    load = on(wool, tweed, grams=400, base_g={wool.pk: D(100), tweed.pk: D(300)})
    assert dye_g(one_dye(cast.maker), load, wishes=DYEABLE) == [D("3.25")]  # 1 of 100 g, 2.25 of 300 g


def test_each_pot_may_have_a_base_of_its_own(cast, wool, tweed):
    assert dye_g(one_dye(cast.maker), on(wool), on(tweed), wishes=DYEABLE) == [1, D("0.75")]


def test_yarn_that_nobody_knows_the_base_of_takes_it_all(cast, tweed):
    load = on(tweed, grams=200, base_g={tweed.pk: D(100)})
    assert dye_g(one_dye(cast.maker), load, wishes=DYEABLE) == [D("1.75")]


def test_the_studios_own_factor_is_of_the_dye_alone_and_said(cast, wool):
    thirsty = build.make_base("Fell", fibres=[("wool", 100)], dye_factor_pct=D(110))
    acid = build.receive_assistant(cast.maker)
    recipe = version(
        cast.maker, build.ingredient(build.receive_powder(cast.maker).dye, 1), build.ingredient(acid.assistant, 2)
    )
    result = worked(recipe, on(thirsty))
    red, vinegar = result.pots[0].lines
    assert (red.exact, vinegar.exact) == (D("1.1"), 2)
    assert (red.basis, vinegar.basis) == ("1\u00a0% owf, \u00d7 1.1", "2\u00a0mL for each 100 g")
    (moved,) = result.moved.bases
    assert moved.said == ("It gets 1.1 times the dye: the studio's own factor for it is 110\u00a0%.",)
    half = on(wool, thirsty, grams=200, base_g={wool.pk: D(100), thirsty.pk: D(100)})
    assert dye_g(recipe, half) == [D("2.1")]


def test_a_version_written_for_a_base_is_taken_as_it_stands(cast, wool):
    thirsty = build.make_base("Fell", fibres=[("wool", 100)], dye_factor_pct=D(125))
    recipe = one_dye(cast.maker, bases=[thirsty])
    result = worked(recipe, on(thirsty), on(wool))
    assert [pot.dye_g for pot in result.pots] == [1, D("0.8")]
    assert "125\u00a0%, is not used" in result.moved.bases[0].said[0]
    assert "against 125\u00a0% for the version's own base" in result.moved.bases[1].said[0]


def test_what_is_painted_keeps_strength_and_volume_on_any_base(cast):
    thirsty = build.make_base("Fell", fibres=[("wool", 50), ("polyester", 50)], dye_factor_pct=D(150))
    powder = build.receive_powder(cast.maker)
    build.bottle(cast.maker, [(powder, D("1.25"))])
    line = Ingredient(
        dye=powder.dye, amount=5, unit="mL", strength_pct=D("0.5"), basis=Basis.PER_SKEIN, how=How.PAINTED
    )
    (painted,) = worked(version(cast.maker, line), on(thirsty, skeins=1), wishes=DYEABLE).pots[0].lines
    assert (painted.exact, painted.note) == (5, "")


def test_a_base_that_takes_none_says_which_class_would(cast, sail):
    result = worked(one_dye(cast.maker), on(sail), wishes=DYEABLE)
    (moved,) = result.moved.bases
    (said,) = moved.calls
    assert "None of its fibre takes dye of the class \u201cAcid, milling\u201d fully" in said
    assert "Dye of the class \u201cDisperse\u201d would." in said
    assert said.endswith("There is no part to hold the depth on, so it is of the whole weight.")
    assert result.pots[0].dye_g == 1


def test_content_that_is_not_complete_is_said_and_never_guessed(cast):
    odd = build.make_base("Odd ends", fibres=[("wool", 60)])
    result = worked(one_dye(cast.maker), on(odd), wishes=DYEABLE)
    (moved,) = result.moved.bases
    assert "not complete" in moved.said[0] and "reckoned as if all of it did" in moved.said[0]
    assert (result.pots[0].dye_g, result.moved.asks_hold) == (1, True)


def test_fibres_that_take_the_dye_unequally_are_one_plain_caution(cast):
    sock = build.make_base("Tessel", fibres=[("wool", 75), ("nylon", 25)])
    (moved,) = worked(one_dye(cast.maker), on(sock)).moved.bases
    assert moved.said == (
        "Its wool and nylon both take the dye, but not equally. Nylon is the quicker one, and can come out darker in "
        "pale shades.",
    )
    assert not moved.differs
    (named,) = worked(one_dye(cast.maker, bases=[sock]), on(sock)).moved.bases
    assert named.said == ()


def test_another_version_for_the_base_is_offered_the_newest(cast, wool, tweed, sail):
    recipe = one_dye(cast.maker, bases=[wool])
    assert worked(recipe, on(tweed)).moved.written_for == ("Version 1 was written for Wend DK, not for Skerry.")
    second, third = (build.recipe(cast.maker, recipe.colourway) for _ in range(2))
    second.bases.set([tweed])
    third.bases.set([tweed, sail])
    other = one_dye(cast.maker, bases=[tweed])
    assert versions_for(recipe, [wool, tweed]) == [(third, "Skerry")]
    assert versions_for(recipe, [wool]) == []
    assert versions_for(third, [wool, tweed]) == [(recipe, "Wend DK")]
    assert versions_for(other, [tweed]) == []


# --- the bath


def test_alike_pots_that_cap_their_water_are_one_sentence(cast):
    small = build.make_vessel("Little pot", volume_ml=6000, fill_ml=4000)
    result = worked(
        one_dye(cast.maker, liquor_ratio=D(20)), *[on(grams=300, skeins=3, vessel=small)] * 3, on(grams=300)
    )
    (said,) = result.warnings
    assert said.startswith("Little pot takes 4\u00a0L: pots 1 to 3 have 13.3:1, not 20:1.")
    assert said.endswith("Usual in a pot is 20:1 to 40:1: crowded yarn dyes unevenly.")


def water(amount, unit, basis):
    return Ingredient(water=True, amount=D(amount), unit=unit, basis=basis, how="added")


@pytest.mark.parametrize(
    "said, facts",
    [
        pytest.param((2, "L", "per_pot"), {}, id="for each pot"),
        pytest.param((2, "L", "per_pot"), {"scales": "pots"}, id="for each pot, by whole pots"),
        pytest.param((20, ":1", "ratio"), {"scales": "pots"}, id="by ratio of the notebook's yarn"),
    ],
)
def test_whole_pots_of_more_yarn_in_the_same_water_are_warned_of(cast, said, facts):
    amount, unit, basis = said
    amount = amount * 1000 if unit == "L" else amount
    lines = [
        water(amount, "mL" if unit == "L" else unit, basis),
        build.ingredient(build.receive_powder(cast.maker).dye, 1),
    ]
    recipe = version(cast.maker, *lines, method="pot", **facts)
    crowded = "2 have 6.67:1, and a pot of version 1 has 20:1: the yarn is crowded. "
    found = worked(recipe, on(grams=300, skeins=3), on(grams=300, skeins=3)).warnings
    assert f"Pots 1 and {crowded}Usual in a pot is 20:1 to 40:1: crowded yarn dyes unevenly." in found
    assert not any("is crowded" in one for one in worked(recipe, on(), on(grams=105)).warnings), "as in the notebook"


def test_jars_with_less_water_than_the_notebook_are_warned_of_too(cast):
    lines = [water(800, "mL", "per_pot"), build.ingredient(build.receive_powder(cast.maker).dye, 1)]
    recipe = version(cast.maker, *lines, method="jar", scales="pots")
    (said,) = [one for one in worked(recipe, on(grams=150, skeins=1)).warnings if "crowded" in one.lower()]
    assert said == "Pot 1 has 5.33:1, and a pot of version 1 has 8:1: the yarn is crowded. Crowded yarn dyes unevenly."


def test_a_pot_that_caps_less_than_the_notebook_gave_says_both(cast):
    small = build.make_vessel("Little pot", volume_ml=2000, fill_ml=1500)
    lines = [water(20, ":1", "ratio"), build.ingredient(build.receive_powder(cast.maker).dye, 1)]
    found = worked(version(cast.maker, *lines, scales="pots"), on(grams=300, skeins=3, vessel=small)).warnings
    assert found[0].startswith("Little pot takes 1.5\u00a0L: pot 1 has 5:1, not 6.67:1.")
    assert "Pot 1 has 5:1, and a pot of version 1 has 20:1: the yarn is crowded." in found[0]


def test_many_pots_are_said_by_their_stretches(cast):
    small, recipe = build.make_vessel("Jar", volume_ml=900, fill_ml=800), one_dye(cast.maker, liquor_ratio=D(20))
    full, free = on(vessel=small), on()
    (said,) = worked(recipe, free, free, *[full] * 9, free, *[full] * 2).warnings
    assert said.startswith("Jar takes 800\u00a0mL: pots 3 to 11, 13 and 14 have 8:1, not 20:1.")


def test_jars_are_called_jars_where_they_cap_their_water(cast):
    jars = build.make_vessel("Jam jars", kind="jar", how_many=8, volume_ml=900, fill_ml=800)
    (said,) = worked(one_dye(cast.maker, liquor_ratio=D(20)), *[on(vessel=jars)] * 2).warnings
    assert said.startswith("One of “Jam jars” takes 800\u00a0mL: jars 1 and 2 have 8:1, not 20:1.")


def test_a_pot_filled_for_little_yarn_is_said(cast):
    large = build.make_vessel("Vat", volume_ml=30000, fill_ml=20000)
    (said,) = worked(one_dye(cast.maker), on(grams=100, skeins=1, vessel=large)).warnings
    assert said == "Pot 1 has 200:1. Usual in a pot is 20:1 to 40:1: more dye stays in so much water."
    assert worked(one_dye(cast.maker, method="jar"), on(grams=100, skeins=1, vessel=large)).warnings == []


@pytest.mark.parametrize(
    "facts, said",
    [
        ({"volume_ml": 80, "fill_ml": 60}, "takes 60\u00a0mL, and one skein weighs 100\u00a0g: it can't be covered"),
        ({"skeins": 0}, "takes no skein, by what the studio says of it"),
    ],
)
def test_a_vessel_smaller_than_one_skein_is_refused(cast, facts, said):
    vessel = build.make_vessel("Egg cup", **facts)
    with pytest.raises(ValueError, match=said):
        worked(one_dye(cast.maker, liquor_ratio=D(20)), on(grams=200, skeins=2, vessel=vessel))


# --- other bottles


def test_a_painted_mix_keeps_its_strength_too(cast):
    red, blue = build.receive_powder(cast.maker), build.receive_powder(cast.maker)
    mix = build.make_solution("Dusk", parts=[(red.dye, D("0.5")), (blue.dye, D("0.5"))])
    build.bottle(cast.maker, [(red, D("2.5")), (blue, D("2.5"))], volume=250, solution=mix)
    line = build.ingredient(mix, 10, Basis.PER_SKEIN, unit="mL", how=How.PAINTED)
    (painted,) = worked(version(cast.maker, line), on(skeins=2)).pots[0].lines
    assert (painted.exact, painted.note) == (10, "Dilute first: bring it to 20\u00a0mL with water.")
    weak = build.make_solution("Dawn", parts=[(red.dye, 2)])
    build.bottle(cast.maker, [(red, D("2.5"))], volume=250, solution=weak)
    line = build.ingredient(weak, 10, Basis.PER_SKEIN, unit="mL", how=How.PAINTED)
    (painted,) = worked(version(cast.maker, line), on(skeins=2)).pots[0].lines
    assert painted.exact == 20
    assert painted.problem.startswith("This bottle is only 50\u00a0% as strong as its mix says")


def test_a_bottle_of_a_mix_without_its_dyes_is_said_and_not_offered(cast):
    dye = build.make_dye()
    acid = build.receive_assistant(cast.maker, build.make_assistant(unit="g"))
    mix = build.make_solution("Dusk", parts=[(dye, 1)])
    build.bottle(cast.maker, [(acid, D(2))], solution=mix)
    result = worked(version(cast.maker, build.ingredient(mix, 10, Basis.PER_SKEIN, unit="mL")), on(skeins=1))
    assert result.warnings[-1].startswith("A bottle of Dusk holds none of its dyes")
    assert result.pots[0].lines[0].lot is None


def test_a_version_without_dye_is_said(cast):
    alum = build.receive_assistant(cast.maker, build.make_assistant("Alum", unit="g"))
    (said,) = worked(version(cast.maker, build.ingredient(alum.assistant, 12)), on()).warnings
    assert said.startswith("There is no dye in this version.")


def test_none_of_a_dye_in_a_pot_is_no_line_and_less_than_none_is_refused(cast):
    recipe = one_dye(cast.maker)
    dye = recipe.steps.get().ingredients.get().dye
    without, with_it = worked(recipe, on(dye_factors={dye.pk: D(0)}), on()).pots
    assert (without.lines, len(with_it.lines)) == ([], 1)
    with pytest.raises(ValueError, match="less than nothing"):
        worked(recipe, on(dye_factors={dye.pk: D(-1)}))


# --- whatever the numbers

amounts = st.decimals("0.000001", 200, places=6)
weights = st.decimals(1, 5000, places=3)
loads = st.lists(st.tuples(weights, st.integers(1, 30)), min_size=1, max_size=6)
many = settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)


def tools():
    return [
        Tool(kind="scale", name="Fine", step=D("0.01"), largest=D(200)),
        Tool(kind="scale", name="Large", step=D(1), largest=D(5000)),
        Tool(kind="syringe", name="Syringe", step=D("0.2"), largest=D(10)),
        Tool(kind="cylinder", name="Cylinder", step=D(1), largest=D(1000)),
    ]


@pytest.fixture
def every_basis(cast):
    """A function that makes a version with each basis once, of one amount."""
    powder = build.receive_powder(cast.maker, grams=10**6)
    build.bottle(cast.maker, [(powder, D("9.7"))], volume=1000)
    acid = build.receive_assistant(cast.maker, build.make_assistant(unit="g"), amount=10**6).assistant
    recipe = version(
        cast.maker,
        build.ingredient(powder.dye, 1),
        build.ingredient(powder.dye, 1, strength_pct=D(1), how=How.BOTTLE),
        build.ingredient(acid, 1, Basis.PER_L, unit="g"),
        build.ingredient(acid, 1, Basis.PER_SKEIN, unit="g"),
        build.ingredient(acid, 1, Basis.PER_POT, unit="g"),
        build.ingredient(acid, 1, Basis.FIXED, unit="g"),
        liquor_ratio=D(20),
        fibre_g=D(100),
        skeins=1,
    )
    shelf = lots_for(recipe)
    ingredients = [each for step in recipe.steps.all() for each in step.ingredients.all()]

    def planned(amount, loads, wishes=None, **facts):
        for each in ingredients:
            each.amount = amount
        for name, value in facts.items():
            setattr(recipe, name, value)
        loads = [Load(fibre_g=grams, skeins=skeins) for grams, skeins in loads]
        return plan(recipe, loads, shelf, tools(), Studio(), wishes=wishes).pots

    return planned


def alike(one, other):
    return abs(one - other) <= max(abs(one), abs(other)) * D("1e-20")


@many
@given(amount=amounts, loads=loads)
def test_each_basis_follows_its_own(every_basis, amount, loads):
    total = sum(grams for grams, _ in loads)
    for pot, (grams, skeins) in zip(every_basis(amount, loads), loads, strict=True):
        powder, bottle, per_l, per_skein, per_pot, fixed = pot.lines
        assert powder.exact == grams * amount / 100
        assert alike(bottle.exact, grams * amount / 100 / D("0.0097"))
        assert per_l.exact == grams * 20 * amount / 1000
        assert (per_skein.exact, per_pot.exact) == (amount * skeins, amount)
        assert alike(fixed.exact, amount * grams / total)


@many
@given(amount=amounts, loads=loads)
def test_parts_of_a_run_add_up_to_the_whole(every_basis, amount, loads):
    (whole,) = every_basis(amount, [(sum(grams for grams, _ in loads), sum(skeins for _, skeins in loads))])
    pots = every_basis(amount, loads)
    for place in (0, 2, 3, 5):
        assert sum(pot.lines[place].exact for pot in pots) == whole.lines[place].exact
    assert alike(sum(pot.lines[1].exact for pot in pots), whole.lines[1].exact)
    assert sum(pot.lines[4].exact for pot in pots) == whole.lines[4].exact * len(loads)


@many
@given(amount=amounts, grams=weights, skeins=st.integers(1, 30), times=st.integers(2, 40))
def test_scaling_up_and_back_is_exact_before_it_is_rounded_for_a_tool(every_basis, amount, grams, skeins, times):
    (one,), (more,) = every_basis(amount, [(grams, skeins)]), every_basis(amount, [(grams * times, skeins * times)])
    for place in (0, 2, 3):
        assert more.lines[place].exact / times == one.lines[place].exact
    assert alike(more.lines[1].exact / times, one.lines[1].exact)


@many
@given(amount=amounts, loads=loads)
def test_by_whole_pots_every_pot_gets_the_same_whatever_it_weighs(every_basis, amount, loads):
    pots = every_basis(amount, loads, Wishes(scales="pots"))
    for pot in pots:
        assert [line.exact for line in pot.lines] == [line.exact for line in pots[0].lines]
    assert pots[0].lines[0].exact == amount


@many
@given(amount=amounts, loads=loads)
def test_nothing_is_negative_and_what_rounds_to_nothing_is_said(every_basis, amount, loads):
    for pot in every_basis(amount, loads):
        for line in pot.lines:
            assert line.exact > 0 and line.told > 0
            step = Tool.step_for(line.exact, line.unit, tools())
            if line.exact < step / 2:
                assert line.problem
            elif abs(line.told - line.exact) > line.exact * D(
                "0.087"
            ):  # half a step whose u is 5 %: sqrt(3) times that
                assert line.problem or line.note
