"""The geometry of a run's small timeline. How it is drawn is the studio's own way."""

from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.timeline import LABEL_PCT, Happening, heat_of, place, timeline

DAY = datetime(2026, 3, 9, 9, 0)


def at(hour, minute=0, day=0):
    return DAY + timedelta(days=day, hours=hour - 9, minutes=minute)


def went_in(when, pot=0, fill=""):
    return Happening(when, pot, "in", fill=fill)


def step(when, kind, minutes=None, pot=0):
    return Happening(when, pot, "step", step=kind, minutes=minutes)


def xs(lane):
    return [mark.x for mark in lane.marks]


def test_nothing_is_no_line():
    assert timeline([], 2) is None


def test_one_entry_stands_in_the_middle():
    drawn = timeline([went_in(at(10))], 1)
    assert xs(drawn.lanes[0]) == [50]
    assert drawn.hours == [] and [tick.at for tick in drawn.days] == [at(10)]


def test_hours_are_even_along_one_stretch():
    drawn = timeline([went_in(at(9)), went_in(at(10)), went_in(at(13))], 1)
    first, second, last = xs(drawn.lanes[0])
    assert (second - first) / (last - first) == pytest.approx(1 / 4)
    assert first > 0 and last < 100  # no mark is cut off at an end
    assert [tick.at.hour for tick in drawn.hours] == [10, 11, 12]  # nor is a label


def test_a_night_is_folded_and_the_days_keep_their_hours():
    drawn = timeline([went_in(at(9)), went_in(at(11)), went_in(at(9, day=1)), went_in(at(10, day=1))], 1)
    one, two = drawn.stretches
    assert one.width + two.width > 90  # 22 of the 25 hours take next to nothing
    assert one.width > two.width
    assert [tick.at.date().day for tick in drawn.days] == [9, 10]


def test_days_of_one_entry_each_can_still_be_seen():
    drawn = timeline([went_in(at(9, day=day)) for day in range(14)], 1)
    places = xs(drawn.lanes[0])
    assert len(places) == 14 and places == sorted(places)
    assert all(one.width > 1 for one in drawn.stretches)
    labels = [tick.x for tick in drawn.days]
    assert all(right - left >= 18 for left, right in zip(labels, labels[1:], strict=False))


def test_pots_are_lanes():
    drawn = timeline([went_in(at(9), pot=1), went_in(at(12), pot=0)], 3)
    assert [len(lane.marks) for lane in drawn.lanes] == [1, 1, 0]


def test_marks_that_would_lie_on_each_other_are_drawn_once():
    drawn = timeline([went_in(at(9)), went_in(at(9, 1)), went_in(at(9, 1), fill="#9c3122"), went_in(at(12))], 1)
    assert len(drawn.lanes[0].marks) == 3  # another colour is another mark


def test_marks_of_one_morning_stand_side_by_side():
    log = [went_in(at(9, minute), fill=f"#{minute:06}") for minute in range(0, 18, 3)]
    drawn = timeline([*log, Happening(at(9, 17), 0, "photo"), Happening(at(10, day=3), 0, "check")], 1)
    places = xs(drawn.lanes[0])
    assert len(places) == 8 and min(b - a for a, b in zip(places, places[1:], strict=False)) >= 2.5
    assert places[6] <= drawn.stretches[0].right


def test_it_is_hot_from_the_heat_to_the_step_that_cools():
    log = [step(at(10), "heat"), step(at(10, 30), "hold", 40), went_in(at(10, 45)), step(at(11, 30), "cool")]
    assert heat_of(log) == [(at(10), at(11, 30))]
    span = timeline(log, 1).lanes[0].spans[0]
    assert span.x == pytest.approx(timeline(log, 1).lanes[0].marks[0].x)
    assert (span.begin, span.end) == (at(10), at(11, 30))


