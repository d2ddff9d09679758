"""A recipe on another yarn: by weight or by whole pots, how much of a base takes the dye, and the studio's own factor.

With a part f of the fibre taking the dye, the depth D seen on that part wants m = W f D / 100 of dye on the whole
weight W (dyeing.depth_for_dyeable_pct). A version that names a base is taken as written on that base.
"""

from copy import copy
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import prefetch_related_objects

from studio import fibres
from studio.naming import joined, kind_of
from studio.units import write_g, write_number, write_pct

from . import dyeing
from .meaning import basis_words, dyes_of_mix, painted
from .models import Basis, Hold, Recipe
from .offers import ingredients_of

NOTABLY_PCT = 10  # a pot's yarn this far from the notebook's pot is said; common practice, no source
STILL_A_POT_PCT = 25  # up to here a pot may be meant as one of the notebook's; common practice, no source
ALL = Decimal(100)


@dataclass(frozen=True)
class OnBase:
    """How one base of a plan takes the dyes of its version."""

    base: object
    differs: bool  # it takes the dye otherwise than what the version was written for, so it matters how depth is held
    calls: tuple  # sentences to act on: it takes none of the dye
    said: tuple  # sentences to know


@dataclass(frozen=True)
class Moved:
    """How a version goes onto the yarn of a plan, and which choices that leaves."""

    bases: tuple  # `OnBase` of each base that is planned
    written_for: str  # a sentence, where the version was written for other bases than these
    by_pots: bool  # each pot gets what a pot of the notebook got
    asks_scales: bool  # the yarn of a pot weighs otherwise than the notebook's, and pots could still be the unit

    @property
    def asks_hold(self):
        differ = [one for one in self.bases if one.differs]
        return bool(differ) and (len(self.bases) > 1 or not differ[0].calls)  # where nothing takes it, all are one

    @property
    def calls(self):
        return any(one.calls for one in self.bases)

    @property
    def says(self):
        return bool(self.written_for or any(one.calls or one.said for one in self.bases))


