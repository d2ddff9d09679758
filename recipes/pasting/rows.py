"""What pasted rows would make: each is read by the form of its own page, and told apart from what is here already."""

import hashlib
import re
from dataclasses import dataclass, field
from typing import NamedTuple

from babel.numbers import get_currency_symbol

from studio import cells, money, sheet, spreadsheet, units, writing

EMPTY = "is empty, and it is needed."


class Said(NamedTuple):
    """A cell: how its column is headed, what was typed, and what was read; None where nothing could be."""

    label: str
    typed: str
    read: str | None
    otherwise: bool = False  # whether what was read is written otherwise than it was typed


@dataclass
class Line:
    """One row as it was understood. `make(by)` keeps it; `here`: why there is nothing to do."""

    number: int
    cells: tuple
    name: str = ""
    said: list = field(default_factory=list)
    problems: list = field(default_factory=list)  # (heading or "", sentence)
    here: str = ""
    make: object = None

    @property
    def good(self):
        return not self.problems and not self.here


@dataclass
class Outcome:
    """All of a paste. `trouble`: why none of it can be read."""

    lines: list = field(default_factory=list)
    trouble: str = ""
    left_out: list = field(default_factory=list)
    heading: tuple = ()
    separator: str = ""
    row_word: str = "Row"

    @property
    def good(self):
        return [line for line in self.lines if line.good]

    @property
    def bad(self):
        return [line for line in self.lines if line.problems]

    @property
    def here(self):
        return [line for line in self.lines if line.here and not line.problems]

    def table(self):
        """(labels, [(line, its cells in that order, None where it says nothing)]) of the good rows."""
        rows = [(line, {said.label: said for said in line.said}) for line in self.good]
        labels = list(dict.fromkeys(label for _, found in rows for label in found))
        return labels, [(line, [found.get(label) for label in labels]) for line, found in rows]

    def seal(self, slug, text):
        """What a person looked at, in short: it changes with the text, and with what the shelf has by now."""
        seen = f"{slug}\n{text}\n{[line.number for line in self.good]}"
        return hashlib.sha256(seen.encode()).hexdigest()

    def rest(self):
        """The text of the rows that have something to put right, under their headings; "" where all went well."""
        if not self.bad:
            return ""
        rows = [line.cells for line in self.bad]
        if not self.heading:
            return "\n\n".join(text for (text,) in rows) + "\n"
        return sheet.write([self.heading, *rows], self.separator)


