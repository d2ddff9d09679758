"""Samples in a row: shares, depths, skeins pulled in turn, and how strong a powder lot is."""

from decimal import Decimal
from types import SimpleNamespace

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from batches import beginning, depth, series, side_by_side, strength, verdicts
from batches.models import Finish, Strike
from batches.samples import samples_of
from batches.yarns import Yarn
from recipes.models import Basis, How, Ingredient, RecipeStep
from studio.models import Lot, Tool
from tests import builders as build

D = Decimal


@pytest.fixture
def kit(cast):
    """A version of 0.6 % brick and 0.2 % ochre on 400 g in two pots, with acid for each pot, heat and a rinse."""
    maker = cast.maker
    brick, ochre = build.make_dye("Brick"), build.make_dye("Ochre")
    acid = build.receive_assistant(maker)
    way = build.colourway(maker, "Low tide")
    version = way.next_version(by=maker, now=build.NOON, fibre_g=D(400), pots=2, skeins=4)
    kind = RecipeStep.Kind
    version.write(
        [
            (RecipeStep(), [Ingredient(water=True, amount=20, basis=Basis.RATIO, unit=":1")]),
            (RecipeStep(), [build.ingredient(brick, "0.6"), build.ingredient(ochre, "0.2")]),
            (RecipeStep(), [build.ingredient(acid.assistant, 20, Basis.PER_POT, unit="mL")]),
            (RecipeStep(kind=kind.HEAT, temperature_c=85), []),
            (RecipeStep(kind=kind.HOLD, minutes=30), []),
            (RecipeStep(kind=kind.RINSE), []),
        ]
    )
    lots = [build.receive_powder(maker, dye, number=f"{dye.name[0]}-1") for dye in (brick, ochre)]
    build.make_tool("Fine scale", "scale", "0.001", largest=200)
    yarn = build.receive_yarn(maker, build.make_base("Sparrow"), skeins=12)
    return SimpleNamespace(
        by=maker, way=way, version=version, brick=brick, ochre=ochre, lots=lots, yarn=yarn, acid=acid.assistant
    )


def now(lot):
    return Lot.objects.with_facts().with_on_hand().select_related("dye", "base").get(pk=lot.pk)


def minis(kit, grams=10):
    return Yarn.of_lot(now(kit.yarn)).in_samples(D(grams))


def grams(pot):
    """{dye's name: g at standard strength} of a pot."""
    return {dye.name: g for line in pot.lines for dye, g in line.dyes}


def bases(pot):
    """{name: how its line follows the yarn, in words} of a pot's lines that are no steps."""
    return {str(line.substance or "water"): line.basis.replace("\xa0", " ") for line in pot.lines if line.basis}


# --- shares and depths


def test_each_line_says_what_this_sample_asks_for(kit):
    """The version's own depth times a factor, or an amount for each pot of 200 g, is nothing to check by hand."""
    samples = series.family_of(kit.version, steps=5, total_pct=D("0.8"))
    worked, _ = series.work_out(kit.version, samples, minis(kit))
    acid = {str(kit.acid): "20 mL for each 200 g of yarn"}
    assert bases(worked.pots[1]) == {"water": "20:1", "Brick": "0.6 % owf", "Ochre": "0.2 % owf"} | acid
    assert bases(worked.pots[2]) == {"water": "20:1", "Brick": "0.4 % owf", "Ochre": "0.4 % owf"} | acid
    weak = build.make_base("Moor", fibres=[("wool", 100)], dye_factor_pct=D(90))
    yarn = Yarn.of_lot(now(build.receive_yarn(kit.by, weak, skeins=2))).in_samples(D(10))
    worked, _ = series.work_out(kit.version, samples, yarn)
    assert bases(worked.pots[2])["Brick"] == "0.4 % owf, \xd7 0.9"


