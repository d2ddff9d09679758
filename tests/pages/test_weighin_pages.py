"""The weigh-in's pages: which jars they ask for, what they refuse, what they say."""

import re
from datetime import timedelta
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone
from lxml import html

from studio.models import Measure, Movement, Weighing
from tests import builders

WEIGH_IN = reverse("batches:weigh-in")


@pytest.fixture
def yesterday():
    return timezone.now() - timedelta(days=1)


@pytest.fixture
def jar(cast, yesterday):
    return builders.receive_powder(cast.maker, builders.make_dye("Soot"), at=yesterday, tare_g=50)


@pytest.fixture
def pot(cast, yesterday):
    return builders.one_pot(cast.maker, at=yesterday)


@pytest.fixture
def helper(cast, client_of):
    return client_of(cast.helper)


def sprinkle(cast, pot, jar, **facts):
    return builders.addition(cast.helper, pot, jar, at=timezone.now(), **facts)


def opened(cast, jar, gross, at):
    return Weighing.objects.create(lot=jar, gross_g=gross, at=at, recorded_at=at, by=cast.maker)


def sent(**weights):
    return {"once": str(uuid4())} | weights


def test_what_was_touched_is_asked_for_with_its_last_weight(helper, cast, jar, pot, yesterday):
    opened(cast, jar, "150.25", yesterday)
    sprinkle(cast, pot, jar)
    page = helper.get(WEIGH_IN).content.decode()
    assert f'name="gross_{jar.pk}"' in page
    assert "It was 150.25\N{NO-BREAK SPACE}g" in page and "it held 100.25\N{NO-BREAK SPACE}g" in page


def test_a_weight_of_this_morning_is_asked_for_where_none_was_kept(helper, cast, jar, pot):
    sprinkle(cast, pot, jar)
    assert f'name="opening_{jar.pk}"' in helper.get(WEIGH_IN).content.decode()


def test_a_jar_may_be_asked_for_by_its_own_page(helper, jar):
    assert f'name="gross_{jar.pk}"' in helper.get(f"{WEIGH_IN}?lot={jar.pk}&lot=x&lot=999999999999999").content.decode()


def test_the_page_says_what_each_sprinkle_had(helper, cast, jar, pot, yesterday):
    opened(cast, jar, 150, yesterday)
    sprinkle(cast, pot, jar, taps=1)
    sprinkle(cast, pot, jar, taps=3)
    answer = helper.post(WEIGH_IN, sent(**{f"gross_{jar.pk}": "142"}), follow=True)
    page = answer.content.decode()
    assert "142\N{NO-BREAK SPACE}g, so 92\N{NO-BREAK SPACE}g are in it" in page
    assert "8\N{NO-BREAK SPACE}g are gone, into 2 uses that nobody weighed" in page
    numbers = re.findall(r'<td class="n">([^<]*)</td>', page)
    assert numbers == ["2", "25&nbsp;%", "6", "75&nbsp;%", "8", "100&nbsp;%"]  # the last two: together
    assert pot.run.code in page and ", 1 tap<" in page and ", 3 taps<" in page


def test_the_page_says_of_fillings_which_spoon_they_were_of(helper, cast, jar, pot, yesterday):
    opened(cast, jar, 150, yesterday)
    spoon = Measure.objects.create(name="Bone spoon")
    sprinkle(cast, pot, jar, measure=spoon, fillings=2)
    page = helper.post(WEIGH_IN, sent(**{f"gross_{jar.pk}": "142"}), follow=True).content.decode()
    assert ", 2\N{NO-BREAK SPACE}× Bone spoon<" in page and " tap" not in page


def test_the_first_weight_of_a_bottle_is_only_kept(helper, cast, pot):
    red = builders.bottle(cast.maker)
    page = helper.post(WEIGH_IN, sent(**{f"gross_{red.pk}": "400"}), follow=True).content.decode()
    assert "first weight, and it is kept" in page
    assert Weighing.objects.get().gross_g == 400


