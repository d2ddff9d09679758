"""Finding runs again by every word."""

import io
from decimal import Decimal

import pytest
from django.core.management import call_command

from batches import beginning, bits, export, finding, indexing, lookup
from batches.models import Entry, Finish, Index, IndexCard, IndexWord, Output, Run, Strike
from studio import backup
from studio.models import Studio
from tests import builders
from tests.builders import hours, stamp


@pytest.fixture
def runs(cast):
    """Low tide on Sparrow with Rust out of a bottle; High field on Wren with Ochre sprinkled, unweighed."""
    by = cast.maker
    sparrow = builders.receive_yarn(by, builders.make_base("Sparrow"), skeins=20, number="S-77")
    wren = builders.receive_yarn(by, builders.make_base("Wren"), skeins=20)
    jar = builders.receive_powder(by, builders.make_dye("Rust"), number="R-0331")
    red = builders.bottle(by, [(jar, Decimal("2.5"))], solution=builders.make_solution("Barn door", [(jar.dye, 1)]))
    ochre = builders.receive_powder(by, builders.make_dye("Ochre"))
    low = builders.run_with_pots(by, sparrow, colourway=builders.colourway(by, "Low tide"))
    high = builders.run_with_pots(by, wren, pots=1, title="High field")
    builders.addition(by, low.batches.first(), red, 40)
    builders.addition(by, high.batches.get(), ochre, how="sprinkled")
    builders.words(by, low.batches.first(), "Smells of wet sheep")
    return {"low": low, "high": high}


def found(text):
    return [Run.objects.get(pk=run.key) for run in finding.find(lookup.Question.of(text)).runs]


@pytest.mark.parametrize(
    "text",
    ["low tide", "TIDE", "sparrow", "rust", "barn", "R-0331", "S-77", "sheep", "tide rust sheep", "26-001", "26-001-2"],
)
def test_low_tide_is_found_by(runs, text):
    assert found(text) == [runs["low"]]


@pytest.mark.parametrize("text", ["high", "wren", "ochre", "field ochre"])
def test_high_field_is_found_by(runs, text):
    assert found(text) == [runs["high"]]


@pytest.mark.parametrize("text", ["tide ochre", "teal", "%", "_", "26-001-x", "🧶"])
def test_nothing_is_found_by(runs, text):
    assert found(text) == []


def test_newest_first(runs):
    assert found("26-") == [runs["high"], runs["low"]]


def test_a_struck_line_is_not_found(cast, runs):
    batch = runs["low"].batches.first()
    entry = builders.words(cast.maker, batch, "Turquoise by mistake", at=hours(1))
    assert found("turquoise") == [runs["low"]]
    Strike.log(batch, stamp(cast.maker, hours(2)), target=entry.pk)
    assert found("turquoise") == []


def test_what_was_said_at_the_finish_is_found(cast, runs):
    batch = runs["high"].batches.get()
    outputs = [Output(yarn=batch.yarns.get(), grade="first", skeins=2, name="Late harvest")]
    Finish.log(batch, stamp(cast.maker, hours(3)), outputs=outputs, next_time="Hotter", snippet="Ring binder")
    for text in ("harvest", "hotter", "binder"):
        assert found(text) == [runs["high"]]


def test_a_dye_that_is_only_planned_is_found(cast, runs):
    jar = builders.receive_powder(cast.maker, builders.make_dye("Indigo"))
    planned = builders.run_with_pots(cast.maker, start=False, lines=[(jar, 2)])
    assert found("indigo") == [planned]


def test_too_many_words_are_said_not_dropped():
    question = lookup.Question.of("a b c d e f g h a i j")
    assert (len(question.words), question.left_out) == (8, ("i", "j"))


# What a part of a code or of a lot's number finds


@pytest.mark.parametrize("text", ["118", "26-11", "26118", "26-118", "26-118-2", "0417", "B-0417", "b0417", "417"])
def test_parts_of_codes_find(cast, text):
    builders.run_with_pots(cast.maker)
    Studio.objects.update(run_year=2026, run_number=117)
    jar = builders.receive_powder(cast.maker, builders.make_dye("Rust"), number="B-0417")
    run = builders.run_with_pots(cast.maker, lines=[(jar, 2)])
    assert run.code == "26-118"
    assert found(text) == [run]


@pytest.mark.parametrize("text", ["32", "26-32", "032"])
def test_a_code_is_found_without_its_noughts(cast, text):
    builders.run_with_pots(cast.maker)
    Studio.objects.update(run_year=2026, run_number=31)
    run, _ = builders.run_with_pots(cast.maker), builders.run_with_pots(cast.maker)
    assert run.code == "26-032"
    assert found(text) == [run]


