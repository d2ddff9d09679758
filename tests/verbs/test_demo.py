"""The demo studio's year: every ugly day is in it, by its rows and by the words of the run's page, and all tallies."""

import re
import tomllib
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.apps import apps
from django.core.checks import run_checks
from django.db import models, transaction
from django.test import Client
from django.utils import timezone
from lxml import html

from batches import costs, depth, timers
from batches.demo import days, drawing, people, pictures
from batches.demo.story import Story
from batches.models import (
    Addition,
    Batch,
    BatchYarn,
    Bath,
    Captured,
    Check,
    CostSheet,
    Entry,
    Finish,
    NotePut,
    Output,
    PhotoTaken,
    Run,
    StrengthTest,
    Strike,
    TagPrint,
    Verdict,
    tally,
)
from recipes.models import Ingredient, Recipe
from studio.models import Base, Content, Count, Lot, Person, ShareOut, Solution, Weighing
from tests.pictures import take
from tests.verbs.test_demo_days import dated_later

ZONE = ZoneInfo(people.TIME_ZONE)
NOW = datetime(2028, 2, 29, 14, 30, tzinfo=ZONE)  # a Tuesday
TODAY = NOW.date()
DRAWN = Path(drawing.__file__).with_name("pictures.toml")


@pytest.fixture(scope="module")
def year(django_db_setup, django_db_blocker):
    """The whole year, told once for this module, and undone after it."""
    with (
        django_db_blocker.unblock(),
        time_machine.travel(NOW, tick=False),
        transaction.atomic(),
        timezone.override(ZONE),
    ):
        Story(timezone.now()).tell()
        yield
        transaction.set_rollback(True)


@pytest.fixture(autouse=True)
def told(year, db):
    """Each test looks at the year as it was told."""


def run_of(name, number=0):
    """The first run of this name, or another by its place in time."""
    named = models.Q(colourway__name=name) | models.Q(title=name)
    return Run.objects.filter(named).order_by("pk")[number]


def page(run, who="Oda", more=""):
    """The words of a run's page, or of one below it."""
    browser = Client()
    browser.force_login(Person.objects.get(name=who), backend="django.contrib.auth.backends.ModelBackend")
    answer = browser.get(f"/runs/{run.code}/{more}")
    assert answer.status_code == 200
    main = html.fromstring(answer.content.decode()).xpath("//main")[0]
    return re.sub(r"\s+", " ", " ".join(main.itertext()))


def depth_words(run):
    batches = list(run.batches.all())
    return depth.depth_of_run(batches, depth.depths_of(batches)).words


def outputs(run):
    found = Output.objects.standing().filter(yarn__batch__run=run).order_by("pk")
    return [(output.grade, output.skeins) for output in found]


# --- the year as a whole


def test_about_thirty_runs_over_a_year_of_working_days():
    runs = Run.objects.filter(state__in=["finished", "abandoned"]).order_by("day")
    assert 28 <= runs.count() <= 36
    span = runs.last().day - runs.first().day
    assert timedelta(days=340) < span < timedelta(days=366)
    assert all(days.works_on(run.day) for run in runs)
    months = {(run.day.year, run.day.month) for run in runs}
    assert len(months) >= 12


def test_what_happened_happened_on_working_days():
    morning = Story(NOW).studio.days.this_morning() - timedelta(hours=1)
    at = Entry.objects.filter(at__lt=morning).values_list("at", flat=True)
    assert all(days.works_on(timezone.localtime(moment).date()) for moment in at)
    assert all(7 <= timezone.localtime(moment).hour <= 18 for moment in at)


def test_nothing_is_dated_later_than_now_but_what_is_to_be():
    assert not dated_later(NOW)
    assert {run.state for run in Run.objects.filter(day__gt=TODAY)} == {"planned"}


def test_no_rule_of_the_record_is_broken_not_even_softly():
    found = run_checks(tags=["records"], include_deployment_checks=True, databases=["default"])
    assert not found, "\n".join(map(str, found))


def test_in_and_out_tally_in_every_pot_that_is_done():
    off = [
        f"{batch}: {yarn} {went_in} in, {came_out} out"
        for batch in Batch.objects.filter(state__in=["finished", "abandoned"]).select_related("run")
        for yarn, went_in, came_out in tally(batch)
        if went_in != came_out
    ]
    assert not off


