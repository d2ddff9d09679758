"""All colourways, and one with its versions, notes and runs."""

import re
from datetime import timedelta
from uuid import UUID

import pytest
from django.urls import reverse

from batches.models import Captured, PhotoTaken
from recipes.models import Ingredient
from tests import builders as build
from tests.pages.run_forms import words

ALL = reverse("batches:colourways")


def page_of(way):
    return reverse("batches:colourway", args=[way.pk])


@pytest.fixture
def dyed(cast):
    """A colourway with two versions, of which the first was dyed and judged."""
    way = build.colourway(cast.maker, "Kiln Door", story="A stove left open.")
    first = build.recipe(cast.maker, way, lines=[(build.make_dye("Brick"), 1, "owf")], note="First try.")
    second = build.recipe(cast.maker, way, lines=[(build.make_dye("Ochre"), 2, "owf")], note="Ochre instead.")
    way.pin(second)
    run = build.run_with_pots(cast.maker, pots=1, colourway=way, recipe=first)
    build.finish(cast.maker, run.batches.get(), at=build.hours(4), verdict="as_good", next_time="Less acid.")
    return way


def test_the_list_says_standard_runs_and_the_last_day(cast, client_of, dyed):
    page = client_of(cast.viewer).get(ALL).content.decode()
    assert "Kiln Door" in page and "Standard: version 2" in page and "1 run, last" in page
    assert "Ochre 2\u00a0%" in page  # the colour bar of the standard, said in words


def photographed(cast, run, day=None, verdict="", stage="dry"):
    """The run with a photo, and with what it was judged to be."""
    if day:
        run.day = day
        run.save(update_fields=["day"])
    pot = run.batches.first()
    entry = PhotoTaken.log(pot, build.stamp(cast.maker), picture=build.picture(cast.maker), stage=stage)
    if verdict:
        build.finish(cast.maker, pot, verdict=verdict)
    return entry.photo.picture_id


def shown(client, way):
    """The picture that the list shows, which is the one on the colourway's own page."""
    found = re.search(r"/pictures/([0-9a-f-]{36})/thumb", client.get(ALL).content.decode())
    if found is None:
        return None
    page = client.get(page_of(way)).content.decode()
    assert reverse("studio:picture", args=[found[1], "record"]) in page
    return UUID(found[1])


def test_the_best_run_of_the_standard_stands_for_a_colourway(cast, client_of, dyed):
    client, facts = client_of(cast.viewer), {"colourway": dyed}
    of_standard = {**facts, "recipe": dyed.standard}
    assert shown(client, dyed) is None
    photographed(cast, build.run_with_pots(cast.maker, pots=1, **of_standard), stage="wet")
    assert shown(client, dyed) is None, "a wet photo stands for nothing by itself"
    newest = photographed(cast, build.run_with_pots(cast.maker, pots=1, **facts), verdict="standard")
    assert shown(client, dyed) == newest
    disliked = photographed(cast, build.run_with_pots(cast.maker, pots=1, **of_standard), verdict="never")
    assert shown(client, dyed) == disliked, "dyed from the standard, whatever was thought of it"
    old = build.DAY - timedelta(days=9)
    good = photographed(cast, build.run_with_pots(cast.maker, pots=1, **of_standard), day=old, verdict="as_good")
    assert shown(client, dyed) == good, "the better one of these, though older"


def test_a_planned_run_is_not_counted_as_dyed(cast, client_of):
    way = build.colourway(cast.maker, "Low Tide")
    build.run_with_pots(cast.maker, start=False, colourway=way)
    page = client_of(cast.viewer).get(ALL).content.decode()
    assert "Not dyed yet" in page and "Not written yet" in page


def test_a_colourway_is_found_by_its_words(cast, client_of, dyed):
    build.colourway(cast.maker, "Low Tide")
    page = client_of(cast.viewer).get(ALL, {"q": "stove"}).content.decode()
    assert "Kiln Door" in page and "Low Tide" not in page


def test_what_is_no_longer_dyed_is_listed_apart(cast, client_of, dyed):
    build.colourway(cast.maker, "Old Moss", retired=True)
    client = client_of(cast.viewer)
    assert "Old Moss" not in client.get(ALL).content.decode()
    assert "Old Moss" in client.get(ALL, {"retired": "1"}).content.decode()


def test_the_page_tells_notes_versions_and_runs_in_that_order(cast, client_of, dyed):
    page = client_of(cast.maker).get(page_of(dyed)).content.decode()
    places = [page.index(words) for words in ("A stove left open.", "Less acid.", "Ochre instead.", "First try.")]
    assert places == sorted(places)
    code = dyed.runs.get().code
    assert f"{code}, 14 Mar: as good as the colour to match" in words(client_of(cast.maker).get(page_of(dyed)))
    assert "1 run, 2 skeins, 2 firsts" in page
    assert reverse("batches:plan", args=[dyed.standard_id]) in page


def test_the_colour_bars_stand_on_one_scale(cast, client_of, dyed):
    page = client_of(cast.maker).get(page_of(dyed)).content.decode()
    versions = page[page.index('id="versions"') :]
    assert 'width="100.00%"' in versions and 'width="50.00%"' in versions  # 2 % and 1 % of the yarn's weight


def test_a_colourway_without_a_version_asks_for_one(cast, client_of):
    page = client_of(cast.maker).get(page_of(build.colourway(cast.maker))).content.decode()
    assert "How it is dyed is not written yet." in page and "Write how it is dyed" in page


def test_a_viewer_sees_no_button_that_is_not_theirs(cast, client_of, dyed):
    page = client_of(cast.viewer).get(page_of(dyed)).content.decode()
    assert "Plan a run" not in page and "Write the next version" not in page


