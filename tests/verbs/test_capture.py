"""A log becomes a recipe version: what is said of each thing that can be in a log."""

from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from batches import capture
from batches.capture import ALL, Answers
from batches.capture_words import asked_words
from batches.models import (
    Addition,
    Captured,
    Check,
    Entry,
    Finish,
    Move,
    PlanLine,
    Reading,
    Run,
    StepDone,
    Strike,
    Timer,
    TimerEnded,
)
from batches.side_by_side import side_by_side
from recipes.meaning import basis_words
from recipes.models import Basis, HouseStep, Ingredient, Recipe, RecipeStep
from recipes.offers import lots_for
from recipes.planning import plan
from recipes.plans import Load, Wishes
from recipes.writing import Facts, Shelf, as_text, understand
from studio.models import Measure, MeasureWeighing, Studio
from tests import builders as build
from tests.builders import hours, stamp

D = Decimal


@pytest.fixture
def way(cast):
    return build.colourway(cast.maker, "Low tide")


@pytest.fixture
def red(cast):
    return build.receive_powder(cast.maker, build.make_dye("Rust"))


def started(by, way, pots=1, **facts):
    return build.run_with_pots(by, pots=pots, skeins=1, colourway=way, **facts)


def pots_of(run):
    return list(run.batches.order_by("number"))


def kept(run, by, answers=None, pot=None, **facts):
    version = capture.keep(capture.draft_of(run, pot), answers, by=by, now=hours(9), **facts)
    return Recipe.objects.get(pk=version.pk)


def said(recipe):
    """What a version says, line by line."""
    found = []
    for step in recipe.steps.all():
        if step.words or step.kind != RecipeStep.Kind.ADD:
            found.append(step.words or f"{step.kind} {step.temperature_c} {step.minutes}")
        found += [f"{each.name}: {basis_words(each)}".replace("\u00a0", " ") for each in step.ingredients.all()]
    return found


# --- amounts


def test_powder_counts_by_its_strength_on_the_weight_of_fibre(cast, way):
    weak = build.receive_powder(cast.maker, build.make_dye("Rust"), strength_pct=D(85))
    run = started(cast.maker, way)
    build.addition(cast.maker, run.batches.get(), weak, 10, how="dissolved")
    recipe = kept(run, cast.maker)
    (line,) = recipe.steps.get().ingredients.all()
    assert (line.amount, line.basis, line.how, line.estimated) == (D("8.5"), "owf", "dissolved", False)  # of 100 g
    assert (recipe.fibre_g, recipe.skeins, recipe.pots, recipe.scales) == (100, 1, 1, "weight")
    assert "Counted at the studio's standard strength: Rust of a lot of 85" in recipe.note


def test_a_depth_keeps_six_decimals(cast, way, red):
    run = build.run_with_pots(cast.maker, pots=1, skeins=3, colourway=way)  # 300 g
    build.addition(cast.maker, run.batches.get(), red, "0.1")
    assert kept(run, cast.maker).steps.get().ingredients.get().amount == D("0.033333")


def test_a_bottle_keeps_the_strength_of_that_day(cast, way, red):
    lot = build.bottle(cast.maker, [(red, D("4.87"))], volume=500)
    run = started(cast.maker, way)
    build.addition(cast.maker, run.batches.get(), lot, 50, how="bottle")
    line = kept(run, cast.maker).steps.get().ingredients.get()
    assert (line.dye, line.strength_pct, line.amount) == (red.dye, D("0.974"), D("0.487"))


def test_a_mix_and_a_kept_liquor_stay_bottles_and_what_is_unknown_is_said(cast, way, red):
    other = build.receive_powder(cast.maker)
    master = build.make_solution(parts=[(red.dye, "0.666667"), (other.dye, "0.333333")])
    mix = build.bottle(cast.maker, [(red, 2), (other, 1)], volume=300, solution=master)
    liquor = build.bottle(cast.maker, [], volume=900, solution=build.make_solution("Evening pot", kind="liquor"))
    run = started(cast.maker, way)
    build.addition(cast.maker, run.batches.get(), mix, 30)
    build.addition(cast.maker, run.batches.get(), liquor, 100, at=hours(1))
    recipe = kept(run, cast.maker)
    assert [line.split(":")[1] for line in said(recipe)] == [" 30 mL for each 100 g", " 100 mL for each 100 g"]
    assert "What is in it is not known: Evening pot." in recipe.note and "Carry-over unknown" in recipe.note