def test_both_weights_may_be_given_at_once(helper, cast, jar, pot):
    sprinkle(cast, pot, jar)
    weights = {f"gross_{jar.pk}": "145", f"opening_{jar.pk}": "148.5"}
    helper.post(WEIGH_IN, sent(**weights))
    assert [-share.amount for share in Movement.objects.filter(kind="shared")] == [builders.Decimal("3.5")]


def test_a_page_sent_twice_weighs_once(helper, cast, jar, pot):
    said = sent(**{f"gross_{jar.pk}": "145"})
    first, again = helper.post(WEIGH_IN, said), helper.post(WEIGH_IN, said)
    assert first.url == again.url and Weighing.objects.count() == 1


def test_more_gone_than_there_was_is_asked_about_and_taken_when_sure(helper, cast, jar, pot, yesterday):
    opened(cast, jar, 1500, yesterday)
    sprinkle(cast, pot, jar)
    asked = helper.post(WEIGH_IN, sent(**{f"gross_{jar.pk}": "150"}))
    assert asked.status_code == 422 and f'name="sure_{jar.pk}"' in asked.content.decode()
    assert not Movement.objects.filter(kind="shared").exists()
    helper.post(WEIGH_IN, sent(**{f"gross_{jar.pk}": "150", f"sure_{jar.pk}": "on"}))
    assert Movement.objects.filter(kind="shared").count() == 1


@pytest.mark.parametrize("before", ["150.25", None])
def test_a_digit_too_many_is_asked_about_and_taken_when_sure(helper, cast, jar, yesterday, before):
    if before:
        opened(cast, jar, before, yesterday)
    said = sent(**{f"gross_{jar.pk}": "99999"})
    page = helper.post(WEIGH_IN, said).content.decode()
    assert "far more than" in page and f'name="sure_{jar.pk}"' in page and 'value="99999"' in page
    assert not Weighing.objects.filter(gross_g=99999).exists()
    helper.post(WEIGH_IN, said | {f"sure_{jar.pk}": "on"})
    assert Weighing.objects.filter(gross_g=99999).exists()


def test_one_wrong_number_keeps_the_others(helper, cast, jar):
    red = builders.bottle(cast.maker)
    answer = helper.post(WEIGH_IN, sent(**{f"gross_{jar.pk}": "20", f"gross_{red.pk}": "400"}))
    page = answer.content.decode()
    assert answer.status_code == 422 and "less than the empty container weighs" in page and 'value="400"' in page
    assert not Weighing.objects.exists()


def test_queries_do_not_grow_with_the_jars(helper, cast, pot, django_assert_max_num_queries):
    sprinkle(cast, pot, builders.receive_powder(cast.maker))
    helper.get(WEIGH_IN)
    with django_assert_max_num_queries(100) as few:
        helper.get(WEIGH_IN)
    for _ in range(5):
        sprinkle(cast, pot, builders.receive_powder(cast.maker))
    with django_assert_max_num_queries(len(few)):
        helper.get(WEIGH_IN)


BAD = ["-5", "99999999999999999999", "5 furlongs", "1,000", "\N{SNOWMAN}", "x" * 10_000, "1/0", "<b>", "5 mL", "0"]


@pytest.mark.parametrize("bad", BAD)
def test_a_weight_that_cannot_be_read_is_refused_and_kept(helper, cast, jar, pot, bad):
    sprinkle(cast, pot, jar)
    said = sent(**{f"gross_{jar.pk}": bad, f"opening_{jar.pk}": bad, f"gross_{10**14}": "5"})
    answer = helper.post(WEIGH_IN, said)
    assert answer.status_code == 422 and not Weighing.objects.exists()
    assert bad.replace("<", "&lt;").replace(">", "&gt;") in answer.content.decode()


@pytest.mark.parametrize("said", [{}, {"once": "x"}, {"gross_": "5"}, {"gross_x": "5"}, {"gross_99999999999999": "5"}])
def test_a_page_without_a_weight_is_refused_with_a_sentence(helper, said):
    assert helper.post(WEIGH_IN, said).status_code == 422


@pytest.mark.parametrize("query", ["", "?from=x&to=y", "?from=1", "?from=99999999999999999&to=1", "?from=5&to=2"])
def test_a_result_of_nothing_is_no_error(helper, query):
    assert helper.get(reverse("batches:weigh-in-result") + query).status_code in (200, 302)


