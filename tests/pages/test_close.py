"""A colourway's batches side by side: which are chosen, what differed, and what the page never claims."""

from datetime import timedelta
from decimal import Decimal
from types import SimpleNamespace

import pytest
from django.urls import reverse
from lxml import html

from batches.closeness import Compared, Row, Value
from batches.models import Finish, PhotoTaken, Reading, StepDone, Strike
from studio.models import LotCorrection
from tests import builders as build
from tests.builders import hours, stamp
from tests.pages.run_forms import words


def page_of(way, *pots):
    query = "&".join(f"pot={pot.pk}" for pot in pots)
    return reverse("batches:close", args=[way.pk]) + (f"?{query}" if query else "")


def a_pot(cast, way, day=0, **facts):
    run = build.run_with_pots(cast.maker, pots=1, colourway=way, at=build.NOON - timedelta(days=day), **facts)
    return run.batches.select_related("run").get()


@pytest.fixture
def at(cast):
    """A pot that is the colour to match, and one dyed of a new lot of the rust that is weaker."""
    way, rust = build.colourway(cast.maker, "Kiln Door"), build.make_dye("Rust")
    lot = build.receive_yarn(cast.maker, build.make_base("Sparrow"), skeins=30)
    old = build.receive_powder(cast.maker, rust, number="R-1")
    new = build.receive_powder(cast.maker, rust, number="R-2", strength_pct=Decimal(85))
    spring, autumn = a_pot(cast, way, 200, lot=lot), a_pot(cast, way, lot=lot)
    return SimpleNamespace(way=way, rust=rust, lot=lot, old=old, new=new, spring=spring, autumn=autumn)


def finish(cast, pot, **facts):
    build.finish(cast.maker, pot, at=hours(5), **facts)


def rows(client, address):
    """{"differs": {name: [words of each]}, "unknown": ..., "alike": ...} as the page has them."""
    found = client.get(address).context["compared"]
    return {
        part: {row.name: [value.words.replace("\xa0", " ") for value in row.values] for row in getattr(found, part)}
        for part in ("differs", "unknown", "alike")
    }


def chosen(client, address):
    return [column.batch.pk for column in client.get(address).context["columns"]]


# --- which


def test_the_one_to_match_and_the_newest_come_first(cast, client_of, at):
    finish(cast, at.spring, verdict="standard"), finish(cast, at.autumn)
    older = a_pot(cast, at.way, 300, lot=at.lot)
    finish(cast, older, verdict="as_good")
    assert chosen(client_of(cast.viewer), page_of(at.way)) == [at.spring.pk, at.autumn.pk]


def test_one_that_is_asked_for_stands_beside_the_one_to_match(cast, client_of, at):
    finish(cast, at.spring, verdict="standard"), finish(cast, at.autumn)
    older = a_pot(cast, at.way, 300, lot=at.lot)
    assert chosen(client_of(cast.viewer), page_of(at.way, older)) == [at.spring.pk, older.pk]


def test_a_pot_that_is_finished_is_taken_before_one_that_is_not(cast, client_of, at):
    finish(cast, at.spring, verdict="standard")
    finished = a_pot(cast, at.way, 100, lot=at.lot)
    finish(cast, finished)
    assert chosen(client_of(cast.viewer), page_of(at.way)) == [at.spring.pk, finished.pk]


def test_samples_are_taken_after_batches(cast, client_of, at):
    """A sample is of one yarn strand more or less: the newest pot that is no sample shows how close it came."""
    older = a_pot(cast, at.way, 300, lot=at.lot)
    finish(cast, at.spring, verdict="standard"), finish(cast, older)
    at.autumn.label = "110 % of the Rust"
    at.autumn.save(update_fields=["label"])
    finish(cast, at.autumn)
    viewer = client_of(cast.viewer)
    assert chosen(viewer, page_of(at.way)) == [at.spring.pk, older.pk]
    assert chosen(viewer, page_of(at.way, at.autumn)) == [at.spring.pk, at.autumn.pk]
    found = rows(viewer, page_of(at.way, at.spring, at.autumn))
    assert found["differs"]["Label"] == ["none", "110 % of the Rust"]
    assert not any("Label" in part for part in rows(viewer, page_of(at.way)).values())


def test_the_newest_verdict_of_a_pot_counts(cast, client_of, at):
    finish(cast, at.spring, verdict="standard"), finish(cast, at.autumn, verdict="standard")
    Finish.log(at.spring, stamp(cast.maker, hours(7)), outputs=[], verdict="never")
    assert chosen(client_of(cast.viewer), page_of(at.way))[0] == at.autumn.pk


