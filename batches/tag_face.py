"""What one tag says, and how large it can say it. Plain text and numbers, in mm; no Django.

``batches.tags`` fills a TagFace from the records; ``batches.tag_sheet`` prints it.
"""

import re
from dataclasses import dataclass, field, replace

from studio.colourbar import Segment, widths
from studio.units import NO_BREAK_SPACE

BAR_WIDTH = 7.0
HATCH_EVERY = 2.0
COLOUR = re.compile("#[0-9a-fA-F]{6}")


@dataclass(frozen=True)
class TagWords:
    """The tag's own words, so that a tag can speak another language than the screens."""

    net: str = "net"
    length: str = "about"
    dye_lot: str = "dye lot"
    price: str = "price"
    bar: str = "The bar"
    bar_says: str = "shows what dyed it, widths by mass:"


@dataclass(frozen=True)
class TagFace:
    """Everything printed on one tag. Equal faces are one distinct tag.

    net, length: "100 g / 3.5 oz" and "425 m / 465 yd"; what stands before " / " is printed larger.
    content: the fibre line, one size and weight. care, notes (what a market asks for): sentences.
    maker: lines, the name first, then the addresses. price, unit_price: formatted, or "" to print none.
    grade: printed when not "", e.g. "Seconds". dyes: the colour bar, top to bottom; () prints none.
    hand_dyed: the sentence on variation and alternating skeins; printed on two-sided tags only.
    """

    colourway: str
    base: str
    content: str
    net: str
    length: str
    dye_lot: str
    care: tuple[str, ...]
    maker: tuple[str, ...]
    price: str = ""
    unit_price: str = ""
    grade: str = ""
    dyes: tuple[Segment, ...] = ()
    hand_dyed: str = ""
    notes: tuple[str, ...] = ()
    words: TagWords = field(default_factory=TagWords)

    def set_solid(self):
        """The same face with each number tied to its unit, so that no line ends between the two."""
        return replace(
            self,
            base=tied(self.base),
            content=tied(self.content).replace("% ", f"%{NO_BREAK_SPACE}"),
            net=tied(self.net),
            length=tied(self.length),
            care=tuple(tied(line) for line in self.care),
            price=self.price.replace(" ", NO_BREAK_SPACE),
        )

    @property
    def figures(self):
        """The measured facts in their order, as they stand under each other on a swing tag."""
        words = self.words
        rows = ((words.net, self.net), (words.length, self.length), (words.dye_lot, self.dye_lot))
        return [Figure.of(word, text) for word, text in rows if text]

    @property
    def measured(self):
        """Net mass and length for one line: neither is broken where it can stand whole."""
        return self.net.replace(" ", NO_BREAK_SPACE), self.length.replace(" ", NO_BREAK_SPACE)

    @property
    def long_price(self):
        return len(self.price) > LONG_PRICE

    @property
    def care_line(self):
        return " ".join(self.care)

    @property
    def notes_line(self):
        return " ".join(self.notes)

    @property
    def dye_names(self):
        return ", ".join(dye.name for dye in self.dyes)


@dataclass(frozen=True)
class Figure:
    """One line of figures: a word, the amount, the same in the other system, and whether they need a smaller size."""

    word: str
    amount: str
    other: str
    long: bool

    @classmethod
    def of(cls, word, text):
        amount, _, other = text.partition(" / ")
        return cls(word, amount, other, long=len(amount) + 0.7 * len(other) > LONG_FIGURE)


LONG_PRICE = 9  # characters that stand beside their word at full size
LONG_FIGURE = 11
UNIT = re.compile(r"(?<=[0-9]) (?=(%|g|kg|oz|lb|m|yd|°C|°F)(?![a-z]))")


def tied(text):
    """The text with a no-break space between a number and its unit."""
    return UNIT.sub(NO_BREAK_SPACE, text)


# --- how large: steps from the design's own size down, none below what stays legible

STEPS = 6
"""Steps of shrinking, 0 to 5, for each side of a tag. The fibre line never goes under 7.5 pt, the rest not under 6.25.

The name's size follows its longest word, then a side moves down a step while its text doesn't fit. A label leaves out
its ornament on step 2, a swing tag the sentence that names the dyes on the last.
"""

LONGEST_WORD = {
    # letters that a line takes at the name's size on each step; see .step-N in tags.css
    ("swing", "A4"): (6, 8, 10, 12, 14),
    ("swing", "Letter"): (8, 10, 12, 14, 17),
    ("label", "A4"): (15, 16, 16, 18, 20),
    ("label", "Letter"): (28, 30, 30, 33, 38),
}


def first_step(colourway, design, paper):
    """The least step at which no word of the name needs breaking; the last but one if none does."""
    longest = max((len(word) for word in colourway.split()), default=0)
    limits = LONGEST_WORD[design, paper]
    return next((step for step, most in enumerate(limits) if longest <= most), len(limits) - 1)


# --- the colour bar, as text for SVG attributes: a template would write decimals in the studio's own way


@dataclass(frozen=True)
class BarPart:
    """One dye on an upright bar: where it lies and how it is filled, as SVG attribute texts in mm."""

    y: str
    height: str
    bottom: str
    fill: str
    hatch: str
    hatched: str


def upright_bar(dyes, height_mm):
    """The parts of a bar BAR_WIDTH wide and height_mm high, top to bottom; dyes that came to nothing left out."""
    parts, y = [], 0.0
    for dye, width in zip(dyes, widths([dye.share for dye in dyes]), strict=True):
        if dye.fill and not COLOUR.fullmatch(dye.fill):
            raise ValueError(f"Write the colour of {dye.name} as #rrggbb, or leave it empty.")
        high = float(width) * height_mm / 100
        if high <= 0:
            continue
        parts.append(
            BarPart(
                y=f"{y:.3f}",
                height=f"{high:.3f}",
                bottom=f"{y + high:.3f}",
                fill=dye.fill or "#ffffff",
                hatch=_hatch(y, high) if dye.unweighed or not dye.fill else "",
                hatched="#ffffff" if dye.fill else "#000000",
            )
        )
        y += high
    return parts


def _hatch(y, height):
    """Diagonal strokes that fill a rectangle of the bar, as an SVG path."""
    strokes, reach = [], HATCH_EVERY / 2
    while reach < height + BAR_WIDTH:
        left, right = max(0.0, reach - height), min(BAR_WIDTH, reach)
        strokes.append(f"M{left:.2f} {y + reach - left:.2f}L{right:.2f} {y + reach - right:.2f}")
        reach += HATCH_EVERY
    return "".join(strokes)
