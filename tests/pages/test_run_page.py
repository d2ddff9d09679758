"""A run's record, and what is done to a run as a whole."""

from decimal import Decimal
from types import SimpleNamespace

import pytest
from lxml import html

from batches.models import (
    BatchYarn,
    Check,
    Finish,
    Move,
    Output,
    Reading,
    Run,
    StepDone,
    Strike,
    Work,
)
from recipes.models import Colourway
from tests import builders
from tests.builders import hours, stamp
from tests.pages.run_forms import BAD, boxes, fields_of, sentences, words


@pytest.fixture
def at(cast, client_of):
    """Two running pots, each to get 40 mL of a bottle and then to be heated."""
    bottle = builders.bottle(cast.maker)
    run = builders.run_with_pots(cast.maker, lines=[(bottle, 40), ()], title="Low tide")
    return SimpleNamespace(
        run=run,
        url=f"/runs/{run.code}/",
        bottle=bottle,
        browser=client_of(cast.maker),
        pots=list(run.batches.order_by("number")),
    )


def add(at, cast, amount, pot=0, planned=True, **facts):
    line = at.pots[pot].plan.first() if planned else None
    return builders.addition(cast.helper, at.pots[pot], at.bottle, amount, plan_line=line, **facts)


def shown(at):
    return words(at.browser.get(at.url)).replace("\xa0", " ")


def test_the_plan_stands_beside_the_log(at, cast):
    assert "80 mL not yet" in shown(at)
    add(at, cast, 45), add(at, cast, 40, pot=1)
    add(at, cast, 5, planned=False, place="first third")
    page = shown(at)
    assert "85 mL" in page and "5 mL over" in page
    assert "not planned" in page and "first third" in page


def test_less_than_planned_is_said_with_how_much(at, cast):
    add(at, cast, 35), add(at, cast, 40, pot=1)
    assert "5 mL under" in shown(at)


def test_a_struck_line_is_read_but_not_counted(at, cast):
    wrong = add(at, cast, 40)
    Strike.log(at.pots[0], stamp(cast.helper, hours(1)), target=wrong.pk, reason="Other jar")
    page = shown(at)
    assert "struck out" in page and "Other jar" in page
    assert "80 mL not yet" in page


def test_what_nobody_weighed_is_called_at_least(at, cast):
    jar = builders.receive_powder(cast.maker)
    add(at, cast, 40)
    builders.addition(cast.helper, at.pots[0], jar, how="sprinkled")
    page = shown(at)
    assert "at least 0.4 g" in page and "not weighed" in page


def test_each_pot_says_its_own_depth(at, cast):
    add(at, cast, 40), add(at, cast, 20, pot=1)
    page = shown(at)
    assert "0.2 % owf" in page and "0.1 % owf" in page


def test_checks_lots_and_hands_are_on_the_page(at, cast):
    add(at, cast, 40)
    Reading.log(at.pots[0], stamp(cast.helper, hours(1)), clear="nearly")
    Check.log(at.pots[0], stamp(cast.helper, hours(2)), what="cloth", result="a_lot")
    Work.log(at.pots[0], stamp(cast.helper, hours(2)), minutes=Decimal(35))
    page = shown(at)
    for part in ("nearly clear", "bleeds", "A lot", "35 min", str(at.bottle.substance), "bottle made"):
        assert part in page, part


@pytest.mark.parametrize("role", ["owner", "maker", "helper", "viewer"])
def test_costs_and_buttons_go_by_role(at, cast, client_of, role):
    for pot in at.pots:
        builders.finish(cast.maker, pot)
    builders.cost_sheet(cast.maker, at.run)
    page = client_of(getattr(cast, role)).get(at.url)
    text, source = words(page), page.content.decode()
    makes = role in ("owner", "maker")
    assert ("€43.50" in text) == makes
    assert (f"{at.url}cost/" in source) == (f"{at.url}tags/" in source) == makes
    assert (f"{at.url}judge/" in source) == (role != "viewer")