class Kind:
    """One kind of thing that can be pasted. A new one is made for each paste, and reads the shelf once."""

    do_not_call_in_templates = True  # or a page that only says its title would make one
    slug = title = noun = about = ""
    box = "The rows, with their headings"
    verb = "Put"  # "Put 3 on the shelf", or "Keep 3 recipes"
    how = ()  # what else to know, in sentences
    columns = ()
    money = ()  # the columns that hold money

    def __init__(self):
        self.writing = writing.current()
        self.seen = {}  # what makes a row the same as another -> its number

    def load(self):
        """Read what the shelf has: a fixed number of queries."""

    def understand(self, line, row):
        """Fill in the line from {column key: text}."""
        raise NotImplementedError

    def keep(self, lines, *, by):
        """Make what these lines say. The caller's transaction holds it together."""
        for line in lines:
            line.make(by)

    def read(self, text):
        """The `Outcome` of a text; stores nothing."""
        found = sheet.read(text)
        heads = sheet.headings(found.heading, self.columns, self.unit_called)
        self.check_currency(heads)
        outcome = Outcome(left_out=heads.left_out, heading=found.heading.cells, separator=found.separator)
        if not found.rows:
            raise ValueError("Only the headings are here: paste the rows below them too.")
        for row in found.rows:
            outcome.lines.append(self.line(row, heads, len(found.heading.cells)))
        return outcome

    def unit_called(self, text):
        """How a unit named in a heading is written beside a number; "" for what needs no writing: money, percent."""
        word = text.casefold().strip(". ")
        if word in ("skeins", "skein", "hanks"):
            return "skeins"
        if word in ("%", "percent", self.writing.currency.casefold(), self.symbol().casefold()):
            return ""
        return text if word.replace(" ", "").replace(".", "") in units.UNIT_SPELT else None

    def symbol(self):
        return get_currency_symbol(self.writing.currency, self.writing.locale)

    def check_currency(self, heads):
        """Raises ValueError where a heading says money of another country."""
        for key in self.money:
            said = re.search(r"[(\[]\s*([^\W\d_]{3}|[$£€¥])\s*[)\]]", heads.typed.get(key, ""))
            if said and said[1].upper() != self.writing.currency and said[1] != self.symbol():
                raise ValueError(
                    f"“{heads.typed[key]}” is in {said[1].upper()}, and this studio counts in {self.writing.currency}: "
                    "work the prices out, or leave that column out."
                )

    def line(self, row, heads, width):
        line = Line(row.number, row.cells)
        texts = [spreadsheet.text_of(cell) for cell in row.cells]
        if any(texts[width:]):
            line.problems.append(
                ("", "There are more cells than headings: put quotation marks round a cell that holds a separator.")
            )
            return line
        typed = {key: texts[place] for key, place in heads.places.items() if place < len(texts) and texts[place]}
        for key, text in typed.items():
            if sentence := unfit(text):
                line.problems.append((heads.typed[key], sentence))
        self.heads, self.typed = heads, typed
        line.name = typed.get(self.columns[0].key, "")
        if not line.problems:
            self.understand(line, {key: with_unit(text, heads.units.get(key)) for key, text in typed.items()})
        return line

    # --- for the kinds

    def tell(self, line, key, sentence):
        """Something to put right in a column."""
        column = next((column.label for column in self.columns if column.key == key), "")
        line.problems.append((self.heads.typed.get(key, column), sentence))

    def tell_form(self, line, form, columns):
        """The problems of a form; `columns`: {its field: the column key}."""
        for name, sentences in form.errors.items():
            key = columns.get(name, name)
            for sentence in [EMPTY] if self.lacks(key) else sentences:
                self.tell(line, key, sentence)

    def lacks(self, key):
        """Whether a cell is empty that is needed."""
        return not self.typed.get(key) and any(column.key == key and column.needed for column in self.columns)

    def try_cell(self, line, row, key, reader):
        """What the reader makes of a cell; None where it is empty or can't be read, which is told."""
        if not row.get(key):
            return None
        try:
            return reader(row[key])
        except ValueError as problem:
            self.tell(line, key, str(problem))
            return None

    def show(self, line, reads):
        """Put what was read beside what was typed, in the order of the columns."""
        for column in self.columns:
            typed, read = self.typed.get(column.key, ""), reads.get(column.key)
            if typed or read:
                meant = with_unit(typed, self.heads.units.get(column.key))
                otherwise = bool(read) and not alike(meant, read, column.key in self.money)
                line.said.append(Said(column.label, typed, read, otherwise and bool(typed)))

    def once_only(self, line, same, what):
        """Tell of a row that says the same as an earlier one."""
        if (before := self.seen.setdefault(same, line.number)) != line.number:
            self.tell(line, self.columns[0].key, f"Row {before} has {what} already: keep one of the two.")

    # --- how the studio writes

    def g(self, number):
        return units.write_g(number, self.writing.system)

    def amount(self, number, unit):
        write = units.write_g if unit == "g" else units.write_ml
        return write(number, self.writing.system)

    def in_money(self, minor):
        if minor is None:
            return ""
        currency = self.writing.currency
        return money.write_money(money.from_minor(minor, currency), currency, self.writing.locale)

    def day(self, text):
        return cells.day(text, self.writing.locale)


class Pasted:
    """Mixed into a page's form for one pasted row: its number and the look for its name are left to the paste."""

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields.pop("once", None)

    def is_taken(self, name):
        return False


def judge(kind, text):
    """(the kind, the `Outcome` of a text pasted for it). Stores nothing, never raises."""
    made = kind()
    made.load()
    try:
        return made, made.read(text)
    except ValueError as problem:
        return made, Outcome(trouble=str(problem))


def unfit(text):
    """Why no cell of any kind may hold this, or ""."""
    if len(text) > sheet.LONGEST_CELL:
        return f"{len(text)} characters are too many for one cell: {sheet.LONGEST_CELL} fit."
    try:
        cells.plain(text)
    except ValueError as problem:
        return str(problem)
    return ""


def with_unit(text, unit):
    """A bare number with the unit of its heading."""
    return f"{text} {unit}" if unit and not any(sign.isalpha() for sign in text) else text


def alike(typed, read, is_money=False):
    """Whether the two say the same in the same signs; money may go without its currency."""
    typed, read = ("".join(text.casefold().replace(",", ".").split()) for text in (typed, read))
    return typed == read or (is_money and bool(typed) and typed in read)


def told(name, fact, here):
    """What to say of a row that names what is here already, but says something else of it."""
    return f"{name} is here already, and its {fact} is {here} there: change it on its own page, or take this row out."
