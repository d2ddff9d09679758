"""A plan as planning hands it over: pots with their lines, totals by lot, and what is short. Nothing is stored here."""

from dataclasses import dataclass, field
from decimal import Decimal

from .meaning import dyes_of_mix, segments, together
from .models import Hold
from .offers import Offer


@dataclass(frozen=True)
class Load:
    """What goes into one pot, jar or table set."""

    fibre_g: Decimal  # dry
    skeins: int | None = None  # None: reckoned from the weight of the notebook's skeins
    vessel: object = None  # studio.Vessel
    fill_ml: Decimal | None = None  # the most this pot may hold; None: the vessel's usual fill
    bases: tuple = ()  # studio.Base, with `fibres` prefetched: for the share that takes the dye
    base_g: dict = field(default_factory=dict)  # {base pk: g of it}; empty: `bases` share the weight equally
    label: str = ""  # what sets this pot apart from the others: "110 % of the red"
    number: int | None = None  # what the pot is called; None: as it comes, from 1
    day: int | None = None  # on the how manieth day, where the work takes several: numbers begin anew on each
    dye_factors: dict = field(default_factory=dict)  # {dye pk: times what the recipe says}; others 1
    dye_words: dict = field(default_factory=dict)  # {dye pk: how its factor is said: "110 % of"}; others as it comes to
    sample: bool = False  # a small one: what is said for each pot or in all is taken by weight

    def factor(self, ingredient):
        """Times what the recipe says of this ingredient goes in here; 0: it is left out.

        Raises ValueError for a bottle of several dyes that are not all to be multiplied alike.
        """
        if ingredient.dye_id or not ingredient.solution_id or not self.dye_factors:
            return self.dye_factors.get(ingredient.dye_id, 1)
        factors = {self.dye_factors.get(dye.pk, 1) for dye in dyes_of_mix(ingredient.solution)} or {1}
        if len(factors) > 1:
            raise ValueError(
                f"{ingredient.solution} holds several dyes in one bottle, so one of them can't be changed by itself: "
                "write a version with a line for each dye."
            )
        return factors.pop()

    def of_bases(self):
        """[(Base, g of it)]; None in place of a base for yarn that nobody knows the base of."""
        if not self.base_g:
            each = self.fibre_g / len(self.bases or (None,))
            return [(base, each) for base in self.bases or (None,)]
        known = [(base, self.base_g[base.pk]) for base in self.bases]
        rest = self.fibre_g - sum(grams for _, grams in known)
        return known + ([(None, rest)] if rest > 0 else [])


@dataclass(frozen=True)
class Wishes:
    """What a person wants of a plan beyond its loads and its lots."""

    hold: str = Hold.TOTAL
    scales: str = ""  # a `Recipe.Scales`; empty: as the version says
    weigh_once: frozenset = frozenset()  # ingredient pks, each weighed once for all pots, then dissolved and shared out
    rest: dict = field(default_factory=dict)  # {ingredient pk: lot pk}, from which to take what the first one lacks


# What a plan's row has of a line by the same name.
KEPT = ("step", "words", "water", "lot", "exact", "told", "unit", "dye_g", "basis", "how", "place", "pour_ml")
KEPT += ("temperature_c", "minutes", "estimated")


@dataclass(frozen=True)
class Line:
    """One substance, or one thing to do, of a pot. `facts()` are the fields of a plan's row."""

    position: int
    step: str
    words: str = ""
    ingredient: object = None
    substance: object = None  # Dye, Assistant or Solution; None for water and for a thing to do
    water: bool = False
    lot: object = None
    exact: Decimal | None = None  # in `unit`, of the lot; None: by eye
    told: Decimal | None = None
    unit: str = ""
    dyes: tuple = ()  # pairs of a Dye and its g in the exact amount, at the studio's standard strength; None: by eye
    basis: str = ""  # "0.3 % owf"
    how: str = ""
    place: str = ""
    temperature_c: Decimal | None = None
    minutes: Decimal | None = None
    problem: str = ""  # a sentence: it can't be measured so, or not be reckoned
    note: str = ""  # a sentence: dilute first, how well it repeats
    weaker_pct: Decimal | None = None  # of a bottle still to be made, of which it could be measured
    pour_ml: Decimal | None = None  # where it was weighed once for all pots: how much of that goes in here
    estimated: bool = False  # the recipe has it only by estimate
    of_bath: tuple | None = None  # of water that bottles add to: (exact, told) of the whole bath

    @property
    def dye_g(self):
        """Dye in the exact amount, at the studio's standard strength; None where it has none or nobody knows."""
        known = [grams for _, grams in self.dyes if grams is not None]
        return sum(known, Decimal(0)) if known else None

    def facts(self):
        """The fields of a PlanLine, but for its batch."""
        column = self.substance._meta.model_name if self.substance is not None else None
        facts = {} if column is None else {column: self.substance}
        facts |= {name: getattr(self, name) for name in KEPT}
        return facts | {"note": " ".join(sentence for sentence in (self.problem, self.note) if sentence)}


