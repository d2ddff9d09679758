"""The page that takes a recipe from a log, and the button that does so in one touch."""

from decimal import Decimal
from types import SimpleNamespace
from uuid import uuid4

import pytest
from lxml import html

from batches import capture
from batches.models import Captured, Run
from recipes.models import Colourway, Recipe
from studio.models import Measure, MeasureWeighing
from tests import builders as build
from tests.pages.run_forms import BAD, fields_of, sentences, words


@pytest.fixture
def at(cast, client_of):
    """A lone pot of 100 g of Low tide with 1 g of Rust in it."""
    way = build.colourway(cast.maker, "Low tide")
    red = build.receive_powder(cast.maker, build.make_dye("Rust"))
    return SimpleNamespace(cast=cast, way=way, red=red, browser=client_of(cast.maker))


def dyed(at, amount="1", pots=1, **facts):
    run = build.run_with_pots(at.cast.maker, pots=pots, skeins=1, **{"colourway": at.way, **facts})
    for pot in run.batches.all():
        build.addition(at.cast.maker, pot, at.red, amount)
    return run, f"/runs/{run.code}/recipe/"


def touch(at, address, once=None):
    return at.browser.post(address, {"do": "touch", "once": str(once or uuid4())})


def key_of(run):
    """Of the one line that nobody weighed."""
    (line,) = capture.draft_of(run).unknown
    return line.key


def only_line():
    return Recipe.objects.order_by("-pk").first().steps.get().ingredients.get()


# --- one touch


def test_one_touch_makes_a_version_and_leads_to_it(at):
    run, address = dyed(at)
    page = at.browser.get(f"/runs/{run.code}/")
    assert "Make a recipe of it" in words(page)
    fields = fields_of(page, "once")
    answer = at.browser.post(address, fields | {"do": "touch"})
    version = Recipe.objects.get()
    assert answer.url == f"/recipes/{version.pk}/" and Captured.objects.get().run == run
    text = words(at.browser.get(answer.url))
    assert f"Taken from{run.code}" in text and "Version 1 is taken from the log." in text and "1 % owf" in text
    assert "Version 1" in words(at.browser.get(f"/runs/{run.code}/"))


def test_how_hot_and_how_long_an_amount_went_in_stands_with_it(at):
    line = build.plan_line(at.red, 1, temperature_c=60, minutes=10)
    run = Run.plan(by=at.cast.maker, day=build.DAY, pots=[{"fibre_g": 100, "lines": [line]}], colourway=at.way)
    run.start(by=at.cast.maker)
    build.addition(at.cast.maker, run.batches.get(), at.red, 1, plan_line=run.batches.get().plan.get())
    answer = at.browser.get(touch(at, f"/runs/{run.code}/recipe/").url)
    (row,) = html.fromstring(answer.content.decode()).xpath("//ol[contains(@class, 'todo')]/li")
    assert " ".join(row.text_content().split()) == "1 g Rust1 % owfAdded60 °C, 10 min"


def test_a_touch_sent_twice_makes_one_version(at):
    _, address = dyed(at)
    once = uuid4()
    assert touch(at, address, once).url == touch(at, address, once).url
    assert Recipe.objects.count() == 1


def test_of_two_who_take_the_same_log_the_second_is_told(at, client_of):
    run, address = dyed(at)
    owner = client_of(at.cast.owner)
    fields = fields_of(owner.get(address), "once")
    touch(at, address)
    answer = owner.post(address, fields | {"note": "Softer light"})
    assert answer.status_code == 422 and Recipe.objects.count() == 1
    assert "Version 1 was taken from this log in the meantime" in sentences(answer)[0]
    kept = fields_of(answer, "once")
    assert kept["note"] == "Softer light" and "/recipes/" in answer.content.decode()
    assert owner.post(address, kept).status_code == 302 and Recipe.objects.count() == 2  # said again, it is another


@pytest.mark.parametrize("of", ["", "?pot=1"])
def test_of_two_who_touch_at_the_same_moment_the_second_is_told(at, monkeypatch, of):
    """The second comes to the page of the same pot."""
    run, address = dyed(at)
    address += of
    old = capture.draft_of(run)
    touch(at, address)
    monkeypatch.setattr("batches.views.capture.capturing.draft_of", lambda *_: old)  # read before the first was kept
    answer = touch(at, address)
    monkeypatch.undo()
    assert answer.url == address and Recipe.objects.count() == 1
    assert "Version 1 was taken from this log in the meantime" in words(at.browser.get(address))


def test_taken_before_it_asks_first(at):
    _, address = dyed(at)
    touch(at, address)
    assert touch(at, address).url == address and Recipe.objects.count() == 1
    assert "Taken before, as version 1" in words(at.browser.get(address))


