"""The page for weighing ahead: by jar, one touch each, another amount, and taking it back."""

from datetime import timedelta
from urllib.parse import urlencode
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone
from lxml import html

from batches.models import Entry, PlanLine, Run, Strike
from tests import builders

AHEAD = reverse("batches:weigh-ahead")


@pytest.fixture
def jar(cast):
    return builders.receive_powder(cast.maker, builders.make_dye("Soot"))


@pytest.fixture
def run(cast, jar):
    lines = [(jar, "1.2"), (builders.bottle(cast.maker, solution=builders.make_solution("Slow red")), 40)]
    return builders.run_with_pots(cast.maker, pots=2, lines=lines, title="Low tide")


@pytest.fixture
def helper(cast, client_of):
    return client_of(cast.helper)


def pot_of(run):
    return run.batches.order_by("number").first()


def said(pot, lot=None, **more):
    line = {} if lot is None else {"line": pot.plan.get(lot=lot).pk}
    return {"pot": pot.pk, "kind": "weighed", "id": str(uuid4()), "pots": "this"} | line | more


def headings(answer):
    return [" ".join(one.text_content().split()) for one in html.fromstring(answer.content).iter("h2")]


def test_each_jar_stands_once_with_what_all_pots_want_of_it(helper, run):
    answer = helper.get(AHEAD)
    assert headings(answer) == ["Slow red, 1 %", "Soot, powder", "A pot at once"]
    page = answer.content.decode()
    assert "2 to weigh, 2.4\N{NO-BREAK SPACE}g in all" in page and "2 to weigh, 80\N{NO-BREAK SPACE}mL in all" in page
    assert "Dry powder is a hazard to the lungs" in page


def test_another_amount_begins_in_the_unit_of_its_jar(helper, run):
    for line in pot_of(run).plan.all():
        page = html.fromstring(helper.get(AHEAD, {"line": line.pk}).content)
        assert page.xpath("//select[@name='amount_unit']/option[@selected]/@value") == [line.unit]
        assert page.xpath("//form[.//select]//input[@name='line']/@value") == [str(line.pk)]
        assert "as listed" not in page.text_content()


def test_one_amount_is_written_at_a_time_and_each_leads_to_its_own(helper, run):
    page = html.fromstring(helper.get(AHEAD).content)
    asked = page.xpath("//a[starts-with(normalize-space(), 'Another amount')]/@href")
    assert len(asked) == 4 and not page.xpath("//select")
    for address in asked:
        there = html.fromstring(helper.get(address.partition("#")[0]).content)
        assert len(there.xpath("//select")) == 1 and there.xpath(f"//li[@id='{address.partition('#')[2]}']//select")


def test_one_touch_and_it_stands_weighed(helper, cast, run, jar):
    pot = pot_of(run)
    touch = said(pot, jar, jar="lot-1")
    answer = helper.post(AHEAD, touch)
    assert (answer.status_code, answer.url) == (302, f"{AHEAD}?jar=lot-1#lot-1")
    helper.post(AHEAD, touch)
    entry = Entry.objects.get(kind="weighed")
    assert (entry.by, entry.batch, entry.weighed.amount) == (cast.helper, pot, builders.Decimal("1.2"))
    assert "Weighed for <b>Pot 1</b>" in helper.get(AHEAD).content.decode()


def test_another_amount_is_kept_and_the_sink_says_it(helper, run, jar):
    pot = pot_of(run)
    helper.post(AHEAD, said(pot, jar, amount="1.25"))
    assert PlanLine.objects.with_stands().get(batch=pot, lot=jar).stands == builders.Decimal("1.25")
    sink = helper.get(f"/sink/{pot.pk}/").content.decode()
    assert "It stands weighed (1.25\N{NO-BREAK SPACE}g; the plan told" in sink
    assert "Told 1.2\N{NO-BREAK SPACE}g." in helper.get(AHEAD).content.decode()


@pytest.mark.parametrize("bad", ["lots", "1,000", "-2", "0", "5 mL", "<b>"])
def test_an_amount_that_cannot_be_read_is_asked_for_again_and_kept(helper, run, jar, bad):
    answer = helper.post(AHEAD, said(pot_of(run), jar, amount=bad))
    page = answer.content.decode()
    assert answer.status_code == 422 and "Error: " in page
    assert f'value="{bad.replace("<", "&lt;").replace(">", "&gt;")}"' in page
    assert not Entry.objects.filter(kind="weighed").exists()


def test_what_was_written_of_an_amount_that_somebody_else_has_weighed_is_said(helper, run, jar):
    pot = pot_of(run)
    helper.post(AHEAD, said(pot, jar))
    late = helper.post(AHEAD, said(pot, jar, amount="1,3"))
    assert late.status_code == 422 and "You wrote “1,3”." in text_of(late)


