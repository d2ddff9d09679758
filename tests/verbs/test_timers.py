"""Timers: begun, ended, given more time; in whatever order the phones' touches come in."""

from datetime import timedelta
from decimal import Decimal
from uuid import uuid4, uuid5

import pytest
import time_machine

from batches import intake, record, timers
from batches.models import Entry, Reading, Run, StepDone, Strike, Timer, TimerEnded
from batches.plan_beside_log import plan_beside_log
from batches.telling import lines_of
from tests import builders
from tests.builders import NOON, hours, stamp


def minutes(number):
    return NOON + timedelta(minutes=number)


@pytest.fixture(autouse=True)
def _noon():
    with time_machine.travel(NOON, tick=False) as clock:
        yield clock


@pytest.fixture
def pot(cast):
    return builders.one_pot(cast.maker)


@pytest.fixture
def jars(cast):
    return builders.run_with_pots(cast.maker, pots=8, skeins=1)


@pytest.fixture
def planned(cast):
    hold = builders.plan_line(step="hold", words="Hold it", temperature_c=87, minutes=45)
    yarn = builders.receive_yarn(cast.maker, skeins=8)
    told = [
        {"fibre_g": 100, "yarns": [builders.shelf_yarn(yarn, 1)], "lines": [builders.plan_line(**line_facts(hold))]}
        for _ in range(2)
    ]
    run = Run.plan(by=cast.maker, day=NOON.date(), pots=told, clock=lambda: NOON)
    run.start(by=cast.maker, clock=lambda: NOON)
    return run


def line_facts(line):
    return {"step": line.step, "words": line.words, "temperature_c": line.temperature_c, "minutes": line.minutes}


def send(batch, person, kind, **fields):
    data = {"kind": kind, "id": str(uuid4())} | {name: str(value) for name, value in fields.items()}
    return intake.take(data, {}, batch=batch, person=person)


def running():
    return Timer.objects.running().count()


# Beginning


def test_it_is_due_so_many_minutes_after_it_began(cast, pot):
    answer = send(pot, cast.helper, "timer", what="hold", minutes="45", when="2026-03-14 11:30")
    timer = answer.entries[0].timer
    assert (answer.state, timer.due_at, timer.minutes) == ("saved", minutes(15), 45)


def test_the_time_of_a_phone_that_goes_wrong_is_put_right(cast, pot):
    fields = {"happened_at": hours(-3).isoformat(), "sent_at": (hours(-3) + timedelta(minutes=2)).isoformat()}
    timer = send(pot, cast.helper, "timer", what="soak", quick=30, **fields).entries[0].timer
    assert timer.due_at == minutes(28)  # sent two minutes after the touch, on a clock three hours slow


def test_until_a_time_of_day_is_the_next_such_time(cast, pot):
    today = send(pot, cast.helper, "timer", what="sun", until="19:30").entries[0].timer
    assert (today.due_at, today.minutes) == (minutes(450), 450)
    tomorrow = send(pot, cast.helper, "timer", what="sun", until="08:00").entries[0].timer
    assert tomorrow.due_at == hours(20)


@pytest.mark.parametrize("wrong", [timedelta(0), timedelta(days=3), timedelta(days=-3)])
def test_until_is_counted_from_the_touch_however_late_and_by_whatever_clock(cast, pot, wrong):
    """Touched at 13:00 of the day before, and sent when the phone had a network again."""
    fields = {"happened_at": (hours(-23) + wrong).isoformat(), "sent_at": (NOON + wrong).isoformat()}
    timer = send(pot, cast.helper, "timer", what="sun", until="19:30", **fields).entries[0].timer
    assert (timer.entry.at, timer.due_at) == (hours(-23), minutes(450) - timedelta(days=1))


def test_until_a_time_of_day_after_it_began_a_while_ago(cast, pot):
    timer = send(pot, cast.helper, "timer", what="sun", until="11:50", ago="30").entries[0].timer
    assert (timer.entry.at, timer.due_at) == (minutes(-30), minutes(-10))