@pytest.mark.parametrize("once", ["", "no number"])
def test_a_touch_without_its_number_leads_to_the_page(at, once):
    _, address = dyed(at)
    assert at.browser.post(address, {"do": "touch", "once": once}).url == address
    assert not Recipe.objects.exists()


def test_what_is_open_leads_to_the_page(at):
    _, address = dyed(at, amount=None)
    assert touch(at, address).url == address and not Recipe.objects.exists()


def test_the_button_is_for_makers_and_where_dye_went_in(at, client_of):
    run, address = dyed(at)
    for person in (at.cast.helper, at.cast.viewer):
        assert "Make a recipe of it" not in words(client_of(person).get(f"/runs/{run.code}/"))
        assert client_of(person).post(address, {"do": "touch", "once": str(uuid4())}).status_code == 403
    planned = build.run_with_pots(at.cast.maker, start=False)
    assert "Make a recipe of it" not in words(at.browser.get(f"/runs/{planned.code}/"))


# --- the page


def test_about_so_much(at):
    run, address = dyed(at, amount=None, pots=2)
    page = at.browser.get(address)
    assert "Rust" in words(page) and "Pots 1 and 2" in words(page)
    fields = fields_of(page, "once")
    name = f"amount-{key_of(run)}"
    answer = at.browser.post(address, fields | {name: "0,5"})
    assert answer.status_code == 302
    assert (only_line().amount, only_line().estimated) == (Decimal("0.5"), True)


def test_by_a_measure_of_the_studios(at):
    spoon = Measure.objects.create(name="Bone spoon")
    weighing = {"measure": spoon, "dye": at.red.dye, "fillings": 10, "grams": 2, "at": build.NOON}
    MeasureWeighing.objects.create(**weighing, by=at.cast.maker)
    run, address = dyed(at, amount=None)
    fields = fields_of(at.browser.get(address), "once")
    key = key_of(run)
    answer = at.browser.post(address, fields | {f"fillings-{key}": "1 1/2", f"measure-{key}": str(spoon.pk)})
    assert answer.status_code == 302
    assert (only_line().amount, only_line().estimated) == (Decimal("0.3"), True)


def test_left_by_eye(at):
    run, address = dyed(at, amount=None)
    fields = fields_of(at.browser.get(address), "once")
    name = f"amount-{key_of(run)}"
    say = name.replace("amount-", "say-")
    assert at.browser.post(address, fields | {say: "eye"}).status_code == 302
    assert only_line().amount is None


def test_nothing_said_of_what_nobody_weighed_is_asked_again(at):
    _, address = dyed(at, amount=None)
    answer = at.browser.post(address, fields_of(at.browser.get(address), "once") | {"note": "Softer light"})
    assert answer.status_code == 422 and "Softer light" in answer.content.decode()
    assert sentences(answer) == ["Nobody weighed this: say about how much it was, or leave it by eye."]


@pytest.mark.parametrize("said", BAD.values(), ids=BAD)
def test_bad_amounts_get_a_sentence_and_lose_nothing(at, said):
    run, address = dyed(at, amount=None)
    fields = fields_of(at.browser.get(address), "once")
    name = f"amount-{key_of(run)}"
    answer = at.browser.post(address, fields | {name: said, "note": "Softer light"})
    assert answer.status_code == 422 and sentences(answer) and "Softer light" in answer.content.decode()
    assert not Recipe.objects.exists()


def test_a_box_and_another_choice_are_asked_about(at):
    run, address = dyed(at, amount=None)
    fields = fields_of(at.browser.get(address), "once")
    name = f"amount-{key_of(run)}"
    answer = at.browser.post(address, fields | {name: "2", name.replace("amount-", "say-"): "eye"})
    assert sentences(answer) == ["A box is filled in and something else is chosen: empty the box, or choose it."]


def test_pots_that_differ_are_shown_and_one_is_chosen(at):
    run, address = dyed(at, pots=2)
    build.addition(at.cast.maker, run.batches.last(), build.receive_powder(at.cast.maker, build.make_dye("Soot")), 2)
    page = at.browser.get(address)
    assert "Soot went into pot 2 only." in words(page) and "All together, as an average" in words(page)
    assert touch(at, address).url == address
    assert touch(at, f"{address}?pot=2").status_code == 302
    made = Captured.objects.get()
    assert made.batch.number == 2 and made.recipe.note.startswith(f"Taken from the log of {run.code}, pot 2 alone.")
    average = at.browser.get(f"{address}?pot=all")
    fields = fields_of(average, "once")
    assert at.browser.post(f"{address}?pot=all", fields).status_code == 302
    assert "the average of 2 pots that differed" in Recipe.objects.order_by("-pk").first().note


