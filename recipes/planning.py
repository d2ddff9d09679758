"""A recipe, yarn, pots and what is on the shelf -> every amount, exact and as told to the hands; and what is short.

Nothing is written here. `lots_for` reads the shelf in a fixed number of queries; `plan` only reckons.
"""

from dataclasses import dataclass, field, replace
from decimal import ROUND_HALF_UP, Decimal

from django.db.models import prefetch_related_objects
from django.utils import timezone

from studio.models import Tool
from studio.units import NO_BREAK_SPACE, write_g, write_ml, write_number

from . import dyeing, precision
from .meaning import basis_words, dyes_of_mix, own_amount, own_unit, painted, segments
from .models import Basis, RecipeStep
from .offers import (
    SAME_STRENGTH,
    Offer,
    best_offer,
    dyes_in,
    from_bottle,
    ingredients_of,
    lots_for,
    wanted_strength,
    with_steps,
    written,
)

__all__ = ["Line", "Load", "LotTotal", "Offer", "Plan", "PotPlan", "Shortage", "lots_for", "plan", "with_steps"]

THOUSANDTH = Decimal("0.001")
REPEATS_PCT = 10  # dye measured less surely than this is said
LEAST_BROUGHT_PCT = 2  # of the bath: what bottles bring below it is not worth a word
LEAST_ML = 10  # what a weaker bottle is chosen for: enough to read in any syringe
STRENGTHS = [Decimal(each) for each in ("5", "2", "1", "0.5", "0.2", "0.1", "0.05", "0.02", "0.01")]
BOTTLES_ML = [Decimal(each) for each in (50, 100, 250, 500, 1000, 2000, 5000)]
OWN_BATH = (
    RecipeStep.Kind.SOAK,
    RecipeStep.Kind.SCOUR,
    RecipeStep.Kind.MORDANT,
    RecipeStep.Kind.RINSE,
    RecipeStep.Kind.WASH,
)


@dataclass(frozen=True)
class Load:
    """What goes into one pot, jar or table set."""

    fibre_g: Decimal  # dry
    skeins: int | None = None  # None: reckoned from the weight of the notebook's skeins
    vessel: object = None  # studio.Vessel
    fill_ml: Decimal | None = None  # the most this pot may hold; None: the vessel's usual fill
    bases: tuple = ()  # studio.Base, with `fibres` prefetched: for the share that takes the dye


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

    @property
    def dye_g(self):
        """Dye in the exact amount, at the studio's standard strength; None where it has none or nobody knows."""
        known = [grams for _, grams in self.dyes if grams is not None]
        return sum(known, Decimal(0)) if known else None

    def facts(self):
        """The fields of a PlanLine, but for its batch."""
        column = self.substance._meta.model_name if self.substance is not None else None
        facts = {} if column is None else {column: self.substance}
        for name in ("step", "words", "water", "lot", "exact", "told", "unit", "dye_g", "basis", "how", "place"):
            facts[name] = getattr(self, name)
        return facts | {"temperature_c": self.temperature_c, "minutes": self.minutes}


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
    def short(self):
        return max(Decimal(0), self.told - self.free)


@dataclass(frozen=True)
class Shortage:
    """Something that is not there, or not enough of it."""

    sentence: str
    substance: object
    lot: object = None  # None: there is no lot of it at all
    short: Decimal = Decimal(0)
    unit: str = ""
    make: str = ""  # "To make 250 mL of 1 %, weigh 2.5 g of powder and bring it to 250 mL with water."
    make_ml: Decimal | None = None
    make_pct: Decimal | None = None
    make_g: Decimal | None = None


