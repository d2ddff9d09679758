"""What stands in one cell of a spreadsheet, in a dyer's words. Pure: no Django.

Each reader takes text and raises ValueError with a sentence that says what to write instead. Nothing is guessed.
"""

import re
from datetime import date
from decimal import Decimal

from babel.core import Locale
from PIL import ImageColor

from studio import units

NOT_WORKED_OUT = re.compile(r"#(REF|N/A|NAME\?|DIV/0|VALUE|NUM|NULL|SPILL|CALC)[!?]?", re.IGNORECASE)
YES = frozenset({"yes", "y", "true", "x", "1", "✓", "✔"})
NO = frozenset({"no", "n", "false", "0", "-", "–", "not"})

ISO = re.compile(r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})(?:[ T]00:00(?::00)?)?")
NUMBERS = re.compile(r"([0-9]{1,2})([./ -]|\. )([0-9]{1,2})\2([0-9]{4})\.?")
MONTH = re.compile(r"(?:([0-9]{1,2})\.? ?)?([^\W\d_]+)\.? ?(?:([0-9]{1,2})(?:st|nd|rd|th)?,)? ?([0-9]{4})")
FIRST_YEAR = 1950
LONGEST_CONTENT = 300

# A name has a letter and no figure; what was read once is not read again, or long cells would take minutes.
NAME = r"(?=[^\d%½⅓⅔¼¾,;/+&]*?[^\W\d_½⅓⅔¼¾])([^\d%½⅓⅔¼¾,;/+&]++)"
FIGURES = r"[0-9][0-9.,]*+"
SHARE = re.compile(rf"({FIGURES}|[½⅓⅔¼¾])\s*+%?\s*+{NAME}|{NAME}({FIGURES})\s*+%?")
SHARES_FIRST = re.compile(r"\s*([0-9.]+(?:\s*/\s*[0-9.]+)+)\s*%?\s+([^\d]+)")
PART = re.compile(r"(.*?)[\s,:]*\(?((?:[0-9]*[.,])?[0-9]+(?:/[0-9]+)?)\s*%\)?\s*(?:w/v)?")

# The keys are those of `studio.fibres.DYE_CLASSES`; the words: common practice, no source.
CLASS_WORDS = {
    "acid_levelling": "acid levelling|levelling acid|levelling|leveling|acid leveling|leveling acid|equalising",
    "acid_milling": "acid milling|milling acid|milling|half milling|supermilling",
    "metal_complex": "1 2 metal complex|metal complex|premetallised|premetallized|premet|metallised",
    "reactive": "reactive|fibre reactive|fiber reactive|cold water reactive",
    "direct": "direct|substantive",
    "disperse": "disperse",
    "basic": "basic|cationic",
    "natural": "natural with a mordant|natural|plant|mordant|natural dye|plant dye|botanical",
}
CLASSES = {word: key for key, words in CLASS_WORDS.items() for word in words.split("|")}


def plain(text):
    """The cell as it is. Raises ValueError for a formula, and for one that a spreadsheet could not work out."""
    if NOT_WORKED_OUT.fullmatch(text):
        raise ValueError(f"{quoted(text)} is what a spreadsheet writes when it can't work a cell out: write its value.")
    if text.startswith("="):
        raise ValueError(f"{quoted(text)} is a formula and not what came of it: write its value.")
    return text


def yes_or_no(text):
    """True or False."""
    word = text.casefold().strip(" .")
    if word in YES or word in NO:
        return word in YES
    raise ValueError(f"{quoted(text)} is neither yes nor no: write one of the two.")


def dye_class(text):
    """The key of a dye class, such as "acid_milling"."""
    word = " ".join(re.sub(r"[\W_]+", " ", text.casefold()).split())
    word = re.sub(r" dyes?(stuffs?)?$", "", word)
    if word in CLASSES:
        return CLASSES[word]
    if word == "acid":
        raise ValueError(
            "“acid” could be levelling or milling: write acid levelling or acid milling, as its maker's sheet says."
        )
    known = "acid levelling, acid milling, metal complex, reactive, direct, disperse, basic or natural"
    raise ValueError(f"{quoted(text)} is no class of dye that is known here: write {known}.")


def colour(text):
    """ "#rrggbb" for "#9c3122", "9C3122", "#a32", or a name of CSS Color Module Level 4, section 6.1."""
    word = re.sub(r"[\s_-]+", "", text.casefold())
    if word in ImageColor.colormap:
        word = ImageColor.colormap[word]
    word = word if isinstance(word, str) else "#{:02x}{:02x}{:02x}".format(*word)
    short = re.fullmatch(r"#?([0-9a-f])([0-9a-f])([0-9a-f])", word)
    if short:
        return "#" + "".join(digit * 2 for digit in short.groups())
    if long := re.fullmatch(r"#?([0-9a-f]{6})", word):
        return f"#{long[1]}"
    raise ValueError(
        f"{quoted(text)} is no colour that is known here: write # and six figures such as #9c3122, a plain name such "
        "as firebrick, or leave it empty."
    )


# Days


