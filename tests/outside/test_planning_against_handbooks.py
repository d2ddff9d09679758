"""Whole plans against worked examples: recipe, bottle, powder lot and pot together.

Sources: the definitions of depth of shade, stock strength and liquor ratio are those of Broadbent, Basic Principles of
Textile Coloration (SDC 2001), and Duff & Sinclair, Giles's Laboratory Course in Dyeing (SDC 1989), from memory; the
amounts below are worked from them by hand. That g/L follows the bath and % owf the fibre: the same. Blends with a fibre
that takes no dye, and what a tool can measure again (JCGM 100:2008, F.2.2.1 and 4.3.7): as named beside the row.
"""

import csv
import re
from decimal import Decimal
from pathlib import Path

import pytest

from recipes.models import Basis, How, Ingredient, RecipeStep
from recipes.offers import lots_for
from recipes.planning import plan
from recipes.plans import Load, Wishes
from studio.models import Studio
from tests import builders as build

D = Decimal
TABLE = Path(__file__).parent / "data" / "dye_math.csv"
NOT_PLANNED = (
    "exhaust_left",  # what stays in the bath is no part of a plan
    "strength_needed",  # which weaker bottle would do: a row of its own below
)
ROWS = [row for row in csv.DictReader(TABLE.open(encoding="utf-8")) if row["op"] not in NOT_PLANNED]


def planned(person, ingredients, load, wishes=None, **facts):
    recipe = build.colourway(person).next_version(by=person, now=build.NOON, **{"fibre_g": 100, **facts})
    recipe.write([(RecipeStep(), [each]) for each in ingredients])
    return plan(recipe, [load], lots_for(recipe), [], Studio.get(), wishes=wishes)


def first_pot(person, ingredient, load, wishes=None, **facts):
    """The one amount of a plan with a single line, and the plan."""
    worked = planned(person, [ingredient], load, wishes, **facts)
    (line,) = worked.pots[0].lines
    return line, worked


def from_bottle(dye, depth, strength):
    return Ingredient(dye=dye, amount=D(depth), unit="%", basis=Basis.OWF, strength_pct=D(strength), how=How.BOTTLE)


def bottled(person, strength):
    """The dye of a bottle of this strength."""
    powder = build.receive_powder(person, grams=1000)
    build.bottle(person, [(powder, D(strength) * 10)], volume=1000)
    return powder.dye


def in_ml(dye, ml, strength, basis=Basis.PER_SKEIN, how=How.BOTTLE):
    return Ingredient(dye=dye, amount=D(ml), unit="mL", basis=basis, strength_pct=D(strength), how=how)


def stock_ml(person, n):
    depth = n["dos"] * n.get("share", 1)
    return first_pot(person, from_bottle(bottled(person, n["strength"]), depth, n["strength"]), Load(n["wof"]))[0].exact


def depth_from_stock(person, n):
    line = in_ml(bottled(person, n["strength"]), n["mL"], n["strength"])
    return first_pot(person, line, Load(n["wof"], skeins=1))[1].pots[0].depth_pct


def powder_for_a_bottle(person, n):
    dye = build.receive_powder(person).dye
    wanted = n["V"] / 2 + 50  # more than the next smaller bottle holds
    (short,) = first_pot(person, from_bottle(dye, n["strength"], n["strength"]), Load(wanted))[1].shortages
    assert short.making.volume == n["V"]
    return short.making.parts[0].amount


def true_strength(person, n):
    powder = build.receive_powder(person)
    build.bottle(person, [(powder, n["g"])], volume=n["V"])
    line, worked = first_pot(person, from_bottle(powder.dye, 1, 1), Load(D(100)))
    return worked.choices[line.ingredient.pk][0].per_unit * 100


def thinned(person, n):
    line = in_ml(bottled(person, n["C1"]), n["V2"], n["C2"], how=How.PAINTED)
    return first_pot(person, line, Load(D(100), skeins=1))[0].exact


