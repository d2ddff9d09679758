"""The cost bar: the parts of a run's cost as widths of one bar, in engraver's tones. No colour: that is the yarn's."""

from dataclasses import dataclass
from decimal import Decimal

from studio.colourbar import widths

from .models import CostLine

Kind = CostLine.Kind
HATCH, LINES, DOTS, NO_TONE = "url(#hatch)", "url(#lines)", "url(#dots)", "none"
TONES = {
    Kind.YARN: "currentColor",
    Kind.DYE: DOTS,
    Kind.ASSISTANT: "url(#weave)",
    Kind.ENERGY: "url(#rain)",
    Kind.LABOUR: HATCH,
    Kind.OVERHEAD: LINES,
}


@dataclass(frozen=True)
class Part:
    """One part of the bar. `x` and `width` are percentages of the bar, as texts for SVG attributes."""

    kind: str
    minor: int
    tone: str
    x: str
    width: str


def bar_of(kinds):
    """[Part] of the kinds that have a known cost above nothing, in their order. `kinds`: as `costs.by_kind` gives."""
    known = [(kind, minor) for kind, minor, _ in kinds if minor]
    parts, x = [], Decimal(0)
    for (kind, minor), width in zip(known, widths([minor for _, minor in known]), strict=True):
        parts.append(Part(kind.label, minor, TONES[kind], f"{x}", f"{width}"))
        x += width
    return parts


def price_bar(cost, left):
    """[Part] of what one sold skein brings: cost, tax, fee and what is left; of a loss, how far the price falls short.

    `cost` and `left` (a `money.Left`) are major units; a part's `minor` is too, as it is written on the page.
    """
    if left.left >= 0:
        taken = [("Tax", left.tax, LINES), ("Fee", left.fee, DOTS)]
        said = [("Cost", cost, "currentColor"), *taken, ("Left", left.left, NO_TONE)]
    else:
        said = [("Covered", left.net - left.fee, "currentColor"), ("Short", -left.left, HATCH)]
    known = [(word, amount, tone) for word, amount, tone in said if amount > 0]
    parts, x = [], Decimal(0)
    for (word, amount, tone), width in zip(known, widths([amount for _, amount, _ in known]), strict=True):
        parts.append(Part(word, amount, tone, f"{x}", f"{width}"))
        x += width
    return parts