@dataclass(frozen=True)
class PotPlan:
    number: int
    load: Load
    water_ml: Decimal | None  # the dye bath; None: not known
    ratio: Decimal | None  # mL of bath to 1 g of fibre, as it will be
    lines: list[Line]
    dye_g: Decimal  # dye whose amount is known, at standard strength

    @property
    def depth_pct(self):
        return 100 * self.dye_g / self.load.fibre_g

    @property
    def dyes(self):
        """[(Dye, g of it or None)] of all its lines."""
        return [pair for line in self.lines for pair in line.dyes]

    def segments(self):
        """Its colour bar, one segment for each dye in the order in which they go in."""
        return segments(together(self.dyes).items(), self.estimated_dyes)

    @property
    def estimated_dyes(self):
        """The dyes of which some goes in by the recipe's estimate, as a set."""
        return {dye for line in self.lines if line.estimated for dye, _ in line.dyes}


@dataclass(frozen=True)
class LotTotal:
    """What all pots together take of one lot, in the lot's unit."""

    lot: object
    substance: object
    unit: str
    exact: Decimal
    told: Decimal
    free: Decimal

    @property
    def past(self):
        """Whether it is past its use-by date."""
        return self.lot.is_past()

    @property
    def short(self):
        return max(Decimal(0), self.told - self.free)


@dataclass(frozen=True)
class Weigh:
    """What goes into one bottle of one lot. Of one that is still to be bought `lot` is None, and its strength 100 %."""

    substance: object
    lot: object
    amount: Decimal  # in `unit`, as strong as the lot is
    told: Decimal  # as a tool of the studio reads it
    unit: str
    sure: bool = True  # whether that tool repeats it within the studio's limit


@dataclass(frozen=True)
class Making:
    """One bottle of the mixing list; or what is thinned or dissolved beside the pot and kept in none."""

    name: str  # "Ochre, 1 %"
    volume: Decimal  # in `unit`
    unit: str  # mL, or g of a dry mix
    need: Decimal  # what the pots take of it
    parts: tuple
    strength_pct: Decimal | None = None  # of one substance; None: a mix
    master: object = None  # studio.Solution; None: nobody described one yet
    substance: object = None
    ingredients: tuple = ()  # pks of the lines that take from it
    how: str = "make"  # "thin", "dissolve"
    why: str = ""  # "past its date", where it may be made
    each: tuple = ()  # mL for each pot, where it is made for a whole run

    @property
    def water_ml(self):
        """Water to a thinned bottle's share."""
        return self.volume - self.parts[0].told


@dataclass(frozen=True)
class Once:
    """A powder of several pots that could be weighed once, dissolved and shared out."""

    ingredient: object
    substance: object
    lot: object
    exact: Decimal  # g for all pots
    told: Decimal  # as a scale of the studio reads it
    volume_ml: Decimal
    pots: dict  # {(place of the pot, from 0; position of the line): (g, mL)}
    chosen: bool = False  # somebody wants it so
    surer: bool = False  # some pot's own amount can't be weighed again, all of it together can

    @property
    def among(self):
        """ "6 pots"; "4 additions" where some go into one pot after another."""
        pots = {place for place, _ in self.pots}
        return f"{len(pots)} pots" if len(pots) == len(self.pots) else f"{len(self.pots)} additions"

    @property
    def pours(self):
        """What a pot is poured, each amount once, the largest first."""
        return sorted({pour for _, pour in self.pots.values()}, reverse=True)

    @property
    def least_g(self):
        return min(grams for grams, _ in self.pots.values())


@dataclass(frozen=True)
class Shortage:
    """Something that is not there, not enough of it, or too old."""

    sentence: str
    substance: object
    lot: object = None  # None: there is no lot of it at all
    short: Decimal = Decimal(0)  # 0: there is enough, but past its date
    unit: str = ""
    ingredient: object = None  # of a line that takes it
    rest: Offer | None = None  # of another lot that has what is short
    make: str = ""  # "To make 250 mL of 1 %, weigh 2.5 g of powder and bring it to 250 mL with water."
    making: Making | None = None


@dataclass(frozen=True)
class Plan:
    recipe: object
    pots: list[PotPlan]
    totals: list[LotTotal]
    shortages: list[Shortage]
    warnings: list[str]
    moved: object = None  # `moving.Moved`: how the version goes onto this yarn
    # By ingredient pk; the one taken stands first, without a lot where none is fit.
    choices: dict[int, list[Offer]] = field(default_factory=dict)
    mixing: list[Making] = field(default_factory=list)  # what is to be made up first
    once: list[Once] = field(default_factory=list)  # powders that could be weighed once for several pots
    stock: list[Making] = field(default_factory=list)  # what all its pots take of a bottle, if it is made at once
    wishes: Wishes = Wishes()

    @property
    def fibre_g(self):
        return sum((pot.load.fibre_g for pot in self.pots), Decimal(0))

    @property
    def dye_g(self):
        return sum((pot.dye_g for pot in self.pots), Decimal(0))

    def segments(self):
        """The colour bar of all pots together, one segment for each dye."""
        dyes = (pair for pot in self.pots for pair in pot.dyes)
        return segments(together(dyes).items(), self.estimated_dyes)

    @property
    def estimated_dyes(self):
        return set().union(*(pot.estimated_dyes for pot in self.pots))