@pytest.mark.parametrize("address", [ALL, "/colourways/1/"])
def test_helpers_work_from_plans_and_do_not_read_the_recipes(cast, client_of, address):
    assert client_of(cast.helper).get(address).status_code == 403


@pytest.mark.parametrize("query", [{"page": "x"}, {"page": "999"}, {"q": "\x00🎨" * 300}, {"q": "%"}])
def test_an_odd_address_still_shows_the_list(cast, client_of, dyed, query):
    assert client_of(cast.viewer).get(ALL, query).status_code == 200


def counted(client, address, most, assert_max):
    client.get(address)
    with assert_max(most) as queries:
        assert client.get(address).status_code == 200
    return len(queries)


def test_a_longer_list_asks_no_more_often(cast, client_of, django_assert_max_num_queries):
    def grow(number):
        for _ in range(number):
            way = build.colourway(cast.maker)
            version = build.recipe(cast.maker, way)
            build.run_with_pots(cast.maker, pots=1, colourway=way, recipe=version)

    client = client_of(cast.viewer)
    grow(2)
    few = counted(client, ALL, 20, django_assert_max_num_queries)
    grow(8)
    assert counted(client, ALL, 20, django_assert_max_num_queries) == few


def test_more_versions_and_runs_ask_no_more_often(cast, client_of, django_assert_max_num_queries):
    way = build.colourway(cast.maker)

    def grow(number):
        for _ in range(number):
            version = build.recipe(cast.maker, way)
            run = build.run_with_pots(cast.maker, pots=1, colourway=way, recipe=version)
            build.finish(cast.maker, run.batches.get(), at=build.hours(4), next_time="Less acid.")

    client = client_of(cast.viewer)
    grow(1)
    few = counted(client, page_of(way), 40, django_assert_max_num_queries)
    grow(4)
    assert counted(client, page_of(way), 40, django_assert_max_num_queries) == few


def test_what_is_not_written_yet_shows_the_colours_that_went_in(cast, client_of):
    way = build.colourway(cast.maker, "Bramble Ink")
    run = build.run_with_pots(cast.maker, pots=1, colourway=way)
    build.addition(cast.maker, run.batches.get(), build.receive_powder(cast.maker, build.make_dye("Damson")), 4)
    viewer = client_of(cast.viewer)
    assert "Dyes by mass: Damson" in viewer.get(ALL).content.decode()
    page = viewer.get(page_of(way)).content.decode()
    assert "As it was dyed" in page and run.code in page and "Dyes by mass: Damson" in page


def groups(page):
    """[(heading of the group, [version])] as the page shows them."""
    return [(group.words, [one.recipe.number for one in group.versions]) for group in page.context["groups"]]


def test_versions_stand_by_the_bases_they_are_for_the_standards_group_first(cast, client_of):
    way, silk, wool = build.colourway(cast.maker), build.make_base("Silk"), build.make_base("Wool")
    versions = [build.recipe(cast.maker, way) for _ in range(4)]
    for version, bases in zip(versions, [[wool], [wool], [silk, wool], []], strict=True):
        version.bases.set(bases)
    way.pin(versions[0])
    page = client_of(cast.viewer).get(page_of(way))
    assert groups(page) == [("Wool", [2, 1]), ("No base said", [4]), ("Silk, Wool", [3])]
    assert "Version 1 is the standard: runs are planned from it." in words(page)


def test_which_was_the_standard_before_is_said(cast, client_of, dyed):
    dyed.pin(dyed.recipes.get(number=1))
    said = words(client_of(cast.viewer).get(page_of(dyed)))
    assert "Version 1 is the standard: runs are planned from it. Before, it was version 2." in said
    assert reverse("batches:plan", args=[dyed.standard_id]) in client_of(cast.maker).get("/runs/new/").content.decode()


def test_the_pots_of_a_run_stand_under_the_version_each_was_dyed_from(cast, client_of, dyed):
    first, second = dyed.recipes.order_by("number")
    run = build.run_with_pots(cast.maker, pots=3, colourway=dyed, recipe=second)
    pots = list(run.batches.order_by("number"))
    run.batches.filter(pk=pots[0].pk).update(recipe=first)
    build.finish(cast.maker, pots[0], at=build.hours(4), verdict="never")
    build.finish(cast.maker, pots[2], at=build.hours(5), verdict="standard")
    page = client_of(cast.viewer).get(page_of(dyed))
    said = {
        one.recipe.number: [(each.run.code, each.pots, each.verdict) for each in one.dyed if each.run == run]
        for one in page.context["versions"]
    }
    assert said == {
        1: [(run.code, "pot 1", "Never again")],
        2: [(run.code, "pots 2 and 3", "This is the colour to match")],
    }


def test_more_runs_than_are_named_are_counted(cast, client_of):
    way = build.colourway(cast.maker)
    version = build.recipe(cast.maker, way)
    for _ in range(10):
        build.run_with_pots(cast.maker, pots=1, colourway=way, recipe=version)
    assert "and 2 runs more" in words(client_of(cast.viewer).get(page_of(way)))


def test_an_estimate_and_the_log_it_was_taken_from_are_named(cast, client_of):
    way = build.colourway(cast.maker)
    run = build.run_with_pots(cast.maker, pots=1, colourway=way)
    version = build.recipe(cast.maker, way, [(build.make_dye("Rust"), 1, "owf")])
    Ingredient.objects.filter(step__recipe=version).update(estimated=True)
    Captured.objects.create(recipe=version, run=run)
    said = words(client_of(cast.viewer).get(page_of(way))).replace("\xa0", " ")
    assert f"About 1 % owf. Taken from the log of {run.code}. By estimate: Rust" in said
    assert "Rust about 1 %" in said
