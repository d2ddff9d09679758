"""The sink in a browser without JavaScript, and the address where machines send the same things."""

import html
import io
import json
import re
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.urls import reverse
from PIL import Image

from batches.intake import KINDS
from batches.models import Addition, Answer, Entry, Run
from batches.views.entries import PAGES
from studio.models import Measure, MeasureWeighing
from tests import builders


@pytest.fixture
def shelf(cast):
    return {
        "red": builders.bottle(cast.maker),
        "soot": builders.receive_powder(cast.maker),
        "vinegar": builders.receive_assistant(cast.maker),
    }


@pytest.fixture
def run(cast, shelf):
    return builders.run_with_pots(
        cast.maker, pots=2, lines=[(shelf["red"], 40), (None,), (shelf["soot"], Decimal("0.45"))]
    )


@pytest.fixture
def pot(run):
    return run.batches.order_by("number").first()


@pytest.fixture
def helper(cast, client_of):
    return client_of(cast.helper)


def address(pot, name="intake", *args):
    return reverse(f"batches:{name}", args=[pot.pk, *args])


def hidden(page, name):
    return re.search(rf'name="{name}" value="([^"]*)"', page.content.decode())[1]


def as_machine(client, pot, said, **more):
    body = json.dumps(said)
    return client.post(
        address(pot), body, content_type="application/json", headers={"Accept": "application/json"}, **more
    )


# The sink


def test_the_sink_tells_the_next_step_with_its_amount(helper, pot):
    page = helper.get(address(pot, "sink")).content.decode()
    assert "step 1 of 3" in page
    assert re.search(r'class="amount">40<span class="unit">mL', page)
    assert "Log 40\N{NO-BREAK SPACE}mL in each" in page


def test_one_touch_logs_the_step_and_comes_back(helper, pot, shelf):
    page = helper.get(address(pot, "sink"))
    sent = {"kind": "tick", "id": hidden(page, "id"), "line": pot.plan.first().pk, "pots": "all"}
    answer = helper.post(address(pot), sent, follow=True)
    assert answer.redirect_chain == [(address(pot, "sink"), 302)]
    assert "step 2 of 3" in answer.content.decode() and builders.on_hand(shelf["red"]) == 170


def test_the_last_thing_done_is_said(helper, cast, pot):
    builders.words(cast.maker, pot, "Smells of sheep")
    assert "Last: <b>Smells of sheep</b>" in helper.get(address(pot, "sink")).content.decode()


def test_what_the_evening_was_told_is_not_the_last_thing_done(cast, helper, pot, shelf):
    added = builders.addition(cast.helper, pot, shelf["red"], at=builders.hours(1))
    Answer.log(pot, builders.stamp(cast.helper, builders.hours(2)), question="amount", about=added, known=False)
    page = helper.get(address(pot, "sink"))
    assert page.context["last"].entry == added


def test_words_with_a_full_stop_go_on_with_a_comma_alone(helper, cast, pot):
    facts = {"kind": "water", "id": uuid4(), "amount": "2", "amount_unit": "L", "note": "Warm, lids loose."}
    helper.post(address(pot), facts)
    page = helper.get(address(pot, "sink")).content.decode()
    assert "Warm, lids loose, Hanne" in page


def test_yarn_that_waits_is_said_in_a_sentence(helper, pot):
    helper.post(address(pot), {"kind": "move", "id": uuid4(), "what": "where", "where": "to_check"})
    page = helper.get(address(pot, "sink")).content.decode()
    assert "The yarn waits to be checked." in page and "is to check" not in page


def test_a_struck_line_stays_readable(helper, cast, pot):
    said = builders.words(cast.helper, pot, "Smells of goat")
    sent = {"kind": "strike", "id": uuid4(), "target": said.pk, "reason": "Sheep"}
    page = helper.post(address(pot), sent, follow=True).content.decode()
    assert re.search(r"<del>Smells of goat</del>\s*<div[^>]*>struck out .* by Hanne: Sheep", page)


