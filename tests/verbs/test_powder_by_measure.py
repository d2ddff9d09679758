"""Powder by a spoon of the studio's own: about so much where it was weighed with this dye, else not weighed."""

from decimal import Decimal
from uuid import uuid4

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from batches import costs, depth, intake, record, telling, weighin
from batches.last_used import measure_last_used
from batches.models import Addition, Entry, Strike
from batches.plan_beside_log import plan_beside_log
from recipes.notebook_reading import read_lines
from studio.models import Measure, MeasureWeighing, Movement, ShareOut
from tests import builders
from tests.builders import NOON, clock, hours

NBSP = "\N{NO-BREAK SPACE}"


@pytest.fixture(autouse=True)
def _noon():
    with time_machine.travel(hours(1), tick=False):
        yield


@pytest.fixture
def pot(cast):
    return builders.one_pot(cast.maker, at=hours(-24))


@pytest.fixture
def rust():
    return builders.make_dye("Rust", "#9c3122")


@pytest.fixture
def jar(cast, rust):
    return builders.receive_powder(cast.maker, rust, at=hours(-24), cost_minor=2500)


@pytest.fixture
def spoon():
    return Measure.objects.create(name="Bone spoon")


def weigh(cast, spoon, dye, *weighings):
    for fillings, grams in weighings:
        MeasureWeighing.objects.create(
            measure=spoon, dye=dye, fillings=fillings, grams=Decimal(grams), at=NOON, by=cast.maker
        )


@pytest.fixture
def weighed(cast, spoon, rust):
    """Four times one filling: mean 0.2 g, spread 0.0183 g, mean known to 0.0091 g."""
    weigh(cast, spoon, rust, *((1, grams) for grams in ("0.18", "0.19", "0.21", "0.22")))
    return spoon


def send(batch, person, lot, **fields):
    data = {"kind": "powder", "id": str(uuid4()), "lot": str(lot.pk)}
    return intake.take(data | {name: str(value) for name, value in fields.items()}, {}, batch=batch, person=person)


def line(entry):
    return telling.line_of(Entry.objects.with_details().get(pk=entry.pk))


def test_a_weighed_spoon_gives_an_amount_and_how_far_off(cast, pot, jar, weighed):
    answer = send(pot, cast.helper, jar, measure=weighed.pk, fillings="2 1/2", how="sprinkled")
    added = answer.entries[0].addition
    assert (added.amount, added.measure, added.fillings) == (Decimal("0.5"), weighed, Decimal("2.5"))
    # s² = 0.001/3; 2.5 s² + 2.5² s²/4 = 4.0625 s², its root 0.0368
    assert added.spread_g == Decimal("0.036799")
    assert builders.on_hand(jar) == Decimal("99.5")
    assert line(answer.entries[0]).what == f"Rust, 2.5{NBSP}× Bone spoon, about 0.5{NBSP}g ±{NBSP}0.04{NBSP}g"
    assert answer.form.also_said() == ""


def test_each_of_two_pots_gets_its_fillings(cast, jar, weighed):
    run = builders.run_with_pots(cast.maker, pots=2)
    answer = send(run.batches.first(), cast.helper, jar, measure=weighed.pk, fillings=2, pots="all")
    assert [entry.addition.amount for entry in answer.entries] == [Decimal("0.4")] * 2


def test_weighed_once_says_that_its_spread_is_not_known(cast, pot, jar, spoon, rust):
    weigh(cast, spoon, rust, (10, "2"))
    entry = send(pot, cast.helper, jar, measure=spoon.pk, fillings=3).entries[0]
    assert (entry.addition.amount, entry.addition.spread_g) == (Decimal("0.6"), None)
    said = line(entry)
    assert said.what == f"Rust, 3{NBSP}× Bone spoon, about 0.6{NBSP}g"
    assert "weighed once only" in said.sub


def test_another_dye_tells_nothing(cast, pot, weighed):
    plum = builders.receive_powder(cast.maker, builders.make_dye("Plum"))
    answer = send(pot, cast.helper, plum, measure=weighed.pk, fillings=2)
    added = answer.entries[0].addition
    assert (added.amount, added.spread_g, added.fillings) == (None, None, 2)
    assert added.movement.amount is None
    assert line(answer.entries[0]).what == f"Plum, 2{NBSP}× Bone spoon, not weighed"
    assert "Weigh 10 fillings" in answer.form.also_said()