def test_each_line_of_a_ladder_says_its_percent(kit):
    weak = build.receive_powder(kit.by, kit.brick, number="B-2", strength_pct=D(85), at=build.hours(1))
    rungs = strength.rungs_of(kit.version, now(weak), [D(100), D(110)])
    chosen = strength.taking(kit.version, now(weak))
    worked, _ = series.work_out(kit.version, rungs, minis(kit), chosen=chosen)
    assert [bases(pot)["Brick"] for pot in worked.pots] == ["100 % of 0.6 % owf", "110 % of 0.6 % owf"]
    assert [bases(pot)["Ochre"] for pot in worked.pots] == ["0.2 % owf"] * 2
    assert [line.exact for pot in worked.pots for line in pot.lines if line.substance == kit.brick] == [
        D("0.06"),
        D("0.066"),
    ]


def test_what_is_for_each_skein_or_all_is_said_by_weight_of_a_sample(kit):
    acid = [build.ingredient(kit.acid, 5, basis, unit="mL") for basis in (Basis.PER_SKEIN, Basis.FIXED)]
    kit.version.write([(RecipeStep(), [build.ingredient(kit.brick, "0.6")]), *((RecipeStep(), [one]) for one in acid)])
    worked, _ = series.work_out(kit.version, [series.Sample("one")], minis(kit))
    said = [line.basis.replace("\xa0", " ") for line in worked.pots[0].lines if line.substance == kit.acid]
    assert said == ["5 mL for each 100 g of yarn", "5 mL for each 400 g of yarn"]
    assert [line.exact for line in worked.pots[0].lines if line.substance == kit.acid] == [D("0.5"), D("0.125")]


def test_a_family_of_two_dyes_is_as_deep_everywhere(kit):
    samples = series.family_of(kit.version, steps=5, total_pct=D("0.8"))
    worked, pots = series.work_out(kit.version, samples, minis(kit))
    assert [pot.load.label for pot in worked.pots] == [
        "Brick alone",
        "75\xa0%\xa0Brick, 25\xa0%\xa0Ochre",
        "50\xa0%\xa0Brick, 50\xa0%\xa0Ochre",
        "25\xa0%\xa0Brick, 75\xa0%\xa0Ochre",
        "Ochre alone",
    ]
    assert [grams(pot) for pot in worked.pots] == [
        {"Brick": D("0.08")},
        {"Brick": D("0.06"), "Ochre": D("0.02")},
        {"Brick": D("0.04"), "Ochre": D("0.04")},
        {"Brick": D("0.02"), "Ochre": D("0.06")},
        {"Ochre": D("0.08")},
    ]
    assert {pot.depth_pct for pot in worked.pots} == {D("0.8")}
    assert [[(yarn.skein_g, n) for yarn, n in pot] for pot in pots] == [[(10, 1)]] * 5


def test_a_sample_gets_its_part_of_the_acid_and_its_own_water(kit):
    worked, _ = series.work_out(kit.version, series.steps_of_depth(kit.version, [1]), minis(kit))
    (pot,) = worked.pots
    acid = next(line for line in pot.lines if line.substance == kit.acid)
    assert (acid.exact, pot.water_ml) == (1, 200)  # 20 mL for a pot of 200 g; 20:1


def test_three_dyes_by_thirds(kit):
    third = build.make_dye("Soot")
    recipe = build.recipe(kit.by, lines=[(kit.brick, 1, Basis.OWF), (kit.ochre, 1, Basis.OWF), (third, 1, Basis.OWF)])
    samples = series.family_of(recipe, steps=3, total_pct=2)
    worked, _ = series.work_out(recipe, samples, minis(kit))
    assert len(worked.pots) == 10 and samples[4].label == "33.3\xa0%\xa0Brick, 33.3\xa0%\xa0Ochre, 33.3\xa0%\xa0Soot"
    assert all(abs(pot.depth_pct - 2) < D("1e-8") for pot in worked.pots)


