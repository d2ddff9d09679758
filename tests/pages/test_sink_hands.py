"""What wet hands do most, each with one touch: undo, the same again, as usual, a skein done, so long ago."""

import gzip
import io
import re
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone
from django.utils.html import strip_tags
from PIL import Image

from batches.models import Addition, Entry, Run, SkeinDone
from recipes.house import USUAL_PLACES
from recipes.models import HouseStep, Method, Place
from tests import builders


@pytest.fixture
def helper(cast, client_of):
    return client_of(cast.helper)


@pytest.fixture
def red(cast):
    return builders.bottle(cast.maker)


@pytest.fixture
def jars(cast):
    """Four jars of a started run, nothing planned."""
    return list(builders.run_with_pots(cast.maker, pots=4, skeins=1, method="jar").batches.order_by("number"))


def address(pot, name="intake", *args):
    return reverse(f"batches:{name}", args=[pot.pk, *args])


def said(client, pot, kind, **fields):
    return client.post(address(pot), {"kind": kind, "id": uuid4(), **fields}, follow=True)


def page_of(client, pot, name="sink", *args, query=""):
    page = client.get(address(pot, name, *args) + query).content.decode()
    return re.sub(r"<template.*?</template>", "", page, flags=re.S)  # what only a script would show


def form_with(page, words):
    """The fields of the page's form whose button says so: (address, {name: value or values})."""
    for form in re.findall(r"<form.*?</form>", page, re.S):
        if re.sub(r"<[^>]+>", "", form).find(words) >= 0:
            fields = {}
            for name, value in re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form):
                fields.setdefault(name, []).append(value)
            return re.search(r'action="([^"]+)"', form)[1], fields
    raise LookupError(words)


def press(client, page, words, **more):
    action, fields = form_with(page, words)
    return client.post(action, fields | more, follow=True)


# The same again, in the next pot


def test_the_same_again_goes_into_the_next_jar_and_moves_on_to_it(helper, jars, red):
    said(helper, jars[0], "bottle", lot=red.pk, amount="1/2", amount_unit="metric_tbsp", place="top layer")
    page = page_of(helper, jars[0])
    assert "Same again: 7.5\N{NO-BREAK SPACE}mL" in page and "<b>Pot 2</b>" in page
    answer = press(helper, page, "Same again")
    assert answer.redirect_chain[-1][0] == address(jars[1], "sink")
    first, second = Addition.objects.order_by("entry__batch__number")
    same = ("lot_id", "amount", "typed", "typed_unit", "place", "how")
    assert [getattr(first, name) for name in same] == [getattr(second, name) for name in same]
    assert second.entry.batch == jars[1] and second.movement_id != first.movement_id
    assert "<b>Pot 3</b>" in answer.content.decode()


def test_all_that_was_done_to_a_jar_alone_is_said_again_at_once(helper, cast, jars, red):
    soot = builders.receive_powder(cast.maker)
    said(helper, jars[0], "water", amount="700", pots="all")
    said(helper, jars[0], "bottle", lot=red.pk, amount="5")
    said(helper, jars[0], "powder", lot=soot.pk, taps="4", how="sprinkled")
    answer = press(helper, page_of(helper, jars[0]), "Same again")
    told = jars[1].entries.filter(kind="addition").order_by("received_at", "pk").exclude(addition__other="water")
    assert {entry.addition.lot_id for entry in told} == {red.pk, soot.pk} and len({e.together for e in told}) == 1
    assert told.get(addition__lot=soot).addition.taps == 4
    assert "<b>Pot 3</b>" in answer.content.decode().split("Same again")[1][:200]
    again = press(helper, answer.content.decode(), "Undo")
    assert "2 lines struck out." in again.content.decode()


