"""What a version's lines come to, for the yarn of its notebook."""

from decimal import Decimal

import pytest

from recipes.meaning import dyes_g, own_here
from recipes.models import Basis, Ingredient, RecipeStep
from recipes.offers import with_steps
from tests import builders


@pytest.mark.parametrize("amounts", [(None, 2), (2, None)], ids=["by eye first", "weighed first"])
def test_a_dye_of_which_some_goes_in_by_eye_has_no_known_amount(cast, amounts):
    rust = builders.make_dye("Rust")
    version = builders.colourway(cast.maker).next_version(by=cast.maker, now=builders.NOON, fibre_g=Decimal(100))
    lines = [builders.ingredient(rust, 1), builders.ingredient(rust, 1)]
    for line, amount in zip(lines, amounts, strict=True):
        line.amount, line.basis, line.unit = amount, Basis.PER_POT, "g"
    version.write([(RecipeStep(), [line]) for line in lines])
    assert dyes_g(with_steps(version)) == [(rust, None)]


def test_a_dye_of_two_lines_is_one_amount(cast):
    rust = builders.make_dye("Rust")
    version = builders.colourway(cast.maker).next_version(by=cast.maker, now=builders.NOON, fibre_g=Decimal(100))
    version.write([(RecipeStep(), [builders.ingredient(rust, amount)]) for amount in (2, 1)])
    assert dyes_g(with_steps(version)) == [(rust, 3)]


@pytest.mark.parametrize(
    ("amount", "basis", "unit", "ratio", "grams"),
    [
        (9000, Basis.PER_POT, "mL", None, 36),  # two pots of 9 L
        (9000, Basis.PER_POT, "mL", 20, 36),  # a line of the notebook says it, so no ratio is asked
        (3000, Basis.PER_SKEIN, "mL", None, 36),
        (18000, Basis.FIXED, "mL", None, 36),
        (30, Basis.RATIO, ":1", None, 36),
        (None, Basis.PER_POT, "mL", 20, 24),  # by eye: the ratio is all that is known
        (None, Basis.PER_POT, "mL", None, None),
    ],
)
def test_what_is_said_for_each_litre_follows_the_water_of_the_notebook(cast, amount, basis, unit, ratio, grams):
    acid = builders.make_assistant("Citric acid", unit="g")
    facts = {"fibre_g": Decimal(600), "skeins": 6, "pots": 2, "liquor_ratio": ratio}
    version = builders.colourway(cast.maker).next_version(by=cast.maker, now=builders.NOON, **facts)
    water = Ingredient(water=True, amount=amount, basis=basis, unit=unit)
    version.write([(RecipeStep(), [water]), (RecipeStep(), [builders.ingredient(acid, 2, Basis.PER_L, unit="g")])])
    step, last = with_steps(version).steps.all()
    assert own_here(version, last.ingredients.get()) == grams


def test_a_soak_has_its_own_water_in_the_notebook_too(cast):
    wetting = builders.make_assistant("Wetting agent", unit="mL")
    version = builders.colourway(cast.maker).next_version(by=cast.maker, now=builders.NOON, fibre_g=Decimal(100))
    soak = RecipeStep(kind="soak", words="Soak:")
    lines = [
        Ingredient(water=True, amount=3000, basis=Basis.PER_POT, unit="mL"),
        builders.ingredient(wetting, 2, Basis.PER_L, unit="mL"),
    ]
    version.write([(soak, lines), (RecipeStep(), [Ingredient(water=True, amount=20, basis=Basis.RATIO, unit=":1")])])
    first, _ = with_steps(version).steps.all()
    assert own_here(version, first.ingredients.all()[1]) == 6
