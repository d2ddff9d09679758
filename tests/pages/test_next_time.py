"""What was said for the next time: shown first when planned, and put into the next version."""

from types import SimpleNamespace

import pytest

from batches.models import NotePut, Strike
from recipes.models import Recipe
from tests import builders as build
from tests.pages.run_forms import fields_of, sentences, words


@pytest.fixture
def at(cast, client_of):
    """A colourway whose standard was dyed in two pots, which said the same for the next time."""
    way = build.colourway(cast.maker, "Low tide")
    version = build.recipe(cast.maker, way, [(build.make_dye("Rust"), 1, "owf")])
    way.pin(version)
    run = build.run_with_pots(cast.maker, colourway=way, recipe=version)
    for pot in run.batches.all():
        build.finish(cast.maker, pot, at=build.hours(2), next_time="Acid later,\nand less of it.")
    return SimpleNamespace(way=way, version=version, run=run, browser=client_of(cast.maker), cast=cast)


def put_address(at):
    page = at.browser.get(f"/runs/new/plan/{at.version.pk}/")
    return next(note for note in page.context["notes"]), page


def test_a_note_stands_first_when_it_is_planned(at):
    note, page = put_address(at)
    text = words(page)
    assert "Acid later, and less of it." in text and text.index("Next time") < text.index("How much")
    assert text.count("Acid later,") == 1 + text.count(": Acid later,")  # said of both pots, shown once
    assert f"/runs/{at.run.code}/next-time/{note.key}/" in page.content.decode()


def test_newest_first_and_only_of_this_colourway(at):
    other = build.run_with_pots(at.cast.maker, pots=1, colourway=build.colourway(at.cast.maker))
    build.finish(at.cast.maker, other.batches.get(), next_time="Something else")
    newer = build.run_with_pots(at.cast.maker, pots=1, colourway=at.way, at=build.hours(48))
    build.finish(at.cast.maker, newer.batches.get(), at=build.hours(50), next_time="Hotter")
    page = at.browser.get(f"/runs/new/plan/{at.version.pk}/")
    assert [note.words.split()[0] for note in page.context["notes"]] == ["Hotter", "Acid"]


def test_put_in_the_recipe_it_is_open_no_more(at):
    note, _ = put_address(at)
    address = f"/runs/{at.run.code}/next-time/{note.key}/"
    page = at.browser.get(address)
    assert "Acid later, and less of it." in words(page)
    fields = fields_of(page, "text")
    assert "Rust" in fields["text"] and fields["note"].startswith("Acid later,")
    answer = at.browser.post(address, fields | {"text": "0.8 % Rust"})
    version = Recipe.objects.get(number=2)
    assert answer.url == f"/recipes/{version.pk}/" and version.note.startswith("Acid later,")
    assert version.made_from == at.version and NotePut.objects.filter(recipe=version).count() == 2
    assert at.browser.get(f"/runs/new/plan/{at.version.pk}/").context["notes"] == []
    colourway = words(at.browser.get(f"/colourways/{at.way.pk}/"))
    assert "In version 2" in colourway and "Put it in the recipe" not in colourway


def test_the_same_page_sent_twice_makes_one_version(at):
    note, _ = put_address(at)
    address = f"/runs/{at.run.code}/next-time/{note.key}/"
    fields = fields_of(at.browser.get(address), "text")
    first, second = at.browser.post(address, fields), at.browser.post(address, fields)
    assert first.url == second.url and at.way.recipes.count() == 2


def test_of_two_who_put_the_same_note_in_the_second_is_told(at, client_of):
    note, _ = put_address(at)
    address = f"/runs/{at.run.code}/next-time/{note.key}/"
    owner = client_of(at.cast.owner)
    fields = fields_of(owner.get(address), "text")
    at.browser.post(address, fields_of(at.browser.get(address), "text"))
    answer = owner.post(address, fields | {"text": "0.7 % Rust"})
    assert answer.status_code == 422 and at.way.recipes.count() == 2
    assert "This note was put into version 2 in the meantime" in sentences(answer)[0]
    kept = fields_of(answer, "text")
    assert kept["text"] == "0.7 % Rust" and "It is in version 2 already." in words(answer)
    assert owner.post(address, kept).status_code == 302 and at.way.recipes.count() == 3  # said again, it is another


@pytest.mark.parametrize("known", ["", "x", "-1", "9" * 40, "²", "\x00"])
def test_what_a_page_knew_that_is_no_number_is_nothing(at, known):
    note, _ = put_address(at)
    address = f"/runs/{at.run.code}/next-time/{note.key}/"
    fields = fields_of(at.browser.get(address), "text") | {"known": known}
    assert at.browser.post(address, fields).status_code == 302 and at.way.recipes.count() == 2


def test_wrong_words_lose_nothing_and_put_nothing(at):
    note, _ = put_address(at)
    address = f"/runs/{at.run.code}/next-time/{note.key}/"
    fields = fields_of(at.browser.get(address), "text") | {"text": "1 % Nosuchdye"}
    answer = at.browser.post(address, fields)
    assert answer.status_code == 422 and "1 % Nosuchdye" in answer.content.decode()
    assert "Acid later, and less of it." in words(answer)
    assert not NotePut.objects.exists() and at.way.recipes.count() == 1


def test_a_struck_finish_says_nothing(at):
    note, _ = put_address(at)
    for finish in note.finishes:
        Strike.log(finish.entry.batch, build.stamp(at.cast.maker, build.hours(3)), target=finish.pk)
    assert at.browser.get(f"/runs/new/plan/{at.version.pk}/").context["notes"] == []
    assert at.browser.get(f"/runs/{at.run.code}/next-time/{note.key}/").status_code == 404


def test_a_viewer_reads_notes_and_puts_none(at, client_of):
    page = client_of(at.cast.viewer).get(f"/colourways/{at.way.pk}/")
    assert "Acid later," in words(page) and "Put it in the recipe" not in words(page)


def test_more_notes_cost_no_more_queries(at, django_assert_max_num_queries):
    address = f"/runs/new/plan/{at.version.pk}/"
    with django_assert_max_num_queries(60) as few:
        at.browser.get(address)
    for number in range(4):
        run = build.run_with_pots(at.cast.maker, pots=1, colourway=at.way, recipe=at.version)
        build.finish(at.cast.maker, run.batches.get(), next_time=f"Note {number}", verdict="sell")
        NotePut.objects.create(
            finish_id=run.batches.get().entries.get().pk, recipe=at.version, at=build.NOON, by=at.cast.maker
        ) if number % 2 else None
    with django_assert_max_num_queries(len(few)):
        assert len(at.browser.get(address).context["notes"]) == 3
