"""What the shelf has for a recipe: which lots hold each substance, and which of them to take."""

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

from django.db.models import Exists, OuterRef, Prefetch, Q, prefetch_related_objects

from studio import writing
from studio.models import Content, Lot, Solution
from studio.naming import lot_number, powder_lot, says_strength
from studio.units import write_g, write_ml, write_pct

from .holding import held, key_of, powder_lots, strength_at_standard
from .meaning import dyes_of_mix, own_unit, painted
from .models import How

SAME_STRENGTH = Decimal("0.02")  # a bottle this near is painted as it is; common practice, no source
HANDLES_ALIKE = Decimal(2).ln()  # bottles within twice and half are drawn up alike; common practice, no source
THOUSANDTH = Decimal("0.001")


@dataclass(frozen=True)
class Offer:
    """A lot that could be taken for an ingredient."""

    lot: object  # studio.Lot, with `on_hand` and `strength_now`
    free: Decimal  # on hand less what other plans have spoken for, in the lot's unit
    per_unit: Decimal  # in 1 g or mL of the lot: g of dye at standard strength, g or mL of an assistant, mL of a mix

    @cached_property
    def words(self):
        """ "bottle 3, 0.97 %, 170 mL free"."""
        return "one still to be made or bought" if self.lot is None else _lot_words(self.lot, self.free)

    def amount_of(self, own):
        """How much of the lot holds `own` of the substance."""
        return own / self.per_unit


class Shelf(dict):
    """{ingredient pk: [Offer, oldest lot first]}, and what their bottles are made of.

    `powders`: {`key_of` a substance: [Offer] of what was bought of it}. `masters`: {pk: Solution with its parts}.
    `dyeless`: bottles of a mix of dyes that hold none, by their record: they are offered for nothing.
    """

    powders = masters = {}
    dyeless = ()


NO_LOT = Offer(None, Decimal(0), Decimal(1))


def with_steps(recipe):
    """The recipe with all that planning and its page read, in a fixed number of queries."""
    prefetch_related_objects(
        [recipe],
        "steps__ingredients__dye",
        "steps__ingredients__assistant",
        "steps__ingredients__solution__parts__dye",
        "steps__ingredients__solution__parts__assistant",
        "bases__fibres",
    )
    return recipe


def ingredients_of(recipe):
    return [ingredient for step in recipe.steps.all() for ingredient in step.ingredients.all()]


def lots_for(recipe, promised=None):
    """The `Shelf` for a recipe: what there is for each ingredient, and what its bottles are made of.

    `promised`: {lot pk: amount} that other plans have spoken for. A fixed number of queries.
    """
    promised = promised or {}
    recipe = with_steps(recipe)
    lots, masters = read_shelf(recipe)
    shelf, candidates = Shelf(), defaultdict(list)
    shelf.powders = {}
    shelf.masters = {master.pk: master for master in masters}
    for lot in lots:
        key, per_unit = _held(lot)
        candidates[key].append(lot)
        if lot.solution_id:
            candidates[lot.solution_id].append(lot)
        else:
            shelf.powders.setdefault(key, []).append(Offer(lot, _free(lot, promised), per_unit))
    for ingredient in ingredients_of(recipe):
        if not ingredient.water:
            fit = candidates[ingredient.solution_id or key_of(ingredient.substance)]
            of_it = [(lot, _per_unit(ingredient, lot)) for lot in fit]
            shelf[ingredient.pk] = [Offer(lot, _free(lot, promised), per_unit) for lot, per_unit in of_it if per_unit]
            shelf.dyeless += tuple(lot for lot, per_unit in of_it if per_unit == 0)
    return shelf


def _free(lot, promised):
    return lot.on_hand - promised.get(lot.pk, 0)


def read_shelf(recipe):
    """(lots, masters): what `lots_for` reads of the shelf for a recipe with its steps, the oldest lot first."""
    ingredients = ingredients_of(recipe)
    wanted = _substances(ingredients)
    lots = list(_lots_with(ingredients, wanted))
    return lots, list(_masters(wanted, lots))


def _substances(ingredients):
    """Keys of the dyes and assistants of these lines, and of what their mixes are made of."""
    keys = set()
    for each in ingredients:
        if each.solution_id:
            keys |= {key_of(part) for part in each.solution.parts.all()}
        elif not each.water:
            keys.add(key_of(each.substance))
    return keys


def _masters(keys, lots):
    """The masters that hold any of these, or that these bottles were made from."""
    found = Q(parts__dye__in=_of("dye", keys)) | Q(parts__assistant__in=_of("assistant", keys))
    made_from = {lot.solution_id for lot in lots if lot.solution_id}
    masters = Solution.objects.filter(found | Q(pk__in=made_from)).distinct()
    return masters.prefetch_related("parts__dye", "parts__assistant")


def _of(kind, keys):
    return {pk for each, pk in keys if each == kind}


