"""Folded text: against Unicode's own tables, and the examples that are published for them."""

import sys
import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio import folding

# Full case folding: Unicode Character Database, CaseFolding.txt, status C and F (from memory).
FOLDED = {"ß": "ss", "ẞ": "ss", "ſ": "s", "ς": "σ", "ŉ": "ʼn", "ﬀ": "ff", "ﬃ": "ffi", "K": "k", "Ω": "ω", "և": "եւ"}


@pytest.mark.parametrize(("letter", "folded"), FOLDED.items())
def test_case_is_folded_as_unicode_says(letter, folded):
    assert folding.fold(letter) == folded


# Pairs that are one word to a reader. The German, Turkish and Greek ones are those of The Unicode Standard, section
# 5.18 (Case Mappings), and of UAX 15 (Normalization Forms); from memory.
SAME = [
    ("Grün", "grun"),
    ("GRÜN", "gru\u0308n"),
    ("straße", "STRASSE"),
    ("ÇAĞLA", "cagla"),
    ("İstanbul", "istanbul"),
    ("ılık", "ILIK"),
    ("Σίσυφος", "ΣΙΣΥΦΟΣ"),
    ("Å", "\u212b"),
    ("ﬁne", "FINE"),
    ("Blåbær", "blabaer"),
    ("Łódź", "lodz"),
    ("Ørsted", "orsted"),
    ("þoka", "thoka"),
    ("ＷＩＤＥ", "wide"),
    ("x²", "X2"),
    ("ё", "Е"),
    ("Việt", "viet"),
]


@pytest.mark.parametrize(("one", "other"), SAME)
def test_one_word_however_it_is_written(one, other):
    assert folding.fold(one) == folding.fold(other)


def test_every_letter_of_unicode_folds_once_and_like_its_other_case():
    for code in range(sys.maxunicode + 1):
        letter = chr(code)
        if unicodedata.category(letter) in ("Cs", "Cn", "Co"):
            continue
        folded = folding.fold(letter)
        assert folding.fold(folded) == folded, hex(code)
        assert folding.fold(letter.casefold()) == folded, hex(code)
        assert not any(unicodedata.category(part) == "Mn" for part in folded), hex(code)


@pytest.mark.parametrize("form", ["NFC", "NFD", "NFKC", "NFKD"])
@settings(deadline=None)
@given(text=st.text())
def test_normal_forms_fold_alike(form, text):
    assert folding.fold(unicodedata.normalize(form, text)) == folding.fold(text)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("S-77 blue", {"s", "77", "s77", "blue"}),
        ("26-118-2", {"26", "118", "2", "261182"}),
        ("Smells of WET sheep.", {"smells", "of", "wet", "sheep"}),
        ("% _ * 🧶", set()),
    ],
)
def test_words_of_a_text(text, words):
    assert folding.words_of(text) == words


def test_a_lots_number_is_found_by_its_ends():
    assert {"0417", "417", "b0417"} <= folding.codes_of("B-0417")


def test_what_is_asked_keeps_its_signs_but_not_those_of_a_sentence():
    assert folding.asked("“Grün”, (26-118) 100% 100%") == ["grun", "26-118", "100%"]


@pytest.mark.parametrize(
    ("text", "words", "pieces"),
    [
        ("Grün, grünlich", ["grun"], [("Grün", True), (", ", False), ("grün", True), ("lich", False)]),
        ("Straße", ["strasse"], [("Straße", True)]),
        ("unblue blue", ["blue"], [("unblue ", False), ("blue", True)]),
        ("nothing", ["x"], [("nothing", False)]),
        ("", ["x"], []),
    ],
)
def test_marks(text, words, pieces):
    assert folding.marked(text, words) == pieces


@settings(deadline=None)
@given(st.text(max_size=60), st.lists(st.text(max_size=5), max_size=3))
def test_the_pieces_join_to_the_text_again(text, words):
    assert "".join(piece for piece, _ in folding.marked(text, [folding.fold(word) for word in words])) == text


def test_likeness():
    assert folding.likeness("ochre", "ochre") == 1
    assert folding.likeness("ochtre", "ochre") > folding.likeness("ochtre", "other") > 0
    assert folding.likeness("abc", "xyz") == 0


def test_a_code_is_said_without_its_noughts_too():
    assert folding.short_codes_of("26-032") == {"32", "2632"}
    assert folding.short_codes_of("26-118") == {"118", "26118"}
    assert folding.short_codes_of("") == folding.short_codes_of("26-000") == set()
