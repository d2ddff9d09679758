"""The cost bar: the parts of a run's cost as widths of one bar, in engraver's tones. No colour: that is the yarn's."""

from dataclasses import dataclass
from decimal import Decimal

from studio.colourbar import widths

from .models import CostLine

Kind = CostLine.Kind
TONES = {
    Kind.YARN: "currentColor",
    Kind.DYE: "url(#dots)",
    Kind.ASSISTANT: "url(#weave)",
    Kind.ENERGY: "url(#rain)",
    Kind.LABOUR: "url(#hatch)",
    Kind.OVERHEAD: "url(#lines)",
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
