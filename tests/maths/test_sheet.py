"""Rows of a spreadsheet, from text and from bytes.

The examples of CSV are those of RFC 4180, section 2, rule by rule; a line end inside a cell is kept as one sign.
"""

import codecs

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio import sheet
from studio.sheet import Column

ABC, ZYX = ("aaa", "bbb", "ccc"), ("zzz", "yyy", "xxx")
COLUMNS = (
    Column("name", "Name", ("base", "yarn"), needed=True),
    Column("weight", "Weight of a skein", ("skein weight", "weight"), needed=True, unit=True),
    Column("price", "Price"),
)


def cells_of(text):
    found = sheet.read(text)
    return [found.heading.cells, *(row.cells for row in found.rows)]


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", [ABC, ZYX]),  # rule 1: each record on a line of its own
        ("aaa,bbb,ccc\r\nzzz,yyy,xxx", [ABC, ZYX]),  # rule 2: the last may lack its line end
        ("field_name,field_name,field_name\r\naaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", [("field_name",) * 3, ABC, ZYX]),  # 3
        ("aaa,bbb,ccc", [ABC]),  # rule 4
        ('"aaa","bbb","ccc"\r\nzzz,yyy,xxx', [ABC, ZYX]),  # rule 5: cells may be quoted
        ('"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx', [("aaa", "b\nbb", "ccc"), ZYX]),  # rule 6: line ends inside quotes
        ('"aaa","b""bb","ccc"', [("aaa", 'b"bb', "ccc")]),  # rule 7: a quotation mark is written twice
    ],
)
def test_the_examples_of_the_standard(text, rows):
    assert cells_of(text) == rows


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ("Name\tNote\nBrick\ta, b; c\n", [("Name", "Note"), ("Brick", "a, b; c")]),
        ("Name;Note\nBrick;a, b\n", [("Name", "Note"), ("Brick", "a, b")]),
        ("sep=;\nName;Note\n", [("Name", "Note")]),
        ('"Name; or so",Note\nBrick,x\n', [("Name; or so", "Note"), ("Brick", "x")]),
        ("\ufeffName\rBrick\r", [("Name",), ("Brick",)]),
        ("Name; Note\nBrick; \"a; b\"\n", [("Name", "Note"), ("Brick", "a; b")]),
        ("\t\n\n Name\t\n\nBrick\tx\x00\n", [("Name", ""), ("Brick", "x")]),
    ],
)  # fmt: skip
def test_what_parts_the_cells_is_seen(text, rows):
    assert cells_of(text) == rows


def test_rows_keep_the_numbers_of_the_spreadsheet():
    found = sheet.read('Name\tNote\n\nBrick\t"two\nlines"\n\t\nSoot\n')
    assert (found.heading.number, [row.number for row in found.rows]) == (1, [3, 5])


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "There is nothing here yet"),
        (" \n\t\n", "There is nothing here yet"),
        ('Name\n"Brick', "Row 2 has a quotation mark that is never closed"),
        ('Name\n"Brick" red', "Row 2 has something right after a closing quotation mark"),
        ("Name\n" + "x\n" * 301, "That is 301 rows, and 300 are taken at once"),
        ("x" * 300_001, "That is 300001 characters, and 300000 are taken at once"),
        ("Name\n" + "x" * 140_000, "Row 2 has a cell that is too long"),
    ],
)
def test_what_is_no_list_is_refused_with_a_sentence(text, sentence):
    with pytest.raises(ValueError, match=sentence):
        sheet.read(text)


WORDS = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=12).map(str.strip)
CELL = st.one_of(WORDS, st.tuples(WORDS, st.sampled_from(['"', ";", ",", "\t", "\n"]), WORDS).map("".join))


@given(st.lists(st.lists(CELL.map(str.strip), min_size=2, max_size=4), min_size=1, max_size=5),
       st.sampled_from(["\t", ";", ","]))  # fmt: skip
