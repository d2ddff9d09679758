"""The pots still to come are planned anew; those that are begun, and all that was done, stay as they were."""

from datetime import timedelta
from decimal import Decimal
from functools import partial
from types import SimpleNamespace
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from batches import beginning, capture, checks, intake, next_time, replanning
from batches.models import Batch, Entry, PlanLine, Run, StepDone, Strike, Weighed, promised_by_lot
from batches.plan_beside_log import plan_beside_log
from batches.record import standing_of
from batches.yarns import Yarn
from recipes import changing
from recipes.models import Basis, How, Ingredient, RecipeStep
from recipes.offers import ingredients_of, with_steps
from recipes.plans import Wishes
from studio.models import Lot
from tests import builders
from tests.builders import clock, hours, stamp


def make_kit(cast, after=""):
    """Three jars of one skein by version 1: soak, 20:1 of water, 2 % of rust, 1 % of teal. They are started."""
    rust, teal = builders.make_dye(f"Rust{after}"), builders.make_dye(f"Teal{after}", colour="#31686b")
    powders = [builders.receive_powder(cast.maker, dye) for dye in (rust, teal)]
    way = builders.colourway(cast.maker, f"Low tide{after}")
    version = way.next_version(by=cast.maker, now=builders.NOON, fibre_g=Decimal(100))
    water = Ingredient(water=True, amount=Decimal(20), unit=":1", basis=Basis.RATIO, how=How.ADDED)
    soak = RecipeStep(kind="soak", words="Soak", minutes=30)
    lines = [(RecipeStep(), [builders.ingredient(rust, 2)]), (RecipeStep(), [builders.ingredient(teal, 1)])]
    version.write([(soak, []), (RecipeStep(), [water]), *lines])
    yarn = builders.receive_yarn(cast.maker, skeins=10)
    pots = [{"fibre_g": yarn.skein_g, "yarns": [builders.shelf_yarn(yarn, 1)], "water_ml": 2000} for _ in range(3)]
    of = {"colourway": version.colourway, "recipe": version, "method": "jar"}
    run = Run.plan(by=cast.maker, day=builders.DAY, pots=pots, clock=clock(), **of)
    kit = SimpleNamespace(run=run, version=version, rust=rust, teal=teal, powders=powders, cast=cast)
    write(kit)
    run.start(by=cast.maker, clock=clock())
    return kit


@pytest.fixture
def kit(cast, studio):
    return make_kit(cast)


def write(kit):
    """The plan as version 1 has it: the first writing."""
    coming = replanning.to_come(kit.run)
    worked = replanning.work_out(kit.version, coming)
    for pot, planned in zip(coming.pots, worked.pots, strict=True):
        pot.write_plan([], [PlanLine(**line.facts()) for line in planned.lines])


def pot(kit, number):
    return kit.run.batches.get(number=number)


def told(kit, number):
    """{substance or act: amount told} of a pot's plan that counts."""
    return {line.name or line.step: line.told for line in pot(kit, number).plan.all()}


def dye(kit, number, name="Rust"):
    line = pot(kit, number).plan.get(dye__name=name)
    return builders.addition(kit.cast.helper, pot(kit, number), line.lot, line.told, plan_line=line)


def less_rust(kit, percent=90, coming=None, **said):
    coming = coming or replanning.to_come(kit.run)
    times = {kit.rust.pk: replanning.factor_of(percent)}
    facts = {"by": kit.cast.maker, "times": times, "why": "Too red.", "clock": clock(hours(2))} | said
    return replanning.change(kit.run, coming, kit.version, **facts)


def test_the_pots_still_to_come_get_less_and_the_dyed_one_keeps_its_plan(kit):
    dye(kit, 1)
    made = less_rust(kit)
    assert told(kit, 1) == {"Soak": None, "Water": 2000, "Rust": 2, "Teal": 1}
    assert told(kit, 2) == told(kit, 3) == {"Soak": None, "Water": 2000, "Rust": Decimal("1.8"), "Teal": 1}
    assert [(one.edition, one.recipe) for one in kit.run.batches.order_by("number")] == [
        (1, kit.version),
        (2, made),
        (2, made),
    ]
    assert PlanLine.every.filter(batch__run=kit.run).count() == 4 * 5, "what was planned before is kept"


