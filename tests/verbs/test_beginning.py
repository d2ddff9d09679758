"""How a run begins, bare or from a recipe, and what is said of it later."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from batches import beginning
from batches.models import BatchYarn, Entry, PlanLine
from batches.yarns import NOT_SAID, Yarn
from recipes.models import Basis
from studio.models import Lot
from tests import builders


@pytest.fixture
def unnamed(cast, studio):
    """Two jars that were started before anybody said what was in them."""
    yarn = Yarn.in_words(BatchYarn.Source.UNLABELLED, NOT_SAID)
    run = beginning.bare(yarn, 1, 2, by=cast.maker, day=builders.NOON.date(), vessel=builders.make_vessel(kind="jar"))
    run.start(by=cast.maker)
    return run


def yarns_of(run):
    return list(BatchYarn.objects.filter(batch__run=run).order_by("pk"))


def test_a_bare_run_takes_its_method_from_the_vessel(unnamed):
    assert unnamed.method == "jar"
    assert [(yarn.skeins, yarn.grams) for yarn in yarns_of(unnamed)] == [(1, None)] * 2


def test_yarn_without_a_name_is_counted_in_skeins(unnamed):
    assert [str(yarn) for yarn in yarns_of(unnamed)] == ["1 skein: Yarn not said yet"] * 2


def test_yarn_that_is_said_later_leaves_the_shelf_and_is_told(cast, unnamed):
    lot = builders.receive_yarn(cast.owner)
    before = builders.on_hand(lot)
    beginning.say_yarn(yarns_of(unnamed), lot=lot, skeins=1, by=cast.maker)
    assert builders.on_hand(lot) == before - 2 * lot.skein_g
    assert set(Entry.objects.values_list("words", flat=True)) == {f"The yarn is {lot}."}


def test_yarn_is_said_once(cast, unnamed):
    lot, yarns = builders.receive_yarn(cast.owner), yarns_of(unnamed)
    beginning.say_yarn(yarns_of(unnamed), lot=lot, skeins=1, by=cast.maker)
    with pytest.raises(ValueError, match="said already"):
        beginning.say_yarn(yarns, lot=lot, skeins=1, by=cast.helper)
    assert Entry.objects.count() == 2


def test_a_name_taken_in_the_meantime_is_refused_with_a_sentence(cast, unnamed):
    way = builders.colourway(cast.owner, "Kiln Door")
    with pytest.raises(ValueError, match="already"):
        beginning.call_it(unnamed, by=cast.maker, title="Kiln Door", make_colourway=True)
    beginning.call_it(unnamed, by=cast.maker, colourway=way)
    assert unnamed.name == "Kiln Door"


def test_yarn_of_which_there_is_too_little_is_said(cast, studio):
    lot = builders.receive_yarn(cast.owner, skeins=3)
    yarn = Yarn.of_lot(Lot.objects.with_on_hand().get(pk=lot.pk))
    assert beginning.short_yarn([[(yarn, 2)], [(yarn, 1)]]) == []
    assert "4 skeins wanted, 3 free" in beginning.short_yarn([[(yarn, 2)], [(yarn, 2)]])[0]


# How often the database is asked


def asked(act):
    with CaptureQueriesContext(connection) as queries:
        found = act()
    return len(queries), found


def planned(cast, dyes, pots):
    """Queries of working a recipe of so many dyes out over so many pots that all differ, of keeping it, and the run."""
    lines = [(builders.receive_powder(cast.maker).dye, 1, Basis.OWF) for _ in range(dyes)]
    recipe = builders.recipe(cast.maker, None, lines, liquor_ratio=20)
    sizes = list(range(1, pots + 1))
    lot = builders.receive_yarn(cast.maker, skeins=sum(sizes))
    wanted = [(Yarn.of_lot(Lot.objects.with_on_hand().get(pk=lot.pk)), sum(sizes))]
    work_out, (worked, yarns) = asked(lambda: beginning.work_out(recipe, wanted, [None] * pots, sizes=sizes))
    day = builders.NOON.date()
    keep, run = asked(lambda: beginning.from_recipe(recipe, worked, yarns, by=cast.maker, day=day))
    return work_out, keep, run


def test_keeping_a_plan_asks_no_oftener_for_many_lines_and_little_for_another_pot(cast, studio):
    work_few, keep_few, _ = planned(cast, dyes=2, pots=2)
    work_many, keep_many, run = planned(cast, dyes=20, pots=10)
    assert PlanLine.objects.filter(batch__run=run).count() == 20 * 10
    assert work_many == work_few
    assert keep_many - keep_few <= 3 * (10 - 2), "for each pot its row, its yarn and its lines"
