"""Planning over vessels and days: loads by capacity, spare skeins, lots of yarn that meet, a run for each day."""

from datetime import timedelta
from types import SimpleNamespace

import pytest
from django.template.loader import render_to_string
from django.utils import timezone

from batches import bench_sheet
from batches.models import BatchYarn, Run, promised_by_lot
from recipes.models import Basis
from tests import builders
from tests.pages.run_forms import BAD, boxes, fields_of, sentences, words


@pytest.fixture
def kit(cast):
    """1 % of rust at 20:1, 80 skeins of a base, two kettles for 16 skeins and eight jars whose fill alone is known."""
    rust = builders.make_dye("Rust")
    builders.receive_powder(cast.maker, rust)
    recipe = builders.recipe(cast.maker, None, [(rust, 1, Basis.OWF)], liquor_ratio=20)
    yarn = builders.receive_yarn(cast.maker, builders.make_base("Sparrow"), skeins=80, number="A1")
    kettle = builders.make_vessel("Kettle", how_many=2, skeins=16, volume_ml=50_000, fill_ml=40_000)
    jars = builders.make_vessel("Jam jar", kind="jar", how_many=8, volume_ml=5000, fill_ml=4100)
    return SimpleNamespace(recipe=recipe, yarn=yarn, kettle=kettle, jars=jars, url=f"/runs/new/plan/{recipe.pk}/")


def said_of(browser, kit, **said):
    """The page's fields with 60 skeins, and what else is said; "yarn-0-skeins" is written yarn__0__skeins."""
    fields = fields_of(browser.get(kit.url), "pots") | {"yarn-0-lot": kit.yarn.pk, "yarn-0-skeins": "60"}
    return fields | {name.replace("__", "-"): value for name, value in said.items()}


def propose(browser, kit, **said):
    return browser.post(kit.url, said_of(browser, kit, **said) | {"do": "propose"})


def loads_of(answer):
    """[(day, vessel, pots, skeins)] of the rows of loads."""
    found = boxes(answer)
    rows = range(int(found["load-TOTAL_FORMS"]))
    return [tuple(int(found[f"load-{row}-{name}"]) for name in ("day", "vessel", "pots", "skeins")) for row in rows]


def test_one_vessel_is_enough_to_propose_loads(maker, kit):
    answer = propose(maker, kit, vessel=kit.kettle.pk)
    assert loads_of(answer) == [(1, kit.kettle.pk, 2, 15), (2, kit.kettle.pk, 2, 15)]
    page = words(answer)
    assert "60 skeins over 2 days" in page and "Start day 1" in page
    assert "Pots 1 and 2 on day 1, pots 1 and 2 on day 2, each" in page and "ots 3" not in page, "as their runs say"
    assert "First day" in page, "the date is that of the first of them"
    assert not Run.objects.exists()


def test_kettles_and_jars_over_days_with_spares(maker, kit):
    rooms = {"room__TOTAL_FORMS": "2", "room__0__vessel": kit.kettle.pk, "room__0__loads": "1"}
    rooms |= {"room__1__vessel": kit.jars.pk, "room__1__loads": "2"}
    answer = propose(maker, kit, spare="2", yarn__0__skeins="44", **rooms)
    # 4.1 L at 20:1 takes two skeins of 100 g; kettles are filled first, and a day takes them all.
    assert loads_of(answer) == [(1, kit.kettle.pk, 2, 16), (1, kit.jars.pk, 7, 2)]
    assert "44 and 2 spare" in words(answer)


def test_pots_of_which_nobody_says_how_often_are_filled_once_a_day(maker, kit):
    """A row that was added by hand comes empty."""
    rooms = {"room__TOTAL_FORMS": "2", "room__0__vessel": kit.kettle.pk, "room__0__loads": ""}
    rooms |= {"room__1__vessel": kit.jars.pk, "room__1__loads": ""}
    answer = propose(maker, kit, yarn__0__skeins="44", **rooms)
    assert loads_of(answer) == [(1, kit.kettle.pk, 2, 16), (1, kit.jars.pk, 6, 2)]