def test_the_change_is_the_next_version_and_says_where_it_comes_from(kit):
    dye(kit, 1)
    made = less_rust(kit)
    assert (made.number, made.made_from, made.used_at is not None) == (2, kit.version, True)
    said = f"Changed in run {kit.run.code}, from pots 2 and 3 on: 10 % less Rust. Too red."
    assert made.note.replace("\xa0", " ") == said
    amounts = {each.name: each.amount for each in ingredients_of(with_steps(made))}
    assert amounts == {"Water": 20, "Rust": Decimal("1.8"), "Teal": 1}
    kit.run.refresh_from_db()
    assert kit.run.recipe == kit.version


def test_how_a_change_was_asked_for_is_kept_for_the_next_one(kit):
    assert replanning.wishes_of(replanning.to_come(kit.run)) == Wishes(scales="weight")
    asked = Wishes(hold="dyeable", scales="pots")
    less_rust(kit, wishes=asked)
    assert replanning.wishes_of(replanning.to_come(kit.run)) == asked
    less_rust(kit)
    assert replanning.wishes_of(replanning.to_come(kit.run)) == asked, "who says nothing of it leaves it"


def struck_again(kit, number):
    """A pot that had been begun when the others were planned anew, and is to come again."""
    wrong = dye(kit, number)
    made = less_rust(kit, wishes=Wishes(hold="dyeable", scales="pots"))
    Strike.log(pot(kit, number), stamp(kit.cast.helper), target=wrong.pk)
    return made


def test_pots_that_were_planned_in_different_ways_are_said_and_never_guessed(kit):
    made = struck_again(kit, 1)
    coming = replanning.to_come(kit.run)
    assert (coming.recipe, coming.hold, coming.scales, coming.alike) == (made, None, None, False)
    assert coming.apart == [
        "They are planned from different versions (pot 1: version 1, pots 2 and 3: version 2): "
        "after a change all of them do the same.",
        "They hold the depth on different yarn (pot 1: all of the yarn, pots 2 and 3: the part that takes the dye): "
        "after a change all of them do the same.",
        "Their amounts follow different things (pot 1: the weight of the yarn, pots 2 and 3: the pots): "
        "after a change all of them do the same.",
    ]
    with pytest.raises(ValueError, match="Choose what all of them are to follow"):
        replanning.work_out(made, coming)
    wishes = Wishes(hold="total", scales="weight")
    replanning.change(kit.run, coming, made, by=kit.cast.maker, wishes=wishes, clock=clock(hours(3)))
    after = replanning.to_come(kit.run)
    assert (after.alike, after.apart, replanning.wishes_of(after)) == (True, [], wishes)


def test_pots_planned_alike_are_said_to_be(kit):
    coming = replanning.to_come(kit.run)
    assert (coming.alike, coming.apart, coming.recipe) == (True, [], kit.version)


def test_what_was_to_be_weighed_once_is_weighed_once_again(kit):
    coming = replanning.to_come(kit.run)
    rust = next(each for each in changing.ingredients_of(kit.version) if each.dye_id == kit.rust.pk)
    worked = beginning.reckon(
        kit.version,
        [beginning.load_of(replanning._yarns(pot), None, None) for pot in coming.pots],
        promised_by_lot(without=coming.pots),
        None,
        wishes=Wishes(weigh_once=frozenset([rust.pk])),
    )
    plans = {
        pot: (planned.water_ml, [PlanLine(**line.facts()) for line in planned.lines])
        for pot, planned in zip(coming.pots, worked.pots, strict=True)
    }
    third = coming.pots[2]
    Batch.replan({pot: plans[pot] for pot in coming.pots[:2]}, recipe=kit.version, clock=clock(hours(1)))
    assert replanning.to_come(kit.run).dissolved == {"Rust": False}, "the third weighs its own"
    Batch.replan({third: plans[third]}, recipe=kit.version, clock=clock(hours(1)))
    assert replanning.to_come(kit.run).dissolved == {"Rust": True}
    less_rust(kit)
    lines = PlanLine.objects.filter(batch__run=kit.run, dye=kit.rust)
    assert len(lines) == 3 and all(line.pour_ml for line in lines)
    assert sum(line.told for line in lines) == Decimal("5.4")
    assert not PlanLine.objects.filter(batch__run=kit.run, dye=kit.teal, pour_ml__isnull=False).exists()


