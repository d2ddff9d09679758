"""Text folded for finding: "Grün" is found by "grun", "straße" by "strasse", "ÇAĞLA" by "cagla". Pure.

Folding is Unicode's compatibility caseless matching (The Unicode Standard, section 3.13, D146) with the marks taken off
as well (general category Mn), and a few Latin letters that Unicode takes for letters of their own, written as people
type them on a keyboard that lacks them. Case and accents never tell two words apart here, in no language.
"""

import re
import unicodedata

LONGEST_WORD = 40
SHORT = 3  # up to so many letters, a beginning has an entry of its own in the index
SHORTEST_WITHIN = 3  # from so many letters on, a word is looked for inside a name as well

# Letters without a decomposition, as the Latin-ASCII transform of Unicode CLDR writes them (from memory).
LETTERS = str.maketrans(
    {
        "ı": "i",
        "ø": "o",
        "ł": "l",
        "đ": "d",
        "ħ": "h",
        "ŧ": "t",
        "ŋ": "n",
        "ĸ": "q",
        "æ": "ae",
        "œ": "oe",
        "ð": "d",
        "þ": "th",
    }
)
PIECE = re.compile(r"[^\W_]+(?:[-‐‑./'’:+][^\W_]+)*")
AROUND = ",;:.!?()[]\"'“”„«»‘’"  # signs of a sentence, not of what is looked for
PART = re.compile(r"[^\W_]+")


def fold(text):
    """``text`` without case and accents. Folding twice changes nothing."""
    if text.isascii():
        return text.lower()
    open_ = unicodedata.normalize("NFKD", unicodedata.normalize("NFKD", text).casefold()).casefold()
    return "".join(letter for letter in open_ if unicodedata.category(letter) != "Mn").translate(LETTERS)


def words_of(text):
    """The folded words of a text, for the index: "S-77 blue" gives s, 77, s77 and blue."""
    found = set()
    for piece in PIECE.findall(fold(text)):
        parts = PART.findall(piece)
        found.update(part[:LONGEST_WORD] for part in parts)
        if len(parts) > 1:
            found.add("".join(parts)[:LONGEST_WORD])
    return found


def codes_of(text):
    """The words of a lot's number, and each end of them, so that "0417" and "417" find B-0417."""
    found = words_of(text)
    return found | {word[start:] for word in found for start in range(1, len(word) - 2)}


def short_codes_of(code):
    """How people say a numbered code: "26-032" is "32" and "26-32", too, without the noughts that fill it up."""
    *before, number = PART.findall(fold(code)) or [""]
    short = number.lstrip("0")
    return {short, "".join([*before, short])} if short else set()


def asked(text):
    """The words somebody looks for, folded, each once, in their order. A word keeps its signs: "s-77", "100%"."""
    found = (word.strip(AROUND) or word for word in fold(text).split())
    return list(dict.fromkeys(found))


def plain(word):
    """A folded word without its signs, as `words_of` joins it; "" when it is nothing but signs."""
    return "".join(PART.findall(word))[:LONGEST_WORD]


def name(text):
    """A name as it is kept for looking inside it: folded, a space before each word, and "4-ply" as "4 ply 4ply" too."""
    found = []
    for piece in PIECE.findall(fold(text)):
        parts = PART.findall(piece)
        found += [*parts, "".join(parts)] if len(parts) > 1 else parts
    return "".join(f" {word}" for word in found)


def within(word):
    """What to look for inside a `name` for this `plain` word: a short one only where a word begins."""
    return word if len(word) >= SHORTEST_WITHIN else f" {word}"


def marked(text, words):
    """``text`` in pieces: [(piece, whether one of these folded words begins it)], which join to the text again."""
    folded, origin = _with_origin(text)
    hits = sorted(
        (origin[start], origin[min(start + len(word), len(folded)) - 1] + 1)
        for word in words
        for start in _begins(folded, word)
    )
    pieces, end = [], 0
    for start, stop in hits:
        if start > end:
            pieces.append((text[end:start], False))
        if stop > end:
            pieces.append((text[max(start, end) : stop], True))
            end = stop
    return pieces + ([(text[end:], False)] if end < len(text) else [])


def begins_with(folded, word):
    """Where in a folded text a word begins with this one; -1 where none does."""
    return next(_begins(folded, word), -1)


def _begins(folded, word):
    start = folded.find(word) if word else -1
    while start >= 0:
        if start == 0 or not folded[start - 1].isalnum():
            yield start
        start = folded.find(word, start + 1)


def _with_origin(text):
    """The folded text, and for each of its letters the place in ``text`` it came from."""
    if text.isascii():
        return text.lower(), range(len(text))
    folded, origin = [], []
    for place, letter in enumerate(text):
        for part in fold(letter):
            folded.append(part)
            origin.append(place)
    return "".join(folded), origin


def likeness(one, other):
    """How alike two folded words are, from 0 to 1: the share of their pairs of letters that both have (Dice, 1945)."""
    mine, theirs = _pairs(one), _pairs(other)
    return 2 * len(mine & theirs) / (len(mine) + len(theirs)) if mine and theirs else 0.0


def _pairs(word):
    framed = f" {word} "
    return {framed[place : place + 2] for place in range(len(framed) - 1)}