def test_spares_may_be_a_percentage(maker, kit):
    answer = propose(maker, kit, vessel=kit.kettle.pk, spare="3 %")
    assert "60 and 2 spare" in words(answer)
    assert [pots * skeins for _, _, pots, skeins in loads_of(answer)] == [32, 30]


@pytest.mark.parametrize(
    ("spare", "sentence"),
    [
        ("some", "as a number such as 2"),
        ("1.5", "whole ones"),
        ("101 %", "more than can be right"),
        ("-1", "number such as 2"),
        ("5 %%", "number such as 2"),
    ],
)
def test_spares_that_make_no_sense_are_refused_and_kept(maker, kit, spare, sentence):
    answer = propose(maker, kit, vessel=kit.kettle.pk, spare=spare)
    assert answer.status_code == 422 and sentence in sentences(answer)[0]
    assert boxes(answer)["spare"] == spare


def changed(browser, answer, **said):
    """The page as it came back, with some boxes written over, sent to be worked out."""
    fields = fields_of(answer, "load-0-pots") | {name.replace("__", "-"): value for name, value in said.items()}
    return browser.post(answer.request["PATH_INFO"], {"do": "work"} | fields)


def test_loads_can_be_changed_by_hand(maker, kit):
    answer = propose(maker, kit, vessel=kit.kettle.pk)
    by_hand = {"load__0__skeins": "18", "load__1__skeins": "12"}
    page = changed(maker, answer, **by_hand)
    assert page.status_code == 200 and "60 skeins over 2 days" in words(page)
    assert "One of “Kettle” usually takes 16 skeins: pots 1 and 2 on day 1 have 18." in words(page)


def test_loads_that_do_not_hold_the_yarn_are_said_and_kept(maker, kit):
    page = changed(maker, propose(maker, kit, vessel=kit.kettle.pk), load__0__skeins="14")
    assert page.status_code == 422
    assert "4 pots hold 58 skeins, and 60 are to be dyed" in sentences(page)[0]
    assert boxes(page)["load-0-skeins"] == "14"


def test_a_vessel_filled_twice_in_a_day_is_said_unless_it_was_meant(maker, kit):
    page = propose(maker, kit, vessel=kit.kettle.pk)
    twice = changed(maker, page, load__1__day="1")
    assert "There are 2 of Kettle, and day 1 fills them 4 times: some one after the other" in words(twice)
    meant = propose(maker, kit, room__0__vessel=kit.kettle.pk, room__0__loads="2")
    assert loads_of(meant) == [(1, kit.kettle.pk, 4, 15)] and "one after the other" not in words(meant)


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({}, "Choose a pot or jar here, or below"),
        ({"room__0__vessel": "999"}, "no longer there"),
        ({"room__0__loads": "2"}, "Choose which pots these are"),
        ({"room__0__loads": "many", "room__0__vessel": "KETTLE"}, "as a number"),
        ({"vessel": "KETTLE", "over": "1"}, "60 skeins take 2 days in these pots"),
        ({"vessel": "SMALL"}, "and a skein of 100 g wants more at 20:1"),
        ({"room__0__vessel": "SMALL", "room__0__loads": "1"}, "and a skein of 100 g wants more at 20:1"),
        ({"vessel": "UNKNOWN"}, "is not known here"),
        ({"vessel": "NONE"}, "takes no skein"),
    ],
)
def test_what_lacks_for_a_proposal_is_said(maker, kit, said, sentence):
    vessels = {
        "KETTLE": kit.kettle,
        "SMALL": builders.make_vessel("Cup", volume_ml=500, fill_ml=400),
        "UNKNOWN": builders.make_vessel("Old pot", volume_ml=None, fill_ml=None),
        "NONE": builders.make_vessel("Lid", skeins=0),
    }
    answer = propose(
        maker, kit, **{name: vessels[value].pk if value in vessels else value for name, value in said.items()}
    )
    assert answer.status_code == 422
    assert any(sentence in found for found in sentences(answer)), sentences(answer)
    assert boxes(answer)["yarn-0-skeins"] == "60"