def test_all_of_a_pot_in_one_touch(helper, run):
    pot = pot_of(run)
    helper.post(AHEAD, said(pot, kind="all_weighed"))
    assert Entry.objects.filter(kind="weighed", batch=pot).count() == 2
    assert Entry.objects.filter(kind="weighed").count() == 2
    again = helper.post(AHEAD, said(pot, kind="all_weighed"))
    assert again.status_code == 422 and "stands weighed already" in again.content.decode()


def test_a_touch_is_taken_back_by_the_next_one(helper, run, jar):
    pot = pot_of(run)
    helper.post(AHEAD, said(pot, jar))
    entry = Entry.objects.get(kind="weighed")
    assert f'value="{entry.pk}"' in helper.get(AHEAD).content.decode()
    answer = helper.post(AHEAD, said(pot, kind="strike", target=str(entry.pk)))
    assert answer.status_code == 302 and Strike.objects.get().target == entry.pk
    assert not PlanLine.objects.with_done().get(batch=pot, lot=jar).weighed


def test_what_is_in_is_not_asked_for(helper, cast, run, jar):
    for pot in run.batches.all():
        builders.addition(cast.helper, pot, jar, "1.2", plan_line=pot.plan.get(lot=jar))
    assert headings(helper.get(AHEAD)) == ["Slow red, 1 %"]


def planned_later(cast, jar, pots=1):
    """A run of the day after tomorrow, and the address of its day."""
    later = timezone.now() + timedelta(days=2)
    run = builders.run_with_pots(cast.maker, pots=pots, lines=[(jar, "3")], at=later, start=False)
    return run, f"{AHEAD}?day={timezone.localtime(later):%Y-%m-%d}"


def text_of(answer):
    return " ".join(html.fromstring(answer.content).text_content().split())


def test_the_days_after_are_led_to_and_not_drawn(helper, cast, jar):
    run, later = planned_later(cast, jar)
    today = helper.get(AHEAD)
    assert "Nothing is left to weigh for today" in text_of(today) and headings(today) == []
    assert f"1 to weigh {run.code}" in text_of(today) and f'href="{later}"' in today.content.decode()
    page = helper.get(later)
    assert headings(page) == ["Soot, powder"] and run.code in text_of(page)
    assert "Nothing is left" not in text_of(page)


def test_a_run_leads_to_its_own_day_and_so_does_the_day_sheet(helper, cast, jar):
    run, later = planned_later(cast, jar)
    assert f'href="{later}"' in helper.get(f"/runs/{run.code}/").content.decode()
    assert f'href="{later}"' in helper.get(f"/day/{later.removeprefix(AHEAD)}").content.decode()


def test_a_jar_of_two_days_stands_on_each_with_what_that_day_wants(helper, cast, run, jar):
    other, later = planned_later(cast, jar, pots=2)
    today, page = text_of(helper.get(AHEAD)), text_of(helper.get(later))
    assert "2 to weigh, 2.4 g in all" in today and "2 to weigh, 6 g in all" in page
    assert f"4 to weigh {run.code}" in page, "the way back says what today wants"


def test_a_touch_on_a_later_day_stays_there(helper, cast, jar):
    run, later = planned_later(cast, jar)
    answer = helper.post(later, said(pot_of(run), jar, jar=f"lot-{jar.pk}"))
    assert (answer.status_code, answer.url) == (302, f"{later}&jar=lot-{jar.pk}#lot-{jar.pk}")
    assert "all weighed" in text_of(helper.get(AHEAD))
    wrong = helper.post(later, said(pot_of(run), jar, amount="lots"))
    assert wrong.status_code == 422 and "Soot, powder" in headings(wrong)


@pytest.mark.parametrize("day", ["soon", "2026-13-45", "\x00", "9" * 400])
def test_what_is_no_day_is_answered_with_today(helper, run, day):
    answer = helper.get(AHEAD, {"day": day})
    assert answer.status_code == 200 and "is not a day: this is today" in text_of(answer)
    assert "Soot, powder" in headings(answer)


def test_a_day_gone_by_is_today_and_one_far_off_has_nothing(helper, run):
    assert "Soot, powder" in headings(helper.get(AHEAD, {"day": "0001-01-01"}))
    assert "Nothing is left to weigh for" in text_of(helper.get(AHEAD, {"day": "9999-12-31"}))


def test_the_page_grows_with_its_own_day_alone(helper, cast, run, jar):
    before = len(helper.get(AHEAD).content)
    planned_later(cast, jar, pots=1)
    one = len(helper.get(AHEAD).content)
    planned_later(cast, jar, pots=30)
    assert one - before < 1000 and len(helper.get(AHEAD).content) - one < 100


