"""What is waited for, on the pages: in full at the sink, a slim bar everywhere, all of it without a script."""

import html
import re
from datetime import timedelta
from uuid import uuid4

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from batches.models import Run, StepDone, Timer
from tests import builders
from tests.builders import NOON, hours


@pytest.fixture(autouse=True)
def noon():
    with time_machine.travel(NOON, tick=False) as clock:
        yield clock


@pytest.fixture
def run(cast):
    return builders.run_with_pots(cast.maker, pots=2)


@pytest.fixture
def pot(run):
    return run.batches.order_by("number").first()


@pytest.fixture
def helper(cast, client_of):
    return client_of(cast.helper)


def sink(client, pot):
    return html.unescape(client.get(reverse("batches:sink", args=[pot.pk])).content.decode())


def send(client, pot, kind, **fields):
    said = {"kind": kind, "id": uuid4(), **fields}
    return client.post(reverse("batches:intake", args=[pot.pk]), said, follow=True)


def text(page):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page)).replace(" ,", ",")


def begun(client, pot, **fields):
    send(client, pot, "timer", **{"what": "hold", "quick": 45, "pots": "all", **fields})
    return Timer.objects.order_by("-entry__received_at", "-due_at").first()


# At the sink


def test_it_says_until_when_and_since_when_it_is_late(helper, pot, noon):
    begun(helper, pot)
    page = text(sink(helper, pot))
    assert "Hold pots 1 and 2, until 12:45" in page and "set its own alarm to 12:45" in page
    noon.move_to(hours(1))
    page = sink(helper, pot)
    assert "Hold is over pots 1 and 2, late since 12:45" in text(page) and 'class="timer over"' in page
    assert 'data-due="2026-03-14T12:45:00+00:00"' in page and 'data-now="2026-03-14T13:00:00+00:00"' in page


def test_its_buttons_do_what_they_say_without_a_script(helper, pot, noon):
    begun(helper, pot)
    noon.move_to(hours(1))
    page = sink(helper, pot)
    form = re.search(r"<form[^>]*data-log>(?:(?!</form>).)*timer_end.*?</form>", page, re.S)[0]
    sent = dict(re.findall(r'name="(\w+)" value="([^"]*)"', form.split("<button")[0]))
    answer = send(helper, pot, **sent | {"pots": "all"})
    assert "Logged: Hold, 60 min, in each of 2 pots." in text(html.unescape(answer.content.decode())).replace(
        "\xa0", " "
    )
    assert StepDone.objects.count() == 2 and not Timer.objects.running().exists()


def test_ending_it_again_is_answered_kindly(helper, pot):
    timer = begun(helper, pot)
    send(helper, pot, "timer_end", target=timer.pk)
    answer = send(helper, pot, "timer_end", target=timer.pk)
    assert "was over already" in answer.content.decode() and StepDone.objects.count() == 2


def test_a_look_offers_the_three_answers(helper, pot, noon):
    answer = send(helper, pot, "reading", look=10, page="clear")
    assert "Look again: until 12:10" in answer.content.decode()
    noon.move_to(hours(1))
    page = sink(helper, pot)
    for said in ('name="clear" value="clear"', 'name="clear" value="nearly"', 'name="look" value="10"'):
        assert said in page


def test_the_clear_page_has_a_fourth_answer(helper, pot):
    page = helper.get(reverse("batches:entry", args=[pot.pk, "clear"])).content.decode()
    assert "Not yet, look again in 10 min" in page


@pytest.mark.parametrize(
    ("step", "words"),
    [
        ("hold", "At heat: start 40 min"),
        ("mordant", "At heat: start 40 min"),
        ("soak", "It is in: start 40 min"),
        ("cool", "Heat is off: start 40 min"),
        ("other", "Start 40 min"),
    ],
)
def test_a_planned_step_with_a_time_has_a_button_that_starts_it(cast, helper, step, words):
    line = builders.plan_line(step=step, words="Forty minutes", minutes=40)
    told = [{"fibre_g": 100, "yarns": [], "lines": [line]}]
    run = Run.plan(by=cast.maker, day=NOON.date(), pots=told, clock=lambda: NOON, title="A lone pot")
    run.start(by=cast.maker, clock=lambda: NOON)
    pot = run.batches.get()
    page = sink(helper, pot).replace("\xa0", " ")
    assert words in page and ">Done<" in page
    send(helper, pot, "timer", line=pot.plan.get().pk, minutes="40", pots="all")
    page = sink(helper, pot).replace("\xa0", " ")
    assert words not in page and "Its time runs" in page


def test_a_step_without_a_time_has_no_such_button(cast, helper):
    red = builders.bottle(cast.maker)
    pot = builders.run_with_pots(cast.maker, pots=1, lines=[(None,), (red, 40)]).batches.get()
    assert 'value="timer"' not in sink(helper, pot)


# The page of a timer