def test_more_than_four_are_said_to_be_too_many(cast, client_of, at):
    pots = [at.spring, at.autumn, *(a_pot(cast, at.way, day, lot=at.lot) for day in range(10, 13))]
    answer = client_of(cast.viewer).get(page_of(at.way, *pots))
    assert len(answer.context["columns"]) == 4
    assert "4 at most fit beside each other" in words(answer)


def test_another_colourways_pot_is_not_shown(cast, client_of, at):
    other = a_pot(cast, build.colourway(cast.maker, "Low Tide"), lot=at.lot)
    assert other.pk not in chosen(client_of(cast.viewer), page_of(at.way, other, at.autumn))


@pytest.mark.parametrize("query", ["?pot=x", "?pot=999999", "?pot=" + "9" * 40, "?pot=1&pot=1&pot=", "?pot=%00"])
def test_an_odd_choice_still_shows_two(cast, client_of, at, query):
    assert len(chosen(client_of(cast.viewer), page_of(at.way) + query)) == 2


def test_fewer_than_two_are_said(cast, client_of):
    way = build.colourway(cast.maker)
    assert "this colourway has none by now" in words(client_of(cast.viewer).get(page_of(way)))
    a_pot(cast, way)
    assert "this colourway has one by now" in words(client_of(cast.viewer).get(page_of(way)))


def test_helpers_work_from_plans(cast, client_of, at):
    assert client_of(cast.helper).get(page_of(at.way)).status_code == 403


# --- what differed


def test_a_weaker_lot_is_seen_and_so_is_what_it_came_to(cast, client_of, at):
    build.addition(cast.maker, at.spring, at.old, "0.6"), build.addition(cast.maker, at.autumn, at.new, "0.6")
    found = rows(client_of(cast.viewer), page_of(at.way, at.spring, at.autumn))
    assert found["differs"]["Rust"] == ["0.3 % owf", "0.26 % owf"]
    assert found["differs"]["Lot of Rust"] == ["lot R-1", "lot R-2, 85 % strong"]
    said = words(client_of(cast.viewer).get(page_of(at.way, at.spring, at.autumn))).replace("\xa0", " ")
    assert "0.6 g of 85 % strength" in said and "15 % less" in said


def test_a_weaker_lot_that_was_made_up_for_is_as_much_dye(cast, client_of, at):
    build.addition(cast.maker, at.spring, at.old, "0.6"), build.addition(cast.maker, at.autumn, at.new, "0.706")
    found = rows(client_of(cast.viewer), page_of(at.way, at.spring, at.autumn))
    assert "Rust" in found["alike"] and "Lot of Rust" in found["differs"]


def test_what_is_learned_of_a_lot_later_counts(cast, client_of, at):
    build.addition(cast.maker, at.spring, at.old, "0.6"), build.addition(cast.maker, at.autumn, at.old, "0.6")
    LotCorrection.objects.create(
        lot=at.old, strength_pct=90, hue="A little duller.", recorded_at=hours(9), by=cast.maker
    )
    found = rows(client_of(cast.viewer), page_of(at.way, at.spring, at.autumn))
    assert found["alike"]["Lot of Rust"] == ["lot R-1, 90 % strong: A little duller"] * 2


def test_what_the_scale_cannot_tell_is_quiet(cast, client_of, at):
    build.make_tool(step="0.1")
    build.addition(cast.maker, at.spring, at.old, "0.6"), build.addition(cast.maker, at.autumn, at.old, "0.7")
    assert "Rust" in rows(client_of(cast.viewer), page_of(at.way, at.spring, at.autumn))["alike"]


def test_dye_that_nobody_weighed_is_at_least_and_never_alike(cast, client_of, at):
    for pot in (at.spring, at.autumn):
        build.addition(cast.maker, pot, at.old, "0.6")
    build.addition(cast.maker, at.autumn, at.old, how="sprinkled")
    found = rows(client_of(cast.viewer), page_of(at.way, at.spring, at.autumn))
    assert found["unknown"]["Rust"] == ["0.3 % owf", "at least 0.3 % owf"]
    assert found["unknown"]["Dye in all"] == ["0.3 % owf", "at least 0.3 % owf"]


def test_which_lot_it_was_is_known_though_nobody_weighed_it(cast, client_of, at):
    build.addition(cast.maker, at.spring, at.old, "0.6"), build.addition(cast.maker, at.autumn, at.new)
    found = rows(client_of(cast.viewer), page_of(at.way, at.spring, at.autumn))
    assert found["differs"]["Lot of Rust"] == ["lot R-1", "lot R-2, 85 % strong"]
    assert found["unknown"]["Rust"] == ["0.3 % owf", "not weighed"]


