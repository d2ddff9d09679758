"""The plan beside the log: as reckoned, as told, as logged, how far off; and what a tool can't tell is quiet."""

from decimal import Decimal
from types import SimpleNamespace

import pytest

from batches.models import Answer, Entry, Reading, Run, StepDone
from batches.plan_beside_log import plan_beside_log, went_otherwise
from batches.record import batches_of, log_of, standing_of
from studio import writing
from tests import builders as build
from tests.builders import hours, stamp


def rows_of(run):
    return plan_beside_log(run, standing_of(log_of(run, batches_of(run))))


def said(words):
    return [word.replace("\xa0", " ") for word in words]


@pytest.fixture
def at(cast):
    """Two running pots: 40.12 mL of a bottle, told as 40 mL, a heat of 85 °C and a hold of 45 min."""
    rust = build.make_dye("Rust")
    powder = build.receive_powder(cast.maker, rust)
    bottle = build.bottle(cast.maker, [(powder, Decimal("2.5"))], solution=build.make_solution("Rust 1 %", [(rust, 1)]))
    yarn = build.receive_yarn(cast.maker, skeins=10)

    def pot():
        dye = build.plan_line(bottle, 40, dye_g=Decimal("0.4012"), dye=rust, solution=None)
        dye.exact = Decimal("40.12")
        lines = [
            dye,
            build.plan_line(step="heat", words="Heat to 85 °C", temperature_c=Decimal(85)),
            build.plan_line(step="hold", words="Hold", temperature_c=Decimal(85), minutes=Decimal(45)),
        ]
        return {"fibre_g": Decimal(100), "yarns": [build.shelf_yarn(yarn, 1)], "lines": lines}

    run = Run.plan(by=cast.maker, day=build.DAY, pots=[pot(), pot()], clock=build.clock())
    run.start(by=cast.maker, clock=build.clock())
    pots = list(run.batches.order_by("number"))
    return SimpleNamespace(run=run, pots=pots, bottle=bottle, powder=powder, rust=rust, yarn=yarn)


def add(cast, at, amount, pot=0, lot=None, **facts):
    line = at.pots[pot].plan.first()
    return build.addition(cast.helper, at.pots[pot], lot or at.bottle, amount, plan_line=line, **facts)


def dye(at):
    return rows_of(at.run)[0]


def test_the_exact_amount_stands_beside_the_one_that_was_told(cast, at):
    row = dye(at)
    assert (row.exact, row.planned, row.logged) == (Decimal("80.24"), 80, None)
    assert said([row.exactly]) == ["80.24 mL"] and row.states == ["not yet"]


def test_what_deviates_is_said_in_its_unit_and_in_percent(cast, at):
    add(cast, at, 45), add(cast, at, 45, pot=1)
    assert said(dye(at).off_words) == ["10 mL over, 13 %"]


def test_what_lies_within_a_step_of_the_tool_is_quiet(cast, at):
    build.make_tool(kind="syringe", step="1")
    add(cast, at, 41), add(cast, at, 39, pot=1)
    row = dye(at)
    assert row.off_words == [] and not row.hidden_off


def test_pots_that_are_off_either_way_are_not_even_together(cast, at):
    add(cast, at, 45), add(cast, at, 35, pot=1)
    row = dye(at)
    assert row.off_words == [] and row.hidden_off
    assert said(f"{pot}: {words}" for pot, words in row.by_pot) == [
        "Pot 1: told 40 mL, 45 mL, 5 mL over, 13 %",
        "Pot 2: told 40 mL, 35 mL, 5 mL under, 13 %",
    ]


def test_a_pot_that_is_not_done_yet_leaves_the_others_to_be_compared(cast, at):
    add(cast, at, 45)
    row = dye(at)
    assert row.states == ["not yet in pot 2"] and row.hidden_off and row.off_words == []


def test_an_amount_in_two_parts_is_one_amount_of_one_pot(cast, at):
    add(cast, at, 30), add(cast, at, 10)
    row = dye(at)
    assert (row.done, row.of, row.states) == (1, 2, ["not yet in pot 2"])


def test_from_another_bottle_the_dye_is_compared(cast, at):
    weak = build.make_solution("Rust 0.5 %", [(at.rust, "0.5")])
    other = build.bottle(cast.maker, [(at.powder, Decimal("1.25"))], solution=weak)
    add(cast, at, 80, lot=other), add(cast, at, 80, pot=1, lot=other)
    assert dye(at).off_words == []
    add(cast, at, 40, lot=other)
    assert said(dye(at).off_words) == ["0.2 g of dye over, 25 %"]


