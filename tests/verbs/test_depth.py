"""The colour bar and the depth of shade, and the words that keep them honest."""

from decimal import Decimal
from types import SimpleNamespace

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from batches import depth
from batches.models import BatchYarn, Bath, Move, Strike
from tests import builders
from tests.builders import NOON, hours, stamp


@pytest.fixture
def pot(cast):
    """One pot of 200 g, a bottle of red at 1 % and a jar of ochre powder."""
    red, ochre = builders.make_dye("Red", "#9c3122"), builders.make_dye("Ochre", "#d39a3c")
    jar = builders.receive_powder(cast.maker, red)
    return SimpleNamespace(
        batch=builders.one_pot(cast.maker),
        bottle=builders.bottle(cast.maker, [(jar, Decimal("2.5"))]),
        jar=builders.receive_powder(cast.maker, ochre),
        by=cast.helper,
    )


def depth_of(batch):
    return depth.depths_of([batch])[batch.pk]


def fed(batch):
    return [(one.dye.name, one.grams, one.unweighed) for one in depth.fed_of_run(batch.run)]


def test_dye_from_a_bottle_and_powder_add_up(pot):
    builders.addition(pot.by, pot.batch, pot.bottle, 100)
    builders.addition(pot.by, pot.batch, pot.jar, "0.5")
    assert fed(pot.batch) == [("Red", Decimal(1), False), ("Ochre", Decimal("0.5"), False)]
    assert (depth_of(pot.batch).pct, depth_of(pot.batch).words) == (Decimal("0.75"), "")


def test_what_nobody_weighed_makes_it_at_least(pot):
    builders.addition(pot.by, pot.batch, pot.bottle, 100)
    builders.addition(pot.by, pot.batch, pot.jar, how="sprinkled")
    assert ("Ochre", Decimal(0), True) in fed(pot.batch)
    assert (depth_of(pot.batch).pct, depth_of(pot.batch).words) == (Decimal("0.5"), "at least")
    assert [part.amount for part in depth.segments(depth.fed_of_run(pot.batch.run))] == [
        "1\N{NO-BREAK SPACE}g",
        "not weighed",
    ]


def test_an_unmeasured_pour_from_a_bottle_counts_too(pot):
    builders.addition(pot.by, pot.batch, pot.bottle)
    assert fed(pot.batch) == [("Red", Decimal(0), True)]


def test_a_weigh_in_settles_it(pot):
    sprinkled = builders.addition(pot.by, pot.batch, pot.jar, how="sprinkled")
    builders.share_out(pot.by, pot.jar, "0.8", [sprinkled])
    assert fed(pot.batch) == [("Ochre", Decimal("0.8"), False)]
    assert depth_of(pot.batch).words == ""


def test_nothing_is_asked_in_a_question_within_a_question(pot):
    """A database that has not surveyed its tables takes such a list for one row, and makes it anew for each line."""
    builders.addition(pot.by, pot.batch, pot.jar, how="sprinkled")
    with CaptureQueriesContext(connection) as asked:
        assert fed(pot.batch) == [("Ochre", Decimal(0), True)] and depth_of(pot.batch).words == "at least"
    assert asked.captured_queries and not [query["sql"] for query in asked if "IN (SELECT" in query["sql"]]


def test_a_struck_addition_was_never_fed(pot):
    wrong = builders.addition(pot.by, pot.batch, pot.bottle, 100)
    Strike.log(pot.batch, stamp(pot.by, hours(1)), target=wrong.pk)
    assert fed(pot.batch) == []
    assert depth_of(pot.batch).pct == 0


def test_a_bath_used_again_is_carry_over_unknown(pot, cast):
    before = builders.one_pot(cast.maker).bath_now()
    Bath.objects.create(batch=pot.batch, continues=before, began_at=NOON)
    assert depth_of(pot.batch).words == "carry-over unknown"


