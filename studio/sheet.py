"""Rows copied from a spreadsheet, or a file it saved, become rows of cells. Pure: no Django.

Cells are parted by tabs, semicolons or commas; quoting is that of RFC 4180, read by Python's own csv. The first row
says what the columns are, in plain words and in any order. What cannot be read raises ValueError with a sentence.
"""

import csv
import io
import re
from dataclasses import dataclass
from typing import NamedTuple

MOST_ROWS = 300
MOST_COLUMNS = 40
MOST_SIGNS = 300_000
LONGEST_CELL = 4000
LONGEST_HEADING = 120
MOST_BYTES = 1_000_000
SAID_SEPARATOR = re.compile(r"\s*sep=([;,\t])[ \t]*(?:\n|$)", re.IGNORECASE)
WORKBOOKS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")  # zipped and older workbooks, by their first bytes
BYTE_ORDER_MARKS = ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"))
IN_A_WORKBOOK = (
    "This is a workbook, and its rows can't be read from here: save it as CSV and choose that file, or copy the rows "
    "and paste them into the box."
)


class Row(NamedTuple):
    """A row, numbered as in the spreadsheet: the headings are row 1."""

    number: int
    cells: tuple


@dataclass(frozen=True)
class Sheet:
    """`heading` and `rows` of cells without what stood around them; empty rows are left out, but counted."""

    heading: Row
    rows: tuple
    separator: str


class Column(NamedTuple):
    """A column that is looked for. `words`: what else people call it. `unit`: whether its heading may name one."""

    key: str
    label: str
    words: tuple = ()
    needed: bool = False
    unit: bool = False


class Headings(NamedTuple):
    """Where the columns stand {key: place}, how they are called {key: heading}, their units, and what is left out."""

    places: dict
    typed: dict
    units: dict
    left_out: list


# Bytes to text


def text_of(data):
    """(the text of a file, a remark to show or ""). UTF-8, UTF-16 as spreadsheets save it, or the older Western set.

    Raises ValueError for a workbook, a file without text, or one that is too large.
    """
    if len(data) > MOST_BYTES:
        raise ValueError("This file is too large for a list: send it in parts of 1 MB at most.")
    if data.startswith(WORKBOOKS):
        raise ValueError(IN_A_WORKBOOK)
    text, remark = _decoded(data)
    signs = sum(sign < " " and sign not in "\t\r\n\x0b\x0c" for sign in text)
    if signs > len(text) / 100:
        raise ValueError("This file is not text: choose the CSV file that the spreadsheet saved.")
    return text, remark


def _decoded(data):
    for mark, encoding in BYTE_ORDER_MARKS:
        if data.startswith(mark):
            return data[len(mark) :].decode(encoding, "replace"), ""
    even, odd = data[0:2000:2].count(0), data[1:2000:2].count(0)
    if max(even, odd) * 4 > min(len(data), 2000):  # every other byte is empty: two bytes to a letter
        return data.decode("utf-16-le" if odd > even else "utf-16-be", "replace"), ""
    try:
        return data.decode("utf-8"), ""
    except UnicodeDecodeError:
        remark = "The file does not say how its letters are written, so they were read as Western: look at the accents."
        return data.decode("cp1252", "replace"), remark


# Text to rows


def read(text):
    """The `Sheet` of a text. Raises ValueError with a sentence for what can't be read as rows, or is too much."""
    if len(text) > MOST_SIGNS:
        raise ValueError(
            f"That is {len(text)} characters, and {MOST_SIGNS} are taken at once: paste it in several parts."
        )
    text = text.lstrip("\ufeff").replace("\r\n", "\n").replace("\r", "\n").replace("\x00", "")
    said = SAID_SEPARATOR.match(text)
    if said:
        text = text[said.end() :]
    separator = said[1] if said else separator_of(text)
    rows = [row for row in _rows(text, separator) if any(row.cells)]
    if not rows:
        raise ValueError("There is nothing here yet: paste rows with their headings, or choose a file.")
    if len(rows) - 1 > MOST_ROWS:
        raise ValueError(f"That is {len(rows) - 1} rows, and {MOST_ROWS} are taken at once: paste it in several parts.")
    return Sheet(rows[0], tuple(rows[1:]), separator)