@pytest.mark.parametrize(
    ("kind", "fields"),
    [
        ("reading", {"temperature": "71", "ph": "4.5"}),
        ("step", {"step": "heat", "minutes": "20"}),
        ("move", {"where": "cooling"}),
        ("other", {"what": "Vinegar water", "amount": "3", "amount_unit": "mL"}),
    ],
)
def test_other_things_are_said_again_too(helper, jars, kind, fields):
    said(helper, jars[2], kind, **fields)
    press(helper, page_of(helper, jars[2]), "Same again")
    first, second = Entry.objects.with_details().in_order()
    assert (first.batch, second.batch) == (jars[2], jars[3])
    columns = [field.name for field in type(first.detail)._meta.fields if field.name not in ("entry", "bath")]
    assert [getattr(first.detail, name) for name in columns] == [getattr(second.detail, name) for name in columns]


def test_nothing_is_offered_again_where_it_was_planned_or_for_all_or_in_the_last_jar(helper, cast, jars, red):
    said(helper, jars[0], "bottle", lot=red.pk, amount="5", pots="all")
    assert "Same again" not in page_of(helper, jars[0])
    said(helper, jars[3], "bottle", lot=red.pk, amount="5")
    assert "Same again" not in page_of(helper, jars[3])
    planned = builders.run_with_pots(cast.maker, pots=2, lines=[(red, 5)]).batches.order_by("number").first()
    said(helper, planned, "tick", line=planned.plan.get().pk, pots="this")
    assert "Same again" not in page_of(helper, planned)


def test_a_phone_without_a_network_knows_only_the_number_it_was_sent_under(helper, jars, red):
    touch = uuid4()
    for amount in ("5", "7"):
        said(helper, jars[0], "bottle", lot=red.pk, amount=amount)
    helper.post(address(jars[1]), {"kind": "again", "id": touch, "source": [e.pk for e in jars[0].entries.all()]})
    helper.post(address(jars[2]), {"kind": "again", "id": uuid4(), "source": touch})
    assert sorted(jars[2].entries.values_list("addition__amount", flat=True)) == [5, 7]


def test_what_was_done_to_all_jars_is_not_the_same_again(helper, jars, red):
    touch = uuid4()
    helper.post(address(jars[0]), {"kind": "bottle", "id": touch, "lot": red.pk, "amount": "5", "pots": "all"})
    page = said(helper, jars[0], "again", source=touch).content.decode()
    assert "log it here as a line of its own" in page and Entry.objects.count() == 4


def test_a_jar_that_has_had_it_is_passed_over(helper, jars, red):
    for jar in (jars[0], jars[1]):
        said(helper, jar, "bottle", lot=red.pk, amount="5")
    assert "<b>Pot 3</b>" in page_of(helper, jars[0]).split("Same again")[1][:400]


def test_the_same_again_of_another_run_or_of_nothing_is_refused(helper, cast, jars, red):
    elsewhere = builders.one_pot(cast.maker)
    said(helper, elsewhere, "bottle", lot=red.pk, amount="5")
    for source in (Entry.objects.get().pk, uuid4(), "x"):
        answer = helper.post(address(jars[0]), {"kind": "again", "id": uuid4(), "source": source}, follow=True)
        assert "log it here as a line of its own" in answer.content.decode().replace("&#x27;", "'")
    assert not jars[0].entries.exists()


# Undo


def test_one_undo_takes_the_whole_touch_back(helper, jars, red):
    before = builders.on_hand(red)
    said(helper, jars[1], "bottle", lot=red.pk, amount="5", pots="all")
    page = page_of(helper, jars[1])
    assert "in each of 4 pots" in page
    answer = press(helper, page, "Undo")
    assert "4 lines struck out." in answer.content.decode() and builders.on_hand(red) == before
    assert not Entry.objects.standing().exists()


# As usual


@pytest.fixture
def warm_box():
    return HouseStep.objects.create(name="Warm box", kind="hold", method="jar", temperature_c=70, minutes=90)


def test_a_house_step_is_one_touch_and_reads_as_usual(helper, jars, warm_box):
    answer = press(helper, page_of(helper, jars[0]), "Warm box")
    step = jars[0].entries.get().step
    assert (step.house_step, step.kind, step.temperature_c, step.minutes) == (warm_box, "hold", 70, 90)
    assert "Warm box as usual, 70\N{NO-BREAK SPACE}°C, 90\N{NO-BREAK SPACE}min" in answer.content.decode()


