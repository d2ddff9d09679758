"""Words of the log as a step of a recipe: read back as the same step, and never cut without a sign."""

import pytest

from batches.capture_steps import reads_as, worded
from recipes.models import RecipeStep

Kind = RecipeStep.Kind
STEPS = [(Kind.OTHER, None, None), (Kind.HEAT, 85, 45)]
MOST = RecipeStep._meta.get_field("words").max_length


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("words", ["stir the bath slowly, " * 20, "x" * 2000])
def test_words_that_are_too_long_for_a_step_end_with_a_sign(step, words):
    said = worded(*step, words)
    assert said.endswith(" …") and len(said) <= MOST and reads_as(said, *step)


@pytest.mark.parametrize("step", STEPS)
def test_words_that_fit_are_kept_whole(step):
    words = "Stir the bath slowly, and the pot by the window"
    said = worded(*step, words)
    assert words.lower() in said.lower() and "…" not in said and reads_as(said, *step)


def test_plain_words_are_something_to_do():
    assert worded(Kind.OTHER, None, None, "Sort the skeins by length") == "Do: sort the skeins by length"
