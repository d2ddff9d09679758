"""Exported text that can't become a formula."""

import csv
import io
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.spreadsheet import cell, lines, text_of

# OWASP, "CSV Injection": =, +, -, @, tab, carriage return; line feed and the full-width signs with them.
RUNS = [
    "=1+1",
    "+1+1",
    "-1+1",
    "@SUM(A1)",
    "\t=1+1",
    "\r=1+1",
    "\n=1+1",
    "\x00=1+1",
    "＝1+1",
    "＋1+1",
    "－1+1",
    "＠SUM(A1)",
    "  =1+1",
    "\u00a0=1+1",
    "\ufeff=1+1",
    "\u200b=1+1",
    "\u061c=1+1",
    "\u2066=1+1",
    "\u3164=1+1",
    "\ufe0f=1+1",
    "\u22121+1",
    "|calc",
    "-5 °C",
    "+49 30 1234",
    "--5",
    "-",
    "'=1+1",
]


@pytest.mark.parametrize("text", RUNS)
def test_a_formula_becomes_text(text):
    assert cell(text) == f"'{text}"


@pytest.mark.parametrize(
    "text", ["-5", "+5", "-10.25", "-10,25", "5", "Low tide", "'90s red", "50 % = half", "a@b", ""]
)
def test_plain_numbers_and_plain_words_stay(text):
    assert cell(text) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, ""),
        (True, "yes"),
        (False, "no"),
        (Decimal("-0.500"), "-0.500"),
        (Decimal("1E+3"), "1000"),
        (-7, "-7"),
        (date(2026, 3, 14), "2026-03-14"),
    ],
)
def test_values_are_written_plainly(value, text):
    assert cell(value) == text


@given(st.text(alphabet=st.sampled_from("'=+-@＝ \t\r\n\x00a5,;\"") | st.characters(exclude_categories=["Cs"])))
def test_text_comes_back_as_it_was(text):
    written = cell(text)
    assert text_of(written) == text
    assert written.lstrip("\ufeff\u200b \u00a0")[:1] not in tuple("=@＝＠")


def test_a_line_is_read_back_by_an_ordinary_reader():
    rows = [["Rust, dark", 'says "ok"', "two\nlines", Decimal("-5.5"), None], ["a;=1+1", "=2", "", "", ""]]
    text = "".join(lines(rows))
    assert text.endswith("\r\n")
    read = [[text_of(field) for field in row] for row in csv.reader(io.StringIO(text, newline=""))]
    assert read == [["Rust, dark", 'says "ok"', "two\nlines", "-5.5", ""], ["a;=1+1", "=2", "", "", ""]]


def test_a_reader_that_splits_at_semicolons_finds_no_formula_either():
    [line] = lines([["a;=1+1", "b"]])
    assert not any(field.startswith("=") for row in csv.reader([line], delimiter=";") for field in row)