def test_a_bottle_of_dissolved_acid_is_the_acid(cast, way, red):
    acid = build.receive_assistant(cast.maker, build.make_assistant("Citric acid", unit="g"))
    bottle = build.bottle(
        cast.maker, [(acid, 50)], volume=500, solution=build.make_solution(parts=[(acid.assistant, 10)])
    )
    run = started(cast.maker, way)
    build.addition(cast.maker, run.batches.get(), red, 1)
    build.addition(cast.maker, run.batches.get(), bottle, 20, at=hours(1))
    assert said(kept(run, cast.maker))[1] == "Citric acid: 2 % owf, from 10 %"


def test_painted_lines_are_mL_for_each_skein_of_one_strength(cast, way, red):
    lot = build.bottle(cast.maker, [(red, 5)], volume=500)
    run = build.run_with_pots(cast.maker, pots=1, skeins=4, colourway=way, method="painted")
    for number in range(4):
        build.addition(cast.maker, run.batches.get(), lot, 30, at=hours(number), how="painted", place="one third")
    (line,) = kept(run, cast.maker).steps.get().ingredients.all()
    assert (line.basis, line.amount, line.unit, line.strength_pct) == ("per_skein", 30, "mL", 1)
    assert line.place == "one third"


def test_sprinkled_powder_goes_by_whole_pots(cast, way, red):
    run = started(cast.maker, way, pots=3)
    for pot in pots_of(run):
        build.addition(cast.maker, pot, red, "0.4", how="sprinkled", place="bottom layer")
    recipe = kept(run, cast.maker)
    (line,) = recipe.steps.get().ingredients.all()
    assert (recipe.scales, recipe.pots, line.basis, line.amount) == ("pots", 3, "per_pot", D("0.4"))


def test_water_is_a_ratio_with_what_bottles_bring(cast, way, red):
    lot = build.bottle(cast.maker, [(red, 5)], volume=500)
    run = started(cast.maker, way)
    build.addition(cast.maker, run.batches.get(), amount=1900)
    build.addition(cast.maker, run.batches.get(), lot, 100, at=hours(1))
    recipe = kept(run, cast.maker)
    assert recipe.liquor_ratio == 20 and said(recipe)[0] == "Water: 20:1"


def test_a_drop_of_water_on_very_much_yarn_is_said_for_the_pot(cast, way, red):
    """As a ratio it would be kept as none."""
    run = started(cast.maker, way)
    (pot,) = pots_of(run)
    run.batches.update(fibre_g=500_000)
    build.addition(cast.maker, pot, None, "0.001")
    build.addition(cast.maker, pot, red, 50, at=hours(1))
    assert said(kept(run, cast.maker))[0] == "Water: 0.001 mL for each pot"


@pytest.mark.parametrize("once", [False, True])
def test_a_run_dyed_as_planned_gives_back_the_ratio_of_its_version(cast, way, red, once):
    """Water is told and logged without what the bottles bring, 25 or 50 mL to each pot of 1 L."""
    build.bottle(cast.maker, [(red, D("2.5"))], volume=250)
    line = build.ingredient(red.dye, D("0.04")) if once else build.ingredient(red.dye, D("0.5"), strength_pct=1)
    if not once:
        line.how = "bottle"
    recipe = way.next_version(by=cast.maker, now=build.NOON, fibre_g=D(100), liquor_ratio=D(10))
    water = Ingredient(water=True, amount=D(10), basis=Basis.RATIO, unit=":1")
    recipe.write([(RecipeStep(), [water]), (RecipeStep(), [line])])
    wishes = Wishes(weigh_once=frozenset({line.pk}) if once else frozenset())
    tools = [build.make_tool("Scale"), build.make_tool("Cylinder", "cylinder", "1", D(1000))]
    loads = [Load(D(100), number=number) for number in range(1, 7)]
    pots = plan(recipe, loads, lots_for(recipe), tools, Studio.get(), wishes=wishes).pots
    assert {pot.lines[0].told for pot in pots} == {975 if once else 950}
    lines = [[PlanLine(**each.facts()) for each in pot.lines] for pot in pots]
    planned = [{"fibre_g": 100, "lines": each} for each in lines]
    run = Run.plan(by=cast.maker, day=build.DAY, pots=planned, colourway=way, clock=build.clock())
    run.start(by=cast.maker, clock=build.clock())
    for each in PlanLine.objects.filter(batch__run=run).order_by("position"):
        build.addition(
            cast.maker, each.batch, each.lot, each.told, at=hours(each.position), plan_line=each, how=each.how
        )
    again = kept(run, cast.maker)
    assert again.liquor_ratio == 10 and said(again)[0] == "Water: 10:1"