def test_a_small_vessel_is_taken_where_somebody_says_so(maker, kit):
    cup = builders.make_vessel("Cup", volume_ml=500, fill_ml=400)
    answer = propose(maker, kit, yarn__0__skeins="3", room__0__vessel=cup.pk, room__0__takes="1", room__0__loads="1")
    assert loads_of(answer) == [(day, cup.pk, 1, 1) for day in (1, 2, 3)]


@pytest.mark.parametrize("junk", BAD.values(), ids=BAD)
@pytest.mark.parametrize("box", ["load-0-day", "load-0-pots", "load-0-skeins", "room-0-many", "over", "gap", "spare"])
def test_what_cannot_be_read_is_said_and_kept(maker, kit, box, junk):
    fields = fields_of(propose(maker, kit, vessel=kit.kettle.pk), "load-0-pots")
    answer = maker.post(kit.url, fields | {"room-0-vessel": kit.kettle.pk, "do": "plan", box: junk})
    assert answer.status_code == 422 and sentences(answer)
    assert boxes(answer)[box].strip() == junk.replace("\x00", "")
    assert not Run.objects.exists()


def test_more_rows_and_none_lose_nothing(maker, kit):
    page = propose(maker, kit, vessel=kit.kettle.pk)
    fields = fields_of(page, "load-0-pots")
    more = maker.post(kit.url, fields | {"more": "load", "spare": "lots"})
    assert more.status_code == 200 and boxes(more)["load-TOTAL_FORMS"] == "3" and boxes(more)["spare"] == "lots"
    without = maker.post(kit.url, fields | {"do": "no-loads"})
    assert boxes(without)["load-TOTAL_FORMS"] == "0" and boxes(without)["vessel"] == str(kit.kettle.pk)


# Kept


def test_a_plan_over_days_is_a_run_each_day_that_names_the_first(maker, kit):
    page = propose(maker, kit, vessel=kit.kettle.pk, spare="2", over="3", gap="2")
    answer = changed(maker, page, do="plan")
    first, *later = Run.objects.order_by("day")
    today = timezone.localdate()
    assert answer.url == f"/runs/{first.code}/"
    assert [run.day for run in (first, *later)] == [today, today + timedelta(days=2), today + timedelta(days=4)]
    assert [run.day_one for run in later] == [first, first]
    assert [(run.spares, run.batches.count()) for run in (first, *later)] == [(2, 2), (0, 1), (0, 1)]
    assert {run.state for run in (first, *later)} == {"planned"}
    assert sum(BatchYarn.objects.values_list("skeins", flat=True)) == 62
    assert promised_by_lot()[kit.yarn.pk] == 6200, "the yarn of all days"


def test_a_pot_is_called_the_same_on_the_plan_and_on_all_that_is_made_of_it(maker, kit):
    """Three loads of one size on the first day, one of another on the second: its pot 1 is meant by everybody."""
    page = propose(maker, kit, vessel=kit.kettle.pk)
    said = {"load__0__pots": "3", "load__0__skeins": "15", "load__1__pots": "1", "load__1__skeins": "15"}
    kit.kettle.fill_ml = 24_000  # at 20:1 they want 30 L
    kit.kettle.save()
    plan = words(changed(maker, page, do="work", **said)).replace("\xa0", " ")
    assert "Pots 1 to 3 on day 1, pot 1 on day 2, each" in plan and "ots 4" not in plan and "ot 4" not in plan
    assert "pots 1 to 3 on day 1, pot 1 on day 2 have 16:1, not 20:1" in plan
    changed(maker, page, do="plan", **said)
    for number, run in enumerate(Run.objects.order_by("day"), 1):
        printed = render_to_string("batches/bench_sheet.html", {"sheet": bench_sheet.sheet_of(run), "run": run})
        day_sheet = words(maker.get(f"/day/?day={run.day.isoformat()}"))
        assert f"{run.code}, day {number} of 2" in day_sheet
        assert f"day {number} of 2" in words(maker.get(f"/runs/{run.code}/"))
        assert f"day {number} of 2" in printed
        assert ("Pots 1 to 3" if number == 1 else "Pot 1") in day_sheet


