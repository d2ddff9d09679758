"""From the records of a run to its frozen cost sheet."""

from decimal import Decimal
from types import SimpleNamespace

import pytest

from batches import costs
from batches.models import CostLine, CostShare, CostSheet, Finish, Output, Strike, Work
from tests import builders
from tests.builders import clock, hours, stamp


@pytest.fixture
def run(cast, studio):
    """Two pots of three skeins of a 9.40 yarn, dyed with powder at 24.50 for 100 g, an hour of hands at 18.00."""
    studio.hour_minor, studio.overhead_minor = 1800, 90
    studio.save()
    base = builders.make_base("Sparrow")
    yarn = builders.receive_yarn(cast.maker, base, skeins=20, cost_minor=18800)
    jar = builders.receive_powder(cast.maker, builders.make_dye("Rust"), grams=100, cost_minor=2450)
    made = builders.run_with_pots(cast.maker, yarn, skeins=3)
    for batch in made.batches.all():
        builders.addition(cast.helper, batch, jar, 3)
        Work.log(batch, stamp(cast.helper, hours(1)), minutes=Decimal(30))
    return SimpleNamespace(run=made, jar=jar, yarn=yarn, base=base, by=cast.maker)


def finish(by, batch, *grades):
    yarn = batch.yarns.get()
    outputs = [Output(yarn=yarn, grade=grade, skeins=skeins, skein_g=100) for grade, skeins in grades]
    return Finish.log(batch, stamp(by, hours(3)), outputs=outputs)


def finish_all(run):
    for batch in run.run.batches.all():
        finish(run.by, batch, ("first", 3))


def stored(sheet):
    """Plain numbers of the stored rows."""
    lines = CostLine.objects.filter(sheet=sheet).values_list("minor", flat=True)
    shares = CostShare.objects.filter(sheet=sheet).values_list("minor", flat=True)
    return sheet.total_minor, sum(minor or 0 for minor in lines), sum(shares)


def test_the_parts_come_from_the_records(run):
    finish_all(run)
    sheet = costs.freeze(run.run, by=run.by, clock=clock(hours(4)))
    found = [(line.kind, line.minor) for line in sheet.lines.all()]
    # 6 skeins of 9.40; 6 g at 0.245; one hour at 18.00; six times 0.90
    assert found == [("yarn", 5640), ("dye", 147), ("labour", 1800), ("overhead", 540)]
    assert [line.words for line in sheet.lines.all()][0] == "Sparrow, 6 skeins, in 2 pots"
    assert (sheet.number, sheet.at_least, sheet.total_minor) == (1, False, 8127)


@pytest.mark.parametrize(
    "grades",
    [
        [[("first", 3)], [("first", 3)]],
        [[("first", 2), ("second", 1)], [("first", 3)]],
        [[("first", 1), ("sample", 1), ("lost", 1)], [("second", 2), ("again", 1)]],
        [[("lost", 2), ("second", 1)], [("sample", 3)]],
    ],
)
def test_stored_lines_and_shares_sum_to_the_cent(run, grades):
    for batch, some in zip(run.run.batches.order_by("number"), grades, strict=True):
        finish(run.by, batch, *some)
    total, lines, shares = stored(costs.freeze(run.run, by=run.by, clock=clock(hours(4))))
    assert total == lines == shares > 0


def test_what_a_pot_lost_is_borne_by_every_first_of_its_base(run):
    first, second = run.run.batches.order_by("number")
    finish(run.by, first, ("first", 3))
    finish(run.by, second, ("first", 1), ("lost", 2))
    sheet = costs.freeze(run.run, by=run.by)
    each = {share.least_each for share in sheet.shares.select_related("output") if share.output.grade == "first"}
    assert max(each) - min(each) <= 1


def test_shares_alike_are_told_together(run):
    finish_all(run)
    sheet = costs.freeze(run.run, by=run.by)
    (firsts,) = costs.alike(sheet.shares.select_related("output__yarn__lot__base"))
    assert (firsts.skeins, firsts.minor) == (6, 8127)
    assert (firsts.least_each, firsts.dearer) == (1354, 3)


def test_nothing_is_costed_before_something_came_out(run):
    with pytest.raises(costs.NothingMade, match="Say what came out"):
        costs.freeze(run.run, by=run.by)
    assert not CostSheet.objects.exists()


def test_a_price_nobody_knows_makes_it_at_least(run):
    plain = builders.receive_assistant(run.by, builders.make_assistant("Citric acid", unit="g"))
    builders.addition(run.by, run.run.batches.first(), plain, 12, at=hours(1))
    finish_all(run)
    sheet = costs.freeze(run.run, by=run.by)
    assert sheet.at_least
    assert "Citric acid" in sheet.said
    assert sheet.lines.get(words="Citric acid").minor is None


def test_what_nobody_weighed_makes_it_at_least(run):
    builders.addition(run.by, run.run.batches.first(), run.jar, at=hours(1), how="sprinkled")
    finish_all(run)
    worked, _ = costs.worked_out(run.run)
    assert worked.at_least
    assert [line.words for line in worked.lines if line.amount is None] == ["Rust, not weighed"]