def ticked(by, way, lot, *told):
    """A run of one pot, whose planned amounts (g, °C, minutes) went in as they were told, an hour apart."""
    lines = [build.plan_line(lot, much, temperature_c=celsius, minutes=minutes) for much, celsius, minutes in told]
    run = Run.plan(by=by, day=build.DAY, pots=[{"fibre_g": 100, "lines": lines}], colourway=way, clock=build.clock())
    run.start(by=by, clock=build.clock())
    for each in PlanLine.objects.filter(batch__run=run).order_by("position"):
        build.addition(by, each.batch, each.lot, each.told, at=hours(each.position), plan_line=each)
    return run


def test_how_hot_and_how_long_an_amount_went_in_is_kept_as_it_was_told(cast, way, red):
    version = kept(ticked(cast.maker, way, red, (D(1), D(60), D(10)), (D(2), None, None)), cast.maker)
    text = as_text(version)
    assert text.replace("\u00a0", " ").splitlines() == ["1 % owf Rust at 60 °C for 10 min", "2 % owf Rust"]
    assert [(step.temperature_c, step.minutes) for step in version.steps.all()] == [(60, 10), (None, None)]


def test_the_same_dye_hotter_is_a_line_of_its_own(cast, way, red):
    version = kept(ticked(cast.maker, way, red, (D(1), D(60), None), (D(1), D(85), None)), cast.maker)
    assert [step.temperature_c for step in version.steps.all()] == [60, 85]
    alike = kept(ticked(cast.maker, way, red, (D(1), D(60), None), (D(1), D(60), None)), cast.maker)
    assert said(alike) == ["Rust: 2 % owf"]


def test_nothing_that_was_struck_is_in_it_and_nothing_of_zero(cast, way, red):
    run = started(cast.maker, way)
    pot = run.batches.get()
    wrong = build.addition(cast.maker, pot, red, 40)
    Strike.log(pot, stamp(cast.maker, hours(1)), target=wrong.pk)
    build.addition(cast.maker, pot, red, 0, at=hours(1))
    build.addition(cast.maker, pot, red, 4, at=hours(2))
    assert said(kept(run, cast.maker)) == ["Rust: 4 % owf"]


def test_what_was_poured_again_at_once_is_one_line(cast, way, red):
    run = started(cast.maker, way)
    for _ in range(3):
        build.addition(cast.maker, run.batches.get(), red, 1)
    assert said(kept(run, cast.maker)) == ["Rust: 3 % owf"]


def test_a_trace_of_dye_in_very_much_yarn_is_kept(cast, way, red):
    yarn = build.receive_yarn(cast.maker, skeins=2000)
    run = build.run_with_pots(cast.maker, yarn, pots=1, skeins=1999, colourway=way)
    weak = build.bottle(
        cast.maker, [(build.bottle(cast.maker, [(red, D("0.01"))], volume=1000), D("0.1"))], volume=1000
    )
    build.addition(cast.maker, run.batches.get(), weak, "0.001")
    assert kept(run, cast.maker).steps.count() == 1


# --- assistants


def acid_in(run, by, amounts, water, kind="acid"):
    lot = build.receive_assistant(by, build.make_assistant("Citric acid", unit="g", kind=kind))
    powder = build.receive_powder(by, build.make_dye("Rust"))
    for pot, amount, ml in zip(pots_of(run), amounts, water, strict=True):
        if ml:
            build.addition(by, pot, amount=ml)
        build.addition(by, pot, powder, 1, at=hours(1))
        build.addition(by, pot, lot, amount, at=hours(2))


def test_acid_follows_the_fibre_where_nothing_says_otherwise(cast, way):
    run = started(cast.maker, way)
    acid_in(run, cast.maker, [2], [2000])
    draft = capture.draft_of(run)
    (line,) = draft.assistants
    assert draft.offered(line) == [Basis.OWF, Basis.PER_L, Basis.PER_POT, Basis.PER_SKEIN]
    assert said(kept(run, cast.maker))[-1] == "Citric acid: 2 % owf"


def test_acid_that_followed_the_water_is_said_for_each_litre(cast, way):
    run = started(cast.maker, way, pots=2)
    acid_in(run, cast.maker, [2, 4], [2000, 4000])
    recipe = kept(run, cast.maker, pot=ALL)
    assert said(recipe)[-1] == "Citric acid: 1 g/L"
    assert "Said for each litre, as the amounts followed the water: Citric acid." in recipe.note


def test_acid_without_known_water_is_never_for_each_litre(cast, way):
    run = started(cast.maker, way)
    acid_in(run, cast.maker, [2], [None])
    draft = capture.draft_of(run)
    assert Basis.PER_L not in draft.offered(draft.assistants[0])


def test_a_wetting_agent_follows_the_water(cast, way):
    run = started(cast.maker, way)
    acid_in(run, cast.maker, [4], [2000], kind="wetting")
    assert said(kept(run, cast.maker))[-1] == "Citric acid: 2 g/L"