def test_starting_begins_the_first_day_alone(maker, kit):
    answer = changed(maker, propose(maker, kit, vessel=kit.kettle.pk), do="start")
    first, second = Run.objects.order_by("day")
    assert (first.state, second.state) == ("running", "planned")
    assert answer.url == f"/sink/{first.batches.order_by('number').first().pk}/"
    assert builders.on_hand(kit.yarn) == 8000 - 3000


def test_the_same_plan_over_days_sent_twice_is_kept_once(maker, kit):
    page = propose(maker, kit, vessel=kit.kettle.pk)
    first, second = changed(maker, page, do="plan"), changed(maker, page, do="plan")
    assert first.url == second.url and Run.objects.count() == 2


def test_what_is_short_is_short_over_all_days(maker, kit):
    assert "90 skeins wanted, 80 free" in words(propose(maker, kit, vessel=kit.kettle.pk, yarn__0__skeins="90"))


# Lots of yarn


def test_lots_of_one_base_are_kept_apart_and_said(cast, maker, kit):
    other = builders.receive_yarn(cast.maker, kit.yarn.base, skeins=30, number="B2")
    rows = {"yarn__TOTAL_FORMS": "2", "yarn__0__skeins": "30", "yarn__1__lot": other.pk, "yarn__1__skeins": "30"}
    page = words(propose(maker, kit, vessel=kit.kettle.pk, **rows))
    assert "lot A1 in pots 1 and 2 on day 1; lot B2 in pots 1 and 2 on day 2" in page and "would hold" not in page


def test_two_bases_are_no_two_lots(cast, maker, kit):
    other = builders.receive_yarn(cast.maker, builders.make_base("Wren"), skeins=30)
    rows = {"yarn__TOTAL_FORMS": "2", "yarn__0__skeins": "32", "yarn__1__lot": other.pk, "yarn__1__skeins": "28"}
    page = words(propose(maker, kit, vessel=kit.kettle.pk, **rows))
    assert "may take the dye differently" not in page and "would hold" not in page


# Many pots


def test_sixty_pots_over_four_days_are_few_rows_and_as_few_queries(maker, kit, django_assert_max_num_queries):
    def ask(skeins):
        said = {"room__0__vessel": kit.jars.pk, "room__0__many": "15", "room__0__takes": "1", "room__0__loads": "1"}
        return said_of(maker, kit, yarn__0__skeins=skeins, **said) | {"do": "propose"}

    few, many = ask("2"), ask("60")
    with django_assert_max_num_queries(80) as asked:
        maker.post(kit.url, few)
    with django_assert_max_num_queries(len(asked)):
        answer = maker.post(kit.url, many)
    assert loads_of(answer) == [(day, kit.jars.pk, 15, 1) for day in (1, 2, 3, 4)]
    assert answer.content.decode().count('class="potcard"') == 1


# Too little of it


@pytest.mark.parametrize(("weight", "skeins"), [("0.0001", "2"), ("0.0009", "2"), ("1", "2000"), ("0.001", "2")])
@pytest.mark.parametrize("do", ["work", "plan"])
def test_yarn_that_would_weigh_nothing_is_refused_with_a_sentence(maker, kit, weight, skeins, do):
    own = {"yarn__0__lot": "", "yarn__0__other": "customer", "yarn__0__words": "Mrs Fell", "yarn__0__skeins": skeins}
    said = said_of(maker, kit, pots="1", yarn__0__weight=weight, yarn__0__weight_unit="g", **own)
    answer = maker.post(kit.url, said | {"do": do})
    assert answer.status_code == 422 and "less than can be weighed" in sentences(answer)[0]
    assert boxes(answer)["yarn-0-weight"] == weight and not Run.objects.exists()
