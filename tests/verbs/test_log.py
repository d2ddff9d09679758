"""The log: its order and clocks, strike-outs that come first, last and twice, finishes, and what is promised."""

from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from batches.models import (
    Addition,
    Check,
    Entry,
    Finish,
    Move,
    Output,
    PhotoTaken,
    Reading,
    Run,
    StepDone,
    Strike,
    promised_by_lot,
    tally,
)
from batches.telling import line_of, lines_of
from recipes.models import HouseStep
from studio.models import Movement, Studio
from tests import builders
from tests.builders import NOON, clock, hours, stamp


@pytest.fixture
def powder(cast):
    return builders.receive_powder(cast.maker)


@pytest.fixture
def pot(cast):
    return builders.one_pot(cast.maker)


def strike(by, pot, target, at=None, **facts):
    return Strike.log(pot, stamp(by, at or hours(1), **facts), target=target)


def state_of(row):
    row.refresh_from_db()
    return row.state


# --- order and clocks


def test_the_log_is_in_the_order_in_which_it_happened(cast, pot):
    late = builders.words(cast.helper, pot, "second", at=hours(2))
    early = builders.words(cast.helper, pot, "first", at=hours(1))
    assert list(pot.entries.in_order()) == [early, late]


SLOW = timedelta(minutes=-30)


@pytest.mark.parametrize(
    ("time_from", "off", "shifted"),
    [
        ("touch", timedelta(minutes=2), timedelta(0)),
        ("touch", SLOW, -SLOW),
        ("together", SLOW, -SLOW),
        ("said", SLOW, timedelta(0)),
        ("paper", SLOW, timedelta(0)),
    ],
)
def test_a_phone_that_goes_wrong_is_put_right_and_a_person_is_not(cast, pot, time_from, off, shifted):
    """The phone's clock is `off` when the line is touched, and still is when it is sent an hour later."""
    touched, received = hours(1) + off, hours(2)
    entry = builders.words(
        cast.helper, pot, at=touched, time_from=time_from, sent_at=received + off, clock=clock(received)
    )
    assert entry.at == touched + shifted
    assert entry.happened_at == touched


def test_nothing_happens_in_the_future(cast, pot):
    entry = builders.words(cast.helper, pot, at=hours(9), time_from="said", clock=clock(hours(1)))
    assert entry.at == hours(1) and entry.happened_at == hours(9)


def test_who_did_it_and_who_sent_it_are_both_kept(cast, pot):
    entry = builders.words(cast.helper, pot, sent_by=cast.maker, offset_min=120)
    assert (entry.by, entry.sent_by) == (cast.helper, cast.maker)
    assert entry.offset_min == 120


# --- strike-outs


def test_a_struck_addition_goes_back_to_the_shelf(cast, pot, powder):
    entry = builders.addition(cast.helper, pot, powder, 3)
    strike(cast.maker, pot, entry.pk)
    assert builders.on_hand(powder) == 100
    assert entry not in pot.entries.standing() and entry in pot.entries.all()


def test_a_strike_may_come_before_its_line(cast, pot, powder):
    wrong = uuid4()
    strike(cast.helper, pot, wrong)
    Addition.log(pot, stamp(cast.helper, NOON, hours(2), id=wrong), lot=powder, amount=Decimal(3))
    assert builders.on_hand(powder) == 100
    assert not pot.entries.standing().exists()


def test_a_strike_may_come_before_its_finish(cast, pot):
    wrong = uuid4()
    strike(cast.helper, pot, wrong)
    outputs = [Output(yarn=yarn, grade="first", skeins=yarn.skeins) for yarn in pot.yarns.all()]
    Finish.log(pot, stamp(cast.maker, NOON, hours(2), id=wrong), outputs=outputs)
    assert state_of(pot) == "running" and state_of(pot.run) == "running"


def test_a_line_is_struck_once(cast, pot, powder):
    entry = builders.addition(cast.helper, pot, powder, 3)
    strike(cast.maker, pot, entry.pk)
    with pytest.raises(ValueError, match="struck out already"):
        strike(cast.helper, pot, entry.pk)
    assert builders.on_hand(powder) == 100


def test_a_strike_out_is_not_struck(cast, pot, powder):
    first = strike(cast.maker, pot, builders.addition(cast.helper, pot, powder, 3).pk)
    with pytest.raises(ValueError, match="cannot be struck out"):
        strike(cast.maker, pot, first.pk)


def test_lines_made_together_are_struck_one_by_one(cast, powder):
    pots = builders.run_with_pots(cast.maker, pots=2).batches.all()
    together = uuid4()
    entries = [Addition.log(pot, stamp(cast.helper, together=together), lot=powder, amount=Decimal(3)) for pot in pots]
    strike(cast.helper, pots[0], entries[0].pk)
    assert list(Entry.objects.standing().filter(together=together)) == [entries[1]]
    strike(cast.helper, pots[0], entries[1].pk)
    assert Strike.objects.get(target=entries[1].pk).entry.batch == pots[1]
    assert builders.on_hand(powder) == 100