def test_another_basis_can_be_chosen(cast, way):
    run = started(cast.maker, way)
    acid_in(run, cast.maker, [4], [2000])
    (line,) = capture.draft_of(run).assistants
    assert said(kept(run, cast.maker, Answers(bases={line.key: "per_l"})))[-1] == "Citric acid: 2 g/L"


# --- what nobody weighed


@pytest.fixture
def tapped(cast, way, red):
    """Two jars with powder tapped in by eye."""
    run = started(cast.maker, way, pots=2, method="jar")
    for pot in pots_of(run):
        build.addition(cast.maker, pot, red, how="sprinkled", taps=3)
    return run


def only_line(recipe):
    return recipe.steps.get().ingredients.get()


def test_what_nobody_weighed_is_asked_for(tapped):
    draft = capture.draft_of(tapped)
    assert draft.asks
    (line,) = draft.unknown
    assert asked_words(line, draft) == ("Rust, sprinkled dry, 3 taps", "pots 1 and 2")


def test_an_estimate_is_marked(cast, tapped):
    (line,) = capture.draft_of(tapped).unknown
    recipe = kept(tapped, cast.maker, Answers(amounts={line.key: D("0.5")}))
    assert (only_line(recipe).amount, only_line(recipe).estimated) == (D("0.5"), True)
    assert basis_words(only_line(recipe)).startswith("about ") and "Estimated, not weighed: Rust." in recipe.note


def test_left_by_eye_it_has_no_amount(cast, tapped):
    recipe = kept(tapped, cast.maker)
    assert only_line(recipe).amount is None and "Left by eye: Rust." in recipe.note


def test_a_weigh_in_has_answered_already(cast, way, tapped, red):
    uses = Entry.objects.filter(kind="addition").order_by("batch__number")
    build.share_out(cast.maker, red, "0.8", list(uses))
    assert capture.draft_of(tapped).unknown == []
    recipe = kept(tapped, cast.maker)
    assert (only_line(recipe).amount, only_line(recipe).estimated) == (D("0.4"), True)
    assert "Rust (by a weigh-in)" in recipe.note


def test_a_weigh_in_of_a_bottle_says_its_volume(cast, way, red):
    lot = build.bottle(cast.maker, [(red, 5)], volume=500)
    run = started(cast.maker, way)
    use = build.addition(cast.maker, run.batches.get(), lot)
    build.share_out(cast.maker, lot, "40", [use])
    line = only_line(kept(run, cast.maker))
    assert (line.amount, line.strength_pct, line.estimated) == (D("0.4"), 1, True)


def spoon_of(by, dye):
    spoon = Measure.objects.create(name="Bone spoon")
    for grams in (2, D("2.1")):
        MeasureWeighing.objects.create(measure=spoon, dye=dye, fillings=10, grams=grams, at=build.NOON, by=by)
    return spoon


def test_what_a_measure_said_is_an_estimate(cast, way, red):
    run = started(cast.maker, way)
    spoon = spoon_of(cast.maker, red.dye)
    build.addition(cast.maker, run.batches.get(), red, "0.41", measure=spoon, fillings=2, spread_g=D("0.04"))
    recipe = kept(run, cast.maker)
    assert (only_line(recipe).amount, only_line(recipe).estimated) == (D("0.41"), True)
    assert "Rust (by a measure)" in recipe.note


def test_a_measure_weighed_since_says_what_its_fillings_were(cast, way, red):
    run = started(cast.maker, way)
    spoon = Measure.objects.create(name="Bone spoon")
    build.addition(cast.maker, run.batches.get(), red, measure=spoon, fillings=2)
    assert len(capture.draft_of(run).unknown) == 1
    MeasureWeighing.objects.create(measure=spoon, dye=red.dye, fillings=10, grams=2, at=build.NOON, by=cast.maker)
    assert capture.draft_of(run).unknown == []
    assert (only_line(kept(run, cast.maker)).amount, only_line(kept(run, cast.maker)).estimated) == (D("0.4"), True)