@pytest.mark.parametrize(
    ("fields", "where"),
    [
        ({}, "minutes"),
        ({"minutes": "45", "quick": "30"}, "minutes"),
        ({"minutes": "0"}, "minutes"),
        ({"minutes": "soon"}, "minutes"),
        ({"until": "2026-03-13 08:00"}, "until"),
        ({"until": "2027-03-13 08:00"}, "until"),
        ({"what": "nap", "minutes": "45"}, "what"),
    ],
)
def test_what_cannot_be_meant_is_said(cast, pot, fields, where):
    answer = send(pot, cast.helper, "timer", **fields)
    assert answer.state == "wrong" and where in answer.errors and not Timer.objects.exists()


def test_eight_jars_begin_and_end_with_one_touch_each(cast, jars):
    first = jars.batches.first()
    begun = send(first, cast.helper, "timer", what="hold", quick=60, pots="all").entries
    assert running() == 8 and len({entry.together for entry in begun}) == 1
    assert len(timers.rows()) == 1
    ended = send(first, cast.helper, "timer_end", target=begun[3].pk, pots="all")
    assert ended.ok and running() == 0
    assert StepDone.objects.count() == 8


def test_one_jar_ends_alone(cast, jars, _noon):
    first, third = jars.batches.order_by("number")[0], jars.batches.order_by("number")[2]
    begun = send(first, cast.helper, "timer", what="hold", quick=60, pots="all").entries
    _noon.move_to(minutes(50))
    send(third, cast.helper, "timer_end", target=begun[0].together, pots="this")
    assert running() == 7 and StepDone.objects.get().entry.batch == third
    assert StepDone.objects.get().minutes == 50
    (row,) = timers.rows()
    assert row.pots == "pots 1, 2 and 4 to 8"


# Ending


def test_done_logs_the_step_with_its_real_minutes(cast, pot, _noon):
    begun = send(pot, cast.helper, "timer", what="cool", quick=60).entries[0]
    _noon.move_to(minutes(72))
    answer = send(pot, cast.maker, "timer_end", target=begun.pk)
    step = StepDone.objects.get()
    assert (step.kind, step.minutes, step.entry.by) == ("cool", 72, cast.maker)
    assert step.entry.together == answer.entries[0].together and step.entry.at == minutes(72)


def test_the_log_tells_an_end_before_the_step_that_it_writes(cast, pot, _noon):
    for hour in range(6):  # by their random keys alone, half of them would come the right way round
        begun = send(pot, cast.helper, "timer", what="cool", quick=60).entries[0]
        _noon.move_to(minutes(60 * (hour + 1)))
        send(pot, cast.helper, "timer_end", target=begun.pk)
    told = [entry.kind for entry in Entry.objects.filter(batch=pot).in_order() if entry.kind in ("ended", "step")]
    assert told == ["ended", "step"] * 6


def test_stopped_logs_no_step(cast, pot):
    begun = send(pot, cast.helper, "timer", what="hold", quick=60).entries[0]
    send(pot, cast.helper, "timer_end", target=begun.pk, outcome="stopped")
    assert running() == 0 and not StepDone.objects.exists()


@pytest.mark.parametrize("what", ["sun", "look", "other"])
def test_what_is_no_step_ends_without_one(cast, pot, what):
    begun = send(pot, cast.helper, "timer", what=what, quick=60).entries[0]
    send(pot, cast.helper, "timer_end", target=begun.pk)
    assert running() == 0 and not StepDone.objects.exists()


def test_a_planned_hold_is_ticked_when_its_time_is_done(cast, planned, _noon):
    pots = list(planned.batches.order_by("number"))
    line = pots[0].plan.get()
    begun = send(pots[0], cast.helper, "timer", line=line.pk)
    assert len(begun.entries) == 2 and begun.entries[0].timer.what == "hold"
    assert not pots[0].plan.with_done().get().done
    _noon.move_to(minutes(47))
    send(pots[0], cast.helper, "timer_end", target=begun.id)
    for pot in pots:
        assert pot.plan.with_done().get().done
        step = StepDone.objects.get(entry__batch=pot)
        assert (step.kind, step.minutes, step.temperature_c) == ("hold", 47, 87)


def test_a_planned_hold_is_not_begun_twice(cast, planned):
    pot = planned.batches.first()
    send(pot, cast.helper, "timer", line=pot.plan.get().pk)
    again = send(pot, cast.maker, "timer", line=pot.plan.get().pk)
    assert again.state == "wrong" and "its timer runs" in str(again.errors) and running() == 2