def test_heat_that_nobody_ended_lasts_as_long_as_it_was_said():
    assert heat_of([step(at(10), "hold", 40)]) == [(at(10), at(10, 40))]
    assert heat_of([step(at(10), "heat"), went_in(at(10, 20))]) == [(at(10), at(10, 20))]
    assert heat_of([step(at(10), "heat")]) == []


def test_a_second_heating_is_a_second_span():
    log = [step(at(10), "hold", 30), step(at(11), "rinse"), step(at(15), "hold", 20), step(at(16), "rinse")]
    assert heat_of(log) == [(at(10), at(11)), (at(15), at(16))]


def test_heat_does_not_run_through_a_night_that_nobody_logged():
    log = [step(at(17), "hold", 60), went_in(at(9, day=1))]
    assert heat_of(log) == [(at(17), at(18))]


def test_a_finish_ends_the_heat():
    log = [step(at(10), "heat"), Happening(at(12), 0, "other", step="finish")]
    assert heat_of(log) == [(at(10), at(12))]


def test_a_long_day_has_few_labels():
    drawn = timeline([went_in(at(7) + timedelta(minutes=30 * n)) for n in range(32)], 1)
    assert len(drawn.hours) <= 8
    assert {tick.at.hour % 3 for tick in drawn.hours} == {0}


def test_the_kinds_that_are_drawn_are_named_once():
    drawn = timeline([went_in(at(9)), Happening(at(10), 0, "photo"), went_in(at(11))], 1)
    assert drawn.kinds == ["in", "photo"]


@given(
    st.lists(
        st.tuples(st.integers(0, 60 * 24 * 30), st.integers(0, 3), st.sampled_from(["in", "hold", "cool", "other"])),
        min_size=1,
        max_size=60,
    )
)
def test_whatever_happened_stays_on_the_line_and_in_order(said):
    log = [Happening(DAY + timedelta(minutes=minute), pot, kind, step=kind, minutes=45) for minute, pot, kind in said]
    drawn = timeline(log, 4)
    for lane in drawn.lanes:
        assert all(0 <= x <= 100 for x in xs(lane))
        assert all(span.x >= 0 and span.x + span.width <= 100.5 for span in lane.spans)
    times = sorted(one.at for one in log)
    places = [place(drawn.stretches, when) for when in times]
    assert places == sorted(places)
    assert sum(len(lane.marks) for lane in drawn.lanes) <= len(log)
    ticks = [tick.x for tick in drawn.hours]
    assert all(right - left >= LABEL_PCT for left, right in zip(ticks, ticks[1:], strict=False))
    for lane in drawn.lanes:
        assert xs(lane) == sorted(xs(lane))


def timer(begin, end, pot=0, kind=""):
    minutes = (end - begin) / timedelta(minutes=1)
    return Happening(begin, pot, "timer", step=kind, minutes=minutes, end=end)


def test_a_timer_is_a_stretch_and_no_mark():
    drawn = timeline([went_in(at(9)), timer(at(9, 30), at(10, 15)), Happening(at(11), 0, "photo")], 1)
    (lane,) = drawn.lanes
    (wait,) = lane.waits
    assert [mark.kind for mark in lane.marks] == ["in", "photo"] and drawn.kinds == ["in", "photo", "timer"]
    first, last = xs(lane)
    assert (wait.x - first) / (last - first) == pytest.approx(1 / 4)
    assert wait.width / (last - first) == pytest.approx(45 / 120)


def test_a_hold_by_its_timer_is_hot_as_long_as_it_took():
    log = [went_in(at(9)), timer(at(9, 30), at(10, 20), kind="hold"), step(at(10, 20), ""), went_in(at(12))]
    assert heat_of(log) == [(at(9, 30), at(10, 20))]


def test_a_timer_lasts_to_the_end_of_the_line():
    drawn = timeline([went_in(at(9)), timer(at(9, 30), at(15, 30))], 1)
    assert len(drawn.stretches) == 2 and drawn.stretches[-1].end == at(15, 30)