def test_pots_are_called_alike_by_what_differs_by_the_buttons_and_by_the_note(at):
    """By their numbers, as no page says of a vessel's name which pot of the run it is."""
    run, address = dyed(at, pots=2)
    run.batches.update(vessel=build.make_vessel("Blue kettle"))
    build.addition(at.cast.maker, run.batches.last(), at.red, 1, at=build.hours(1))
    page = words(at.browser.get(address)).replace("\xa0", " ")
    assert "from 1 g in pot 1 to 2 g in pot 2." in page and "Pot 1 Pot 2 All together" in page
    page = words(at.browser.get(f"{address}?pot=2"))
    assert "A recipe from the log, pot 2" in page and "Pot 1 alone" in page and "kettle" not in page
    touch(at, f"{address}?pot=2")
    version = Captured.objects.get().recipe
    assert version.note.startswith(f"Taken from the log of {run.code}, pot 2 alone.")
    assert f"{run.code}, pot 2" in words(at.browser.get(f"/recipes/{version.pk}/"))


@pytest.mark.parametrize("pot", ["9", "none", "-1", "1" * 30])
def test_no_such_pot(at, pot):
    _, address = dyed(at)
    assert at.browser.get(f"{address}?pot={pot}").status_code == 404


def test_a_run_without_a_colourway_is_named_there(at):
    run, address = dyed(at, colourway=None, title="Wet slate roof")
    assert touch(at, address).url == address
    fields = fields_of(at.browser.get(address), "once")
    assert fields["name"] == "Wet slate roof"
    empty = at.browser.post(address, fields | {"name": ""})
    assert sentences(empty) == ["Say what the colour is called, or choose its colourway."]
    taken = at.browser.post(address, fields | {"name": "low TIDE"})
    assert sentences(taken) == ["There is a colourway of this name already: choose it above."]
    assert at.browser.post(address, fields).status_code == 302
    run.refresh_from_db()
    assert run.colourway == Colourway.objects.get(name="Wet slate roof") == Recipe.objects.get().colourway


def test_weight_that_nobody_said_is_asked_for_there(at):
    run, address = dyed(at)
    run.batches.update(fibre_g=None)
    fields = fields_of(at.browser.get(address), "once")
    assert sentences(at.browser.post(address, fields)) == ["Fill in “Dry weight of all the yarn”."]
    assert at.browser.post(address, fields | {"fibre_g": "50"}).status_code == 302
    assert only_line().amount == 2


@pytest.mark.parametrize("weight", ["0", "0.0001", f"0.{'0' * 50}1", "-5", "1000001", "NaN"])
def test_a_weight_that_no_yarn_has_gets_a_sentence(at, weight):
    run, address = dyed(at)
    run.batches.update(fibre_g=None)
    answer = at.browser.post(address, fields_of(at.browser.get(address), "fibre_g") | {"fibre_g": weight})
    assert answer.status_code == 422 and sentences(answer) and f'value="{weight}"' in answer.content.decode()


def test_it_can_be_looked_at_before_it_is_kept(at):
    run, address = dyed(at)
    acid = build.receive_assistant(at.cast.maker, build.make_assistant("Citric acid", unit="g"))
    build.addition(at.cast.maker, run.batches.get(), amount=2000, at=build.hours(1))
    build.addition(at.cast.maker, run.batches.get(), acid, 4, at=build.hours(2))
    page = at.browser.get(address)
    fields = fields_of(page, "once")
    basis = next(name for name in fields if name.startswith("basis-"))
    assert fields[basis] == "owf" and "4 % owf" in words(page)
    looked = at.browser.post(address, fields | {basis: "per_l", "do": "look"})
    assert looked.status_code == 200 and "2 g/L" in words(looked) and not Recipe.objects.exists()
    at.browser.post(address, fields_of(looked, "once"))
    assert Recipe.objects.get().steps.last().ingredients.get().basis == "per_l"


def test_a_log_without_dye_says_so_and_leads_on(at):
    run = build.run_with_pots(at.cast.maker, pots=1, colourway=at.way)
    page = at.browser.get(f"/runs/{run.code}/recipe/")
    assert "Nothing that went in is in the log yet" in words(page) and "Write it by hand" in words(page)
    assert touch(at, f"/runs/{run.code}/recipe/").status_code == 302 and not Recipe.objects.exists()
    assert at.browser.post(f"/runs/{run.code}/recipe/", {}).status_code == 200


def test_more_of_everything_costs_no_more_queries(at, django_assert_max_num_queries):
    small, address = dyed(at, amount=None, pots=2)
    for pot in small.batches.all():
        build.addition(at.cast.maker, pot, at.red, 1, at=build.hours(1), place="the foot")
    with django_assert_max_num_queries(60) as few:
        at.browser.get(address)
    more, address = dyed(at, pots=5)
    for number in range(6):
        for pot in more.batches.all():
            amount = None if number % 2 else 1
            build.addition(at.cast.maker, pot, at.red, amount, at=build.hours(number), place=f"place {number}")
    with django_assert_max_num_queries(len(few)):
        assert at.browser.get(address).status_code == 200
