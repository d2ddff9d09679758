"""The fibre content line of a tag, and which dyes a yarn takes.

Rules: the Wool and Textile Acts (15 USC 68b, 70b; 16 CFR 300 and 303) for the United States, Regulation (EU)
1007/2011 for the European Union and, as kept law, for the United Kingdom. The law changes: whoever prints a
tag checks the rules where it is sold. Percentages are percent by mass of the whole yarn.
"""

import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from types import MappingProxyType
from typing import NamedTuple

from . import fibre_names as names
from .fibre_names import DYE_CLASSES, UNDETERMINED

__all__ = [
    "DYE_CLASSES",
    "FIBRES",
    "UNDETERMINED",
    "ContentLine",
    "Share",
    "TypedFibre",
    "checked",
    "classes_for",
    "content_line",
    "dyeable_pct",
    "key_for",
    "plied",
    "takes",
    "under_wool_act",
]

FIBRES: Mapping[str, str] = MappingProxyType({key: fibre.words for key, fibre in names.FIBRES.items()})

MARKETS = ("US", "EU", "UK")
SUM_TOLERANCE = Decimal("0.05")
US_NAMED_FROM = Decimal(5)  # 15 USC 70b(b)(1), 16 CFR 303.6(a)
US_ORNAMENT_UP_TO = Decimal(5)  # 16 CFR 303.26, 300.16
EU_DECORATION_UP_TO = Decimal(7)  # Regulation (EU) 1007/2011 art. 10(1)
EU_VIRGIN_FROM = Decimal(25)  # art. 8(2)
_CASHMERE_IN_THE_US = (  # 15 USC 68b(a)(6), 16 CFR 300.19(a)
    "Cashmere is a US label's word only up to 19 micron on average. Keep your supplier's word for it, "
    "or enter it as wool."
)


@dataclass(frozen=True)
class Share:
    """One fibre of a yarn.

    `decorative`: a thread of its own, there to be seen, that can be pulled out. `functional`: does a definite
    job in a small amount. `virgin`, `recycled`: as the supplier states in writing. `breed`: breed or grade.
    """

    fibre: str
    percent: Decimal
    decorative: bool = False
    functional: bool = False
    virgin: bool = False
    recycled: bool = False
    breed: str = ""

    def __post_init__(self):
        try:
            percent = Decimal(str(self.percent))
        except InvalidOperation:
            raise ValueError(
                f"“{str(self.percent)[:40]}” is not a percentage. Write a number such as 75 or 12.5."
            ) from None
        object.__setattr__(self, "percent", percent)


class ContentLine(NamedTuple):
    text: str  # the line itself
    notes: tuple[str, ...]  # print these too, each on its own line, apart from the content
    warnings: tuple[str, ...]  # for the studio, never printed


class TypedFibre(NamedTuple):
    key: str
    breed: str = ""
    virgin: bool = False
    recycled: bool = False
    note: str = ""  # something the person should know or check


def key_for(text: str) -> TypedFibre:
    """Read a fibre as typed: "Merino wool" is wool of the breed Merino.

    Raises ValueError for a word that is no generic fibre name, trade names among them.
    """
    words = unicodedata.normalize("NFKC", text).casefold().replace("’", "'").replace("-", " ").split()
    recycled = virgin = False
    remarks = []
    while len(words) > 1 and words[0] in {"recycled", "virgin", "new", *names.CLAIMS}:
        first = words.pop(0)
        recycled |= first == "recycled"
        virgin |= first in {"virgin", "new"}
        remarks += [names.CLAIMS[first]] if first in names.CLAIMS else []
    found = _look_up(" ".join(words))
    if found is None and len(words) > 1 and words[-1] in {"wool", "hair", "fibre", "fiber"}:
        found = _look_up(" ".join(words[:-1]))
    if found is None:
        raise ValueError(_unknown(text))
    key, breed, note = found
    return TypedFibre(key, breed, virgin, recycled, " ".join([*remarks, *([note] if note else [])]))