def test_a_line_ticked_by_hand_is_not_waited_for_any_more(cast, planned):
    pot = planned.batches.first()
    send(pot, cast.helper, "timer", line=pot.plan.get().pk)
    send(pot, cast.helper, "tick", line=pot.plan.get().pk, skip="on")
    assert running() == 0


def test_ended_twice_is_over_once_and_logs_one_step(cast, pot, _noon):
    begun = send(pot, cast.helper, "timer", what="hold", quick=45).entries[0]
    _noon.move_to(minutes(46))
    send(pot, cast.helper, "timer_end", target=begun.pk)
    _noon.move_to(minutes(50))
    second = send(pot, cast.maker, "timer_end", target=begun.pk)
    assert second.state == "saved" and second.form.over_already
    assert StepDone.objects.get().minutes == 46


def test_the_same_touch_sent_again_is_known(cast, pot):
    begun = send(pot, cast.helper, "timer", what="hold", quick=45).entries[0]
    data = {"kind": "timer_end", "id": str(uuid4()), "target": str(begun.pk)}
    states = [intake.take(data, {}, batch=pot, person=cast.helper).state for _ in range(3)]
    assert states == ["saved", "already", "already"]
    assert TimerEnded.objects.count() == 1 and StepDone.objects.count() == 1


def test_a_timer_of_another_run_is_not_ended_here(cast, pot):
    begun = send(pot, cast.helper, "timer", what="hold", quick=45).entries[0]
    answer = send(builders.one_pot(cast.maker), cast.helper, "timer_end", target=begun.pk)
    assert answer.state == "wrong" and "another log" in str(answer.errors) and running() == 1


# Struck


def test_a_struck_timer_vanishes_and_a_struck_end_lets_it_run_again(cast, pot):
    begun = send(pot, cast.maker, "timer", what="hold", quick=45).entries[0]
    ended = send(pot, cast.maker, "timer_end", target=begun.pk).entries[0]
    assert running() == 0
    send(pot, cast.maker, "strike", target=ended.pk, scope="all")
    assert running() == 1 and not StepDone.objects.filter(entry__in=Entry.objects.standing()).exists()
    send(pot, cast.maker, "strike", target=begun.pk)
    assert running() == 0


def test_a_struck_end_of_a_planned_hold_lets_it_run_again(cast, planned):
    pot = planned.batches.first()
    begun = send(pot, cast.maker, "timer", line=pot.plan.get().pk, pots="this")
    ended = send(pot, cast.maker, "timer_end", target=begun.id).entries[0]
    send(pot, cast.maker, "strike", target=ended.pk, scope="this")
    assert running() == 1


# Before what they name


def test_an_end_that_comes_first_waits_and_then_logs_the_step(cast, planned):
    pot, key = planned.batches.first(), uuid4()
    end = {"kind": "timer_end", "id": str(uuid4()), "target": str(key), "pots": "all"}
    end |= {"happened_at": minutes(-5).isoformat()}
    begin = {"kind": "timer", "id": str(key), "line": str(pot.plan.get().pk), "happened_at": minutes(-50).isoformat()}
    assert intake.take(end, {}, batch=pot, person=cast.helper).state == "saved"
    assert not StepDone.objects.exists()
    assert intake.take(begin, {}, batch=pot, person=cast.helper).state == "saved"
    assert running() == 0
    late = as_logged()
    assert [step.minutes for step in StepDone.objects.all()] == [45, 45]
    assert all(line.done for line in pot.plan.with_done())
    assert late == [(-50, "timer")] * 2 + [(-5, "ended")] * 2 + [(-5, "step")] * 2