def test_house_steps_of_another_way_of_dyeing_and_retired_ones_are_not_offered(helper, jars, warm_box):
    HouseStep.objects.create(name="Steam bundle", kind="hold", method="painted")
    HouseStep.objects.create(name="Old way", kind="soak", retired=True)
    HouseStep.objects.create(name="Presoak", kind="soak")
    for page in (page_of(helper, jars[0]), page_of(helper, jars[0], "entry", "heat")):
        assert "Warm box" in page and "Presoak" in page and "Steam bundle" not in page and "Old way" not in page


# A painted skein


@pytest.fixture
def table(cast):
    return builders.one_pot(cast.maker, skeins=3, method="painted")


def photo(name="a.jpg", colour="#9c3122"):
    held = io.BytesIO()
    Image.new("RGB", (60, 80), colour).save(held, "JPEG")
    return SimpleUploadedFile(name, held.getvalue())


def test_skeins_are_counted_on_by_one_touch_each(helper, table):
    page = page_of(helper, table)
    assert "Skein 1 of 3" in strip_tags(page)
    for number in (1, 2, 3):
        page = press(helper, page, f"Skein {number} done").content.decode()
    assert list(SkeinDone.objects.order_by("number").values_list("number", flat=True)) == [1, 2, 3]
    assert '<h2 id="skein">All 3 skeins are done' in page


def test_a_skein_taken_back_is_the_next_one_again(helper, table):
    page = press(helper, page_of(helper, table), "Skein 1 done").content.decode()
    assert "Skein 2 of 3" in strip_tags(page)
    assert "Skein 1 of 3" in strip_tags(press(helper, page, "Undo").content.decode())


def test_its_photo_is_about_the_skein_and_both_are_taken_back_together(helper, table):
    answer = press(helper, page_of(helper, table), "Skein 1 done", photos_taken=photo())
    page = answer.content.decode()
    assert "Logged: Skein 1 done, with its photo." in page
    kept = Entry.objects.get(kind="photo").photo
    assert kept.about.kind == "skein" and kept.about.skein_done.number == 1
    assert "2 lines struck out." in press(helper, page, "Undo").content.decode()


def test_a_skein_is_done_whatever_is_wrong_with_its_photo(helper, table):
    wrong = SimpleUploadedFile("a.jpg", b"not a picture")
    page = press(helper, page_of(helper, table), "Skein 1 done", photos_taken=wrong).content.decode()
    assert SkeinDone.objects.get().number == 1 and not Entry.objects.filter(kind="photo").exists()
    assert "Logged: Skein 1 done." in page and 'class="red"' in page


def test_a_painted_run_is_soaked_before_its_skeins_come_first(helper, cast, red):
    lines = [builders.plan_line(step="soak", words="Soak"), builders.plan_line(red, 40, how="painted")]
    yarn = builders.receive_yarn(cast.maker)
    told = {"fibre_g": yarn.skein_g * 3, "yarns": [builders.shelf_yarn(yarn, 3)], "lines": lines}
    run = Run.plan(by=cast.maker, day=builders.DAY, pots=[told], method="painted")
    run.start(by=cast.maker)
    pot = run.batches.get()
    page = page_of(helper, pot)
    assert page.index('id="next"') < page.index('id="skein"')
    said(helper, pot, "tick", line=pot.plan.order_by("position").first().pk)
    page = page_of(helper, pot)
    assert page.index('id="skein"') < page.index('id="next"')


def test_no_skein_is_counted_in_a_pot(helper, jars):
    assert "Skein 1" not in page_of(helper, jars[0])


# When


@pytest.mark.parametrize(("ago", "minutes"), [("5", 5), ("15", 15), ("30", 30)])
def test_so_long_ago_is_counted_back_by_our_clock(helper, jars, ago, minutes):
    said(helper, jars[0], "words", note="Steam", ago=ago)
    entry = Entry.objects.get()
    off = timezone.now() - timedelta(minutes=minutes) - entry.at
    assert abs(off) < timedelta(minutes=1) and entry.time_from == "said"