def test_depths_keep_the_versions_own_shares(kit):
    samples = series.steps_of_depth(kit.version, [D("0.2"), D("0.4"), D("1.6")])
    worked, _ = series.work_out(kit.version, samples, minis(kit, 20))
    assert [pot.depth_pct for pot in worked.pots] == [D("0.2"), D("0.4"), D("1.6")]
    assert [grams(pot)["Brick"] / grams(pot)["Ochre"] for pot in worked.pots] == [3, 3, 3]
    assert worked.pots[0].load.label == "0.2\xa0% owf"


def test_a_label_of_long_names_says_the_shares(kit):
    long = [build.make_dye(f"{'Brick of the old kiln by the river ' * 2}{n}"[:80]) for n in range(2)]
    assert series.share_label([D("0.25"), D("0.75")], long) == "25\xa0% : 75\xa0%"
    assert len(series.share_label([1, 0], long)) <= series.LONGEST_LABEL


@pytest.mark.parametrize("dyes", [1, 4])
def test_a_family_is_of_two_or_three(kit, dyes):
    recipe = build.recipe(kit.by, lines=[(build.make_dye(), 1, Basis.OWF) for _ in range(dyes)])
    with pytest.raises(ValueError, match=f"two or three dyes, and this version has {dyes}"):
        series.family_of(recipe, steps=5, total_pct=1)


def test_what_goes_in_by_eye_is_asked_for_first(kit):
    recipe = kit.way.next_version(by=kit.by, now=build.NOON, fibre_g=100)
    recipe.write([(RecipeStep(), [Ingredient(dye=kit.brick, basis=Basis.PER_POT, unit="g", how=How.SPRINKLED)])])
    with pytest.raises(ValueError, match="Brick goes in by eye"):
        series.depths_in(recipe)
    with pytest.raises(ValueError, match="no dye in this version"):
        series.depths_in(build.recipe(kit.by, lines=[(kit.acid, 1, Basis.OWF)]))


# --- skeins pulled in turn


def test_one_pot_gets_more_dye_as_skeins_leave_it(kit):
    worked, pots = series.pull_in_turn(kit.version, [D("0.4"), D("0.8"), D("1.6")], minis(kit, 20))
    (pot,) = worked.pots
    # By hand, all dyes: 60 g x 0.4 % = 0.24; 40 g x 0.4 % = 0.16; 20 g x 0.8 % = 0.16. Brick is three quarters.
    assert [line.dye_g for line in pot.lines if line.substance == kit.brick] == [D("0.18"), D("0.12"), D("0.12")]
    assert [line.words.split(",")[0] for line in pot.lines if line.words] == [
        "Take skein 1 out",
        "Take skein 2 out",
        "Take skein 3 out",
    ]
    assert [line.step for line in pot.lines][-2:] == ["other", "rinse"]
    assert [line.step for line in pot.lines].count("hold") == 3
    assert [line.position for line in pot.lines] == list(range(1, len(pot.lines) + 1))
    assert [(yarn.skein_g, skeins) for yarn, skeins in pots[0]] == [(20, 3)]


def test_water_and_acid_go_in_once_and_so_stand_once_in_the_totals(kit):
    worked, _ = series.pull_in_turn(kit.version, [D("0.4"), D("0.8")], minis(kit, 20))
    acid = next(total for total in worked.totals if total.substance == kit.acid)
    assert acid.exact == 4  # 20 mL for 200 g, on 40 g
    assert [line.substance for line in worked.pots[0].lines].count(kit.acid) == 1
    brick = next(total for total in worked.totals if total.substance == kit.brick)
    assert brick.exact == D("0.18")  # three quarters of 20 g x 0.4 % + 20 g x 0.8 %


def test_a_kept_series_is_a_run_whose_pots_have_labels(kit):
    worked, pots = series.work_out(kit.version, series.steps_of_depth(kit.version, [D("0.4"), 1]), minis(kit))
    run = beginning.from_recipe(kit.version, worked, pots, by=kit.by, day=build.DAY)
    assert [(batch.label, batch.fibre_g, batch.recipe) for batch in run.batches.order_by("number")] == [
        ("0.4\xa0% owf", 10, kit.version),
        ("1\xa0% owf", 10, kit.version),
    ]
    run.start(by=kit.by)
    assert build.on_hand(kit.yarn) == 1180
    assert samples_of(run, list(run.batches.order_by("number")), [])[0].segments