@dataclass(frozen=True)
class Plan:
    recipe: object
    pots: list[PotPlan]
    totals: list[LotTotal]
    shortages: list[Shortage]
    warnings: list[str]
    # By ingredient pk; the one taken stands first, without a lot where none is fit.
    choices: dict[int, list[Offer]] = field(default_factory=dict)

    @property
    def fibre_g(self):
        return sum((pot.load.fibre_g for pot in self.pots), Decimal(0))

    @property
    def dye_g(self):
        return sum((pot.dye_g for pot in self.pots), Decimal(0))

    def segments(self):
        """The colour bar of all pots together, one segment for each dye."""
        found = {}
        for pot in self.pots:
            for line in pot.lines:
                for dye, grams in line.dyes:
                    known = found.get(dye)
                    found[dye] = grams if dye not in found or None in (known, grams) else known + grams
        return segments(found.items())


def plan(recipe, loads, lots, tools, studio, chosen=None):
    """The `Plan` of a recipe for these loads.

    `lots`: what `lots_for` gave. `tools`: the scales, syringes and cylinders. `studio`: in whose units water is said;
    what is weighed or drawn up is said as the tools show it. `chosen`: {ingredient pk: lot pk} where a person chose
    the lot. Raises ValueError with a sentence where nothing can be reckoned: no load, a load without weight, a version
    without amounts.
    """
    loads = list(loads)
    _check(recipe, loads)
    work = _Working(with_steps(recipe), loads, lots, list(tools), studio, chosen or {})
    pots = [work.pot(number, load) for number, load in enumerate(loads, 1)]
    totals = work.totals(pots)
    return Plan(
        recipe,
        pots,
        totals,
        work.shortages(pots, totals),
        work.warnings + _dyeable_warnings(recipe, loads),
        work.choices,
    )


def _check(recipe, loads):
    if not loads:
        raise ValueError("There is no pot yet: choose at least one, and how much yarn goes in.")
    if any(load.fibre_g is None or load.fibre_g <= 0 for load in loads):
        raise ValueError("A pot has no yarn in it: write its weight in g or its skeins, or leave the pot out.")
    if not any(step.ingredients.all() for step in recipe.steps.all()):
        raise ValueError("This version has no amounts yet: write it first.")


