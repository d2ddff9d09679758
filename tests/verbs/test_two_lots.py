"""What one jar or bottle has too little of, and somebody takes the rest of from another.

What is given in two parts holds the dye of the whole: m = V1 S1 / 100 + V2 S2 / 100, an identity of the definition of
% w/v; common practice, no source.
"""

from datetime import timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from recipes.models import How, Ingredient
from recipes.offers import lots_for
from recipes.planning import plan
from recipes.plans import Load, Wishes
from studio.models import Studio, Tool
from tests import builders as build
from tests.verbs.test_planning import from_bottle, version

D = Decimal


@pytest.fixture
def bench(db):
    return [build.make_tool("Scale", "scale", "0.01", largest=200), build.make_tool("Cylinder", "cylinder", "1", 250)]


def worked(recipe, *grams, rest=None, chosen=None, promised=None):
    loads, tools = [Load(fibre_g=D(each)) for each in grams], list(Tool.objects.all())
    found = Ingredient.objects.filter(step__recipe=recipe)
    wishes = Wishes(rest={each.pk: rest.pk for each in found if rest})
    return plan(recipe, loads, lots_for(recipe, promised), tools, Studio.get(), chosen, wishes)


@pytest.fixture
def ochre(cast):
    """(the powder, a bottle of 45 mL at 1 %, one of 200 mL at 0.5 %)"""
    powder = build.receive_powder(cast.maker, build.make_dye("Ochre"), grams=55)
    less = build.bottle(cast.maker, [(powder, D("0.45"))], volume=45, at=build.hours(-48))
    more = build.bottle(cast.maker, [(powder, D(1))], volume=200)
    return powder, less, more


def painted(dye, ml):
    return Ingredient(dye=dye, amount=D(ml), unit="mL", basis="per_skein", strength_pct=D(1), how=How.PAINTED)


def said(worked):
    return [[(line.lot, line.told, line.unit) for line in pot.lines] for pot in worked.pots]


def test_what_is_short_says_which_other_has_the_rest(cast, bench, ochre):
    powder, less, more = ochre
    recipe = version(cast.maker, from_bottle(powder.dye, "0.9", 1))
    key = Ingredient.objects.get(step__recipe=recipe).pk
    (short,) = worked(recipe, 100, chosen={key: less.pk}).shortages
    assert (short.ingredient.pk, short.rest.lot) == (key, more)


@pytest.mark.parametrize("why", ["too little", "spoken for", "past its date", "only powder", "too weak to paint with"])
def test_nothing_is_offered_that_has_not_the_rest(cast, bench, why):
    powder = build.receive_powder(cast.maker, build.make_dye("Ochre"), grams=55)
    less = build.bottle(cast.maker, [(powder, D("0.45"))], volume=45)
    promised, facts = {}, {}
    if why == "past its date":
        facts["use_by"] = build.DAY - timedelta(days=400)
    if why != "only powder":
        grams, volume = (D("0.4"), 80) if why == "too little" else (D(1), 200)
        more = build.bottle(cast.maker, [(powder, grams)], volume=volume, **facts)
        promised = {more.pk: D(150)} if why == "spoken for" else {}
    line = from_bottle(powder.dye, "0.9", 1)
    if why == "too weak to paint with":
        line = painted(powder.dye, 90)
    recipe = version(cast.maker, line)
    key = Ingredient.objects.get(step__recipe=recipe).pk
    (short,) = worked(recipe, 100, chosen={key: less.pk}, promised=promised).shortages
    assert short.rest is None


def test_the_rest_comes_from_the_other_at_its_own_strength(cast, bench, ochre):
    powder, less, more = ochre
    recipe = version(cast.maker, from_bottle(powder.dye, "0.9", 1))
    key = Ingredient.objects.get(step__recipe=recipe).pk
    result = worked(recipe, 100, rest=more, chosen={key: less.pk})
    assert said(result) == [[(less, 45, "mL"), (more, 90, "mL")]]  # 0.45 g and 0.45 g
    assert result.shortages == [] and result.mixing == [] and result.dye_g == D("0.9")
    assert [(total.lot, total.told, total.free) for total in result.totals] == [(less, 45, 45), (more, 90, 200)]
    first, second = (line.basis.replace("\xa0", " ") for line in result.pots[0].lines)
    assert (first, second) == ("0.9 % owf, from 1 %, with the next", "the rest of it, from the bottle of 14 Mar")


