"""From a log to a recipe to a plan at the same weight: the logged amounts come back, to their own resolution.

The check is against the log itself: dye in a bottle is its strength [% w/v] times its volume, a weak powder counts by
its strength (amount x strength / 100), % owf is dye on dry fibre. Those are the definitions of AATCC's and the
handbooks' "on weight of fibre"; common practice, no other source.
"""

from decimal import Decimal

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from batches import capture
from batches.capture import Answers
from batches.models import Run, Strike
from recipes.models import Recipe
from recipes.offers import lots_for
from recipes.planning import plan
from recipes.plans import Load
from recipes.writing import Facts, Shelf, as_text, understand
from studio.models import Studio, Tool
from tests import builders as build

D = Decimal
# Each example tells and plans whole runs: making a failing one smaller would take minutes.
FEW = settings(
    max_examples=15,
    deadline=None,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
THOUSANDTH = D("0.001")  # what the log itself keeps of an amount

amounts = st.decimals(D("0.5"), 100, places=3)
WHAT = st.sampled_from(["bottle", "weak bottle", "powder", "weak powder", "assistant", "liquid", "mix"])


@st.composite
def logs(draw):
    """(fibre of each pot, water of each pot or None, [(what, factor by pot)], which of them are struck)."""
    pots = draw(st.integers(1, 4))
    skeins = [draw(st.integers(1, 6)) for _ in range(pots)]
    ratio = draw(st.none() | st.integers(10, 40))
    lines = draw(st.lists(st.tuples(WHAT, amounts), min_size=1, max_size=6))
    struck = draw(st.sets(st.integers(0, 5), max_size=2))
    return skeins, ratio, lines, struck


def shelf_of(by):
    weak, full = build.receive_powder(by, grams=90000, strength_pct=85), build.receive_powder(by, grams=9000)
    other = build.receive_powder(by, grams=90000, strength_pct=D("117.5"))
    return {
        "bottle": build.bottle(by, [(full, D("301.1"))], volume=30000),
        "weak bottle": build.bottle(by, [(weak, D("298.7"))], volume=30000),
        "powder": build.receive_powder(by, grams=90000),
        "weak powder": build.receive_powder(by, grams=90000, strength_pct=D("84.3")),
        "assistant": build.receive_assistant(by, build.make_assistant(unit="g", kind="salt"), 90000),
        "liquid": build.receive_assistant(by, build.make_assistant(unit="mL"), 90000),
        "mix": build.bottle(by, [(full, 100), (other, 200)], volume=30000),
    }


def dyed(by, skeins, ratio):
    """A started run whose pots hold so many skeins of 100 g."""
    yarn = build.receive_yarn(by, skeins=sum(skeins))
    pots = [{"fibre_g": D(100) * n, "yarns": [build.shelf_yarn(yarn, n)]} for n in skeins]
    run = Run.plan(by=by, day=build.DAY, pots=pots, clock=build.clock(), colourway=build.colourway(by))
    run.start(by=by, clock=build.clock())
    for batch in run.batches.all() if ratio else ():
        build.addition(by, batch, amount=batch.fibre_g * ratio)
    return run


def planned_again(recipe, run):
    """[{substance name: amount} by pot] of a plan at the same weights."""
    loads = [Load(batch.fibre_g, skeins=batch.yarns.get().skeins) for batch in run.batches.order_by("number")]
    return plan(recipe, loads, lots_for(recipe), list(Tool.objects.all()), Studio.get())


def kept(run, by, answers=None, pot=None):
    version = capture.keep(capture.draft_of(run, pot), answers, by=by, now=build.hours(9))
    return Recipe.objects.get(pk=version.pk)


@FEW
@given(log=logs())
def test_the_amounts_of_a_log_come_back_from_a_plan_at_the_same_weight(cast, log):
    skeins, ratio, lines, struck = log
    by, shelf = cast.maker, shelf_of(cast.maker)
    run = dyed(by, skeins, ratio)
    wanted, hour = [], 1
    build_lines = [(shelf["bottle"], D(40)), *((shelf[what], amount) for what, amount in lines)]
    for place, (lot, amount) in enumerate(build_lines):
        gone = []
        for batch in run.batches.order_by("number"):
            told = (amount * batch.fibre_g / 100).quantize(THOUSANDTH)
            entry = build.addition(by, batch, lot, told, at=build.hours(hour), place=f"place {place}")
            gone.append(told)
            if place and place - 1 in struck:
                Strike.log(batch, build.stamp(by, build.hours(hour)), target=entry.pk)
        hour += 1
        if not place or place - 1 not in struck:
            wanted.append((lot, gone))
    again = planned_again(kept(run, by), run)
    for pot, made in enumerate(again.pots):
        measured = [line for line in made.lines if line.lot is not None]
        assert [line.lot for line in measured] == [lot for lot, _ in wanted]
        for line, (lot, gone) in zip(measured, wanted, strict=True):
            assert abs(line.exact - gone[pot]) <= THOUSANDTH, (lot, line.exact, gone[pot])
        if ratio:
            (water,) = [line for line in made.lines if line.water]
            poured = D(100) * skeins[pot] * ratio
            brought = sum(line.exact for line in measured if line.unit == "mL")
            assert (
                min(abs(water.exact - poured), abs(water.exact - brought - poured)) <= water.exact * D("0.000001") + 1
            )


@FEW
@given(amount=amounts, times=st.integers(1, 4), pots=st.integers(1, 3))
def test_jars_give_each_jar_the_same_again(cast, amount, times, pots):
    by = cast.maker
    lot = build.receive_powder(by, grams=90000, strength_pct=D("91.7"))
    run = dyed(by, [1] * pots, None)
    run.method = "jar"
    run.save()
    for batch in run.batches.all():
        for turn in range(times):
            build.addition(by, batch, lot, amount, at=build.hours(turn), how="sprinkled", place=f"layer {turn}")
    recipe = kept(run, by)
    assert recipe.scales == "pots" and recipe.pots == pots
    for pot in planned_again(recipe, run).pots:
        assert [abs(line.exact - amount) <= THOUSANDTH for line in pot.lines] == [True] * times


@FEW
@given(each=st.decimals(1, 60, places=1), skeins=st.integers(1, 12))
def test_painted_yarn_gets_the_same_volume_of_the_same_strength_again(cast, each, skeins):
    by = cast.maker
    powder = build.receive_powder(by, grams=900, strength_pct=D(88))
    lot = build.bottle(by, [(powder, D("9.93"))], volume=1500)
    run = dyed(by, [skeins], None)
    run.method = "painted"
    run.save()
    batch = run.batches.get()
    for number in range(skeins):  # skein after skein, each the same
        build.addition(by, batch, lot, each, at=build.hours(number), how="painted", place="one third")
    recipe = kept(run, by)
    (line,) = planned_again(recipe, run).pots[0].lines
    assert "ilute" not in line.note
    assert abs(line.exact - each * skeins) <= THOUSANDTH and line.lot == lot and not line.problem


@FEW
@given(log=logs())
def test_a_captured_version_says_the_same_once_it_is_words(cast, log):
    """So that changing it in words begins with what it is, and the next version too."""
    skeins, ratio, lines, _ = log
    by, shelf = cast.maker, shelf_of(cast.maker)
    run = dyed(by, skeins, ratio)
    for hour, (what, amount) in enumerate([("powder", D(1)), *lines], 1):
        for batch in run.batches.all():
            build.addition(by, batch, shelf[what], amount, at=build.hours(hour), place=f"place {hour}")
    recipe = kept(run, by, pot=capture.ALL)
    columns = ("method", "scales", "skeins", "fibre_g", "pots")
    facts = Facts(**{name: getattr(recipe, name) for name in columns})
    read = understand(as_text(recipe), facts, Shelf.read())
    assert read.problems == []
    assert [meant(each) for _, each in read.steps for each in each] == [
        meant(each) for step in recipe.steps.all() for each in step.ingredients.all()
    ]


def meant(each):
    amount = each.amount.quantize(D("0.000001"))
    return each.dye, each.assistant, each.solution, each.water, each.basis, amount, each.strength_pct, each.place


@FEW
@given(log=logs(), unknown=st.sets(st.integers(0, 6), max_size=4))
def test_what_nobody_weighed_and_nothing_else_is_an_estimate_in_the_version_and_its_plan(cast, log, unknown):
    _, ratio, lines, _ = log
    by, shelf = cast.maker, shelf_of(cast.maker)
    run = dyed(by, [2], ratio)
    batch, all_lines = run.batches.get(), [("powder", D(3)), *lines]
    answers, keys = {}, {}
    for hour, (what, amount) in enumerate(all_lines):
        said = None if hour in unknown else amount
        entry = build.addition(by, batch, shelf[what], said, at=build.hours(hour + 1), place=f"place {hour}")
        if said is None:
            answers[entry.pk.hex] = amount
        keys[f"place {hour}"] = hour in unknown
    draft = capture.draft_of(run)
    assert {line.key for line in draft.unknown} == answers.keys()
    recipe = Recipe.objects.get(pk=capture.keep(draft, Answers(amounts=answers), by=by, now=build.hours(9)).pk)
    marked = {
        each.place: each.estimated for step in recipe.steps.all() for each in step.ingredients.all() if each.place
    }
    assert marked == keys
    measured = [line for line in planned_again(recipe, run).pots[0].lines if line.lot is not None]
    assert [line.basis.startswith("about ") for line in measured] == list(keys.values())
    for line, (_, amount) in zip(measured, all_lines, strict=True):
        assert abs(line.exact - amount) <= THOUSANDTH
