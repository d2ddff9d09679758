"""The page that changes the pots still to come."""

from decimal import Decimal

import pytest

from batches import replanning
from batches.models import Batch, Weighed
from recipes.models import Recipe
from tests import builders
from tests.builders import stamp
from tests.pages.run_forms import BAD, boxes, fields_of, sentences, words
from tests.verbs.test_replanning import dye, less_rust, make_kit, struck_again, told


@pytest.fixture
def kit(cast, studio):
    return make_kit(cast)


def url(kit):
    return f"/runs/{kit.run.code}/change/"


def change(browser, kit, do="keep", **said):
    """The page sent with 90 % of the rust, or with what is said; `rust` and `teal` are the dyes' boxes."""
    said = {"rust": "90", "why": "Too red."} | said
    named = {"rust": f"dye-{kit.rust.pk}", "teal": f"dye-{kit.teal.pk}", "hold": "move-hold"}
    fields = fields_of(browser.get(url(kit)), "why")
    return browser.post(
        url(kit),
        fields | {named.get(name, name): value for name, value in said.items()} | {"do": do},
    )


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


def test_who_changes_what_somebody_else_changed_meanwhile_is_told(maker, kit):
    fields = fields_of(maker.get(url(kit)), "why") | {f"dye-{kit.rust.pk}": "50", "why": "Much too red.", "do": "keep"}
    assert change(maker, kit).status_code == 302
    answer = maker.post(url(kit), fields)
    assert answer.status_code == 422 and "since this page was opened" in sentences(answer)[0]
    assert (boxes(answer)["why"], boxes(answer)[f"dye-{kit.rust.pk}"]) == ("Much too red.", "50")
    assert Recipe.objects.count() == 2 and told(kit, 2)["Rust"] == Decimal("1.8")
    newest = str(Recipe.objects.order_by("number").last().pk)
    again = maker.post(url(kit), {**fields_of(answer, "why"), "version": newest, "do": "keep"})
    assert again.status_code == 302 and told(kit, 2)["Rust"] == Decimal("0.9"), "half of what it was then"


def test_a_pot_that_is_begun_while_the_page_is_open_is_said(maker, kit):
    fields = fields_of(maker.get(url(kit)), "why") | {f"dye-{kit.rust.pk}": "50", "why": "Too red.", "do": "work"}
    dye(kit, 1)
    answer = maker.post(url(kit), fields)
    assert answer.status_code == 422 and "Pots 2 and 3" in words(answer)
    assert maker.post(url(kit), fields_of(answer, "why") | {"do": "work"}).status_code == 200


def test_who_is_quicker_between_look_and_lock_is_said_too(maker, kit, monkeypatch):
    fields = fields_of(maker.get(url(kit)), "why") | {f"dye-{kit.rust.pk}": "50", "why": "Too red.", "do": "keep"}
    change_as_it_is = replanning.change

    def after_another(run, coming, *args, **said):
        monkeypatch.setattr(replanning, "change", change_as_it_is)
        less_rust(kit)
        return change_as_it_is(run, coming, *args, **said)

    monkeypatch.setattr(replanning, "change", after_another)
    answer = maker.post(url(kit), fields)
    # The other's change was undone with this one, as both were one request here; what counts is that this one was.
    assert answer.status_code == 422 and "planned anew meanwhile" in sentences(answer)[0]
    assert Recipe.objects.count() == 1 and told(kit, 2)["Rust"] == 2


def test_pots_that_differ_ask_what_they_are_to_follow(maker, kit):
    struck_again(kit, 1)
    page = maker.get(url(kit))
    assert "They are planned from different versions" in words(page)
    unsaid = fields_of(page, "why")
    assert "move-hold" not in unsaid and "move-scales" not in unsaid, "nothing is chosen for anybody"
    answer = maker.post(url(kit), unsaid | {"do": "keep"})
    assert answer.status_code == 422 and len(sentences(answer)) == 2
    said = {"move-hold": "total", "move-scales": "weight", "do": "keep"}
    assert maker.post(url(kit), fields_of(answer, "why") | said).status_code == 302
    assert set(kit.run.batches.values_list("hold", "scales", "recipe__number")) == {("total", "weight", 2)}


def test_what_the_depth_is_held_on_is_a_change_by_itself(maker, kit):
    answer = change(maker, kit, rust="100", hold="dyeable")
    assert answer.status_code == 302 and Recipe.objects.count() == 1
    assert set(kit.run.batches.values_list("hold", "edition")) == {("dyeable", 2)}


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


def test_so_little_of_a_dye_that_it_would_be_kept_as_none_is_refused(maker, kit):
    answer = change(maker, kit, rust="0.00000001")
    assert answer.status_code == 422
    assert sentences(answer) == ["So little of Rust can't be kept: choose more of it, or 0 to leave it out."]
    assert Recipe.objects.count() == 1


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
    assert url(kit) not in answer.content.decode(), "and the run does not lead there"
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