def test_hours_are_said_as_hours(cast, client_of, at):
    for pot, held in ((at.spring, 300), (at.autumn, 90)):
        StepDone.log(pot, stamp(cast.maker, hours(2)), kind="hold", minutes=Decimal(held))
    said = words(client_of(cast.viewer).get(page_of(at.way, at.spring, at.autumn))).replace("\xa0", " ")
    assert "3 h 30 min shorter" in said


def test_what_was_struck_out_is_not_compared(cast, client_of, at):
    for pot in (at.spring, at.autumn):
        build.addition(cast.maker, pot, at.old, "0.6")
    wrong = build.addition(cast.maker, at.autumn, at.old, "0.6")
    Strike.log(at.autumn, stamp(cast.maker, hours(1)), target=wrong.pk)
    assert "Rust" in rows(client_of(cast.viewer), page_of(at.way, at.spring, at.autumn))["alike"]


def test_heat_time_ph_and_acid_are_compared_as_they_were_logged(cast, client_of, at):
    acid = build.receive_assistant(cast.maker, build.make_assistant("Vinegar"))
    for pot, ml, ph, heat, held in ((at.spring, 20, "5", 85, 30), (at.autumn, 30, "4.2", 92, 45)):
        pot.water_ml = Decimal(4000)
        pot.save()
        build.addition(cast.maker, pot, at.old, "0.6"), build.addition(cast.maker, pot, acid, ml)
        Reading.log(pot, stamp(cast.maker, hours(1)), ph=Decimal(ph), temperature_c=Decimal(heat))
        StepDone.log(pot, stamp(cast.maker, hours(2)), kind="hold", minutes=Decimal(held))
    page = client_of(cast.viewer).get(page_of(at.way, at.spring, at.autumn))
    found = rows(client_of(cast.viewer), page_of(at.way, at.spring, at.autumn))["differs"]
    assert found["Vinegar"] == ["5 mL/L", "7.5 mL/L"]
    assert (found["pH"], found["Hottest"], found["Hold"]) == (["5", "4.2"], ["85 °C", "92 °C"], ["30 min", "45 min"])
    said = words(page).replace("\xa0", " ")
    for part in ("half as much again", "7 °C hotter", "15 min longer", "0.8 lower"):
        assert part in said, part


def test_the_order_in_which_it_went_in_is_compared_whatever_the_bottle(cast, client_of, at):
    acid = build.receive_assistant(cast.maker, build.make_assistant("Vinegar"))
    bottle = build.bottle(cast.maker, [(at.old, Decimal("2.5"))])
    for pot, lot, amount, first in ((at.spring, at.old, "0.6", 1), (at.autumn, bottle, 60, 3)):
        build.addition(cast.maker, pot, lot, amount)
        StepDone.log(pot, stamp(cast.maker, hours(2)), kind="heat")
        build.addition(cast.maker, pot, acid, 20, at=hours(first))
    found = rows(client_of(cast.viewer), page_of(at.way, at.spring, at.autumn))
    assert found["differs"]["In order"] == ["Rust, Vinegar, heat", "Rust, heat, Vinegar"]
    assert "Rust" in found["alike"]


def test_two_versions_lead_to_what_differs_between_them(cast, client_of, at):
    pots = [a_pot(cast, at.way, day, lot=at.lot, recipe=build.recipe(cast.maker, at.way)) for day in (20, 10)]
    page = client_of(cast.viewer).get(page_of(at.way, *pots)).content.decode()
    assert reverse("recipes:difference", args=[pots[1].recipe_id, pots[0].recipe_id]) in page


# --- what the page shows, and does not claim


def test_only_dry_photos_are_shown_and_they_prove_nothing(cast, client_of, at):
    PhotoTaken.log(at.spring, stamp(cast.maker), picture=build.picture(cast.maker), stage="dry")
    PhotoTaken.log(at.autumn, stamp(cast.maker), picture=build.picture(cast.maker), stage="wet")
    answer = client_of(cast.viewer).get(page_of(at.way, at.spring, at.autumn))
    assert answer.content.decode().count("record.jpg") == answer.content.decode().count("<img") == 1
    assert "No dry photo of it" in words(answer)
    assert "Photos do not prove a colour: compare the snippets in daylight." in words(answer)


def test_verdict_snippet_and_what_was_said_for_the_next_time_stand_on_top(cast, client_of, at):
    finish(cast, at.spring, verdict="standard", snippet="Ring binder, page 8", next_time="Less acid.")
    said = words(client_of(cast.viewer).get(page_of(at.way, at.spring, at.autumn)))
    places = [said.index(part) for part in ("This is the colour to match", "Ring binder, page 8", "Less acid.")]
    assert places == sorted(places) and places[-1] < said.index("What differed")