def with_one_dye(person, load, wishes=None, **facts):
    return first_pot(person, build.ingredient(build.receive_powder(person).dye, 1), load, wishes, **facts)[1].pots[0]


def three_quarters_wool():
    return build.make_base("Sparrow", fibres=[("wool", 75), ("polyester", 25)])


def depth_on_the_wool(person, n):
    pot = with_one_dye(person, Load(n["wof"], bases=(three_quarters_wool(),)))
    return 100 * pot.dye_g / (pot.load.fibre_g * D("0.75"))


def scaled(person, n):
    dye = bottled(person, 1)
    depth = n["old"] / n["old_wof"]  # mL of 1 % on so many g
    return first_pot(person, from_bottle(dye, depth, 1), Load(n["new_wof"]), fibre_g=n["old_wof"])[0].exact


def acid_for_a_bath(person, n):
    acid = build.receive_assistant(person, build.make_assistant(unit="g")).assistant
    per_litre = build.ingredient(acid, "1.5", Basis.PER_L, unit="g")
    return first_pot(person, per_litre, Load(D(350)), liquor_ratio=n["bath"] * 1000 / 350)[0].exact


PLANNED = {
    "dye_g": lambda person, n: with_one_dye(person, Load(n["wof"])).dye_g,
    "stock_mL": stock_ml,
    "blend_mL": stock_ml,
    "dos_from_stock": depth_from_stock,
    "make_stock_g": powder_for_a_bottle,
    "stock_strength": true_strength,
    "dilute_V1": thinned,
    "bath_mL": lambda person, n: with_one_dye(person, Load(n["wof"]), liquor_ratio=n["LR"]).water_ml,
    "LR": lambda person, n: with_one_dye(person, Load(n["wof"], fill_ml=n["bath"])).ratio,
    "dyeable_depth": depth_on_the_wool,
    "dye_g_dyeable_only": lambda person, n: (
        with_one_dye(person, Load(n["wof"], bases=(three_quarters_wool(),)), Wishes(hold="dyeable")).dye_g
    ),
    "scale_dye": scaled,
    "scale_acid_gL": acid_for_a_bath,
}


# data/dye_math.csv: worked from the definitions named above; blends with a fibre that takes no dye: common practice
@pytest.mark.parametrize("row", ROWS, ids=[f"{row['op']}: {row['inputs']}" for row in ROWS])
def test_a_worked_example_comes_out_of_a_plan(cast, row):
    inputs = {name: D(value) for name, value in re.findall(r"(\w+)=([0-9.]+)", row["inputs"])}
    assert round(PLANNED[row["op"]](cast.maker, inputs), 4) == D(row["expected"])


# D = 100 m / W with m of powder and of two bottles: 0.50 + 0.40 + 0.015 g on 120 g (Broadbent, from memory)
def test_powder_and_two_bottles_in_one_pot(cast):
    strong, weak = bottled(cast.maker, 1), bottled(cast.maker, "0.1")
    powder = build.ingredient(build.receive_powder(cast.maker).dye, "0.50", Basis.PER_POT)
    lines = [powder, in_ml(strong, 40, 1, Basis.PER_POT), in_ml(weak, 15, "0.1", Basis.PER_POT)]
    (pot,) = planned(cast.maker, lines, Load(D(120))).pots
    assert (pot.dye_g, pot.depth_pct) == (D("0.915"), D("0.7625"))


# 100 c B / 1000 S: for 5 g of cloth at 10:1, 40 g/L of salt is 10 mL of a 20 % solution (lab-dip working, from memory)
def test_an_assistant_for_a_litre_from_a_solution(cast):
    salt = build.receive_assistant(cast.maker, build.make_assistant("Salt", kind="salt", unit="g"))
    build.bottle(cast.maker, [(salt, D(20))], volume=100, solution=build.make_solution(parts=[(salt.assistant, 20)]))
    per_litre = build.ingredient(salt.assistant, 40, Basis.PER_L, unit="g", strength_pct=D(20), how=How.BOTTLE)
    line, _ = first_pot(cast.maker, per_litre, Load(D(5)), liquor_ratio=10)
    assert (line.exact, line.unit) == (10, "mL")