def test_a_second_telling_says_the_same():
    said = fingerprint()
    with transaction.atomic():
        for model in reversed(list(apps.get_models())):
            if model._meta.app_label in ("studio", "recipes", "batches"):
                # Past the guards of what is kept for ever, and only here: all this is undone below.
                models.QuerySet(model)._raw_delete(using="default")
        Story(timezone.now()).tell()
        again = fingerprint()
        transaction.set_rollback(True)
    assert said == again


def fingerprint():
    runs = list(Run.objects.order_by("code").values_list("code", "day", "title", "state"))
    columns = ("batch__run__code", "batch__number", "at", "received_at", "kind", "by__name", "words")
    entries = list(Entry.objects.order_by(*columns).values_list(*columns))
    lots = [
        (str(lot), lot.came_at, lot.on_hand) for lot in Lot.objects.named().with_on_hand().order_by("came_at", "pk")
    ]
    sheets = list(CostSheet.objects.order_by("frozen_at", "total_minor").values_list("total_minor", "frozen_at"))
    return runs, entries, lots, sheets


def test_every_role_has_its_person_and_all_but_the_guest_logged():
    assert dict(Person.objects.values_list("name", "role")) == people.PEOPLE
    assert set(Entry.objects.values_list("by__name", flat=True)) == {"Oda", "Wim", "Pia"}


# --- pictures


def test_every_photo_says_what_it_shows_and_no_wet_one_leads():
    photos = PhotoTaken.objects.select_related("entry")
    assert photos.count() > 45
    assert all(photo.entry.words for photo in photos)
    assert {photo.stage for photo in photos} >= {"before", "wet", "dry", "cloth", "paper"}
    for run in Run.objects.filter(cover__isnull=False):
        stages = set(photos.filter(entry__batch__run=run, picture=run.cover).values_list("stage", flat=True))
        assert stages == {"dry"}, run


def test_every_finished_run_is_led_by_a_photo_of_its_own():
    done = Run.objects.filter(state="finished")
    assert not [str(run) for run in done.filter(cover__isnull=True)]


def test_a_picture_that_nobody_drew_is_an_error():
    with pytest.raises(FileNotFoundError):
        pictures.developed("a-picture-that-nobody-drew")


# --- the ugly ones


def test_a_bath_is_used_again_and_the_rest_of_it_kept_in_a_bottle():
    steps, after = run_of("Cellar Steps"), run_of("Slack Water")
    bath = Bath.objects.get(batch__run=after)
    assert bath.continues.batch.run == steps and bath.kept_in.solution.kind == Solution.Kind.LIQUOR
    assert depth_words(after) == "carry-over unknown"
    said = page(after)
    assert f"from {steps.code}" in said and "kept as Cellar Steps liquor" in said and "carry-over unknown" in said


def test_kept_liquor_is_poured_from_its_bottle():
    run = run_of("Washing Line")
    liquor = Addition.objects.get(entry__batch__run=run, lot__solution__kind="liquor").lot
    assert liquor.strength() is None and 0 < liquor.on_hand_now() < liquor.received
    assert "Cellar Steps liquor" in page(run) and depth_words(run) == "carry-over unknown"


def test_a_gradient_is_pulled_skein_by_skein():
    run = run_of("Cellar Steps")
    moves = Entry.objects.filter(batch__run=run, move__what="yarn_out").order_by("at")
    assert [entry.move.skeins for entry in moves] == [1, 1, 1, 1]
    between = [Addition.objects.filter(entry__batch__run=run, entry__at__gt=entry.at).exists() for entry in moves]
    assert all(between) and depth_words(run) == "shared"
    assert sorted(Output.objects.filter(yarn__batch__run=run).values_list("name", flat=True)) == [
        f"Cellar Steps {number}" for number in range(1, 6)
    ]
    assert page(run).count("Yarn out, 1 skein, 100 g") == 4
    assert "5 firsts" in page(run)


