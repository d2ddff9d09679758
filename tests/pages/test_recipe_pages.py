"""Writing a colourway and its versions on pages."""

from decimal import Decimal
from uuid import uuid4

import pytest
from django.urls import reverse

from recipes.models import Colourway, Recipe
from tests import builders as build

WORDS = "Soak 30 min at 40 °C\n40 mL brick 1 %\n1 tbsp vinegar\nHeat to 85 °C"


@pytest.fixture
def shelf(db):
    return [build.make_dye("Brick"), build.make_dye("Soot"), build.make_assistant("Vinegar")]


def facts(**said):
    usual = {
        "once": uuid4(), "skeins": "6", "fibre_g": "600", "fibre_g_unit": "g", "pots": "2", "scales": "weight",
        "method": "pot", "liquor_ratio": "", "note": "", "text": WORDS,
    }  # fmt: skip
    return usual | said


def write_page(way):
    return reverse("recipes:write", args=[way.pk])


@pytest.fixture
def way(cast):
    return build.colourway(cast.maker, "Kiln Door")


# --- naming


def test_naming_a_colourway_leads_to_writing_it(cast, client_of):
    answer = client_of(cast.maker).post(
        reverse("recipes:colourway-new"), {"once": uuid4(), "name": " Kiln  Door ", "story": "A stove left open."}
    )
    way = Colourway.objects.get()
    assert (way.name, way.story, way.by) == ("Kiln Door", "A stove left open.", cast.maker)
    assert answer.url == write_page(way)


def test_a_second_copy_of_the_page_names_nothing_twice(cast, client_of):
    said = {"once": uuid4(), "name": "Kiln Door"}
    answers = [client_of(cast.maker).post(reverse("recipes:colourway-new"), said) for _ in range(2)]
    assert answers[0].url == answers[1].url == write_page(Colourway.objects.get())


def test_a_name_that_is_taken_is_said_and_kept_in_its_box(cast, client_of, way):
    answer = client_of(cast.maker).post(reverse("recipes:colourway-new"), {"once": uuid4(), "name": "kiln door"})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "There is a colourway of this name already" in page and 'value="kiln door"' in page


def test_a_story_can_be_changed(cast, client_of, way):
    address = reverse("recipes:colourway-edit", args=[way.pk])
    client_of(cast.maker).post(address, {"name": "Kiln Door", "story": "Soot along the floor."})
    way.refresh_from_db()
    assert way.story == "Soot along the floor."


# --- writing


def test_a_version_is_kept_in_both_ways(cast, client_of, way, shelf):
    client = client_of(cast.maker)
    answer = client.post(write_page(way), facts())
    version = Recipe.objects.get()
    assert answer.url == reverse("recipes:recipe", args=[version.pk])
    way.refresh_from_db()
    assert way.standard == version
    page = client.get(answer.url).content.decode()
    assert "40 mL brick 1 %" in page  # as it was typed
    assert "0.0667\u00a0% owf, from 1\u00a0%" in page  # what that means
    assert "exactly 0.066667\u00a0% owf" in page  # one touch away
    assert "2.5\u00a0mL for each 100 g" in page
    assert "Acid goes into water" in page


def test_sent_twice_it_is_one_version(cast, client_of, way, shelf):
    said = facts()
    urls = {client_of(cast.maker).post(write_page(way), said).url for _ in range(2)}
    assert Recipe.objects.count() == len(urls) == 1