# --- where the yarn is


def test_the_yarn_is_where_the_last_line_left_it(cast, pot):
    wheres = []
    for number, kind in enumerate(["soak", "heat", "cool", "rinse", "dry"], 1):
        StepDone.log(pot, stamp(cast.helper, hours(number)), kind=kind)
        pot.refresh_from_db()
        wheres.append(pot.where)
    assert wheres == ["soaking", "in_pot", "cooling", "rinsing", "drying"]


def test_a_late_line_does_not_carry_the_yarn_back(cast, pot):
    StepDone.log(pot, stamp(cast.helper, hours(3)), kind="rinse")
    StepDone.log(pot, stamp(cast.helper, hours(1), hours(4)), kind="soak")
    pot.refresh_from_db()
    assert pot.where == "rinsing"


def test_a_struck_line_moved_nothing(cast, pot):
    StepDone.log(pot, stamp(cast.helper, hours(1)), kind="cool")
    wrong = StepDone.log(pot, stamp(cast.helper, hours(2)), kind="dry")
    strike(cast.helper, pot, wrong.pk, at=hours(3))
    pot.refresh_from_db()
    assert pot.where == "cooling"


def test_finished_yarn_goes_to_be_tagged_and_then_to_the_shelf(cast, pot):
    builders.finish(cast.maker, pot, at=hours(1))
    pot.refresh_from_db()
    assert pot.where == "to_tag"
    Move.log(pot, stamp(cast.maker, hours(2)), what="where", where="stored")
    pot.refresh_from_db()
    assert pot.where == "stored"


@pytest.mark.parametrize("grade", ["prepared", "again", "sample", "customer", "lost"])
def test_what_is_not_to_be_sold_waits_for_no_tag(cast, pot, grade):
    builders.finish(cast.maker, pot, at=hours(1), grade=grade)
    pot.refresh_from_db()
    assert pot.where == "stored"


def test_a_sample_does_not_hide_the_firsts_that_still_want_tags(cast):
    pot = builders.one_pot(cast.maker)
    yarn = pot.yarns.get()
    for hour, grade in enumerate(["first", "sample"], 1):
        outputs = [Output(yarn=yarn, grade=grade, skeins=1)]
        Finish.log(pot, stamp(cast.maker, hours(hour)), outputs=outputs, why_off="the rest comes later")
    pot.refresh_from_db()
    assert pot.where == "to_tag"


def test_yarn_is_in_the_pot_while_its_colour_is_stripped(cast, pot):
    StepDone.log(pot, stamp(cast.helper, hours(1)), kind="strip", temperature_c=80, minutes=30)
    pot.refresh_from_db()
    assert pot.where == "in_pot"
    (line,) = lines_of(pot.entries.in_order().with_details().select_related("plan_line"))
    assert line.what == "Strip colour, 80\N{NO-BREAK SPACE}°C, 30\N{NO-BREAK SPACE}min"


# --- start, finish, undo


def test_starting_takes_the_yarn_once(cast):
    lot = builders.receive_yarn(cast.maker, skeins=10)
    run = builders.run_with_pots(cast.maker, lot, pots=2, skeins=2)
    run.start(by=cast.helper, clock=clock(hours(1)))
    assert builders.on_hand(lot) == 600
    assert run.started_at == NOON and run.batches.first().baths.count() == 1


def test_a_run_ends_with_its_last_pot_and_opens_with_a_struck_finish(cast):
    run = builders.run_with_pots(cast.maker, pots=2)
    first, second = run.batches.all()
    builders.finish(cast.maker, first)
    assert state_of(run) == "running"
    last = builders.finish(cast.maker, second)
    assert state_of(run) == "finished" and run.finished_at == NOON
    strike(cast.maker, second, last.pk)
    assert (state_of(run), state_of(first), state_of(second)) == ("running", "finished", "running")
    assert run.finished_at is None and not Output.objects.standing().filter(yarn__batch=second).exists()


def test_in_and_out_tally_or_it_is_said_why(cast, pot):
    yarn = pot.yarns.get()
    one = [Output(yarn=yarn, grade="first", skeins=1)]
    with pytest.raises(ValueError, match="2 went in, 1 came out"):
        Finish.log(pot, stamp(cast.maker), outputs=one)
    Finish.log(pot, stamp(cast.maker), outputs=one, why_off="One is still drying")
    Finish.log(pot, stamp(cast.maker, hours(1)), outputs=[Output(yarn=yarn, grade="second", skeins=1)])
    assert tally(pot) == [(yarn, 2, 2)]