def test_kept_liquor_is_carry_over_unknown(pot):
    liquor = builders.bottle(pot.by, [], solution=builders.make_solution("Old red", kind="liquor"))
    builders.addition(pot.by, pot.batch, liquor, 500)
    assert depth_of(pot.batch).words == "carry-over unknown"


def into_another_pot(by, batch):
    """A pot for the skeins that came out of this one."""
    builders.finish(by, batch)
    again = BatchYarn(source="output", output=batch.yarns.get().outputs.get(), skeins=2, grams=200)
    run = builders.Run.plan(by=by, day=NOON.date(), pots=[{"fibre_g": 200, "yarns": [again]}])
    run.start(by=by, clock=builders.clock(NOON))
    return run.batches.get()


def test_yarn_dyed_before_is_carry_over_unknown(pot, cast):
    builders.addition(pot.by, pot.batch, pot.bottle)
    assert depth_of(into_another_pot(cast.maker, pot.batch)).words == "carry-over unknown"


def test_stripped_yarn_is_still_carry_over_unknown(pot, cast):
    builders.addition(pot.by, pot.batch, pot.jar, "0.5")
    stripped = into_another_pot(cast.maker, pot.batch)
    assert depth_of(into_another_pot(cast.maker, stripped)).words == "carry-over unknown"


def test_what_went_in_by_words_alone_may_have_been_dye(pot, cast):
    builders.addition(pot.by, pot.batch, other="words", what="onion skins")
    assert depth_of(into_another_pot(cast.maker, pot.batch)).words == "carry-over unknown"


def test_yarn_that_was_only_mordanted_carries_no_dye(pot, cast):
    wrong = builders.addition(pot.by, pot.batch, pot.bottle, 100)
    Strike.log(pot.batch, stamp(pot.by, hours(1)), target=wrong.pk)
    builders.addition(pot.by, pot.batch, amount=4000)
    assert depth_of(into_another_pot(cast.maker, pot.batch)).words == ""


def test_yarn_that_came_or_went_makes_it_shared(pot):
    Move.log(pot.batch, stamp(pot.by), what="yarn_out", skeins=1)
    assert depth_of(pot.batch).words == "shared"


def test_no_depth_without_a_weight(pot):
    pot.batch.fibre_g = None
    builders.addition(pot.by, pot.batch, pot.bottle, 100)
    assert depth_of(pot.batch).pct is None


def test_the_journal_shows_the_log_and_until_then_the_plan(cast, pot):
    planned = builders.run_with_pots(cast.maker, start=False, lines=[(pot.jar, 2)])
    builders.addition(pot.by, pot.batch, pot.bottle, 100)
    bars = depth.bars_of_runs([planned, pot.batch.run])
    assert [part.name for part in bars[pot.batch.run_id]] == ["Red"]
    assert [part.name for part in bars[planned.pk]] == ["Ochre"]


def test_bars_take_as_many_queries_for_ten_runs_as_for_two(cast, pot, django_assert_num_queries):
    runs = [builders.run_with_pots(cast.maker, pots=1) for _ in range(10)]
    for run in runs:
        builders.addition(pot.by, run.batches.get(), pot.bottle, 10)
        builders.addition(pot.by, run.batches.get(), pot.jar, how="sprinkled")
    with django_assert_num_queries(6):
        depth.bars_of_runs(runs[:2])
    with django_assert_num_queries(6):
        depth.bars_of_runs(runs)


def test_what_is_planned_from_a_bottle_by_its_name_counts_as_its_dye(cast, pot):
    run = builders.run_with_pots(cast.maker, pots=2, lines=[(pot.bottle, 100), (pot.jar, None)])
    planned = [(one.dye.name, one.grams, one.unweighed) for one in depth.planned_of_run(run)]
    assert planned == [("Red", Decimal(2), False), ("Ochre", Decimal(0), True)]  # 100 mL of 1 % in each pot