# --- how strong a lot is


def ladder(kit, lot, percents=(100, 110, 120), recipe=None):
    recipe = recipe or kit.version
    percents = [D(each) for each in percents]
    samples = strength.rungs_of(recipe, now(lot), percents)
    worked, pots = series.work_out(recipe, samples, minis(kit), chosen=strength.taking(recipe, now(lot)))
    return worked, strength.begin_ladder(recipe, worked, pots, percents, now(lot), by=kit.by, day=build.DAY)


@pytest.fixture
def new(kit):
    """A new lot of brick that a letter calls 85 % strong; the old one is still there, and older."""
    return build.receive_powder(kit.by, kit.brick, at=build.hours(5), number="B-2", strength_pct=D(85))


def test_a_ladder_takes_the_new_lot_for_100_percent_strong(kit, new):
    worked, run = ladder(kit, new)
    found = [line for pot in worked.pots for line in pot.lines if line.substance == kit.brick]
    assert {line.lot for line in found} == {new}
    assert [line.exact for line in found] == [D("0.06"), D("0.066"), D("0.072")]
    others = [line.exact for pot in worked.pots for line in pot.lines if line.substance == kit.ochre]
    assert others == [D("0.02")] * 3
    assert [batch.label for batch in run.batches.order_by("number")] == [
        "100\xa0% of the Brick",
        "110\xa0% of the Brick",
        "120\xa0% of the Brick",
    ]
    assert [(rung.pct, rung.batch.number) for rung in run.strength_test.rungs.all()] == [(100, 1), (110, 2), (120, 3)]
    assert run.strength_test.before_pct == 85


def test_samples_that_no_scale_can_tell_apart_are_said(kit, new):
    worked, _ = ladder(kit, new)
    percents = [D(100), D(110), D(120)]
    assert strength.not_told_apart(worked, percents, kit.brick) == ""
    Tool.objects.update(step=D("0.01"))
    worked, _ = ladder(kit, new)
    said = strength.not_told_apart(worked, percents, kit.brick).replace("\xa0", " ")
    assert "to tell these samples apart: 0.06 g, 0.07 g, 0.07 g." in said


def test_a_bottle_made_of_the_lot_alone_stands_for_it(kit, new):
    recipe = build.colourway(kit.by).next_version(by=kit.by, now=build.NOON, fibre_g=100)
    line = Ingredient(dye=kit.brick, amount=1, unit="%", basis=Basis.OWF, strength_pct=1, how=How.BOTTLE)
    recipe.write([(RecipeStep(), [line])])
    master = build.make_solution("Brick 1 %", [(kit.brick, 1)])
    build.bottle(kit.by, [(kit.lots[0], D(5))], volume=500, solution=master)
    build.bottle(kit.by, [(kit.lots[0], D(2)), (new, D(3))], volume=500, solution=master)
    own = build.bottle(kit.by, [(new, D(5))], volume=500, solution=master)
    worked, _ = ladder(kit, new, recipe=recipe)
    assert {line.lot for pot in worked.pots for line in pot.lines} == {own}
    assert [pot.lines[0].exact for pot in worked.pots] == [10, 11, 12]  # mL of 1 % on 10 g, as if it were 100 % strong


def test_a_lot_that_is_not_in_the_version_is_said(kit):
    other = build.receive_powder(kit.by, build.make_dye("Soot"))
    with pytest.raises(ValueError, match="has no line of Soot"):
        strength.rungs_of(kit.version, now(other), [100])


@pytest.fixture
def test(kit, new):
    return dyed(kit, ladder(kit, new)[1])