def as_logged():
    return sorted(((entry.at - NOON) // timedelta(minutes=1), entry.kind) for entry in Entry.objects.all())


@pytest.mark.parametrize("first", ["begin", "end"])
def test_either_order_leaves_the_same_rows(cast, pot, first):
    key, ended = uuid4(), uuid4()
    sent = {
        "begin": {"kind": "timer", "id": key, "what": "soak", "quick": 30, "happened_at": minutes(-40).isoformat()},
        "end": {"kind": "timer_end", "id": ended, "target": key, "happened_at": minutes(-8).isoformat()},
    }
    for name in (first, *({*sent} - {first})):
        data = {field: str(value) for field, value in sent[name].items()}
        assert intake.take(data, {}, batch=pot, person=cast.helper).state == "saved"
    rows = {(entry.pk, entry.kind, entry.at, entry.together) for entry in pot.entries.all()}
    assert rows == {
        (key, "timer", minutes(-40), None),
        (ended, "ended", minutes(-8), ended),
        (uuid5(ended, "step"), "step", minutes(-8), ended),
    }
    assert StepDone.objects.get().minutes == 32


def test_a_strike_that_comes_before_its_timer_holds(cast, pot):
    key = uuid4()
    Strike.log(pot, stamp(cast.helper), target=key)
    Timer.log(pot, stamp(cast.helper, id=key), what="hold", minutes=Decimal(45))
    assert running() == 0


# More time


@pytest.mark.parametrize(("at", "due", "took"), [(50, 60, 10), (30, 55, 25)])
def test_more_time_counts_from_when_it_was_due_or_from_now(cast, pot, _noon, at, due, took):
    begun = send(pot, cast.helper, "timer", what="hold", quick=45).entries[0]
    _noon.move_to(minutes(at))
    send(pot, cast.helper, "timer_more", target=begun.pk)
    timer = Timer.objects.running().get()
    assert (timer.due_at, timer.minutes, timer.what) == (minutes(due), took, "hold")


def test_a_hold_given_more_time_took_all_of_it(cast, planned, _noon):
    pot = planned.batches.first()
    begun = send(pot, cast.helper, "timer", line=pot.plan.get().pk)
    _noon.move_to(minutes(46))
    longer = send(pot, cast.helper, "timer_more", target=begun.id)
    assert running() == 2 and TimerEnded.objects.filter(outcome="longer").count() == 2
    _noon.move_to(minutes(57))
    send(pot, cast.helper, "timer_end", target=longer.id)
    assert [step.minutes for step in StepDone.objects.all()] == [57, 57] and running() == 0


def test_more_time_for_a_timer_that_has_not_come_in_begins_one(cast, pot):
    key = uuid4()
    send(pot, cast.helper, "timer_more", target=key, what="soak", minutes="5")
    Timer.log(pot, stamp(cast.helper, minutes(-31), NOON, id=key), what="soak", minutes=Decimal(30))
    timer = Timer.objects.running().get()
    assert (timer.what, timer.due_at) == ("soak", minutes(5))


# Looking again


def test_not_yet_logs_the_reading_and_looks_again(cast, jars):
    answer = send(jars.batches.first(), cast.helper, "reading", look="10", pots="all")
    assert Reading.objects.filter(clear="not_yet").count() == 8
    assert Timer.objects.running().filter(what="look", due_at=minutes(10)).count() == 8
    assert len({entry.together for entry in answer.entries}) == 1


@pytest.mark.parametrize("clear", ["clear", "nearly"])
def test_whoever_looks_ends_it(cast, pot, _noon, clear):
    send(pot, cast.helper, "reading", look="10")
    _noon.move_to(minutes(11))
    said = send(pot, cast.maker, "reading", clear=clear).entries[0]
    assert running() == 0
    send(pot, cast.maker, "strike", target=said.pk)
    assert running() == 1


def test_who_only_reads_the_thermometer_has_not_looked(cast, pot, _noon):
    send(pot, cast.helper, "reading", look="10")
    _noon.move_to(minutes(11))
    send(pot, cast.maker, "reading", temperature="85")
    assert Reading.objects.filter(temperature_c=85, clear="").exists() and running() == 1


def test_a_step_that_is_waited_for_is_not_done_in_the_record(cast, planned):
    pots = list(planned.batches.all())
    send(pots[0], cast.helper, "timer", line=pots[0].plan.get().pk)
    assert running() == 2
    (row,) = plan_beside_log(planned, record.standing_of(record.log_of(planned, pots)))
    assert (row.done, row.of, row.at) == (0, 2, None)


def test_not_yet_again_leaves_one_timer(cast, pot, _noon):
    send(pot, cast.helper, "reading", look="10")
    _noon.move_to(minutes(11))
    send(pot, cast.helper, "reading", look="10")
    assert Timer.objects.running().get().due_at == minutes(21)


def test_clear_and_looking_again_do_not_go_together(cast, pot):
    answer = send(pot, cast.helper, "reading", look="10", clear="clear")
    assert answer.state == "wrong" and "clear" in answer.errors


# Shown


def test_a_timer_says_where_the_yarn_is(cast, pot):
    send(pot, cast.helper, "timer", what="cool", quick=60)
    pot.refresh_from_db()
    assert pot.where == "cooling"


def test_rows_ask_one_query(cast, jars, django_assert_num_queries):
    for pot in jars.batches.all():
        send(pot, cast.helper, "timer", what="hold", quick=60)
    with django_assert_num_queries(1):
        rows = timers.rows()
        assert [(row.name, row.when, row.run.name, row.line_words) for row in rows]
    assert len(rows) == 8


def test_late_and_forgotten_ones(cast, pot, _noon):
    send(pot, cast.helper, "timer", what="hold", quick=60)
    _noon.move_to(hours(2))
    (row,) = timers.rows()
    assert (row.name, row.when) == ("Hold is over", "late since 13:00")
    _noon.move_to(hours(26))
    assert timers.rows() == [] and len(timers.rows(since=timedelta(days=30))) == 1


def test_a_finished_pot_is_waited_for_no_more(cast, pot):
    send(pot, cast.helper, "timer", what="hold", quick=60)
    builders.finish(cast.maker, pot)
    assert timers.rows() == []


def test_the_log_says_it_in_words(cast, pot, _noon):
    begun = send(pot, cast.helper, "timer", what="hold", quick=45).entries[0]
    _noon.move_to(minutes(46))
    send(pot, cast.helper, "timer_more", target=begun.pk)
    _noon.move_to(minutes(57))
    send(pot, cast.helper, "timer_end", target=Timer.objects.running().get().pk)
    told = lines_of(list(Entry.objects.filter(batch=pot).with_details().in_order()))
    said = [line.what.replace("\N{NO-BREAK SPACE}", " ") for line in told]
    assert sorted(said) == [
        "Hold, 10 min: until 12:56",
        "Hold, 45 min: until 12:45",
        "Hold, 57 min",
        "The hold is over",
        "The hold was given more time",
    ]


@pytest.mark.parametrize(
    ("long", "said"), [("45", "45 min"), ("120", "120 min"), ("720", "12 h"), ("1182", "19 h 42 min")]
)
def test_a_day_in_the_sun_is_said_in_hours(cast, pot, long, said):
    send(pot, cast.helper, "timer", what="sun", minutes=long)
    (line,) = lines_of(list(Entry.objects.filter(batch=pot).with_details()))
    assert line.what.replace("\N{NO-BREAK SPACE}", " ").startswith(f"In the sun, {said}: until ")


def test_more_time_is_for_the_same_thing(cast, pot):
    begun = send(pot, cast.helper, "timer", what="hold", quick=25, note="Let the ochre strike").entries[0]
    send(pot, cast.helper, "timer_more", target=begun.pk)
    (row,) = timers.rows()
    assert (row.entry.words, row.name) == ("Let the ochre strike", "Let the ochre strike")


def hot_of(run):
    return [(begin.strftime("%H:%M"), end.strftime("%H:%M")) for begin, end, _ in record.record_of(run)["line"].hot()]


def test_the_record_draws_a_hold_as_long_as_it_took(cast, pot, _noon):
    begun = send(pot, cast.helper, "timer", what="hold", quick=45).entries[0]
    _noon.move_to(minutes(52))
    shown = record.record_of(pot.run)["line"]
    assert [wait.end.strftime("%H:%M") for lane in shown.lanes for wait in lane.waits] == ["12:52"]  # it still runs
    send(pot, cast.helper, "timer_end", target=begun.pk)
    _noon.move_to(hours(3))
    assert hot_of(pot.run) == [("12:00", "12:52")]
    assert record.record_of(pot.run)["line"].kinds == ["step", "timer"]


def test_the_record_knows_what_else_ends_a_timer(cast, pot, _noon):
    send(pot, cast.helper, "reading", look="10")
    _noon.move_to(minutes(14))
    send(pot, cast.maker, "reading", clear="clear")
    _noon.move_to(hours(3))
    shown = record.record_of(pot.run)["line"]
    assert [wait.end.strftime("%H:%M") for lane in shown.lanes for wait in lane.waits] == ["12:14"]
