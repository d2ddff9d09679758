"""The write-up: what the day left out is asked once, and whatever is answered is asked no more."""

from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.utils import timezone
from lxml import html

from batches import depth, writeup
from batches.models import (
    Addition,
    Answer,
    Entry,
    Move,
    PhotoTaken,
    PlanLine,
    Run,
    StepDone,
    Strike,
    TimeFrom,
    Timer,
    TimerEnded,
)
from batches.plan_beside_log import plan_beside_log
from batches.record import record_of
from batches.telling import lines_of
from tests import builders
from tests.builders import stamp

PAGE = "/write-up/"


@pytest.fixture
def now():
    return timezone.now() - timedelta(hours=5)


@pytest.fixture
def jar(cast):
    return builders.receive_powder(cast.maker, builders.make_dye("Soot"))


@pytest.fixture
def run(cast, now):
    return builders.run_with_pots(cast.maker, pots=2, title="Low tide", at=now)


@pytest.fixture
def pot(run):
    return run.batches.order_by("number").first()


def asked(run, ask=None):
    found = writeup.skipped(list(Run.objects.filter(pk=run.pk).for_rows())).get(run.pk, [])
    return [question for question in found if ask in (None, question.ask)]


def one(run, ask):
    (question,) = asked(run, ask)
    return question


def answer(client, run, question, **said):
    fields = {f"{question.key}-{name}": value for name, value in said.items()}
    return client.post(PAGE, {"run": run.code, "page": str(uuid4())} | fields)


def told(run):
    return [line.what for line in lines_of(record_of(Run.objects.get(pk=run.pk))["entries"])]


def sprinkle(cast, pot, jar, at, by="maker", **facts):
    facts = {"how": "sprinkled"} | facts
    return builders.addition(getattr(cast, by), pot, jar, at=at, **facts)


def test_an_amount_said_later_strikes_the_line_and_says_it_anew_at_its_own_time(maker, cast, run, pot, jar, now):
    first = sprinkle(cast, pot, jar, now, taps=4, place="below")
    assert answer(maker, run, one(run, "amount"), say="amount", amount="0.35").status_code == 302
    again = Entry.objects.standing().get(kind="addition")
    assert Strike.objects.get().target == first.pk
    assert (again.at, again.by, again.time_from) == (first.at, cast.maker, TimeFrom.SAID)
    said = again.addition
    assert (said.amount, said.taps, said.place, said.how) == (Decimal("0.35"), 4, "below", "sprinkled")
    assert jar.on_hand_now() == Decimal("99.65")
    assert asked(run, "amount") == []


def test_alike_sprinkles_are_one_question_and_one_answer_goes_into_each(maker, cast, run, jar, now):
    for minutes, pot in enumerate(run.batches.all()):
        sprinkle(cast, pot, jar, now + timedelta(minutes=minutes), taps=4)
    sprinkle(cast, pot, jar, now, taps=9)
    questions = sorted(asked(run, "amount"), key=lambda question: -len(question.about))
    assert [len(question.about) for question in questions] == [2, 1]
    both = questions[0]
    assert both.pots == "each of both pots"
    answer(maker, run, both, amount="0.2")  # a number alone says it
    assert jar.on_hand_now() == Decimal("99.6")


def test_nobody_knows_is_an_answer_and_asks_no_more(maker, cast, run, pot, jar, now):
    sprinkle(cast, pot, jar, now)
    answer(maker, run, one(run, "amount"), say="unknown")
    assert asked(run, "amount") == []
    assert Answer.objects.get().known is False and Addition.objects.get().amount is None
    assert any(line.startswith("Nobody knows how much it was: Soot, not measured") for line in told(run))
    page = maker.get(f"/runs/{run.code}/").content.decode()
    assert "not weighed" in page  # the dye fed stays what it was: more than nothing, and nobody knows how much