@pytest.fixture
def many(cast, jar):
    """A day with more than a page of one jar, and a bottle."""
    lines = [(jar, "1.2"), (builders.bottle(cast.maker, solution=builders.make_solution("Slow red")), 40)]
    return builders.run_with_pots(cast.maker, pots=50, skeins=1, lines=lines, title="Low tide")


def weighable(answer):
    return html.fromstring(answer.content).xpath("//ol[@class='portions']/li/@id")


def line_of(run, number, lot):
    return run.batches.get(number=number).plan.get(lot=lot)


def test_of_a_day_with_many_amounts_one_jar_is_open(helper, many, jar):
    page = helper.get(AHEAD)
    assert headings(page) == ["Slow red, 1 %", "Soot, powder", "A pot at once"]
    assert "50 to weigh, 2 L in all" in text_of(page) and "50 to weigh, 60 g in all" in text_of(page)
    other = helper.get(AHEAD, {"jar": f"lot-{jar.pk}", "page": 2})
    assert not set(weighable(page)) & set(weighable(other)) and (len(weighable(page)), len(weighable(other))) == (
        40,
        10,
    )
    assert f"line-{line_of(many, 50, jar).pk}" in weighable(other) and "41 to 50 of 50" in text_of(other)
    assert len(page.content) < 150_000, "50 pots are as long as 500: their amounts come page by page"


def test_a_touch_comes_back_to_the_jar_and_page_it_was_on(helper, many, jar):
    there = f"{AHEAD}?jar=lot-{jar.pk}&page=2"
    answer = helper.post(there, said(many.batches.get(number=45), jar, jar=f"lot-{jar.pk}"))
    assert answer.url == f"{there}#lot-{jar.pk}"
    assert "49 to weigh" in text_of(helper.get(answer.url))


def test_what_can_not_be_read_stands_in_the_jar_and_page_of_its_line(helper, many, jar):
    answer = helper.post(AHEAD, said(many.batches.get(number=50), jar, amount="lots"))
    line = line_of(many, 50, jar)
    typed = html.fromstring(answer.content).xpath(f"//li[@id='line-{line.pk}']//input[@name='amount']/@value")
    assert answer.status_code == 422 and typed == ["lots"]


@pytest.mark.parametrize(
    "bad",
    [
        {"jar": "x"},
        {"jar": "\x00"},
        {"page": "many"},
        {"page": "-1"},
        {"page": "9" * 99},
        {"line": "x"},
        {"line": "9" * 99},
    ],
)
def test_a_jar_or_page_that_is_not_there_is_the_first(helper, many, bad):
    answer = helper.get(AHEAD, bad)
    assert answer.status_code == 200 and len(weighable(answer)) in (10, 40)
    again = helper.post(f"{AHEAD}?{urlencode(bad)}", said(many.batches.get(number=1), kind="all_weighed"))
    assert again.status_code == 302 and helper.get(again.url).status_code == 200


def test_queries_do_not_grow_with_the_pages(helper, many, jar, django_assert_max_num_queries):
    with django_assert_max_num_queries(60) as long:
        helper.get(AHEAD, {"jar": f"lot-{jar.pk}"})
    at_first = len(long)
    for number in range(1, 46):
        helper.post(AHEAD, said(many.batches.get(number=number), kind="all_weighed"))
    with django_assert_max_num_queries(at_first):
        helper.get(AHEAD, {"jar": f"lot-{jar.pk}", "page": 2})


def all_at_once(answer):
    """[(button, its form's fields)] of the touches that say a step of a jar for all pots."""
    forms = html.fromstring(answer.content).xpath("//section[contains(@class, 'jar-ahead')]//ul//form")
    return [(" ".join(form.text_content().split()), dict(form.form_values())) for form in forms]


def test_what_all_pots_get_of_a_jar_stands_weighed_by_one_touch(helper, cast, jar):
    lines = [(jar, "1.2"), (builders.bottle(cast.maker, solution=builders.make_solution("Slow red")), 40)]
    run = builders.run_with_pots(cast.maker, pots=3, lines=lines)
    (bottle, _), (powder, fields) = all_at_once(helper.get(AHEAD))
    assert bottle == f"All 3 drawn up: Slow red, 1 %, Pots 1 to 3, {run.code}" and "All 3 weighed: Soot" in powder
    helper.post(AHEAD, fields)
    stand = Entry.objects.filter(kind="weighed", plan_line__lot=jar)
    amounts = [(one.batch.number, str(one.weighed.amount)) for one in stand.order_by("batch__number")]
    assert amounts == [(1, "1.200"), (2, "1.200"), (3, "1.200")]
    assert len(all_at_once(helper.get(AHEAD))) == 1