def test_the_run_and_the_colourway_lead_here(cast, client_of, at):
    finish(cast, at.autumn)
    viewer = client_of(cast.viewer)
    assert page_of(at.way, at.autumn) in viewer.get(f"/runs/{at.autumn.run.code}/").content.decode()
    assert page_of(at.way) in viewer.get(reverse("batches:colourway", args=[at.way.pk])).content.decode()
    assert page_of(at.way) not in client_of(cast.helper).get(f"/runs/{at.autumn.run.code}/").content.decode()


def led_to(client, pot):
    """[(words, address)] of the links from a run's page to its colourway's batches side by side."""
    page = html.fromstring(client.get(f"/runs/{pot.run.code}/").content.decode())
    return [(link.text, link.get("href")) for link in page.xpath("//a[contains(@href, '/close/')]")]


def test_a_run_is_never_asked_to_be_compared_with_itself(cast, client_of, at):
    viewer = client_of(cast.viewer)
    finish(cast, at.spring), finish(cast, at.autumn)
    assert led_to(viewer, at.spring) == [("Compare it with another batch", page_of(at.way, at.spring))]
    Finish.log(at.spring, stamp(cast.maker, hours(7)), outputs=[], verdict="standard")
    assert led_to(viewer, at.spring) == [("Compare another batch with it", page_of(at.way))]
    assert led_to(viewer, at.autumn) == [("Compare it with the colour to match", page_of(at.way, at.autumn))]


def test_a_run_with_nothing_beside_it_leads_to_no_comparison(cast, client_of):
    way = build.colourway(cast.maker)
    lone = a_pot(cast, way)
    finish(cast, lone, verdict="standard")
    assert led_to(client_of(cast.viewer), lone) == []
    planned = a_pot(cast, way, start=False)
    assert led_to(client_of(cast.viewer), lone) == led_to(client_of(cast.viewer), planned) == []


def test_the_pots_of_a_run_alone_can_be_compared(cast, client_of):
    way = build.colourway(cast.maker)
    run = build.run_with_pots(cast.maker, pots=2, colourway=way)
    pot = run.batches.select_related("run").first()
    assert led_to(client_of(cast.viewer), pot) == [("Compare its pots", page_of(way, pot))]


def test_queries_do_not_grow_with_batches_or_their_logs(cast, client_of, at, django_assert_max_num_queries):
    def filled(pot):
        build.addition(cast.maker, pot, at.old, "0.6"), build.addition(cast.maker, pot, at.new, "0.1")
        build.addition(cast.maker, pot, at.old)
        PhotoTaken.log(pot, stamp(cast.maker), picture=build.picture(cast.maker), stage="dry")
        finish(cast, pot)
        return pot

    pots = [filled(at.spring), filled(at.autumn)]
    client = client_of(cast.viewer)
    client.get(page_of(at.way, *pots))
    with django_assert_max_num_queries(60) as few:
        client.get(page_of(at.way, *pots))
    pots += [filled(a_pot(cast, at.way, day, lot=at.lot)) for day in (30, 40)]
    for pot in pots:
        for hour in range(6, 9):
            build.addition(cast.maker, pot, at.old, "0.01", at=hours(hour))
    with django_assert_max_num_queries(len(few)):
        client.get(page_of(at.way, *pots))


def test_a_run_of_another_version_leads_to_a_plan_of_the_standard(cast, client_of, at):
    versions = [build.recipe(cast.maker, at.way) for _ in range(2)]
    at.way.pin(versions[1])
    pot = a_pot(cast, at.way, lot=at.lot, recipe=versions[0])
    finish(cast, pot)
    page = client_of(cast.maker).get(f"/runs/{pot.run.code}/").content.decode()
    assert reverse("batches:plan", args=[versions[1].pk]) in page and "Plan from the standard" in page


def test_what_differed_is_named_first(cast, client_of, at):
    build.addition(cast.maker, at.spring, at.old, 1), build.addition(cast.maker, at.autumn, at.new, 2)
    viewer, address = client_of(cast.viewer), page_of(at.way, at.spring, at.autumn)
    differs = list(rows(viewer, address)["differs"])
    assert f"What differed: {', '.join(differs)}." in words(viewer.get(address))


def test_of_very_much_that_differed_the_first_are_named():
    rows = [Row(str(number), [Value("a"), Value("b")]) for number in range(9)]
    assert Compared(rows, [], []).in_short == "0, 1, 2, 3, 4, 5 and 3 more"
    assert Compared(rows[:7], [], []).in_short == "0, 1, 2, 3, 4, 5, 6" and Compared([], [], []).in_short == ""
