"""What one cell of a spreadsheet says."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio import cells


@pytest.mark.parametrize(
    ("text", "content"),
    [
        # the ways a label names it: Regulation (EU) 1007/2011, articles 7 and 9; 16 CFR 303.16
        ("75 % wool, 25 % nylon", [("wool", "75"), ("nylon", "25")]),
        ("75% Merino 25% Nylon", [("Merino", "75"), ("Nylon", "25")]),
        ("Merino 75 %, Nylon 25 %", [("Merino", "75"), ("Nylon", "25")]),
        ("75/25 merino/nylon", [("merino", "75"), ("nylon", "25")]),
        ("75 wool/25 nylon", [("wool", "75"), ("nylon", "25")]),
        ("80 wool + 20 silk", [("wool", "80"), ("silk", "20")]),
        ("12,5 % silk; 87,5 % wool", [("silk", "12,5"), ("wool", "87,5")]),
        ("75 % extrafine merino, 20% silk and 5 % hemp", [("extrafine merino", "75"), ("silk", "20"), ("hemp", "5")]),
        ("wool: 80 %\nsilk: 20 %", [("wool", "80"), ("silk", "20")]),
        ("100 % wool", [("wool", "100")]),
        ("silk", [("silk", "100")]),
    ],
)  # fmt: skip
def test_fibre_content_as_labels_write_it(text, content):
    assert cells.fibre_content(text) == content


@pytest.mark.parametrize(
    "text", ["?", "75 %", "100", "wool, nylon", "75 % wool, 25 %", "% wool", "w" * 301, "🧶", "1" * 290]
)
def test_what_is_no_fibre_content_is_refused(text):
    with pytest.raises(ValueError, match=r"\.$"):
        cells.fibre_content(text)


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("Brick 1 %", [("Brick", "1")]),
        ("brick 0.5%, citric acid 2 %", [("brick", "0.5"), ("citric acid", "2")]),
        ("Brick 0,5 %, Ochre 1 %", [("Brick", "0.5"), ("Ochre", "1")]),
        ("Brick (1%); Soot: .25 % w/v", [("Brick", "1"), ("Soot", "0.25")]),
        ("Yellow 3F 1/2 %", [("Yellow 3F", "0.5")]),
        ("Brick 1 % + Soot 2 %", [("Brick", "1"), ("Soot", "2")]),
    ],
)
def test_what_is_in_a_bottle(text, parts):
    assert cells.bottle_content(text) == [(name, Decimal(strength)) for name, strength in parts]


@pytest.mark.parametrize(
    "text", ["Brick", "1 %", "Brick 0 %", "Brick 200 %", "Brick -1 %", "", ";", "Brick 1/0 %", "x" * 301]
)
def test_what_is_no_bottle_is_refused(text):
    with pytest.raises(ValueError, match=r"\.$"):
        cells.bottle_content(text)


@pytest.mark.parametrize(
    ("text", "locale"),
    [
        ("2026-10-19", "en_GB"),  # ISO 8601
        ("2026-10-19 00:00:00", "en_GB"),
        ("19 Oct 2026", "en_GB"),
        ("19 October 2026", "de_DE"),
        ("Oct 19, 2026", "en_US"),
        ("October 19th, 2026", "en_US"),
        ("19/10/2026", "en_GB"),
        ("10/19/2026", "en_US"),
        ("10/19/2026", "en_GB"),  # there is no 19th month
        ("19.10.2026", "de_DE"),
        ("19. Oktober 2026", "de_DE"),
        ("19. 10. 2026", "cs_CZ"),
        ("19 okt. 2026", "sv_SE"),
    ],
)
def test_a_day_is_read_as_people_write_it(text, locale):
    """The months of a language, and the order of its figures: Unicode CLDR, by way of Babel."""
    assert cells.day(text, locale) == date(2026, 10, 19)


def test_figures_that_are_the_same_both_ways_are_no_question():
    assert cells.day("4/4/2026", "en_US") == date(2026, 4, 4)
    assert cells.day("4.3.2026", "de_DE") == date(2026, 3, 4)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("03/04/2026", "could be 3 Apr 2026 or 4 Mar 2026: write 2026-04-03 or 2026-03-04."),
        ("3-4-2026", "could be 3 Apr 2026 or 4 Mar 2026"),
        ("31.2.2026", "is no day of the calendar"),
        ("13/13/2026", "is no day of the calendar"),
        ("2026-13-01", "is no day of the calendar"),
        ("9/10/26", "can't be read as a day"),
        ("46000", "can't be read as a day"),
        ("Octember 9, 2026", "can't be read as a day"),
        ("0001-01-01", "that year can't be right"),
        ("tomorrow", "can't be read as a day"),
        ("☃", "can't be read as a day"),
    ],
)
def test_a_day_that_could_be_two_or_none_is_asked_about(text, sentence):
    with pytest.raises(ValueError, match=sentence):
        cells.day(text, "en_GB")


@pytest.mark.parametrize(
    ("text", "colour"),
    [
        # CSS Color Module Level 4, section 6.1, named colours
        ("goldenrod", "#daa520"),
        ("Dark Red", "#8b0000"),
        ("rebeccapurple", "#663399"),
        ("slategrey", "#708090"),
        ("#9C3122", "#9c3122"),
        ("9c3122", "#9c3122"),
        ("#a32", "#aa3322"),
    ],
)
def test_a_colour_by_its_figures_or_its_name(text, colour):
    assert cells.colour(text) == colour


@pytest.mark.parametrize("text", ["reddish", "#12345", "#1234567", "rgb(1,2,3)", "#gggggg", "☃"])
def test_a_colour_that_is_none_is_refused(text):
    with pytest.raises(ValueError, match="no colour that is known here"):
        cells.colour(text)


def test_classes_are_known_in_a_dyer_s_words():
    said = {
        "Acid, levelling": "acid_levelling",
        "leveling acid dye": "acid_levelling",
        "Milling": "acid_milling",
        "1:2 metal complex": "metal_complex",
        "premetallised": "metal_complex",
        "Fiber-Reactive Dyes": "reactive",
        "natural": "natural",
    }
    assert {text: cells.dye_class(text) for text in said} == said
    for text, sentence in (("acid", "levelling or milling"), ("watercolour", "is no class of dye")):
        with pytest.raises(ValueError, match=sentence):
            cells.dye_class(text)


def test_yes_and_no():
    assert [cells.yes_or_no(text) for text in ("Yes", "x", "TRUE", "✓", "no", "N", "-", "FALSE", "0")] == [True] * 4 + [
        False
    ] * 5
    with pytest.raises(ValueError, match="neither yes nor no"):
        cells.yes_or_no("perhaps")


@pytest.mark.parametrize("text", ["#REF!", "#N/A", "#NAME?", "#DIV/0!", "#VALUE!", "=A1", "=1+1"])
def test_what_a_spreadsheet_could_not_work_out_is_no_value(text):
    with pytest.raises(ValueError, match="write its value"):
        cells.plain(text)


@pytest.mark.parametrize("text", ["-5", "+1", "@home", "#9c3122", "a=b", "#1 red"])
def test_other_signs_are_words(text):
    assert cells.plain(text) == text


@given(st.text(max_size=400))
def test_any_text_is_read_or_refused_with_a_sentence(text):
    for reader in (
        cells.fibre_content,
        cells.bottle_content,
        cells.day,
        cells.colour,
        cells.dye_class,
        cells.yes_or_no,
    ):
        try:
            reader(text)
        except ValueError as problem:
            assert str(problem).rstrip().endswith((".", "!", "?"))


@pytest.mark.parametrize("text", ["a" * 300, "100 " + " " * 290, "of " * 100, "1.1.1.1" * 40, "½" * 300, "é " * 150])
def test_a_long_content_is_not_read_over_and_over(text):
    # A pattern that tries every split of a name and the space behind it would not end within the hour.
    assert not cells.SHARE.findall(text * 10)


def test_a_bottle_s_name_and_the_strength_it_ends_in():
    said = [cells.name_and_strength(name) for name in ("Brick 1 %", "Teal 0,5", "Brick 2B 1%", "Moss", "Moss2", "")]
    assert said == [("Brick", "1"), ("Teal", "0,5"), ("Brick 2B", "1"), ("Moss", ""), ("Moss2", ""), ("", "")]
