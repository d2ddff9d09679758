"""What a recipe's lines mean, in words and in grams, for the weight that its notebook is written for."""

from decimal import Decimal

from studio.cautions import of_substance
from studio.colourbar import Segment
from studio.units import NO_BREAK_SPACE, write_g, write_ml, write_number

from . import dyeing
from .models import Basis, How, RecipeStep

DEPTH_DIGITS = 3  # of a depth of shade: no scale and no syringe of a studio reads a fourth
OWN_BATH = (
    RecipeStep.Kind.SOAK,
    RecipeStep.Kind.SCOUR,
    RecipeStep.Kind.MORDANT,
    RecipeStep.Kind.STRIP,
    RecipeStep.Kind.RINSE,
    RecipeStep.Kind.WASH,
)
EACH = {Basis.PER_SKEIN: " for each skein", Basis.PER_POT: " for each pot", Basis.FIXED: " in all"}


def basis_words(ingredient, each=None):
    """How a line follows yarn, bath or pots: "0.3 % owf", "2 g/L", "5 mL of 0.5 % for each skein", "by eye".

    `each`: instead of what its basis is for.
    """
    if ingredient.amount is None:
        return "by eye"
    about = "about " if ingredient.estimated else ""
    return (
        f"{about}{_amount(ingredient)}{_strength(ingredient)}{EACH.get(ingredient.basis, '') if each is None else each}"
    )


def exact_words(ingredient):
    """The depth with all its digits, "0.066667 % owf", where `basis_words` says it shorter; else ""."""
    if ingredient.amount is None or ingredient.basis != Basis.OWF or own_unit(ingredient) == "mL":
        return ""
    exact = write_number(ingredient.amount, digits=9)
    short = write_number(ingredient.amount, digits=DEPTH_DIGITS)
    return "" if exact == short else _joined(exact, "% owf")


def _amount(ingredient):
    if ingredient.water and ingredient.unit == "mL":
        return write_ml(ingredient.amount)
    amount = write_number(ingredient.amount)
    if ingredient.basis == Basis.RATIO:
        return f"{amount}:1"
    if ingredient.basis == Basis.OWF:
        if own_unit(ingredient) == "mL":
            return _joined(amount, "mL for each 100 g")
        return _joined(write_number(ingredient.amount, digits=DEPTH_DIGITS), "% owf")
    return _joined(amount, f"{ingredient.unit}/L" if ingredient.basis == Basis.PER_L else ingredient.unit)


def _strength(ingredient):
    if ingredient.strength_pct is None:
        return ""
    strength = _joined(write_number(ingredient.strength_pct), "%")
    return f" of {strength}" if ingredient.unit == "mL" else f", from {strength}"


def _joined(number, unit):
    return f"{number}{NO_BREAK_SPACE}{unit}"


def own_unit(ingredient):
    """The unit that the substance itself is reckoned in: g of dye, g or mL of an assistant, mL of a mix or of water."""
    if ingredient.dye_id:
        return "g"
    return "mL" if ingredient.water else ingredient.substance.unit


def own_amount(ingredient, *, fibre_g, skeins, bath_ml, share=Decimal(1), pots=Decimal(1)):
    """How much of the substance itself, in `own_unit`, for one pot. None: by eye, or the bath is not known.

    `share`: this pot's part (0 to 1) of an amount that is for all. `pots`: how much of a pot a small sample is.
    """
    if ingredient.amount is None:
        return None
    amount = ingredient.amount
    if ingredient.dye_id and ingredient.unit == "mL":
        amount = dyeing.dye_in_stock_g(amount, ingredient.strength_pct)
    if ingredient.basis == Basis.OWF:
        return dyeing.dye_g(fibre_g, amount)
    if ingredient.basis == Basis.RATIO:
        return dyeing.bath_ml(fibre_g, amount)
    if ingredient.basis == Basis.PER_L:
        return None if bath_ml is None else dyeing.per_litre(bath_ml, amount)
    return amount * {Basis.PER_SKEIN: skeins, Basis.FIXED: share, Basis.PER_POT: pots}.get(ingredient.basis, 1)


def painted(ingredient):
    return ingredient.how == How.PAINTED


def dyes_of_mix(solution):
    """{dye: g in 1 mL} that the master of a mix should hold. Costs no query where `parts` was prefetched."""
    return {part.dye: part.g_per_100 / 100 for part in solution.parts.all() if part.dye_id}


def dyes_g(recipe):
    """[(dye, g or None)]: each dye of a version, for the yarn its notebook is written for; None: by eye.

    In the order in which they go in. Costs no query where the steps and their ingredients were prefetched.
    """
    lines = [each for step in recipe.steps.all() for each in step.ingredients.all()]
    return list(together(pair for each in lines for pair in _dyes_of(each, recipe)).items())


