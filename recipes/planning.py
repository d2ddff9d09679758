"""A recipe, yarn, pots and what is on the shelf -> every amount, exact and as told to the hands; and what is short.

Nothing is written here. `lots_for` reads the shelf in a fixed number of queries; `plan` only reckons.
"""

from collections import defaultdict
from dataclasses import replace
from decimal import Decimal

from studio.units import MOST, write_ml, write_number

from . import baths, dyeing
from .baths import capped
from .holding import powder_lots
from .meaning import OWN_BATH, own_amount, painted
from .measuring import dyes_of, rounded, to_measure, told, unit_of
from .mixing import mixing_list, run_stock
from .models import Basis, RecipeStep
from .moving import Moving
from .offers import NO_LOT, alike, best_offer, ingredients_of, with_steps
from .one_lot import lot_warnings
from .plans import Line, Plan, PotPlan, Wishes
from .precision import SMALL_JUG_STEP_ML, WATER_STEP_ML
from .shortages import measured, shortages_of, totals_of
from .surer import Bench
from .two_lots import rests_of, which_of
from .weigh_once import shared_out

DYELESS = "holds none of its dyes, by its record, so it is not offered: see what went into it, or make it up anew."
BATH_UNKNOWN = "The bath is not known: write water 20:1 into the recipe, or choose a pot."


def plan(recipe, loads, lots, tools, studio, chosen=None, wishes=None, gather=None):
    """The `Plan` of a recipe for these loads.

    `lots`: what `lots_for` gave. `tools`: the scales, syringes and cylinders. `studio`: in whose units water is said;
    what is weighed or drawn up is said as the tools show it. `chosen`: {ingredient pk: lot pk} where a person chose
    the lot. `wishes`: a `Wishes`. `gather`: makes of the [PotPlan] of these loads the pots that they are dyed in, where
    several loads are one pot after another. Raises ValueError with a sentence where nothing can be reckoned: no load, a
    load without weight, a version without amounts.
    """
    loads = list(loads)
    _check(recipe, loads)
    work = _Working(with_steps(recipe), loads, lots, list(tools), studio, chosen or {}, wishes or Wishes())
    pots = [work.pot(number, load) for number, load in enumerate(loads, 1)]
    pots = gather(pots) if gather else pots
    pots, once = shared_out(pots, work.bench, work.wishes.weigh_once, lots)
    if any(one.chosen for one in once):
        pots = [replace(pot, lines=work.to_pour(pot.lines, pot.water_ml)) for pot in pots]
    totals = totals_of(pots, work.choices)
    mixing = mixing_list(measured(pots), totals, lots, work.bench)
    stock = run_stock(pots, totals, lots, work.bench)
    short = shortages_of(pots, totals, work.choices, mixing, lots)
    warnings = work.warnings() + lot_warnings(pots)
    moved = work.moving.moved()
    return Plan(recipe, pots, totals, short, warnings, moved, work.choices, mixing, once, stock, work.wishes)


def _check(recipe, loads):
    if not loads:
        raise ValueError("There is no pot yet: choose at least one, and how much yarn goes in.")
    if any(load.fibre_g is None or load.fibre_g <= 0 for load in loads):
        raise ValueError("A pot has no yarn in it: write its weight in g or its skeins, or leave the pot out.")
    if not any(step.ingredients.all() for step in recipe.steps.all()):
        raise ValueError("This version has no amounts yet: write it first.")
    baths.refuse_too_small(loads)