def test_undo_stands_at_the_top_for_the_newest_own_line_only(helper, cast, pot):
    for client_said in ("One", "Two"):
        helper.post(address(pot), {"kind": "words", "id": uuid4(), "note": client_said})
    page = helper.get(address(pot, "sink")).content.decode()
    assert page.count("data-once>Undo") == 1 and 'Undo<span class="hidden"> Two' in page
    assert page.index("data-once>Undo") < page.index("Add to the log")


def test_what_went_into_every_pot_is_said_so(helper, pot):
    said = {"kind": "words", "id": uuid4(), "note": "Steam", "pots": "all"}
    assert "Logged: Steam, in each of 2 pots." in helper.post(address(pot), said, follow=True).content.decode()


def test_a_planned_step_says_its_heat_and_time_once(helper, cast):
    hold = builders.plan_line(step="hold", words="Hold 40 min at 87 \N{DEGREE SIGN}C", temperature_c=87, minutes=40)
    run = Run.plan(by=cast.maker, day=builders.DAY, pots=[{"fibre_g": Decimal(200), "lines": [hold]}])
    page = helper.get(address(run.batches.get(), "sink")).content.decode()
    assert "at 87 \N{DEGREE SIGN}C</h2>" in page and "<p>87" not in page


def test_a_plan_that_is_through_offers_to_judge(helper, pot):
    judge = f'class="button main full" href="{reverse("batches:judge", args=[pot.run.code])}"'
    for _ in range(3):
        assert judge not in helper.get(address(pot, "sink")).content.decode()
        helper.post(address(pot), {"kind": "tick", "id": uuid4(), "line": next_line(pot)})
    assert judge in helper.get(address(pot, "sink")).content.decode()


def test_eight_jars_stand_in_a_row_with_where_each_is(helper, cast, shelf):
    run = builders.run_with_pots(cast.maker, pots=8, lines=[(shelf["red"], 5)])
    second = run.batches.get(number=2)
    helper.post(address(second), {"kind": "move", "id": uuid4(), "where": "cooling"})
    page = helper.get(address(second, "sink")).content.decode()
    row = page[page.index('aria-label="Pots of this run"') : page.index("</nav>")]
    near, others = row.split("<details>")
    assert near.count("<a ") == 3 and "6 more" in others and others.count("<a ") == 9
    for shown in (near, others):
        assert address(run.batches.get(number=1), "sink-all") in shown and shown.count('aria-current="page"') == 1
        assert re.search(
            r'aria-current="page"[^>]*><b><span class="hidden">Pot 2, </span>2</b><span[^>]*>cooling<', shown
        )


@pytest.mark.parametrize(
    ("pots", "number", "near"), [(8, 1, [1, 2]), (8, 8, [7, 8]), (4, 3, [3, 4]), (3, 2, [1, 2, 3])]
)
def test_the_row_of_pots_is_this_one_and_the_next(helper, cast, pots, number, near):
    pot = builders.run_with_pots(cast.maker, pots=pots).batches.get(number=number)
    page = helper.get(address(pot, "sink"))
    assert [each.number for each in page.context["near"]] == near
    assert page.context["others"] == pots - len(near)


def test_of_four_jars_that_are_done_each_stands_in_the_row(helper, cast):
    run = builders.run_with_pots(cast.maker, pots=4)
    for pot in run.batches.all():
        builders.finish(cast.maker, pot)
    page = helper.get(address(pot, "sink"))
    assert len(page.context["near"]) == 4 and '<details><summary class="potbox"' not in page.content.decode()


@pytest.mark.parametrize(
    "name", ["bottle", "powder", "other", "water", "heat", "reading", "note", "photo", "talk", "work"]
)
def test_jars_are_called_jars_on_every_page(helper, cast, name):
    jars = builders.make_vessel("Preserving jars", kind="jar", how_many=8)
    run = builders.run_with_pots(cast.maker, pots=6, method="jar")
    run.batches.update(vessel=jars)
    page = helper.get(address(run.batches.first(), "entry", name)).content.decode()
    assert "All 6 jars" in page and "All 6 pots" not in page


