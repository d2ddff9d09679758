"""How a run begins bare, and what is said of it later."""

import pytest

from batches import beginning
from batches.models import BatchYarn, Entry
from batches.yarns import NOT_SAID, Yarn
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
