"""Care lines for a skein tag, from the fibres, the treatment and the studio's own checks.

Every fibre has its own limit; a yarn gets the mildest step of all its fibres, and never more than the maker
of the base allows. Words only: the care symbols are protected marks in some countries. Hand wash and iron
carry no number, since editions of ISO 3758 differ. The sets per fibre are common practice, no source.
"""

from collections.abc import Iterable
from dataclasses import dataclass, fields
from decimal import Decimal
from typing import NamedTuple


@dataclass(frozen=True)
class Care:
    """Sentences for a tag, in the order of ISO 3758; `hold` is for the studio alone and never printed."""

    wash: str
    bleach: str
    dry: str
    iron: str
    professional: str
    wash_with: str = ""
    hold: str = ""

    @property
    def sentences(self) -> tuple[str, ...]:
        lines = (self.wash, self.wash_with, self.bleach, self.dry, self.iron, self.professional)
        return tuple(line for line in lines if line)


class _Limits(NamedTuple):
    wash: str  # key of WASH
    dry: str  # key of _DRY
    iron: str  # key of _IRON
    professional: str  # key of _PROFESSIONAL
    when_wet: str = ""


# Bath in degrees C and gentleness; a blend takes the coolest bath and the gentlest handling of its fibres.
WASH = {
    "no_wash": (0, 4),
    "hand": (0, 3),
    "30_very_gentle": (30, 2),
    "30_gentle": (30, 1),
    "40_very_gentle": (40, 2),
    "40_gentle": (40, 1),
}
_WASH_WORDS = {
    "no_wash": "Do not wash.",
    "hand": "Hand wash cool, do not rub or wring.",
    "30_very_gentle": "Machine wash at 30 °C, wool cycle, or hand wash.",
    "30_gentle": "Machine wash at 30 °C, gentle cycle, or hand wash.",
    "40_very_gentle": "Machine wash at 40 °C, wool cycle, or hand wash.",
    "40_gentle": "Machine wash at 40 °C, gentle cycle, or hand wash.",
}
# "Cold" is up to 86 °F and "warm" up to 111 °F: 16 CFR 423 Appendix A, from memory.
_US_BATH = {"at 30 °C": "cold (86 °F)", "at 40 °C": "warm (104 °F)"}

# Each from mildest to strongest.
_DRY = {
    "flat_shade": "Dry flat in the shade.",
    "flat": "Dry flat.",
    "line": "Line dry.",
}
_IRON = {
    "none": "Do not iron.",
    "low": "Iron on low through a cloth.",
    "medium": "Iron on medium through a cloth.",
}
_PROFESSIONAL = {
    "none": "Do not dry clean.",
    "gentle": "Dry clean, gentle process.",
    "normal": "Dry clean.",
}

_STRETCHES = "Support it when wet: it stretches."
_WEAK = "Handle gently when wet: it is weak then."
_HAIR = _Limits("hand", "flat", "low", "gentle", _STRETCHES)
_PLANT = _Limits("40_gentle", "line", "medium", "normal")
_VISCOSE = _Limits("30_very_gentle", "flat", "low", "gentle", _WEAK)
_METAL = _Limits("hand", "flat", "none", "none")
_UNKNOWN = _Limits("hand", "flat_shade", "none", "none")

# What each fibre stands, untreated; a fibre missing here gets only the safest words.
_BY_FIBRE = {
    "wool": _Limits("hand", "flat", "medium", "gentle"),
    "alpaca": _HAIR,
    "llama": _HAIR,
    "camel": _HAIR,
    "vicuna": _HAIR,
    "guanaco": _HAIR,
    "cashmere": _HAIR,
    "yak": _HAIR,
    "angora": _HAIR,
    "mohair": _Limits("hand", "flat", "low", "gentle"),
    "silk": _Limits("hand", "flat_shade", "low", "gentle"),
    "nylon": _Limits("40_gentle", "line", "low", "normal"),
    "cotton": _PLANT,
    "linen": _PLANT,
    "hemp": _PLANT,
    "ramie": _PLANT,
    "viscose": _VISCOSE,
    "modal": _VISCOSE,
    "lyocell": _VISCOSE,
    "cupro": _VISCOSE,
    "protein": _Limits("hand", "flat", "low", "gentle", _WEAK),
    "polyester": _Limits("40_gentle", "line", "low", "normal"),
    "elastane": _Limits("30_gentle", "flat", "low", "normal"),
    "metallised": _METAL,
    "metal": _METAL,
}
_SUPERWASH_WOOL = _Limits("30_very_gentle", "flat", "medium", "normal")
# What the maker of a superwash base may allow beyond that.
_SUPERWASH_WOOL_AT_MOST = _SUPERWASH_WOOL._replace(wash="40_gentle")