def test_a_cost_that_nobody_froze_is_shown_as_it_stands(cast, client_of):
    yarn = builders.receive_yarn(cast.maker, builders.make_base("Sparrow"), skeins=10, cost_minor=9400)
    run = builders.run_with_pots(cast.maker, yarn, skeins=3)
    page = client_of(cast.maker).get(f"/runs/{run.code}/")
    assert "What went in by now; not frozen yet" in words(page)
    assert "Cost of the run: yarn €56.40" in page.content.decode()
    for pot in run.batches.all():
        builders.finish(cast.maker, pot)
    page = words(client_of(cast.maker).get(f"/runs/{run.code}/"))
    assert "As of now; not frozen yet" in page and "€9.40 for a first" in page
    assert "Cost of the run" not in client_of(cast.helper).get(f"/runs/{run.code}/").content.decode()


def test_a_cost_without_any_price_is_said_and_not_called_zero(at):
    page = shown(at)
    assert "Nothing that went in has a price yet." in page and "€0.00" not in page


def test_queries_do_not_grow_with_what_was_not_weighed(at, cast, django_assert_max_num_queries):
    add(at, cast, None, planned=False)
    with django_assert_max_num_queries(75) as few:
        at.browser.get(at.url)
    for hour in range(1, 7):
        add(at, cast, None, planned=False, place=f"place {hour}")
        builders.words(cast.helper, at.pots[0], at=hours(hour))
    with django_assert_max_num_queries(len(few)):
        at.browser.get(at.url)


def test_yarn_and_bath_say_where_they_came_from_and_went_on_to(at, cast):
    builders.finish(cast.maker, at.pots[0])
    later = builders.run_with_pots(cast.maker, lines=[()], title="High tide")
    pot = later.batches.order_by("number").first()
    output = Output.objects.get(yarn__batch=at.pots[0])
    BatchYarn.objects.filter(batch=pot).update(source="output", lot=None, output=output, movement=None)
    Move.log(pot, stamp(cast.helper, hours(9)), what="liquor_in", other_batch=at.pots[1])
    facts = head_facts(at.browser.get(f"/runs/{later.code}/"))
    assert facts["Yarn from"] == facts["Bath from"] == f"Low tide {at.run.code}"
    facts = head_facts(at.browser.get(at.url))
    assert facts["Yarn went on to"] == facts["Bath went on to"] == f"High tide {later.code}"


def head_facts(page):
    pairs = html.fromstring(page.content.decode()).xpath('//section[@aria-labelledby="t"]//dl/div')
    return {pair[0].text_content(): " ".join(pair[1].text_content().split()) for pair in pairs}


def test_what_bled_at_first_says_so(at, cast):
    Check.log(at.pots[0], stamp(cast.helper, hours(2)), what="cloth", result="a_lot")
    assert "It bleeds" in shown(at) and "at first" not in shown(at)
    Check.log(at.pots[0], stamp(cast.helper, hours(3)), what="cloth", result="none")
    assert "It bled at first, and does not any more" in shown(at)


def test_what_was_not_planned_stands_where_it_happened(at, cast):
    add(at, cast, 40), add(at, cast, 40, pot=1)
    builders.addition(cast.helper, at.pots[0], at.bottle, 5, at=hours(1), place="over the join")
    StepDone.log(at.pots[0], stamp(cast.helper, hours(2)), kind="hold", plan_line=at.pots[0].plan.last())
    rows = html.fromstring(at.browser.get(at.url).content.decode()).xpath(
        '//table[contains(@class, "carded")]/tbody/tr[not(@class="by-pot")]'
    )
    assert ["over the join" in row.text_content() for row in rows] == [False, True, False]


def test_only_unweighed_dye_is_no_depth(at, cast):
    add(at, cast, None), add(at, cast, None, pot=1)
    page = shown(at)
    assert "Dye fednot weighed" in page and "0 % owf" not in page
    assert f"{at.bottle}, not measured Each of both pots" in page.replace("measuredEach", "measured Each")


