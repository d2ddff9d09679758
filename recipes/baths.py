"""How much water a pot of a plan gets: what its recipe wants, no more than the pot takes."""

from dataclasses import dataclass
from decimal import Decimal

from studio.models import Vessel
from studio.naming import kind_of, numbered, one_of
from studio.units import write_g, write_ml, write_number

from . import dyeing
from .meaning import dye_bath_water, own_amount
from .models import Basis, Method

USUAL = (Decimal(20), Decimal(40))  # mL to 1 g in a pot dyed by hand; common practice, no source
NOTABLY_PCT = 10  # this much less water to the yarn than in the notebook is said; common practice, no source
LEAST_BROUGHT_PCT = 2  # of the bath: what bottles bring below it does not count; common practice, no source
NO_BATH = (Vessel.Kind.TABLE, Vessel.Kind.PAN)


@dataclass(frozen=True)
class Wet:
    """The dye bath of one pot: `ml` as it will be, None where nobody knows; `wanted_ml` before the pot capped it."""

    ml: Decimal | None
    wanted_ml: Decimal | None

    @property
    def capped(self):
        return self.wanted_ml is not None and self.ml < self.wanted_ml


def limit_ml(load):
    """The most water that this pot takes (mL), or None."""
    if load.fill_ml is not None:
        return load.fill_ml
    return None if load.vessel is None else load.vessel.fill_ml or load.vessel.volume_ml


def capped(amount, load):
    limit = limit_ml(load)
    return amount if amount is None or limit is None else min(amount, limit)


def counts(brought_ml, bath_ml):
    """Whether what bottles bring into a bath is enough of it to be told from the water."""
    return brought_ml * 100 >= bath_ml * LEAST_BROUGHT_PCT


def bath_of(recipe, load, follows):
    """The `Wet` of one pot. `follows`: what its amounts follow, as `own_amount` takes it."""
    water = dye_bath_water(recipe)
    if water is not None:
        wanted = own_amount(water, **follows, bath_ml=None)
    else:
        ratio = recipe.liquor_ratio
        wanted = None if ratio is None else dyeing.bath_ml(follows["fibre_g"], ratio)
    if wanted is not None:
        return Wet(capped(wanted, load), wanted)
    limit = limit_ml(load)
    return Wet(limit and min(limit, limit * follows["pots"]), None)


def refuse_too_small(loads):
    """Raises ValueError with a sentence where not even one skein goes into the vessel that was chosen."""
    for load in loads:
        vessel, limit = load.vessel, limit_ml(load)
        if vessel is None or not load.skeins or load.skeins < 1:
            continue
        skein_g = load.fibre_g / load.skeins
        if vessel.skeins == 0:
            raise ValueError(f"{one_of(vessel)} takes no skein, by what the studio says of it: choose another one.")
        if vessel.kind not in NO_BATH and limit is not None and limit < skein_g:
            raise ValueError(
                f"{one_of(vessel)} takes {write_ml(limit)}, and one skein weighs {write_g(skein_g)}: it can't be "
                "covered there. Choose a larger one."
            )


def warnings_of(recipe, loads, wets, system):
    """[sentence]: pots that cap their water, and ratios outside what is usual; pots that are alike said together."""
    found = {}
    for number, (load, wet) in enumerate(zip(loads, wets, strict=True), 1):
        if wet.ml is not None:
            alike = load.vessel, limit_ml(load), load.fibre_g, wet
            found.setdefault(alike, {}).setdefault(load.day, []).append(load.number or number)
    said = [_warning(recipe, numbers, *alike, system) for alike, numbers in found.items()]
    return [sentence for sentence in said if sentence]


def _warning(recipe, by_day, vessel, limit, fibre_g, wet, system):
    now = dyeing.liquor_ratio(wet.ml, fibre_g)
    pots = ", ".join(_pots(vessel, day, numbers) for day, numbers in by_day.items())
    has = "has" if sum(map(len, by_day.values())) == 1 else "have"
    parts = []
    if wet.capped:
        name = one_of(vessel) if vessel is not None else pots.capitalize()
        wanted = _ratio(dyeing.liquor_ratio(wet.wanted_ml, fibre_g))
        parts.append(
            f"{name} takes {write_ml(limit, system)}: {pots} {has} {_ratio(now)}, not {wanted}. "
            "What is said for each litre follows the bath; the dye does not change."
        )
    own = own_ratio(recipe)
    less = own is not None and now < own * (1 - NOTABLY_PCT / Decimal(100))
    if less and (not wet.capped or dyeing.liquor_ratio(wet.wanted_ml, fibre_g) != own):
        parts.append(
            f"{pots.capitalize()} {has} {_ratio(now)}, and a pot of version {recipe.number} has {_ratio(own)}: "
            "the yarn is crowded."
        )
    odd = recipe.method == Method.POT and not USUAL[0] <= now <= USUAL[1]
    if odd and (parts or not _says_ratio(recipe)):
        usual = f"{write_number(USUAL[0])}:1 to {write_number(USUAL[1])}:1"
        start = "" if parts else f"{pots.capitalize()} {has} {_ratio(now)}. "
        little = "crowded yarn dyes unevenly" if now < USUAL[0] else "more dye stays in so much water"
        parts.append(f"{start}Usual in a pot is {usual}: {little}.")
    elif less and not wet.capped:
        parts.append("Crowded yarn dyes unevenly.")
    return " ".join(parts)


def own_ratio(recipe):
    """Bath to yarn (mL to 1 g) of a pot of the version's own notebook; None where it does not say it."""
    water = dye_bath_water(recipe)
    if water is None:
        return recipe.liquor_ratio
    pots = Decimal(recipe.pots)
    fibre_g, skeins = recipe.fibre_g / pots, recipe.skeins / pots
    bath_ml = own_amount(water, fibre_g=fibre_g, skeins=skeins, share=1 / pots, bath_ml=None)
    return dyeing.liquor_ratio(bath_ml, fibre_g) if bath_ml else None


def _pots(vessel, day, numbers):
    """ "jar 1", "pots 3 to 11, 14 and 15", "pot 1 on day 2"."""
    return f"{numbered(kind_of([vessel]), numbers)}{'' if day is None else f' on day {day}'}"


def _says_ratio(recipe):
    """Whether the version itself says how much water goes to the yarn, so that its ratio is no surprise."""
    water = dye_bath_water(recipe)
    return recipe.liquor_ratio is not None if water is None else water.basis == Basis.RATIO


def _ratio(ratio):
    return f"{write_number(ratio, digits=3)}:1"
