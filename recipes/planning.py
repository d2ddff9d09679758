"""A recipe, yarn, pots and what is on the shelf -> every amount, exact and as told to the hands; and what is short.

Nothing is written here. `lots_for` reads the shelf in a fixed number of queries; `plan` only reckons.
"""

from dataclasses import replace
from decimal import Decimal

from django.db.models import prefetch_related_objects
from django.utils import timezone

from studio.units import MOST, write_ml, write_number, write_pct

from . import dyeing
from .meaning import basis_words, dyes_of_mix, own_amount, painted
from .measuring import dyes_of, rounded, to_measure, told, unit_of
from .models import Basis, RecipeStep
from .offers import NO_LOT, Offer, best_offer, ingredients_of, lots_for, with_steps
from .plans import Line, Load, LotTotal, Plan, PotPlan, Shortage, Wishes
from .shortages import shortages_of, totals_of
from .surer import Bench

__all__ = [
    "Line",
    "Load",
    "LotTotal",
    "Offer",
    "Plan",
    "PotPlan",
    "Shortage",
    "Wishes",
    "lots_for",
    "plan",
    "with_steps",
]

LEAST_BROUGHT_PCT = 2  # of the bath: what bottles bring below it is not worth a word
OWN_BATH = (
    RecipeStep.Kind.SOAK,
    RecipeStep.Kind.SCOUR,
    RecipeStep.Kind.MORDANT,
    RecipeStep.Kind.STRIP,
    RecipeStep.Kind.RINSE,
    RecipeStep.Kind.WASH,
)


def plan(recipe, loads, lots, tools, studio, chosen=None, wishes=None):
    """The `Plan` of a recipe for these loads.

    `lots`: what `lots_for` gave. `tools`: the scales, syringes and cylinders. `studio`: in whose units water is said;
    what is weighed or drawn up is said as the tools show it. `chosen`: {ingredient pk: lot pk} where a person chose
    the lot. `wishes`: a `Wishes`. Raises ValueError with a sentence where nothing can be reckoned: no load, a load
    without weight, a version without amounts.
    """
    loads = list(loads)
    _check(recipe, loads)
    work = _Working(with_steps(recipe), loads, lots, list(tools), studio, chosen or {}, wishes or Wishes())
    pots = [work.pot(number, load) for number, load in enumerate(loads, 1)]
    totals = totals_of(pots, work.choices)
    return Plan(
        recipe,
        pots,
        totals,
        shortages_of(pots, totals, work.choices),
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

    def __init__(self, recipe, loads, lots, tools, studio, chosen, wishes):
        self.recipe, self.loads, self.tools, self.studio, self.wishes = recipe, loads, tools, studio, wishes
        self.bench, self.offers = Bench.of(tools, studio), lots
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
        return [
            own if own is None else own * load.dye_factors.get(ingredient.dye_id, 1)
            for own, load in zip(amounts, self.loads, strict=True)
        ]

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
        said = f"This is the whole bath: pour {write_ml(rounded(pour, Decimal(10)), self.studio.system)}, the bottles"
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
        return replace(line, told=_capped(max(step, rounded(exact, step)), load) if exact >= step else exact)

    def line(self, ingredient, place):
        own, offer = self.own[ingredient.pk][place], self.choices[ingredient.pk][0]
        lot = offer.lot
        line = Line(
            0,
            "",
            ingredient=ingredient,
            substance=ingredient.substance,
            lot=lot,
            unit=unit_of(ingredient, lot),
            basis=basis_words(ingredient),
            how=ingredient.how,
            place=ingredient.place,
            dyes=dyes_of(ingredient, lot, None),
        )
        if own is None:
            unknown_bath = ingredient.amount is not None
            return replace(line, problem=BATH_UNKNOWN if unknown_bath else "")
        exact, note, problem = to_measure(ingredient, own, offer)
        if exact > MOST:
            raise ValueError(
                f"{ingredient.name} comes to more than can be right for one pot, {write_number(exact)} {line.unit}: "
                "check the amounts of the recipe, and the weight of the yarn."
            )
        if lot is not None and lot.use_by_now is not None and lot.use_by_now < timezone.localdate():
            note = f"{note} Its use-by date has passed: test it first.".strip()
        line = replace(line, exact=exact, note=note, problem=problem, dyes=dyes_of(ingredient, lot, exact, own))
        return told(line, self.bench, self.offers.get(ingredient.pk, ()))


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
        f"{write_pct(share)} of {base} takes {kind}: {write_pct(1)} of the whole weight is {write_pct(on_it)} "
        "on that part, and the rest stays paler or undyed."
    )