# Water to pour: 3000 mL less 100 mL of stock and 30 mL of acid (the same; what the soaked yarn holds is not weighed)
def test_the_water_still_to_pour(cast):
    acid = build.receive_assistant(cast.maker)
    water = Ingredient(water=True, amount=D(30), basis=Basis.RATIO, unit=":1")
    lines = [water, from_bottle(bottled(cast.maker, 1), 1, 1), build.ingredient(acid.assistant, 30)]
    (pot,) = planned(cast.maker, lines, Load(D(100))).pots
    assert (pot.lines[0].exact, pot.lines[0].told) == (2870, 2870)


# V = W D / S, mL of stock for a depth on a weight (Broadbent, from memory)
@pytest.mark.parametrize(
    "fibre_g, depth_pct, strength_pct, ml",
    [
        pytest.param(100, 1, 1, 100, id="one percent from one percent"),
        pytest.param(115, "0.5", 1, "57.5", id="a heavy skein at half a percent"),
        pytest.param(100, "0.03", "0.1", 30, id="a pinch from a weak bottle"),
        pytest.param(250, "1.25", 5, "62.5", id="two and a half skeins from five percent"),
        pytest.param(454, 2, 2, 454, id="a pound at two percent"),
        pytest.param(350, "0.375", 1, "131.25", id="100 g with 37.5 mL, scaled to 350 g"),
    ],
)
def test_stock_for_a_depth_on_a_weight(cast, fibre_g, depth_pct, strength_pct, ml):
    powder = build.receive_powder(cast.maker, grams=1000)
    build.bottle(cast.maker, [(powder, D(strength_pct) * 10)], volume=1000)
    line, worked = first_pot(cast.maker, from_bottle(powder.dye, depth_pct, strength_pct), Load(fibre_g=D(fibre_g)))
    assert line.exact == D(ml)
    assert line.dye_g == D(fibre_g) * D(depth_pct) / 100
    assert worked.pots[0].depth_pct == D(depth_pct)


# 4.87 g made up to 500 mL is 0.974 %, and that is what counts: 1 g of dye is 100 / 0.974 mL (w/v by definition)
def test_the_strength_that_was_weighed_counts_not_the_label(cast):
    powder = build.receive_powder(cast.maker)
    build.bottle(cast.maker, [(powder, D("4.87"))], volume=500)
    line, _ = first_pot(cast.maker, from_bottle(powder.dye, 1, 1), Load(fibre_g=D(100)))
    assert round(line.exact, 4) == D("102.6694")


# What a notebook says, in % owf: 37.5 mL of 1 % on 100 g is 0.375 % (Broadbent's definition, from memory)
@pytest.mark.parametrize("new_g, ml", [(100, "37.5"), (350, "131.25"), (50, "18.75")])
def test_a_notebooks_line_scaled(cast, new_g, ml):
    from recipes.writing import Facts, Shelf, understand

    powder = build.receive_powder(cast.maker, build.make_dye("Ochre"), grams=1000)
    build.bottle(cast.maker, [(powder, D(10))], volume=1000)
    written = understand("37.5 mL ochre 1 %", Facts(skeins=1, fibre_g=D(100)), Shelf.read())
    (ingredient,) = written.steps[0][1]
    line, _ = first_pot(cast.maker, ingredient, Load(fibre_g=D(new_g)))
    assert line.exact == D(ml)


# g/L follows the bath: 1.5 g/L on 350 g is 10.5 g at 20:1 (7 L) and 15.75 g at 30:1 (10.5 L); % owf does not change
@pytest.mark.parametrize("ratio, acid_g", [(20, "10.5"), (30, "15.75")])
def test_what_is_said_for_a_litre_follows_the_bath(cast, ratio, acid_g):
    acid = build.receive_assistant(cast.maker, build.make_assistant("Citric acid", unit="g"))
    per_litre = build.ingredient(acid.assistant, D("1.5"), Basis.PER_L, unit="g")
    line, worked = first_pot(cast.maker, per_litre, Load(fibre_g=D(350)), liquor_ratio=ratio)
    assert worked.pots[0].water_ml == 350 * ratio
    assert line.exact == D(acid_g)