def _look_up(words: str) -> tuple[str, str, str] | None:
    if words in names.FIBRES:
        return words, "", ""
    if words in names.SYNONYMS:
        return names.SYNONYMS[words], "", ""
    if words in names.BREEDS:
        key, breed = names.BREEDS[words]
        return key, breed, names.BAMBOO if breed == "Bamboo" else ""
    if words in names.DOUBTFUL:
        key, note = names.DOUBTFUL[words]
        return key, "", note
    return None


def _unknown(text: str) -> str:
    shown = " ".join(str(text).split())
    if not shown:
        return "Write the name of the fibre, for example wool, nylon or silk."
    shown = shown if len(shown) <= 60 else shown[:59] + "…"
    return (
        f"“{shown}” is not a generic fibre name. If it is a trade name, look up the generic name on the "
        "supplier's label (for example nylon, lyocell or elastane) and use that."
    )


def checked(shares: Iterable[Share]) -> list[Share]:
    """The shares, if they are a complete fibre content: known fibres, each above 0, 100 % in all (+- 0.05).

    Raises ValueError saying what the sum is and what to do; nothing is ever scaled to fit.
    """
    shares = list(shares)
    if not shares:
        raise ValueError("Enter the fibres and their percentages from the supplier's label.")
    for share in shares:
        _check_one(share)
    total = sum(share.percent for share in shares)
    if abs(total - 100) > SUM_TOLERANCE:
        raise ValueError(_wrong_sum(shares, total))
    if len(shares) > 1 and any(share.fibre == UNDETERMINED for share in shares):
        raise ValueError("“Mixed fibres” stands alone: give every fibre its percentage, or name none.")
    return shares


def _check_one(share: Share) -> None:
    name = _fibre(share.fibre).words
    if not share.percent.is_finite() or not 0 < share.percent <= 100:
        raise ValueError(f"{name} has {share.percent} %. Give each fibre more than 0 % and at most 100 %.")
    if share.virgin and share.recycled:
        raise ValueError(f"{name} cannot be both virgin and recycled. Choose what the supplier states.")


def _wrong_sum(shares: list[Share], total: Decimal) -> str:
    message = f"The fibres add up to {_plain(total)} %, not 100 %. Correct them from the supplier's label."
    if len(shares) == 3 and {share.percent for share in shares} == {Decimal(33)}:
        message += " If they are thirds, enter 34, 33 and 33."
    return message


def _fibre(key: str) -> names.Fibre:
    if key == UNDETERMINED:
        return names.UNDETERMINED_FIBRE
    try:
        return names.FIBRES[key]
    except KeyError:
        raise ValueError(_unknown(key)) from None


def _plain(number: Decimal) -> str:
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


# ---- the content line


@dataclass
class _Part:
    """Shares that print under one name. `percent` is of the counted fibre."""

    generic: str
    shares: list[Share]
    percent: Decimal

    @property
    def key(self) -> str:
        return self.shares[0].fibre


def content_line(
    shares: Iterable[Share], market: str, language: str = "en", *, reveal_ornament: bool = False
) -> ContentLine:
    """The fibre content as it may be printed on a tag sold in `market`: "US", "EU" or "UK".

    `reveal_ornament`: on a US tag, say how much decorative thread was left out of the percentages. Printed
    numbers are whole and total 100. Raises ValueError for shares that are not complete (see `checked`).
    """
    if market not in MARKETS:
        raise ValueError(f"“{market}” is not a market with rules here. Choose US, EU or UK.")
    if language != "en":
        raise ValueError(f"Content lines in “{language}” are not there yet. Print in English (en).")
    shares = checked(shares)
    if shares[0].fibre == UNDETERMINED:
        return _undetermined(market)
    return _us_line(shares, reveal_ornament) if market == "US" else _eu_line(shares)


def _undetermined(market: str) -> ContentLine:
    # Regulation (EU) 1007/2011 art. 9(4); 16 CFR 303.14.
    beware = "Print this only where the content really cannot be found out."
    if market == "US":
        wool = "If there is any wool in it, US law wants its percentage."
        return ContentLine(f"100% {names.UNDETERMINED_FIBRE.us}", (), (beware, wool))
    return ContentLine(names.UNDETERMINED_FIBRE.eu, (), (beware,))


