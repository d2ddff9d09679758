"""What a powder lot that came is wanted for, on its delivery's page and on its own."""

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from batches import receipts
from batches.models import Strike
from recipes.models import Basis
from studio.models import Lot
from tests import builders
from tests.pages.run_forms import words


@pytest.fixture
def dye(db):
    return builders.make_dye("Brick")


def pinned(by, name, *lines):
    way = builders.colourway(by, name)
    recipe = builders.recipe(by, way, [(each, 1, Basis.OWF) for each in lines])
    way.pin(recipe)
    return recipe


def lots(*powders):
    return list(Lot.objects.with_facts().select_related("dye").filter(pk__in=[lot.pk for lot in powders]))


def test_standards_planned_runs_and_the_older_lot_stand_on_both_pages(cast, client_of, dye):
    maker = cast.maker
    old = builders.receive_powder(maker, dye, number="B-1")
    recipe = pinned(maker, "Low tide", dye)
    mix = builders.make_solution("Autumn", [(dye, 1), (builders.make_dye("Ochre"), 1)])
    way = builders.colourway(maker, "Mudflat")
    mixed = builders.recipe(maker, way, [(mix, 10, Basis.PER_POT)])
    way.pin(mixed)
    run = builders.run_with_pots(maker, start=False, lines=[(old, 2)], colourway=recipe.colourway, recipe=recipe)
    came = builders.delivery(maker, supplier="A mill of nobody's")
    new = builders.receive_powder(maker, dye, number="B-2", at=builders.hours(1), delivery=came)
    for url in (f"/shelf/deliveries/{came.pk}/", f"/shelf/lots/{new.pk}/"):
        page = words(client_of(maker).get(url))
        assert "Low tide, Mudflat" in page
        assert f"Low tide {run.code}" in page and "Brick lot B-1" in page
        assert "Test its strength" in page


def test_what_is_not_the_standard_is_not_named(cast, dye):
    maker = cast.maker
    lot = builders.receive_powder(maker, dye)
    builders.recipe(maker, builders.colourway(maker, "Low tide"), [(dye, 1, Basis.OWF)])
    (one,) = receipts.wanted_for(lots(lot))
    assert (one.standards, one.runs, one.older) == ([], [], [])


def test_a_running_run_is_named_while_a_pot_of_it_still_waits_for_the_dye(cast, client_of, dye):
    maker = cast.maker
    old = builders.receive_powder(maker, dye, number="B-1")
    new = builders.receive_powder(maker, dye, number="B-2", at=builders.hours(1))
    run = builders.run_with_pots(maker, lines=[(old, 2)])
    first, second = run.batches.order_by("number")
    went_in = [builders.addition(maker, first, old, 2, plan_line=first.plan.get())]
    assert receipts.wanted_for(lots(new))[0].runs == [run]
    page = words(client_of(maker).get(f"/shelf/lots/{new.pk}/"))
    assert "Still to go in" in page and f"{run.name} {run.code}, running" in page
    went_in.append(builders.addition(maker, second, old, 2, plan_line=second.plan.get()))
    assert receipts.wanted_for(lots(new))[0].runs == []
    Strike.log(second, builders.stamp(maker, builders.hours(1)), target=went_in[1].pk)
    assert receipts.wanted_for(lots(new))[0].runs == [run]
    builders.finish(maker, first)
    run.refresh_from_db()
    run.abandon(why="Rain", by=maker)
    assert receipts.wanted_for(lots(new))[0].runs == []


def test_a_run_that_is_planned_out_of_a_bottle_of_it_is_named(cast, dye):
    maker = cast.maker
    lot = builders.receive_powder(maker, dye)
    bottle = builders.bottle(maker, [(lot, Decimal("2.5"))])
    run = builders.run_with_pots(maker, start=False, lines=[(bottle, 40)])
    (one,) = receipts.wanted_for(lots(lot))
    assert one.runs == [run]


def test_a_helper_sees_no_test_and_yarn_has_none_of_it(cast, client_of, dye):
    lot = builders.receive_powder(cast.maker, dye)
    pinned(cast.maker, "Low tide", dye)
    assert "Test its strength" not in words(client_of(cast.helper).get(f"/shelf/lots/{lot.pk}/"))
    yarn = builders.receive_yarn(cast.maker)
    assert "What it goes into" not in words(client_of(cast.maker).get(f"/shelf/lots/{yarn.pk}/"))
    assert receipts.wanted_for([yarn]) == []


def test_ten_lots_ask_as_much_as_two(cast):
    powders = [builders.receive_powder(cast.maker, builders.make_dye()) for _ in range(10)]
    for number, lot in enumerate(powders):
        pinned(cast.maker, f"Tide {number}", lot.dye)

    def asked(some):
        found = lots(*some)
        with CaptureQueriesContext(connection) as context:
            assert len(receipts.wanted_for(found)) == len(some)
        return len(context)

    assert asked(powders) == asked(powders[:2]) == 3
