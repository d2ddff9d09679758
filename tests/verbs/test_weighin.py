"""The weigh-in: from two weights of a jar, what each use that nobody weighed had."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from batches import weighin
from batches.models import Addition, AdditionLot, Entry, Strike
from studio.models import Lot, Measure, Movement, ShareOut, Weighing
from tests import builders
from tests.builders import clock, hours


@pytest.fixture
def jar(cast):
    """A jar of powder of 100 g."""
    return builders.receive_powder(cast.maker, at=hours(-24))


@pytest.fixture
def pots(cast):
    return [builders.one_pot(cast.maker, at=hours(-24)) for _ in range(2)]


def weigh(cast, lot, gross, hour, **facts):
    return weighin.weigh(lot, Decimal(gross), by=cast.helper, clock=clock(hours(hour)), **facts)


def shares(lot):
    shared = Movement.objects.filter(lot=lot, kind="shared").order_by("at", "pk")
    return [-share.amount for share in shared]


def test_what_is_gone_is_shared_to_the_milligram_across_batches(cast, jar, pots):
    weigh(cast, jar, "250.00", -3)
    uses = [builders.addition(cast.helper, pots[n % 2], jar, at=hours(-2)) for n in range(3)]
    builders.addition(cast.helper, pots[0], jar, "1.5", at=hours(-2))
    weigh(cast, jar, "244.50", 0)
    assert shares(jar) == [Decimal("1.334"), Decimal("1.333"), Decimal("1.333")]
    assert builders.on_hand(jar) == Decimal("94.5")
    assert [use.addition.parts.get().amount for use in uses] == shares(jar)
    assert not Movement.objects.open_unweighed().exists()


def test_taps_weigh_the_shares(cast, jar, pots):
    weigh(cast, jar, 250, -3)
    for taps in (10, 30):
        builders.addition(cast.helper, pots[0], jar, at=hours(-2), taps=taps)
    weigh(cast, jar, 246, 0)
    assert shares(jar) == [1, 3]


def test_a_bottle_is_counted_in_ml_and_traced_to_its_powder(cast, jar, pots):
    red = builders.bottle(cast.maker, [(jar, Decimal(5))], volume=500, at=hours(-20))
    weigh(cast, red, 600, -3)
    use = builders.addition(cast.helper, pots[0], red, at=hours(-2))
    weigh(cast, red, 560, 0)
    assert shares(red) == [40]
    part = AdditionLot.objects.get(addition=use.addition)
    assert (part.lot, part.amount) == (jar, Decimal("0.4"))


def test_the_first_weight_is_kept_and_nothing_shared(cast, jar, pots):
    builders.addition(cast.helper, pots[0], jar, at=hours(-2))
    weighing = weigh(cast, jar, 250, 0)
    assert not ShareOut.objects.exists()
    assert weighin.tell(Weighing.objects.filter(pk=weighing.pk))[0].sentences == [weighin.FIRST_KEPT]


def test_a_weight_noted_in_the_morning_opens_the_span(cast, jar, pots):
    builders.addition(cast.helper, pots[0], jar, at=hours(-2))
    weigh(cast, jar, 248, 0, opening_g=Decimal(250))
    assert shares(jar) == [2]


def test_uses_before_the_opening_weight_stay_unknown(cast, jar, pots):
    builders.addition(cast.helper, pots[0], jar, at=hours(-5))
    weigh(cast, jar, 250, -3)
    builders.addition(cast.helper, pots[0], jar, at=hours(-2))
    weigh(cast, jar, 248, 0)
    assert shares(jar) == [2]
    assert Movement.objects.open_unweighed().count() == 1


def test_a_measured_use_that_a_phone_reports_late_is_taken_off(cast, jar, pots):
    weigh(cast, jar, 250, -3)
    builders.addition(cast.helper, pots[0], jar, at=hours(-2))
    builders.addition(cast.helper, pots[1], jar, 1, at=hours(-2), received_at=hours(-1))
    builders.addition(cast.helper, pots[1], jar, 7, at=hours(-4), received_at=hours(-1))
    weigh(cast, jar, 246, 0)
    assert shares(jar) == [3]


def test_a_measured_use_that_comes_after_the_weigh_in_changes_no_share(cast, jar, pots):
    weigh(cast, jar, 250, -3)
    builders.addition(cast.helper, pots[0], jar, at=hours(-2))
    weigh(cast, jar, 246, 0)
    builders.addition(cast.helper, pots[1], jar, 1, at=hours(-2), received_at=hours(1))
    assert shares(jar) == [4]


def test_a_struck_use_is_neither_measured_nor_shared_to(cast, jar, pots):
    weigh(cast, jar, 250, -3)
    wrong = builders.addition(cast.helper, pots[0], jar, 3, at=hours(-2))
    builders.addition(cast.helper, pots[0], jar, at=hours(-2))
    Strike.log(pots[0], builders.stamp(cast.helper, hours(-1)), target=wrong.pk)
    weigh(cast, jar, 246, 0)
    assert shares(jar) == [4]


def test_striking_a_use_takes_its_share_back(cast, jar, pots):
    weigh(cast, jar, 250, -3)
    use = builders.addition(cast.helper, pots[0], jar, at=hours(-2))
    weigh(cast, jar, 246, 0)
    Strike.log(pots[0], builders.stamp(cast.helper, hours(1)), target=use.pk)
    assert builders.on_hand(jar) == 100


@pytest.mark.parametrize(
    ("closing", "measured", "sentence"),
    [
        ("250", None, "Too little to weigh"),
        ("251", None, "more at the end than at the start"),
        ("248", 3, "only 2 g are gone"),
    ],
)
def test_what_cannot_be_shared_is_said_and_stays_open(cast, jar, pots, closing, measured, sentence):
    weigh(cast, jar, 250, -3)
    builders.addition(cast.helper, pots[0], jar, at=hours(-2))
    if measured:
        builders.addition(cast.helper, pots[0], jar, measured, at=hours(-2))
    weighing = weigh(cast, jar, closing, 0)
    assert sentence in weighin.tell(Weighing.objects.filter(pk=weighing.pk))[0].sentences[0]
    assert shares(jar) == [] and Movement.objects.open_unweighed().count() == 1


def test_after_a_slip_the_next_weight_counts_from_the_same_start(cast, jar, pots):
    weigh(cast, jar, 250, -3)
    builders.addition(cast.helper, pots[0], jar, at=hours(-2))
    weigh(cast, jar, 264, -1)
    weigh(cast, jar, 246, 0)
    assert shares(jar) == [4]


def test_powder_gone_that_nobody_logged_is_said(cast, jar):
    weigh(cast, jar, 250, -3)
    weighing = weigh(cast, jar, 230, 0)
    assert "no entry names" in weighin.tell(Weighing.objects.filter(pk=weighing.pk))[0].sentences[0]


def test_small_change_with_nothing_to_share_is_left_behind(cast, jar, pots):
    weigh(cast, jar, 250, -5)
    builders.addition(cast.helper, pots[0], jar, 10, at=hours(-4))
    weigh(cast, jar, "239.80", -3)
    builders.addition(cast.helper, pots[0], jar, at=hours(-2))
    weigh(cast, jar, "238.80", 0)
    assert shares(jar) == [1]


def test_powder_made_into_a_bottle_counts_as_measured(cast, jar, pots):
    weigh(cast, jar, 250, -5)
    builders.bottle(cast.maker, [(jar, Decimal(5))], volume=500, at=hours(-4))
    builders.addition(cast.helper, pots[0], jar, at=hours(-2))
    weigh(cast, jar, 243, 0)
    assert shares(jar) == [2]


def test_less_than_the_empty_jar_weighs_is_refused(cast):
    jar = builders.receive_powder(cast.maker, tare_g=Decimal(150))
    with pytest.raises(ValueError, match="less than the empty container weighs"):
        weigh(cast, jar, 149, 0)
    assert not Weighing.objects.exists()


def test_the_words_name_each_use(cast, jar, pots):
    weigh(cast, jar, 250, -3)
    builders.addition(cast.helper, pots[0], jar, at=hours(-2), taps=4)
    weighing = weigh(cast, jar, 246, 0)
    told = weighin.tell(Weighing.objects.filter(pk=weighing.pk))[0]
    said = {"counted": "4 taps", "amount": 4, "percent": 100}
    assert {name: told.uses[0][name] for name in said} == said
    assert pots[0].run.code in told.uses[0]["name"]


def test_each_use_is_counted_by_its_own_word(cast, jar, pots):
    """Fillings of a spoon are no taps, and what nobody counted says nothing."""
    spoon = Measure.objects.create(name="Bone spoon")
    weigh(cast, jar, 250, -3)
    for counted in ({"measure": spoon, "fillings": 3}, {"taps": 1}, {}):
        builders.addition(cast.helper, pots[0], jar, at=hours(-2), **counted)
    told = weighin.tell(Weighing.objects.filter(pk=weigh(cast, jar, 246, 0).pk))[0]
    assert sorted(use["counted"] for use in told.uses) == ["", "1 tap", "3\N{NO-BREAK SPACE}× Bone spoon"]


def test_the_parts_of_a_weighing_are_a_hundred_together(cast, jar, pots):
    weigh(cast, jar, 250, -3)
    for hour in (-2.5, -2, -1):
        builders.addition(cast.helper, pots[0], jar, at=hours(hour))
    told = weighin.tell(Weighing.objects.filter(pk=weigh(cast, jar, 247, 0).pk))[0]
    assert [use["percent"] for use in told.uses] == [34, 33, 33]


def test_what_was_touched_today_is_to_be_weighed(cast, jar, pots):
    old, idle = builders.receive_powder(cast.maker), builders.receive_powder(cast.maker)
    builders.addition(cast.helper, pots[0], jar, 1, at=hours(-2))
    builders.addition(cast.helper, pots[0], old, at=hours(-20))
    assert set(weighin.touched(hours(-12))) == {jar, old}
    assert idle not in weighin.touched(hours(-12))


def test_an_open_use_of_long_ago_asks_for_no_weighing(cast, pots):
    jar = builders.receive_powder(cast.maker, at=hours(-800))
    builders.addition(cast.helper, pots[0], jar, at=hours(-700))
    assert list(weighin.touched(hours(0))) == []
    builders.addition(cast.helper, pots[0], jar, at=hours(-200))
    assert list(weighin.touched(hours(0))) == [jar]


def test_what_is_planned_may_be_weighed_in_the_morning(cast, jar):
    builders.run_with_pots(cast.maker, pots=1, lines=[(jar, None)])
    assert list(weighin.before_use(builders.DAY)) == [jar]


def test_what_was_weighed_after_its_last_use_is_not_asked_for_again(cast, jar, pots):
    builders.addition(cast.helper, pots[0], jar, 1, at=hours(-2))
    weigh(cast, jar, 249, -1)
    assert list(weighin.touched(hours(-12))) == []
    builders.addition(cast.helper, pots[0], jar, 1, at=hours(0))
    assert list(weighin.touched(hours(-12))) == [jar]


def test_a_use_that_was_struck_touched_nothing(cast, jar, pots):
    wrong = builders.addition(cast.helper, pots[0], jar, 1, at=hours(-2))
    Strike.log(pots[0], builders.stamp(cast.helper), target=wrong.pk)
    assert list(weighin.touched(hours(-12))) == []


def test_the_morning_asks_for_what_is_planned_until_today_and_not_weighed_since_its_last_use(cast, jar):
    later = builders.receive_powder(cast.maker)
    builders.run_with_pots(cast.maker, pots=1, lines=[(jar, None)])
    builders.run_with_pots(cast.maker, pots=1, lines=[(later, 1)], at=hours(24), start=False)
    assert list(weighin.before_use(builders.DAY)) == [jar]
    weigh(cast, jar, 250, 1)
    assert list(weighin.before_use(builders.DAY)) == []
    assert list(weighin.before_use(hours(24).date())) == [later]


def test_a_bottle_that_a_syringe_measures_is_not_asked_for_until_it_is_weighed_once(cast):
    measured, painted = builders.bottle(cast.maker), builders.bottle(cast.maker)
    lines = [(measured, 40), (painted, 10)]
    run = builders.run_with_pots(cast.maker, pots=1, start=False, lines=[])
    rows = [builders.plan_line(*lines[0], how="bottle"), builders.plan_line(*lines[1], how="painted")]
    run.batches.get().write_plan([], rows)
    assert list(weighin.before_use(builders.DAY)) == [painted]
    weigh(cast, measured, 500, 0)
    builders.addition(cast.helper, run.batches.get(), measured, 10, at=hours(1))
    assert set(weighin.before_use(builders.DAY)) == {painted, measured}


def test_the_empty_container_is_said_once_and_counts_from_then_on(cast):
    jar = builders.receive_powder(cast.maker)
    weighin.weigh(jar, Decimal(250), by=cast.helper, empty_g=Decimal(150), clock=clock(hours(0)))
    assert Lot.objects.with_facts().get(pk=jar.pk).tare_now == 150
    with pytest.raises(ValueError, match="less than the empty container weighs"):
        weighin.weigh(Lot.objects.get(pk=jar.pk), Decimal(149), by=cast.helper, clock=clock(hours(1)))


HOURS = [(9, False, True), (10, True, True), (11, True, False), (13, False, True), (14, False, False)]


@pytest.mark.parametrize(("hour", "used", "morning"), HOURS)
def test_which_weigh_in_it_is(cast, jar, pots, hour, used, morning):
    now = timezone.localtime(hours(0)).replace(hour=hour)
    planned = builders.receive_powder(cast.maker, at=hours(-48))
    builders.run_with_pots(cast.maker, pots=1, lines=[(planned, 1)])
    if used:
        builders.addition(cast.helper, pots[0], jar, 1, at=now - timedelta(hours=1))
    sheet = weighin.sheet(now)
    assert sheet.morning is morning
    assert (sheet.planned, sheet.used) == ([planned], [jar] if used else [])


def test_a_jar_that_is_both_stands_once(cast, jar, pots):
    now = timezone.localtime(hours(0)).replace(hour=9)
    builders.addition(cast.helper, pots[0], jar, at=now - timedelta(hours=20))
    builders.run_with_pots(cast.maker, pots=1, lines=[(jar, 1)])
    assert (weighin.sheet(now).planned, weighin.sheet(now).used) == ([jar], [])
    evening = now.replace(hour=18)
    assert (weighin.sheet(evening).planned, weighin.sheet(evening).used) == ([], [jar])
    assert weighin.sheet(evening, asked=[jar.pk]).lots.count(jar) == 1


def test_no_addition_is_changed_by_a_weigh_in(cast, jar, pots):
    weigh(cast, jar, 250, -3)
    builders.addition(cast.helper, pots[0], jar, at=hours(-2))
    before = list(Addition.objects.values()), list(Entry.objects.values())
    weigh(cast, jar, 246, 0)
    assert before == (list(Addition.objects.values()), list(Entry.objects.values()))