def test_weighing_it_later_counts_from_then_on(cast, pot, jar, spoon, rust):
    before = send(pot, cast.helper, jar, measure=spoon.pk, fillings=2).entries[0]
    weigh(cast, spoon, rust, (10, "2"), (10, "2.2"))
    after = send(pot, cast.helper, jar, measure=spoon.pk, fillings=2).entries[0]
    assert Addition.objects.get(pk=before.pk).amount is None
    assert Addition.objects.get(pk=after.pk).amount == Decimal("0.42")


@pytest.mark.parametrize(
    ("fields", "box", "sentence"),
    [
        ({"fillings": "2"}, "measure", "Choose which measure"),
        ({"measure": "{spoon}"}, "fillings", "Count the fillings"),
        ({"measure": "{spoon}", "unmeasured": "on"}, "fillings", "Count the fillings"),
        ({"measure": "{spoon}", "fillings": "2", "amount": "0.4"}, "amount", "empty this box or that"),
        ({"measure": "{spoon}", "fillings": "2", "unmeasured": "on"}, "fillings", "log it with them"),
        ({"measure": "{spoon}", "fillings": "0"}, "fillings", "No filling is nothing"),
        ({"measure": "{spoon}", "fillings": "-1"}, "fillings", ""),
        ({"measure": "{spoon}", "fillings": "1.3"}, "fillings", "whole and half fillings"),
        ({"measure": "{spoon}", "fillings": "9000"}, "fillings", "too much"),
        ({"measure": "{spoon}", "fillings": "a few"}, "fillings", ""),
        ({"measure": "999999", "fillings": "2"}, "measure", "no longer there"),
    ],
)
def test_a_slip_is_said_and_nothing_kept(cast, pot, jar, weighed, fields, box, sentence):
    Measure.objects.create(name="Another spoon")
    typed = {name: value.replace("{spoon}", str(weighed.pk)) for name, value in fields.items()}
    answer = send(pot, cast.helper, jar, **typed)
    assert answer.status == 422 and box in answer.errors and sentence in " ".join(answer.errors[box])
    assert not Entry.objects.exists()


def test_a_touched_number_counts_as_a_written_one(cast, pot, jar, weighed):
    touched = send(pot, cast.helper, jar, measure=weighed.pk, fillings_pick="0.5").entries[0].addition
    assert (touched.fillings, touched.amount) == (Decimal("0.5"), Decimal("0.1"))
    both = send(pot, cast.helper, jar, measure=weighed.pk, fillings_pick="2", fillings="2").entries[0].addition
    assert both.fillings == 2
    none = send(pot, cast.helper, jar, fillings_pick="", amount="0.4").entries[0].addition
    assert (none.measure, none.amount) == (None, Decimal("0.4"))
    answer = send(pot, cast.helper, jar, measure=weighed.pk, fillings_pick="2", fillings="3")
    assert "touch “None”" in answer.errors["fillings"][0]
    assert "fillings_pick" in send(pot, cast.helper, jar, measure=weighed.pk, fillings_pick="7").errors


def test_where_there_is_but_one_spoon_the_fillings_are_of_it(cast, pot, jar, weighed):
    Measure.objects.create(name="Lost spoon", retired=True)
    assert send(pot, cast.helper, jar, fillings=2).entries[0].addition.measure == weighed


def test_a_spoon_that_only_the_page_chose_says_nothing_without_fillings(cast, pot, jar, weighed):
    other = Measure.objects.create(name="Another spoon")
    offered = {"measure": weighed.pk, "offered_measure": weighed.pk}
    weighed_out = send(pot, cast.helper, jar, amount="0.4", **offered).entries[0].addition
    assert (weighed_out.measure, weighed_out.amount) == (None, Decimal("0.4"))
    tapped = send(pot, cast.helper, jar, taps=3, unmeasured="on", **offered).entries[0].addition
    assert (tapped.measure, tapped.amount, tapped.taps) == (None, None, 3)
    counted = send(pot, cast.helper, jar, fillings_pick="2", **offered).entries[0].addition
    assert (counted.measure, counted.amount) == (weighed, Decimal("0.4"))
    changed = send(pot, cast.helper, jar, **offered | {"measure": other.pk})
    assert "Count the fillings" in changed.errors["fillings"][0]


def test_the_spoon_filled_last_is_ones_own_with_that_dye(cast, pot, jar, weighed):
    plum = builders.receive_powder(cast.maker, builders.make_dye("Plum"))
    horn, steel, bent = (Measure.objects.create(name=f"{name} spoon") for name in ("Horn", "Steel", "Bent"))
    assert measure_last_used(cast.helper, jar.pk) is None
    used = [(cast.maker, jar, weighed), (cast.helper, jar, horn), (cast.helper, plum, steel), (cast.maker, plum, bent)]
    for hour, (by, lot, measure) in enumerate(used, -9):
        builders.addition(by, pot, lot, at=hours(hour), measure=measure, fillings=1)
    assert measure_last_used(cast.helper, jar.pk) == horn.pk
    assert measure_last_used(cast.helper) == steel.pk
    assert measure_last_used(cast.maker, jar.pk) == weighed.pk
    assert measure_last_used(cast.owner, jar.pk) == horn.pk
    Measure.objects.filter(pk=horn.pk).update(retired=True)
    assert measure_last_used(cast.helper, jar.pk) == steel.pk