def dyed(kit, run):
    """The test of a run, the first of whose samples got its dye."""
    run.start(by=kit.by)
    line = run.batches.first().plan.get(dye=kit.brick)
    build.addition(kit.by, line.batch, line.lot, line.told, plan_line=line)
    return run.strength_test


def rung(test, pct):
    return test.rungs.get(pct=pct)


def test_the_match_corrects_the_lot(kit, new, test):
    said = test.say(by=kit.by, low=rung(test, 110))
    assert now(new).strength_now == D("90.909")
    assert (said.words, said.correction.why) == ("110\xa0% matches", f"Test {test.run.code}: 110\xa0% matches.")
    # and 1 g of the standard is then 1.10 g of this lot, within what a lot's strength is kept to
    samples, chosen = series.steps_of_depth(kit.version, [D("0.8")]), strength.taking(kit.version, new)
    worked, _ = series.work_out(kit.version, samples, minis(kit), chosen=chosen)
    brick = next(line for line in worked.pots[0].lines if line.substance == kit.brick)
    assert round(brick.exact, 5) == D("0.066")


def test_the_sample_that_matched_counts_as_the_standards_depth(kit, new, test):
    batch = rung(test, 110).batch
    line = batch.plan.get(dye=kit.brick)
    build.addition(kit.by, batch, new, line.told)
    test.say(by=kit.by, low=rung(test, 110))
    assert round(depth.fed_of_batches([batch])[batch.pk][0].grams, 4) == D("0.06")


def test_between_two_is_the_middle_of_them(kit, new, test):
    test.say(by=kit.by, low=rung(test, 110), high=rung(test, 120))
    assert now(new).strength_now == D("86.957")  # 100 / 1.15


def test_none_matches_leaves_the_strength_and_may_note_a_hue(kit, new, test):
    assert test.say(by=kit.by).correction is None
    test.say(by=kit.by, hue="bluer")
    assert (now(new).strength_now, now(new).hue_now) == (85, "bluer")


def test_said_again_the_newest_counts_and_none_puts_it_back(kit, new, test):
    test.say(by=kit.by, low=rung(test, 110))
    test.say(by=kit.by, low=rung(test, 120), hue="duller")
    assert (round(now(new).strength_now, 1), now(new).hue_now) == (D("83.3"), "duller")
    test.say(by=kit.by)
    assert now(new).strength_now == 85
    assert test.matches.count() == 3 and new.corrections.count() == 3


def test_samples_that_were_not_dyed_match_nothing(kit, new):
    _, run = ladder(kit, new)
    test = run.strength_test
    for _ in ("planned", "started"):
        with pytest.raises(ValueError, match="No dye went into these samples yet"):
            test.say(by=kit.by, low=rung(test, 110))
        run.start(by=kit.by)
    assert not new.corrections.exists() and not strength.test_of(run)["dyed"]


def test_a_match_that_no_powder_could_be_is_said(kit, new):
    test = dyed(kit, ladder(kit, new, percents=(20, 100))[1])
    with pytest.raises(ValueError, match="more than 400 % strong"):
        test.say(by=kit.by, low=rung(test, 20))


def test_it_stands_beside_the_run_that_was_judged_the_colour_to_match(kit, new):
    lot = build.receive_yarn(kit.by)
    runs = [
        build.run_with_pots(kit.by, lot, pots=1, colourway=kit.way, recipe=kit.version, at=build.hours(place))
        for place in range(2)
    ]
    for run, verdict, snippet in zip(runs, ("standard", "as_good"), ("drawer 2", "drawer 3"), strict=True):
        build.finish(kit.by, run.batches.get(), verdict=verdict, snippet=snippet)
    _, run = ladder(kit, new)
    assert run.strength_test.beside == runs[0]
    assert strength.test_of(run)["kept"] == "drawer 2"
    assert verdicts.to_match(kit.way) == runs[0].batches.get()


