"""What differs between versions, on their pages; and which version is the standard."""

from decimal import Decimal

import pytest
from django.urls import reverse

from recipes.models import Ingredient
from tests import builders as build
from tests.pages.run_forms import words


def against(version, other):
    return reverse("recipes:difference", args=[version.pk, other.pk])


@pytest.fixture
def two(cast):
    """Two versions of a colourway, the second written from the first: a fifth more ochre, and soot besides."""
    ochre, way = build.make_dye("Ochre"), build.colourway(cast.maker, "Kiln Door")
    first = build.recipe(cast.maker, way, [(ochre, "0.25", "owf")])
    second = build.recipe(cast.maker, way, [(ochre, "0.3", "owf"), (build.make_dye("Soot"), 1, "owf")], made_from=first)
    way.pin(first)
    return first, second


def shown(client, address):
    return words(client.get(address)).replace("\xa0", " ")


def test_a_version_says_what_differs_from_the_one_it_was_written_from(cast, client_of, two):
    page = shown(client_of(cast.viewer), reverse("recipes:recipe", args=[two[1].pk]))
    assert "From version 1, which it was written from" in page
    assert "a fifth more" in page and "0.25 % owf" in page
    assert "new: 1 % owf" in page


def test_a_version_written_from_none_says_what_differs_from_the_standard(cast, client_of, two):
    two[0].colourway.pin(two[1])
    page = shown(client_of(cast.viewer), reverse("recipes:recipe", args=[two[0].pk]))
    assert "From version 2, the standard" in page and "17 % less" in page


def test_any_two_are_compared_in_either_direction(cast, client_of, two):
    client = client_of(cast.viewer)
    there, back = shown(client, against(two[1], two[0])), shown(client, against(two[0], two[1]))
    assert "a fifth more" in there and "17 % less" in back
    assert "not there" in there and "no longer" in back


def test_a_version_against_itself_differs_in_nothing(cast, client_of, two):
    assert "They differ in nothing." in shown(client_of(cast.viewer), against(two[0], two[0]))


def test_versions_of_two_colourways_are_named_with_them(cast, client_of, two):
    other = build.recipe(cast.maker, build.colourway(cast.maker, "Low Tide"))
    page = shown(client_of(cast.viewer), against(two[0], other))
    assert "Version 1 against Low Tide, version 1" in page and "Kiln Door, version 1" in page


def test_two_others_are_chosen_by_their_names(cast, client_of, two):
    answer = client_of(cast.viewer).get(against(*two), {"version": two[1].pk, "against": two[0].pk})
    assert answer.url == against(two[1], two[0])


@pytest.mark.parametrize(
    "query", [{"version": "x", "against": "1"}, {"version": "9" * 30, "against": "1"}, {"version": "1"}]
)
def test_an_odd_choice_still_shows_the_page(cast, client_of, two, query):
    assert client_of(cast.viewer).get(against(*two), query).status_code == 200


def test_what_is_not_there_is_not_found(cast, client_of, two):
    assert client_of(cast.viewer).get(f"/recipes/{two[0].pk}/against/99999/").status_code == 404


def test_helpers_do_not_read_recipes(cast, client_of, two):
    assert client_of(cast.helper).get(against(*two)).status_code == 403


def test_an_estimate_is_marked_and_named(cast, client_of, two):
    line = Ingredient.objects.filter(step__recipe=two[1], dye__name="Soot")
    line.update(estimated=True)
    page = shown(client_of(cast.viewer), reverse("recipes:recipe", args=[two[1].pk]))
    assert "By estimate" in page and "about 1 g" in page and "about 1 % owf" in page


def test_pinning_says_what_it_means_and_which_was_the_standard_before(cast, client_of, two):
    client = client_of(cast.maker)
    page = shown(client, reverse("recipes:recipe", args=[two[1].pk]))
    assert "The standard is what a run is planned from. By now that is version 1." in page
    answer = client.post(reverse("recipes:pin", args=[two[1].pk]), follow=True)
    page = words(answer)
    assert "Version 2 is the standard now: runs are planned from it. Before it was version 1." in page


def test_a_plan_says_whether_it_is_of_the_standard(cast, client_of, two):
    client = client_of(cast.maker)
    assert "Plan a run from the standard" in words(client.get(reverse("batches:plan", args=[two[0].pk])))
    answer = client.get(reverse("batches:plan", args=[two[1].pk]))
    assert "Not the standard" in words(answer) and reverse("batches:plan", args=[two[0].pk]) in answer.content.decode()


def test_longer_versions_ask_no_more_often(cast, client_of, django_assert_max_num_queries):
    def count(lines):
        way = build.colourway(cast.maker)
        pair = [build.recipe(cast.maker, way, [(build.make_dye(), Decimal(1), "owf")] * lines) for _ in range(2)]
        client = client_of(cast.viewer)
        client.get(against(*pair))
        with django_assert_max_num_queries(20) as queries:
            assert client.get(against(*pair)).status_code == 200
        return len(queries)

    assert count(1) == count(12)