def test_a_weigh_in_settles_it_as_well(cast, run, pot, jar, now):
    added = sprinkle(cast, pot, jar, now)
    builders.share_out(cast.maker, jar, "0.5", [added], opening_at=now, closing_at=timezone.now())
    assert asked(run, "amount") == []


def test_a_helper_says_amounts_of_own_lines_only(client_of, cast, run, pot, jar, now):
    helper = client_of(cast.helper)
    sprinkle(cast, pot, jar, now)
    question = one(run, "amount")
    assert f"{question.key}-amount" not in helper.get(PAGE).content.decode()
    refused = answer(helper, run, question, say="amount", amount="1")
    assert refused.status_code == 422 and not Strike.objects.exists()
    answer(helper, run, question, say="unknown")
    sprinkle(cast, pot, jar, now, by="helper")
    answer(helper, run, one(run, "amount"), amount="1")
    assert jar.on_hand_now() == 99


def photo(cast, pot, at, stage="wet", **facts):
    return PhotoTaken.log(pot, stamp(cast.maker, at, **facts), picture=builders.picture(cast.maker), stage=stage)


def test_a_photo_is_told_what_it_shows(maker, cast, run, pot, jar, now):
    near = builders.addition(cast.maker, pot, jar, "0.5", at=now)
    builders.addition(cast.maker, pot, jar, "0.7", at=now - timedelta(hours=2))
    taken = photo(cast, pot, now + timedelta(minutes=3))
    question = one(run, "photo")
    assert [entry.pk for entry, _ in question.offers] == [near.pk]
    answer(maker, run, question, say=str(near.pk))
    assert Answer.objects.get().line == near and Answer.objects.get().about == taken
    assert any("shows: Soot, 0.5" in line for line in told(run))
    assert asked(run, "photo") == []


def test_a_photo_in_words_or_of_nobody_knows_what(maker, cast, run, pot, now):
    photo(cast, pot, now)
    answer(maker, run, one(run, "photo"), words="The speckles of the second pot")
    entry = Answer.objects.get().entry
    assert entry.words == "The speckles of the second pot" and entry.answer.known
    photo(cast, pot, now)
    answer(maker, run, one(run, "photo"), say="unknown")
    assert any(line.startswith("Nobody knows what the photo") for line in told(run))


def test_photos_that_speak_for_themselves_are_not_asked_about(cast, run, pot, now):
    for stage in ("before", "dry", "cloth", "paper"):
        photo(cast, pot, now, stage)
    photo(cast, pot, now, words="Both pots")
    assert asked(run, "photo") == []


def test_a_timer_that_nobody_ended(maker, cast, run, pot, now):
    timer = Timer.log(pot, stamp(cast.maker, now), what="hold", minutes=Decimal(30))
    answer(maker, run, one(run, "end"), say="due")
    assert TimerEnded.objects.get().entry.at == timer.timer.due_at
    Timer.log(pot, stamp(cast.maker, now), what="hold", minutes=Decimal(30))
    answer(maker, run, one(run, "end"), say="unknown")
    assert not Timer.objects.running().exists() and asked(run, "end") == []
    assert any(line.startswith("Nobody knows when it was over") for line in told(run))


def test_a_hold_without_its_length(maker, cast, run, pot, now):
    StepDone.log(pot, stamp(cast.maker, now), kind="hold", temperature_c=Decimal(85))
    answer(maker, run, one(run, "long"), minutes="45")
    step = StepDone.objects.get(entry__in=Entry.objects.standing())
    assert (step.minutes, step.temperature_c, step.entry.at) == (45, 85, now)
    assert asked(run, "long") == []


def test_yarn_that_nothing_was_said_of(maker, cast, run, now):
    for pot in run.batches.all():
        builders.addition(cast.maker, pot, amount=4000, at=now)
    question = one(run, "where")
    assert len(question.about) == 2
    answer(maker, run, question, say="drying")
    assert set(run.batches.values_list("where", flat=True)) == {"drying"} and Move.objects.count() == 2
    assert asked(run, "where") == []