def test_seconds_of_an_earlier_run_are_dyed_over():
    run, first = run_of("Late Plums"), run_of("Kiln Door")
    yarn = BatchYarn.objects.get(batch__run=run)
    assert yarn.output.grade == "second" and yarn.came_from == first
    assert f"Kiln Door {first.code}" in page(run)
    assert set(stages_of(run)) == {"before", "dry"}


def stages_of(run):
    return PhotoTaken.objects.filter(entry__batch__run=run).values_list("stage", flat=True)


def test_a_customers_yarn_comes_in_and_goes_out_by_weight_and_count():
    run = run_of("Tova's handspun")
    moves = Entry.objects.filter(batch__run=run, kind="move").order_by("at")
    said = [(entry.move.what, entry.move.skeins, entry.move.grams) for entry in moves]
    assert said == [("yarn_in", 3, 288), ("yarn_out", 3, 285)]
    assert outputs(run) == [("customer", 3)]
    assert BatchYarn.objects.get(batch__run=run).source == "customer"
    assert not TagPrint.objects.filter(output__yarn__batch__run=run).exists()
    assert "3 back to the customer" in page(run) and "Yarn out, 3 skeins, 285 g" in page(run)


def test_mordant_then_plant_dye():
    alum, wall, straw = run_of("Alum for the plant dyes"), run_of("Orchard Wall"), run_of("Straw Bale")
    assert outputs(alum) == [("prepared", 6)]
    assert Entry.objects.filter(batch__run=alum, step__kind="mordant").count() == 1
    for run, skeins in ((wall, 4), (straw, 2)):
        yarn = BatchYarn.objects.get(batch__run=run)
        assert (yarn.came_from, yarn.skeins) == (alum, skeins)
        natural = Addition.objects.filter(entry__batch__run=run, lot__dye__dye_class="natural")
        assert natural.count() == 1
        assert alum.code in page(run)
    assert "Mordant, 85 °C, 60 min" in page(alum)


def test_painting_bottles_are_weighed_morning_and_evening():
    run = run_of("Paper Lantern")
    painted = Addition.objects.filter(entry__batch__run=run, how="painted")
    assert painted.count() == 4 and not painted.filter(amount__isnull=False).exists()
    for lot in {addition.lot for addition in painted}:
        opening, closing = Weighing.objects.filter(lot=lot).order_by("at")
        assert opening.at < painted.order_by("entry__at").first().entry.at < closing.at
        assert ShareOut.objects.get(lot=lot).said == ""
    assert not any("at least" in word for word in [depth_words(run)])
    assert "by the weigh-in" in page(run)


def test_bottles_are_topped_up_and_thinned():
    assert Lot.objects.filter(continues__isnull=False, solution__kind="stock").exists()
    lantern = Lot.objects.filter(solution__name="Lantern gold").order_by("came_at")
    assert lantern.count() == 3
    weaker = Lot.objects.filter(solution__name="Slate 0.1 %").first()
    assert weaker.made_from.get().lot.solution.name == "Slate 1 %"
    assert abs(weaker.strength() - Decimal("0.1")) < Decimal("0.01")


def test_a_blotchy_pot_is_stripped_and_dyed_over():
    blotchy, stripped = run_of("Hedge Court", 1), run_of("Stripping the blotchy Hedge Court")
    over = Run.objects.get(batches__yarns__output__yarn__batch__run=stripped)
    assert outputs(blotchy) == [("again", 2)] and outputs(stripped) == [("prepared", 2)]
    assert Entry.objects.filter(batch__run=stripped, step__kind="strip").count() == 1
    assert BatchYarn.objects.get(batch__run=stripped).came_from == blotchy
    assert over.name == "Night Bus"
    said = page(stripped)
    assert "Strip colour, 80 °C, 30 min" in said and "2 prepared" in said and blotchy.code in said
    assert set(stages_of(stripped)) == {"before", "dry"} == set(stages_of(over))


def test_a_ruined_pot_is_graded_and_judged():
    run = run_of("Green for the market")
    assert outputs(run) == [("lost", 2), ("second", 1)]
    assert Finish.objects.get(entry__batch__run=run).verdict == Verdict.NEVER
    assert "Never again" in page(run) and "2 lost or spoilt" in page(run)