def test_pots_of_another_jar_or_by_eye_are_not_said_to_be_weighed_out_of_this_one(helper, cast, jar):
    other = builders.receive_powder(cast.maker, jar.dye)
    for lots in ([(jar, "1"), (jar, "1"), (other, "1")], [(jar, "1"), (jar, "1"), (jar, None)]):
        pots = [{"fibre_g": 100, "lines": [builders.plan_line(*line)]} for line in lots]
        Run.plan(by=cast.maker, day=timezone.localdate(), pots=pots)
    assert all_at_once(helper.get(AHEAD)) == []


def test_what_is_weighed_once_is_poured_for_each_pot(helper, cast, jar):
    lines = [[builders.plan_line(jar, "0.04", pour_ml=25)] for _ in range(2)]
    Run.plan(by=cast.maker, day=timezone.localdate(), pots=[{"fibre_g": 100, "lines": each} for each in lines])
    page = " ".join(html.fromstring(helper.get(AHEAD).content).text_content().split()).replace(
        "\N{NO-BREAK SPACE}", " "
    )
    assert "25 mL" in page and "of the solution: 0.04 g" in page and "2 to weigh, 0.08 g in all" in page


def test_what_is_weighed_once_is_poured_in_one_touch_as_it_is_poured(helper, cast, jar):
    lines = [[builders.plan_line(jar, told, pour_ml=pour)] for told, pour in (("0.06", 50), ("0.04", 25), ("0.04", 25))]
    Run.plan(by=cast.maker, day=timezone.localdate(), pots=[{"fibre_g": 100, "lines": each} for each in lines])
    ((button, _),) = all_at_once(helper.get(AHEAD))
    assert button.startswith("All 3 poured") and "25 mL to 50 mL" in text_of(helper.get(AHEAD)).replace("\xa0", " ")


def test_what_no_bottle_was_planned_for_is_called_by_the_strength_it_was_planned_at(helper, cast):
    """Of two strengths of one dye 40 mL are not the same, and neither are they one jar."""
    fog = builders.make_dye("Fog")
    lines = [
        builders.PlanLine(step="add", dye=fog, told=40, exact=40, unit="mL", dye_g=builders.Decimal(grams))
        for grams in ("0.4", "0.04")
    ]
    Run.plan(by=cast.maker, day=timezone.localdate(), pots=[{"fibre_g": 100, "lines": lines}])
    assert headings(helper.get(AHEAD))[:2] == ["Fog 0.1 %", "Fog 1 %"]


def test_a_line_without_a_jar_and_one_without_an_amount_are_there_too(helper, cast, jar):
    run = builders.run_with_pots(cast.maker, pots=1, lines=[], start=False)
    lines = [builders.plan_line(jar), builders.PlanLine(step="add", dye=builders.make_dye("Fog"), told=2, unit="g")]
    run.batches.get().write_plan([], lines)
    page = helper.get(AHEAD).content.decode()
    assert "no jar or bottle was planned" in page and "by eye" in page
    helper.post(AHEAD, said(run.batches.get(), jar, amount="0.7"))
    assert Entry.objects.get(kind="weighed").weighed.amount == builders.Decimal("0.7")


def test_a_viewer_weighs_nothing(client_of, cast, run, jar):
    viewer = client_of(cast.viewer)
    assert viewer.get(AHEAD).status_code == 403
    assert viewer.post(AHEAD, said(pot_of(run), jar)).status_code == 403


@pytest.mark.parametrize(
    "bad",
    [{}, {"pot": "x"}, {"pot": "9" * 30}, {"kind": "weighed"}, {"kind": "bottle"}, {"kind": "weighed", "line": "x"}],
)
def test_a_broken_page_is_answered_with_a_sentence(helper, run, bad):
    data = {"pot": pot_of(run).pk, "id": str(uuid4())} | bad
    assert helper.post(AHEAD, data).status_code in (404, 422)
    assert not Entry.objects.filter(kind="weighed").exists()


def test_queries_do_not_grow_with_the_plans(helper, cast, run, jar, django_assert_max_num_queries):
    helper.post(AHEAD, said(pot_of(run), jar))
    with django_assert_max_num_queries(60) as few:
        helper.get(AHEAD)
    at_first = len(few)
    for number in range(4):
        other = builders.receive_powder(cast.maker)
        more = builders.run_with_pots(cast.maker, pots=2, lines=[(other, "1"), (jar, number + 1)])
        helper.post(AHEAD, said(pot_of(more), other))
    with django_assert_max_num_queries(at_first):
        helper.get(AHEAD)