def _us_line(shares: list[Share], reveal_ornament: bool) -> ContentLine:
    shares, ornament, warnings = _without_decoration(shares, US_ORNAMENT_UP_TO, lambda f: f.us)
    parts = _parts(shares, _us_generic)
    named, other = [], []
    for part in parts:
        (named if _us_named(part, warnings) else other).append(part)
    lines = [(_us_words(part), part.percent) for part in named]
    if other:
        name = "Other Fiber" if len(other) == 1 else "Other Fibers"
        lines.append((name, sum(part.percent for part in other)))
        warnings.append(
            f"Under 5 %, so not named on a US tag: {' and '.join(part.generic.lower() for part in other)}. "
            "Keep the word out of the base's name on that tag too."
        )
    printed = _whole([percent for _, percent in lines])
    text = " ".join(f"{number}% {name}" for number, (name, _) in zip(printed, lines, strict=True))
    if ornament:
        text += " " + _exclusive_of(ornament, reveal_ornament)
    if any(part.key == "cashmere" for part in named):
        warnings.append(_CASHMERE_IN_THE_US)
    warnings += _merged(parts) + _rounded(lines, printed, US_NAMED_FROM)
    notes, breed_warnings = _notes(named, breed_in_line=True)
    return ContentLine(text, notes, tuple(warnings + breed_warnings))


def _eu_line(shares: list[Share]) -> ContentLine:
    shares, _, warnings = _without_decoration(shares, EU_DECORATION_UP_TO, lambda f: f.eu)
    parts = _parts(shares, lambda share: _fibre(share.fibre).eu)
    refused = _virgin_refused(parts)
    if refused:
        warnings.append(refused)
    virgin = not refused and any(share.virgin for share in shares if share.fibre == "wool")
    lines = [("virgin wool" if virgin and p.key == "wool" else p.generic, p.percent) for p in parts]
    printed = _whole([percent for _, percent in lines])
    text = ", ".join(f"{number}% {name}" for number, (name, _) in zip(printed, lines, strict=True))
    notes, breed_warnings = _notes(parts, breed_in_line=False)
    warnings += _merged(parts) + _rounded(lines, printed, 1) + breed_warnings
    return ContentLine(text, notes, tuple(warnings))


def _without_decoration(shares, up_to, name_of):
    """Counted shares as percent of what is counted, the decoration left out, and what to warn of."""
    decoration = [share for share in shares if share.decorative]
    if not decoration:
        return shares, [], []
    amount = sum(share.percent for share in decoration)
    listed = " and ".join(dict.fromkeys(name_of(_fibre(share.fibre)).lower() for share in decoration))
    if amount > up_to:
        more = f"The decorative {listed} is {_plain(amount)} %, more than {up_to} %,"
        return shares, [], [more + " so it is counted like any fibre."]
    counted = 100 - amount
    kept = [replace(share, percent=share.percent * 100 / counted) for share in shares if not share.decorative]
    left_out = (
        f"The {listed} ({_plain(amount)} %) is left out as decoration. That holds only for a thread of its "
        "own that can be seen and pulled out; if it is blended in, enter it as not decorative."
    )
    return kept, [replace(s, percent=s.percent * 100 / counted) for s in decoration], [left_out]


def _parts(shares, generic_of) -> list[_Part]:
    parts: dict[str, _Part] = {}
    for share in shares:
        generic = generic_of(share)
        part = parts.setdefault(generic, _Part(generic, [], Decimal(0)))
        part.shares.append(share)
        part.percent += share.percent
    return sorted(parts.values(), key=lambda part: -part.percent)


def _us_generic(share: Share) -> str:
    # 15 USC 68b(a)(2)(A): recycled wool is always said; 16 CFR 300.20: virgin wool may be.
    fibre = _fibre(share.fibre)
    if share.recycled and fibre.wool_act:
        return "Recycled " + fibre.us
    if share.virgin and share.fibre == "wool":
        return "Virgin " + fibre.us
    return fibre.us


