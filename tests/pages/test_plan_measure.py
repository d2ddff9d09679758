"""On the plan's page: what is weighed once for all pots."""

from decimal import Decimal

import pytest
from lxml import html

from batches.models import PlanLine
from tests import builders
from tests.pages.run_forms import fields_of, words


@pytest.fixture
def plan(cast, maker):
    """0.04 % of ochre and 1 % of rust as powder, on six skeins in six pots."""
    ochre, rust = builders.make_dye("Ochre"), builders.make_dye("Rust")
    for dye in (ochre, rust):
        builders.receive_powder(cast.maker, dye)
    builders.make_tool("Jeweller's scale", "scale", "0.01", largest=200)
    recipe = builders.recipe(
        cast.maker, lines=[(ochre, Decimal("0.04"), builders.Basis.OWF), (rust, 1, builders.Basis.OWF)]
    )
    yarn = builders.receive_yarn(cast.maker, skeins=12)
    address = f"/runs/new/plan/{recipe.pk}/"
    said = {"yarn-0-lot": yarn.pk, "yarn-0-skeins": "6", "pots": "6", "do": "work"}

    def work(**more):
        more = {name.replace("__", "-"): value for name, value in more.items()}
        return maker.post(address, fields_of(maker.get(address), "pots") | said | more)

    work.keys = [step.ingredients.get().pk for step in recipe.steps.all()]
    return work


def ticks(page):
    """{ingredient key: whether it is ticked}, and of which of them the page says why."""
    found = html.fromstring(page.content.decode()).xpath('//input[@name="measure-once"][@type="checkbox"]')
    return {int(box.get("value")): box.get("checked") is not None for box in found}


def test_a_powder_that_one_pot_cant_have_weighed_is_offered(plan):
    page = plan()
    ochre, rust = plan.keys
    assert ticks(page) == {ochre: False, rust: False}
    said = words(page).replace("\xa0", " ")
    assert "Ochre: 0.24 g for 6 pots, dissolved to 150 mL; pour 25 mL in each" in said
    assert "0.04 g for one pot can’t be weighed again surely, all of it can" in said
    assert "0.04 g repeats only to" in said


def test_ticked_it_is_weighed_once_and_kept_so(plan):
    ochre, rust = plan.keys
    page = plan(measure__once=[ochre])
    assert ticks(page) == {ochre: True, rust: False}
    said = words(page).replace("\xa0", " ")
    assert "Weighed once for all 6 pots: 0.24 g" in said and "repeats only to" not in said
    plan(measure__once=[ochre], do="plan")
    kept = PlanLine.objects.filter(dye__name="Ochre")
    assert {line.pour_ml for line in kept} == {25}
    assert sum(line.told for line in kept) == Decimal("0.24")
    assert not PlanLine.objects.filter(dye__name="Rust", pour_ml__isnull=False)


def test_a_tick_outlives_a_page_that_asks_for_more(plan):
    page = plan(measure__once=[plan.keys[0]], more="yarn", do="")
    assert fields_of(page, "pots")["measure-once"] in (str(plan.keys[0]), [str(plan.keys[0])])


@pytest.mark.parametrize("junk", ["x", "99999999", "🧶"])
def test_what_is_no_powder_of_the_version_is_said(plan, junk):
    page = plan(measure__once=[junk])
    assert page.status_code == 422
