"""Amounts that stand weighed beside the pot: to weigh, weighed, in."""

from uuid import uuid4

import pytest

from batches import intake
from batches.models import Entry, PlanLine, Strike, promised_by_lot
from batches.record import plan_beside_log, record_of
from batches.telling import lines_of
from tests import builders
from tests.builders import hours, stamp


@pytest.fixture
def powder(cast):
    return builders.receive_powder(cast.owner)


@pytest.fixture
def run(cast, powder):
    return builders.run_with_pots(cast.owner, pots=2, lines=[(powder, "1.2")])


def weigh(cast, run, who="helper"):
    pot = run.batches.order_by("number").first()
    data = {"kind": "weighed", "id": str(uuid4()), "line": pot.plan.get().pk, "pots": "all"}
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
    assert "It stands weighed." in page and "Weighed, not in yet" not in page