# A pot that is too small lowers the ratio: g/L shrinks with the bath, % owf stays (the same sums, ratio 20 from 30)
def test_a_small_pot_shrinks_what_is_said_for_a_litre_and_not_the_dye(cast):
    acid = build.receive_assistant(cast.maker, build.make_assistant("Citric acid", unit="g"))
    load = Load(fibre_g=D(350), fill_ml=D(7000))
    per_litre = build.ingredient(acid.assistant, D("1.5"), Basis.PER_L, unit="g")
    line, worked = first_pot(cast.maker, per_litre, load, liquor_ratio=30)
    assert (line.exact, worked.pots[0].ratio) == (D("10.5"), 20)
    dye = build.receive_powder(cast.maker)
    line, _ = first_pot(cast.maker, build.ingredient(dye.dye, 1), load, liquor_ratio=30)
    assert line.exact == D("3.5")


# Wool with a quarter of a fibre that takes no dye: 1 % of all lands as 1.333 % on the rest; common practice, no source
def test_the_depth_on_the_part_that_takes_the_dye_is_said(cast):
    base = build.make_base("Sparrow", fibres=[("wool", 75), ("polyester", 25)])
    dye = build.receive_powder(cast.maker)
    _, worked = first_pot(cast.maker, build.ingredient(dye.dye, 1), Load(fibre_g=D(100), bases=(base,)))
    assert "1.33\u00a0%" in worked.moved.bases[0].said[0]


# A powder lot at 85 % of the standard: 9 g of standard is 9 / 0.85 = 10.588 g of it (proportion of strengths)
def test_a_weaker_powder_lot_takes_more(cast):
    powder = build.receive_powder(cast.maker, strength_pct=D(85))
    line, _ = first_pot(cast.maker, build.ingredient(powder.dye, 9), Load(fibre_g=D(100)))
    assert round(line.exact, 3) == D("10.588")


# Tare and load on a 0.01 g scale: u = 0.01 / sqrt(6) = 0.0041 g, 13.6 % of 0.03 g (JCGM 100:2008, F.2.2.1)
def test_how_well_a_small_weighing_repeats(cast):
    scale = build.make_tool("Scale", "scale", "0.01")
    powder = build.receive_powder(cast.maker)
    recipe = build.recipe(cast.maker, lines=[(powder.dye, D("0.03"), Basis.OWF)])
    (line,) = plan(recipe, [Load(fibre_g=D(100))], lots_for(recipe), [scale], Studio.get()).pots[0].lines
    assert "\u00b1 14\u00a0%" in line.note


# S <= W D / V: 0.02 % on 100 g is 0.02 g of dye, at least 10 mL of a bottle of 0.2 % (the definition turned round)
def test_the_weaker_bottle_named_gives_at_least_ten_ml(cast):
    scale = build.make_tool("Scale", "scale", "0.1")
    powder = build.receive_powder(cast.maker)
    recipe = build.recipe(cast.maker, lines=[(powder.dye, D("0.02"), Basis.OWF)])
    (line,) = plan(recipe, [Load(fibre_g=D(100))], lots_for(recipe), [scale], Studio.get()).pots[0].lines
    assert "take 10\u00a0mL of a 0.2\u00a0% bottle" in line.problem


# To make 250 mL of 0.1 %: 0.25 g brought to 250 mL, % w/v being of the finished solution (Duff & Sinclair, from memory)
def test_what_to_weigh_for_a_bottle_that_is_missing(cast):
    powder = build.receive_powder(cast.maker)
    _, worked = first_pot(cast.maker, from_bottle(powder.dye, "0.15", "0.1"), Load(fibre_g=D(100)))
    (short,) = worked.shortages
    assert (short.making.volume, short.making.parts[0].amount) == (250, D("0.25"))