def test_nobody_knows_where_the_yarn_is(maker, cast, run, pot, now):
    builders.addition(cast.maker, pot, amount=4000, at=now)
    answer(maker, run, one(run, "where"), say="unknown")
    assert asked(run, "where") == []


@pytest.fixture
def planned(cast, jar, now):
    """A run of one pot whose yarn has gone on to dry, and whose plan nobody ticked."""
    run = builders.run_with_pots(cast.maker, pots=1, lines=[(jar, "1.2")], at=now)
    Move.log(run.batches.get(), stamp(cast.maker, now), what="where", where="drying")
    return run


@pytest.mark.parametrize(("said", "amount"), [({"say": "planned"}, "1.2"), ({"amount": "1.1"}, "1.1")])
def test_a_planned_amount_that_nobody_ticked_went_in(maker, planned, jar, now, said, amount):
    when = timezone.localtime(now + timedelta(minutes=10)).strftime("%Y-%m-%d %H:%M")
    answer(maker, planned, one(planned, "line"), when=when, **said)
    added = Addition.objects.get()
    assert (added.amount, added.entry.time_from, added.plan_line) == (Decimal(amount), "said", PlanLine.objects.get())
    assert asked(planned, "line") == []


def test_a_planned_amount_that_was_left_out(maker, planned):
    answer(maker, planned, one(planned, "line"), say="skipped")
    assert Entry.objects.get(kind="words").words == "Skipped" and asked(planned, "line") == []


def test_a_planned_amount_of_which_nobody_knows(maker, planned):
    answer(maker, planned, one(planned, "line"), say="unknown")
    assert asked(planned, "line") == [] and not Addition.objects.exists()
    assert any(line.startswith("Nobody knows whether 1.2") for line in told(planned))
    standing = list(Entry.objects.filter(batch__run=planned).standing().with_details())
    assert plan_beside_log(planned, standing)[0].cells[0].nobody_knows


def test_dye_that_perhaps_went_in_makes_the_depth_at_least(maker, cast, planned, jar, now):
    pot = planned.batches.get()
    builders.addition(cast.maker, pot, jar, "0.5", at=now - timedelta(minutes=5))
    assert not depth.depths_of([pot])[pot.pk].at_least
    answer(maker, planned, one(planned, "line"), say="unknown")
    assert depth.depths_of([pot])[pot.pk].at_least


def test_what_is_still_to_come_is_not_asked(cast, jar, now):
    run = builders.run_with_pots(cast.maker, pots=1, lines=[(jar, "1.2")], at=now)
    assert asked(run, "line") == []


def test_good_answers_are_kept_when_one_is_wrong(maker, cast, run, pot, jar, now):
    sprinkle(cast, pot, jar, now)
    photo(cast, pot, now)
    amount, shown = one(run, "amount"), one(run, "photo")
    page = maker.post(
        PAGE, {"run": run.code, "page": str(uuid4()), f"{amount.key}-amount": "a pinch", f"{shown.key}-say": "unknown"}
    )
    text = page.content.decode()
    assert page.status_code == 422 and 'value="a pinch"' in text and "Error: " in text
    assert asked(run, "photo") == [] and len(asked(run, "amount")) == 1


BAD = [{"say": "x"}, {"amount": "<b>"}, {"amount": "1,000"}, {"say": "amount"}, {"say": "unknown", "amount": "3"}]


@pytest.mark.parametrize("bad", BAD)
def test_an_answer_that_cannot_be_is_asked_for_again(maker, cast, run, pot, jar, now, bad):
    sprinkle(cast, pot, jar, now)
    assert answer(maker, run, one(run, "amount"), **bad).status_code == 422
    assert len(asked(run, "amount")) == 1 and not Strike.objects.exists()


def test_a_page_sent_twice_says_it_once(maker, cast, run, pot, jar, now):
    sprinkle(cast, pot, jar, now)
    question = one(run, "amount")
    data = {"run": run.code, "page": str(uuid4()), f"{question.key}-amount": "0.5"}
    assert [maker.post(PAGE, data).status_code for _ in range(2)] == [302, 302]
    assert jar.on_hand_now() == Decimal("99.5")