class _Working:
    """One plan being worked out."""

    def __init__(self, recipe, loads, lots, tools, studio, chosen):
        self.recipe, self.loads, self.tools, self.studio = recipe, loads, tools, studio
        self.warnings = []
        self.fibre_g = sum(load.fibre_g for load in loads)
        self.baths = [self.bath(number, load) for number, load in enumerate(loads, 1)]
        self.own = {each.pk: self.own_by_pot(each) for each in ingredients_of(recipe)}
        self.choices = self.choose(lots, chosen)

    # --- the bath

    def bath(self, number, load):
        """Water (mL) of the dye bath of one pot, no more than the pot takes."""
        wanted = self.wanted_ml(load, self.dye_bath_water())
        limit = _limit_ml(load)
        if wanted is None:
            return limit
        if limit is None or wanted <= limit:
            return wanted
        name = load.vessel.name if load.vessel is not None else f"Pot {number}"
        self.warnings.append(
            f"{name} takes {write_ml(limit, self.studio.system)}: pot {number} has {_ratio(limit, load)}, "
            f"not {_ratio(wanted, load)}. "
            "What is said for each litre follows the bath; the dye does not change."
        )
        return limit

    def dye_bath_water(self):
        for step in self.recipe.steps.all():
            for each in step.ingredients.all():
                if each.water and step.kind not in OWN_BATH and each.amount is not None:
                    return each
        return None

    def wanted_ml(self, load, water):
        if water is not None:
            return own_amount(water, **self.of(load), bath_ml=None)
        ratio = self.recipe.liquor_ratio
        return None if ratio is None else dyeing.bath_ml(load.fibre_g, ratio)

    def of(self, load):
        return {"fibre_g": load.fibre_g, "skeins": self.skeins(load), "share": load.fibre_g / self.fibre_g}

    def skeins(self, load):
        if load.skeins is not None:
            return load.skeins
        return load.fibre_g * self.recipe.skeins / self.recipe.fibre_g

    def bath_for(self, ingredient, place):
        """The bath that a line's "for each litre" means: its own step's water, else the dye bath."""
        step = ingredient.step
        if step.kind in OWN_BATH:
            for each in step.ingredients.all():
                if each.water and each.amount is not None:
                    return _capped(own_amount(each, **self.of(self.loads[place]), bath_ml=None), self.loads[place])
        return self.baths[place]

    # --- amounts

    def own_by_pot(self, ingredient):
        """Of the substance itself, for each pot; the parts of what is for all add up to it exactly."""
        amounts = [
            own_amount(ingredient, **self.of(load), bath_ml=self.bath_for(ingredient, place))
            for place, load in enumerate(self.loads)
        ]
        if ingredient.basis == Basis.FIXED and None not in amounts:
            amounts[-1] += own_amount(ingredient, fibre_g=1, skeins=1, bath_ml=None) - sum(amounts)
        return amounts

    def choose(self, lots, chosen):
        """{ingredient pk: [Offer]} with the one to take first; `NO_LOT` first where none is fit."""
        left, found, taken = {}, {}, {}
        for ingredient in ingredients_of(self.recipe):
            offers = lots.get(ingredient.pk, [])
            need = sum(own for own in self.own[ingredient.pk] if own is not None)
            mine = next((offer for offer in offers if offer.lot.pk == chosen.get(ingredient.pk)), None)
            alike = (ingredient.dye_id, ingredient.assistant_id, ingredient.solution_id, ingredient.strength_pct)
            best = mine or taken.get(alike) or best_offer(ingredient, offers, need + self.alike_need(ingredient), left)
            if best is not None:
                taken[alike] = best
                left[best.lot.pk] = left.get(best.lot.pk, best.free) - best.amount_of(need)
                best = next(offer for offer in offers if offer.lot.pk == best.lot.pk)
            found[ingredient.pk] = [best or NO_LOT, *(offer for offer in offers if offer is not best)]
        return found

    def alike_need(self, ingredient):
        """What the other lines want of the same substance at the same strength: one lot is taken for all of them."""
        return sum(
            own
            for other in ingredients_of(self.recipe)
            if other.pk != ingredient.pk
            and (other.dye_id, other.assistant_id, other.solution_id, other.strength_pct)
            == (ingredient.dye_id, ingredient.assistant_id, ingredient.solution_id, ingredient.strength_pct)
            and not other.water
            for own in self.own[other.pk]
            if own is not None
        )

    def pot(self, number, load):
        lines = []
        for step in self.recipe.steps.all():
            if step.kind != RecipeStep.Kind.ADD or step.words or not step.ingredients.all():
                lines.append(
                    Line(0, step.kind, step.words.rstrip(":"), temperature_c=step.temperature_c, minutes=step.minutes)
                )
                said = {}
            else:
                said = {"temperature_c": step.temperature_c, "minutes": step.minutes}
            for ingredient in step.ingredients.all():
                line = self.water(ingredient, load) if ingredient.water else self.line(ingredient, number - 1)
                lines.append(replace(line, step=step.kind, **said))
        water_ml = self.baths[number - 1]
        lines = [replace(line, position=place) for place, line in enumerate(self.to_pour(lines, water_ml), 1)]
        dye_g = sum((line.dye_g for line in lines if line.dye_g is not None), Decimal(0))
        ratio = None if water_ml is None else dyeing.liquor_ratio(water_ml, load.fibre_g)
        return PotPlan(number, load, water_ml, ratio, lines, dye_g)

    def to_pour(self, lines, water_ml):
        """The lines, with the first water of the dye bath saying how much is to pour where the bottles bring some."""
        first = next((line for line in lines if line.water and line.step not in OWN_BATH and line.told), None)
        in_bath = [
            line for line in lines if line.lot is not None and line.exact is not None and line.step not in OWN_BATH
        ]
        bring = [line.exact for line in in_bath if line.unit == "mL" and not painted(line.ingredient)]
        if first is None or sum(bring) * 100 < water_ml * LEAST_BROUGHT_PCT:
            return lines
        try:
            pour = dyeing.water_to_pour_ml(water_ml, bring)
        except ValueError as why:
            return [replace(line, problem=str(why)) if line is first else line for line in lines]
        said = f"This is the whole bath: pour {write_ml(_rounded(pour, Decimal(10)), self.studio.system)}, the bottles"
        return [replace(line, note=f"{said} bring the rest.") if line is first else line for line in lines]

    def water(self, ingredient, load):
        exact = own_amount(ingredient, **self.of(load), bath_ml=None)
        exact = _capped(exact, load)
        line = Line(
            0,
            "",
            ingredient=ingredient,
            water=True,
            exact=exact,
            unit="mL",
            basis=basis_words(ingredient),
            how=ingredient.how,
            place=ingredient.place,
        )
        if exact is None:
            return line
        step = Decimal(100) if exact >= 1000 else Decimal(10)  # as a jug is marked; common practice, no source
        return replace(line, told=_capped(max(step, _rounded(exact, step)), load) if exact >= step else exact)

    def line(self, ingredient, place):
        own, offer = self.own[ingredient.pk][place], self.choices[ingredient.pk][0]
        lot = offer.lot
        line = Line(
            0,
            "",
            ingredient=ingredient,
            substance=ingredient.substance,
            lot=lot,
            unit=_unit(ingredient, lot),
            basis=basis_words(ingredient),
            how=ingredient.how,
            place=ingredient.place,
            dyes=_dyes(ingredient, lot, None),
        )
        if own is None:
            unknown_bath = ingredient.amount is not None
            return replace(line, problem=BATH_UNKNOWN if unknown_bath else "")
        exact, note, problem = _to_measure(ingredient, own, offer)
        if lot is not None and lot.use_by_now is not None and lot.use_by_now < timezone.localdate():
            note = f"{note} Its use-by date has passed: test it first.".strip()
        line = replace(line, exact=exact, note=note, problem=problem, dyes=_dyes(ingredient, lot, exact, own))
        return self.told(line)

    def told(self, line):
        """As the tool at hand can measure it; never silently nothing."""
        step = Tool.step_for(line.exact, line.unit, self.tools)
        told = _rounded(line.exact, step)
        weaker = _weaker_bottle(line)
        if not told:
            what = "weigh" if line.unit == "g" else "measure"
            steps = f"on a {write_g(step)} scale" if line.unit == "g" else f"in steps of {write_ml(step)}"
            said = (
                f"Too little to {what}: {written(line.exact, line.unit)} {steps}{f'; use {weaker}' if weaker else ''}."
            )
            told = max(THOUSANDTH, _rounded(line.exact, THOUSANDTH))
            return replace(line, told=told, problem=line.problem or said)
        u = precision.weighing_u(step) if line.unit == "g" else precision.reading_u(step)
        off = precision.relative_pct(u, line.exact)
        if line.dye_g is not None and off > REPEATS_PCT and not line.note:
            surer = f"; {weaker} would be surer" if weaker else ""
            return replace(line, told=told, note=f"Repeats to \u00b1 {off:.0f}{NO_BREAK_SPACE}% with this tool{surer}.")
        return replace(line, told=told)

    # --- all pots together

    def totals(self, pots):
        found = {}
        for line in _measured(pots):
            if line.lot is not None:
                found.setdefault(line.lot.pk, []).append(line)
        return [self.total(lines) for lines in found.values()]

    def total(self, lines):
        lot, free = lines[0].lot, self.choices[lines[0].ingredient.pk][0].free
        exact, told = (sum(getattr(line, name) for line in lines) for name in ("exact", "told"))
        return LotTotal(lot, lines[0].substance, lines[0].unit, exact, told, free)

    def shortages(self, pots, totals):
        missing = {}
        for line in _measured(pots):
            if line.lot is None and line.substance is not None:
                missing.setdefault((line.substance, line.ingredient.strength_pct), []).append(line)
        short = [self.missing(lines) for lines in missing.values()]
        by_lot = {line.lot.pk: line for line in _measured(pots) if line.lot is not None}
        return short + [self.short(total, by_lot[total.lot.pk]) for total in totals if total.short > 0]

    def missing(self, lines):
        line, need = lines[0], sum(each.told for each in lines)
        name = _name(line.ingredient, None)
        there = len(self.choices[line.ingredient.pk]) > 1
        none = (
            f"There is no bottle of {name}" if line.unit == "mL" and line.ingredient.dye_id else f"There is no {name}"
        )
        sentence = f"{none}, and {written(need, line.unit)} is needed."
        if there and not line.ingredient.dye_id:
            sentence += " Choose another lot."
        return Shortage(sentence, line.substance, None, need, line.unit, **self.make(line, need))

    def short(self, total, line):
        name = _name(line.ingredient, total.lot)
        sentence = (
            f"{name} is {written(total.short, total.unit)} short: {written(total.told, total.unit)} is needed and "
            f"{written(max(total.free, Decimal(0)), total.unit)} is free."
        )
        return Shortage(sentence, total.substance, total.lot, total.short, total.unit, **self.make(line, total.told))

    def make(self, line, need):
        """How a bottle that is short would be made up: {make, make_ml, make_pct, make_g}."""
        if line.unit != "mL" or (line.lot is not None and not line.lot.solution_id):
            return {}
        volume = next((each for each in BOTTLES_ML if each >= need), need)
        if line.ingredient.solution_id:
            parts = line.ingredient.solution.parts.all()
            weigh = [f"{write_g(part.g_per_100 * volume / 100)} of {part.dye or part.assistant}" for part in parts]
            if not weigh:
                return {}
            words = (
                f"To make {write_ml(volume)}, take {', '.join(weigh)} and bring it to {write_ml(volume)} with water."
            )
            return {"make": words, "make_ml": volume}
        strength = line.ingredient.strength_pct or _strength_of(line)
        powder = [offer for offer in self.choices[line.ingredient.pk] if offer.lot and not offer.lot.solution_id]
        grams = dyeing.powder_for_stock_g(volume, strength)
        if powder:
            grams = powder[0].amount_of(grams)
        have = f" You have {write_g(sum(offer.free for offer in powder))}." if powder else " There is no powder of it."
        words = (
            f"To make {write_ml(volume)} of {_percent(strength)}, weigh {write_g(grams)} of powder and bring it to "
            f"{write_ml(volume)} with water.{have}"
        )
        return {"make": words, "make_ml": volume, "make_pct": strength, "make_g": grams}