# The white-cloth check, in the studio's words, from nothing to worst.
WHITE_CLOTH = ("none", "trace", "some", "a_lot", "running")

_FIRST_WASH = "Wash cool, separately the first time."
_WASH_WITH = {
    "none": "",
    "trace": "Wash cool, with like colours.",
    "some": "Wash cool and separately at first; may release colour.",
    "a_lot": "Wash cool and separately; will release colour; do not combine with light colours.",
    "running": "Wash cool and always alone; releases a lot of colour.",
}
_HOLD = "This yarn still gives off colour. Rinse or fix it again and test again before it is sold."


def care_lines(
    fibre_keys: Iterable[str],
    superwash: bool | None = False,
    base_maker_limit: str | None = None,
    fastness: str | Decimal | float | None = None,
    market: str = "EU",
    *,
    first_wash: bool = True,
) -> Care:
    """Care for a dyed yarn of these fibres; no fibre at all means the content is not known.

    `superwash`: whether its wool is treated against shrinking (None: not known, taken as no).
    `base_maker_limit`: a key of WASH, the strongest wash the maker of the base allows.
    `fastness`: a word of WHITE_CLOTH, a standard grade from 1 to 5 in halves (the lower of change and
    staining), or None for not tested.
    `first_wash`: say "cool, separately the first time", until a person takes it off.
    Raises ValueError for a limit, grade or market it cannot read.
    """
    if market not in ("US", "EU", "UK"):
        raise ValueError(f"“{market}” is not a market with rules here. Choose US, EU or UK.")
    limits = _limits(fibre_keys, bool(superwash), base_maker_limit)
    wash = _mildest_wash([fibre.wash for fibre in limits], base_maker_limit)
    released = "none" if fastness is None else _as_white_cloth(fastness)
    care = Care(
        wash=_WASH_WORDS[wash],
        bleach="Do not bleach.",
        dry=_with_warnings(_mildest(_DRY, [fibre.dry for fibre in limits]), limits),
        iron=_mildest(_IRON, [fibre.iron for fibre in limits]),
        professional=_mildest(_PROFESSIONAL, [fibre.professional for fibre in limits]),
        wash_with="" if wash == "no_wash" else _wash_with(released, first_wash),
        hold=_HOLD if released == "running" else "",
    )
    return _in_american(care) if market == "US" else care


def _limits(fibre_keys: Iterable[str], superwash: bool, base_maker_limit: str | None) -> list[_Limits]:
    by_fibre = dict(_BY_FIBRE)
    if superwash:
        by_fibre["wool"] = _SUPERWASH_WOOL if base_maker_limit is None else _SUPERWASH_WOOL_AT_MOST
    return [by_fibre.get(key, _UNKNOWN) for key in fibre_keys] or [_UNKNOWN]


def _mildest_wash(washes: list[str], base_maker_limit: str | None) -> str:
    if base_maker_limit is not None:
        if base_maker_limit not in WASH:
            raise ValueError(f"“{base_maker_limit}” is not a wash. Choose one of: {', '.join(WASH)}.")
        washes = [*washes, base_maker_limit]
    celsius = min(WASH[wash][0] for wash in washes)
    gentleness = max(WASH[wash][1] for wash in washes)
    return next(key for key, step in WASH.items() if step == (celsius, gentleness))


def _mildest(ladder: dict[str, str], steps: list[str]) -> str:
    return next(words for step, words in ladder.items() if step in steps)


def _with_warnings(words: str, limits: list[_Limits]) -> str:
    warnings = dict.fromkeys(fibre.when_wet for fibre in limits if fibre.when_wet)
    return " ".join([words, *warnings])


def _as_white_cloth(fastness: str | Decimal | float) -> str:
    """How much colour a grade of ISO 105 (C06, read on the grey scales) stands for, in the studio's words."""
    if fastness in WHITE_CLOTH:
        return fastness
    halves = fastness * 2 if isinstance(fastness, (int, float, Decimal)) else None
    if halves not in range(2, 11):
        raise ValueError(
            f"“{str(fastness)[:40]}” is not a fastness. Give a grade from 1 to 5 in halves, such as 3.5, "
            f"or one of: {', '.join(WHITE_CLOTH)}."
        )
    if halves >= 8:
        return "none"
    return {7: "trace", 6: "some", 5: "a_lot"}.get(int(halves), "running")


def _wash_with(released: str, first_wash: bool) -> str:
    if first_wash and released == "none":
        return _FIRST_WASH
    if first_wash and released == "trace":
        return "Wash cool, separately the first time, then with like colours."
    return _WASH_WITH[released]


def _in_american(care: Care) -> Care:
    words = {field.name: getattr(care, field.name).replace("colour", "color") for field in fields(care)}
    for metric, american in _US_BATH.items():
        words["wash"] = words["wash"].replace(metric, american)
    return Care(**words)