def test_nothing_said_is_said(maker, cast, run, pot, jar, now):
    sprinkle(cast, pot, jar, now)
    page = maker.post(PAGE, {"run": run.code, "page": "x"})
    assert page.status_code == 422 and "Nothing is said yet" in page.content.decode()
    assert maker.post(PAGE, {"run": "nonsense"}).status_code == 302


def test_the_journal_asks_in_the_evening_until_it_is_answered(maker, cast, jar, time_machine):
    evening = timezone.localtime().replace(hour=20, minute=0) + timedelta(days=1)
    time_machine.move_to(evening)
    run = builders.run_with_pots(cast.maker, pots=1, at=timezone.now() - timedelta(hours=1))
    sprinkle(cast, run.batches.get(), jar, timezone.now() - timedelta(hours=1))
    waits = html.fromstring(maker.get("/journal/").content).text_content()
    assert "1 thing was skipped today: each is asked once." in waits and "1 addition was not weighed." in waits
    time_machine.move_to(evening.replace(hour=12))
    assert "skipped" not in maker.get("/journal/").content.decode()
    time_machine.move_to(evening)
    answer(maker, run, one(run, "amount"), say="unknown")
    waits = maker.get("/journal/").content.decode()
    assert "skipped" not in waits and "not weighed." not in waits


def test_a_viewer_answers_nothing(client_of, cast):
    viewer = client_of(cast.viewer)
    assert viewer.get(PAGE).status_code == 403 and viewer.post(PAGE, {"run": "x"}).status_code == 403


def test_queries_do_not_grow_with_what_was_skipped(maker, cast, run, pot, jar, now, django_assert_max_num_queries):
    def skip(pot, jar, minutes):
        at = now + timedelta(minutes=minutes)
        sprinkle(cast, pot, jar, at)
        photo(cast, pot, at)
        StepDone.log(pot, stamp(cast.maker, at), kind="hold")
        Timer.log(pot, stamp(cast.maker, at), what="hold", minutes=Decimal(10))

    skip(pot, jar, 0)
    with django_assert_max_num_queries(60) as few:
        maker.get(PAGE)
    at_first = len(few)
    for minutes in range(1, 5):
        skip(pot, builders.receive_powder(cast.maker), minutes)
    other = builders.run_with_pots(cast.maker, pots=1, at=now).batches.get()
    skip(other, jar, 2)
    with django_assert_max_num_queries(at_first):
        maker.get(PAGE)


def test_a_machine_answers_through_the_same_door_once(maker, cast, run, pot, jar, now):
    added = sprinkle(cast, pot, jar, now)
    said = {"kind": "answer", "id": str(uuid4()), "question": "amount", "about": [str(added.pk)], "amount": "0.5"}
    address = f"/sink/{pot.pk}/log/"
    answers = [
        maker.post(address, said, content_type="application/json", headers={"accept": "application/json"})
        for _ in range(2)
    ]
    assert [one.status_code for one in answers] == [201, 200]
    assert jar.on_hand_now() == Decimal("99.5")


@pytest.mark.parametrize("bad", [{"about": ["x"]}, {"about": []}, {"lines": ["9" * 30]}, {"question": "weather"}, {}])
def test_a_machine_that_asks_nothing_sensible_is_told_so(maker, cast, run, pot, jar, now, bad):
    other = builders.one_pot(cast.maker)
    elsewhere = sprinkle(cast, other, jar, now)
    said = {"kind": "answer", "id": str(uuid4()), "question": "amount", "about": [str(elsewhere.pk)], "amount": "1"}
    address = f"/sink/{pot.pk}/log/"
    answer = maker.post(address, said | bad, content_type="application/json", headers={"accept": "application/json"})
    assert answer.status_code == 422 and not Strike.objects.exists()