class Moving:
    """One recipe for these loads. Costs two queries, unless the bases of the recipe and of the loads are prefetched."""

    def __init__(self, recipe, loads, wishes):
        self.recipe, self.loads, self.wishes = recipe, loads, wishes
        self.bases = list({base.pk: base for load in loads for base in load.bases}.values())
        self.written_for = list(recipe.bases.all())
        prefetch_related_objects([*self.bases, *self.written_for], "fibres")
        self.named = {base.pk for base in self.written_for}
        self.classes = _classes(recipe)
        dyed = [painted(each) for each in ingredients_of(recipe) if _dyes(each)]
        self.paints, self.only_paints = any(dyed), bool(dyed) and all(dyed)  # paint keeps its strength on any base
        self.usual_factor = _alike([base.dye_factor_pct for base in self.written_for], ALL)
        self.shares = {
            (base.pk, dye_class): base.dyeable_pct(dye_class)
            for base in [*self.bases, *self.written_for]
            for dye_class in self.classes
        }
        self._on = {
            (place, dye_class): self._times_on(load, dye_class)
            for place, load in enumerate(loads)
            for dye_class in self.classes
        }

    # --- by weight, or by whole pots

    @property
    def by_pots(self):
        return (self.wishes.scales or self.recipe.scales) == Recipe.Scales.POTS

    def follows(self, load, fibre_g):
        """What the amounts of one pot follow: {fibre_g, skeins, share, pots}. `fibre_g`: of all pots together."""
        recipe = self.recipe
        if load.sample:
            part = load.fibre_g / recipe.fibre_g
            return {
                "fibre_g": load.fibre_g,
                "skeins": part * recipe.skeins,
                "share": part,
                "pots": part * recipe.pots,
            }
        if self.by_pots:
            # Each pot gets what one of the notebook's pots got, whatever its own yarn weighs.
            pots = Decimal(recipe.pots)
            return {"fibre_g": recipe.fibre_g / pots, "skeins": recipe.skeins / pots, "share": 1 / pots, "pots": 1}
        skeins = load.skeins if load.skeins is not None else load.fibre_g * recipe.skeins / recipe.fibre_g
        pots = load.fibre_g / self.usual_g if self.pots_by_weight else 1
        return {"fibre_g": load.fibre_g, "skeins": skeins, "share": load.fibre_g / fibre_g, "pots": pots}

    @property
    def usual_g(self):
        """The yarn of one of the notebook's pots (g)."""
        return self.recipe.fibre_g / self.recipe.pots

    @property
    def pots_by_weight(self):
        """Whether what is said for each pot follows the yarn, as a version by whole pots is to follow its weight."""
        return self.recipe.scales == Recipe.Scales.POTS and not self.by_pots

    def basis(self, ingredient, place):
        """How a line of one pot follows yarn, bath or pots in this plan, in words, and what the pot makes of a dye."""
        load = self.loads[place]
        said, asked = load.dye_words.get(ingredient.dye_id, ""), load.factor(ingredient)
        if not said and asked != 1 and ingredient.amount is not None:
            ingredient = copy(ingredient)
            ingredient.amount *= asked
        words = basis_words(ingredient, self._each(ingredient, load))
        return f"{said} {words}" if said else words

    def _each(self, ingredient, load):
        """What a line is for, in words, where the weight of the yarn counts instead; else None."""
        recipe, by_weight = self.recipe, {}
        if self.pots_by_weight or load.sample:
            by_weight[Basis.PER_POT] = self.usual_g
        if load.sample:
            by_weight |= {Basis.PER_SKEIN: recipe.fibre_g / recipe.skeins, Basis.FIXED: recipe.fibre_g}
        grams = by_weight.get(ingredient.basis)
        return grams and f" for each {write_g(grams)} of yarn"

    def apart_pct(self):
        """{g of yarn in a pot: how far (%) that is from a pot of the notebook} of each load but samples."""
        return {load.fibre_g: abs(load.fibre_g / self.usual_g - 1) * 100 for load in self.loads if not load.sample}

    def uneven(self):
        """[sentence]: pots whose yarn weighs much more or less than a pot of the notebook, where each gets the same."""
        if not self.by_pots:
            return []
        far = {grams for grams, apart in self.apart_pct().items() if apart > NOTABLY_PCT}
        vessels = {grams: [load.vessel for load in self.loads if load.fibre_g == grams] for grams in self.apart_pct()}
        return [_uneven(grams, self.usual_g, kind_of(of)) for grams, of in vessels.items() if grams in far]

    # --- how much dye

    @property
    def held(self):
        """Whether a depth is of the part that takes the dye; of paint none is held."""
        return self.wishes.hold == Hold.DYEABLE and not self.only_paints

    def times(self, ingredient, place):
        """What its base and its pot make of an amount of dye: so many times what the version says.

        What is painted keeps its strength and its volume, and what holds no dye is no matter of the base.
        """
        asked = self.loads[place].factor(ingredient)
        if asked < 0:
            raise ValueError(f"{ingredient.name} can't be less than nothing: choose 0 or more of it.")
        return asked * self.base_times(ingredient, place)

    def base_times(self, ingredient, place):
        """The same of its base alone."""
        if painted(ingredient) or not self.bases:
            return Decimal(1)
        if ingredient.dye_id:
            return self._on[place, ingredient.dye.dye_class]
        dyes = _dyes(ingredient)
        parts = [self._on[place, dye.dye_class] * part for dye, part in dyes.items()]
        return sum(parts) / sum(dyes.values()) if dyes else Decimal(1)

    def _times_on(self, load, dye_class):
        parts = [(grams, self._base_times(base), self._held(base, dye_class)) for base, grams in load.of_bases()]
        if not any(held for _, _, held in parts):  # nothing there takes it: no part to hold a depth on
            parts = [(grams, factor, 1) for grams, factor, _ in parts]
        return sum(grams * factor * held for grams, factor, held in parts) / load.fibre_g

    def _base_times(self, base):
        """The studio's own factor for this base against what the version was written for."""
        if base is None or base.pk in self.named:
            return Decimal(1)
        return base.dye_factor_pct / self.usual_factor

    def _held(self, base, dye_class):
        """How much of the dye this base wants, so that the part that takes it shows the version's depth."""
        if not self.held or base is None or base.pk in self.named:
            return Decimal(1)
        share = self.shares[base.pk, dye_class]
        return Decimal(1) if share is None else share / self._usual_share(dye_class)

    def _usual_share(self, dye_class):
        """The share that takes the dye on what the version was written for; all of it where that is not known."""
        return _alike([self.shares[base.pk, dye_class] for base in self.written_for], ALL) or ALL

    # --- in words

    def moved(self):
        apart = self.apart_pct().values()
        by_pots = self.recipe.scales == Recipe.Scales.POTS or self.by_pots
        asks = any(apart) and (by_pots or max(apart) <= STILL_A_POT_PCT)
        return Moved(tuple(self._on_base(base) for base in self.bases), self._written_for(), self.by_pots, asks)

    def warnings(self):
        """[sentence]: what a dyer should weigh up before going on, whatever the base."""
        return ([] if self.classes else [NO_DYE]) + self.uneven()

    def _differs(self, base, dye_class):
        return base.pk not in self.named and self.shares[base.pk, dye_class] != self._usual_share(dye_class)

    def _written_for(self):
        others = [base.name for base in self.bases if base.pk not in self.named]
        if not self.named or not others:
            return ""
        meant = joined([base.name for base in self.written_for])
        return f"Version {self.recipe.number} was written for {meant}, not for {joined(others)}."

    def _on_base(self, base):
        alike = {}  # {(share of it, share of what the version was written for): classes that are one sentence}
        for dye_class, words in self.classes.items():
            shares = self.shares[base.pk, dye_class], self._usual_share(dye_class)
            alike.setdefault(shares, []).append((dye_class, words))
        calls, said = [], []
        for (share, usual), classes in alike.items():
            words = [words for _, words in classes]
            if share == 0:
                calls.append(_takes_none(base, words, self.held))
            elif self._differs(base, classes[0][0]):
                said.append(_takes_part(share, words, usual, self.held))
        said += self._factor_words(base) + ([] if base.pk in self.named else self._mixed(base))
        differs = not self.only_paints and any(self._differs(base, dye_class) for dye_class in self.classes)
        return OnBase(base, differs, tuple(calls), tuple(said))

    def _factor_words(self, base):
        own = write_pct(base.dye_factor_pct)
        if base.pk in self.named:
            said = f"The studio's own factor for it, {own}, is not used: the version was written for this base."
            return [said] if base.dye_factor_pct != ALL else []
        if base.dye_factor_pct == self.usual_factor:
            return []
        if self.only_paints:
            return [f"The studio's own factor for it, {own}, is not used: what is painted keeps its strength."]
        times = write_number(self._base_times(base), digits=3)
        but = ", but for what is painted" if self.paints else ""
        against = (
            "" if self.usual_factor == ALL else f", against {write_pct(self.usual_factor)} for the version's own base"
        )
        return [f"It gets {times} times the dye{but}: the studio's own factor for it is {own}{against}."]

    def _mixed(self, base):
        """The caution about fibres that all take the dye, but not alike, which no sum foretells; common practice."""
        for dye_class in self.classes:
            takes = (share.fibre for share in base.shares() if fibres.takes(share.fibre, dye_class) == "dyes")
            found = list(dict.fromkeys(takes))
            if len(found) > 1:
                names = joined([fibres.FIBRES[key].split(" (")[0].lower() for key in found])
                nylon = " Nylon is the quicker one, and can come out darker in pale shades." if "nylon" in found else ""
                return [f"Its {names} {'both' if len(found) == 2 else 'all'} take the dye, but not equally.{nylon}"]
        return []