def test_a_later_price_rewrites_nothing_but_says_so(run):
    finish_all(run)
    sheet = costs.freeze(run.run, by=run.by, clock=clock(hours(4)))
    before = stored(sheet)
    assert not costs.out_of_date(sheet)
    run.yarn.correct(by=run.by, clock=clock(hours(5)), cost_minor=20000)
    sheet.refresh_from_db()
    assert stored(sheet) == before
    assert costs.out_of_date(sheet)
    again = costs.freeze(run.run, by=run.by, clock=clock(hours(6)))
    assert (again.number, again.total_minor) == (2, before[0] + 360)
    assert not costs.out_of_date(again)


def late_addition(run):
    builders.addition(run.by, run.run.batches.first(), run.jar, 1, at=hours(2), received_at=hours(5))


def late_strike(run):
    entry = run.run.batches.first().entries.filter(kind="addition").first()
    Strike.log(entry.batch, stamp(run.by, hours(5)), target=entry.pk)


def late_weigh_in(run):
    sprinkled = run.run.batches.first().entries.filter(addition__amount=None, addition__isnull=False).get()
    builders.share_out(run.by, run.jar, "0.4", [sprinkled], closing_at=hours(5))


@pytest.mark.parametrize("late", [late_addition, late_strike, late_weigh_in])
def test_what_comes_late_makes_a_sheet_out_of_date(run, late):
    builders.addition(run.by, run.run.batches.first(), run.jar, at=hours(1), how="sprinkled")
    finish_all(run)
    sheet = costs.freeze(run.run, by=run.by, clock=clock(hours(4)))
    late(run)
    assert costs.out_of_date(sheet)


def test_a_late_note_does_not(run):
    finish_all(run)
    sheet = costs.freeze(run.run, by=run.by, clock=clock(hours(4)))
    builders.words(run.by, run.run.batches.first(), at=hours(5))
    assert not costs.out_of_date(sheet)


def test_yarn_that_is_named_late_makes_a_sheet_out_of_date(cast, run):
    unnamed = builders.BatchYarn(source="unlabelled", words="Yarn not said yet", skeins=1)
    bare = builders.Run.plan(by=cast.maker, day=hours(0).date(), pots=[{"yarns": [unnamed]}], clock=clock())
    bare.start(by=cast.maker, clock=clock())
    finish(cast.maker, bare.batches.get(), ("first", 1))
    sheet = costs.freeze(bare, by=cast.maker, clock=clock(hours(4)))
    assert sheet.at_least
    bare.batches.get().yarns.get().turn_out_to_be(run.yarn, 1, by=cast.maker, clock=clock(hours(5)))
    assert costs.out_of_date(sheet)
    assert not costs.freeze(bare, by=cast.maker).at_least


def test_a_customer_s_own_yarn_costs_nothing_but_bears_its_dye(cast, run):
    own = builders.BatchYarn(source="customer", words="for Signe", base=run.base, skeins=1, grams=100, skein_g=100)
    made = builders.Run.plan(
        by=cast.maker, day=hours(0).date(), pots=[{"yarns": [own, builders.shelf_yarn(run.yarn, 1)]}], clock=clock()
    )
    made.start(by=cast.maker, clock=clock())
    batch = made.batches.get()
    builders.addition(cast.maker, batch, run.jar, 4)
    customers, shelf = batch.yarns.order_by("position")
    outputs = [Output(yarn=customers, grade="customer", skeins=1), Output(yarn=shelf, grade="first", skeins=1)]
    Finish.log(batch, stamp(cast.maker, hours(3)), outputs=outputs)
    sheet = costs.freeze(made, by=cast.maker)
    borne = {share.output.grade: share.minor for share in sheet.shares.select_related("output")}
    # 4 g of dye and the overhead of one skein, by weight; the yarn to the shelf's own alone
    assert borne == {"customer": 94, "first": 940 + 94}


def test_skeins_dyed_again_carry_what_they_cost_before(cast, run):
    finish_all(run)
    sheet = costs.freeze(run.run, by=run.by)
    output = Output.objects.first()
    share = sheet.shares.get(output=output)
    again = builders.BatchYarn(source="output", output=output, skeins=3, grams=300, skein_g=100)
    made = builders.Run.plan(by=cast.maker, day=hours(0).date(), pots=[{"yarns": [again]}], clock=clock())
    made.start(by=cast.maker, clock=clock())
    finish(cast.maker, made.batches.get(), ("first", 3))
    line = costs.freeze(made, by=cast.maker).lines.get(kind="yarn")
    assert line.minor == share.minor


def test_queries_do_not_grow_with_the_log(run, cast, django_assert_max_num_queries):
    for hour in range(10):
        for batch in run.run.batches.all():
            builders.addition(cast.helper, batch, run.jar, 1, at=hours(hour / 10))
    finish_all(run)
    with django_assert_max_num_queries(16):
        costs.worked_out(run.run)
