"""Amounts that stand weighed beside the pot: to weigh, weighed, in."""

from decimal import Decimal
from uuid import uuid4

import pytest

from batches import intake
from batches.models import Entry, PlanLine, Strike, promised_by_lot
from batches.plan_beside_log import plan_beside_log
from batches.record import record_of
from batches.telling import lines_of
from tests import builders
from tests.builders import hours, stamp


@pytest.fixture
def powder(cast):
    return builders.receive_powder(cast.owner)


@pytest.fixture
def run(cast, powder):
    return builders.run_with_pots(cast.owner, pots=2, lines=[(powder, "1.2")])


def weigh(cast, run, who="helper", **said):
    pot = run.batches.order_by("number").first()
    data = {"kind": "weighed", "id": str(uuid4()), "line": pot.plan.get().pk, "pots": "all"} | said
    return intake.take(data, {}, batch=pot, person=getattr(cast, who))


def states(run):
    return set(PlanLine.objects.filter(batch__run=run).with_done().values_list("weighed", "done"))


def test_one_touch_weighs_the_line_for_every_pot(cast, run):
    assert states(run) == {(False, False)}
    assert weigh(cast, run).state == "saved"
    assert states(run) == {(True, False)}
    assert Entry.objects.filter(kind="weighed", by=cast.helper).count() == 2


def test_what_is_weighed_is_still_promised_and_not_in(cast, run, powder):
    weigh(cast, run)
    assert promised_by_lot()[powder.pk] == builders.Decimal("2.4")
    assert powder.on_hand_now() == 100
    row = plan_beside_log(run, list(Entry.objects.filter(batch__run=run).standing().with_details()))[0]
    assert row.done == 0


def test_then_it_goes_in(cast, run):
    weigh(cast, run)
    pot = run.batches.order_by("number").first()
    data = {"kind": "tick", "id": str(uuid4()), "line": pot.plan.get().pk, "pots": "all"}
    assert intake.take(data, {}, batch=pot, person=cast.helper).state == "saved"
    assert states(run) == {(True, True)}


def test_it_is_weighed_once(cast, run):
    weigh(cast, run)
    assert "weighed already" in str(weigh(cast, run).errors)


def test_a_struck_weighing_is_to_weigh_again(cast, run):
    weigh(cast, run)
    for entry in Entry.objects.filter(kind="weighed"):
        Strike.log(entry.batch, stamp(cast.owner, hours(2)), target=entry.pk)
    assert states(run) == {(False, False)}


def test_a_viewer_weighs_nothing(cast, run):
    assert weigh(cast, run, "viewer").state == "forbidden"


def test_the_log_says_it(cast, run, powder, client_of, studio):
    weigh(cast, run)
    said = {line.what for line in lines_of(record_of(run)["entries"])}
    assert f"Weighed ahead: 1.2\N{NO-BREAK SPACE}g {powder.dye}" in said
    page = client_of(cast.helper).get(f"/sink/{run.batches.order_by('number').first().pk}/").content.decode()
    assert "It stands weighed (1.2\N{NO-BREAK SPACE}g)." in page and "Weighed, not in yet" not in page


def test_another_amount_than_told_is_kept_and_is_what_goes_in(cast, run, powder):
    assert weigh(cast, run, amount="1.25").state == "saved"
    assert [line.stands for line in PlanLine.objects.filter(batch__run=run).with_stands()] == [Decimal("1.25")] * 2
    pot = run.batches.order_by("number").first()
    tick = {"kind": "tick", "id": str(uuid4()), "line": pot.plan.get().pk, "pots": "all"}
    entries = intake.take(tick, {}, batch=pot, person=cast.maker).entries
    assert [entry.addition.amount for entry in entries] == [Decimal("1.25")] * 2
    assert powder.on_hand_now() == Decimal("97.5")


def test_done_to_here_takes_what_stands_weighed_too(cast, run):
    weigh(cast, run, amount="1250 mg")
    pot = run.batches.order_by("number").first()
    done = {"kind": "done_to_here", "id": str(uuid4()), "line": pot.plan.get().pk, "pots": "this"}
    (entry,) = intake.take(done, {}, batch=pot, person=cast.maker).entries
    assert entry.addition.amount == Decimal("1.25")


def test_what_is_struck_stands_no_more_and_the_told_amount_counts(cast, run):
    entry = weigh(cast, run, amount="1.25", pots="this").entries[0]
    Strike.log(entry.batch, stamp(cast.owner, hours(2)), target=entry.pk)
    line = PlanLine.objects.with_stands().get(batch=entry.batch)
    assert line.stands is None and line.to_go_in == Decimal("1.2")


def test_the_amount_that_is_said_at_the_pot_counts_before_what_stood_weighed(cast, run):
    weigh(cast, run, amount="1.25")
    pot = run.batches.order_by("number").first()
    tick = {"kind": "tick", "id": str(uuid4()), "line": pot.plan.get().pk, "pots": "this", "amount": "1.1"}
    (entry,) = intake.take(tick, {}, batch=pot, person=cast.maker).entries
    assert entry.addition.amount == Decimal("1.1")


@pytest.mark.parametrize("bad", ["0", "-1", "5 mL", "1,000", "much", "9" * 30])
def test_a_weight_that_cannot_be_is_refused(cast, run, bad):
    answer = weigh(cast, run, amount=bad)
    assert answer.state == "wrong" and answer.errors["amount"]
    assert states(run) == {(False, False)}


def test_a_volume_is_drawn_up_ahead_as_well(cast):
    run = builders.run_with_pots(cast.owner, pots=1, lines=[(builders.bottle(cast.owner), 40)])
    assert weigh(cast, run, amount="41").state == "saved"
    assert PlanLine.objects.with_stands().get(batch__run=run).stands == 41


def test_all_of_a_pot_is_weighed_in_one_touch(cast, powder):
    lines = [(powder, "1.2"), (builders.bottle(cast.owner), 40)]
    run = builders.run_with_pots(cast.owner, pots=2, lines=lines)
    pot, other = run.batches.order_by("number")
    data = {"kind": "all_weighed", "id": str(uuid4())}
    first = intake.take(data, {}, batch=pot, person=cast.helper)
    again = intake.take(data, {}, batch=pot, person=cast.helper)
    assert (first.state, again.state, len(first.entries)) == ("saved", "already", 2)
    assert not PlanLine.objects.filter(batch=other).with_done().filter(weighed=True).exists()
    more = intake.take(data | {"id": str(uuid4())}, {}, batch=pot, person=cast.helper)
    assert "stands weighed already" in str(more.errors)


def test_the_log_says_what_was_told_where_another_amount_was_weighed(cast, run, powder, studio):
    weigh(cast, run, amount="1.25")
    line = next(line for line in lines_of(record_of(run)["entries"]))
    assert line.what == f"Weighed ahead: 1.25\N{NO-BREAK SPACE}g {powder.dye}"
    assert line.more[0] == "told 1.2\N{NO-BREAK SPACE}g"