def test_the_mark_of_an_estimate_is_in_all_that_comes_of_it(cast, way, red):
    """From the log to the third version, and into the plan's lines: nothing drops it."""
    run = started(cast.maker, way)
    build.addition(cast.maker, run.batches.get(), red)
    (line,) = capture.draft_of(run).unknown
    first = kept(run, cast.maker, Answers(amounts={line.key: D("0.5")}))
    versions = [first]
    for _ in range(2):
        before = versions[-1]
        facts = Facts(skeins=before.skeins, fibre_g=before.fibre_g, pots=before.pots)
        read = understand(as_text(before), facts, Shelf.read())
        assert read.problems == []
        after = way.next_version(by=cast.maker, now=hours(9), fibre_g=before.fibre_g, made_from=before)
        after.write(read.steps)
        versions.append(Recipe.objects.get(pk=after.pk))
    third = versions[-1]
    assert third.number == 3 and only_line(third).estimated
    worked = plan(third, [Load(D(700))], lots_for(third), [], Studio.get())
    (line,) = worked.pots[0].lines
    assert line.basis.startswith("about ")
    again = started(cast.maker, way, start=False)
    PlanLine(**line.facts(), batch=again.batches.get(), position=1).save()
    assert again.batches.get().plan.get().basis.startswith("about ")


# --- in order


def test_order_places_and_steps_are_as_they_were_logged(cast, way, red):
    run = started(cast.maker, way)
    pot, by = run.batches.get(), cast.maker
    usual = HouseStep.objects.create(name="Soak with a drop of soap", kind="soak", minutes=30)
    StepDone.log(pot, stamp(by, hours(1)), kind="soak", minutes=D(35), house_step=usual)
    build.addition(by, pot, red, 1, at=hours(2), place="last sixth")
    StepDone.log(pot, stamp(by, hours(3)), kind="heat", temperature_c=D(85))
    held = Timer.log(pot, stamp(by, hours(3)), what="hold", minutes=D(40))
    TimerEnded.log(pot, stamp(by, hours(4)), target=held.pk)
    Move.log(pot, stamp(by, hours(5)), what="where", where="cooling")
    recipe = kept(run, by)
    steps = [(step.kind, step.temperature_c, step.minutes) for step in recipe.steps.all()]
    assert steps == [
        ("soak", None, 35),
        ("add", None, None),
        ("heat", 85, None),
        ("hold", None, 60),
        ("cool", None, None),
    ]
    assert "drop of soap" in said(recipe)[0]
    assert recipe.steps.all()[1].ingredients.get().place == "last sixth"


def test_what_was_read_stands_where_it_was_read(cast, way, red):
    run = started(cast.maker, way)
    build.addition(cast.maker, run.batches.get(), red, 1)
    Reading.log(run.batches.get(), stamp(cast.maker, hours(1)), temperature_c=D(82), ph=D("4.6"), clear="clear")
    assert said(kept(run, cast.maker)) == ["Rust: 1 % owf", "Check: it read 82 °C and pH 4.6 that day"]


def test_skeins_pulled_in_turn_are_words_with_their_time(cast, way, red):
    run = build.run_with_pots(cast.maker, pots=1, skeins=3, colourway=way)
    pot = run.batches.get()
    build.addition(cast.maker, pot, red, 1)
    for number in range(1, 4):
        Move.log(pot, stamp(cast.maker, hours(number)), what="yarn_out", skeins=1)
    recipe = kept(run, cast.maker)
    assert said(recipe)[1:] == ["Take 1 skein out", *["Take 1 skein out 60 min after that"] * 2]
    assert "Shared: yarn went in or out" in recipe.note


def test_something_without_a_lot_becomes_words_and_is_named(cast, way, red):
    run = started(cast.maker, way)
    build.addition(cast.maker, run.batches.get(), red, 1)
    Addition.log(run.batches.get(), stamp(cast.maker, hours(1)), other="words", what="a handful of onion skins")
    recipe = kept(run, cast.maker)
    assert said(recipe)[1] == "Stir in a handful of onion skins"
    assert "In words, so it does not scale: a handful of onion skins." in recipe.note


@pytest.mark.parametrize("words", ["Twenty min: then rinse, hold 5 min", "at 60 °C add 5 g of salt", "x" * 400, "(:"])
def test_words_that_would_read_as_something_else_stand_beside_their_step(cast, way, red, words):
    run = started(cast.maker, way)
    build.addition(cast.maker, run.batches.get(), red, 1)
    StepDone.log(run.batches.get(), stamp(cast.maker, hours(1), words=words), kind="hold", minutes=D(40))
    recipe = kept(run, cast.maker)
    assert [step.kind for step in recipe.steps.all()][:2] == ["add", "hold"]
    assert recipe.steps.all()[1].minutes == 40
    read = understand(as_text(recipe), Facts(skeins=1, fibre_g=D(100), pots=1), Shelf.read())
    assert read.problems == []


# --- several pots


