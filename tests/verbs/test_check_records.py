"""Every rule that spans rows is asked: a day breaks none, and each broken behind the program's back is said."""

import io
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command
from django.db.models import F, QuerySet

import batches.checks
import recipes.checks
from batches import costs
from batches.models import (
    Addition,
    AdditionLot,
    Batch,
    BatchYarn,
    Captured,
    CostLine,
    CostShare,
    CostSheet,
    Entry,
    IndexCard,
    IndexPart,
    IndexWord,
    Match,
    Output,
    PlanLine,
    Reading,
    Run,
    Rung,
    StrengthTest,
    Strike,
    Timer,
    TimerEnded,
)
from recipes.models import Colourway, Recipe
from studio import checks_records
from studio.models import (
    BaseFibre,
    Content,
    Count,
    Dye,
    Lot,
    LotCorrection,
    Movement,
    Picture,
    ShareOut,
    SolutionPart,
    Studio,
)
from tests import builders

RULES = [*checks_records.RULES, *recipes.checks.RULES, *batches.checks.RULES]


def change(model, which=None, **changes):
    """Changes the first such row with none of the program's own rules in the way."""

    def break_it():
        row = QuerySet(model).filter(**which or {}).order_by("pk").first()
        assert row is not None
        QuerySet(model).filter(pk=row.pk).update(**changes)

    return break_it


def other(model, column, of):
    """Lets the first such row name another row of `of` than it does."""

    def break_it():
        row = QuerySet(model).filter(**{f"{column}__isnull": False}).order_by("pk").first()
        another = QuerySet(of).exclude(pk=getattr(row, f"{column}_id")).order_by("-pk").first()
        QuerySet(model).filter(pk=row.pk).update(**{column: another})

    return break_it


def another_standard():
    way = Colourway.objects.get(name="Low tide")
    stray = builders.recipe(way.by)
    Colourway.objects.filter(pk=way.pk).update(standard=stray)


def a_struck_line_still_gone():
    back = Movement.objects.get(kind="reversed")
    QuerySet(Movement).filter(pk=back.pk).update(kind="returned", reverses=None)


def a_strike_that_waits():
    long_ago = F("received_at") - timedelta(days=3)
    strike = Strike.objects.get()
    QuerySet(Strike).filter(pk=strike.pk).update(target=uuid4())
    QuerySet(Entry).filter(pk=strike.pk).update(at=long_ago, received_at=long_ago)


def a_strike_of_a_strike():
    strike = Strike.objects.get()
    entry = Entry.objects.get(pk=strike.pk)
    second = Entry.write(entry.batch, "strike", builders.stamp(entry.by), now=builders.NOON)
    Strike.objects.create(entry=second, target=strike.pk)


def too_many_dyed_again():
    output, batch = Output.objects.first(), Batch.objects.last()
    BatchYarn.objects.create(batch=batch, position=9, source="output", output=output, skeins=output.skeins + 1)


def a_correction_of_yarn():
    QuerySet(LotCorrection).update(lot=Lot.objects.get(base__isnull=False))


def a_liquor_that_says_too_much():
    powder = Lot.objects.get(dye__isnull=False)
    QuerySet(Content).filter(source__isnull=True).update(source=powder, g_per_100=1)


def a_picture_gone():
    default_storage.delete(Picture.objects.first().path("thumb"))


def a_cover_from_elsewhere():
    run = Run.objects.get(cover__isnull=False)
    Run.objects.filter(pk=run.pk).update(cover=builders.picture(run.by))


def a_cover_struck_out():
    QuerySet(Strike).update(target=Run.objects.get(cover__isnull=False).cover_photo_id)


def an_end_of_no_timer():
    QuerySet(TimerEnded).update(target=Entry.objects.filter(kind="reading").first().pk)


def an_end_in_another_pot():
    end = Entry.objects.get(kind="ended")
    QuerySet(Entry).filter(pk=end.pk).update(batch=Batch.objects.exclude(pk=end.batch_id).first())


def a_day_one_of_a_day_one():
    first, second = Run.objects.order_by("pk")[:2]
    third = Run.plan(by=first.by, day=builders.DAY, pots=[{}], title="Third day", day_one=second)
    QuerySet(Run).filter(pk=second.pk).update(day_one=first)
    assert third.day_one == second


def a_pot_of_another_colourway():
    batch = Batch.objects.filter(recipe__isnull=False).first()
    QuerySet(Batch).filter(pk=batch.pk).update(recipe=builders.recipe(batch.run.by))


def a_second_test():
    """A strength test that another run is."""
    test = StrengthTest.objects.get()
    run = Run.objects.exclude(pk=test.pk).filter(batches__isnull=False).first()
    return StrengthTest.of_run(run, lot=test.lot, before_pct=100, percents={run.batches.first(): 120})