def test_jars_are_called_jars_when_all_have_had_it(helper, cast, shelf):
    run = builders.run_with_pots(cast.maker, pots=2, lines=[(shelf["red"], 5)])
    run.batches.update(vessel=builders.make_vessel("Preserving jars", kind="jar", how_many=8))
    pot = run.batches.first()
    assert "Both jars, this much in each" in helper.get(address(pot, "entry", "water")).content.decode()
    page = helper.post(address(pot), {"kind": "tick", "id": uuid4(), "line": next_line(pot)}, follow=True)
    assert "in each of 2 jars" in page.content.decode()


@pytest.mark.parametrize(("lot", "first"), [("red", "mL"), ("soot", "g")])
def test_another_amount_of_a_planned_step_names_its_unit(helper, cast, shelf, lot, first):
    pot = builders.run_with_pots(cast.maker, pots=1, lines=[(shelf[lot], 5)]).batches.get()
    line = pot.plan.get()
    page = helper.get(address(pot, "entry", "tick") + f"?line={line.pk}").content.decode()
    units = re.findall(r'name="amount_unit" value="(\w+)"( checked)?', page)
    assert units[0] == (first, " checked") and len(units) == 4 and "as listed" not in page
    answer = helper.post(
        address(pot), {"kind": "tick", "id": uuid4(), "line": line.pk, "amount": "7", "amount_unit": first}
    )
    assert answer.status_code == 302 and str(Addition.objects.get().amount) == "7.000"


def test_a_step_is_chosen_and_logged_with_its_heat(helper, cast):
    pot = builders.one_pot(cast.maker)
    page = helper.get(address(pot, "entry", "heat")).content.decode()
    assert 'type="radio" name="step" value="heat"' in page and page.count('class="button main"') == 1
    refused = helper.post(
        address(pot), {"kind": "step", "id": uuid4(), "page": "heat", "step": "", "temperature": "85"}
    )
    assert refused.status_code == 422 and "Choose what was done." in refused.content.decode()
    assert 'value="85"' in refused.content.decode()


def test_the_step_says_its_depth_with_the_digits_of_a_scale(helper, cast, shelf):
    line = builders.plan_line(shelf["red"], 47, dye_g=Decimal("0.47"))
    run = Run.plan(by=cast.maker, day=builders.DAY, pots=[{"fibre_g": Decimal(123), "lines": [line]}])
    page = helper.get(address(run.batches.get(), "sink")).content.decode()
    assert "0.38\N{NO-BREAK SPACE}% of the yarn’s weight" in page


def test_a_planned_powder_says_its_lot_and_how_strong_it_was_counted(helper, cast):
    weak = builders.receive_powder(cast.maker, number="B-12", strength_pct=Decimal(85))
    lines = [builders.plan_line(weak, "1.176", dye_g=Decimal("0.9996")), builders.plan_line(weak, 1, dye_g=Decimal(1))]
    run = Run.plan(by=cast.maker, day=builders.DAY, pots=[{"fibre_g": Decimal(100), "lines": lines}])
    pot = run.batches.get()
    page = helper.get(address(pot, "sink")).content.decode()
    assert "lot B-12, counted as 85\N{NO-BREAK SPACE}% strong" in page
    assert page.count("counted as") == 1  # of the powder as strong as the standard nothing is said


def test_the_sink_shows_what_is_in_this_pot_so_far(helper, cast, pot, shelf):
    other = pot.run.batches.exclude(pk=pot.pk).get()
    builders.addition(cast.helper, pot, shelf["red"], 40)
    assert "In this pot so far: " in helper.get(address(pot, "sink")).content.decode()
    assert "In this pot so far: " not in helper.get(address(other, "sink")).content.decode()