def test_a_page_of_notes_is_photographed_and_copied_the_next_morning():
    run = run_of("Green for the market")
    notes = PhotoTaken.objects.get(entry__batch__run=run, stage="paper")
    copied = Entry.objects.filter(because=notes.entry).in_order()
    assert [entry.kind for entry in copied] == ["step", *["addition"] * 3, "step", "reading", "step"]
    assert {entry.time_from for entry in copied} == {"paper"}
    assert all(entry.at < notes.entry.at < entry.received_at for entry in copied)
    assert {entry.at.astimezone(ZONE).date() for entry in copied} == {run.day}
    boiled = Entry.objects.get(batch__run=run, reading__temperature_c=99)
    assert boiled.at.astimezone(ZONE).strftime("%H.%M") == "15.05" and boiled.because == notes.entry
    assert page(run, more="log/").count("rom paper") == 7
    assert "Copied from it" in page(run, more=f"photos/{notes.pk}/")


def test_the_slip_of_paper_says_what_was_copied_from_it():
    (title, *lines) = tomllib.loads(DRAWN.read_text(encoding="utf-8"))["market-green-notes"]["lines"]
    run = run_of("Green for the market")
    at = Entry.objects.filter(batch__run=run, time_from="paper").in_order().values_list("at", flat=True)
    assert [line[:5] for line in lines if line[0].isdigit()] == [
        moment.astimezone(ZONE).strftime("%H.%M") for moment in at
    ]
    assert title == f"{run.day:%a}. Market green"
    amounts = Addition.objects.filter(entry__batch__run=run).order_by("entry__at").values_list("amount", flat=True)
    assert [line.split()[-1] for line in lines[1:4]] == [f"{amount:.0f}" for amount in amounts]


def test_two_bases_share_a_pot():
    run = run_of("Second Frost")
    assert run.batches.count() == 1
    assert {yarn.name for yarn in BatchYarn.objects.filter(batch__run=run)} == {"Tessel 4-ply", "Pell Lace"}
    assert set(TagPrint.objects.filter(output__yarn__batch__run=run).values_list("base", flat=True)) == {
        "Tessel 4-ply",
        "Pell Lace",
    }
    assert "Tessel 4-ply, 2 skeins; Pell Lace, 2 skeins" in page(run)


def test_a_cone_without_a_label():
    run = run_of("Attic Brown")
    yarn = BatchYarn.objects.get(batch__run=run)
    assert (yarn.source, yarn.grams, yarn.known_base) == ("unlabelled", None, None)
    assert "no label; burns like wool" in page(run) and "Say which yarn it is" in page(run)


def test_a_phone_without_a_network_and_a_phone_with_a_wrong_clock():
    run = run_of("Kiln Door", 2)
    late = Entry.objects.get(batch__run=run, after_finish=True, kind="addition")
    assert late.received_at - late.at > timedelta(days=2) and late.at < run.finished_at < late.received_at
    wrong = Entry.objects.get(batch__run=run, kind="words", by__name="Wim")
    assert wrong.at - wrong.happened_at == timedelta(minutes=52) and wrong.at == wrong.received_at
    said = page(run)
    assert "No network in the wash house" in said and "added after finish" in said


def test_a_line_is_struck_alone_and_another_in_all_pots_together():
    alone, both = run_of("Kiln Door", 1), run_of("Kiln Door", 2)
    assert Strike.objects.filter(entry__batch__run=alone).count() == 1
    struck = Strike.objects.filter(entry__batch__run=both).select_related("entry")
    assert struck.count() == 2 and len({one.entry.together for one in struck}) == 1
    assert {one.entry.batch.number for one in struck} == {1, 2}
    assert "A nought too many" in page(alone) and "Wrong bottle in the hand" in page(both)


def test_what_bled_was_seen_to_and_tested_again():
    run = run_of("Bramble Ink")
    bled, remedy, retest = Check.objects.filter(entry__batch__run=run, what__in=["cloth", "remedy"]).order_by(
        "entry__at"
    )
    assert (bled.result, remedy.what, retest.result) == ("a_lot", "remedy", "trace")
    assert remedy.entry.because == bled.entry and retest.entry.because == remedy.entry
    cloths = PhotoTaken.objects.filter(entry__batch__run=run, stage="cloth")
    assert {photo.about_id for photo in cloths} == {bled.pk, retest.pk}
    said = page(run)
    assert "Citric acid to pH 4" in said and "does not bleed" in said