def a_run(kit, day=0, pots=1):
    run = build.run_with_pots(
        kit.by, build.receive_yarn(kit.by), pots=pots, colourway=kit.way, recipe=kit.version, at=build.hours(24 * day)
    )
    return run, list(run.batches.order_by("number"))


def say(kit, pot, hour, **words):
    return Finish.log(pot, build.stamp(kit.by, build.hours(hour)), outputs=[], **words)


def test_a_run_that_was_judged_otherwise_since_is_not_the_colour_to_match(kit):
    _, (pot,) = a_run(kit)
    build.finish(kit.by, pot, build.hours(1), verdict="standard", snippet="drawer 2")
    say(kit, pot, 2, verdict="never")
    assert verdicts.to_match(kit.way) is None
    say(kit, pot, 3, verdict="standard")
    assert verdicts.to_match(kit.way) == pot
    say(kit, pot, 4, verdict="", next_time="Less acid.")  # taken back
    assert verdicts.to_match(kit.way) is None


def test_the_colour_to_match_is_what_was_said_to_be_it_last_whenever_it_was_dyed(kit):
    (_, (spring,)), (_, (autumn,)) = a_run(kit), a_run(kit, day=100)
    build.finish(kit.by, autumn, build.hours(2500), verdict="standard")
    build.finish(kit.by, spring, build.hours(2600), verdict="standard")
    assert verdicts.to_match(kit.way) == spring
    pair, _, _ = side_by_side.choose(kit.way, [])
    assert pair == [spring, autumn]
    assert side_by_side.choose(kit.way, [autumn.pk, spring.pk])[0] == [spring, autumn]
    say(kit, autumn, 2700, verdict="standard")
    assert verdicts.to_match(kit.way) == autumn
    assert side_by_side.choose(kit.way, [])[0] == [autumn, spring]


def test_of_several_pots_the_first_that_is_the_colour_to_match(kit):
    run, pots = a_run(kit, pots=3)
    for hour, (pot, verdict) in enumerate(zip(pots, ("never", "standard", "standard"), strict=True), 1):
        build.finish(kit.by, pot, build.hours(hour), verdict=verdict, snippet=f"drawer {pot.number}")
    assert verdicts.to_match(kit.way) == pots[1] == verdicts.of_run(run)


def test_the_snippet_is_that_of_the_pot_to_match(kit, new):
    _, pots = a_run(kit, pots=2)
    build.finish(kit.by, pots[0], build.hours(1), verdict="standard", snippet="drawer 2")
    build.finish(kit.by, pots[1], build.hours(2), verdict="never", snippet="drawer 3")
    _, run = ladder(kit, new)
    test = strength.test_of(run)
    assert (test["beside"], test["kept"]) == (pots[0], "drawer 2")
    moved = say(kit, pots[0], 3, verdict="standard", snippet="tin")
    assert strength.test_of(run)["kept"] == "tin"
    Strike.log(pots[0], build.stamp(kit.by, build.hours(4)), target=moved.pk)
    assert strength.test_of(run)["kept"] == "drawer 2"


def test_queries_do_not_grow_with_the_samples(kit, new):
    asked(kit, 2)  # what is asked once of a version is known from here on
    few = asked(kit, 3)
    assert asked(kit, 12) == few


def asked(kit, steps):
    samples = series.family_of(kit.version, steps=steps, total_pct=1)
    with CaptureQueriesContext(connection) as context:
        series.work_out(kit.version, samples, minis(kit))
    return len(context)


def test_a_runs_samples_take_as_many_queries_for_ten_as_for_two(kit):
    def asked_of_a_run(steps):
        samples = series.family_of(kit.version, steps=steps, total_pct=1)
        worked, pots = series.work_out(kit.version, samples, minis(kit))
        run = beginning.from_recipe(kit.version, worked, pots, by=kit.by, day=build.DAY)
        batches = list(run.batches.all())
        with CaptureQueriesContext(connection) as context:
            assert len(samples_of(run, batches, [])) == steps
        return len(context)

    assert asked_of_a_run(10) == asked_of_a_run(2)