def test_what_is_written_is_read_as_the_same_again(rows, separator):
    rows = [["Name", "Note", "More", "Last"], *rows]
    text = sheet.write(rows, separator)
    assert cells_of(text) == [tuple(row) for row in rows if any(row)]


# --- bytes


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_the_letters_of_a_file_are_read_however_they_are_written(encoding):
    text = "Name\tClass\r\nBrûlée, no. 5 €\tdirect\r\n"
    assert sheet.text_of(text.encode(encoding)) == (text, "")


def test_utf_16_that_begins_with_its_mark_the_other_way_round():
    assert sheet.text_of(codecs.BOM_UTF16_BE + "Näme".encode("utf-16-be"))[0] == "Näme"


def test_western_letters_are_read_and_said():
    text, remark = sheet.text_of("Name;Brûlée €".encode("cp1252"))
    assert text == "Name;Brûlée €"
    assert "look at the accents" in remark


@pytest.mark.parametrize("data", [b"PK\x03\x04xl/workbook.xml", b"\xd0\xcf\x11\xe0\xa1\xb1", bytes(range(32)) * 40])
def test_a_workbook_or_a_picture_is_no_text(data):
    with pytest.raises(ValueError, match=r"save it as CSV|not text"):
        sheet.text_of(data)


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(data):
    try:
        sheet.read(sheet.text_of(data)[0])
    except ValueError as problem:
        assert str(problem).endswith(".")


# --- headings


def heads(*cells):
    known = {"g": "g", "oz": "oz", "fl oz": "fl oz", "EUR": ""}
    return sheet.headings(sheet.Row(1, cells), COLUMNS, known.get)


@pytest.mark.parametrize(
    ("heading", "unit"),
    [
        ("Weight of a skein", None),
        ("SKEIN-WEIGHT:", None),
        ("Skein weight (g)", "g"),
        ("weight [oz]", "oz"),
        ("Weight, g", "g"),
        ("Weight in oz", "oz"),
        ("Weight g", "g"),
        ("oz weight", "oz"),
    ],
)
def test_a_heading_is_known_in_plain_words_with_its_unit(heading, unit):
    found = heads("Shelf", heading, "NAME")
    assert (found.places, found.units.get("weight"), found.left_out) == ({"weight": 1, "name": 2}, unit, ["Shelf"])


def test_a_heading_that_is_a_unit_itself_gives_it():
    columns = (sheet.Column("length", "Length of a skein", ("metres", "yards"), unit=True),)
    for heading in ("Metres", "Yards"):
        found = sheet.headings(sheet.Row(1, (heading,)), columns, {"Metres": "m", "Yards": "yd"}.get)
        assert found.units == {"length": {"Metres": "m", "Yards": "yd"}[heading]}


def test_what_a_heading_is_called_is_kept_for_what_is_said_of_it():
    assert heads("Yarn", "Weight (g)", "Price EUR").typed == {
        "name": "Yarn",
        "weight": "Weight (g)",
        "price": "Price EUR",
    }


@pytest.mark.parametrize(
    ("cells", "sentence"),
    [
        (("a", "b"), "none of these headings is known: begin with Name; Weight of a skein."),
        (("Name",), "a column with the heading “Weight of a skein”"),
        (("Price",), "columns with the heading “Name” and “Weight of a skein”"),
        (("Name", "Weight", "Base"), "“Name” and “Base” both say “Name”"),
        (("x",) * 41, "That is 41 columns"),
    ],
)
def test_headings_that_do_not_do_say_why(cells, sentence):
    with pytest.raises(ValueError, match=sentence):
        heads(*cells)


@pytest.mark.parametrize("sign", ["(", "( ", "[x"])
def test_a_heading_as_long_as_a_page_is_left_out_and_not_searched(sign):
    long = sign * 60_000  # looked through for a unit, it would hold the page up for minutes
    found = sheet.headings(sheet.Row(1, ("Name", "Skein weight", long)), COLUMNS)
    assert found.left_out == [f"{long[: sheet.LONGEST_HEADING]}…"]