def test_pots_alike_are_one_version_of_all_their_fibre(cast, way, red):
    yarn = build.receive_yarn(cast.maker, skeins=6)
    pots = [{"fibre_g": D(100) * n, "yarns": [build.shelf_yarn(yarn, n)]} for n in (1, 4)]
    run = Run.plan(by=cast.maker, day=build.DAY, pots=pots, clock=build.clock(), colourway=way)
    run.start(by=cast.maker, clock=build.clock())
    for pot, grams in zip(pots_of(run), ("1.01", "3.99"), strict=True):
        build.addition(cast.maker, pot, red, grams)
    draft = capture.draft_of(run)
    assert draft.differs == [] and not draft.asks
    recipe = kept(run, cast.maker)
    assert (recipe.fibre_g, recipe.skeins, recipe.pots) == (500, 5, 2)
    assert only_line(recipe).amount == 1 and "2 pots alike" in recipe.note


def test_pots_that_differ_are_never_averaged_without_a_word(cast, way, red):
    run = started(cast.maker, way, pots=2)
    other = build.receive_powder(cast.maker, build.make_dye("Soot"))
    one, two = pots_of(run)
    build.addition(cast.maker, one, red, 1), build.addition(cast.maker, two, red, 2)
    build.addition(cast.maker, two, other, 1, at=hours(1))
    draft = capture.draft_of(run)
    assert (
        draft.differs == ["Rust: from 1\u00a0g in pot 1 to 2\u00a0g in pot 2.", "Soot went into pot 2 only."]
        and draft.asks
    )
    alone = kept(run, cast.maker, pot=2)
    assert said(alone) == ["Rust: 2 % owf", "Soot: 1 % owf"] and alone.captured_from.batch == two
    both = kept(run, cast.maker, pot=ALL)
    assert said(both) == ["Rust: 1.5 % owf", "Soot: 0.5 % owf"] and both.captured_from.batch is None
    assert "the average of 2 pots that differed. Rust: from 1\u00a0g in pot 1" in both.note


def test_another_order_is_a_difference(cast, way, red):
    run = started(cast.maker, way, pots=2)
    other = build.receive_powder(cast.maker, build.make_dye("Soot"))
    for pot, (first, second) in zip(pots_of(run), [(red, other), (other, red)], strict=True):
        build.addition(cast.maker, pot, first, 1), build.addition(cast.maker, pot, second, 1, at=hours(1))
    assert capture.draft_of(run).differs == ["In pot 2 Soot went in before Rust."]


def test_a_pot_with_nothing_logged_is_left_out_and_said(cast, way, red):
    run = started(cast.maker, way, pots=2)
    build.addition(cast.maker, pots_of(run)[0], red, 1)
    recipe = kept(run, cast.maker)
    assert (recipe.pots, recipe.fibre_g) == (1, 100) and "Pot 2 had nothing logged and is left out." in recipe.note


# --- to put it right


def bled(run, by, out):
    pot = run.batches.get()
    acid = build.receive_assistant(by, build.make_assistant("Citric acid", unit="g"))
    build.addition(by, pot, build.receive_powder(by, build.make_dye("Rust")), 1)
    if out:
        Move.log(pot, stamp(by, hours(1)), what="where", where="rinsing")
    check = Check.log(pot, stamp(by, hours(2)), what="cloth" if out else "remedy", result="some" if out else "")
    Entry.write(pot, "words", stamp(by, hours(3), words="Oh dear"), now=hours(3), because=check)
    build.addition(by, pot, acid, 2, at=hours(4))


@pytest.mark.parametrize("out", [True, False])
def test_what_put_it_right_belongs_only_if_the_yarn_was_still_in(cast, way, out):
    run = started(cast.maker, way)
    bled(run, cast.maker, out)
    draft = capture.draft_of(run)
    (fix,) = draft.fixes
    assert (fix.name, fix.belongs) == ("Citric acid", not out)
    assert ("Citric acid: 2 % owf" in said(kept(run, cast.maker))) is not out
    other = kept(run, cast.maker, Answers(fixes={fix.key: out}))
    assert ("Citric acid: 2 % owf" in said(other)) is out and "Citric acid" in other.note


# --- where it comes from


def test_the_version_keeps_where_it_comes_from(cast, way, red):
    before = build.recipe(cast.maker, way)
    run = started(cast.maker, way, recipe=before)
    build.addition(cast.maker, run.batches.get(), red, 1)
    recipe = kept(run, cast.maker)
    assert recipe.made_from == before and recipe.captured_from.run == run and recipe.used_at is None
    assert recipe.note.startswith(f"Taken from the log of {run.code}.") and way.recipes.count() == 2
    assert list(recipe.bases.all()) == [run.batches.get().yarns.get().lot.base]
    with transaction.atomic(), pytest.raises(IntegrityError):
        Captured.objects.create(recipe=recipe, run=run)