def test_another_version_is_taken_as_it_stands(kit):
    dye(kit, 1)
    other = changing.next_with(kit.version, {kit.teal.pk: Decimal(3)}, by=kit.cast.maker, now=hours(1))
    made = replanning.change(kit.run, replanning.to_come(kit.run), other, by=kit.cast.maker, clock=clock(hours(2)))
    assert made == other and told(kit, 2)["Teal"] == 3
    assert kit.version.colourway.recipes.count() == 2


def test_a_soak_and_water_begin_no_pot_and_are_not_asked_for_again(kit):
    for number in (1, 2, 3):
        soak, water = pot(kit, number).plan.filter(dye=None)
        StepDone.log(pot(kit, number), stamp(kit.cast.helper), kind="soak", plan_line=soak)
        builders.addition(kit.cast.helper, pot(kit, number), amount=2000, plan_line=water)
    dye(kit, 1)
    less_rust(kit)
    assert told(kit, 2) == {"Rust": Decimal("1.8"), "Teal": 1}
    assert [line.position for line in pot(kit, 2).plan.all()] == [3, 4]
    entries = list(Entry.objects.filter(batch__run=kit.run).with_struck().in_order().with_details())
    rows = {row.name: (row.done, row.of, row.planned) for row in plan_beside_log(kit.run, standing_of(entries))}
    assert rows["Soak"][:2] == (3, 3) and rows["Water"] == (3, 3, 6000)
    assert rows["Rust"] == (1, 3, Decimal("5.6"))


@pytest.mark.parametrize("what", ["dye", "teal first", "unplanned powder", "skipped"])
def test_a_pot_that_anything_went_into_keeps_its_plan(kit, what):
    second = pot(kit, 2)
    if what == "unplanned powder":
        builders.addition(kit.cast.helper, second, kit.powders[0], "0.1")
    elif what == "skipped":
        line = second.plan.get(dye=kit.teal)
        Entry.log_words(second, stamp(kit.cast.helper, words="Skipped."), plan_line=line)
    else:
        dye(kit, 2, "Rust" if what == "dye" else "Teal")
    assert [one.number for one in replanning.to_come(kit.run).pots] == [1, 3]
    less_rust(kit)
    assert told(kit, 2)["Rust"] == 2 and told(kit, 3)["Rust"] == Decimal("1.8")


def test_a_struck_addition_leaves_the_pot_to_come(kit):
    wrong = dye(kit, 2)
    Strike.log(pot(kit, 2), stamp(kit.cast.helper), target=wrong.pk)
    assert [one.number for one in replanning.to_come(kit.run).pots] == [1, 2, 3]


def test_pots_that_were_set_apart_on_purpose_stay_so(kit):
    Batch.objects.filter(pk=pot(kit, 3).pk).update(label="110 % of the red")
    coming = replanning.to_come(kit.run)
    assert ([one.number for one in coming.pots], [one.number for one in coming.keep]) == ([1, 2], [3])


def test_what_stands_weighed_is_said(kit):
    line = pot(kit, 2).plan.get(dye=kit.rust)
    Weighed.log(pot(kit, 2), stamp(kit.cast.helper), plan_line=line, amount=Decimal("1.99"))
    assert [(one.number, words.replace("\xa0", " ")) for one, words in replanning.to_come(kit.run).weighed] == [
        (2, "1.99 g Rust")
    ]
    less_rust(kit)
    assert replanning.to_come(kit.run).weighed == [], "it was weighed for the plan as it was"


def test_the_same_jars_are_taken_again_and_promised_once(kit):
    newer = builders.receive_powder(kit.cast.maker, kit.rust, at=hours(-500))  # planning would take the older one
    before = promised_by_lot()
    less_rust(kit)
    after = promised_by_lot()
    assert newer.pk not in after
    assert after[kit.powders[0].pk] == before[kit.powders[0].pk] - Decimal("0.6")


def test_what_these_pots_had_promised_is_free_for_their_new_plan(kit):
    """Of each powder there is just what their plan takes."""
    for powder, grams in zip(kit.powders, (6, 3), strict=True):
        builders.count(kit.cast.maker, powder, grams, at=hours(1))
    worked = replanning.work_out(kit.version, replanning.to_come(kit.run))
    assert worked.shortages == []
    assert [(total.told, total.free) for total in worked.totals] == [(6, 6), (3, 3)]


