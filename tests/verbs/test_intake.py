"""The one way in: every kind, sent once, twice, wrongly, by whom it should not be."""

import io
from decimal import Decimal
from threading import Thread
from uuid import UUID, uuid4, uuid5

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils.datastructures import MultiValueDict
from PIL import Image

from batches import intake
from batches.forms.strikes import StrikeForm
from batches.models import Addition, Batch, Entry, PhotoTaken, PlanLine, Run, Timer, Work
from studio.models import Movement, Picture
from tests import builders


@pytest.fixture
def pot(cast):
    return builders.one_pot(cast.maker)


@pytest.fixture
def two_pots(cast):
    red = builders.bottle(cast.maker)
    run = builders.run_with_pots(cast.maker, pots=2, lines=[(red, 40), (None,), (red, 15)])
    run.red = red
    return run


@pytest.fixture(autouse=True)
def _noon():
    with time_machine.travel(builders.hours(1), tick=False):
        yield


def send(batch, person, kind, files=None, **fields):
    data = {"kind": kind, "id": str(uuid4())} | {name: str(value) for name, value in fields.items()}
    return intake.take(data, files or {}, batch=batch, person=person)


def image_file(colour="#9c3122", name="a.jpg"):
    held = io.BytesIO()
    Image.new("RGB", (40, 30), colour).save(held, "JPEG")
    return SimpleUploadedFile(name, held.getvalue(), "image/jpeg")


# Every kind


def test_dye_from_a_bottle_takes_it_from_the_shelf(cast, pot):
    red = builders.bottle(cast.maker, volume=250)
    answer = send(pot, cast.helper, "bottle", lot=red.pk, amount="5,5", place="first third", how="painted")
    added = answer.entries[0].addition
    assert (answer.state, answer.status) == ("saved", 201)
    assert (added.amount, added.unit, added.typed, added.how) == (Decimal("5.5"), "mL", "5,5", "painted")
    assert added.strength_pct == 1 and added.parts.get().amount == Decimal("0.055")
    assert builders.on_hand(red) == Decimal("244.5")


def test_a_lone_entry_asks_the_database_little(cast, pot):
    """Each question is a wait for whoever stands at the sink, and half of them are asked with the pot locked."""
    red = builders.bottle(cast.maker)
    send(pot, cast.helper, "bottle", lot=red.pk, amount="5")  # from here on the yarn is in the pot
    pot = Batch.objects.get(pk=pot.pk)
    with CaptureQueriesContext(connection) as asked:
        assert send(pot, cast.helper, "bottle", lot=red.pk, amount="5").ok
    marks = [one["sql"] for one in asked if "SAVEPOINT" in one["sql"]]
    assert len(asked) - len(marks) <= 13 and len(marks) <= 2  # the two are this test's own BEGIN and COMMIT


def test_a_touch_of_several_lines_is_kept_whole_or_not_at_all(cast, pot, monkeypatch):
    def fails(*args, **kwargs):
        raise RuntimeError("the disk is full")

    monkeypatch.setattr(Timer, "log", fails)
    with pytest.raises(RuntimeError):
        send(pot, cast.helper, "reading", clear="not_yet", look="10")
    assert not Entry.objects.exists()


def test_a_spoon_is_kept_as_typed_and_as_meant(cast, pot):
    red = builders.bottle(cast.maker)
    added = send(pot, cast.helper, "bottle", lot=red.pk, amount="1 1/2", amount_unit="metric_tbsp").entries[0].addition
    assert (added.amount, added.typed, added.typed_unit) == (Decimal("22.5"), "1 1/2", "metric_tbsp")


@pytest.mark.parametrize("how", ["dissolved", "sprinkled"])
def test_powder_is_weighed_or_not(cast, pot, how):
    soot = builders.receive_powder(cast.maker)
    weighed = send(pot, cast.helper, "powder", lot=soot.pk, amount="0.45", how=how).entries[0].addition
    sprinkled = send(pot, cast.helper, "powder", lot=soot.pk, how=how, taps=12).entries[0].addition
    assert (weighed.amount, weighed.how) == (Decimal("0.45"), how)
    assert (sprinkled.amount, sprinkled.taps, sprinkled.movement.amount) == (None, 12, None)
    assert builders.on_hand(soot) == Decimal("99.55")