NO_DYE = "There is no dye in this version. If it is not meant to prepare or to strip the yarn, write the dye first."


def _uneven(grams, usual, kind):
    paler = "paler" if grams > usual else "deeper"
    return (
        f"A {kind} here holds {write_g(grams)} of yarn and one of the notebook's {write_g(usual)}: it gets the "
        f"same dye, so it comes out {paler}, at {write_pct(100 * usual / grams)} of the depth."
    )


def _takes_none(base, classes, held):
    said = f"None of its fibre takes {_dye_of(classes)} fully. {_would_take(base)}"
    return f"{said} There is no part to hold the depth on, so it is of the whole weight." if held else said


def _takes_part(share, classes, usual, held):
    """What the part of a base that takes the dye means. `usual`: that part of what the version was written for."""
    kind = _dye_of(classes)
    if share is None:
        said = f"Its fibre content is not complete, so how much of it takes {kind} is not known."
        return f"{said} It is reckoned as if all of it did." if held else said
    part = "All of it" if share == ALL else f"{write_pct(share)} of it"
    against = "" if usual == ALL else f", and {write_pct(usual)} of what the version was written for"
    rest = "" if share == ALL else ", and the rest stays paler or undyed"
    if held:
        times = write_number(share / usual, digits=3)
        return f"{part} takes {kind}{against}. The depth is held on that part, with {times} times the dye{rest}."
    here, there = dyeing.depth_on_dyeable_pct(1, share), dyeing.depth_on_dyeable_pct(1, usual)
    instead = "" if usual == ALL else f" instead of {write_pct(there)}"
    return f"{part} takes {kind}{against}. {write_pct(1)} of all is {write_pct(here)} on that part{instead}{rest}."


