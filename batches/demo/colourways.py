"""The demo studio's colourways, and their recipes as its notebook has them."""

from dataclasses import dataclass
from decimal import Decimal

from recipes import writing
from recipes.models import Colourway
from studio.models import Base

D = Decimal

STORIES = {
    "Kiln Door": "A stove door left open: brick at the hinge, ochre where the light is.",
    "Ferry at Six": "The slate water, and the one warm window.",
    "Bramble Ink": "Stained fingers in September.",
    "Quince Ledger": "Yellow fruit on brown paper, each column a little different.",
    "Second Frost": "What is left of blue when the sun has been on it for an hour.",
    "Copper Pan": "The pan on the wall, and the patches nobody polishes.",
    "Night Bus": "The last one home, windows dark.",
    "Paper Lantern": "Gold, rose and ember with a little bare paper between.",
    "Orchard Wall": "Old brick with the sun gone off it.",
    "Straw Bale": "Field yellow, a gift from a garden.",
    "Cellar Steps": "Five steps down to the water, each one greener.",
    "Rhubarb Row": "Pink stalks, one leaf left on.",
    "Hedge Court": "Cut hornbeam, and the path that needs sweeping.",
    "Late Plums": "What the wasps left.",
}


@dataclass(frozen=True)
class Version:
    """One version in the notebook's words, and what its amounts are for."""

    text: str
    skeins: int
    fibre_g: int
    bases: tuple
    ratio: int | None = 20
    method: str = "pot"
    note: str = ""


KILN_DOOR = Version(
    """Soak 30 min at 40 °C
Water 20:1
2 % citric acid
240 mL brick 1 %, first third
180 mL ochre 1 %, second third
90 mL rust 1 %, where the two meet
120 mL plum 0.5 %, last third
Heat to 85 °C
Hold 40 min at 85 °C
Let cool
Rinse""",
    skeins=6,
    fibre_g=600,
    bases=("Tessel 4-ply",),
)
KILN_DOOR_AGAIN = Version(
    """Soak 30 min at 40 °C
Water 20:1
2 % citric acid
180 mL ochre 1 %, second third
90 mL rust 1 %, where the two meet
240 mL brick 1 %, first third
120 mL plum 0.5 %, last third
Heat to 85 °C
Hold 40 min at 85 °C
Let cool
Rinse""",
    skeins=6,
    fibre_g=600,
    bases=("Tessel 4-ply", "Wend DK"),
    note="Ochre first, the rust while it is wet, brick last: so the join stays clean.",
)
FERRY = Version(
    """Soak 30 min at 40 °C
Water 25:1
20 mL/L vinegar
180 mL slate 1 %
88 mL damson 1 %, one end
Heat to 82 °C
Hold 30 min at 82 °C
Rinse""",
    skeins=4,
    fibre_g=400,
    bases=("Wend DK", "Tessel 4-ply"),
    ratio=25,
)
SECOND_FROST = Version(
    """Soak 40 min at 35 °C
Water 30:1
1 % citric acid
90 mL slate 0.1 %
36 mL damson 0.1 %, one half
Heat to 80 °C
Hold 30 min at 80 °C
Let cool""",
    skeins=4,
    fibre_g=300,
    bases=("Tessel 4-ply", "Pell Lace"),
    ratio=30,
)
COPPER_PAN = Version(
    """Soak 30 min
Water 8:1
1.5 % citric acid
60 mL ochre 1 %, poured over half
80 mL rust 1 %, in spots
20 mL brick 1 %, into the gaps
Heat to 85 °C
Hold 30 min at 85 °C
Rinse""",
    skeins=2,
    fibre_g=200,
    bases=("Wend DK",),
    ratio=8,
    method="pan",
)
NIGHT_BUS = Version(
    """Soak 30 min at 40 °C
Water 20:1
4 % citric acid
420 mL night 1 %
160 mL soot 1 %
Heat to 90 °C
Hold 60 min at 90 °C
Let cool
Rinse""",
    skeins=4,
    fibre_g=400,
    bases=("Tessel 4-ply", "Harl Single"),
)
ORCHARD_WALL = Version(
    """Water 30:1
50 % madder root
Heat to 65 °C
Hold 90 min at 65 °C
Let cool
Rinse""",
    skeins=4,
    fibre_g=400,
    bases=("Corm Aran",),
    ratio=30,
    note="On alumed wool. Never over 70 °C, or it goes brown.",
)
PAPER_LANTERN = Version(
    """Soak 60 min with a little wetting agent
30 mL Lantern gold per skein painted, one third
30 mL Lantern rose per skein painted, the next
25 mL Lantern ember per skein painted, in between
Hold 45 min at 98 °C
Let cool
Rinse""",
    skeins=6,
    fibre_g=600,
    bases=("Tessel 4-ply",),
    ratio=None,
    method="painted",
    note="A hand's width of bare yarn at each end.",
)
RHUBARB_ROW = Version(
    """Soak 30 min at 40 °C
Water 20:1
1.5 % citric acid
120 mL radish 1 %
40 mL hedge 1 %, the foot of the skein
Heat to 82 °C
Hold 30 min at 82 °C
Rinse""",
    skeins=3,
    fibre_g=300,
    bases=("Kerf Sport",),
)
HEDGE_COURT = Version(
    """Soak 30 min at 40 °C
Water 20:1
2 % citric acid
200 mL hedge 1 %
50 mL bark 1 %, in three places
Heat to 85 °C
Hold 40 min at 85 °C
Rinse""",
    skeins=4,
    fibre_g=400,
    bases=("Harl Single", "Wend DK"),
)


def name_it(name, *, by, now):
    """A colourway, when somebody first calls it so."""
    return Colourway.objects.create(name=name, story=STORIES[name], made_at=now, by=by)


def write_down(name, said, *, by, now, made_from=None):
    """The next version of a colourway in these words, pinned as its standard; the colourway too, if it is new.

    Raises ValueError with the sentences of what could not be read.
    """
    way = Colourway.objects.filter(name=name).first() or name_it(name, by=by, now=now)
    facts = writing.Facts(
        method=said.method,
        skeins=said.skeins,
        fibre_g=D(said.fibre_g),
        pots=1,
        liquor_ratio=None if said.ratio is None else D(said.ratio),
    )
    written = writing.understand(said.text, facts, writing.Shelf.read())
    if written.problems:
        raise ValueError(" ".join(problem.sentence for problem in written.problems))
    columns = ("method", "scales", "skeins", "fibre_g", "pots", "liquor_ratio")
    columns = {column: getattr(written.facts, column) for column in columns}
    version = way.next_version(by=by, now=now, made_from=made_from, note=said.note, **columns)
    version.bases.set(Base.objects.filter(name__in=said.bases))
    version.write(written.steps)
    way.pin(version)
    return version
