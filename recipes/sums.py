"""The page of the sums: each with its formula in words and an example that the very functions of the program work out.

A sum names its boxes and the function that reckons with them, so an example can't say anything else than what the
plans, bottles and cost sheets reckon. Every app may list some, as `SUMS` in a module of this name.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from recipes import dyeing, gradients, precision
from studio import money, units, writing
from studio.doors import our_modules

BROADBENT = "Broadbent, Basic Principles of Textile Coloration (SDC 2001)"
GILES = "Duff and Sinclair, Giles’s Laboratory Course in Dyeing (SDC 1989)"
GUM = "JCGM 100:2008 (GUM), F.2.2.1"
SEQUENCE = "ISO 3 for equal ratios; equal differences are arithmetic"
PRACTICE = "Common practice, no source"


@dataclass(frozen=True)
class Box:
    """A number to put in. `kind` says how it is read and written: a key of `sum_forms.FIELDS`."""

    name: str
    label: str
    kind: str
    example: str
    hint: str = ""

    @property
    def value(self):
        """The example as a number, or the numbers of several parts; money in major units."""
        return parts_of(self.example) if self.kind == "parts" else Decimal(self.example)

    @property
    def said(self):
        """The example as it is written: "115 g"."""
        return self.example if self.kind == "parts" else written(Decimal(self.example), self.kind)


@dataclass(frozen=True)
class Found:
    """One answer of a sum. Raises ValueError for a number beyond reason, which a box left nearly empty can lead to."""

    label: str
    amount: Decimal
    kind: str

    def __post_init__(self):
        units.exact(self.amount)

    @property
    def said(self):
        return written(self.amount, self.kind)


@dataclass(frozen=True)
class Sum:
    """A sum of the trade. `reckon` takes the boxes by name and gives a list of `Found`, or raises ValueError."""

    key: str
    title: str
    formula: str
    boxes: tuple[Box, ...]
    reckon: Callable
    source: str
    note: str = ""

    @property
    def formula_said(self):
        """The formula, with no line that ends on a sign."""
        return re.sub(r"([=×÷+−]) ", rf"\1{units.NO_BREAK_SPACE}", self.formula)

    def example(self):
        return self.reckon(**{box.name: box.value for box in self.boxes})


def written(amount, kind):
    """An amount of a sum as this studio writes it."""
    now = writing.current()
    if kind in ("fibre", "g"):
        return units.write_g(amount, now.system)
    if kind == "mL":
        return units.write_ml(amount, now.system)
    if kind == "%":
        return units.write_pct(amount, 4)
    if kind == "money":
        return money.write_money(amount, now.currency, now.locale)
    number = units.write_number(amount)
    if kind == "ratio":
        return f"{number}:1"
    words = {"per_litre": "g/L", "mg_per_litre": "mg/L", "minutes": "minutes"}
    return f"{number}{units.NO_BREAK_SPACE}{words[kind]}" if kind in words else number


def parts_of(text):
    """The numbers of "3:2:1" or "50 : 30 : 20". Raises ValueError with a sentence."""
    parts = [part.strip() for part in str(text).split(":")]
    if not 1 < len(parts) <= MOST_PARTS or not all(parts):
        raise ValueError(f"Write two to {MOST_PARTS} numbers with colons between them, such as 3:2:1.")
    return [units.read_number(part) for part in parts]


MOST_PARTS = 8

FIBRE = Box("fibre", "Dry weight of fibre", "fibre", "100")
STRENGTH = Box("strength", "Strength of the bottle", "%", "1", "Grams of dye in 100 mL.")


def _dye(fibre, depth, strength):
    return [
        Found("Dye", dyeing.dye_g(fibre, depth), "g"),
        Found("Or stock solution", dyeing.stock_ml(fibre, depth, strength), "mL"),
    ]


def _depth(fibre, volume, strength):
    return [Found("Depth of shade", dyeing.depth_from_stock_pct(volume, strength, fibre), "%")]


def _additions(fibre, powder, volume, strength, volume2, strength2):
    depth = dyeing.depth_of_additions_pct(fibre, [powder], [(volume, strength), (volume2, strength2)])
    return [Found("Depth of shade", depth, "%")]


def _blend(fibre, depth, parts, strength):
    volumes = dyeing.blend_ml(fibre, depth, parts, [strength] * len(parts))
    numbered = zip(parts, volumes, strict=True)
    return [Found(f"For the part of {units.write_number(part)}", volume, "mL") for part, volume in numbered]


def _dyeable(depth, share):
    return [
        Found("Depth on the part that takes dye", dyeing.depth_on_dyeable_pct(depth, share), "%"),
        Found("To see this depth there, reckon", dyeing.depth_for_dyeable_pct(depth, share), "%"),
    ]


def _lot(dye, lot):
    return [Found("Of this lot", dyeing.at_lot_strength(dye, lot), "g")]


def _make(volume, strength):
    return [Found("Dye to weigh", dyeing.powder_for_stock_g(volume, strength), "g")]


def _true(dye, volume):
    return [Found("True strength", dyeing.strength_pct(dye, volume), "%")]


def _dilute(volume, strength, stronger):
    stock, water = dyeing.dilution_ml(stronger, strength, volume)
    return [Found("Stock solution", stock, "mL"), Found("Water", water, "mL")]


def _finest(fibre, depth, least):
    return [Found("No stronger than", dyeing.strength_to_dispense_pct(fibre, depth, least), "%")]


def _matched(matching):
    return [Found("Strength of the new lot", dyeing.matched_strength_pct(matching), "%")]


def _surely(step, most):
    weighed, drawn = precision.weighing_u(step), precision.reading_u(step)
    return [
        Found("Weighed on a scale of this step", units.exact(precision.smallest_amount(weighed, most)), "g"),
        Found("Drawn up in a syringe of this step", units.exact(precision.smallest_amount(drawn, most)), "mL"),
    ]


def _steps(least, most, steps):
    linear, geometric = (of(least, most, int(steps)) for of in (gradients.linear, gradients.geometric))
    return [
        *(Found(f"Step {place}, equal differences", depth, "%") for place, depth in enumerate(linear, 1)),
        *(Found(f"Step {place}, equal ratios", depth, "%") for place, depth in enumerate(geometric, 1)),
    ]


def _pulled(skein, least, most, steps):
    stages = gradients.pulled(gradients.linear(least, most, int(steps)), skein)
    return [Found(f"Dye before skein {stage.number} is taken out", stage.dye_g, "g") for stage in stages]


def _bath(fibre, ratio):
    return [Found("Bath", dyeing.bath_ml(fibre, ratio), "mL")]


def _ratio(fibre, bath):
    return [Found("Liquor ratio", dyeing.liquor_ratio(bath, fibre), "ratio")]


def _water(bath, stock, acid, held):
    return [Found("Water to pour", dyeing.water_to_pour_ml(bath, [stock, acid], held), "mL")]


def _litre(bath, per_litre):
    return [Found("To weigh", dyeing.per_litre(bath, per_litre), "g")]


def _left(dye, taken, bath):
    return [Found("Left in the bath", dyeing.dye_left_mg_per_l(dye, taken, bath), "mg_per_litre")]


SUMS = (
    (
        "Dye on the yarn",
        (
            Sum(
                "dye",
                "Dye for a depth of shade",
                "Dye = fibre × depth ÷ 100. Stock solution = fibre × depth ÷ strength.",
                (
                    Box("fibre", "Dry weight of fibre", "fibre", "115"),
                    Box("depth", "Depth of shade", "%", "0.5", "Grams of dye on 100 g of fibre."),
                    STRENGTH,
                ),
                _dye,
                BROADBENT,
                "Weigh the yarn dry: wet fibre weighs more and takes no more dye.",
            ),
            Sum(
                "depth",
                "Depth that went on",
                "Depth = stock solution × strength ÷ fibre.",
                (FIBRE, Box("volume", "Stock solution used", "mL", "37.5"), STRENGTH),
                _depth,
                BROADBENT,
                "This is the dye fed; what the fibre took of it is less where the bath is not clear.",
            ),
            Sum(
                "additions",
                "Depth of several additions",
                "Dye = powder + each stock solution × its strength ÷ 100. Depth = 100 × dye ÷ fibre.",
                (
                    Box("fibre", "Dry weight of fibre", "fibre", "120"),
                    Box("powder", "Powder", "g", "0.5"),
                    Box("volume", "First stock solution", "mL", "40"),
                    Box("strength", "Its strength", "%", "1"),
                    Box("volume2", "Second stock solution", "mL", "15"),
                    Box("strength2", "Its strength", "%", "0.1"),
                ),
                _additions,
                BROADBENT,
            ),
            Sum(
                "blend",
                "A colour of several dyes",
                "Each dye = fibre × depth × its part ÷ all parts ÷ strength.",
                (
                    FIBRE,
                    Box("depth", "Depth of all dyes together", "%", "1.5"),
                    Box("parts", "Parts", "parts", "50:30:20", "Dye by weight, with colons between, such as 3:2:1."),
                    Box("strength", "Strength of the bottles", "%", "1", "Grams of dye in 100 mL."),
                ),
                _blend,
                GILES,
                "Equal parts do not look equal: yellows, reds and blues differ in strength.",
            ),
            Sum(
                "dyeable",
                "When only part of the fibre takes the dye",
                "Depth on that part = 100 × depth ÷ its share. To see a depth there, reckon depth × share ÷ 100.",
                (
                    Box("depth", "Depth reckoned on all of it", "%", "1"),
                    Box("share", "Share that takes the dye", "%", "75", "Such as the wool of a wool with polyester."),
                ),
                _dyeable,
                PRACTICE,
                "Wool and nylon both take acid dyes, and not alike: no sum foretells how they share it.",
            ),
            Sum(
                "lot",
                "A stronger or weaker lot of powder",
                "Of this lot = 100 × dye at your standard strength ÷ strength of the lot.",
                (
                    Box("dye", "Dye at your standard strength", "g", "9"),
                    Box("lot", "Strength of the lot", "%", "85", "Against your standard strength, 100."),
                ),
                _lot,
                GILES,
            ),
            Sum(
                "matched",
                "How strong a new lot is, from small samples",
                "Strength = 100 × 100 ÷ percent of the new lot that matched the kept snippet.",
                (Box("matching", "The sample that matched", "%", "110", "Of the recipe's amount of this dye."),),
                _matched,
                PRACTICE,
                "It takes the new lot as 100 % strong for the samples. A hue that differs no amount can put right.",
            ),
            Sum(
                "surely",
                "The least that a tool measures well",
                "Least amount = 100 × step ÷ √6 ÷ percent on a scale, 100 × step ÷ √12 ÷ percent in a syringe.",
                (
                    Box("step", "Step of the scale or syringe", "step", "0.01", "The smallest it shows, in g or mL."),
                    Box("most", "May be off by", "%", "5", "As a standard uncertainty."),
                ),
                _surely,
                GUM,
                "A weighing is two readings, empty and full. How true the tool is comes on top.",
            ),
        ),
    ),
    (
        "Bottles",
        (
            Sum(
                "make",
                "Making up a stock solution",
                "Dye = volume × strength ÷ 100, dissolved in part of the water, then filled up to the volume.",
                (Box("volume", "How much to make", "mL", "500"), Box("strength", "Strength wanted", "%", "1")),
                _make,
                BROADBENT,
                "The powder is part of the volume: a bottle filled up is right, 500 mL of water poured on is not.",
            ),
            Sum(
                "true",
                "How strong it really is",
                "True strength = 100 × dye weighed ÷ volume.",
                (Box("dye", "Dye weighed", "g", "4.87"), Box("volume", "Made up to", "mL", "500")),
                _true,
                BROADBENT,
            ),
            Sum(
                "dilute",
                "A weaker bottle from a stronger one",
                "Stock solution = volume × strength wanted ÷ strength of the bottle; the rest is water.",
                (
                    Box("volume", "How much to make", "mL", "100"),
                    Box("strength", "Strength wanted", "%", "0.1"),
                    Box("stronger", "Strength of the bottle", "%", "1"),
                ),
                _dilute,
                BROADBENT,
            ),
            Sum(
                "finest",
                "How weak a bottle has to be",
                "Strength = fibre × depth ÷ the least volume that you can measure well.",
                (
                    FIBRE,
                    Box("depth", "Depth of shade", "%", "0.02"),
                    Box("least", "Least volume to measure", "mL", "10"),
                ),
                _finest,
                BROADBENT,
                "A pale colour from a strong bottle is a few drops, and a drop more is a different colour.",
            ),
        ),
    ),
    (
        "Steps of a colour",
        (
            Sum(
                "steps",
                "Depths from light to deep",
                "Equal differences: each as much deeper. Equal ratios: each as many times as deep.",
                (
                    Box("least", "Lightest depth", "%", "0.1"),
                    Box("most", "Deepest depth", "%", "1.6"),
                    Box("steps", "Steps", "count", "5"),
                ),
                _steps,
                SEQUENCE,
                "To the eye, equal ratios look more even at the pale end.",
            ),
            Sum(
                "pulled",
                "Skeins taken out of one pot in turn",
                "Dye before each = (its depth − the depth before) × weight of the skeins still in ÷ 100.",
                (
                    Box("skein", "One skein", "fibre", "20"),
                    Box("least", "First and lightest", "%", "0.25"),
                    Box("most", "Last and deepest", "%", "1"),
                    Box("steps", "Skeins", "count", "4"),
                ),
                _pulled,
                PRACTICE,
                "It holds where the bath is clear before each skein is taken out.",
            ),
        ),
    ),
    (
        "The bath",
        (
            Sum(
                "bath",
                "Bath for a liquor ratio",
                "Bath = fibre × liquor ratio.",
                (FIBRE, Box("ratio", "Liquor ratio", "ratio", "30", "Millilitres of bath to 1 g of fibre.")),
                _bath,
                BROADBENT,
            ),
            Sum(
                "ratio",
                "Liquor ratio of a bath",
                "Liquor ratio = bath ÷ fibre.",
                (Box("fibre", "Dry weight of fibre", "fibre", "230"), Box("bath", "Bath", "mL", "4600")),
                _ratio,
                BROADBENT,
            ),
            Sum(
                "water",
                "Water still to pour",
                "Water = bath − stock solutions − acid − water in the soaked yarn.",
                (
                    Box("bath", "Bath", "mL", "3000"),
                    Box("stock", "Stock solutions", "mL", "100"),
                    Box("acid", "Liquid acid", "mL", "30"),
                    Box("held", "Water in the soaked yarn", "mL", "120", "Its wet weight less its dry weight."),
                ),
                _water,
                PRACTICE,
            ),
            Sum(
                "litre",
                "Acid, salt and the like by the litre",
                "Amount = bath in litres × grams per litre.",
                (Box("bath", "Bath", "mL", "7000"), Box("per_litre", "For each litre", "per_litre", "1.5")),
                _litre,
                GILES,
                "What is given by the litre follows the water; what is given in percent follows the yarn.",
            ),
            Sum(
                "left",
                "Dye left in the bath",
                "Left = dye × what the fibre did not take ÷ bath.",
                (
                    Box("dye", "Dye that went in", "g", "1"),
                    Box("taken", "Taken up by the fibre", "%", "97"),
                    Box("bath", "Bath", "mL", "3000"),
                ),
                _left,
                BROADBENT,
            ),
        ),
    ),
)


def all_sums():
    """(heading, its sums) of every app that lists some, in the order of the apps."""
    return [group for module in our_modules("sums") for group in module.SUMS]