def test_a_later_day_is_changed_too_and_an_earlier_one_is_not(kit):
    cast = kit.cast
    yarn = builders.receive_yarn(cast.maker, skeins=4)
    of = {"colourway": kit.version.colourway, "recipe": kit.version}
    days = {}
    for name, after in (("earlier", -1), ("later", 1)):
        day = builders.DAY + timedelta(days=after)
        pots = [{"fibre_g": yarn.skein_g, "yarns": [builders.shelf_yarn(yarn, 1)]}]
        days[name] = Run.plan(by=cast.maker, day=day, pots=pots, day_one=kit.run, **of)
    coming = replanning.to_come(kit.run)
    assert coming.runs == [kit.run, days["later"]]
    assert coming.words == f"{kit.run.code} pots 1 to 3; {days['later'].code} pot 1"
    less_rust(kit)
    assert days["later"].batches.get().edition == 2 and days["earlier"].batches.get().edition == 1


def test_a_record_that_was_planned_anew_breaks_no_rule(kit):
    dye(kit, 1)
    less_rust(kit)
    rules = [checks.the_newest_writing_of_a_plan_counts, checks.a_pot_is_planned_from_its_own_colourway]
    assert [list(rule()) for rule in rules] == [[], []]


@settings(
    max_examples=5, deadline=None, phases=[Phase.generate], suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    sizes=st.lists(st.integers(1, 12), min_size=2, max_size=5),
    dyed=st.integers(0, 4),
    percent=st.integers(10, 300),
    grams=st.sampled_from([10, 50, 500]),
)
def test_parts_of_what_is_weighed_once_sum_to_the_whole_after_a_change_too(cast, studio, sizes, dyed, percent, grams):
    """What the dyed pots got, what the others are poured now, and what the jar held: nothing is lost between."""
    powder = builders.receive_powder(cast.maker, grams=grams)
    recipe = builders.recipe(cast.maker, None, [(powder.dye, "0.5", Basis.OWF)])
    (line,) = ingredients_of(with_steps(recipe))
    yarn = builders.receive_yarn(cast.maker, skeins=sum(sizes))
    wanted = [(Yarn.of_lot(Lot.objects.with_on_hand().get(pk=yarn.pk)), sum(sizes))]
    wishes = Wishes(weigh_once=frozenset([line.pk]))
    worked, pots = beginning.work_out(recipe, wanted, [None] * len(sizes), wishes=wishes, sizes=sizes)
    run = beginning.from_recipe(recipe, worked, pots, by=cast.maker, day=builders.DAY, clock=clock())
    run.start(by=cast.maker, clock=clock())
    sums_to_the_whole(PlanLine.objects.filter(batch__run=run), worked.once)

    first = list(run.batches.order_by("number"))[: min(dyed, len(sizes) - 1)]
    for one in first:
        builders.addition(cast.maker, one, powder, one.plan.get().told, plan_line=one.plan.get())
    used = sum(one.plan.get().told for one in first)
    coming = replanning.to_come(run)
    assert coming.dissolved == ({str(powder.dye): True} if worked.once else {}), "said before anything is changed"
    left = PlanLine.objects.filter(batch__in=coming.pots)
    assert used + sum(line.told for line in left) == sum(pot.lines[0].told for pot in worked.pots)

    times = {powder.dye_id: replanning.factor_of(percent)}
    again = replanning.work_out(recipe, coming, times)
    need, free = sum(pot.lines[0].told for pot in again.pots), max(Decimal(grams) - used, 0)
    assert [short.short for short in again.shortages] == ([need - free] if need > free else [])
    replanning.change(run, coming, recipe, by=cast.maker, times=times, why="As it came out.", clock=clock(hours(1)))
    assert sum(line.told for line in left.all()) == need
    assert promised_by_lot().get(powder.pk, 0) == (need if free else 0), "an empty jar promises nothing: it is short"
    assert all(one.plan.get().edition == 1 for one in first), "the dyed ones keep their share"
    sums_to_the_whole(left.all(), again.once)