def a_sample_of_another_run():
    first, second = Rung.objects.get(), a_second_test()
    QuerySet(Rung).filter(pk=first.pk).update(test=second)


def a_match_of_another_test():
    QuerySet(Match).update(low=a_second_test().rungs.get())


def a_match_up_to_another_test():
    QuerySet(Match).update(high=a_second_test().rungs.get())


BREAKS = [
    ("nothing_is_overdrawn", change(Movement, {"kind": "used", "amount__isnull": False}, amount=-5000)),
    ("what_came_is_in_the_ledger", change(Movement, {"kind": "received"}, amount=1)),
    ("what_came_is_in_the_ledger", change(Movement, {"kind": "made"}, amount=1)),
    ("a_reversal_is_the_opposite", change(Movement, {"kind": "reversed"}, amount=1)),
    ("a_reversal_is_the_opposite", change(Movement, {"kind": "reversed"}, amount=None)),
    ("an_offset_is_the_opposite", change(Movement, {"offsets__isnull": False}, amount=1)),
    ("a_count_holds", change(Count, amount=1)),
    ("a_count_holds", change(Movement, {"kind": "counted"}, at=builders.hours(9))),
    ("a_share_out_sums", change(Movement, {"kind": "shared"}, amount=-3)),
    ("a_share_out_sums", change(ShareOut, used_g=9)),
    ("a_share_out_sums", other(Movement, "settles", Movement)),
    ("a_bottle_holds_what_went_in", change(Content, {"source__isnull": False}, g_per_100=7)),
    ("a_bottle_holds_what_went_in", change(Movement, {"kind": "made_into"}, amount=-7)),
    ("a_bottle_holds_what_went_in", a_liquor_that_says_too_much),
    ("a_correction_fits", a_correction_of_yarn),
    ("fibres_stay_within_100", change(BaseFibre, percent=90)),
    ("a_solution_stays_within_100", change(SolutionPart, {"dye__isnull": True}, g_per_100=99)),
    ("a_colour_can_be_drawn", change(Dye, colour="red")),
    ("a_name_is_folded", change(Dye, name="Verdigris")),
    ("a_name_is_folded", change(Colourway, story="At low water")),
    ("files_are_there", a_picture_gone),
    ("a_standard_is_a_version_of_its_colourway", another_standard),
    ("a_used_version_is_marked", change(Recipe, used_at=None)),
    ("a_run_stands_where_its_pots_stand", change(Run, {"state": "finished"}, state="running")),
    ("a_run_stands_where_its_pots_stand", change(Batch, {"state": "planned"}, state="running")),
    ("a_pot_is_finished_by_its_log", change(Batch, {"state": "finished"}, state="running")),
    ("a_pot_is_finished_by_its_log", change(Batch, {"state": "finished"}, state="planned")),
    ("an_entry_has_its_detail", change(Entry, {"kind": "words"}, kind="work")),
    ("an_entry_has_its_detail", change(Entry, {"kind": "work"}, kind="reading")),
    ("what_an_entry_names_is_of_its_pot", change(Entry, {"plan_line__isnull": False}, batch=F("batch") + 1)),
    ("what_an_entry_names_is_of_its_pot", other(Reading, "bath", batches.models.Bath)),
    ("what_an_entry_names_is_of_its_pot", other(Output, "yarn", BatchYarn)),
    ("what_is_learned_of_a_run_is_of_its_pots", other(Captured, "run", Run)),
    ("what_is_learned_of_a_run_is_of_its_pots", a_sample_of_another_run),
    ("what_is_learned_of_a_run_is_of_its_pots", a_match_of_another_test),
    ("what_is_learned_of_a_run_is_of_its_pots", a_match_up_to_another_test),
    ("an_addition_is_traced", change(AdditionLot, {"share_out__isnull": True}, amount=7)),
    ("an_addition_is_traced", change(AdditionLot, {"share_out__isnull": False}, amount=7)),
    ("an_addition_is_traced", change(Addition, {"lot__isnull": False, "amount__isnull": False}, amount=7)),
    ("an_addition_is_traced", change(Movement, {"kind": "used", "addition__isnull": False}, amount=-7)),
    ("a_strike_reaches_its_line", a_struck_line_still_gone),
    ("a_strike_reaches_its_line", a_strike_that_waits),
    ("a_strike_reaches_its_line", a_strike_of_a_strike),
    ("a_cover_is_of_its_run", a_cover_from_elsewhere),
    ("a_cover_is_of_its_run", a_cover_struck_out),
    ("a_cost_sheet_sums", change(CostLine, minor=1)),
    ("a_cost_sheet_sums", change(CostLine, minor=None)),
    ("a_cost_sheet_sums", change(CostShare, minor=1)),
    ("a_cost_sheet_sums", change(CostSheet, total_minor=1)),
    ("yarn_left_the_shelf", change(BatchYarn, {"source": "lot"}, movement=None)),
    ("yarn_left_the_shelf", change(BatchYarn, {"source": "lot"}, grams=1)),
    ("no_skein_is_dyed_twice_at_once", too_many_dyed_again),
    ("codes_are_behind_the_count", change(Studio, run_number=1)),
    ("a_timer_is_due_when_its_minutes_are_over", change(Timer, minutes=7)),
    ("an_end_reaches_its_timer", change(TimerEnded, target=uuid4())),
    ("an_end_reaches_its_timer", an_end_of_no_timer),
    ("an_end_reaches_its_timer", an_end_in_another_pot),
    ("a_pot_is_planned_from_its_own_colourway", a_pot_of_another_colourway),
    ("a_pot_is_planned_from_its_own_colourway", change(Recipe, {"used_at__isnull": False}, used_at=None)),
    ("the_newest_writing_of_a_plan_counts", change(Batch, {"plan__isnull": False}, edition=2)),
    ("the_newest_writing_of_a_plan_counts", change(PlanLine, edition=2)),
    ("a_later_day_names_the_first", a_day_one_of_a_day_one),
    ("the_index_says_what_the_record_says", change(Run, note="Turquoise")),
    ("the_index_says_what_the_record_says", change(IndexCard, words="w-other")),
    ("the_index_says_what_the_record_says", change(IndexCard, place=99)),
    ("the_index_says_what_the_record_says", change(IndexPart, grams=7)),
    ("the_index_says_what_the_record_says", change(IndexWord, {"word": b"wsheep"}, runs=b"\xff")),
    ("the_index_says_what_the_record_says", lambda: IndexCard.objects.first().delete()),
    ("the_index_says_what_the_record_says", lambda: IndexWord.objects.filter(word=b"wsheep").delete()),
]