def day(text, locale="en_GB"):
    """The `date` of "2026-10-09", "9 Oct 2026", "Oct 9, 2026" or "9.10.2026", and of figures as the locale writes them.

    Raises ValueError for what could be two days, such as 03/04/2026, and for what is none.
    """
    text = " ".join(text.split())
    if iso := ISO.fullmatch(text):
        return _date(text, *map(int, iso.groups()))
    if figures := NUMBERS.fullmatch(text):
        return _of_figures(text, figures, Locale.parse(locale))
    if words := MONTH.fullmatch(text):
        first, name, second, year = words.groups()
        number = _months(locale).get(name.casefold())
        if number and bool(first) != bool(second):
            return _date(text, int(year), number, int(first or second))
    raise ValueError(f"{quoted(text)} can't be read as a day: write it as 2026-10-09 or 9 Oct 2026.")


def _of_figures(text, figures, locale):
    first, mark, second, year = int(figures[1]), figures[2].strip(), int(figures[3]), int(figures[4])
    month_first = locale.date_formats["short"].pattern.lstrip("'").lower().startswith("m")
    either_way = first <= 12 and second <= 12 and first != second
    if either_way and mark != ".":
        one, other = _date(text, year, second, first), _date(text, year, first, second)
        raise ValueError(
            f"{quoted(text)} could be {said(one)} or {said(other)}: write {one.isoformat()} or {other.isoformat()}."
        )
    if mark != "." and first <= 12 and (second > 12 or month_first):
        return _date(text, year, first, second)
    return _date(text, year, second, first)


def _date(text, year, month, number):
    try:
        found = date(year, month, number)
    except ValueError:
        raise ValueError(f"{quoted(text)} is no day of the calendar: write it as 2026-10-09.") from None
    if not FIRST_YEAR <= found.year <= 2200:
        raise ValueError(f"{quoted(text)}: that year can't be right. Write the day as 2026-10-09.")
    return found


def _months(locale):
    found = {}
    for language in (locale, "en"):
        for width in ("wide", "abbreviated"):
            for context in ("format", "stand-alone"):
                names = Locale.parse(language).months[context][width]
                found |= {name.casefold().rstrip("."): number for number, name in names.items()}
    return found | {"sept": 9}


def said(found):
    """A day in words: "9 Oct 2026"."""
    return f"{found.day} {found:%b %Y}"


# What things are made of


def fibre_content(text):
    """[(fibre, share as text)] of "75 % wool, 25 % nylon", "Merino 75%, Nylon 25%" or "75/25 merino/nylon"."""
    bare = re.sub(r"[()\n]", " ", _short(text))
    if ratio := SHARES_FIRST.fullmatch(bare):
        shares = [share.strip() for share in ratio[1].split("/")]
        names = [name.strip() for name in re.split(r"[/,;+&]| and ", ratio[2]) if name.strip()]
        if len(shares) == len(names):
            return list(zip(names, shares, strict=True))
    found, rest = [], bare
    for part in SHARE.finditer(bare):
        name, share = (part[2], part[1]) if part[2] else (part[3], part[4])
        found.append(
            (re.sub(r"^(and|of)\s+|\s+(and|of)$", "", name.strip(" -–:."), flags=re.I).strip(), share.strip(".,"))
        )
        rest = rest.replace(part[0], " ", 1)
    if not found and re.search(r"[^\W\d_]", bare) and not re.search(r"[\d,;/+&%]", bare):
        return [(bare.strip(), "100")]  # a yarn of one fibre
    if not found or re.sub(r"[\s,;/+&%.·|-]|and", "", rest):
        raise ValueError(f"{quoted(text)} can't be read as a fibre content: write it as 75 % wool, 25 % nylon.")
    return found


def bottle_content(text):
    """[(name, strength in %)] of "Brick 1 %, citric acid 2 %": grams in 100 mL of the finished bottle."""
    found = []
    for part in re.split(r"[;\n+]|,(?=\s)|,(?![0-9])", _short(text)):
        if not part.strip():
            continue
        read = PART.fullmatch(part.strip())
        if not read or not read[1].strip() or read[1].strip().endswith(("-", "\u2212")):
            raise ValueError(
                f"{quoted(part.strip())} can't be read: write what is in it with its strength, as Brick 1 %."
            )
        found.append((read[1].strip(), units.read_number(read[2])))
    if not found:
        raise ValueError("Write what is in it with its strength, such as Brick 1 %.")
    if any(strength <= 0 or strength > Decimal(100) for _, strength in found):
        raise ValueError("A strength is the grams in 100 mL, above 0 and 100 at most: write it as Brick 1 %.")
    return found


def name_and_strength(name):
    """("Brick", "1") of a bottle called "Brick 1 %" or "Brick 1"; the figure is "" where the name ends in none."""
    found = re.fullmatch(r"(.*\D)\s+((?:[0-9]*[.,])?[0-9]+)\s*%?", name.strip())
    return (found[1].strip(), found[2]) if found else (name.strip(), "")


def _short(text):
    if len(text) > LONGEST_CONTENT:
        raise ValueError("That is too long to be read: write the names and their figures only.")
    return text


def quoted(text):
    """The text in quotation marks, shortened, without what can't be seen."""
    shown = "".join(mark if mark.isprintable() else " " for mark in text)
    return f"“{shown[:40]}…”" if len(shown) > 40 else f"“{shown}”"