def test_a_night_and_a_day_in_the_sun_are_one_touch(helper, pot, noon):
    page = helper.get(reverse("batches:entry", args=[pot.pk, "timer"])).content.decode()
    offered = re.findall(r'name="quick" value="(\d+)"[^>]*>([^<]+)<', page)
    assert ("480", "8\xa0h") in offered and ("1440", "24\xa0h") in offered
    send(helper, pot, "timer", what="sun", quick="480", pots="this")
    assert Timer.objects.get().due_at == NOON + timedelta(hours=8)


def test_its_page_keeps_what_was_typed(helper, pot):
    address = reverse("batches:intake", args=[pot.pk])
    sent = {"kind": "timer", "id": uuid4(), "page": "timer", "what": "sun", "minutes": "a while", "until": "dusk"}
    answer = helper.post(address, sent)
    page = answer.content.decode()
    assert answer.status_code == 422 and 'value="a while"' in page and 'value="dusk"' in page
    assert 'type="text" name="until"' in page or 'name="until" value="dusk"' in page


def test_until_may_be_tomorrow(helper, pot):
    answer = send(helper, pot, "timer", what="sun", until="08:30", page="timer")
    assert "until tomorrow 08:30" in answer.content.decode()


def test_a_time_in_words_is_written_as_the_studio_writes_all_others(helper, pot, studio):
    studio.locale = "en_US"
    studio.save()
    answer = send(helper, pot, "timer", what="sun", until="16:30", page="timer")
    assert "until 4:30\u202fPM" in answer.content.decode()


# Everywhere else


def test_a_bar_stands_on_every_page_and_leads_to_the_pot(helper, pot, client_of, cast):
    begun(helper, pot)
    for name in ("batches:journal", "batches:shelf", "studio:studio", "batches:weigh-in"):
        page = helper.get(reverse(name)).content.decode()
        assert 'class="duebar"' in page and f'href="{reverse("batches:sink", args=[pot.pk])}"' in page, name
        assert page.count("batches/timers.js") == 1
    assert 'class="duebar"' in helper.get(reverse("batches:entry", args=[pot.pk, "note"])).content.decode()


def test_where_nothing_runs_there_is_no_bar_and_no_script(helper, pot):
    page = helper.get(reverse("batches:journal")).content.decode()
    assert "duebar" not in page and "timers.js" not in page


def test_a_viewer_and_a_stranger_see_none(cast, client_of, helper, pot):
    begun(helper, pot)
    assert "duebar" not in client_of(cast.viewer).get(reverse("batches:journal")).content.decode()
    assert "duebar" not in client_of(None).get("/sign-in/").content.decode()


def test_it_names_the_nearest_and_counts_the_others(cast, helper, noon):
    pots = [builders.one_pot(cast.maker) for _ in range(5)]
    for number, pot in enumerate(pots):
        noon.move_to(NOON + timedelta(seconds=number))
        begun(helper, pot, quick=60 - number * 10)
    page = helper.get(reverse("batches:shelf")).content.decode()
    shown = re.findall(r'class="timer[^"]*" data-due="([^"]+)"', page)
    assert shown == sorted(shown) and len(shown) == 3 and "and 2 more" in page


def test_more_timers_ask_no_more_queries(cast, helper, pot):
    def asked(address):
        helper.get(address)
        with CaptureQueriesContext(
            connection,
        ) as captured:
            helper.get(address)
        return len(captured)

    addresses = [reverse("batches:sink", args=[pot.pk]), reverse("batches:shelf"), reverse("batches:journal")]
    begun(helper, pot)
    few = [asked(address) for address in addresses]
    for _ in range(6):
        begun(helper, pot, quick=30)
    assert [asked(address) for address in addresses] == few


# In the journal


def test_the_journal_says_what_is_over_and_shows_what_runs(helper, pot, noon):
    begun(helper, pot)
    noon.move_to(NOON + timedelta(minutes=30))
    page = text(html.unescape(helper.get(reverse("batches:journal")).content.decode()))
    assert "pots 1 and 2, until 12:45" in page and "is over since" not in page
    noon.move_to(hours(1))
    page = helper.get(reverse("batches:journal")).content.decode()
    assert '<p class="small red">Hold is over since 12:45, pots 1 and 2.</p>' in page


def test_one_that_was_forgotten_waits_in_the_journal_and_calls_no_more(helper, pot, noon):
    begun(helper, pot)
    noon.move_to(hours(60))
    page = helper.get(reverse("batches:journal")).content.decode()
    assert "Hold is over since 14 Mar, 12:45" in page and "duebar" not in page


def test_what_is_due_is_fetched_anew_by_itself(helper, pot):
    address = reverse("batches:timers")
    assert "timer" not in helper.get(address).content.decode()
    begun(helper, pot)
    assert 'class="duebar"' in helper.get(address).content.decode()
    here = helper.get(f"{address}?pot={pot.pk}").content.decode()
    assert 'class="block due"' in here and 'value="timer_end"' in here
    assert 'class="duebar"' in helper.get(f"{address}?pot=pot").content.decode()