def test_the_first_version_is_the_standard(cast, way, red):
    run = started(cast.maker, way)
    build.addition(cast.maker, run.batches.get(), red, 1)
    recipe = kept(run, cast.maker)
    way.refresh_from_db()
    assert way.standard == recipe
    kept(run, cast.maker)
    way.refresh_from_db()
    assert way.standard == recipe


def test_a_run_without_a_colourway_is_given_one(cast, red):
    run = started(cast.maker, None, title="Wet slate roof")
    build.addition(cast.maker, run.batches.get(), red, 1)
    assert capture.draft_of(run).asks
    with pytest.raises(ValueError, match="called"):
        kept(run, cast.maker)
    recipe = kept(run, cast.maker, name={"title": "Wet slate roof", "make_colourway": True})
    run.refresh_from_db()
    assert run.colourway == recipe.colourway and recipe.colourway.name == "Wet slate roof"


def test_a_late_line_a_used_bath_and_a_run_given_up_are_said(cast, way, red):
    first, run = started(cast.maker, way), started(cast.maker, way)
    pot = run.batches.get()
    Move.log(pot, stamp(cast.maker), what="liquor_in", other_batch=first.batches.get(), volume_ml=D(500))
    build.finish(cast.maker, pot, at=hours(2))
    build.addition(cast.maker, pot, red, 1, at=hours(1), received_at=hours(3))
    note = kept(run, cast.maker).note
    assert "Carry-over unknown" in note and "Logged after the finish: Rust." in note
    build.addition(cast.maker, first.batches.get(), red, 1)
    first.abandon(why="Felted", by=cast.maker, clock=build.clock(hours(4)))
    assert "The run was given up: Felted." in kept(first, cast.maker).note and capture.draft_of(first).asks


def test_weight_that_nobody_said_is_asked_for(cast, way, red):
    run = started(cast.maker, way)
    run.batches.update(fibre_g=None)
    build.addition(cast.maker, run.batches.get(), red, 1)
    draft = capture.draft_of(run)
    assert draft.asks and not draft.fibre_known
    recipe = kept(run, cast.maker, Answers(fibre_g=D(50)))
    assert (recipe.fibre_g, only_line(recipe).amount) == (50, 2)


def test_skeins_that_nobody_counted_are_said(cast, way, red):
    run = started(cast.maker, way)
    run.batches.get().yarns.update(skeins=None)
    build.addition(cast.maker, run.batches.get(), red, 1)
    assert "Nobody counted the skeins: one for each pot is written." in kept(run, cast.maker).note
    counted = kept(run, cast.maker, Answers(skeins=3))
    assert counted.skeins == 3 and "Nobody counted" not in counted.note


@pytest.mark.parametrize("logged", ["nothing", "water", "acid", "planned"])
def test_a_log_that_makes_no_recipe_says_why(cast, way, logged):
    run = started(cast.maker, way, start=logged != "planned")
    if logged == "water":
        build.addition(cast.maker, run.batches.get(), amount=500)
    if logged == "acid":
        build.addition(cast.maker, run.batches.get(), build.receive_assistant(cast.maker), 5)
    draft = capture.draft_of(run)
    assert draft.problem.endswith(".") and draft.asks
    sentence = {"nothing": "Nothing that went in", "planned": "has not been started"}.get(logged, "a dye of the shelf")
    assert sentence in draft.problem


def test_no_pot_of_that_number(cast, way):
    with pytest.raises(ValueError, match="no pot 9"):
        capture.draft_of(started(cast.maker, way), "9")


def test_a_finish_without_a_log_is_no_recipe(cast, way):
    run = started(cast.maker, way)
    build.finish(cast.maker, run.batches.get())
    assert Finish.objects.count() == 1 and capture.draft_of(run).problem


# --- what was waited for


def waited(cast, way, red, what, **facts):
    run = started(cast.maker, way)
    pot = run.batches.get()
    build.addition(cast.maker, pot, red, 1)
    return run, pot, Timer.log(pot, stamp(cast.maker, hours(1)), what=what, **facts)


def test_days_in_the_sun_are_a_step_of_their_real_length(cast, way, red):
    run, pot, timer = waited(cast, way, red, "sun", minutes=D(24 * 60))
    TimerEnded.log(pot, stamp(cast.maker, hours(31)), target=timer.pk)
    recipe = kept(run, cast.maker)
    assert said(recipe)[1] == "Leave in the sun for 30 h"
    assert (recipe.steps.last().kind, recipe.steps.last().minutes) == ("hold", 1800)