@pytest.fixture
def day(cast):
    return builders.a_whole_day(cast)


def test_a_day_breaks_no_rule(day):
    assert {rule.__name__: list(rule()) for rule in RULES if list(rule())} == {}


@pytest.mark.parametrize(("outputs", "borne"), [(["sample", "lost"], False), (["sample", "second"], True)])
def test_a_frozen_cost_that_nothing_bears_breaks_no_rule(cast, outputs, borne):
    run = builders.run_with_pots(cast.maker, builders.receive_yarn(cast.maker, skeins=4, cost_minor=4000))
    for pot, grade in zip(run.batches.all(), outputs, strict=True):
        builders.finish(cast.maker, pot, grade=grade)
    sheet = costs.freeze(run, by=cast.maker)
    assert sheet.total_minor > 0 and any(share.minor for share in sheet.shares.all()) == borne
    assert list(batches.checks.a_cost_sheet_sums()) == []


def test_every_rule_has_something_that_breaks_it():
    assert {name for name, _ in BREAKS} == {rule.__name__ for rule in RULES}


@pytest.mark.parametrize(("name", "break_it"), BREAKS, ids=lambda part: part if isinstance(part, str) else "")
def test_a_broken_rule_is_said(day, name, break_it):
    break_it()
    rule = next(rule for rule in RULES if rule.__name__ == name)
    said = list(rule())
    assert said
    assert all(wrong.what.endswith(".") and wrong.todo.endswith(".") for wrong in said)


def test_the_command_names_rule_row_and_what_to_do(day):
    fibre = BaseFibre.objects.order_by("pk").first()
    change(BaseFibre, percent=90)()
    with pytest.raises(CommandError) as refused:
        call_command("check", tags=["records"])
    said = str(refused.value)
    assert f"studio.Base {fibre.base_id}: (records.S009) The fibres of Sparrow sum to 115" in said
    assert "put the percentages right" in said


def test_other_commands_do_not_read_the_whole_database(day, django_assert_num_queries):
    change(BaseFibre, percent=90)()
    with django_assert_num_queries(0):
        call_command("check", stdout=io.StringIO(), stderr=io.StringIO())
    call_command("check", stdout=io.StringIO(), stderr=io.StringIO(), databases=["default"])


def test_overdrawn_is_a_warning_and_no_fault(cast):
    lot = builders.receive_powder(cast.maker, grams=1)
    builders.addition(cast.helper, builders.one_pot(cast.maker), lot, Decimal("1.5"))
    said = io.StringIO()
    call_command("check", tags=["records"], stderr=said)
    assert "More was used of" in said.getvalue() and "-0.500 g" in said.getvalue()