def test_yarn_is_not_weighed_in(helper, cast):
    yarn = builders.receive_yarn(cast.maker)
    assert helper.post(WEIGH_IN, sent(**{f"gross_{yarn.pk}": "100"})).status_code == 422


def test_viewers_do_not_weigh(client_of, cast, jar):
    viewer = client_of(cast.viewer)
    assert viewer.get(WEIGH_IN).status_code == 403
    assert viewer.post(WEIGH_IN, sent(**{f"gross_{jar.pk}": "100"})).status_code == 403


def test_a_jar_whose_empty_weight_nobody_knows_offers_to_say_it(helper, cast, jar, pot, yesterday):
    bare = builders.receive_powder(cast.maker, at=yesterday)
    for one in (jar, bare):
        sprinkle(cast, pot, one)
    page = helper.get(WEIGH_IN).content.decode()
    assert f'name="empty_{bare.pk}"' in page and f'name="empty_{jar.pk}"' not in page
    said = sent(**{f"gross_{bare.pk}": "150", f"empty_{bare.pk}": "41.5"})
    shown = helper.post(WEIGH_IN, said, follow=True).content.decode()
    assert "150\N{NO-BREAK SPACE}g, so 108.5\N{NO-BREAK SPACE}g are in it" in shown
    sprinkle(cast, pot, bare)
    assert "Empty it weighs 41.5\N{NO-BREAK SPACE}g" in helper.get(WEIGH_IN).content.decode()


def test_an_empty_weight_above_the_full_one_is_refused(helper, cast, yesterday):
    bare = builders.receive_powder(cast.maker, at=yesterday)
    answer = helper.post(WEIGH_IN, sent(**{f"gross_{bare.pk}": "40", f"empty_{bare.pk}": "41.5"}))
    assert answer.status_code == 422 and "less than the empty container weighs" in answer.content.decode()
    only = helper.post(WEIGH_IN, sent(**{f"empty_{bare.pk}": "41.5"}))
    assert only.status_code == 422 and "Write what it weighs now as well" in only.content.decode()


def test_what_nobody_asked_for_is_one_fold_away(helper, cast, jar):
    page = html.fromstring(helper.get(WEIGH_IN).content)
    (fold,) = [fold for fold in page.iter("details") if f"gross_{jar.pk}" in html.tostring(fold, encoding=str)]
    assert "1 other jar and bottle" in fold.text_content()
    kept = helper.post(WEIGH_IN, sent(**{f"gross_{jar.pk}": "150"}))
    assert kept.status_code == 302 and Weighing.objects.get().lot == jar


@pytest.mark.parametrize(("hour", "heading"), [(8, "before you begin"), (18, "after the work")])
def test_the_page_says_which_weigh_in_it_is(helper, cast, jar, hour, heading, time_machine):
    time_machine.move_to(timezone.localtime().replace(hour=hour, minute=0) + timedelta(days=1))
    builders.run_with_pots(cast.maker, pots=1, lines=[(jar, 1)], at=timezone.now())
    page = helper.get(WEIGH_IN).content.decode()
    assert f"Weigh in {heading}" in page and "Weigh these before you begin" in page


def test_the_journal_asks_for_it_in_the_morning_until_it_is_done(helper, cast, jar, time_machine):
    time_machine.move_to(timezone.localtime().replace(hour=8, minute=0) + timedelta(days=1))
    builders.run_with_pots(cast.maker, pots=1, lines=[(jar, 1)], at=timezone.now())
    asked = "1 jar or bottle for today, not weighed since last used."
    assert asked in helper.get("/journal/").content.decode()
    helper.post(WEIGH_IN, sent(**{f"gross_{jar.pk}": "150"}))
    assert asked not in helper.get("/journal/").content.decode()
    time_machine.move_to(timezone.localtime().replace(hour=15))
    builders.run_with_pots(cast.maker, pots=1, lines=[(builders.receive_powder(cast.maker), 1)], at=timezone.now())
    assert asked not in helper.get("/journal/").content.decode()