def together(dyes):
    """{dye: g in all} of pairs of a dye and its g, in their order; None where some of it is by eye."""
    found = {}
    for dye, grams in dyes:
        known = found.get(dye, 0)
        found[dye] = None if None in (known, grams) else known + grams
    return found


def estimated(recipe):
    """The names of what a version has only by estimate, each once. Costs no query, as `dyes_g`."""
    lines = [each for step in recipe.steps.all() for each in step.ingredients.all()]
    return list(dict.fromkeys(each.name for each in lines if each.estimated and each.amount is not None))


def estimated_dyes(recipe):
    """The dyes of which some is by estimate, as a set. Costs no query, as `dyes_g`."""
    lines = [each for step in recipe.steps.all() for each in step.ingredients.all()]
    return {dye for each in lines if each.estimated for dye, _ in _dyes_of(each, recipe)}


def _dyes_of(ingredient, recipe):
    own = own_here(recipe, ingredient)
    if ingredient.dye_id:
        return [(ingredient.dye, own)]
    if ingredient.solution_id:
        parts = dyes_of_mix(ingredient.solution)
        return [(dye, None if own is None else own * grams) for dye, grams in parts.items()]
    return []


def segments(dyes, about=()):
    """The colour bar of pairs of a dye and its g (None: not weighed). `about`: the dyes that are by estimate."""
    return [
        Segment(dye.name, dye.colour, grams, unweighed=grams is None, amount=_said(grams, dye in about))
        for dye, grams in dyes
    ]


def _said(grams, about):
    return "" if grams is None else f"{'about ' if about else ''}{write_g(grams)}"


def own_here(recipe, ingredient, steps=None):
    """How much of a substance the notebook's own yarn gets in all, in `own_unit`; None: by eye, or not to be said.

    `steps`: pairs of a step and its ingredients, which may not be kept yet; None: the version's.
    """
    if ingredient.basis != Basis.PER_L:
        return _of_all_pots(recipe, ingredient)
    water = _water_for(ingredient, steps or [(step, list(step.ingredients.all())) for step in recipe.steps.all()])
    bath_ml = None if water is None else _of_all_pots(recipe, water)
    if water is None and recipe.liquor_ratio is not None:
        bath_ml = dyeing.bath_ml(recipe.fibre_g, recipe.liquor_ratio)
    return _of_all_pots(recipe, ingredient, bath_ml)


def _of_all_pots(recipe, ingredient, bath_ml=None):
    own = own_amount(ingredient, fibre_g=recipe.fibre_g, skeins=recipe.skeins, bath_ml=bath_ml)
    return own * recipe.pots if own is not None and ingredient.basis == Basis.PER_POT else own


def _water_for(ingredient, steps):
    """The line of the water that "for each litre" means: of its own step where that has a bath of its own."""
    for step, lines in steps:
        if step.kind in OWN_BATH and ingredient in lines and (own := bath_line([(step, lines)], OWN_BATH)) is not None:
            return own
    return bath_line(steps)


def dye_bath_water(recipe):
    """The line that says how much water is in the dye bath, or None."""
    return bath_line((step, step.ingredients.all()) for step in recipe.steps.all())


def bath_line(steps, kinds=tuple(kind for kind in RecipeStep.Kind if kind not in OWN_BATH)):
    """Likewise, of pairs of a step and its ingredients, which may not be kept yet. `kinds`: of the steps that count."""
    lines = (each for step, ingredients in steps if step.kind in kinds for each in ingredients)
    return next((each for each in lines if each.water and each.amount is not None), None)


def powders(recipe):
    """The dyes and assistants of a version that are handled dry, each once."""
    return _substances(
        recipe, lambda each: each.strength_pct is None and own_unit(each) == "g" and not each.solution_id
    )


HOT = {
    RecipeStep.Kind.SCOUR,
    RecipeStep.Kind.MORDANT,
    RecipeStep.Kind.STRIP,
    RecipeStep.Kind.HEAT,
    RecipeStep.Kind.HOLD,
    RecipeStep.Kind.COOL,
}


def handled(recipe):
    """The dyes and assistants of a version that come to the hands as they were bought, each once."""
    return _substances(recipe, lambda each: each.assistant_id or each.dye_id and each.strength_pct is None)


def cautions(recipe):
    """What a version calls for besides its powders: acid, alkali, mordant, heat."""
    assistants = _substances(recipe, lambda each: each.assistant_id)
    hot = any(step.kind in HOT for step in recipe.steps.all())
    return [key for thing in assistants for key in of_substance(thing)] + (["heat"] if hot else [])


def _substances(recipe, fits):
    lines = [each for step in recipe.steps.all() for each in step.ingredients.all()]
    return list(dict.fromkeys(each.substance for each in lines if not each.water and fits(each)))