def test_a_strike_offers_this_pot_or_all(helper, pot):
    helper.post(address(pot), {"kind": "tick", "id": uuid4(), "line": next_line(pot), "pots": "all"})
    page = helper.get(address(pot, "strike", pot.entries.get().pk)).content.decode()
    assert re.search(r'value="this" data-once>Only in Pot 1<', page) and "In both pots<" in page
    assert "It may stay empty" in page


def test_a_refused_touch_of_the_sink_comes_back_as_an_error(helper, pot):
    said = {"kind": "tick", "id": uuid4(), "line": next_line(pot), "amount": "1,000"}
    helper.post(address(pot), said | {"line": "999999"})
    page = helper.post(address(pot), {"kind": "done_to_here", "id": uuid4(), "line": "999999"}, follow=True)
    assert "<title>Error: " in page.content.decode() and "autofocus" in page.content.decode()


def test_helpers_may_not_strike_anothers_line(helper, cast, pot):
    said = builders.words(cast.maker, pot)
    assert address(pot, "strike", said.pk) not in helper.get(address(pot, "sink")).content.decode()
    assert helper.get(address(pot, "strike", said.pk)).status_code == 403


def test_powder_comes_with_its_caution(helper, pot):
    for step in ("red", "heat"):
        page = helper.get(address(pot, "sink")).content.decode()
        shown = re.sub(r"<template.*?</template>", "", page, flags=re.DOTALL)  # what comes after stands in readiness
        assert "hazard to the lungs" not in shown, step
        helper.post(address(pot), {"kind": "tick", "id": uuid4(), "line": next_line(pot)})
    assert "hazard to the lungs" in helper.get(address(pot, "sink")).content.decode()
    assert "hazard to the lungs" in helper.get(address(pot, "entry", "powder")).content.decode()


def next_line(pot):
    return pot.plan.with_done().filter(done=False).first().pk


def test_jars_and_microwaves_come_with_their_cautions(helper, cast, pot):
    pot.vessel = builders.make_vessel(kind="jar", heater="microwave")
    pot.save()
    page = helper.get(address(pot, "sink")).content.decode()
    assert "sealed jar in heat" in page and "from a microwave" in page


def test_queries_do_not_grow_with_the_log(helper, cast, pot, shelf, django_assert_max_num_queries):
    def fill(count):
        for _ in range(count):
            builders.addition(cast.helper, pot, shelf["red"], 1)
            builders.words(cast.maker, pot)

    fill(1)
    with django_assert_max_num_queries(100) as few:
        helper.get(address(pot, "sink"))
    fill(9)
    with django_assert_max_num_queries(len(few)):
        helper.get(address(pot, "sink"))


def test_queries_of_a_list_do_not_grow_with_the_shelf(helper, cast, pot, django_assert_max_num_queries):
    helper.get(address(pot, "entry", "bottle"))
    with django_assert_max_num_queries(100) as few:
        helper.get(address(pot, "entry", "bottle"))
    for _ in range(6):
        builders.bottle(cast.maker)
    with django_assert_max_num_queries(len(few)):
        helper.get(address(pot, "entry", "bottle"))


def test_bottles_show_what_is_left_the_last_used_first(helper, cast, pot, shelf):
    other = builders.bottle(cast.maker, volume=100)
    builders.addition(cast.helper, builders.one_pot(cast.maker), other, 30)
    page = helper.get(address(pot, "entry", "bottle")).content.decode()
    assert "250\N{NO-BREAK SPACE}mL left" in page and "70\N{NO-BREAK SPACE}mL left" in page
    planned, used = (page.index(f'value="{lot.pk}"') for lot in (shelf["red"], other))
    assert planned < used


def test_no_cost_is_shown_at_the_sink(helper, pot):
    pages = [address(pot, "sink")] + [address(pot, "entry", name) for name in PAGES if name != "tick"]
    for page in pages:
        assert "€" not in helper.get(page).content.decode(), page