def test_only_this_pots_yarn_comes_out_of_it(cast):
    first, second = builders.run_with_pots(cast.maker, pots=2).batches.all()
    with pytest.raises(ValueError, match="another pot"):
        Finish.log(first, stamp(cast.maker), outputs=[Output(yarn=second.yarns.get(), grade="first", skeins=2)])


def test_a_pot_that_was_never_started_is_not_finished(cast):
    pot = builders.run_with_pots(cast.maker, pots=1, start=False).batches.get()
    with pytest.raises(ValueError, match="has not been started"):
        builders.finish(cast.maker, pot)


def test_a_line_after_the_finish_is_taken_and_says_so(cast, pot, powder):
    builders.finish(cast.maker, pot)
    entry = builders.addition(cast.helper, pot, powder, 3, at=hours(-1), received_at=hours(1))
    assert entry.after_finish and not pot.entries.get(kind="finish").after_finish


def test_a_run_given_up_stays_so_when_its_yarn_is_told(cast):
    run = builders.run_with_pots(cast.maker, pots=1)
    run.abandon(why="The pot cracked", by=cast.maker, clock=clock(hours(1)))
    pot = run.batches.get()
    lost = builders.finish(cast.maker, pot, at=hours(2), grade="lost")
    assert (state_of(run), state_of(pot)) == ("abandoned", "abandoned")
    strike(cast.maker, pot, lost.pk, at=hours(3))
    assert (state_of(run), state_of(pot)) == ("abandoned", "abandoned")


def test_a_finished_run_is_not_given_up(cast, pot):
    builders.finish(cast.maker, pot)
    with pytest.raises(ValueError, match="is finished"):
        pot.run.abandon(why="Changed my mind", by=cast.maker)
    assert state_of(pot.run) == "finished"


def test_codes_count_on_through_the_year_and_never_go_back(cast):
    assert [Studio.next_code(year) for year in (2026, 2026, 2027, 2026)] == ["26-001", "26-002", "27-001", "27-002"]


def test_a_run_for_next_year_is_given_this_years_code(cast):
    run = Run.plan(by=cast.maker, day=hours(24 * 365).date(), pots=[{}], clock=clock())
    assert run.code == "26-001"


def test_what_belongs_to_another_pot_is_refused(cast, powder):
    first, second = builders.run_with_pots(cast.maker, pots=2, lines=[(powder, 1)]).batches.all()
    with pytest.raises(ValueError, match="belongs to another pot"):
        builders.addition(cast.helper, first, powder, 1, plan_line=second.plan.get())
    with pytest.raises(ValueError, match="belongs to another pot"):
        builders.addition(cast.helper, first, powder, 1, bath=second.bath_now())
    assert not Entry.objects.exists()


# --- promised


def test_plans_promise_yarn_and_dye_until_they_are_taken(cast, powder):
    yarn = builders.receive_yarn(cast.maker, skeins=10)
    run = builders.run_with_pots(cast.maker, yarn, pots=2, skeins=2, lines=[(powder, 3)], start=False)
    assert promised_by_lot() == {yarn.pk: 400, powder.pk: 6}
    run.start(by=cast.maker, clock=clock())
    assert promised_by_lot() == {powder.pk: 6}
    first, second = run.batches.all()
    done = builders.addition(cast.helper, first, powder, 3, plan_line=first.plan.get())
    assert promised_by_lot() == {powder.pk: 3}
    strike(cast.helper, first, done.pk)
    assert promised_by_lot() == {powder.pk: 6}
    builders.finish(cast.maker, second, at=hours(2))
    assert promised_by_lot() == {powder.pk: 3}
    run.abandon(why="Rain", by=cast.maker)
    assert promised_by_lot() == {}


# --- locks


