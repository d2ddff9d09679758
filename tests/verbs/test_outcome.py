"""Finishing on several days, changing what was said, and striking a finish out."""

import pytest

from batches.models import Finish, Output, Strike
from tests import builders
from tests.builders import hours, stamp


@pytest.fixture
def batch(cast):
    return builders.one_pot(cast.maker, skeins=6)


def finish(by, batch, skeins, at=3, **facts):
    outputs = [Output(yarn=batch.yarns.get(), grade="first", skeins=skeins)] if skeins else []
    return Finish.log(batch, stamp(by, hours(at)), outputs=outputs, **facts)


def state(batch):
    batch.refresh_from_db()
    return batch.state, batch.run.__class__.objects.get(pk=batch.run_id).state


def test_more_skeins_come_on_a_later_day(cast, batch):
    finish(cast.maker, batch, 4, why_off="Two are still drying")
    finish(cast.maker, batch, 2, at=30)
    assert sum(output.skeins for output in Output.objects.standing()) == 6
    assert state(batch) == ("finished", "finished")


def test_more_than_went_in_needs_a_word(cast, batch):
    with pytest.raises(ValueError, match="6 went in, 7 came out"):
        finish(cast.maker, batch, 7)
    finish(cast.maker, batch, 7, why_off="One hank was two")


def test_a_verdict_may_change_after_a_finish_that_did_not_tally(cast, batch):
    finish(cast.maker, batch, 4, why_off="Two went missing")
    finish(cast.maker, batch, 0, at=30, verdict="never")
    assert state(batch) == ("finished", "finished")


def test_a_pot_that_is_not_finished_can_not_be_finished_with_nothing(cast, batch):
    with pytest.raises(ValueError, match="6 went in, 0 came out"):
        finish(cast.maker, batch, 0, verdict="never")


def test_striking_the_skeins_opens_the_pot_though_a_verdict_stands(cast, batch):
    came_out = finish(cast.maker, batch, 6)
    finish(cast.maker, batch, 0, at=30, verdict="sell")
    Strike.log(batch, stamp(cast.maker, hours(31)), target=came_out.pk)
    assert state(batch) == ("running", "running")


def test_striking_a_verdict_opens_nothing(cast, batch):
    finish(cast.maker, batch, 6)
    said = finish(cast.maker, batch, 0, at=30, verdict="sell")
    Strike.log(batch, stamp(cast.maker, hours(31)), target=said.pk)
    assert state(batch) == ("finished", "finished")