def sums_to_the_whole(lines, once):
    """The shares of what is weighed once are all of it; with nothing weighed once, none is poured."""
    lines = list(lines)
    if not once:
        assert not any(line.pour_ml for line in lines)
        return
    (one,) = once
    assert one.chosen and sum(line.told for line in lines) == one.told
    assert sum(line.pour_ml for line in lines) == one.volume_ml


# Two people at once


def test_a_pot_that_was_begun_meanwhile_stops_the_change_whole(kit):
    coming = replanning.to_come(kit.run)
    dye(kit, 2)
    with pytest.raises(ValueError, match="Pot 2 was begun meanwhile"):
        replanning.change(
            kit.run, coming, kit.version, by=kit.cast.maker, times={kit.rust.pk: Decimal("0.9")}, why="Too red."
        )
    assert kit.version.colourway.recipes.count() == 1 and told(kit, 3)["Rust"] == 2


def test_a_plan_that_was_written_anew_meanwhile_stops_the_change_whole(kit):
    coming = replanning.to_come(kit.run)
    first = less_rust(kit)
    with pytest.raises(ValueError, match="Pot 1 was planned anew meanwhile"):
        less_rust(kit, 50, coming=coming)
    assert kit.version.colourway.recipes.count() == 2 and told(kit, 3)["Rust"] == Decimal("1.8")
    assert set(kit.run.batches.values_list("recipe", "edition")) == {(first.pk, 2)}


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one write at a time")
@pytest.mark.django_db(transaction=True)
def test_of_two_who_change_the_same_plan_at_once_one_is_told():
    cast = builders.make_cast()
    for number in range(4):
        kit = make_kit(cast, f" {number}")
        coming = [replanning.to_come(kit.run) for _ in range(2)]
        asked = [partial(less_rust, kit, *pair) for pair in zip((90, 50), coming, strict=True)]
        (raised,) = builders.at_once(*asked)
        assert isinstance(raised, ValueError) and "planned anew meanwhile" in str(raised)
        assert kit.version.colourway.recipes.count() == 2 and set(kit.run.batches.values_list("edition")) == {(2,)}


def test_a_change_of_a_changed_plan_is_the_third_writing(kit):
    made = less_rust(kit)
    coming = replanning.to_come(kit.run)
    replanning.change(kit.run, coming, made, by=kit.cast.maker, times={kit.rust.pk: Decimal("0.5")}, why="Still.")
    assert told(kit, 1)["Rust"] == Decimal("0.9") and pot(kit, 1).edition == 3


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one write at a time")
@pytest.mark.django_db(transaction=True)
def test_a_jar_dyed_while_its_plan_is_changed_is_one_or_the_other():
    cast = builders.make_cast()
    for number in range(6):
        kit = make_kit(cast, f" {number}")
        coming = replanning.to_come(kit.run)  # read before: who reads after the dyeing leaves that jar alone
        verbs = [partial(dye, kit, 2, kit.rust.name), partial(less_rust, kit, coming=coming)]
        raised = builders.at_once(*verbs)
        assert all(isinstance(why, ValueError) for why in raised), raised
        changed = pot(kit, 2).edition == 2
        assert changed != bool(raised), "begun first, it keeps its plan; changed first, what went in names the old one"


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite locks the whole of it")
def test_who_writes_a_version_for_a_run_locks_the_run_before_the_colourway(kit):
    dye(kit, 1)
    by = {"by": kit.cast.maker, "now": hours(3)}
    verbs = [
        lambda: less_rust(kit),
        lambda: capture.keep(capture.draft_of(kit.run), **by),
        lambda: next_time.put_in_next(
            next_time.Note(kit.run, "Less."),
            lambda: kit.version.colourway.next_version(fibre_g=Decimal(100), **by),
            **by,
        ),
    ]
    for verb in verbs:
        with CaptureQueriesContext(connection) as asked:
            verb()
        locked = [query["sql"].split('FROM "')[1].split('"')[0] for query in asked if "FOR NO KEY" in query["sql"]]
        assert [table for table in locked if table in ("batches_run", "recipes_colourway")][0] == "batches_run"


# A phone that had not heard of it


def tick(kit, line, **said):
    data = {"kind": "tick", "id": str(uuid4()), "line": line.pk, "pots": "all"} | said
    return intake.take(data, {}, batch=Batch.objects.get(pk=line.batch_id), person=kit.cast.helper)