NO_LOT = Offer(None, Decimal(0), Decimal(1), "one still to be made or bought")
BATH_UNKNOWN = "The bath is not known: write water 20:1 into the recipe, or choose a pot."


def _ratio(water_ml, load):
    return f"{write_number(dyeing.liquor_ratio(water_ml, load.fibre_g), digits=3)}:1"


def _limit_ml(load):
    """The most water that this pot takes (mL), or None."""
    if load.fill_ml is not None:
        return load.fill_ml
    return None if load.vessel is None else load.vessel.fill_ml or load.vessel.volume_ml


def _capped(amount, load):
    limit = _limit_ml(load)
    return amount if amount is None or limit is None else min(amount, limit)


def _rounded(amount, step):
    return (amount / step).quantize(Decimal(1), ROUND_HALF_UP) * step


def _measured(pots):
    return [line for pot in pots for line in pot.lines if line.exact is not None and not line.water]


def _unit(ingredient, lot):
    if lot is not None:
        return lot.unit
    return "mL" if from_bottle(ingredient) and ingredient.strength_pct else own_unit(ingredient)


def _to_measure(ingredient, own, offer):
    """(exact amount in the lot's unit, note, problem) for `own` of a substance."""
    if ingredient.solution_id or ingredient.strength_pct is None or not painted(ingredient):
        if offer.lot is not None:
            return offer.amount_of(own), "", ""
        in_ml = _unit(ingredient, None) == "mL" and ingredient.strength_pct and not ingredient.solution_id
        return (own / wanted_strength(ingredient) if in_ml else own), "", ""
    volume = own / wanted_strength(ingredient)
    if offer.lot is None:
        return volume, "", ""
    amount = offer.amount_of(own)
    if not offer.lot.solution_id:
        said = f"Dissolve first: bring it to {write_ml(volume)} with water for {_percent(ingredient.strength_pct)}."
        return amount, said, ""
    apart = offer.per_unit / wanted_strength(ingredient) - 1
    if abs(apart) <= SAME_STRENGTH:
        return volume, "", ""
    if apart > 0:
        return (
            amount,
            f"Dilute first: bring it to {write_ml(volume)} with water for {_percent(ingredient.strength_pct)}.",
            "",
        )
    weak = (
        f"This bottle is {_percent(offer.per_unit * 100)}, weaker than the {_percent(ingredient.strength_pct)} wanted"
    )
    return volume, "", f"{weak}: make a stronger one, or expect a paler colour."