def _dye_of(classes):
    """ "dye of the class “Acid, milling”"."""
    return f"dye of the class{'' if len(classes) == 1 else 'es'} {_quoted(classes)}"


def _would_take(base):
    """Which dyes this base takes instead, the one that dyes most of it first."""
    shares = base.shares()
    would = fibres.classes_for(shares)
    if not would:
        return "No class of dye is known to take on it: try a small piece first."
    most = fibres.dyeable_pct(shares, would[0])
    best = [fibres.DYE_CLASSES[key] for key in would if fibres.dyeable_pct(shares, key) == most]
    part = "" if most == ALL else f" on {write_pct(most)} of it"
    return f"Dye of the class {_quoted(best, 'or')} would{part}. Try a small piece first."


def _classes(recipe):
    """{dye class: in words} of the dyes of a version, in the order in which they go in."""
    return {dye.dye_class: dye.get_dye_class_display() for each in ingredients_of(recipe) for dye in _dyes(each)}


def _dyes(ingredient):
    """{dye: its part} of a line: one dye, or those of a mix by their g."""
    if ingredient.dye_id:
        return {ingredient.dye: Decimal(1)}
    return dyes_of_mix(ingredient.solution) if ingredient.solution_id else {}


def _alike(values, otherwise):
    """What all of these are; `otherwise` where they differ, or one is not known."""
    return values[0] if values and values[0] is not None and len(set(values)) == 1 else otherwise


def _quoted(words, last="and"):
    return joined([f"\u201c{each}\u201d" for each in words], last)


def versions_for(recipe, bases):
    """[(another version of the colourway, names of those bases it was written for)], the newest one for each base.

    Bases that this version names are left out. `recipe`: with `bases` prefetched. Two queries at most.
    """
    named = {base.pk for base in recipe.bases.all()}
    wanted = {base.pk: base.name for base in bases if base.pk not in named}
    if not wanted:
        return []
    others = Recipe.objects.filter(colourway=recipe.colourway_id, bases__in=wanted).exclude(pk=recipe.pk)
    found = {}
    for other in others.distinct().order_by("-number").prefetch_related("bases"):
        names = [wanted.pop(base.pk) for base in other.bases.all() if base.pk in wanted]
        if names:
            found[other] = joined(names)
    return list(found.items())