def test_several_samples_are_samples(at, cast):
    outputs = [Output(yarn=at.pots[0].yarns.get(), grade="sample", skeins=2)]
    Finish.log(at.pots[0], stamp(cast.maker, hours(5)), outputs=outputs)
    assert "2 samples or snippets" in shown(at)


def test_a_cost_that_is_out_of_date_says_so(at, cast):
    for pot in at.pots:
        builders.finish(cast.maker, pot)
    builders.cost_sheet(cast.maker, at.run)
    assert "Out of date" not in shown(at)
    add(at, cast, 10, received_at=hours(9))
    assert "Out of date" in shown(at)


def test_queries_do_not_grow_with_the_log(at, cast, django_assert_max_num_queries):
    add(at, cast, 40)
    with django_assert_max_num_queries(60) as few:
        at.browser.get(at.url)
    for hour in range(1, 9):
        builders.addition(cast.helper, at.pots[hour % 2], at.bottle, 1, at=hours(hour), place=f"place {hour}")
        builders.words(cast.helper, at.pots[hour % 2], at=hours(hour))
        Move.log(at.pots[0], stamp(cast.helper, hours(hour)), what="where", where="cooling")
        Check.log(at.pots[1], stamp(cast.helper, hours(hour)), what="cloth", result="none")
    builders.Entry.log_words(at.pots[0], stamp(cast.helper, words="Skipped"), plan_line=at.pots[0].plan.last())
    with django_assert_max_num_queries(len(few)):
        at.browser.get(at.url)


def test_what_a_tool_can_not_tell_apart_is_no_deviation(at, cast):
    builders.make_tool("Cylinder", kind="cylinder", step="2")
    add(at, cast, 41), add(at, cast, 41, pot=1)
    assert "over" not in shown(at)
    add(at, cast, 4)
    assert "6 mL over" in shown(at)


def lines(answer):
    """[(day, what, more)] of the page's log."""
    found = []
    for day in html.fromstring(answer.content.decode()).xpath('//section[@class="logday"]'):
        for line in day.xpath(".//li"):
            what, more = line.xpath('.//*[@class="what" or self::del]'), line.xpath('.//*[@class="sub"]')
            found.append((day.xpath("h3")[0].text, *(" ".join(one[0].text_content().split()) for one in (what, more))))
    return found


def test_what_was_alike_in_all_pots_is_said_once(at, cast):
    add(at, cast, 40), add(at, cast, 40, pot=1)
    builders.addition(cast.helper, at.pots[0], at.bottle, 5, at=hours(1))
    for pot in at.pots:
        Work.log(pot, stamp(cast.helper, hours(3)), minutes=Decimal("1.875"))
    builders.words(cast.helper, at.pots[1], "Stirred", at=hours(30))
    said = [(what.replace("\xa0", " "), more.split(", ")[0]) for _, what, more in lines(at.browser.get(at.url))]
    name = at.bottle.substance
    assert said == [
        (f"{name}, 40 mL of 1 %", "Each of both pots"),
        (f"{name}, 5 mL of 1 %", "Pot 1"),
        ("Work, 4 min", "Each of both pots"),
        ("Stirred", "Pot 2"),
    ]
    days = [day for day, _, _ in lines(at.browser.get(at.url))]
    assert days[0] == days[2] != days[3]


def test_jars_are_called_jars(cast, client_of):
    run = builders.run_with_pots(cast.maker, pots=3, title="Low tide")
    run.batches.update(vessel=builders.make_vessel("Jars", kind="jar", how_many=8))
    for jar in run.batches.all():
        builders.words(cast.helper, jar, "Shaken", at=hours(1))
    page = words(client_of(cast.maker).get(f"/runs/{run.code}/"))
    assert "Jars 1 to 3" in page and "Each of the 3 jars" in page


def test_where_nothing_was_planned_no_plan_stands_beside_the_log(cast, client_of):
    run = builders.run_with_pots(cast.maker, title="Low tide")
    builders.addition(cast.helper, run.batches.first(), builders.bottle(cast.maker), 5)
    page = words(client_of(cast.maker).get(f"/runs/{run.code}/"))
    assert "What went in" in page and "not planned" not in page and "Planned" not in page


