"""What is on hand is the sum of the ledger, and a count stays true however late a phone reports."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from batches.models import Strike
from studio import checks_records
from studio.models import Content, Count, Lot, LotCorrection, Movement
from tests import builders
from tests.builders import NOON, hours


@pytest.fixture
def jar(cast):
    return builders.receive_powder(cast.maker, grams=100, at=hours(-10))


def use(by, lot, amount, at, now=None):
    return Movement.use(lot, None if amount is None else Decimal(amount), at=at, by=by, now=now or at)


def test_a_use_leaves_the_rest(cast, jar):
    use(cast.helper, jar, "12.5", NOON)
    assert builders.on_hand(jar) == Decimal("87.5")
    assert Lot.objects.with_on_hand().get(pk=jar.pk).on_hand == Decimal("87.5")


def test_a_thousand_small_uses_sum_to_nothing_left(cast):
    lot = builders.receive_powder(cast.maker, grams="0.1")
    for _ in range(100):
        use(cast.helper, lot, "0.001", NOON)
    assert builders.on_hand(lot) == 0


def test_a_count_puts_the_shelf_right(cast, jar):
    use(cast.helper, jar, 10, hours(-1))
    builders.count(cast.maker, jar, 88)
    assert builders.on_hand(jar) == 88


@pytest.mark.parametrize("back", [False, True])
@pytest.mark.parametrize("late", [False, True])
def test_a_use_before_a_count_leaves_the_count_true(cast, jar, late, back):
    if not late:
        used = use(cast.helper, jar, 10, hours(-1))
    builders.count(cast.maker, jar, 88, at=NOON)
    if late:
        used = use(cast.helper, jar, 10, hours(-1), now=hours(2))
    if back:
        used.take_back(by=cast.helper, now=hours(3))
    assert builders.on_hand(jar) == 88


def test_a_use_after_a_count_is_taken_off_it(cast, jar):
    builders.count(cast.maker, jar, 88, at=NOON)
    used = use(cast.helper, jar, 10, hours(1))
    assert builders.on_hand(jar) == 78
    used.take_back(by=cast.helper, now=hours(2))
    assert builders.on_hand(jar) == 88


def test_an_older_count_that_comes_later_leaves_the_newer_one_true(cast, jar):
    builders.count(cast.maker, jar, 80, at=hours(2))
    builders.count(cast.helper, jar, 95, at=NOON, recorded_at=hours(3))
    assert builders.on_hand(jar) == 80
    assert list(checks_records.a_count_holds()) == []


def test_a_count_finer_than_the_ledger_is_rounded_once(cast, jar):
    builders.count(cast.maker, jar, "99.9995")
    assert builders.on_hand(jar) == Count.objects.get().amount == 100


def test_an_unweighed_use_waits_and_a_share_settles_it(cast, jar):
    pot = builders.one_pot(cast.maker)
    added = [builders.addition(cast.helper, pot, jar, at=NOON, how="sprinkled") for _ in range(3)]
    assert Lot.objects.with_unweighed().get(pk=jar.pk).has_unweighed
    assert builders.on_hand(jar) == 100
    shared = builders.share_out(cast.maker, jar, 1, added, opening_at=hours(-1), closing_at=hours(1))
    assert not Lot.objects.with_unweighed().get(pk=jar.pk).has_unweighed
    assert builders.on_hand(jar) == 99
    assert sum(part.amount for part in shared.addition_parts.all()) == 1


def test_a_share_out_before_a_count_leaves_the_count_true(cast, jar):
    pot = builders.one_pot(cast.maker)
    added = [builders.addition(cast.helper, pot, jar, at=hours(-1))]
    builders.count(cast.maker, jar, 97, at=NOON)
    builders.share_out(cast.maker, jar, 1, added, opening_at=hours(-2), closing_at=hours(1))
    assert builders.on_hand(jar) == 97


def test_a_struck_sprinkle_gives_its_share_back(cast, jar):
    pot = builders.one_pot(cast.maker)
    added = [builders.addition(cast.helper, pot, jar, at=NOON) for _ in range(2)]
    builders.share_out(cast.maker, jar, 1, added)
    Strike.log(pot, builders.stamp(cast.maker, hours(1)), target=added[0].pk)
    assert builders.on_hand(jar) == Decimal("99.5")


def test_a_use_is_taken_back_once(cast, jar):
    used = use(cast.helper, jar, 10, NOON)
    back = used.take_back(by=cast.helper, now=hours(1))
    with pytest.raises(ValueError, match="taken back already"):
        used.take_back(by=cast.helper, now=hours(2))
    with pytest.raises(ValueError, match="cannot be taken back"):
        back.take_back(by=cast.helper, now=hours(2))


STEPS = st.lists(
    st.tuples(st.sampled_from(["use", "unweighed", "count", "back"]), st.integers(0, 12), st.integers(0, 2000)),
    min_size=1,
    max_size=14,
)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=STEPS)
def test_whatever_comes_in_whatever_order_every_count_holds(cast, steps):
    """Uses, counts and reversals at any time of a half day, arriving in any order."""
    by = cast.maker
    lot = builders.receive_powder(by, grams=1, at=hours(-1))
    used, newest = [], {}
    for received, (what, hour, amount) in enumerate(steps, 20):
        at, now, amount = hours(hour), hours(received), Decimal(amount).scaleb(-3)
        if what == "count":
            builders.count(by, lot, amount, at=at, recorded_at=now)
            newest[at] = amount
        elif what == "back" and used:
            used.pop(hour % len(used)).take_back(by=by, now=now)
        else:
            used.append(use(by, lot, None if what == "unweighed" else amount, at, now))
    movements = list(lot.movements.exclude(amount=None))
    for at, amount in newest.items():
        assert sum(movement.amount for movement in movements if movement.at <= at) == amount


# --- lots and bottles


def test_the_newest_correction_counts_and_says_only_what_it_says(cast, jar):
    for strength, cost, hour in [(95, None, 1), (None, 2000, 2), (97, None, 3)]:
        facts = {"strength_pct": strength, "cost_minor": cost}
        LotCorrection.objects.create(lot=jar, recorded_at=hours(hour), by=cast.maker, **facts)
    lot = Lot.objects.with_facts().get(pk=jar.pk)
    assert (lot.strength_now, lot.cost_now, lot.strength_pct) == (97, 2000, 100)


def test_an_addition_keeps_the_strength_of_its_day(cast, jar):
    pot = builders.one_pot(cast.maker)
    before = builders.addition(cast.helper, pot, jar, 1)
    LotCorrection.objects.create(lot=jar, strength_pct=90, recorded_at=hours(1), by=cast.maker)
    after = builders.addition(cast.helper, pot, jar, 1)
    assert (before.addition.strength_pct, after.addition.strength_pct) == (100, 90)


def test_a_bottle_is_as_strong_as_what_was_weighed(cast, jar):
    bottle = builders.bottle(cast.maker, [(jar, Decimal("2.53"))], volume=250)
    assert bottle.strength() == Decimal("1.012")
    assert builders.on_hand(jar) == Decimal("97.47")


def test_a_mixed_bottle_is_traced_to_each_powder(cast, jar):
    blue = builders.receive_powder(cast.maker)
    bottle = builders.bottle(cast.maker, [(jar, 1), (blue, 3)], volume=200)
    assert bottle.holds(Decimal(100)) == ({jar.pk: Decimal("0.5"), blue.pk: Decimal("1.5")}, True)


def test_a_dilution_of_a_dilution_is_traced_to_the_powder(cast, jar):
    strong = builders.bottle(cast.maker, [(jar, 5)], volume=500)
    weak = builders.bottle(cast.maker, [(strong, 100)], volume=1000)
    weaker = builders.bottle(cast.maker, [(weak, 10)], volume=100)
    assert weaker.strength() == Decimal("0.01")
    assert {row.source_id for row in weaker.contents.all()} == {jar.pk}


def test_a_top_up_is_a_new_lot_that_holds_the_rest_of_the_old(cast, jar):
    old = builders.bottle(cast.maker, [(jar, 10)], volume=1000)
    builders.addition(cast.helper, builders.one_pot(cast.maker), old, 600)
    new = builders.bottle(cast.maker, [(old, 400), (jar, 6)], volume=1000, solution=old.solution, continues=old)
    assert new.strength() == 1
    assert builders.on_hand(old) == 0
    assert new.continues == old


def test_a_bottle_with_something_unknown_in_it_is_of_no_known_strength(cast, jar):
    liquor = builders.bottle(cast.maker, [], volume=3000, solution=builders.make_solution(kind="liquor"))
    mixed = builders.bottle(cast.maker, [(liquor, 500), (jar, 1)], volume=1000)
    assert liquor.strength() is None and mixed.strength() is None
    assert mixed.holds(Decimal(100)) == ({jar.pk: Decimal("0.1")}, False)


@pytest.mark.parametrize("amount", [0, -1, "0.0001"])
def test_nothing_makes_no_bottle(cast, jar, amount):
    with pytest.raises(ValueError, match="above zero"):
        builders.bottle(cast.maker, [(jar, Decimal(amount))])
    assert not Content.objects.exists() and builders.on_hand(jar) == 100


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_no_gram_is_made_or_lost_on_the_way_through_bottles(cast, data):
    by, rng = cast.maker, st.decimals(Decimal("0.001"), 50, places=3)
    lots = [builders.receive_powder(by, grams=1000) for _ in range(2)]
    for _ in range(data.draw(st.integers(1, 4))):
        chosen = data.draw(st.lists(st.sampled_from(lots), min_size=1, max_size=3))
        parts = [(lot, data.draw(rng)) for lot in chosen]
        volume = data.draw(st.decimals(200, 2000, places=3))
        lots.append(builders.bottle(by, parts, volume=volume))
    assert list(checks_records.a_bottle_holds_what_went_in()) == []


def test_a_lot_is_past_the_day_after_its_use_by_date_as_it_was_said_last(cast):
    vinegar = builders.receive_assistant(cast.maker, use_by=builders.DAY)
    never = builders.receive_assistant(cast.maker, vinegar.assistant)

    def past(lot, day=None):
        return Lot.objects.with_facts().get(pk=lot.pk).is_past(day)

    assert not past(vinegar, builders.DAY)
    assert past(vinegar, builders.DAY + timedelta(days=1)) and past(vinegar)
    assert not past(never)
    vinegar.correct(by=cast.maker, use_by=builders.DAY + timedelta(days=30))
    assert not past(vinegar, builders.DAY + timedelta(days=1))


def test_a_bottle_keeps_as_long_as_its_master_says(db):
    keeps, nobody_knows = builders.make_solution("Teal 1 %", keeps_days=90), builders.make_solution("Teal 2 %")
    assert keeps.use_by(date(2026, 3, 14)) == date(2026, 6, 12)  # 17 + 30 + 31 + 12 days
    assert nobody_knows.use_by(date(2026, 3, 14)) is None
