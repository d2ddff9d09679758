"""The next version of a colourway as an earlier one, with more or less of some of its dyes."""

from decimal import Decimal

from django.db import transaction

from .meaning import dyes_of_mix
from .models import LEAST_KEPT
from .offers import ingredients_of, with_steps
from .plans import Load

OWN = {"id", "recipe_id", "step_id", "position"}  # what a copied row does not take over


def dyes_of_version(recipe):
    """[Dye] of a version, in the order in which they go in; those of mixed bottles too."""
    found = {}
    for ingredient in ingredients_of(with_steps(recipe)):
        mixed = dyes_of_mix(ingredient.solution) if ingredient.solution_id else ()
        for dye in [ingredient.dye] if ingredient.dye_id else mixed:
            found[dye.pk] = dye
    return list(found.values())


def next_with(recipe, times, *, by, now, note=""):
    """The next version: as this one, with some dyes at so many times their amount. It names this one as its origin.

    `times`: {dye pk: factor}; 0 leaves a dye out. Raises ValueError with a sentence where no dye would be left, so
    little of one that it can't be kept, or a mixed bottle holds one of several dyes that is to be changed by itself.
    """
    asked = Load(fibre_g=Decimal(1), dye_factors=times)
    steps = [(step, _parts(step, asked)) for step in with_steps(recipe).steps.all()]
    if not any(part.dye_id or part.solution_id for _, parts in steps for part in parts):
        raise ValueError("No dye would be left in it: leave more than nothing of at least one.")
    kept = ("method", "scales", "skeins", "fibre_g", "pots", "liquor_ratio")
    with transaction.atomic():
        facts = {name: getattr(recipe, name) for name in kept}
        made = recipe.colourway.next_version(by=by, now=now, made_from=recipe, note=note, **facts)
        made.bases.set(recipe.bases.all())
        # A heading whose dyes were all left out has nothing under it any more.
        made.write([(_copy(step), parts) for step, parts in steps if parts or not step.ingredients.all()])
    return made


def _copy(row):
    columns = [field.attname for field in row._meta.concrete_fields if field.attname not in OWN]
    return type(row)(**{column: getattr(row, column) for column in columns})


def _parts(step, asked):
    return [part for each in step.ingredients.all() if (part := _part(each, asked.factor(each))) is not None]


def _part(ingredient, factor):
    """A copy of a line at so many times its amount; the notebook's own words only where they still hold."""
    if not factor:
        return None
    part = _copy(ingredient)
    if factor != 1 and part.amount is not None:
        part.amount, part.typed = part.amount * factor, ""
        if part.amount < LEAST_KEPT:
            raise ValueError(f"So little of {part.name} can't be kept: choose more of it, or 0 to leave it out.")
    return part