def _percent(number):
    return f"{write_number(number, digits=3)}{NO_BREAK_SPACE}%"


def _dyes(ingredient, lot, exact, own=None):
    """Pairs of a dye and its g in an exact amount of a lot; the g are None where the amount is by eye."""
    if lot is not None:
        return tuple((dye, None if exact is None else round(exact * grams, 9)) for dye, grams in dyes_in(lot).items())
    if ingredient.dye_id:
        return ((ingredient.dye, own),)
    if ingredient.solution_id:
        parts = dyes_of_mix(ingredient.solution)
        return tuple((dye, None if own is None else own * grams) for dye, grams in parts.items())
    return ()


def _weaker_bottle(line):
    """ "a 0.1 % bottle": the strongest usual one of which this dye would be enough to measure; "" where none is."""
    if not line.ingredient.dye_id or not line.dye_g:
        return ""
    most = line.dye_g * 100 / LEAST_ML
    now = _strength_of(line) if line.unit == "mL" else Decimal(100)
    strength = next((each for each in STRENGTHS if each <= most and each < now), None)
    return f"a {write_number(strength)}{NO_BREAK_SPACE}% bottle" if strength else ""


def _strength_of(line):
    """The strength of a line's bottle (%), from its dye and its volume."""
    return line.dye_g * 100 / line.exact if line.dye_g and line.exact else line.ingredient.strength_pct or Decimal(1)