def test_a_timer_given_more_time_is_one_step_of_all_its_time(cast, way, red):
    run, pot, timer = waited(cast, way, red, "hold", minutes=D(40))
    more = Timer.more(pot, stamp(cast.maker, hours(1.5)), target=timer.pk, minutes=D(20))
    TimerEnded.log(pot, stamp(cast.maker, hours(2)), target=more.pk)
    assert said(kept(run, cast.maker))[1:] == ["hold None 60.000"]


def test_a_timer_that_nobody_ended_counts_as_it_was_set(cast, way, red):
    run, _, _ = waited(cast, way, red, "hold", minutes=D(40))
    assert said(kept(run, cast.maker))[1:] == ["hold None 40.000"]


def test_looking_again_is_no_step(cast, way, red):
    run, pot, _ = waited(cast, way, red, "look", minutes=D(10))
    assert said(kept(run, cast.maker))[1:] == []


def test_a_timer_for_something_else_says_what_for(cast, way, red):
    run = started(cast.maker, way)
    pot = run.batches.get()
    build.addition(cast.maker, pot, red, 1)
    timer = Timer.log(pot, stamp(cast.maker, hours(1), words="let the ochre strike"), what="other", minutes=D(25))
    TimerEnded.log(pot, stamp(cast.maker, hours(1.5)), target=timer.pk)
    (line,) = said(kept(run, cast.maker))[1:]
    assert "let the ochre strike" in line


def test_liquor_and_yarn_that_moved_are_words(cast, way, red):
    run = started(cast.maker, way)
    pot = run.batches.get()
    build.addition(cast.maker, pot, red, 1)
    Move.log(pot, stamp(cast.maker, hours(1)), what="liquor_out", volume_ml=D(500))
    Move.log(pot, stamp(cast.maker, hours(2)), what="yarn_in", skeins=1)
    assert said(kept(run, cast.maker))[1:] == ["Do: pour off 500 mL of the bath", "Move 1 skein in"]


def test_what_comes_after_the_judging_is_no_part_of_dyeing(cast, way, red):
    run = started(cast.maker, way)
    pot = run.batches.get()
    build.addition(cast.maker, pot, red, 1)
    Check.log(pot, stamp(cast.maker, hours(2)), what="cloth", result="none")
    StepDone.log(pot, stamp(cast.maker, hours(3)), kind="wash")
    Move.log(pot, stamp(cast.maker, hours(4)), what="yarn_out", skeins=1)
    assert said(kept(run, cast.maker)) == ["Rust: 1 % owf"]


def test_steps_that_took_another_time_are_their_mean_and_said(cast, way, red):
    run = started(cast.maker, way, pots=2)
    for pot, minutes in zip(pots_of(run), (40, 60), strict=True):
        build.addition(cast.maker, pot, red, 1)
        StepDone.log(pot, stamp(cast.maker, hours(1)), kind="hold", temperature_c=D(85), minutes=D(minutes))
    recipe = kept(run, cast.maker)
    assert recipe.steps.last().minutes == 50
    assert "Hold: 40 to 60\u00a0min from pot to pot, said as the mean." in recipe.note


@pytest.mark.parametrize(
    ("minutes", "celsius", "noted"),
    [
        ((45, 47), (85, 87), ""),
        ((45, 48), (85, 85), "45 to 48\u00a0min from pot to pot"),
        ((45, 45), (85, 88), "85 to 88\u00a0°C from pot to pot"),
    ],
)
def test_pots_differ_in_a_version_from_where_they_differ_side_by_side(cast, way, red, minutes, celsius, noted):
    run = started(cast.maker, way, pots=2)
    for pot, long, hot in zip(pots_of(run), minutes, celsius, strict=True):
        build.addition(cast.maker, pot, red, 1)
        StepDone.log(pot, stamp(cast.maker, hours(1)), kind="hold", temperature_c=D(hot), minutes=D(long))
    pots = run.batches.select_related("run__colourway", "vessel", "recipe")
    differs = {row.name for row in side_by_side(list(pots))[1].differs}
    note = kept(run, cast.maker).note
    assert noted in note and ("from pot to pot" in note) == bool(noted)
    assert bool(differs & {"Hold", "Hottest"}) == bool(noted)


def test_a_top_up_of_water_stays_where_it_was(cast, way, red):
    run = started(cast.maker, way)
    pot = run.batches.get()
    build.addition(cast.maker, pot, amount=2000)
    build.addition(cast.maker, pot, red, 1, at=hours(1))
    build.addition(cast.maker, pot, amount=300, at=hours(2))
    recipe = kept(run, cast.maker)
    assert said(recipe) == ["Water: 20:1", "Rust: 1 % owf", "Water: 300 mL for each pot"]
    read = understand(as_text(recipe), Facts(skeins=1, fibre_g=D(100), pots=1), Shelf.read())
    assert read.problems == []