def test_the_same_said_twice_of_one_pot_stays_two_lines(at, cast):
    for _ in range(2):
        builders.words(cast.helper, at.pots[0], "Stirred", at=hours(1))
    assert [what for _, what, _ in lines(at.browser.get(at.url))] == ["Stirred", "Stirred"]


def test_a_long_log_ends_on_the_page_and_begins_on_its_own(at, cast, client_of):
    for minute in range(130):
        builders.words(cast.helper, at.pots[minute % 2], f"Line {minute}", at=hours(minute / 60))
    page = at.browser.get(at.url)
    assert [what for _, what, _ in lines(page)] == [f"Line {n}" for n in range(106, 130)]
    assert "The last 24 of 130 lines" in words(page) and f'href="{at.url}log/"' in page.content.decode()
    whole = client_of(cast.viewer).get(f"{at.url}log/")
    assert [what for _, what, _ in lines(whole)] == [f"Line {n}" for n in range(100)]
    rest = lines(client_of(cast.viewer).get(f"{at.url}log/?page=2"))
    assert [what for _, what, _ in rest] == [f"Line {n}" for n in range(100, 130)]
    assert client_of(cast.viewer).get(f"{at.url}log/?page=zebra").status_code == 200


def test_the_hours_are_drawn_and_said(at, cast):
    assert "Hours" not in shown(at)
    add(at, cast, 40)
    for pot in at.pots:
        StepDone.log(pot, stamp(cast.helper, hours(2)), kind="hold", temperature_c=Decimal(85), minutes=Decimal(30))
        StepDone.log(pot, stamp(cast.helper, hours(3)), kind="cool")
    wrong = Reading.log(at.pots[0], stamp(cast.helper, hours(3)), ph=Decimal(4))
    Strike.log(at.pots[0], stamp(cast.helper, hours(4)), target=wrong.pk)
    page = at.browser.get(at.url)
    drawn = html.fromstring(page.content.decode()).xpath('//figure[@class="timeline"]')[0]
    marks = [one.get("href") for one in drawn.xpath(".//use")]
    assert (marks.count("#t-in"), marks.count("#t-step"), marks.count("#t-reading")) == (1, 4, 0)
    assert len(drawn.xpath('.//*[@class="drawn"]//rect[@class="heat"]')) == 2
    said = " ".join(drawn.xpath('.//*[@id="line-said"]')[0].text_content().split())
    assert "something went in once, 4 steps." in said and "pots 1 and 2" in said


def test_a_check_its_remedy_and_its_retest_are_a_chain(at, cast):
    for pot in at.pots:
        bled = Check.log(pot, stamp(cast.helper, hours(2)), what="cloth", result="a_lot")
        acid = Check.log(pot, stamp(cast.helper, hours(3), words="More acid"), what="remedy", because=bled)
        Check.log(pot, stamp(cast.helper, hours(4)), what="cloth", result="none", because=acid)
    Check.log(at.pots[0], stamp(cast.helper, hours(4)), what="rub_dry", result="none")
    page = html.fromstring(at.browser.get(at.url).content.decode())
    chains = page.xpath('//ol[contains(@class, "chain")]')
    assert [one.text for one in chains[0].xpath(".//h3")] == [
        "Damp white cloth",
        "What was done about it",
        "Damp white cloth",
    ]
    assert len(chains) == 1 and "all pots" in chains[0].text_content()
    assert len(page.xpath('//div[@class="tests"]//h3')) == 1


def test_yarn_in_and_out_is_told_and_why_it_is_off(at, cast):
    builders.finish(cast.maker, at.pots[0])
    outputs = [Output(yarn=at.pots[1].yarns.get(), grade="second", skeins=1)]
    Finish.log(at.pots[1], stamp(cast.maker, hours(5)), outputs=outputs, why_off="One was felted")
    page = shown(at)
    assert "2 firsts" in page and "1 second" in page
    assert "fewer came out than went in" in page and "One was felted" in page