@pytest.mark.parametrize(
    "said, sentence",
    [
        ({"text": ""}, "Fill in “The recipe”."),
        ({"text": "Soak 30 min"}, "There is no dye in this recipe yet"),
        ({"text": "40 mL brick 0 %"}, "a strength is above 0"),
        ({"text": "1,000 g brick"}, "could be 1 or 1000"),
        ({"text": "40 mL brick 1 %\n1 g elephants"}, "there is no elephants on the shelf"),
        ({"text": "🎨🎨\n40 mL brick 1 %"}, "Line 1, “🎨🎨”: write an amount first"),
        ({"text": "brick " * 2000}, "4000 fit: shorten it."),
        ({"text": "1 % brick\n" * 200}, "a recipe takes 120"),
        ({"text": "1 % brick " + "x" * 400}, "break it into two lines"),
        ({"fibre_g": "0"}, "0 g is nothing".replace(" g", "\u00a0g")),
        ({"fibre_g": "-5"}, "“-5” is below zero"),
        ({"fibre_g": "0.0001"}, "0.0001 g of yarn is too little: write 0.1 g or more."),
        ({"fibre_g": "", "text": "for 1/100000 g:\n1 % brick"}, "of yarn is too little: write 0.1 g or more."),
        ({"fibre_g": "1,000"}, "could be 1 or 1000"),
        ({"fibre_g": "", "skeins": ""}, "Say how much yarn the amounts are for"),
        ({"fibre_g": "5 mL"}, "can&#x27;t be given in mL"),
        ({"skeins": "1e999"}, "can&#x27;t be read"),
        ({"pots": "0"}, "0 is too little"),
        ({"liquor_ratio": "0"}, "is too little"),
        ({"method": "teleport"}, "no longer there: choose another"),
        ({"bases": "99999"}, "no longer there: choose another"),
        ({"once": "junk"}, "came without its number"),
    ],
)
def test_what_cannot_be_taken_is_said_and_nothing_is_lost(cast, client_of, way, shelf, said, sentence):
    answer = client_of(cast.maker).post(write_page(way), facts(**said, note="Less soot & <b>rust</b>"))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert "Error: " in page.split("</title>")[0]
    assert "Less soot &amp; &lt;b&gt;rust&lt;/b&gt;" in page
    if said.get("text"):
        assert said["text"].split("\n")[0].strip()[:300] in page
    assert not Recipe.objects.exists()


def test_an_unknown_name_can_be_put_on_the_shelf_from_here(cast, client_of, way, shelf):
    page = client_of(cast.maker).post(write_page(way), facts(text="1 % brick\n1 g elephants")).content.decode()
    assert "Not on the shelf yet: elephants." in page
    assert reverse("studio:dye-new") in page


def test_skeins_of_a_base_say_the_weight(cast, client_of, way, shelf):
    base = build.make_base("Sparrow", skein_g=50)
    client_of(cast.maker).post(write_page(way), facts(fibre_g="", bases=[base.pk]))
    version = Recipe.objects.get()
    assert (version.fibre_g, list(version.bases.all())) == (300, [base])


def test_plans_of_one_bottle_short_say_what_to_make(cast, client_of, way, shelf):
    client = client_of(cast.maker)
    version = kept(client, way)
    lot = build.receive_yarn(cast.maker, build.make_base())
    build.receive_powder(cast.maker, shelf[0])
    said = {"once": uuid4(), "yarn-TOTAL_FORMS": 1, "yarn-INITIAL_FORMS": 0, "yarn-0-lot": lot.pk, "yarn-0-skeins": 6}
    page = client.post(reverse("batches:plan", args=[version.pk]), said | {"pots": 2, "do": "work"}).content.decode()
    assert "There is no bottle of Brick, 1\u00a0%" in page
    assert "one still to be made or bought" in page  # stands before the powder, so that sending again changes nothing


def test_american_spoons_are_american(cast, client_of, way, shelf, studio):
    studio.spoons = "us"
    studio.save()
    client_of(cast.maker).post(write_page(way), facts(text="1 % brick\n1 tbsp vinegar for all"))
    last = Recipe.objects.get().steps.last().ingredients.get()
    assert last.amount == Decimal("14.786765")


# --- changing


def kept(client, way, **said):
    client.post(write_page(way), facts(**said))
    return way.recipes.latest("pk")


def test_the_next_version_begins_with_the_same_words(cast, client_of, way, shelf):
    client = client_of(cast.maker)
    first = kept(client, way, liquor_ratio="20")
    page = client.get(write_page(way)).content.decode()
    assert WORDS in page and 'value="600"' in page and 'value="20"' in page
    second = kept(client, way, text=WORDS + "\n0.5 g soot sprinkled")
    assert (second.number, second.made_from) == (2, first)


