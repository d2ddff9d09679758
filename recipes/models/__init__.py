"""Colourways and their versions, and what the studio usually does and says when it dyes."""

from .house import HouseStep, Place
from .recipe import LEAST_KEPT, Basis, Colourway, Hold, How, Ingredient, Method, Recipe, RecipeBase, RecipeStep

__all__ = [
    "LEAST_KEPT",
    "Basis",
    "Colourway",
    "Hold",
    "HouseStep",
    "How",
    "Ingredient",
    "Method",
    "Place",
    "Recipe",
    "RecipeBase",
    "RecipeStep",
]