def _name(ingredient, lot):
    """ "Ochre, 1 %" for a bottle of one dye; else the substance's name."""
    name = str(ingredient.substance)
    if ingredient.strength_pct is not None and (lot is None or lot.solution_id):
        return f"{name}, {_percent(ingredient.strength_pct)}"
    return name


def _dyeable_warnings(recipe, loads):
    """What part of each base takes each class of dye, where that is not all of it."""
    bases = list({base.pk: base for load in loads for base in load.bases}.values())
    prefetch_related_objects(bases, "fibres")
    classes = {}
    for ingredient in ingredients_of(recipe):
        mixed = dyes_of_mix(ingredient.solution) if ingredient.solution_id else ()
        for dye in [ingredient.dye] if ingredient.dye_id else mixed:
            classes[dye.dye_class] = dye.get_dye_class_display()
    return [
        sentence
        for base in bases
        for dye_class, words in classes.items()
        if (sentence := _dyeable_words(base, dye_class, words))
    ]


def _dyeable_words(base, dye_class, words):
    share = base.dyeable_pct(dye_class)
    kind = f"dye of the class \u201c{words}\u201d"
    if share is None:
        return f"The fibre content of {base} is not complete, so how much of it takes {kind} is not known."
    if share >= 100:
        return ""
    if share == 0:
        return f"No fibre of {base} takes {kind} fully: try a small piece first."
    on_it = dyeing.depth_on_dyeable_pct(1, share)
    return (
        f"{_percent(share)} of {base} takes {kind}: 1{NO_BREAK_SPACE}% of the whole weight is {_percent(on_it)} "
        "on that part, and the rest stays paler or undyed."
    )