def test_jars_with_dry_powder_between_the_layers_are_shared_out_in_the_evening():
    run = run_of("Quince Ledger")
    sprinkled = Addition.objects.filter(entry__batch__run=run, how="sprinkled")
    assert run.batches.count() == 8 and sprinkled.count() == 16
    assert all(addition.amount is None and addition.taps for addition in sprinkled)
    assert all(addition.parts.exists() for addition in sprinkled)
    assert "between the layers" in page(run) and depth_words(run) == ""


def test_a_run_is_given_up_and_its_yarn_dyed_another_day():
    run, after = run_of("Ferry at Six", 1), run_of("Ferry at Six", 2)
    assert run.state == "abandoned" and outputs(run) == [("prepared", 4)]
    assert BatchYarn.objects.get(batch__run=after).came_from == run
    assert "The gas ran out" in page(run)


def test_samples_are_kept():
    assert ("sample", 1) in outputs(run_of("Button Tin")) and ("sample", 1) in outputs(run_of("Quince Ledger"))
    assert BatchYarn.objects.filter(batch__run=run_of("Button Tin"), lot__base__name="Tessel Mini").count() == 8


def test_a_colourway_is_dyed_again_until_it_is_right():
    runs = [run_of("Kiln Door", number) for number in range(4)]
    first, second = Recipe.objects.filter(colourway__name="Kiln Door").order_by("number")
    assert [run.recipe for run in runs] == [first, second, second, second]
    assert second.made_from == first and second.colourway.standard == second
    said = [Finish.objects.filter(entry__batch__run=run).first() for run in runs[:3]]
    assert [one.verdict for one in said] == ["sell", "standard", "as_good"]
    assert said[0].next_time.startswith("Ochre first") and second.note.startswith("Ochre first")
    assert "Ochre first" in page(runs[0]) and "Version 2" in page(runs[1])


# --- the shelf


def test_a_powder_lot_of_another_strength_is_in_bottles():
    lot = Lot.objects.get(dye__name="Slate", strength_pct=85)
    held = Content.objects.filter(source=lot, lot__solution__name="Slate 1 %").first()
    assert held.g_per_100 > Decimal("1.15")  # so that it colours like 1 %
    assert "S-0509" in page(run_of("Ferry at Six", 2))


def test_deliveries_came_through_the_year_with_their_lot_numbers():
    came = set(Lot.objects.filter(delivery__isnull=False).values_list("delivery__came_at__date", flat=True))
    assert len(came) >= 5 and max(came) - min(came) > timedelta(days=300)
    assert Lot.objects.filter(base__isnull=False, number="").count() == 0


def test_a_lot_was_counted_and_found_short():
    count = Count.objects.get(lot__dye__name="Soot")
    assert count.movements.get(kind="counted").amount < 0 and count.why


def test_some_of_the_shelf_is_past_its_day_and_some_runs_low():
    past = Lot.objects.with_on_hand().filter(use_by__lt=TODAY, on_hand__gt=0)
    assert past.filter(dye__name="Madder root").exists()
    low = Base.objects.get(name="Kerf Sport")
    skeins = sum(lot.on_hand_now() / lot.skein_g for lot in low.lots.all())
    assert 0 < skeins < low.low_skeins


# --- what it cost, and its tags


def test_costs_are_frozen_and_some_are_out_of_date():
    newest = {sheet.run_id: sheet for sheet in CostSheet.objects.order_by("number")}
    assert len(newest) > 25
    old = {sheet.run.name for sheet in newest.values() if costs.out_of_date(sheet)}
    assert {"Second Frost", "Kiln Door"} <= old and len(old) < 8
    assert "Out of date" in page(run_of("Second Frost", 1))


def test_tags_of_two_designs_were_printed():
    assert set(TagPrint.objects.values_list("design", flat=True)) == {"swing", "label"}
    assert TagPrint.objects.values("output__yarn__batch__run").distinct().count() > 20
    assert TagPrint.objects.filter(dye_lot__endswith="-2").exists(), "pots that do not match have a dye lot each"