def separator_of(text):
    """What parts the cells, seen from the first line that has something in it, outside its quotes."""
    line = next((line for line in text.split("\n") if line.strip()), "")
    bare = re.sub(r'"[^"]*"', "", line)
    if "\t" in bare:
        return "\t"
    return ";" if bare.count(";") >= bare.count(",") and ";" in bare else ","


def _rows(text, separator):
    reader = csv.reader(
        io.StringIO(text, newline=""), delimiter=separator, strict=True, skipinitialspace=separator != "\t"
    )
    number = 0
    try:
        for number, cells in enumerate(reader, 1):
            yield Row(number, tuple(cell.strip() for cell in cells))
    except csv.Error as problem:
        raise ValueError(f"Row {number + 1} {_why(str(problem))}") from None


def _why(problem):
    if "field larger" in problem:
        return "has a cell that is too long: shorten it."
    if "end of data" in problem:
        return "has a quotation mark that is never closed: close it, or take it out."
    return "has something right after a closing quotation mark: write a mark inside a cell twice, or take it out."


def write(rows, separator):
    """Rows of cells as text that `read` reads as the same again."""
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator="\n").writerows(rows)
    return out.getvalue()


# The first row


def headings(row, columns, unit_called=lambda text: None):
    """The `Headings` of a first row. `unit_called(text)`: the unit of that name, or None.

    Raises ValueError where nothing is known, a needed column is missing, or two columns say the same.
    """
    if len(row.cells) > MOST_COLUMNS:
        raise ValueError(f"That is {len(row.cells)} columns: leave out those that do not belong here.")
    names = {plain(name): column for column in columns for name in (column.label, column.key, *column.words)}
    found = Headings({}, {}, {}, [])
    for place, typed in enumerate(row.cells):
        if len(typed) > LONGEST_HEADING:
            found.left_out.append(f"{typed[:LONGEST_HEADING]}…")
            continue
        column, unit = _column(typed, names, unit_called)
        if column is None:
            if typed:
                found.left_out.append(typed)
            continue
        if column.key in found.places:
            raise ValueError(
                f"“{found.typed[column.key]}” and “{typed}” both say “{column.label}”: keep one of the two columns."
            )
        found.places[column.key], found.typed[column.key] = place, typed
        if unit:
            found.units[column.key] = unit
    _complain(found, columns)
    return found


def _complain(found, columns):
    labels = "; ".join(column.label for column in columns if column.needed)
    if not found.places:
        raise ValueError(
            f"The first row must say what the columns are, and none of these headings is known: begin with {labels}."
        )
    missing = [f"“{column.label}”" for column in columns if column.needed and column.key not in found.places]
    if missing:
        column = "a column" if len(missing) == 1 else "columns"
        raise ValueError(
            f"What is missing is {column} with the heading {' and '.join(missing)}: add it, and read again."
        )


def _column(typed, names, unit_called):
    """(the column that a heading means, the unit it names) or (None, None)."""
    if column := names.get(plain(typed)):
        return column, unit_called(typed.strip()) if column.unit else None
    bracket = re.search(r"[(\[](.*?)[)\]]", typed)
    ways = [(typed[: bracket.start()], bracket[1])] if bracket else [_without_last(typed), _without_first(typed)]
    for shorter, word in ways:
        column, unit = names.get(plain(shorter)), unit_called(word.strip())
        if column is not None and (bracket or unit is not None):
            return column, unit if column.unit else None
    return None, None


def _without_last(typed):
    words = re.split(r"[\s,/]+", typed.strip())
    last = words.pop() if len(words) > 1 else ""
    return " ".join(words[:-1] if words and words[-1].casefold() == "in" else words), last


def _without_first(typed):
    """ "mL left": ("left", "mL")."""
    first, _, rest = typed.strip().partition(" ")
    return rest, first


def plain(heading):
    """A heading without case, marks and the space around it: "Skein-weight:" -> "skein weight"."""
    return " ".join(re.sub(r"[^\w%]+", " ", heading.casefold()).split())