def test_a_spoon_that_is_no_longer_used_can_still_be_said(cast, pot, jar, weighed):
    Measure.objects.update(retired=True)
    assert send(pot, cast.helper, jar, measure=weighed.pk, fillings=1).state == "saved"


# What is reckoned from it


def test_the_depth_and_the_bar_say_about(cast, pot, jar, weighed):
    send(pot, cast.helper, jar, measure=weighed.pk, fillings=2)
    found = depth.depths_of([pot])[pot.pk]
    assert (found.dye_g, found.words) == (Decimal("0.4"), "about")
    (segment,) = depth.segments(depth.fed_of_run(pot.run))
    assert (segment.amount, segment.unweighed, segment.share) == (f"about 0.4{NBSP}g", False, Decimal("0.4"))


def test_with_something_unweighed_it_is_at_least_about(cast, pot, jar, weighed):
    send(pot, cast.helper, jar, measure=weighed.pk, fillings=2)
    builders.addition(cast.helper, pot, jar, how="sprinkled")
    assert depth.depths_of([pot])[pot.pk].words == "at least about"
    assert depth.fed_of_run(pot.run)[0].words == f"about 0.4{NBSP}g or more"


def test_what_no_spoon_gave_is_not_about(cast, pot, jar, weighed):
    builders.addition(cast.helper, pot, jar, "0.4")
    assert depth.depths_of([pot])[pot.pk].words == ""


def test_not_weighed_with_this_dye_is_hatched_and_then_known_by_the_weigh_in(cast, pot, jar, spoon):
    entry = send(pot, cast.helper, jar, measure=spoon.pk, fillings=2).entries[0]
    (segment,) = depth.segments(depth.fed_of_run(pot.run))
    assert (segment.unweighed, segment.amount) == (True, "not weighed")
    builders.share_out(cast.helper, jar, "0.5", [Entry.objects.get(pk=entry.pk)])
    assert depth.depths_of([pot])[pot.pk].words == ""
    assert f"0.5{NBSP}g by the weigh-in" in line(entry).sub


def test_the_cost_says_by_measure_on_a_line_of_its_own(cast, pot, jar, weighed):
    builders.addition(cast.helper, pot, jar, 4)
    send(pot, cast.helper, jar, measure=weighed.pk, fillings=10)
    dyes = [(one.words, one.amount) for one in costs.so_far(pot.run).lines if one.kind == "dye"]
    # 25.00 for 100 g: 4 g weighed, 2 g by the spoon
    assert dyes == [(str(jar), Decimal("1.00")), (f"{jar}, by measure", Decimal("0.50"))]


def test_the_record_says_about_and_finds_no_fault_within_what_a_spoon_can_tell(cast, jar, weighed):
    run = builders.run_with_pots(cast.maker, pots=1, lines=[(jar, Decimal("0.42"))])
    pot, plan = run.batches.get(), run.batches.get().plan.get()
    facts = {"measure": weighed, "fillings": 2, "spread_g": Decimal("0.032")}
    builders.addition(cast.helper, pot, jar, "0.4", plan_line=plan, **facts)
    (row,) = plan_beside_log(run, record.standing_of(record.log_of(run, list(run.batches.all()))))
    assert (row.logged, row.about, row.off) == (Decimal("0.4"), True, None)
    builders.addition(cast.helper, pot, jar, "0.4", plan_line=plan, **facts)
    (row,) = plan_beside_log(run, record.standing_of(record.log_of(run, list(run.batches.all()))))
    assert row.off == Decimal("0.38")


def test_a_notebook_reads_it_as_about(cast, pot, jar, weighed):
    sent = {"measure": weighed.pk, "fillings": 2, "how": "sprinkled"}
    by_spoon = send(pot, cast.helper, jar, **sent).entries[0].addition
    unweighed = builders.addition(cast.helper, pot, jar, how="sprinkled").addition
    on_scale = builders.addition(cast.helper, pot, jar, "0.45", how="dissolved").addition
    notes = [telling.powder_note(one) for one in (by_spoon, unweighed, on_scale)]
    assert [(one.name, one.amount, one.estimated) for one in read_lines("\n".join(notes))] == [
        ("Rust", Decimal("0.4"), True),
        ("Rust", None, False),
        ("Rust", Decimal("0.45"), False),
    ]