def locks_of(verb):
    """The tables of rows locked, in order, as PostgreSQL is asked for them."""
    with CaptureQueriesContext(connection) as asked:
        verb()
    locking = [query["sql"] for query in asked if "FOR NO KEY UPDATE" in query["sql"] or "FOR UPDATE" in query["sql"]]
    assert all("FOR NO KEY UPDATE" in sql for sql in locking), "a full lock waits for every row that names this one"
    assert all(
        "ORDER BY" in sql for sql in locking if '"studio_lot"."id" IN' in sql or '"batches_batch"."id" IN' in sql
    )
    return [sql.split('FROM "')[1].split('"')[0].split("_")[1] for sql in locking]


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite locks the whole database")
def test_every_verb_locks_runs_then_pots_then_lots(cast, powder):
    by = cast.maker
    bottle = builders.bottle(by, [(powder, 1)])
    run = builders.run_with_pots(by, pots=2, start=False)
    pot, other = run.batches.all()
    assert locks_of(lambda: run.start(by=by, clock=clock())) == ["run", "batch", "lot"]
    assert locks_of(lambda: builders.addition(by, pot, bottle, 1)) == ["batch", "lot"]
    assert locks_of(lambda: Reading.log(pot, stamp(by), temperature_c=80)) == ["batch"]
    added = builders.addition(by, pot, bottle, 1)
    assert locks_of(lambda: strike(by, pot, added.pk)) == ["batch", "lot"]
    assert locks_of(lambda: strike(by, pot, uuid4())) == ["run", "batch"]
    shown = builders.picture(by)
    assert locks_of(lambda: PhotoTaken.log(pot, stamp(by), picture=shown, stage="dry")) == ["run", "batch"]
    assert locks_of(lambda: Check.log(pot, stamp(by), what="cloth", result="none")) == ["batch"]
    assert locks_of(lambda: builders.finish(by, pot)) == ["run", "batch"]
    last = builders.finish(by, other)
    assert locks_of(lambda: strike(by, other, last.pk))[:2] == ["run", "batch"]
    assert locks_of(lambda: run.abandon(why="Rain", by=by)) == ["run", "batch"]
    waiting = builders.run_with_pots(by, pots=2, start=False)
    assert locks_of(lambda: waiting.dye_on(NOON.date())) == ["run"]
    plans = {one: (None, [builders.plan_line(powder, 1)]) for one in waiting.batches.all()}
    anew = lambda: type(pot).replan(plans, recipe=builders.recipe(by), clock=clock())  # noqa: E731
    assert [lock for lock in locks_of(anew) if lock not in ("colourway", "recipe")] == ["run", "batch", "lot"]
    assert locks_of(lambda: builders.bottle(by, [(bottle, 1), (powder, 1)])) == ["lot"]
    assert locks_of(lambda: builders.count(by, powder, 5)) == ["lot"]
    assert locks_of(lambda: builders.colourway(by).next_version(by=by, now=NOON, fibre_g=1)) == ["colourway"]


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one write at a time")
@pytest.mark.django_db(transaction=True)
def test_two_phones_that_cross_never_wait_in_a_ring():
    """From a bottle while another is made of it and of its powder; a dry photo while the pot is finished."""
    cast = builders.make_cast()
    by = cast.maker
    powder = builders.receive_powder(by, grams=1000)
    bottle = builders.bottle(by, [(powder, 10)], volume=1000)
    shown = builders.picture(by)
    for _ in range(6):
        pot = builders.one_pot(by)
        verbs = [
            lambda pot=pot: builders.addition(by, pot, bottle, 1),
            lambda: builders.bottle(by, [(powder, 1), (bottle, 1)]),
            lambda pot=pot: PhotoTaken.log(pot, stamp(by), picture=shown, stage="dry"),
            lambda pot=pot: builders.finish(by, pot),
        ]
        assert builders.at_once(*verbs) == []
    assert builders.on_hand(powder) == 984 and builders.on_hand(bottle) == 988


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one write at a time")
@pytest.mark.django_db(transaction=True)
def test_a_strike_that_crosses_its_line_still_takes_it_back():
    cast = builders.make_cast()
    powder = builders.receive_powder(cast.maker)
    for _ in range(8):
        pot, wrong = builders.one_pot(cast.maker), uuid4()
        verbs = [
            lambda pot=pot, id=wrong: Addition.log(pot, stamp(cast.helper, id=id), lot=powder, amount=Decimal(3)),
            lambda pot=pot, id=wrong: strike(cast.helper, pot, id),
        ]
        assert builders.at_once(*verbs) == []
    assert builders.on_hand(powder) == 100 and Movement.objects.filter(kind="reversed").count() == 8


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one write at a time")
@pytest.mark.django_db(transaction=True)
def test_runs_planned_at_once_get_a_code_each():
    cast = builders.make_cast()
    plan = lambda: Run.plan(by=cast.maker, day=NOON.date(), pots=[{}], clock=clock())  # noqa: E731
    assert builders.at_once(*[plan] * 5) == []
    assert sorted(Run.objects.values_list("code", flat=True)) == [f"26-00{number}" for number in range(1, 6)]


def test_a_house_step_is_told_by_the_name_it_had_that_day(cast):
    pot = builders.one_pot(cast.maker)
    usual = HouseStep.objects.create(name="Long soak", kind="soak", minutes=30)
    entry = StepDone.log(pot, builders.stamp(cast.maker), kind="soak", minutes=30, house_step=usual)
    usual.name = "Overnight in the blue tub"
    usual.save()
    told = Entry.objects.with_details().get(pk=entry.pk)
    assert line_of(told).what.startswith("Long soak as usual")