@pytest.mark.parametrize("name", [name for name in PAGES if name != "tick"])
def test_each_thing_has_its_page(helper, pot, name):
    page = helper.get(address(pot, "entry", name))
    assert page.status_code == 200 and hidden(page, "kind") == PAGES[name].kind


def test_another_amount_begins_from_the_plan(helper, pot, shelf):
    page = helper.get(f"{address(pot, 'entry', 'tick')}?line={pot.plan.first().pk}").content.decode()
    assert re.search(rf'value="{shelf["red"].pk}"[^>]* checked', page) and "The plan says" in page


@pytest.mark.parametrize("line", ["", "x", "99999999999999999999", "²"])
def test_another_amount_of_no_line_goes_back_to_the_sink(helper, pot, line):
    assert helper.get(f"{address(pot, 'entry', 'tick')}?line={line}").url == address(pot, "sink")


def test_a_photo_is_kept_and_shown(helper, pot):
    held = io.BytesIO()
    Image.new("RGB", (60, 80), "#9c3122").save(held, "JPEG")
    sent = {"kind": "photo", "id": uuid4(), "photos_taken": SimpleUploadedFile("a.jpg", held.getvalue())}
    page = helper.post(address(pot), sent, follow=True).content.decode()
    assert Entry.objects.get(kind="photo").photo.stage == "before" and "<img" in page


# Two doors, one form: what a page sends and what a machine sends come to the same

SAID = [
    ({"kind": "bottle", "lot": "{red}", "amount": "5,5"}, 201),
    ({"kind": "bottle", "lot": "{red}", "amount": "1,250"}, 422),
    ({"kind": "bottle", "lot": "{vinegar}", "amount": "5"}, 422),
    ({"kind": "bottle", "amount": "5"}, 422),
    ({"kind": "powder", "lot": "{soot}", "how": "sprinkled", "taps": "3"}, 201),
    ({"kind": "powder", "lot": "{soot}", "amount": "-1"}, 422),
    ({"kind": "other", "lot": "{vinegar}", "amount": "1", "amount_unit": "metric_tbsp"}, 201),
    ({"kind": "other", "what": "Plum", "amount": "1"}, 422),
    ({"kind": "water", "amount": "6"}, 201),
    ({"kind": "reading", "temperature": "85", "ph": "4.5"}, 201),
    ({"kind": "reading"}, 422),
    ({"kind": "step", "step": "heat", "minutes": "30"}, 201),
    ({"kind": "move", "where": "cooling"}, 201),
    ({"kind": "words", "note": "Steam", "pots": "all"}, 201),
    ({"kind": "work", "minutes": "20"}, 201),
    ({"kind": "check", "what": "cloth", "result": "none"}, 201),
    ({"kind": "check", "what": "cloth"}, 422),
    ({"kind": "tick", "line": "{line}"}, 201),
    ({"kind": "done_to_here", "line": "{line}"}, 201),
    ({"kind": "strike", "target": "{own}", "reason": "Wrong pot"}, 201),
    ({"kind": "strike", "target": "{own}"}, 422),
    ({"kind": "strike", "target": "{others}", "reason": "no"}, 403),
    ({"kind": "words", "note": "Steam", "when": "next week"}, 422),
]


@pytest.mark.parametrize(("said", "status"), SAID, ids=[f"{said['kind']}-{status}" for said, status in SAID])
def test_both_doors_answer_alike(helper, cast, pot, shelf, said, status):
    keys = {name: lot.pk for name, lot in shelf.items()} | {"line": pot.plan.first().pk}
    keys |= {"own": builders.words(cast.helper, pot).pk, "others": builders.words(cast.maker, pot).pk}
    sent = {name: value.format(**keys) for name, value in said.items()} | {"id": str(uuid4())}
    by_page, kept_by_page = tried(lambda: helper.post(address(pot), sent))
    by_machine, kept_by_machine = tried(lambda: as_machine(helper, pot, sent))
    assert by_machine.status_code == status
    assert by_page.status_code == (302 if status == 201 else status)
    assert kept_by_machine == kept_by_page and bool(kept_by_page) == (status == 201)
    page = html.unescape(by_page.content.decode())
    assert all(sentence in page for found in by_machine.json()["errors"].values() for sentence in found)


