"""An amount that is only by estimate keeps its mark, from the version to the plan, the log and the next version, until
somebody weighs it.
"""

from decimal import Decimal
from types import SimpleNamespace
from uuid import uuid4

import pytest

from batches import beginning, capture, costs, depth, intake
from batches.again import verb_and_facts
from batches.beginning import reckon
from batches.models import Addition, promised_by_lot
from batches.telling import line_of
from batches.yarns import Yarn
from recipes.models import Basis, Ingredient, Recipe, RecipeStep
from recipes.offers import with_steps
from recipes.plans import Load
from recipes.writing import as_text
from studio.models import Lot, Studio
from tests import builders as build
from tests.pages.run_forms import words

D = Decimal


@pytest.fixture
def kit(cast):
    """A started run of one pot, from a version of about 2 % rust and 1 % ochre that was weighed."""
    by = cast.maker
    rust, ochre = (build.receive_powder(by, build.make_dye(name)) for name in ("Rust", "Ochre"))
    way = build.colourway(by, "Low tide")
    version = way.next_version(by=by, now=build.NOON, fibre_g=D(100), liquor_ratio=D(20))
    version.write(
        [
            (RecipeStep(), [Ingredient(water=True, amount=20, basis=Basis.RATIO, unit=":1")]),
            (RecipeStep(), [build.ingredient(rust.dye, 2, estimated=True)]),
            (RecipeStep(), [build.ingredient(ochre.dye, 1)]),
        ]
    )
    yarn = Yarn.of_lot(Lot.objects.named().with_on_hand().get(pk=build.receive_yarn(by, skeins=4).pk))
    load = Load(fibre_g=yarn.grams(2), skeins=2, bases=(yarn.base,))
    worked = reckon(version, [load], promised_by_lot())
    run = beginning.from_recipe(version, worked, [[(yarn, 2)]], by=by, day=build.DAY, clock=build.clock())
    run.start(by=by, clock=build.clock())
    pot = run.batches.get()
    line = pot.plan.get(dye=rust.dye)
    return SimpleNamespace(by=by, run=run, pot=pot, way=way, rust=rust, ochre=ochre, line=line)


def send(kit, kind, line=None, **said):
    data = {"kind": kind, "id": str(uuid4()), **({"line": line.pk} if line else {}), **said}
    answer = intake.take(data, {}, batch=kit.pot, person=kit.by)
    assert answer.ok, answer.sentence or answer.form.errors
    return answer


def rust_of(kit):
    return Addition.objects.get(lot=kit.rust)


def captured(kit):
    """{dye: whether its line of the version that is taken from the log is by estimate}"""
    version = capture.keep(capture.draft_of(kit.run), by=kit.by, now=build.hours(9))
    lines = Ingredient.objects.filter(step__recipe=version, dye__isnull=False)
    return {str(line.dye): line.estimated for line in lines}, Recipe.objects.get(pk=version.pk)


def test_the_plan_has_the_mark(kit):
    assert kit.line.estimated and kit.line.basis == "about 2\xa0% owf"
    assert not kit.pot.plan.get(dye=kit.ochre.dye).estimated
    assert {str(fed.dye): fed.about for fed in depth.planned_of_run(kit.run)} == {"Rust": True, "Ochre": False}


def test_the_sink_says_about_until_it_stands_weighed(kit, client_of):
    page = client_of(kit.by)
    for line in kit.pot.plan.filter(water=True):
        send(kit, "tick", line)
    said = words(page.get(f"/sink/{kit.pot.pk}/")).replace("\xa0", " ")
    assert f"about {kit.line.told.normalize():f} g" in said and "only by estimate" in said
    send(kit, "weighed", kit.line)
    assert "only by estimate" not in words(page.get(f"/sink/{kit.pot.pk}/"))


@pytest.mark.parametrize("kind", ["tick", "done_to_here"])
def test_what_was_only_ticked_stays_an_estimate(kit, kind):
    send(kit, kind, kit.line)
    send(kit, "tick", kit.pot.plan.get(dye=kit.ochre.dye))
    said = rust_of(kit)
    assert said.estimated
    assert "about" in line_of(said.entry).what
    assert {str(fed.dye): fed.about for fed in depth.fed_of_run(kit.run)} == {"Rust": True, "Ochre": False}
    assert depth.depths_of([kit.pot])[kit.pot.pk].words == "about"
    uses = [use.words for use in costs._substances(kit.run, Studio.get())]
    assert any(use.endswith(", by estimate") for use in uses)
    marks, version = captured(kit)
    assert marks == {"Rust": True, "Ochre": False}
    assert "about 2% owf Rust" in as_text(with_steps(version)).replace("\xa0", "").replace(" %", "%")


def test_what_was_weighed_ahead_is_no_estimate_any_more(kit):
    send(kit, "weighed", kit.line)
    send(kit, "tick", kit.line)
    assert not rust_of(kit).estimated and captured(kit)[0]["Rust"] is False


def test_an_amount_that_was_said_is_no_estimate_any_more(kit):
    send(kit, "tick", kit.line, amount="4")
    assert not rust_of(kit).estimated and captured(kit)[0]["Rust"] is False


def test_the_same_again_in_another_pot_is_an_estimate_too(kit):
    send(kit, "tick", kit.line)
    assert verb_and_facts(rust_of(kit).entry)[1]["estimated"]