def test_powder_instead_of_the_bottle_is_compared_by_its_dye(cast, at):
    add(cast, at, "0.4", lot=at.powder), add(cast, at, 40, pot=1)
    row = dye(at)
    assert said([row.amounts]) == ["40 mL and 0.4 g"]
    assert row.off_words == []


def test_a_weak_powder_that_nobody_made_up_for_is_less_dye(cast, at):
    weak = build.receive_powder(cast.maker, at.rust, strength_pct=Decimal(85))
    add(cast, at, "0.4012", lot=weak), add(cast, at, "0.4012", pot=1, lot=weak)
    assert said(dye(at).off_words) == ["0.12 g of dye under, 15 %"]


def test_what_was_left_out_is_said_with_why(cast, at):
    line = at.pots[0].plan.first()
    Entry.log_words(at.pots[0], stamp(cast.helper, words="none left"), plan_line=line)
    add(cast, at, 40, pot=1)
    row = dye(at)
    assert row.states == ["left out: none left in pot 1"] and row.off_words == []


def test_what_nobody_weighed_and_what_nobody_knows(cast, at):
    add(cast, at, None)
    Answer.log(at.pots[1], stamp(cast.helper), question="line", plan_line=at.pots[1].plan.first(), known=False)
    row = dye(at)
    assert row.states == ["not weighed in pot 1", "nobody knows in pot 2"] and row.off is None


def test_what_was_not_done_by_the_end_is_said(cast, at):
    for pot in at.pots:
        build.finish(cast.maker, pot, at=hours(4))
    assert dye(at).states == ["not done"]


def done(cast, at, place, pot=0, hour=2, **facts):
    line = list(at.pots[pot].plan.all())[place]
    StepDone.log(at.pots[pot], stamp(cast.helper, hours(hour)), kind=line.step, plan_line=line, **facts)


def test_times_are_compared_as_they_were_done(cast, at):
    for pot, took in ((0, 60), (1, 60)):
        done(cast, at, 2, pot, minutes=Decimal(took), temperature_c=Decimal(85))
    row = rows_of(at.run)[2]
    assert said([row.to_do, row.was_done]) == ["85 °C, 45 min", "85 °C, 60 min"]
    assert said(row.off_words) == ["15 min longer"]


def test_a_minute_or_two_is_quiet(cast, at):
    for pot in range(2):
        done(cast, at, 2, pot, minutes=Decimal(46), temperature_c=Decimal(86))
    assert rows_of(at.run)[2].off_words == []


def test_the_hottest_that_was_read_counts_before_what_a_step_says(cast, at):
    for pot in range(2):
        done(cast, at, 2, pot, minutes=Decimal(45), temperature_c=Decimal(85))
        for minutes, read in ((10, 79), (-20, 77), (90, 60)):
            Reading.log(at.pots[pot], stamp(cast.helper, hours(2 + minutes / 60)), temperature_c=Decimal(read))
    row = rows_of(at.run)[2]
    assert said([row.was_done]) == ["85 °C, 45 min, read 79 °C"] and said(row.off_words) == ["6 °C under"]


def test_a_reading_on_the_way_up_accuses_nobody(cast, at):
    for pot in range(2):
        Reading.log(at.pots[pot], stamp(cast.helper, hours(1.8)), temperature_c=Decimal(55))
        done(cast, at, 1, pot, temperature_c=Decimal(85))
    assert rows_of(at.run)[1].off_words == []
    Reading.log(at.pots[0], stamp(cast.helper, hours(2.1)), temperature_c=Decimal(97))
    assert said([rows_of(at.run)[1].by_pot[0][1]]) == ["85 °C, read 97 °C, 12 °C over"]


def test_pots_of_two_versions_are_not_one_line(cast):
    acid = build.receive_assistant(cast.maker, build.make_assistant("Vinegar"))
    bottle, yarn = build.bottle(cast.maker), build.receive_yarn(cast.maker, skeins=4)
    pots = [
        {"fibre_g": Decimal(100), "yarns": [build.shelf_yarn(yarn, 1)], "lines": [build.plan_line(lot, 10)]}
        for lot in (bottle, acid)
    ]
    run = Run.plan(by=cast.maker, day=build.DAY, pots=pots, clock=build.clock())
    assert [(row.name, row.sub, row.of) for row in rows_of(run)] == [
        (str(bottle.substance), "pot 1", 1),
        ("Vinegar", "pot 2", 1),
    ]


def test_what_was_not_planned_says_in_which_pot(cast, at):
    add(cast, at, 40), add(cast, at, 40, pot=1)
    build.addition(cast.helper, at.pots[1], at.bottle, 5, at=hours(1), place="over the join")
    row = rows_of(at.run)[1]
    assert (row.planned_at_all, row.sub, said([row.amounts])) == (False, "over the join, pot 2", ["5 mL"])