def test_other_is_kept_in_the_unit_of_what_was_chosen(cast, pot):
    citric = builders.receive_assistant(cast.maker, builders.make_assistant(unit="g"), 500)
    vinegar = builders.receive_assistant(cast.maker)
    said = [send(pot, cast.helper, "other", lot=lot.pk, amount="12", amount_unit="own") for lot in (citric, vinegar)]
    assert [(one.entries[0].addition.amount, one.entries[0].addition.unit) for one in said] == [(12, "g"), (12, "mL")]


def test_something_without_a_lot_goes_in_by_words(cast, pot):
    added = send(pot, cast.helper, "other", what="A splash of last year's plum", amount="30", amount_unit="mL")
    added = added.entries[0].addition
    assert (added.lot, added.other, added.name, added.amount) == (None, "words", "A splash of last year's plum", 30)


def test_water_goes_in_by_the_litre(cast, pot):
    added = send(pot, cast.helper, "water", amount="6 L").entries[0].addition
    assert (added.other, added.amount, added.unit) == ("water", 6000, "mL")


@pytest.mark.parametrize(
    ("fields", "kept"),
    [
        ({"temperature": "85"}, (85, None, "")),
        ({"temperature": "185 F"}, (85, None, "")),
        ({"ph": "4,6"}, (None, Decimal("4.6"), "")),
        ({"clear": "nearly"}, (None, None, "nearly")),
    ],
)
def test_a_reading(cast, pot, fields, kept):
    said = send(pot, cast.helper, "reading", **fields).entries[0].reading
    assert (said.temperature_c, said.ph, said.clear) == kept


def test_a_step_says_where_the_yarn_is(cast, pot):
    send(pot, cast.helper, "step", step="rinse", minutes="10", temperature="30")
    pot.refresh_from_db()
    assert pot.where == "rinsing"


def test_a_move_says_where_the_yarn_is(cast, pot):
    send(pot, cast.helper, "move", where="drying")
    pot.refresh_from_db()
    assert pot.where == "drying"


def test_liquor_goes_out_by_volume(cast, pot):
    said = send(pot, cast.helper, "move", what="liquor_out", volume="1.5", volume_unit="L").entries[0].move
    assert (said.what, said.volume_ml, said.where) == ("liquor_out", 1500, "")


def test_a_check(cast, pot):
    said = send(pot, cast.maker, "check", what="cloth", result="trace").entries[0].check_made
    assert (said.what, said.result) == ("cloth", "trace")


def test_words(cast, pot):
    assert send(pot, cast.helper, "words", note="Smells of sheep").entries[0].words == "Smells of sheep"


def test_work_for_all_pots_is_split_without_losing_a_second(cast):
    run = builders.run_with_pots(cast.maker, pots=3)
    answer = send(run.batches.first(), cast.helper, "work", minutes="20", pots="all")
    minutes = [entry.work.minutes for entry in answer.entries]
    assert sum(minutes) == 20 and len(minutes) == 3 and max(minutes) - min(minutes) <= Decimal("0.001")


def test_photos_are_kept_and_shown_in_each_pot(cast, two_pots):
    batch = two_pots.batches.first()
    answer = send(batch, cast.helper, "photo", {"photos": image_file()}, stage="dry", pots="all")
    assert answer.state == "saved" and Picture.objects.count() == 1
    assert {entry.batch_id for entry in answer.entries} == set(two_pots.batches.values_list("pk", flat=True))


def test_what_is_no_photo_is_not_stored(cast, pot):
    answer = send(pot, cast.helper, "photo", {"photos": SimpleUploadedFile("a.jpg", b"GIF89a not really")})
    assert answer.status == 422 and "not a photo" in answer.errors["__all__"][0]
    assert not Picture.objects.exists() and not PhotoTaken.objects.exists()


