"""What planning said of a line stands where its hands are: at the sink, on the run's page, at the scale."""

from decimal import Decimal

from lxml import html

from batches import bench_sheet
from batches.models import PlanLine, Run
from tests import builders
from tests.pages.run_forms import words

DILUTE = "Dilute first: bring it to 60\u00a0mL with water for 0.5\u00a0%."


def run_of(by, *pots, start=True):
    """A run whose pots each have one planned line."""
    run = Run.plan(by=by, day=builders.DAY, pots=[{"fibre_g": 100, "lines": [line]} for line in pots])
    if start:
        run.start(by=by)
    return run


def planned(lot, told, **facts):
    return builders.plan_line(lot, told, **facts)


def next_step(page):
    (found,) = html.fromstring(page.content.decode()).xpath(
        '//section[contains(@class, "next")][@aria-labelledby="next"]'
    )
    return " ".join(found.text_content().split()).replace("\xa0", " ")


def test_what_to_mind_stands_at_the_next_step(cast, maker):
    bottle = builders.bottle(cast.maker)
    run = run_of(cast.maker, planned(bottle, 30, note=DILUTE))
    assert DILUTE.replace("\xa0", " ") in next_step(maker.get(f"/sink/{run.batches.get().pk}/"))


def test_how_hot_and_how_long_an_amount_goes_in_is_said_wherever_it_is_read(cast, maker):
    """A notebook's "0.3 % ochre at 60 °C for 10 min" has no step of its own that would say it."""
    lot = builders.bottle(cast.maker)
    run = run_of(cast.maker, planned(lot, 30, temperature_c=Decimal(60), minutes=Decimal(10), basis="0.3 % owf"))
    assert "30mL 60 °C, 10 min" in next_step(maker.get(f"/sink/{run.batches.get().pk}/"))
    assert "0.3 % owf, 60 °C, 10 min" in words(maker.get(f"/runs/{run.code}/"))
    (part,) = bench_sheet.sheet_of(run).parts
    assert "60\u00a0°C, 10\u00a0min" in part.rows[0].notes


def test_the_steps_after_say_it_too(cast, maker):
    lines = [builders.plan_line(), planned(builders.bottle(cast.maker), 30, temperature_c=Decimal(60))]
    run = Run.plan(by=cast.maker, day=builders.DAY, pots=[{"fibre_g": 100, "lines": lines}])
    run.start(by=cast.maker)
    assert "30 mL, 60 °C" in words(maker.get(f"/sink/{run.batches.get().pk}/"))


def test_which_jar_of_several_stands_beside_the_dye(cast, maker):
    """A new lot is weaker, and its amount was reckoned for that jar alone."""
    powder = builders.receive_powder(cast.maker, number="B-12")
    run = run_of(cast.maker, planned(powder, "1.42"))
    assert f"{powder.dye}, powder lot B-12 1.42g" in next_step(maker.get(f"/sink/{run.batches.get().pk}/"))


def test_a_share_is_poured_and_logged_in_grams(cast, maker):
    powder = builders.receive_powder(cast.maker)
    share = {"pour_ml": Decimal(25), "note": "Weighed once."}
    run = run_of(cast.maker, *(planned(powder, "0.25", **share) for _ in range(2)))
    pot = run.batches.first()
    said = next_step(maker.get(f"/sink/{pot.pk}/"))
    assert "25mL of the solution, which brings 0.25 g, in each of 2 pots, 0.5 g in all" in said
    line = PlanLine.objects.get(batch=pot)
    maker.post(
        f"/sink/{pot.pk}/log/",
        {"id": "0d8f4b8e-7d5c-4c55-9d5e-0b7f3f1c7a11", "kind": "tick", "line": line.pk, "pots": "all"},
    )
    assert builders.on_hand(powder) == Decimal("99.5")


def test_pots_that_are_poured_differently_are_said_one_by_one(cast, maker):
    powder = builders.receive_powder(cast.maker)
    run = run_of(
        cast.maker,
        planned(powder, "0.2", pour_ml=Decimal(20), note="Pour 20 mL."),
        planned(powder, "0.2", pour_ml=Decimal(21), note="Pour 21 mL."),
    )
    said = next_step(maker.get(f"/sink/{run.batches.first().pk}/"))
    assert "20 mL of the solution: 0.2 g" in said and "21 mL of the solution: 0.2 g" in said


def test_the_runs_page_says_each_note_once(cast, maker):
    bottle = builders.bottle(cast.maker)
    run = run_of(cast.maker, *(planned(bottle, 30, note=DILUTE) for _ in range(3)), start=False)
    assert words(maker.get(f"/runs/{run.code}/")).count("Dilute first") == 1


def test_it_stands_at_the_scale(cast, maker):
    bottle = builders.bottle(cast.maker)
    run_of(cast.maker, planned(bottle, 30, note=DILUTE), start=False)
    assert "Dilute first" in words(maker.get("/weigh-ahead/"))
