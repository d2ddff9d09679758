"""What a version's lines come to, for the yarn of its notebook."""

from decimal import Decimal

import pytest

from recipes.meaning import dyes_g
from recipes.models import Basis, RecipeStep
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
