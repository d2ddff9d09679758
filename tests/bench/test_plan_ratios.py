"""A plan beside the bare queries of it: the same rows, made objects of, with nothing reckoned from them."""

import statistics
import time
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from recipes.models import Basis, How, Ingredient, Recipe, RecipeStep
from recipes.offers import lots_for, read_shelf, with_steps
from recipes.planning import plan
from recipes.plans import Load
from studio.models import Base, Studio, Tool
from tests import builders
from tests.bench.saying import say

pytestmark = [pytest.mark.bench, pytest.mark.django_db]

INGREDIENTS = 20
LOADS = 10
ROUNDS = 60
TOOLS = (("Fine", "scale", "0.01", 200), ("Large", "scale", "1", 5000), ("Syringe", "syringe", "0.2", 10))


@pytest.fixture
def recipe(cast):
    """Twenty dyes, from the bottle and by weight in turn, each with two powder lots and a bottle."""
    for tool in TOOLS:
        builders.make_tool(*tool)
    steps = []
    for number in range(INGREDIENTS):
        powder = builders.receive_powder(cast.owner, grams=1000)
        builders.receive_powder(cast.owner, powder.dye, grams=1000, strength_pct=Decimal(85))
        builders.bottle(cast.owner, [(powder, Decimal(10))], volume=1000)
        bottle = {"strength_pct": Decimal(1), "how": How.BOTTLE} if number % 2 else {}
        each = Ingredient(dye=powder.dye, amount=Decimal("0.3"), unit="%", basis=Basis.OWF, **bottle)
        steps.append((RecipeStep(), [each]))
    facts = {"fibre_g": Decimal(100), "liquor_ratio": Decimal(20)}
    found = builders.colourway(cast.owner).next_version(by=cast.owner, now=builders.NOON, **facts)
    found.write(steps)
    Studio.get()
    found.bases.set([builders.make_base("Wren DK", fibres=[("wool", 100)])])
    builders.make_base("Skerry", fibres=[("wool", 75), ("polyester", 25)])
    return found


def planned_base():
    return Base.objects.prefetch_related("fibres").get(name="Skerry")


def read(recipe):
    """All that a plan reads, as objects."""
    recipe = with_steps(Recipe.objects.get(pk=recipe.pk))
    return planned_base(), read_shelf(recipe), list(Tool.objects.all()), Studio.get()


def work_out(recipe, weights):
    base, recipe = planned_base(), Recipe.objects.get(pk=recipe.pk)
    loads = [Load(fibre_g=Decimal(weight), skeins=3, bases=(base,)) for weight in weights]
    return plan(recipe, loads, lots_for(recipe), list(Tool.objects.all()), Studio.get())


def asked(act):
    with CaptureQueriesContext(connection) as queries:
        act()
    return len(queries)


@pytest.mark.parametrize("name, apart", [("alike", 0), ("each another", 7)])
def test_planning_twenty_ingredients_over_ten_loads(recipe, name, apart):
    """Loads that are alike are measured once; so loads that all differ are measured as well."""
    weights = [300 + apart * place for place in range(LOADS)]
    acts = (lambda: read(recipe), lambda: work_out(recipe, weights))
    assert asked(acts[0]) == asked(acts[1])
    assert sum(len(pot.lines) for pot in acts[1]().pots) == INGREDIENTS * LOADS
    bare, planned = [], []
    for turn in range(ROUNDS):
        for act, taken in zip(acts, (bare, planned), strict=True):  # in turn, so that both see the same machine
            begin = time.perf_counter()
            act()
            if turn >= 3:  # the first rounds warm up
                taken.append(time.perf_counter() - begin)
    ratio = statistics.median(planned) / statistics.median(bare)
    said = f"Planning {INGREDIENTS} ingredients over {LOADS} loads, {name}, against its bare queries"
    say(said, ratio, 3)
    print(f"    {statistics.median(planned) * 1e3:.1f} ms against {statistics.median(bare) * 1e3:.1f} ms")