# Planned lines


def test_one_touch_logs_a_planned_line_in_all_pots(cast, two_pots):
    batch = two_pots.batches.first()
    answer = send(batch, cast.helper, "tick", line=batch.plan.first().pk)
    assert [entry.addition.amount for entry in answer.entries] == [40, 40]
    assert {entry.together for entry in answer.entries} == {answer.id}
    assert builders.on_hand(two_pots.red) == 170


@pytest.mark.parametrize("limit_mb, kept", [(1, 1), (30, 2)])
def test_of_several_photos_each_is_held_to_the_studio_s_own_limit(cast, pot, settings, limit_mb, kept):
    settings.UPLOAD_MB = limit_mb
    padding = (2 if limit_mb == 1 else 27) * 1_000_000  # past this limit, and past the usual one
    large = SimpleUploadedFile("b.jpg", image_file().read() + bytes(padding), "image/jpeg")
    answer = send(pot, cast.helper, "photo", files=MultiValueDict({"photos": [image_file(), large]}))
    assert answer.ok and Picture.objects.count() == len(answer.entries) == kept
    too_large = "“b.jpg” was not kept. This photo is larger than 1 MB. Shrink it and send it again."
    assert answer.refused == ((too_large,) if kept == 1 else ())


def test_ids_of_several_follow_from_the_id_sent(cast, two_pots):
    batch = two_pots.batches.first()
    line = batch.plan.first()
    answer = send(batch, cast.helper, "tick", line=line.pk)
    assert {entry.pk for entry in answer.entries} == {
        uuid5(answer.id, f"{pot.pk}/{line.position}") for pot in two_pots.batches.all()
    }


def test_a_planned_line_for_this_pot_leaves_the_other_waiting(cast, two_pots):
    first, second = two_pots.batches.order_by("number")
    send(first, cast.helper, "tick", line=first.plan.first().pk, pots="this")
    assert not PlanLine.objects.with_done().get(batch=second, position=1).done
    both = send(second, cast.helper, "tick", line=second.plan.first().pk, pots="all")
    assert [entry.batch_id for entry in both.entries] == [second.pk]


def test_another_amount_than_planned(cast, two_pots):
    first = two_pots.batches.first()
    answer = send(first, cast.helper, "tick", line=first.plan.first().pk, amount="50", amount_unit="own", pots="this")
    assert answer.entries[0].addition.amount == 50


def test_a_line_logged_already_is_not_logged_again(cast, two_pots):
    first = two_pots.batches.first()
    line = first.plan.first().pk
    send(first, cast.helper, "tick", line=line)
    again = send(first, cast.maker, "tick", line=line)
    assert again.status == 422 and "in the log already" in again.errors["__all__"][0]
    assert Addition.objects.count() == 2


def test_a_skipped_line_is_done_with_and_uses_nothing(cast, two_pots):
    first = two_pots.batches.first()
    send(first, cast.helper, "tick", line=first.plan.first().pk, skip="on")
    assert PlanLine.objects.with_done().get(batch=first, position=1).done
    assert builders.on_hand(two_pots.red) == 250


def test_done_to_here_is_marked_confirmed_together(cast, two_pots):
    first = two_pots.batches.first()
    send(first, cast.helper, "tick", line=first.plan.get(position=1).pk, pots="this")
    answer = send(first, cast.helper, "done_to_here", line=first.plan.get(position=2).pk)
    assert sorted((entry.batch.number, entry.plan_line.position) for entry in answer.entries) == [
        (1, 2),
        (2, 1),
        (2, 2),
    ]
    assert {entry.time_from for entry in answer.entries} == {"together"}


def test_a_line_of_another_pot_is_refused(cast, two_pots, pot):
    answer = send(pot, cast.helper, "tick", line=two_pots.batches.first().plan.first().pk)
    assert answer.status == 422 and "not in this pot" in answer.errors["line"][0]