def test_so_long_ago_counts_from_the_touch_however_late_it_is_sent(helper, jars):
    touched = timezone.now() - timedelta(hours=3)
    said(helper, jars[0], "words", note="Steam", ago="15", happened_at=touched, sent_at=timezone.now())
    assert Entry.objects.get().at == touched - timedelta(minutes=15)


def test_so_long_ago_is_right_on_a_phone_whose_clock_is_wrong(helper, jars):
    off = timedelta(hours=2)
    touched = timezone.now() - timedelta(minutes=40) + off
    said(helper, jars[0], "words", note="Steam", ago="5", happened_at=touched, sent_at=timezone.now() + off)
    assert abs(timezone.now() - timedelta(minutes=45) - Entry.objects.get().at) < timedelta(minutes=1)


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"ago": "set"}, "Write when it was, or choose “Now”."),
        ({"ago": "5", "when": "2026-03-14T11:00"}, "Choose “Set it” for this time"),
        ({"ago": "7"}, "is no longer there"),
    ],
)
def test_two_times_or_none_are_asked_about(helper, jars, fields, sentence):
    page = helper.post(address(jars[0]), {"kind": "words", "id": uuid4(), "note": "Steam", "page": "note"} | fields)
    assert page.status_code == 422 and sentence in page.content.decode()


def test_every_page_of_the_sink_says_when(helper, jars):
    for name in ("bottle", "powder", "other", "water", "heat", "reading", "clear", "move", "note", "photo", "work"):
        page = page_of(helper, jars[0], "entry", name)
        assert page.count('name="ago"') >= 4 and re.search(r'name="ago" value=""[^>]*checked', page), name


# Where, and what was used last


def test_dye_leads_to_where_it_was_logged_last(helper, cast, jars, red):
    pot = builders.one_pot(cast.maker)
    assert address(pot, "entry", "bottle") in page_of(helper, pot)
    assert address(jars[0], "entry", "powder") in page_of(helper, jars[0])  # into jars it is sprinkled
    said(helper, jars[1], "bottle", lot=red.pk, amount="5")
    assert address(jars[0], "entry", "bottle") in page_of(helper, jars[0])


def test_places_are_those_of_the_method_unless_the_studio_has_its_own(helper, jars, red):
    page = page_of(helper, jars[0], "entry", "bottle")
    assert all(f'value="{place}"' in page for place in USUAL_PLACES[Method.JAR]) and 'value="first third"' not in page
    Place.objects.create(words="by the lid", method="jar")
    Place.objects.create(words="at the fold", method="painted")
    page = page_of(helper, jars[0], "entry", "bottle")
    assert 'value="by the lid"' in page and 'value="top layer"' not in page and "at the fold" not in page


def test_what_was_used_last_stands_first_and_is_chosen(helper, cast, jars, red):
    other = builders.bottle(cast.maker)
    said(helper, jars[0], "bottle", lot=other.pk, amount="2", amount_unit="metric_tsp", place="by the lid")
    page = page_of(helper, jars[1], "entry", "bottle")
    lots = re.findall(r'name="lot" value="(\d+)"[^>]*?( checked)?>', page)
    assert lots[0] == (str(other.pk), " checked") and lots[1][0] == str(red.pk)
    assert re.search(r'value="metric_tsp" checked', page)
    assert re.search(r'name="place_pick" value="([^"]+)"', page)[1] == "by the lid"


def test_amounts_said_before_are_one_touch(helper, jars, red):
    for amount in ("5", "7.5", "5", "1/2"):
        said(helper, jars[0], "bottle", lot=red.pk, amount=amount)
    page = page_of(helper, jars[1], "entry", "bottle")
    touched = re.findall(r'name="quick" value="([^"]+)"', page)
    assert touched == ["1/2|mL", "5|mL", "7.5|mL"]
    said(helper, jars[1], "bottle", lot=red.pk, quick="1/2|mL")
    kept = jars[1].entries.get().addition
    assert (kept.amount, kept.typed, kept.typed_unit) == (Decimal("0.5"), "1/2", "mL")