def test_each_pot_gets_the_same_of_both(cast, bench, ochre):
    """So that they match, and no pot is the first of another bottle."""
    powder, less, more = ochre
    recipe = version(cast.maker, from_bottle(powder.dye, "0.4", 1))
    key = Ingredient.objects.get(step__recipe=recipe).pk
    result = worked(recipe, 100, 100, rest=more, chosen={key: less.pk})
    assert said(result) == [[(less, 22, "mL"), (more, 36, "mL")]] * 2  # never more than the first one has
    assert result.dye_g == D("0.8") and result.shortages == []


def test_where_one_has_enough_the_other_is_left(cast, bench, ochre):
    powder, less, more = ochre
    recipe = version(cast.maker, from_bottle(powder.dye, "0.4", 1))
    key = Ingredient.objects.get(step__recipe=recipe).pk
    assert said(worked(recipe, 100, rest=more, chosen={key: less.pk})) == [[(less, 40, "mL")]]


def test_where_the_first_is_empty_all_comes_from_the_other(cast, bench, ochre):
    powder, less, more = ochre
    recipe = version(cast.maker, from_bottle(powder.dye, "0.4", 1))
    key = Ingredient.objects.get(step__recipe=recipe).pk
    result = worked(recipe, 100, rest=more, chosen={key: less.pk}, promised={less.pk: D(45)})
    assert said(result) == [[(more, 80, "mL")]]


def test_of_two_powder_lots_each_counts_by_its_strength_and_both_are_warned_of(cast, bench):
    dye = build.make_dye("Rust")
    first = build.receive_powder(cast.maker, dye, grams=3, at=build.hours(-24))
    weak = build.receive_powder(cast.maker, dye, grams=4, strength_pct=D(80))
    recipe = version(cast.maker, build.ingredient(dye, 5))
    key = Ingredient.objects.get(step__recipe=recipe).pk
    result = worked(recipe, 100, rest=weak, chosen={key: first.pk})
    assert said(result) == [[(first, 3, "g"), (weak, D("2.5"), "g")]]  # 2 g x 100 / 80
    assert any("Rust comes from two powder lots" in sentence for sentence in result.warnings)
    assert result.once == []  # what comes of two lots is not weighed as one


def test_what_is_painted_keeps_its_strength_and_all_its_volume(cast, bench):
    powder = build.receive_powder(cast.maker, build.make_dye("Ochre"), grams=55)
    less = build.bottle(cast.maker, [(powder, D("0.2"))], volume=20, at=build.hours(-24))
    strong = build.bottle(cast.maker, [(powder, D(2))], volume=100)
    recipe = version(cast.maker, painted(powder.dye, 30))
    key = Ingredient.objects.get(step__recipe=recipe).pk
    result = worked(recipe, 100, rest=strong, chosen={key: less.pk})
    assert said(result) == [[(less, 20, "mL"), (strong, 5, "mL")]]
    assert "bring it to 10\xa0mL with water" in result.pots[0].lines[1].note


@pytest.mark.parametrize("rest", ["nothing", "the same", "another dye", "the powder"])
def test_a_rest_that_means_nothing_is_left_out(cast, bench, ochre, rest):
    powder, less, more = ochre
    other = {"the same": less, "another dye": build.receive_powder(cast.maker), "the powder": powder}.get(rest)
    recipe = version(cast.maker, from_bottle(powder.dye, "0.9", 1))
    key = Ingredient.objects.get(step__recipe=recipe).pk
    assert said(worked(recipe, 100, rest=other, chosen={key: less.pk})) == [[(less, 90, "mL")]]


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    depths=st.lists(st.integers(1, 400), min_size=1, max_size=3),
    grams=st.lists(st.integers(20, 900), min_size=1, max_size=4),
    there=st.integers(0, 300),
)
def test_both_parts_together_hold_the_dye_of_the_whole(cast, bench, ochre, depths, grams, there):
    """To the last digit, however many lines and pots share it, and the first is never asked for more than it has."""
    powder, less, more = ochre
    recipe = version(cast.maker, *(from_bottle(powder.dye, D(depth) / 100, 1) for depth in depths))
    keys = [each.pk for each in Ingredient.objects.filter(step__recipe=recipe)]
    chosen, promised = dict.fromkeys(keys, less.pk), {less.pk: D(45) - min(there, 45)}
    whole = worked(recipe, *grams, chosen=chosen, promised=promised)
    parted = worked(recipe, *grams, rest=more, chosen=chosen, promised=promised)
    for one, other in zip(whole.pots, parted.pots, strict=True):
        assert round(sum(line.dye_g for line in other.lines), 6) == round(sum(line.dye_g for line in one.lines), 6)
    of_first = [total for total in parted.totals if total.lot == less]
    assert all(total.told <= total.free for total in of_first)