def test_the_first_thing_that_goes_in_starts_a_planned_run(cast):
    run = builders.run_with_pots(cast.maker, start=False)
    send(run.batches.first(), cast.helper, "words", note="Water is on")
    assert Run.objects.get(pk=run.pk).state == "planned"
    send(run.batches.first(), cast.helper, "water", amount="6")
    assert Run.objects.get(pk=run.pk).state == "running"


# Twice


def test_sent_twice_is_stored_once(cast, pot):
    red = builders.bottle(cast.maker)
    data = {"kind": "bottle", "id": str(uuid4()), "lot": str(red.pk), "amount": "5"}
    first, again = (intake.take(data, {}, batch=pot, person=cast.helper) for _ in range(2))
    assert (first.state, again.state, again.status) == ("saved", "already", 200)
    assert [entry.pk for entry in again.entries] == [UUID(data["id"])]
    assert builders.on_hand(red) == 245


def test_a_known_id_is_answered_though_it_would_be_refused_today(cast, two_pots):
    first = two_pots.batches.first()
    data = {"kind": "tick", "id": str(uuid4()), "line": str(first.plan.first().pk)}
    intake.take(data, {}, batch=first, person=cast.helper)
    again = intake.take(data, {}, batch=first, person=cast.helper)
    assert (again.state, len(again.entries)) == ("already", 2)


def test_when_it_was_sent_makes_no_other_content(cast, pot):
    data = {"kind": "words", "id": str(uuid4()), "note": "Steam"}
    intake.take(data | {"sent_at": "2026-03-14T12:59:00Z"}, {}, batch=pot, person=cast.helper)
    again = intake.take(data | {"sent_at": "2026-03-14T13:00:30Z", "offset": "60"}, {}, batch=pot, person=cast.helper)
    assert again.state == "already"


def test_the_same_id_with_other_content_is_refused(cast, pot):
    data = {"kind": "words", "id": str(uuid4()), "note": "Steam"}
    intake.take(data, {}, batch=pot, person=cast.helper)
    other = intake.take(data | {"note": "No steam"}, {}, batch=pot, person=cast.helper)
    assert (other.state, other.status) == ("clash", 409) and "something else" in other.sentence
    assert Entry.objects.get().words == "Steam"


def test_a_known_id_on_another_pot_is_refused(cast, two_pots):
    first, second = two_pots.batches.order_by("number")
    data = {"kind": "words", "id": str(uuid4()), "note": "Steam"}
    intake.take(data, {}, batch=first, person=cast.helper)
    other = intake.take(data, {}, batch=second, person=cast.helper)
    assert (other.state, other.status) == ("clash", 409) and "another pot" in other.sentence


def test_a_delivery_that_slips_in_between_is_answered_as_saved(cast, pot, monkeypatch):
    data = {"kind": "water", "id": str(uuid4()), "amount": "6"}
    intake.take(data, {}, batch=pot, person=cast.helper)
    look, blind = intake.answer_known, iter([True])
    monkeypatch.setattr(intake, "answer_known", lambda *said: None if next(blind, False) else look(*said))
    assert intake.take(data, {}, batch=pot, person=cast.helper).state == "already"
    assert Entry.objects.count() == 1