def test_an_amount_written_and_another_touched_is_asked_about(helper, jars, red):
    sent = {"kind": "bottle", "id": uuid4(), "lot": red.pk, "amount": "5", "quick": "7|mL"}
    answer = helper.post(address(jars[0]), sent)
    assert answer.status_code == 422 and "One amount is written" in answer.content.decode()


# All pots of a run on one page


def test_what_is_touched_on_the_page_of_all_happens_to_each(helper, jars, warm_box):
    page = page_of(helper, jars[0], "sink-all")
    assert "All 4 pots" in page and "?pots=all" in page
    answer = press(helper, page, "Warm box")
    assert Entry.objects.filter(kind="step").count() == 4
    assert answer.redirect_chain[-1][0] == address(jars[0], "sink-all")
    assert "in each of 4 pots" in answer.content.decode()


def test_an_entry_page_that_came_from_all_begins_with_all_and_goes_back(helper, jars):
    page = page_of(helper, jars[0], "entry", "note", query="?pots=all")
    assert re.search(r'name="pots" value="all"[^>]*checked', page) and 'name="back" value="all"' in page
    answer = said(helper, jars[0], "words", note="Steam", pots="all", back="all")
    assert answer.redirect_chain[-1][0] == address(jars[0], "sink-all")


def test_the_planned_step_of_all_pots_is_one_touch(helper, cast, red):
    run = builders.run_with_pots(cast.maker, pots=2, lines=[(red, 40)])
    pot = run.batches.order_by("number").first()
    page = page_of(helper, pot, "sink-all")
    assert "Log 40\N{NO-BREAK SPACE}mL in each" in page
    press(helper, page, "Log 40", pots="all")
    assert Addition.objects.count() == 2 and builders.on_hand(red) == 170


def test_amounts_that_differ_from_pot_to_pot_are_each_shown_and_logged(helper, cast, red):
    pots = [{"fibre_g": 100, "lines": [builders.plan_line(red, amount)]} for amount in (40, 25)]
    run = Run.plan(by=cast.maker, day=builders.DAY, pots=pots)
    page = page_of(helper, run.batches.get(number=2), "sink-all")
    assert re.findall(r'<b class="num">(\d+)', page) == ["40", "25"]
    press(helper, page, "Log as planned in 2 pots", pots="all")
    assert list(Addition.objects.order_by("entry__batch__number").values_list("amount", flat=True)) == [40, 25]


def test_other_open_runs_are_one_touch_away(helper, cast, jars):
    other = builders.one_pot(cast.maker)
    over = builders.one_pot(cast.maker)
    over.run.abandon(why="Spilt", by=cast.maker)
    page = page_of(helper, jars[0])
    around = page[page.index('id="elsewhere"') :]
    assert address(other, "sink") in around and address(over, "sink") not in around


def test_queries_of_the_page_of_all_do_not_grow_with_pots_runs_or_log(
    helper, cast, jars, red, warm_box, django_assert_max_num_queries
):
    def fill():
        for jar in jars:
            builders.addition(cast.helper, jar, red, 1)
            said(helper, jar, "usual", house_step=warm_box.pk)
        builders.one_pot(cast.maker)

    fill()
    for name in ("sink-all", "sink"):
        with django_assert_max_num_queries(100) as few:
            helper.get(address(jars[0], name))
            most = len(few)
        fill()
        with django_assert_max_num_queries(most):
            helper.get(address(jars[0], name))


def test_a_sink_page_is_light(helper, cast, red):
    run = builders.run_with_pots(cast.maker, pots=8, skeins=1, lines=[(red, 5)] * 10)
    pot = run.batches.order_by("number").first()
    for _ in range(30):
        said(helper, pot, "bottle", lot=red.pk, amount="1", note="A few more drops on the left side of it.")
    for name in ("sink", "sink-all"):
        assert len(gzip.compress(page_of(helper, pot, name).encode())) < 14_000