# The weigh-in


def weigh_in(cast, jar, gross, hour):
    return weighin.weigh(jar, Decimal(gross), by=cast.helper, clock=clock(hours(hour)))


def by_spoon(cast, pot, jar, spoon, fillings, hour):
    grams, u = spoon.holds_of(jar.dye_id).of(fillings)
    facts = {"measure": spoon, "fillings": fillings, "spread_g": u and round(u, 6)}
    return builders.addition(cast.helper, pot, jar, round(grams, 3), at=hours(hour), **facts)


@pytest.mark.parametrize(("grams", "outcome"), [("2.00", "too little to weigh"), ("0", "shared")])
def test_what_the_spoon_leaves_open_is_no_sprinkle(cast, pot, jar, weighed, grams, outcome):
    """0.1 g more gone than 2 g by the spoon: within twice the 0.11 g it may be off. Without the spoon it is shared."""
    builders.make_tool("Fine scale", step="0.01")
    weigh_in(cast, jar, 250, -3)
    if Decimal(grams):
        by_spoon(cast, pot, jar, weighed, 10, -2)
    builders.addition(cast.helper, pot, jar, at=hours(-2), how="sprinkled")
    span = weighin.look(jar, 250 - Decimal(grams) - Decimal("0.1"), at=hours(0))
    assert span.result.outcome == outcome


def test_a_spoon_a_little_generous_on_paper_is_no_slip(cast, pot, jar, weighed):
    builders.make_tool("Fine scale", step="0.01")
    weigh_in(cast, jar, 250, -3)
    by_spoon(cast, pot, jar, weighed, 10, -2)
    builders.addition(cast.helper, pot, jar, at=hours(-2), how="sprinkled")
    assert weighin.look(jar, Decimal("248.1"), at=hours(0)).result.outcome == "too little to weigh"
    assert weighin.look(jar, Decimal("248.5"), at=hours(0)).result.outcome == "measured more than used"


def test_fillings_of_one_mean_are_judged_together(cast, pot, jar, weighed):
    """Ten times one filling are as far off as ten at once: all lean on the same mean."""
    weigh_in(cast, jar, 250, -3)
    for _ in range(10):
        by_spoon(cast, pot, jar, weighed, 1, -2)
    alone = weighed.holds_of(jar.dye_id).of(10)[1]
    assert weighin._measured_u(jar, hours(-3), hours(0)) == pytest.approx(float(alone))


def test_a_struck_spoonful_leaves_nothing_open(cast, pot, jar, weighed):
    wrong = by_spoon(cast, pot, jar, weighed, 10, -2)
    Strike.log(pot, builders.stamp(cast.helper, hours(-1)), target=wrong.pk)
    assert weighin._measured_u(jar, hours(-3), hours(0)) == 0


def test_fillings_of_an_unweighed_spoon_share_by_their_number(cast, pot, jar, spoon):
    weigh_in(cast, jar, 250, -3)
    for fillings in (1, 3):
        builders.addition(cast.helper, pot, jar, at=hours(-2), measure=spoon, fillings=fillings)
    weigh_in(cast, jar, 248, 0)
    shares = Movement.objects.filter(lot=jar, kind="shared").order_by("pk")
    assert sorted(-share.amount for share in shares) == [Decimal("0.5"), Decimal("1.5")]
    assert ShareOut.objects.get().said == ""


def test_taps_and_fillings_are_not_counted_against_each_other(cast, pot, jar, spoon):
    weigh_in(cast, jar, 250, -3)
    builders.addition(cast.helper, pot, jar, at=hours(-2), taps=12)
    builders.addition(cast.helper, pot, jar, at=hours(-2), measure=spoon, fillings=1)
    weigh_in(cast, jar, 248, 0)
    shares = Movement.objects.filter(lot=jar, kind="shared")
    assert [-share.amount for share in shares] == [1, 1]


def test_a_run_of_spoonfuls_asks_no_more_than_one_of_few(cast, pot, jar, weighed):
    by_spoon(cast, pot, jar, weighed, 1, -2)
    questions(pot.run)  # what is asked only once is known by then
    few = questions(pot.run)
    for _ in range(8):
        by_spoon(cast, pot, jar, weighed, 1, -2)
    assert questions(pot.run) == few


def questions(run):
    with CaptureQueriesContext(connection) as asked:
        record.record_of(run)
        costs.so_far(run)
    return len(asked)