class _Working:
    """One plan being worked out."""

    def __init__(self, recipe, loads, lots, tools, studio, chosen, wishes):
        self.recipe, self.loads, self.studio, self.wishes = recipe, loads, studio, wishes
        self.bench, self.offers = Bench.of(tools, studio), lots
        self.moving = Moving(recipe, loads, wishes)
        fibre_g = sum(load.fibre_g for load in loads)
        self.follows = [self.moving.follows(load, fibre_g) for load in loads]
        self.wets = [baths.bath_of(recipe, load, of) for load, of in zip(loads, self.follows, strict=True)]
        self.times, self.own = {}, {}  # {ingredient pk: [of each pot]}
        for each in ingredients_of(recipe):
            self.times[each.pk] = [self.moving.times(each, place) for place in range(len(loads))]
            self.own[each.pk] = self.own_by_pot(each)
        self.choices = self.choose(lots, chosen)
        self.rests = rests_of(ingredients_of(recipe), self.needs(), self.choices, self.wishes.rest)
        self.alike = {}  # the lines of pots that get the same

    def warnings(self):
        wet = baths.warnings_of(self.recipe, self.loads, self.wets, self.studio.system)
        dyeless = [f"A bottle of {lot.solution} {DYELESS}" for lot in dict.fromkeys(self.offers.dyeless)]
        return wet + self.moving.warnings() + dyeless

    # --- amounts

    def bath_for(self, ingredient, place):
        """The bath that a line's "for each litre" means: its own step's water, else the dye bath."""
        step = ingredient.step
        if step.kind in OWN_BATH:
            for each in step.ingredients.all():
                if each.water and each.amount is not None:
                    return capped(own_amount(each, **self.follows[place], bath_ml=None), self.loads[place])
        return self.wets[place].ml

    def own_by_pot(self, ingredient):
        """Of the substance itself, for each pot; the parts of what is for all add up to it exactly."""
        amounts = [
            own_amount(ingredient, **follows, bath_ml=self.bath_for(ingredient, place))
            for place, follows in enumerate(self.follows)
        ]
        shared_out = not self.moving.by_pots and not any(load.sample for load in self.loads)
        if ingredient.basis == Basis.FIXED and None not in amounts and shared_out:
            # The parts are exact, not of so many places as `money.split` makes them: the last takes what division left.
            amounts[-1] += ingredient.amount - sum(amounts)
        if ingredient.water:
            return amounts
        return [
            own if own is None else own * times for own, times in zip(amounts, self.times[ingredient.pk], strict=True)
        ]

    def needs(self):
        """{ingredient pk: of the substance itself for all pots, as far as it is known}"""
        return {pk: sum((own for own in each if own is not None), Decimal(0)) for pk, each in self.own.items()}

    def choose(self, lots, chosen):
        """{ingredient pk: [Offer]} with the one to take first; `NO_LOT` first where none is fit.

        One lot is taken for all lines of the same substance at the same strength, so it must do for all of them.
        """
        needs, of_each = defaultdict(Decimal), self.needs()
        for ingredient in ingredients_of(self.recipe):
            needs[alike(ingredient)] += of_each[ingredient.pk]
        left, found, taken, powders = {}, {}, {}, {}
        for ingredient in ingredients_of(self.recipe):
            offers = lots.get(ingredient.pk, [])
            same = alike(ingredient)
            mine = next((offer for offer in offers if offer.lot.pk == chosen.get(ingredient.pk)), None)
            kept_to = powders.get(ingredient.dye_id, ())
            best = mine or taken.get(same) or best_offer(ingredient, offers, needs[same], left, kept_to)
            if best is not None:
                taken[same] = best
                powders.setdefault(ingredient.dye_id, powder_lots(best.lot).keys())
                left[best.lot.pk] = left.get(best.lot.pk, best.free) - best.amount_of(of_each[ingredient.pk])
                best = next(offer for offer in offers if offer.lot.pk == best.lot.pk)
            found[ingredient.pk] = [best or NO_LOT, *(offer for offer in offers if offer is not best)]
        return found

    # --- lines

    def pot(self, number, load):
        place, water_ml = number - 1, self.wets[number - 1].ml
        each = tuple((self.own[pk][place], times[place]) for pk, times in self.times.items())
        alike = (each, water_ml, baths.limit_ml(load))
        if alike not in self.alike:
            found = enumerate(self.to_pour(self.lines(place), water_ml), 1)
            self.alike[alike] = [replace(line, position=position) for position, line in found]
        lines = list(self.alike[alike])
        dye_g = sum((line.dye_g for line in lines if line.dye_g is not None), Decimal(0))
        ratio = None if water_ml is None else dyeing.liquor_ratio(water_ml, load.fibre_g)
        return PotPlan(load.number or number, load, water_ml, ratio, lines, dye_g)

    def lines(self, place):
        """What goes into one pot and what is done to it, in order."""
        lines = []
        for step in self.recipe.steps.all():
            said = {"temperature_c": step.temperature_c, "minutes": step.minutes}
            if step.kind != RecipeStep.Kind.ADD or step.words or not step.ingredients.all():
                lines.append(Line(0, step.kind, step.words.rstrip(":"), **said))
                said = {}
            for ingredient in step.ingredients.all():
                if self.own[ingredient.pk][place] != 0:  # none of it: left out
                    found = [self.water(ingredient, place)] if ingredient.water else self.doses(ingredient, place)
                    lines += [replace(line, step=step.kind, **said) for line in found]
        return lines

    def to_pour(self, lines, water_ml):
        """The lines, with the first water of the dye bath less by what the bottles bring, and saying so.

        A bottle that is still to be made counts as well: it is there when the water is poured.
        """
        first = next(
            (line for line in lines if line.water and line.step not in OWN_BATH and (line.told or line.of_bath)), None
        )
        in_bath = [line for line in lines if not line.water and line.exact is not None and line.step not in OWN_BATH]
        bring = [line.exact for line in in_bath if line.unit == "mL" and not painted(line.ingredient)]
        bring += [line.pour_ml for line in in_bath if line.pour_ml is not None]
        if first is None or not baths.counts(sum(bring), water_ml):
            return lines
        little = sum(bring) < 10 * SMALL_JUG_STEP_ML
        brought = rounded(sum(bring), Decimal(1) if little else SMALL_JUG_STEP_ML)  # what is told of the three adds up
        if not brought:
            return lines
        exact, told = first.of_bath or (first.exact, first.told)
        more, bath = (write_ml(each, self.studio.system) for each in (brought, told))
        note, problem = f"The bottles bring {more} more: {bath} of bath in all.", ""
        try:
            dyeing.water_to_pour_ml(water_ml, bring)
        except ValueError as why:
            note, problem = "", str(why)
        poured = replace(
            first,
            exact=max(exact - sum(bring), Decimal(0)),
            told=max(told - brought, Decimal(0)),
            of_bath=(exact, told),
            note=note,
            problem=problem,
        )
        return [poured if line is first else line for line in lines]

    def water(self, ingredient, place):
        load = self.loads[place]
        own = self.own[ingredient.pk][place]
        exact = capped(own, load)
        no_more = "" if exact == own else ", but no more fits"
        line = Line(
            0,
            "",
            ingredient=ingredient,
            water=True,
            exact=exact,
            unit="mL",
            basis=self.moving.basis(ingredient, place) + no_more,
            how=ingredient.how,
            place=ingredient.place,
            estimated=ingredient.estimated,
        )
        if exact is None:
            return line
        step = WATER_STEP_ML if exact >= 1000 else SMALL_JUG_STEP_ML
        if exact < 1000 and exact % 5 == 0:
            return replace(line, told=exact)  # halfway between two marks of the jug, as the notebook has it
        return replace(line, told=capped(max(step, rounded(exact, step)), load) if exact >= step else exact)

    def doses(self, ingredient, place):
        """[Line]: of one lot; of two where the first has too little, and somebody takes the rest from another."""
        own, offer = self.own[ingredient.pk][place], self.choices[ingredient.pk][0]
        rest = self.rests.get(ingredient.pk)
        if rest is None or not own:
            return [self.dose(ingredient, place, own, offer)]
        amount, part = rest.of_first(own, self.bench)
        more = self.dose(ingredient, place, own - part, rest.offer)
        if not amount:
            return [more]
        first = self.dose(ingredient, place, part, offer)
        of_rest = f"the rest of it, from {which_of(rest.offer.lot)}"
        return [
            replace(first, exact=amount, told=amount, basis=f"{first.basis}, with the next"),
            replace(more, basis=of_rest),
        ]

    def dose(self, ingredient, place, own, offer):
        lot = offer.lot
        line = Line(
            0,
            "",
            ingredient=ingredient,
            substance=ingredient.substance,
            lot=lot,
            unit=unit_of(ingredient, lot),
            basis=_basis(self.moving.basis(ingredient, place), self.moving.base_times(ingredient, place)),
            how=ingredient.how,
            place=ingredient.place,
            estimated=ingredient.estimated,
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
        if lot is not None and lot.is_past():
            note = f"{note} Its use-by date has passed: test it first.".strip()
        line = replace(line, exact=exact, note=note, problem=problem, dyes=dyes_of(ingredient, lot, exact, own))
        return told(line, self.bench, self.offers.get(ingredient.pk, ()))


def _basis(said, times):
    """How the recipe says it; with what its base makes of it: "1 % owf, x 0.75"."""
    return said if times == 1 else f"{said}, \u00d7 {write_number(times, digits=3)}"