def test_baths_are_told_when_one_was_used_again(at, cast):
    assert "Baths" not in shown(at)
    Move.log(at.pots[1], stamp(cast.helper, hours(2)), what="liquor_in", other_batch=at.pots[0])
    page = shown(at)
    assert "Dye bath, Pot 2" in page and "goes on from Pot 1: what was still in it is not known" in page


def test_each_page_of_a_run_bears_its_colour_bar(at, cast):
    add(at, cast, 40)
    for pot in at.pots:
        builders.finish(cast.maker, pot)
    dye = at.bottle.solution.parts.get().dye.name
    for page in ("judge/", "finish/", "tags/", "cost/", "log/", ""):
        assert f'role="img" aria-label="Dyes by mass: {dye} 0.4' in at.browser.get(
            f"{at.url}{page}"
        ).content.decode() or (
            page == "" and f'aria-label="Logged: {dye} 0.4' in at.browser.get(at.url).content.decode()
        ), page


def test_a_frozen_cost_is_a_bar_for_the_run_and_a_price_for_a_skein(at, cast):
    for pot in at.pots:
        builders.finish(cast.maker, pot)
    builders.cost_sheet(cast.maker, at.run)
    page = at.browser.get(at.url)
    assert "Cost of the run: yarn €40.00, dye €3.50" in page.content.decode()
    assert "€10.87 for a first" in words(page)


def test_an_entry_after_the_finish_says_so_but_the_way_to_the_shelf_does_not(at, cast):
    for pot in at.pots:
        builders.finish(cast.maker, pot)
    Move.log(at.pots[0], stamp(cast.helper, hours(8)), what="where", where="stored")
    assert "added after finish" not in shown(at)
    builders.words(cast.helper, at.pots[0], "Forgot: descaled", at=hours(1), received_at=hours(9))
    assert "added after finish" in shown(at)


def test_a_run_that_is_not_there_is_not_found(at):
    assert at.browser.get("/runs/99-999/").status_code == 404


# Starting, naming, yarn, giving up, the photo that leads


def test_a_planned_run_is_started_once(cast, client_of):
    run = builders.run_with_pots(cast.maker, start=False)
    browser = client_of(cast.maker)
    first, second = browser.post(f"/runs/{run.code}/start/"), browser.post(f"/runs/{run.code}/start/")
    assert first.url == second.url == f"/sink/{run.batches.order_by('number').first().pk}/"


def test_a_run_gets_a_name_or_a_colourway(at, cast):
    url = f"{at.url}name/"
    at.browser.post(url, {"title": "Kelp", "make_colourway": "on"})
    at.run.refresh_from_db()
    assert at.run.colourway == Colourway.objects.get(name="Kelp")
    way = builders.colourway(cast.maker, "High field")
    at.browser.post(url, {"colourway": way.pk})
    at.run.refresh_from_db()
    assert at.run.name == "High field"


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({}, "Choose a colourway, or write a name."),
        ({"title": "low TIDE", "make_colourway": "on"}, "There is a colourway of this name already"),
        ({"title": "x" * 10_000}, "shorten it"),
        ({"colourway": "999"}, "no longer there"),
    ],
)
def test_a_name_that_can_not_be_is_refused(at, cast, said, sentence):
    builders.colourway(cast.maker, "Low tide")
    answer = at.browser.post(f"{at.url}name/", said)
    assert answer.status_code == 422
    assert any(sentence in found for found in sentences(answer)), sentences(answer)
    assert boxes(answer)["title"] == said.get("title", "")


def test_a_run_from_a_recipe_keeps_its_name(cast, client_of):
    recipe = builders.recipe(cast.maker)
    run = builders.run_with_pots(cast.maker, recipe=recipe, colourway=recipe.colourway)
    answer = client_of(cast.maker).post(f"/runs/{run.code}/name/", {"title": "Another"})
    assert answer.status_code == 302
    run.refresh_from_db()
    assert run.colourway == recipe.colourway


