"""A run's cost, from stored records to stored rows, against rules and examples published elsewhere.

- Parts that sum to the total: largest remainder (Hamilton). 10.00 in three is 3.34, 3.33, 3.33; 70.61 in five is
  14.13 and four times 14.12: arithmetic that anyone can redo.
- A lot's whole cost follows the amount used, not a rounded price for each gram: IAS 2 *Inventories*, paragraphs 10
  (landed cost) and 23 to 25 (specific identification), from memory.
- A price that holds a sales tax: net = gross / (1 + rate); 29.95 at 25 % is 23.96 and 5.99 of tax: arithmetic.
- Margin is a share of the net price: 18.40 at 40 % is 30.67, the mark-up being 66.67 %: arithmetic.
- The costed day itself is our own.
"""

from decimal import Decimal

import pytest

from batches import costs
from batches.models import Finish, Output, Work
from batches.prices import propose
from studio import money
from tests import builders
from tests.builders import hours, stamp


def finished(by, cost_minor, grades, studio, skeins):
    """A run of one pot whose yarn cost so much in all, with nothing else in it."""
    studio.hour_minor = studio.overhead_minor = None
    studio.save()
    lot = builders.receive_yarn(by, skeins=skeins, cost_minor=cost_minor)
    run = builders.run_with_pots(by, lot, pots=1, skeins=skeins)
    batch = run.batches.get()
    outputs = [Output(yarn=batch.yarns.get(), grade=grade, skeins=number, skein_g=100) for grade, number in grades]
    Finish.log(batch, stamp(by, hours(3)), outputs=outputs)
    return costs.freeze(run, by=by)


@pytest.mark.parametrize(
    ("cost_minor", "skeins", "least", "dearer"), [(1000, 3, 333, 1), (7061, 5, 1412, 1), (9999, 4, 2499, 3)]
)
def test_skeins_sum_to_the_run_by_largest_remainder(cast, studio, cost_minor, skeins, least, dearer):
    sheet = finished(cast.maker, cost_minor, [("first", skeins)], studio, skeins)
    (firsts,) = costs.alike(sheet.shares.all())
    assert (firsts.least_each, firsts.dearer) == (least, dearer)
    assert firsts.least_each * skeins + firsts.dearer == cost_minor == sheet.total_minor


def test_used_by_weight_of_the_landed_lot_and_never_by_a_rounded_gram(cast, studio):
    """50 g for 10.00 is 0.20 a gram; 30 g for 10.00 is 0.333...: 9 g of it are 3.00, not 9 times 0.33."""
    studio.hour_minor = studio.overhead_minor = None
    studio.save()
    run = builders.run_with_pots(cast.maker, pots=1)
    batch = run.batches.get()
    jar = builders.receive_powder(cast.maker, builders.make_dye("Rust"), grams=30, cost_minor=1000)
    builders.addition(cast.maker, batch, jar, 9)
    builders.finish(cast.maker, batch)
    assert costs.freeze(run, by=cast.maker).lines.get(kind="dye").minor == 300


def test_the_costed_day(cast, studio):
    """Our own day: 6 skeins at 8.40, 95 minutes at 18.00 an hour, 0.90 overhead each, one second at 60 % of a first.

    50.40 + 28.50 + 5.40 = 84.30 on 5.6 firsts' worth: a first bears 15.0536, the second 9.0321.
    """
    studio.hour_minor, studio.overhead_minor, studio.second_pct = 1800, 90, 60
    studio.save()
    lot = builders.receive_yarn(cast.maker, skeins=6, cost_minor=5040)
    run = builders.run_with_pots(cast.maker, lot, pots=2, skeins=3)
    first, second = run.batches.order_by("number")
    for batch, minutes in ((first, "47.5"), (second, "47.5")):
        Work.log(batch, stamp(cast.helper, hours(1)), minutes=Decimal(minutes))
    builders.finish(cast.maker, first)
    yarn = second.yarns.get()
    outputs = [Output(yarn=yarn, grade=grade, skeins=skeins) for grade, skeins in (("first", 2), ("second", 1))]
    Finish.log(second, stamp(cast.maker, hours(3)), outputs=outputs)
    sheet = costs.freeze(run, by=cast.maker)
    shares = {one.output.grade: one for one in costs.alike(sheet.shares.all())}
    assert sheet.total_minor == 8430
    assert shares["first"].least_each == 1505 and shares["second"].minor == 903
    assert sum(share.minor for share in shares.values()) == 8430


def test_tax_inside_the_price():
    left = money.what_is_left(Decimal("29.95"), 0, tax_pct=25)
    assert (left.net, left.tax) == (Decimal("23.96"), Decimal("5.99"))


def test_margin_is_of_the_net_price(studio):
    studio.tax_pct = Decimal(0)
    assert propose(Decimal("18.40"), studio, {"keep": Decimal(40), "fee": None, "ending": ""}) == Decimal("30.67")