def test_words_that_say_the_water_are_the_only_place_that_does(cast, client_of, way, shelf):
    client = client_of(cast.maker)
    first = kept(client, way, text="water 20:1\n1 % brick")
    assert first.liquor_ratio == 20
    answer = client.post(write_page(way), facts(text="water 30:1\n1 % brick"))
    assert answer.status_code == 302
    assert way.recipes.get(number=2).liquor_ratio == 30
    assert 'name="liquor_ratio" value' not in client.get(write_page(way)).content.decode()


def test_a_version_no_batch_has_used_is_changed_in_place(cast, client_of, way, shelf):
    client = client_of(cast.maker)
    version = kept(client, way)
    address = reverse("recipes:recipe-edit", args=[version.pk])
    assert WORDS in client.get(address).content.decode()
    client.post(address, facts(text="2 % soot", note="All soot"))
    version.refresh_from_db()
    assert version.note == "All soot"
    assert [step.ingredients.get().dye.name for step in version.steps.all()] == ["Soot"]
    assert way.recipes.count() == 1


def test_a_used_version_stays_and_the_change_makes_the_next(cast, client_of, way, shelf):
    client = client_of(cast.maker)
    version = kept(client, way)
    version.mark_used(build.NOON)
    address = reverse("recipes:recipe-edit", args=[version.pk])
    assert client.get(address).url == f"{write_page(way)}?from={version.pk}"
    answer = client.post(address, facts(text="2 % soot"), follow=True)  # a page opened before it was used
    assert "that one stays as it is: this is version 2" in answer.content.decode()
    assert version.steps.count() == 4
    assert "As it is: a batch has used it" in client.get(reverse("recipes:recipe", args=[version.pk])).content.decode()


def test_a_version_can_be_made_the_standard(cast, client_of, way, shelf):
    client = client_of(cast.maker)
    kept(client, way)
    second = kept(client, way)
    client.post(reverse("recipes:pin", args=[second.pk]))
    way.refresh_from_db()
    assert way.standard == second


def test_another_colourways_version_is_not_begun_with(cast, client_of, way, shelf):
    other = build.recipe(cast.maker)
    assert client_of(cast.maker).get(f"{write_page(way)}?from={other.pk}").status_code == 404


# --- who and how often


def test_a_viewer_reads_and_a_helper_does_not(cast, client_of, way, shelf):
    page = reverse("recipes:recipe", args=[kept(client_of(cast.maker), way).pk])
    seen = client_of(cast.viewer).get(page).content.decode()
    assert "Brick" in seen and "Change it" not in seen and "Plan a run" not in seen
    assert client_of(cast.helper).get(page).status_code == 403


@pytest.mark.parametrize("name", ["recipe", "recipe-edit", "write"])
def test_a_page_of_many_lines_asks_no_more_often(cast, client_of, django_assert_max_num_queries, name):
    client = client_of(cast.maker)

    def count(lines):
        version = build.recipe(cast.maker, lines=[(build.make_dye(), 1, "owf") for _ in range(lines)])
        page = reverse(f"recipes:{name}", args=[version.colourway_id if name == "write" else version.pk])
        client.get(page)
        with django_assert_max_num_queries(16) as queries:
            assert client.get(page).status_code == 200
        return len(queries)

    assert count(1) == count(12)


def test_the_shelfs_names_stand_beside_the_words(cast, client_of):
    rust = build.make_dye("Rust", "#9c3122")
    build.make_assistant("Vinegar"), build.make_solution("Rust 1 %", [(rust, 1)])
    build.make_dye("Old", retired=True)
    page = client_of(cast.maker).get(write_page(build.colourway(cast.maker)))
    assert [name.replace("\xa0", " ") for name, _ in page.context["on_shelf"]] == ["Rust", "Vinegar", "Rust 1 %"]
    assert 'fill="#9c3122"' in page.content.decode()