def test_what_went_otherwise_is_told_first_and_what_is_still_to_come_is_not(cast, at):
    assert went_otherwise(rows_of(at.run)) == []
    add(cast, at, 45)
    add(cast, at, 40, pot=1)
    soot = build.receive_powder(cast.maker, build.make_dye("Soot"))
    build.addition(cast.helper, at.pots[0], soot, 1)
    hold = at.pots[0].plan.get(step="hold")
    Entry.log_words(at.pots[0], stamp(cast.helper, hours(2), words="the bath was clear"), plan_line=hold)
    otherwise = dict(said(pair) for pair in went_otherwise(rows_of(at.run)))
    assert otherwise.pop("Rust 1 %") == "5 mL over, 6.3 %"
    assert otherwise.pop("Hold").startswith("left out: the bath was clear in pot 1")
    (unplanned,) = otherwise.values()
    assert unplanned == "1 g not planned"


def test_within_a_tools_step_nothing_went_otherwise(cast, at):
    add(cast, at, Decimal("40.4"))
    add(cast, at, 40, pot=1)
    assert went_otherwise(rows_of(at.run)) == []


@pytest.fixture
def told_of(cast):
    """`told_of(words, minutes)`: the name of a step that is planned so, at 85 °C, and what is told beside it."""

    def make(words, minutes=None):
        line = build.plan_line(step="heat", words=words, temperature_c=Decimal(85), minutes=minutes)
        row = rows_of(Run.plan(by=cast.maker, day=build.DAY, pots=[{"fibre_g": Decimal(100), "lines": [line]}]))[0]
        return said([row.name, row.to_do])

    yield make
    writing.deactivate()


@pytest.mark.parametrize(
    ("words", "minutes", "told"),
    [
        ("Heat to 85 °C", None, ""),
        ("Bring to 85C over 1 h", 60, ""),
        ("Heat to 185 °C", None, "85 °C"),  # nobody writes this; 85 stands in it all the same
        ("Heat to 185 °F", None, "85 °C"),  # the notebook's scale is not the studio's
        ("Heat slowly", 45, "85 °C, 45 min"),
        ("Heat to 85 °C", 45, "45 min"),
    ],
)
def test_what_a_step_says_in_its_own_words_is_not_told_beside_it_again(told_of, words, minutes, told):
    assert told_of(words, minutes and Decimal(minutes)) == [words, told]


def test_a_studio_that_reads_fahrenheit_is_told_it_beside_celsius_and_not_beside_its_own(told_of):
    writing.activate(SimpleNamespace(system="us", spoons="us", currency="USD", locale="en_US"))
    assert told_of("Heat to 85 °C") == ["Heat to 85 °C", "185 °F"]
    assert told_of("Heat to 185 °F") == ["Heat to 185 °F", ""]


def test_a_step_without_words_is_called_by_what_is_done(told_of):
    assert told_of("", Decimal(45)) == ["Heat", "85 °C, 45 min"]


def noted(cast, notes):
    """A row of one pot for each of these notes, which planning said of it."""
    yarn = build.receive_yarn(cast.maker, skeins=len(notes))
    lines = [build.plan_line(water=True, told=100 + number, unit="mL") for number in range(len(notes))]
    for line, note in zip(lines, notes, strict=True):
        line.note = note
    told = [{"fibre_g": Decimal(100), "yarns": [build.shelf_yarn(yarn, 1)], "lines": [line]} for line in lines]
    (row,) = rows_of(Run.plan(by=cast.maker, day=build.NOON.date(), pots=told, clock=lambda: build.NOON))
    return row


def test_what_was_said_of_many_pots_stands_pot_by_pot(cast):
    """Twelve samples had twelve sentences under "Water", each of another pot, and nobody could say of which."""
    few, many = (noted(cast, [f"The bottles bring {each} mL more." for each in range(pots)]) for pots in (2, 3))
    assert few.notes == ["The bottles bring 0 mL more.", "The bottles bring 1 mL more."]
    assert not any("bottles bring" in words for _, words in few.by_pot)
    assert many.notes == []
    assert [words.split("; ")[-1] for _, words in many.by_pot] == [
        f"The bottles bring {each} mL more." for each in range(3)
    ]


def test_what_was_said_of_one_pot_is_not_said_again_as_a_part_of_what_was_said_of_another(cast):
    past = "Its use-by date has passed: test it first."
    row = noted(cast, [past, f"{past} 5 mL repeats only to \u00b1 5.8 %.", past])
    assert row.notes == [f"{past} 5 mL repeats only to \u00b1 5.8 %."]
