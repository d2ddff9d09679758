"""Finding runs again by every word."""

from decimal import Decimal

import pytest

from batches import finding
from batches.models import Finish, Output, Strike
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
    words, _ = finding.words_of(text)
    return list(finding.find(words))


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
    words, left_out = finding.words_of("a b c d e f g h a i j")
    assert (len(words), left_out) == (8, ["i", "j"])