def test_accents_and_case_are_nothing(cast):
    by = cast.maker
    run = builders.run_with_pots(by, colourway=builders.colourway(by, "Waldgrün Straße"), note="ÇAĞLA asked for it")
    for text in ("waldgrun", "GRÜN", "strasse", "STRAßE", "cagla", "Çağla", "gru\u0308n"):
        assert found(text) == [run], text


def test_a_new_name_counts_at_once(cast, runs):
    low = runs["low"]
    assert found("tide") == [low]
    low.colourway.name = "High water"
    low.colourway.save()
    assert found("tide") == [] and found("water") == [low]
    dye = builders.Dye.objects.get(name="Rust")
    dye.name = "Oxide"
    dye.save()
    assert found("rust") == [] and found("oxide") == [low]
    base = builders.Base.objects.get(name="Sparrow")
    base.name = "Plover"
    base.save()
    assert found("sparrow") == [] and found("plover") == [low]
    assert [row.bases for row in finding.find(lookup.Question.of("plover")).runs] == [["Plover"]]


def test_a_late_line_is_found(cast, runs):
    batch = runs["high"].batches.get()
    assert found("verdigris") == []
    builders.words(cast.helper, batch, "Verdigris at the edge", at=hours(5))
    assert found("verdigris") == [runs["high"]]
    builders.finish(cast.maker, batch, at=hours(6))
    builders.words(cast.helper, batch, "Afterthought", at=hours(7))
    assert found("afterthought") == [runs["high"]]


def test_a_struck_verdict_does_not_count(cast, runs):
    batch = runs["high"].batches.get()
    never = builders.finish(cast.maker, batch, verdict="never")
    asked = lookup.Question.of("", verdict="never")
    assert finding.find(asked).count == 1
    Strike.log(batch, stamp(cast.maker, hours(2)), target=never.pk)
    assert finding.find(asked).count == 0


def test_a_strike_that_came_first_counts_when_its_line_comes(cast, runs):
    batch = runs["high"].batches.get()
    line = stamp(cast.maker, hours(1), words="Turquoise by mistake")
    Strike.log(batch, stamp(cast.maker, hours(2)), target=line.id)
    Entry.log_words(batch, line)
    assert found("turquoise") == []


def test_a_run_that_gets_its_name_is_found_by_it(cast, runs):
    high = runs["high"]
    assert found("heron") == []
    beginning.call_it(high, by=cast.maker, title="Heron", make_colourway=True)
    assert found("heron") == [high] and found("field") == [high]


def test_a_weigh_in_shows_in_the_bar(cast, runs):
    def bar():
        return finding.find(lookup.Question.of("field")).runs[0].segments

    assert [(part["name"], part["share"], bool(part["unweighed"])) for part in bar()] == [("Ochre", None, True)]
    entry = Entry.objects.get(batch=runs["high"].batches.get(), kind="addition")
    builders.share_out(cast.maker, entry.addition.lot, "0.75", [entry], closing_at=hours(2))
    assert [(part["name"], bool(part["unweighed"])) for part in bar()] == [("Ochre", False)]


def test_a_run_that_was_moved_to_another_day_stands_in_its_order(cast, runs):
    high = runs["high"]
    assert found("26-") == [high, runs["low"]]
    high.day = high.day.replace(year=2025)
    high.save()
    assert found("26-") == [runs["low"], high]
    assert finding.find(lookup.Question.of("", last=high.day)).count == 1


def test_made_anew_it_is_what_it_was_kept_as(cast):
    builders.a_whole_day(cast)
    indexing.catch_up()

    def held():
        cards = {card.run_id: card.words for card in IndexCard.objects.all()}
        return cards, {
            bytes(row.word): bits.unpack(row.runs).bit_count() for row in IndexWord.objects.all() if row.runs
        }

    kept = held()
    call_command("reindex", stdout=io.StringIO())
    assert held() == kept
    assert list(indexing.odd_cards()) == []


def test_an_index_of_other_rules_is_due(cast, runs):
    found("tide")
    assert not indexing.is_due()
    Index.objects.update(rules=0)
    assert indexing.is_due()
    call_command("reindex", if_due=True, stdout=io.StringIO())
    assert not indexing.is_due() and found("tide") == [runs["low"]]


@pytest.mark.django_db(transaction=True)
def test_a_restored_studio_finds(cast, runs, settings, tmp_path):
    found("tide")
    high = runs["high"].code
    builders.words(cast.maker, runs["high"].batches.get(), "Written last")  # still marked when the archive is made
    archive = backup.make(now=hours(5))
    call_command("flush", interactive=False, verbosity=0)
    settings.MEDIA_ROOT = tmp_path / "new media"
    call_command("restore", str(archive), stdout=io.StringIO())
    assert [run.code for run in found("sparrow sheep")] == [runs["low"].code]
    assert [run.code for run in found("written")] == [high]


def test_the_index_is_no_part_of_what_is_taken_out():
    assert not [model for model in export.tables() if model.__name__.startswith("Index")]
