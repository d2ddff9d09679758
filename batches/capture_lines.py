"""What a line of a log becomes: a line of a recipe, with what each pot had of it."""

from dataclasses import dataclass, field
from decimal import Decimal

from recipes.models import How, Ingredient, RecipeStep
from recipes.offers import own_in

from .capture_steps import read_one, shortened, worded

Kind = RecipeStep.Kind


@dataclass
class Part:
    """What one pot had of a line. `own`: of the substance itself, at the studio's standard strength, in `Line.unit`.

    `unknown`: the additions whose amount nobody knows; what `own` says is without them.
    """

    entries: list = field(default_factory=list)
    own: Decimal = Decimal(0)
    logged: Decimal = Decimal(0)  # in the lot's unit
    estimated: bool = False
    unknown: list = field(default_factory=list)
    temperature_c: Decimal | None = None
    minutes: Decimal | None = None

    @property
    def conditions(self):
        """How hot and how long."""
        return self.temperature_c, self.minutes


@dataclass
class Line:
    """One line of the recipe to be. `parts`: {batch key: Part} of the pots that have it.

    `made_of`: the columns of its ingredient but for the amount; None for a thing to do, whose `words` say what.
    """

    same: tuple
    kind: str
    words: str = ""
    made_of: dict | None = None
    lot: object = None
    unit: str = ""
    name: str = ""
    place: str = ""
    parts: dict = field(default_factory=dict)
    to_fix: bool = False
    belongs: bool = True  # whether what was done to put something right is of the recipe, unless somebody says
    by: set = field(default_factory=set)  # how amounts nobody weighed are known: "weigh-in", "measure"

    @property
    def key(self):
        """The same as long as the log is: for the fields of a form."""
        return self.first.pk.hex

    @property
    def first(self):
        return min((entry for part in self.parts.values() for entry in part.entries), key=lambda one: (one.at, one.pk))

    @property
    def goes_in(self):
        return self.made_of is not None

    def ingredient(self):
        """A new unsaved Ingredient without its amount."""
        return Ingredient(**self.made_of)

    @property
    def is_dye(self):
        return self.goes_in and (self.ingredient().dye_id is not None or brings_dye(self.ingredient()))

    @property
    def is_water(self):
        return self.goes_in and self.ingredient().water

    @property
    def is_assistant(self):
        return self.goes_in and self.ingredient().assistant_id is not None

    @property
    def painted(self):
        return self.goes_in and self.ingredient().how == How.PAINTED

    @property
    def unknown(self):
        """The additions of all pots whose amount nobody knows."""
        return [addition for part in self.parts.values() for addition in part.unknown]

    @property
    def estimated(self):
        return any(part.estimated for part in self.parts.values())

    def own_of(self, amount):
        """How much of the substance itself is in so much [g or mL] of what was poured or sprinkled."""
        if self.lot is None or self.painted:
            return amount
        return own_in(self.ingredient(), self.lot, amount)


def brings_dye(ingredient):
    """Whether a bottle has dye in it; of kept liquor nobody knows the parts, and it has."""
    if ingredient.solution is None:
        return False
    parts = list(ingredient.solution.parts.all())
    return not parts or any(part.dye_id for part in parts)


def to_do(entry, kind, temperature_c, minutes, words, same=None):
    """The step; where its words would read as something else, the step and then its words."""
    said = worded(kind, temperature_c, minutes, words)
    if said is None and kind != Kind.OTHER:
        plain = to_do(entry, kind, temperature_c, minutes, "")
        return plain + to_do(entry, Kind.OTHER, None, None, words, same=("beside", words.casefold()))
    if said is None:
        said = f"Do: {shortened(words)}"
        one = read_one(said)
        temperature_c, minutes = (one.temperature_c, one.minutes) if one else (None, None)
    part = Part([entry], temperature_c=temperature_c, minutes=minutes)
    same = same or (kind, said.casefold() if words else "")
    line = Line(("do", *same), kind, words=said, name=said or RecipeStep.Kind(kind).label)
    line.parts = {entry.batch_id: part}
    return [line]