def _lots_with(ingredients, keys):
    dyes, assistants = _of("dye", keys), _of("assistant", keys)
    solutions = {each.solution_id for each in ingredients if each.solution_id}
    holding = Content.objects.filter(lot=OuterRef("pk")).filter(
        Q(source__dye__in=dyes) | Q(source__assistant__in=assistants)
    )
    sources = Lot.objects.with_facts().select_related("dye", "assistant")
    return (
        Lot.objects.with_on_hand()
        .with_facts()
        .in_use()
        .filter(Q(dye__in=dyes) | Q(assistant__in=assistants) | Q(solution__in=solutions) | Exists(holding))
        .select_related("dye", "assistant", "solution")
        .prefetch_related("contents", Prefetch("contents__source", sources))
        .order_by("came_at", "pk")
    )


def _held(lot):
    """(`key_of` the one substance in a lot, g or mL of it in 1 g or mL); (None, None) where it is not just one."""
    found = held(lot)
    return next(iter(found.items())) if found and len(found) == 1 else (None, None)


def _per_unit(ingredient, lot):
    """How much of an ingredient's substance is in 1 g or mL of a lot; None: this lot is not for it."""
    if ingredient.solution_id:
        return _of_its_master(ingredient, lot) if lot.solution_id == ingredient.solution_id else None
    key, per_unit = _held(lot)
    # A liquid is measured as it was bought: how much of it is in a bottle is known in g, not in mL.
    in_ml = lot.solution_id and own_unit(ingredient) != "g"
    return per_unit if key == key_of(ingredient.substance) and not in_ml else None


def own_in(ingredient, lot, amount):
    """How much of an ingredient's substance is in so much of a lot; None: this lot is not for it.

    The inverse of `Offer.amount_of`. The lot comes `with_facts`, its contents and their sources prefetched likewise.
    """
    per_unit = _per_unit(ingredient, lot)
    return amount * per_unit if per_unit else None


def _of_its_master(ingredient, lot):
    """A mix is used by its volume; what is poured from is adjusted to how strong it was really made."""
    nominal = sum(dyes_of_mix(ingredient.solution).values(), Decimal(0)) * 100
    made = strength_at_standard(lot)
    return Decimal(1) if not nominal or made is None else made / nominal


def _lot_words(lot, free):
    free = written(max(Decimal(0), free), lot.unit)
    if not lot.solution_id:
        return f"{powder_lot(lot)}, {free} free"
    strength = strength_at_standard(lot)
    said = f", {write_pct(strength)}" if strength and not says_strength(lot.solution.name, strength, 3) else ""
    number, made = (f" {lot_number(lot)}", "") if lot.number else ("", f", made {writing.day(lot.came_at)}")
    return f"{lot.solution}{number}{said}, {free} free{made}"


def written(amount, unit):
    return write_g(amount) if unit == "g" else write_ml(amount)


def alike(ingredient):
    """What lines of the same substance at the same strength have in common, as a key."""
    return ingredient.dye_id, ingredient.assistant_id, ingredient.solution_id, ingredient.strength_pct


def from_bottle(ingredient):
    return ingredient.strength_pct is not None or ingredient.how == How.BOTTLE


def best_offer(ingredient, offers, need, left, kept_to=()):
    """The offer to take unless somebody chooses: the oldest with enough; of bottles, the nearest in strength.

    `kept_to`: keys of the powder lots that other lines take the same dye from; one that brings another comes after.
    """
    own = [offer for offer in offers if not offer.lot.solution_id or ingredient.solution_id]
    bottles = [offer for offer in offers if offer.lot.solution_id]
    if from_bottle(ingredient) and not ingredient.solution_id:
        fit = bottles
        if painted(ingredient):
            fit = [
                offer for offer in bottles if offer.per_unit >= wanted_strength(ingredient) * (1 - SAME_STRENGTH)
            ] or bottles
    else:
        fit = own or bottles
    if not fit:
        return None

    def worth(offer):
        spare = left.get(offer.lot.pk, offer.free) - offer.amount_of(need)
        apart = Decimal(0)
        if ingredient.strength_pct is not None and not ingredient.solution_id:
            apart = abs((offer.per_unit / wanted_strength(ingredient)).ln())
        strange = bool(kept_to) and not powder_lots(offer.lot).keys() <= set(kept_to)
        return (
            spare < 0,
            apart // HANDLES_ALIKE,
            strange,
            apart.quantize(THOUSANDTH),
            0 if spare >= 0 else -spare,
            offer.lot.came_at,
            offer.lot.pk,
        )

    return min(fit, key=worth)


def wanted_strength(ingredient):
    """The strength a line is meant for, in g of substance in 1 mL; of a mix, 1 mL as its master says in 1 mL."""
    return Decimal(1) if ingredient.solution_id else ingredient.strength_pct / 100
