"""Tables as CSV that a spreadsheet opens as text and numbers, and never as formulas.

A spreadsheet runs a cell that begins with "=" and the like as a formula, whoever typed it. An apostrophe in
front makes it text; plain numbers, below zero too, stay numbers. Quoting after RFC 4180; the leading signs
after OWASP ASVS 5.0.0, 1.2.10, with line ends, full-width signs and hidden space before them added.
Pure: no Django.
"""

import csv
import io
import re
from datetime import date, time
from decimal import Decimal

# Signs that start a formula or a command in some spreadsheet, in their ordinary, full-width and small forms.
SIGNS = "=+\\-@|\u2212＝＋－＠﹦﹢﹣﹫"
# Space of any width, byte-order mark and other characters without a width: some programs skip them.
SKIPPED = (
    "\\s\x00-\x20\x7f-\xa0\xad\u061c\u115f\u1160\u180e\u200b-\u200f\u2028-\u202f\u2060-\u206f\u3164"
    "\ufe00-\ufe0f\ufeff\uffa0"
)
FORMULA = re.compile(f"[{SKIPPED}]*[{SIGNS}]|[\t\r\n\x00]")
PLAIN_NUMBER = re.compile(r"[+-]?[0-9]+([.,][0-9]+)?", re.ASCII)


def cell(value):
    """A value as the text of a cell. Nothing known is empty, true and false are yes and no."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, date | time):
        return value.isoformat()
    text = str(value)
    return f"'{text}" if _would_run(text) else text


def text_of(written):
    """What `cell` was given, from the text it wrote: takes back the apostrophe it put in front."""
    return written[1:] if written.startswith("'") and _would_run(written[1:]) else written


def lines(rows):
    """Rows of values -> lines of CSV, ended by CR LF. Text is always quoted, so no separator can split it."""
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    for row in rows:
        writer.writerow([cell(value) for value in row])
        yield out.getvalue()
        out.seek(0)
        out.truncate()


def _would_run(text):
    """Apostrophes in front count as nothing, so that one more can always be taken back."""
    bare = text.lstrip("'")
    return bool(FORMULA.match(bare)) and not PLAIN_NUMBER.fullmatch(text)