# --- today


def test_today_two_pots_are_half_way_and_jars_are_warm():
    kiln, jars, planned = run_of("Kiln Door", 3), run_of("Quince Ledger", 1), run_of("Ferry at Six", 3)
    assert (kiln.state, kiln.day, kiln.batches.count()) == ("running", TODAY, 2)
    for batch in kiln.batches.all():
        lines = batch.plan.with_done()
        assert lines.filter(done=True).count() == 5 and lines.filter(done=False).count() == 6
        assert lines.filter(weighed=True, done=False).count() == 1
    assert (jars.state, jars.batches.count()) == ("running", 6)
    assert (planned.state, planned.day) == ("planned", TODAY + timedelta(days=1))


def test_a_hold_is_late_and_another_runs():
    late, runs = timers.rows(NOW)
    assert (late.run.name, late.over, late.pots) == ("Quince Ledger", True, "jars 1 to 6")
    assert (runs.run.name, runs.over, runs.timer.what) == ("Kiln Door", False, "hold")


def test_things_wait_for_somebody():
    browser = Client()
    browser.force_login(Person.objects.get(name="Oda"), backend="django.contrib.auth.backends.ModelBackend")
    waits = browser.get("/journal/").context["waits"]
    assert {wait.kind for wait, *_ in waits} == {"timer", "unweighed", "judge", "tag"}


@pytest.mark.parametrize("who", ["Wim", "Pia", "Guest"])
def test_each_role_reads_every_run(who):
    for run in Run.objects.all():
        assert run.code in page(run, who)


def test_the_readme_s_pictures_find_their_pages():
    browser = Client()
    browser.force_login(Person.objects.get(name="Oda"), backend="django.contrib.auth.backends.ModelBackend")
    answers = {name: browser.get(address).status_code for name, address in take.pages().items()}
    assert set(answers.values()) == {200}, answers
    assert set(answers) == {page for page, _, _ in take.PICTURES.values()}


# --- dyed again


def test_an_improvised_run_of_jars_became_a_version():
    (taken,) = Captured.objects.select_related("recipe__colourway", "run")
    assert taken.run == run_of("Quince Ledger") and taken.batch is None
    powders = Ingredient.objects.filter(step__recipe=taken.recipe, dye__isnull=False)
    assert {powder.dye.name for powder in powders} == {"Quince", "Bark"}
    assert all(powder.estimated for powder in powders)


def test_what_was_said_for_the_next_time_is_in_the_second_version():
    (put,) = NotePut.objects.all()
    assert (put.recipe.colourway.name, put.recipe.number) == ("Kiln Door", 2)
    assert "while the ochre is still wet" in put.finish.next_time


def test_a_weaker_radish_was_found_out_beside_the_kept_sample():
    (test,) = StrengthTest.objects.all()
    assert test.beside == run_of("Rhubarb Row") and "120 % matches" in page(test.run)
    lot = Lot.objects.with_facts().get(pk=test.lot_id)
    assert lot.strength_now == Decimal("83.333")  # 100 x 100 / 120


def test_the_pink_was_dyed_again_on_other_yarn_over_two_pots():
    first, again = run_of("Rhubarb Row"), run_of("Rhubarb Row", 2)
    assert (again.recipe, again.batches.count()) == (first.recipe, 2)
    bases = [{yarn.name for yarn in BatchYarn.objects.filter(batch__run=run)} for run in (first, again)]
    assert bases == [{"Kerf Sport"}, {"Tessel 4-ply"}]


def test_two_dyes_were_tried_in_five_shares():
    labels = [batch.label for batch in run_of("Hedge Court", 2).batches.order_by("number")]
    assert labels[0] == "Hedge alone" and labels[-1] == "Bark alone" and len(labels) == 5


def test_two_days_of_work_are_still_to_come():
    first, second = run_of("Kiln Door", 4), run_of("Kiln Door", 5)
    assert second.day_one == first and first.day < second.day
    assert sum(run.batches.count() for run in (first, second)) == 3