def _us_named(part: _Part, warnings: list[str]) -> bool:
    if part.percent >= US_NAMED_FROM or _fibre(part.key).wool_act:
        return True
    if not any(share.functional for share in part.shares):
        return False
    if part.key in names.LUXURY or any(share.decorative for share in part.shares):
        warnings.append(f"{part.generic} under 5 % is not there for a job, so a US tag does not name it.")
        return False
    return True


def _us_words(part: _Part) -> str:
    breed = _common_breed(part)
    if not breed:
        return part.generic
    prefix, generic = "", part.generic
    for word in ("Recycled ", "Virgin "):
        if generic.startswith(word):
            prefix, generic = word, generic.removeprefix(word)
    words = [word[:1].upper() + word[1:] for word in breed.split()]
    if words[-1] == generic.split()[0]:
        words.pop()
    elif generic in words:
        generic = ""
    return prefix + " ".join([*words, generic]).strip()


def _exclusive_of(ornament: list[Share], reveal: bool) -> str:
    kinds = {_fibre(share.fibre).us for share in ornament}
    if not reveal or len(kinds) > 1:
        return "Exclusive of Ornamentation"
    amount = sum(share.percent for share in ornament)
    return f"Exclusive of {max(1, round(amount))}% {kinds.pop()} Ornamentation"


def _virgin_refused(parts: list[_Part]) -> str:
    """Why "virgin wool" may not be printed (art. 8), or nothing if it may or nobody asks."""
    wool = next((part for part in parts if part.key == "wool"), None)
    if wool is None or not any(share.virgin for share in wool.shares):
        return ""
    if not all(share.virgin for share in wool.shares):
        return "“Virgin wool” is not printed: not all the wool in the yarn is."
    if wool.percent < EU_VIRGIN_FROM:
        return f"“Virgin wool” is not printed: it needs at least {EU_VIRGIN_FROM} % wool."
    if len(parts) > 2:
        return "“Virgin wool” is not printed: in a blend it may stand with one other fibre only."
    return ""


def _whole(percents: list[Decimal]) -> list[int]:
    """Whole numbers that total 100, none of them 0, by largest remainder; ties go to the larger share."""
    to_share = 100 - sum(percent < 1 for percent in percents)
    rest = sum(percent for percent in percents if percent >= 1)
    exact = [percent * to_share / rest if percent >= 1 else Decimal(1) for percent in percents]
    numbers = [max(1, int(value)) for value in exact]
    by_remainder = sorted(range(len(exact)), key=lambda i: (numbers[i] - exact[i], -percents[i], i))
    for i in by_remainder[: max(0, 100 - sum(numbers))]:
        numbers[i] += 1
    for _ in range(sum(numbers) - 100):
        last_largest = max(range(len(numbers)), key=lambda i: (numbers[i], i))
        numbers[last_largest] -= 1
    return numbers


def _merged(parts: list[_Part]) -> list[str]:
    return [
        f"{part.generic[:1].upper()}{part.generic[1:]} was entered more than once; the tag prints the sum."
        for part in parts
        if len(part.shares) > 1
    ]


def _rounded(lines, printed, threshold) -> list[str]:
    """A line whose rounding takes it over a threshold of the law, or up from under 1 %."""
    return [
        f"{name[:1].upper()}{name[1:]} is {_plain(round(percent, 2))} % and prints as {number}%."
        for (name, percent), number in zip(lines, printed, strict=True)
        if (percent < threshold <= number) or percent < 1
    ]


# ---- breeds and recycled fibre


def _notes(parts: list[_Part], breed_in_line: bool) -> tuple[tuple[str, ...], list[str]]:
    notes, warnings = [], []
    for part in parts:
        plain_name = _fibre(part.key).us.lower() if breed_in_line else part.generic
        breeds = dict.fromkeys(filter(None, map(_printable_breed, part.shares)))
        if _common_breed(part):
            notes += [] if breed_in_line else list(breeds)
        else:
            notes += [f"Part of the {plain_name} is {breed}" for breed in breeds]
        if any(share.recycled for share in part.shares) and not part.generic.startswith("Recycled "):
            whole = all(share.recycled for share in part.shares)
            notes.append(f"Recycled {plain_name}" if whole else f"Part of the {plain_name} is recycled")
        warnings += [_breed_warning(s) for s in part.shares if s.breed and not _printable_breed(s)]
    return tuple(notes), warnings