@pytest.mark.skipif(connection.vendor == "sqlite", reason="its tests share one connection's memory between threads")
@pytest.mark.django_db(transaction=True)
def test_two_deliveries_at_once_make_one_row():
    cast = builders.make_cast()
    batch = builders.one_pot(cast.maker)
    data = {"kind": "water", "id": str(uuid4()), "amount": "6"}
    states = []

    def deliver():
        states.append(intake.take(data, {}, batch=batch, person=cast.helper).state)
        connection.close()

    threads = [Thread(target=deliver) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(states) == ["already", "saved"]
    assert Entry.objects.count() == 1


# Who and when


def test_an_empty_time_is_now(cast, pot):
    entry = send(pot, cast.helper, "words", note="Steam").entries[0]
    assert (entry.at, entry.time_from) == (builders.hours(1), "touch")


@pytest.mark.parametrize(("paper", "time_from"), [("", "said"), ("on", "paper")])
def test_a_time_that_was_said(cast, pot, paper, time_from):
    entry = send(pot, cast.helper, "words", note="Steam", when="2026-03-14T12:20", paper=paper).entries[0]
    assert (entry.at, entry.time_from) == (builders.NOON.replace(minute=20), time_from)


def test_a_phone_with_a_wrong_clock_is_put_right(cast, pot):
    entry = send(
        pot,
        cast.helper,
        "words",
        note="Steam",
        happened_at="2026-03-14T15:50:00+00:00",
        sent_at="2026-03-14T16:00:00+00:00",
        offset=120,
    ).entries[0]
    assert entry.at == builders.hours(1).replace(hour=12, minute=50)
    assert (entry.happened_at.hour, entry.offset_min) == (15, 120)


@pytest.mark.parametrize("when", ["2027-01-01T10:00", "1999-01-01T10:00", "yesterday"])
def test_a_time_that_cannot_be_is_refused(cast, pot, when):
    assert "when" in send(pot, cast.helper, "words", note="Steam", when=when).errors


def test_somebody_else_did_it(cast, pot):
    entry = send(pot, cast.helper, "words", note="Steam", by=cast.maker.pk).entries[0]
    assert (entry.by, entry.sent_by) == (cast.maker, cast.helper)


def test_who_has_left_did_not_do_it(cast, pot):
    cast.viewer.is_active = False
    cast.viewer.save()
    assert "by" in send(pot, cast.helper, "words", note="Steam", by=cast.viewer.pk).errors


def test_a_late_line_for_a_finished_pot_is_taken(cast, pot):
    builders.finish(cast.maker, pot)
    pot.refresh_from_db()
    assert send(pot, cast.helper, "words", note="Dried well").entries[0].after_finish


def test_viewers_do_not_log(cast, pot):
    answer = send(pot, cast.viewer, "words", note="Steam")
    assert (answer.state, answer.status) == ("forbidden", 403)
    assert not Entry.objects.exists()


# Struck out


def test_a_struck_line_gives_back_what_it_took(cast, pot):
    red = builders.bottle(cast.maker)
    added = send(pot, cast.helper, "bottle", lot=red.pk, amount="5").entries[0]
    struck = send(pot, cast.helper, "strike", target=added.pk)
    assert struck.state == "saved" and builders.on_hand(red) == 250


def test_another_persons_line_needs_a_reason(cast, pot):
    added = send(pot, cast.helper, "words", note="Steam").entries[0]
    assert "reason" in send(pot, cast.maker, "strike", target=added.pk).errors
    assert send(pot, cast.maker, "strike", target=added.pk, reason="No steam").state == "saved"


def test_an_own_line_needs_a_reason_after_a_while(cast, pot):
    added = send(pot, cast.helper, "words", note="Steam").entries[0]
    with time_machine.travel(builders.hours(2), tick=False):
        assert "reason" in send(pot, cast.helper, "strike", target=added.pk).errors


def test_helpers_strike_own_lines_only(cast, pot):
    added = send(pot, cast.maker, "words", note="Steam").entries[0]
    answer = send(pot, cast.helper, "strike", target=added.pk, reason="No steam")
    assert (answer.state, answer.status) == ("forbidden", 403)
    assert Entry.objects.standing().filter(pk=added.pk).exists()


@pytest.mark.parametrize(("scope", "left"), [("this", 1), ("all", 0)])
def test_lines_of_one_touch_are_struck_alone_or_together(cast, two_pots, scope, left):
    first = two_pots.batches.first()
    ticked = send(first, cast.helper, "tick", line=first.plan.first().pk)
    mine = next(entry for entry in ticked.entries if entry.batch_id == first.pk)
    assert send(first, cast.helper, "strike", target=mine.pk, scope=scope).state == "saved"
    assert Entry.objects.standing().count() == left
    assert builders.on_hand(two_pots.red) == 250 - 40 * left


def test_a_line_is_struck_once(cast, pot):
    added = send(pot, cast.helper, "words", note="Steam").entries[0]
    send(pot, cast.helper, "strike", target=added.pk)
    again = send(pot, cast.helper, "strike", target=added.pk)
    assert again.status == 422 and "struck out already" in again.errors["__all__"][0]


def test_a_strike_out_may_come_before_what_it_strikes(cast, pot):
    red = builders.bottle(cast.maker)
    coming = uuid4()
    assert send(pot, cast.helper, "strike", target=coming).state == "saved"
    send(pot, cast.helper, "bottle", lot=red.pk, amount="5", id=coming)
    assert builders.on_hand(red) == 250
    assert not Entry.objects.standing().filter(pk=coming).exists()


@pytest.mark.parametrize("early", [True, False])
def test_a_touch_is_struck_by_its_number_whichever_comes_first(cast, two_pots, early):
    """A phone without a network knows the number that it sent, and not what was made of it."""
    first = two_pots.batches.first()
    ticked = uuid4()
    acts = [
        lambda: send(first, cast.helper, "tick", line=first.plan.first().pk, id=ticked),
        lambda: send(first, cast.helper, "strike", target=ticked),
    ]
    assert [act().state for act in (reversed(acts) if early else acts)] == ["saved", "saved"]
    assert Entry.objects.filter(together=ticked).count() == 2 and not Entry.objects.standing().exists()
    assert builders.on_hand(two_pots.red) == 250
    assert not PlanLine.objects.with_done().filter(done=True).exists()


def test_a_touch_that_comes_in_while_its_strike_waits_is_struck(cast, two_pots, monkeypatch):
    first = two_pots.batches.first()
    ticked, choose = uuid4(), StrikeForm.chosen_pots

    def choose_slowly(form):
        monkeypatch.setattr(StrikeForm, "chosen_pots", choose)
        chosen = choose(form)
        send(first, cast.helper, "tick", line=first.plan.first().pk, id=ticked)
        return chosen

    monkeypatch.setattr(StrikeForm, "chosen_pots", choose_slowly)
    assert send(first, cast.helper, "strike", target=ticked).state == "saved"
    assert not Entry.objects.standing().exists() and builders.on_hand(two_pots.red) == 250


def test_an_undo_that_waited_for_a_network_needs_no_reason(cast, pot):
    added = send(pot, cast.helper, "words", note="Steam").entries[0]
    touched, sent = builders.hours(1).replace(minute=5), builders.hours(4)
    with time_machine.travel(sent, tick=False):
        undo = {"target": added.pk, "happened_at": touched.isoformat(), "sent_at": sent.isoformat()}
        assert send(pot, cast.helper, "strike", **undo).state == "saved"


def test_a_line_of_another_run_is_not_struck_from_here(cast, pot, two_pots):
    added = send(pot, cast.maker, "words", note="Steam").entries[0]
    assert "target" in send(two_pots.batches.first(), cast.maker, "strike", target=added.pk, reason="no").errors


# Refused


@pytest.mark.parametrize(
    ("kind", "fields", "wrong"),
    [
        ("bottle", {"amount": "5"}, "lot"),
        ("bottle", {"lot": "{red}", "amount": "3 g"}, "amount"),
        ("powder", {"lot": "{soot}", "amount": "1 tsp"}, "amount"),
        ("powder", {"lot": "{red}", "amount": "1"}, "lot"),
        ("bottle", {"lot": "{red}", "amount": "5", "unmeasured": "on"}, "amount"),
        ("bottle", {"lot": "{red}", "amount": "0"}, "amount"),
        ("bottle", {"lot": "{red}", "amount": "0.0001"}, "amount"),
        ("bottle", {"lot": "{red}", "amount": "900 L"}, "amount"),
        ("other", {"what": "Plum", "amount": "5", "amount_unit": "own"}, "amount"),
        ("other", {}, "lot"),
        ("other", {"lot": "{vinegar}", "what": "Plum"}, "what"),
        ("reading", {}, "temperature"),
        ("reading", {"ph": "15"}, "ph"),
        ("step", {"step": "other"}, "note"),
        ("move", {}, "where"),
        ("move", {"where": "drying", "skeins": "3"}, "skeins"),
        ("check", {"what": "cloth"}, "result"),
        ("check", {"what": "rub_dry", "result": "none", "change_grade": "4.5"}, "change_grade"),
        ("check", {"what": "cards"}, "change_grade"),
        ("work", {}, "minutes"),
        ("work", {"minutes": "20", "quick": "15"}, "minutes"),
        ("words", {}, "note"),
        ("photo", {}, "photos"),
        ("words", {"note": "x", "id": "not a number"}, "id"),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(cast, pot, kind, fields, wrong):
    lots = {
        "red": builders.bottle(cast.maker).pk,
        "soot": builders.receive_powder(cast.maker).pk,
        "vinegar": builders.receive_assistant(cast.maker).pk,
    }
    answer = send(pot, cast.helper, kind, **{name: value.format(**lots) for name, value in fields.items()})
    assert answer.status == 422
    assert answer.errors[wrong][0].endswith((".", "”")) and " " in answer.errors[wrong][0]
    assert not Entry.objects.exists() and not Movement.objects.filter(kind="used", lot__in=lots.values()).exists()


def test_an_unknown_kind_is_refused(cast, pot):
    assert send(pot, cast.helper, "telegram").status == 422


def test_minutes_are_never_lost_to_rounding(cast, pot):
    send(pot, cast.helper, "work", minutes="1/3")
    assert Work.objects.get().minutes == Decimal("0.333")


def test_one_bad_file_among_five_is_named_and_the_others_are_kept(cast, pot):
    files = [image_file(name=f"{number}.jpg") for number in range(1, 5)]
    files.insert(2, SimpleUploadedFile("notes <b>.txt", b"stir it", "text/plain"))
    number = uuid4()
    send_them = {"kind": "photo", "id": str(number), "note": "From the line", "stage": "dry"}
    answer = intake.take(send_them, MultiValueDict({"photos": files}), batch=pot, person=cast.helper)
    assert answer.ok and len(answer.entries) == Picture.objects.count() == 4
    assert {entry.together for entry in answer.entries} == {number}
    assert [(entry.photo.stage, entry.words) for entry in answer.entries] == [("dry", "From the line")] * 4
    [sentence] = answer.refused
    assert sentence.startswith("“notes <b>.txt” was not kept. This file is not a photo.")


def test_where_no_file_can_be_kept_each_is_named_and_nothing_is_stored(cast, pot):
    files = [SimpleUploadedFile(f"{name}.txt", b"stir it") for name in ("one", "two")]
    answer = send(pot, cast.helper, "photo", files=MultiValueDict({"photos": files}))
    assert answer.status == 422 and not Picture.objects.exists()
    assert "“one.txt” was not kept." in str(answer.errors) and "“two.txt” was not kept." in str(answer.errors)


def test_more_photos_than_one_page_takes_are_named(cast, pot):
    files = [image_file(name=f"{number}.jpg") for number in range(1, 15)]
    answer = send(pot, cast.helper, "photo", files=MultiValueDict({"photos": files}))
    assert len(answer.entries) == 12
    assert [sentence[:20] for sentence in answer.refused] == ["“13.jpg” was not kep", "“14.jpg” was not kep"]


def test_several_photos_sent_twice_are_kept_once(cast, pot):
    said = {"kind": "photo", "id": str(uuid4())}
    for state in ("saved", "already"):
        files = MultiValueDict({"photos": [image_file(), image_file("#203040", "b.jpg")]})
        assert intake.take(said, files, batch=pot, person=cast.helper).state == state
    assert Picture.objects.count() == PhotoTaken.objects.count() == 2


def test_a_photo_without_a_stage_has_the_usual_one(cast, pot):
    assert send(pot, cast.helper, "photo", {"photos": image_file()}).entries[0].photo.stage == "before"
    send(pot, cast.helper, "water", amount="2", amount_unit="L")
    pot.refresh_from_db()
    assert send(pot, cast.helper, "photo", {"photos": image_file("#203040")}).entries[0].photo.stage == "wet"
