"""The page that changes the pots still to come."""

from decimal import Decimal

import pytest

from batches.models import Batch, Weighed
from recipes.models import Recipe
from tests import builders
from tests.builders import stamp
from tests.pages.run_forms import BAD, boxes, fields_of, sentences, words
from tests.verbs.test_replanning import dye, make_kit, told


@pytest.fixture
def kit(cast, studio):
    return make_kit(cast)


@pytest.fixture
def maker(cast, client_of):
    return client_of(cast.maker)


def url(kit):
    return f"/runs/{kit.run.code}/change/"


def change(browser, kit, do="keep", **said):
    """The page sent with 90 % of the rust, or with what is said; `rust` and `teal` are the dyes' boxes."""
    said = {"rust": "90", "why": "Too red."} | said
    named = {"rust": f"dye-{kit.rust.pk}", "teal": f"dye-{kit.teal.pk}"}
    fields = fields_of(browser.get(url(kit)), "why")
    return browser.post(url(kit), fields | {named.get(name, name): value for name, value in said.items()} | {"do": do})


def test_the_run_leads_to_it_and_it_says_which_pots(maker, kit):
    dye(kit, 1)
    assert f'href="{url(kit)}"' in maker.get(f"/runs/{kit.run.code}/").content.decode()
    page = words(maker.get(url(kit)))
    assert "Pots 2 and 3." in page and "Pot 1 keeps the plan as it is" in page


def test_it_is_worked_out_before_anything_is_kept(maker, kit):
    dye(kit, 1)
    page = change(maker, kit, do="work")
    said = words(page).replace("\xa0", " ")
    assert page.status_code == 200 and "Pots 2 and 3, each" in said and "1.8 g" in said
    assert "Change pots 2 and 3" in said
    assert Recipe.objects.count() == 1 and set(Batch.objects.values_list("edition", flat=True)) == {1}


def test_a_tenth_less_makes_the_next_version_for_the_pots_to_come(maker, kit):
    dye(kit, 1)
    answer = change(maker, kit)
    assert answer.url == f"/runs/{kit.run.code}/"
    assert told(kit, 1)["Rust"] == 2 and told(kit, 2)["Rust"] == Decimal("1.8")
    page = words(maker.get(answer.url)).replace("\xa0", " ")
    assert page.count("planned from version 2") == 1, "the two pots to come are one line; the dyed one is of the run's"


def test_the_same_change_sent_twice_is_made_once(maker, kit):
    fields = fields_of(maker.get(url(kit)), "why") | {f"dye-{kit.rust.pk}": "90", "why": "Too red.", "do": "keep"}
    first, second = maker.post(url(kit), fields), maker.post(url(kit), fields)
    assert first.url == second.url and Recipe.objects.count() == 2
    assert set(Batch.objects.values_list("edition", flat=True)) == {2}


def test_what_stands_weighed_is_said_first(cast, maker, kit):
    second = kit.run.batches.get(number=2)
    Weighed.log(second, stamp(cast.helper), plan_line=second.plan.get(dye=kit.rust))
    assert "2 g Rust stands weighed for Pot 2" in words(maker.get(url(kit))).replace("\xa0", " ")


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({"rust": "100"}, "Nothing is changed yet"),
        ({"rust": ""}, "Nothing is changed yet"),
        ({"why": ""}, "Say why it is changed"),
        ({"rust": "0", "teal": "0"}, "No dye would be left"),
        ({"rust": "501"}, "500"),
        ({"version": "999"}, "no longer there"),
    ],
)
@pytest.mark.parametrize("do", ["work", "keep"])
def test_what_makes_no_change_is_refused_with_a_sentence(maker, kit, do, said, sentence):
    answer = change(maker, kit, do, **said)
    assert answer.status_code == 422
    assert any(sentence in found for found in sentences(answer)), sentences(answer)
    assert Recipe.objects.count() == 1 and set(Batch.objects.values_list("edition", flat=True)) == {1}


@pytest.mark.parametrize("junk", BAD.values(), ids=BAD)
def test_what_cannot_be_read_is_said_and_kept(maker, kit, junk):
    answer = change(maker, kit, rust=junk)
    assert answer.status_code == 422 and sentences(answer)
    assert boxes(answer)[f"dye-{kit.rust.pk}"].strip() == junk.replace("\x00", "")


def test_two_changes_at_once_are_asked_apart(cast, maker, kit):
    other = builders.recipe(cast.maker, kit.version.colourway, [(kit.rust, 3, "owf")])
    answer = change(maker, kit, version=other.pk)
    assert answer.status_code == 422 and "not both at once" in sentences(answer)[0]
    assert change(maker, kit, version=other.pk, rust="100").status_code == 302
    assert told(kit, 2)["Rust"] == 3


def test_a_run_with_nothing_to_come_leads_back(cast, maker, kit):
    for number in (1, 2, 3):
        dye(kit, number)
    answer = maker.get(url(kit), follow=True)
    assert "No pot of this run is still to come" in answer.content.decode()
    bare = builders.run_with_pots(cast.maker, title="Bare")
    assert maker.get(f"/runs/{bare.code}/change/").status_code == 302


def test_only_makers_change_the_pots_to_come(client_of, cast, kit):
    for person in (cast.helper, cast.viewer):
        assert client_of(person).get(url(kit)).status_code == 403


def test_queries_do_not_grow_with_the_pots(maker, kit, django_assert_max_num_queries):
    fields = fields_of(maker.get(url(kit)), "why") | {f"dye-{kit.rust.pk}": "90", "why": "Too red.", "do": "work"}
    with django_assert_max_num_queries(60) as few:
        maker.post(url(kit), fields)
    of = kit.run.batches.get(number=1)
    lot = builders.receive_yarn(kit.cast.maker, skeins=20)
    for number in range(4, 16):
        pot = Batch.objects.create(run=kit.run, number=number, fibre_g=100, recipe=kit.version)
        pot.write_plan([builders.shelf_yarn(lot, 1)], [])
        Batch.objects.filter(pk=pot.pk).update(state=of.state)
    with django_assert_max_num_queries(len(few)):
        maker.post(url(kit), fields)