def test_yarn_is_said_later_and_leaves_the_shelf(cast, client_of):
    browser = client_of(cast.maker)
    browser.post("/runs/new/bare/", fields_of(browser.get("/runs/new/bare/"), "title") | {"pots": "2", "skeins": "1"})
    run = Run.objects.get()
    lot = builders.receive_yarn(cast.maker, skeins=5)
    assert "Say which yarn it is" in words(browser.get(f"/runs/{run.code}/"))
    answer = browser.post(f"/runs/{run.code}/yarn/", {"lot": lot.pk, "skeins": "1"})
    assert answer.status_code == 302
    assert builders.on_hand(lot) == 300
    assert set(BatchYarn.objects.values_list("source", flat=True)) == {"lot"}
    assert browser.get(f"/runs/{run.code}/yarn/").status_code == 302  # there is nothing left to say


def test_yarn_that_was_never_on_the_shelf_gets_its_base_and_so_its_tag(cast, client_of):
    browser, base = client_of(cast.maker), builders.make_base("Sparrow")
    browser.post("/runs/new/bare/", fields_of(browser.get("/runs/new/bare/"), "title") | {"pots": "1", "skeins": "2"})
    run = Run.objects.get()
    yarn = BatchYarn.objects.get()
    builders.finish(cast.maker, yarn.batch)
    assert "say on the run's page which yarn it is" in words(browser.get(f"/runs/{run.code}/tags/")).replace("’", "'")
    assert browser.post(f"/runs/{run.code}/yarn/", {"base": base.pk, "skeins": "2"}).status_code == 302
    yarn.refresh_from_db()
    assert (yarn.known_base, yarn.grams, yarn.skein_m, yarn.lot, yarn.movement) == (base, 200, 420, None, None)
    assert run.batches.get().fibre_g == 200
    assert "75% wool" in words(browser.get(f"/runs/{run.code}/tags/"))


def test_yarn_is_of_a_lot_or_of_a_base_and_of_one(cast, client_of):
    browser, lot = client_of(cast.maker), builders.receive_yarn(cast.maker, skeins=5)
    browser.post("/runs/new/bare/", fields_of(browser.get("/runs/new/bare/"), "title"))
    url = f"/runs/{Run.objects.get().code}/yarn/"
    both = {"lot": lot.pk, "base": lot.base_id, "skeins": "1"}
    for said in (both, {"skeins": "1"}, {"base": "zzz", "skeins": "1"}):
        answer = browser.post(url, said)
        assert answer.status_code == 422 and len(sentences(answer)) == 1
    assert builders.on_hand(lot) == 500


@pytest.mark.parametrize("junk", BAD.values(), ids=BAD)
def test_skeins_that_can_not_be_read_are_said_and_kept(cast, client_of, junk):
    browser = client_of(cast.maker)
    browser.post("/runs/new/bare/", fields_of(browser.get("/runs/new/bare/"), "title"))
    answer = browser.post(f"/runs/{Run.objects.get().code}/yarn/", {"skeins": junk})
    assert answer.status_code == 422 and sentences(answer)
    assert boxes(answer)["skeins"] == junk.replace("\x00", "")


def test_giving_up_asks_why_and_frees_what_was_promised(cast, client_of):
    run = builders.run_with_pots(cast.maker, start=False)
    browser, url = client_of(cast.maker), f"/runs/{run.code}/give-up/"
    assert browser.post(url, {"why": " "}).status_code == 422
    assert browser.post(url, {"why": "x" * 10_000}).status_code == 422
    assert browser.post(url, {"why": "The heater broke"}).status_code == 302
    assert "The heater broke" in words(browser.get(f"/runs/{run.code}/"))
    assert not builders.Run.objects.open().exists()


def test_a_finished_run_is_not_given_up(at, cast):
    for pot in at.pots:
        builders.finish(cast.maker, pot)
    answer = at.browser.post(f"{at.url}give-up/", {"why": "Regret"}, follow=True)
    assert "This run is finished" in words(answer)


@pytest.mark.parametrize("page", ["start", "name", "yarn", "give-up", "cover"])
def test_only_makers_change_a_run(at, cast, client_of, page):
    for person in (cast.helper, cast.viewer):
        assert client_of(person).post(f"{at.url}{page}/").status_code == 403