def tried(send):
    """The answer, and what it put into the log; then all is as before."""
    before = set(Entry.objects.values_list("pk", flat=True))
    with transaction.atomic():
        answer = send()
        details = ("addition__amount", "reading__ph", "step__kind", "move__where", "work__minutes", "strike__target")
        kept = list(Entry.objects.exclude(pk__in=before).order_by("pk").values_list("pk", "kind", "digest", *details))
        transaction.set_rollback(True)
    return answer, kept


def test_a_machine_is_told_the_id_and_what_became_of_it(helper, pot):
    said = {"kind": "words", "id": str(uuid4()), "note": "Steam"}
    first, again = as_machine(helper, pot, said), as_machine(helper, pot, said)
    assert (first.status_code, first.json()) == (201, {"id": said["id"], "state": "saved", "errors": {}})
    assert (again.status_code, again.json()) == (200, {"id": said["id"], "state": "already", "errors": {}})
    other = as_machine(helper, pot, said | {"note": "No steam"})
    assert (other.status_code, other.json()["state"]) == (409, "clash")


def test_a_page_and_a_machine_that_send_the_same_store_it_once(helper, pot):
    said = {"kind": "reading", "id": str(uuid4()), "ph": "4.5", "temperature": "85", "temperature_unit": "degC"}
    helper.post(address(pot), said)
    as_numbers = said | {"ph": 4.5, "temperature": 85}
    assert as_machine(helper, pot, as_numbers).json()["state"] == "already"


@pytest.mark.parametrize("body", ["[]", "3", '"x"', "{", "null", "[" * 5000])
def test_a_machine_that_sends_no_object_is_told_so(helper, pot, body):
    answer = helper.post(address(pot), body, content_type="application/json", headers={"Accept": "application/json"})
    assert answer.status_code == 400 and answer.json()["errors"]


def test_machines_are_never_redirected(client_of, cast, pot):
    said = {"kind": "words", "id": str(uuid4()), "note": "Steam"}
    assert as_machine(client_of(None), pot, said).status_code == 401
    assert as_machine(client_of(cast.viewer), pot, said).status_code == 403
    pot.pk = 999_999
    assert as_machine(client_of(cast.helper), pot, said).status_code == 404
    assert not Entry.objects.exists()


def test_a_fragment_is_answered_with_a_fragment(helper, pot):
    headers = {"HX-Request": "true"}
    saved = helper.post(address(pot), {"kind": "words", "id": uuid4(), "note": "Steam"}, headers=headers)
    wrong = helper.post(address(pot), {"kind": "words", "id": uuid4()}, headers=headers)
    assert saved.status_code == 201 and "Steam" in saved.content.decode() and "<html" not in saved.content.decode()
    assert wrong.status_code == 422 and "Fill in" in wrong.content.decode()


def test_a_page_sent_again_with_something_else_keeps_what_was_typed(helper, pot):
    said = {"kind": "words", "id": str(uuid4()), "note": "Steam", "page": "note"}
    helper.post(address(pot), said)
    answer = helper.post(address(pot), said | {"note": "No steam at all"})
    page = answer.content.decode()
    assert answer.status_code == 409 and "No steam at all" in page and hidden(answer, "id") != said["id"]


def test_viewers_do_not_get_in(client_of, cast, pot):
    viewer = client_of(cast.viewer)
    assert viewer.get(address(pot, "sink")).status_code == 403
    assert viewer.post(address(pot), {"kind": "words", "id": uuid4(), "note": "x"}).status_code == 403


# Bad input