def test_a_tick_of_the_old_plan_says_what_really_went_in(kit):
    old = pot(kit, 2).plan.get(dye=kit.rust)
    less_rust(kit)
    assert tick(kit, old, pots="this").state == "saved"
    added = Entry.objects.get(kind="addition")
    assert (added.addition.amount, added.plan_line.edition, added.plan_line.told) == (2, 2, Decimal("1.8"))
    assert pot(kit, 2).plan.with_done().get(dye=kit.rust).done, "it is not asked for again"


def test_a_tick_of_the_old_plan_reaches_all_its_pots_once(kit):
    old = pot(kit, 1).plan.get(dye=kit.rust)
    less_rust(kit)
    assert tick(kit, old).state == "saved"
    assert [one.addition.amount for one in Entry.objects.filter(kind="addition")] == [2, 2, 2]
    assert tick(kit, old).state == "wrong"


def test_a_tick_of_what_the_new_plan_left_out_is_kept_all_the_same(kit):
    old = pot(kit, 2).plan.get(dye=kit.teal)
    times = {kit.teal.pk: Decimal(0)}
    less_rust(kit, times=times, why="Less blue.")
    assert "Teal" not in told(kit, 2)
    assert tick(kit, old, pots="this").state == "saved"
    assert Entry.objects.get(kind="addition").plan_line == old


# The next version


def test_a_version_without_any_dye_is_refused(kit):
    with pytest.raises(ValueError, match="No dye would be left"):
        changing.next_with(
            kit.version, {kit.rust.pk: Decimal(0), kit.teal.pk: Decimal(0)}, by=kit.cast.maker, now=hours(1)
        )
    assert kit.version.colourway.recipes.count() == 1


def test_the_next_version_keeps_all_else_and_its_bases(kit):
    base = builders.make_base("Wren")
    Batch.objects.filter(run=kit.run).update(recipe=None)
    version = builders.recipe(kit.cast.maker, None, [(kit.rust, 2, Basis.OWF)], skeins=3, liquor_ratio=12)
    version.bases.set([base])
    made = changing.next_with(version, {kit.rust.pk: Decimal("1.5")}, by=kit.cast.maker, now=hours(1))
    kept = ("method", "scales", "skeins", "fibre_g", "pots", "liquor_ratio")
    assert [getattr(made, name) for name in kept] == [getattr(version, name) for name in kept]
    assert list(made.bases.all()) == [base]


@pytest.mark.parametrize(
    ("factor", "words"),
    [("0.9", "10 % less Rust"), ("1.15", "15 % more Rust"), ("2.5", "2.5 times the Rust"), ("0", "no Rust")],
)
def test_a_change_in_words(factor, words):
    assert replanning.change_words("Rust", Decimal(factor)).replace("\xa0", " ") == words


@given(st.integers(1, 500))
def test_a_percentage_there_and_back_is_the_same(percent):
    assert Decimal(7) * replanning.factor_of(percent) * 100 / percent == Decimal(7)


def test_what_comes_from_two_lots_comes_from_both_again(kit):
    by, jar = kit.cast.maker, kit.powders[0]
    more = builders.receive_powder(by, kit.rust, grams=50, at=hours(1))
    builders.count(by, jar, 9, at=hours(1), recorded_at=hours(1))  # 6 g of it are promised to the jars of the kit
    yarn = Yarn.of_lot(Lot.objects.named().with_on_hand().get(base__isnull=False))
    key = next(each.pk for each in ingredients_of(with_steps(kit.version)) if each.dye_id == kit.rust.pk)
    loads, wishes = [beginning.load_of([(yarn, 1)], None)] * 3, Wishes(rest={key: more.pk})
    worked = beginning.reckon(kit.version, loads, promised_by_lot(), {key: jar.pk}, wishes=wishes)
    run = beginning.from_recipe(kit.version, worked, [[(yarn, 1)]] * 3, by=by, day=builders.DAY, clock=clock(hours(2)))
    again = replanning.work_out(kit.version, replanning.to_come(run))
    lines = [line for pot in again.pots for line in pot.lines if line.substance == kit.rust]
    assert [(line.lot.pk, line.told) for line in lines] == [(jar.pk, 1), (more.pk, 1)] * 3