def _common_breed(part: _Part) -> str:
    breeds = {_printable_breed(share) for share in part.shares}
    return breeds.pop() if len(breeds) == 1 else ""


def _printable_breed(share: Share) -> str:
    """The breed as written, unless it would say more than a breed: another fibre, a claim, a number."""
    breed = " ".join(share.breed.split())
    words = breed.casefold().replace("-", " ").split()
    own = {share.fibre, *_fibre(share.fibre).eu.split()}
    misleading = any(
        word in names.CLAIMS
        or word in {"bamboo", "virgin", "recycled", "pure", "all"}
        or (found is not None and found[0] != share.fibre and word not in own)
        for word in words
        for found in [_look_up(word)]
    )
    misleading |= "new wool" in breed.casefold()
    breed = breed[:1].upper() + breed[1:]
    return "" if misleading or any(c.isdigit() or c in "%,;" for c in breed) else breed


def _breed_warning(share: Share) -> str:
    if "bamboo" in share.breed.casefold():
        return names.BAMBOO
    for claim, sentence in names.CLAIMS.items():
        if claim in share.breed.casefold():
            return sentence
    name = _fibre(share.fibre).eu
    return f"“{share.breed[:60]}” is not printed: beside {name} it would say more than a breed."


# ---- what takes which dye


def under_wool_act(shares: Iterable[Share]) -> bool:
    """Whether a US tag falls under the Wool Act (15 USC 68): it names the firm or its RN, no trade mark."""
    return any(_fibre(share.fibre).wool_act for share in shares)


def takes(fibre: str, dye_class: str) -> str:
    """ "dyes", "some" (stains, pale, special method) or "none". A fibre nobody knows takes some."""
    _fibre(fibre)
    if dye_class not in DYE_CLASSES:
        choices = ", ".join(DYE_CLASSES.values())
        raise ValueError(f"“{dye_class}” is not a dye class. Choose one of: {choices}.")
    return "some" if fibre == UNDETERMINED else names.UPTAKE[fibre][dye_class]


def dyeable_pct(shares: Iterable[Share], dye_class: str) -> Decimal | None:
    """Percent of the yarn that dyes with this class, counting the shares as they are entered.

    Fibres that only take some are not counted. None where the content is not known: the pot goes on without.
    """
    shares = list(shares)
    if not shares or any(share.fibre == UNDETERMINED for share in shares):
        return None
    return sum((s.percent for s in shares if takes(s.fibre, dye_class) == "dyes"), Decimal(0))


def classes_for(shares: Iterable[Share]) -> list[str]:
    """Keys of the dye classes that dye any of these fibres, the one that dyes most of the yarn first."""
    shares = list(shares)
    dyed = {key: dyeable_pct(shares, key) or 0 for key in DYE_CLASSES}
    return sorted((key for key in DYE_CLASSES if dyed[key]), key=lambda key: -dyed[key])


def plied(yarns: Iterable[tuple[Decimal, Iterable[Share]]]) -> list[Share]:
    """Content of yarns held or plied together, from pairs of mass (any one unit) and shares."""
    yarns = [(Decimal(str(mass)), checked(shares)) for mass, shares in yarns]
    total = sum(mass for mass, _ in yarns)
    if not yarns or any(not mass.is_finite() or mass <= 0 for mass, _ in yarns):
        raise ValueError("Each yarn held together needs a weight above 0.")
    sums: dict[Share, Decimal] = {}
    for mass, shares in yarns:
        for share in shares:
            kind = replace(share, percent=Decimal(0))
            sums[kind] = sums.get(kind, Decimal(0)) + mass * share.percent / total
    return [replace(kind, percent=percent) for kind, percent in sums.items()]