BAD = {
    "empty": "",
    "negative": "-5",
    "absurd": "99999999999999999999",
    "wrong unit": "5 furlongs",
    "ambiguous": "1,000",
    "emoji": "\N{SNOWMAN}\N{GRINNING FACE}",
    "long": "x" * 10_000,
    "nul": "a\x00b",
    "surrogate": "\ud800".encode("utf-8", "surrogatepass").decode("utf-8", "replace"),
    "markup": "<script>alert(1)</script>",
    "fraction": "1/0",
}


@pytest.mark.parametrize("bad", BAD.values(), ids=BAD)
@pytest.mark.parametrize("kind", KINDS)
def test_junk_in_every_field_is_never_a_500(helper, cast, pot, kind, bad):
    fields = KINDS[kind].form(None, batch=pot, person=cast.helper).fields
    junk = {name: bad for name in [*fields, "amount_unit", "temperature_unit"] if name not in ("kind", "photos")}
    for sent in (junk, junk | {"id": str(uuid4())}):
        page = helper.post(address(pot), sent | {"kind": kind})
        assert page.status_code in (302, 409, 422)
        assert as_machine(helper, pot, sent | {"kind": kind}).status_code in (200, 201, 409, 422)


@pytest.mark.parametrize("bad", [BAD[name] for name in ("ambiguous", "wrong unit", "emoji", "markup", "negative")])
def test_what_was_typed_stays_in_the_box(helper, pot, shelf, bad):
    sent = {
        "kind": "bottle",
        "id": uuid4(),
        "lot": shelf["red"].pk,
        "amount": bad,
        "note": "Kept words",
        "page": "bottle",
    }
    page = helper.post(address(pot), sent).content.decode()
    escaped = bad.replace("<", "&lt;").replace(">", "&gt;")
    assert f'value="{escaped}"' in page and "Kept words" in page and "<title>Error: " in page
    assert re.search(rf'value="{shelf["red"].pk}"[^>]* checked', page)


def test_the_page_of_another_pots_line_is_not_found(helper, cast, pot):
    elsewhere = builders.words(cast.helper, builders.one_pot(cast.maker))
    assert helper.get(address(pot, "strike", elsewhere.pk)).status_code == 404


def test_a_pot_that_is_not_there(helper, pot):
    pot.pk = 999_999
    assert helper.get(address(pot, "sink")).status_code == 404
    assert helper.post(address(pot), {"kind": "words", "id": uuid4(), "note": "x"}).status_code == 302


def test_an_unknown_page_goes_back_to_the_sink(helper, pot):
    assert helper.get(address(pot, "entry", "telegram")).url == address(pot, "sink")


def test_powder_by_a_spoon_goes_in_from_the_page(helper, pot, shelf, cast):
    spoon = Measure.objects.create(name="Bone spoon")
    page = helper.get(address(pot, "entry", "powder"))
    assert "Bone spoon" in page.content.decode() and "not weighed with any dye yet" in page.content.decode()
    said = {"kind": "powder", "page": "powder", "lot": shelf["soot"].pk, "measure": spoon.pk, "fillings": "1/2"}
    after = helper.post(address(pot), said | {"id": hidden(page, "id")}, follow=True).content.decode()
    assert "was never weighed with" in after and "Weigh 10 fillings of it" in after
    wrong = helper.post(address(pot), said | {"id": str(uuid4()), "fillings": "a heap"})
    assert wrong.status_code == 422 and "a heap" in wrong.content.decode()
    MeasureWeighing.objects.create(
        measure=spoon, dye=shelf["soot"].dye, fillings=10, grams=2, at=builders.NOON, by=cast.maker
    )
    assert f"{shelf['soot'].dye} 0.2" in helper.get(address(pot, "entry", "powder")).content.decode()
    after = helper.post(address(pot), said | {"id": str(uuid4()), "fillings": "2"}, follow=True).content.decode()
    assert "× Bone spoon, about 0.4" in after and "was never weighed" not in after


def test_a_studio_without_spoons_sees_no_list_of_them(helper, pot):
    page = helper.get(address(pot, "entry", "powder")).content.decode()
    assert 'name="measure"' not in page and 'name="taps"' in page
