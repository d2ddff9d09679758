"""The sums of dyeing: how much dye, stock solution, assistant and water, and back again.

Masses are in g, volumes in mL. A percentage is percent (1 means 1 %): depth of shade is g of dye per 100 g
of dry fibre (% owf), the strength of a stock solution g of dye per 100 mL of finished solution (% w/v). The
sums follow from these definitions, which are those of Broadbent, Basic Principles of Textile Coloration
(SDC 2001).

Numbers go in as Decimal, int or float and come out as Decimal, unrounded: rounding belongs where an amount
is shown. Wrong input raises ValueError with a sentence for the dyer.
"""

from decimal import Decimal

from studio.units import exact

STRONGEST_LOT_PCT = 400
STRONGEST_STOCK_PCT = 100


# Dye and stock solution


def dye_g(fibre_g, depth_pct):
    """Dye (g) for ``fibre_g`` of dry fibre at a depth of shade. Inverse: ``depth_pct``."""
    return _fibre(fibre_g) * _depth(depth_pct) / 100


def stock_ml(fibre_g, depth_pct, strength_pct):
    """Stock solution (mL) that brings ``fibre_g`` to a depth. Inverse: ``depth_from_stock_pct``."""
    return _fibre(fibre_g) * _depth(depth_pct) / _strength(strength_pct)


def dye_in_stock_g(volume_ml, strength_pct):
    """Dye (g) in ``volume_ml`` of stock solution."""
    return _not_negative(volume_ml, "The volume") * _strength(strength_pct) / 100


def depth_pct(dye_g, fibre_g):
    """Depth of shade that ``dye_g`` of dye is on ``fibre_g``: the dye fed, not the dye taken up."""
    return 100 * _not_negative(dye_g, "The dye") / _fibre(fibre_g)


def depth_from_stock_pct(volume_ml, strength_pct, fibre_g):
    """Depth of shade that ``volume_ml`` of stock solution is on ``fibre_g``."""
    return depth_pct(dye_in_stock_g(volume_ml, strength_pct), fibre_g)


def depth_of_additions_pct(fibre_g, powders_g=(), stocks=()):
    """Depth of shade of several additions together.

    ``powders_g``: masses of powder; ``stocks``: pairs (volume in mL, strength in %).
    """
    powder = sum((_not_negative(g, "The dye") for g in powders_g), Decimal(0))
    dissolved = sum((dye_in_stock_g(ml, pct) for ml, pct in stocks), Decimal(0))
    return depth_pct(powder + dissolved, fibre_g)


def depth_on_dyeable_pct(depth_pct, dyeable_pct):
    """Depth on the part of the fibre that takes the dye, of a depth reckoned on all of it.

    It holds where the rest takes none (wool with polyester under acid dyes). Two fibres that both
    take the dye, such as wool and nylon, share it unequally, which no sum foretells.
    """
    return 100 * _depth(depth_pct) / _dyeable(dyeable_pct)


def depth_for_dyeable_pct(depth_pct, dyeable_pct):
    """Depth to reckon on all of the fibre so that the dyeable part shows ``depth_pct``.

    Inverse: ``depth_on_dyeable_pct``.
    """
    return _depth(depth_pct) * _dyeable(dyeable_pct) / 100


def at_lot_strength(amount, lot_strength_pct):
    """The amount of this powder lot that colours like ``amount`` at the studio's standard strength, 100 %.

    Inverse: ``at_standard_strength``.
    """
    return 100 * _not_negative(amount, "The amount") / _lot_strength(lot_strength_pct)


def at_standard_strength(amount, lot_strength_pct):
    """The amount at the standard strength, 100 %, that colours like ``amount`` of this powder lot."""
    return _not_negative(amount, "The amount") * _lot_strength(lot_strength_pct) / 100


def matched_strength_pct(matching_pct):
    """Strength of a lot of which ``matching_pct`` of the standard's amount dyes the standard's colour.

    The lot was taken for 100 % strong: what matches at 110 % is 100 / 1.10 = 90.9 % strong. The two sums agree:
    ``at_lot_strength`` of 100 at this strength is ``matching_pct``.
    """
    return 10_000 / _positive(matching_pct, "The percent that matches", "what was dyed, such as 110")


# Several dyes in one colour


def share_of(part, parts):
    """The share (0 to 1) of ``part`` in ``parts`` as a notebook writes them: 2 of 3:2:1 is a third."""
    parts = [_not_negative(each, "A part") for each in parts]
    if not sum(parts):
        raise ValueError("The parts add up to nothing: write at least one above zero, such as 3:2:1.")
    return _not_negative(part, "A part") / sum(parts)


def blend_ml(fibre_g, depth_pct, parts, strengths_pct):
    """Stock solution (mL) of each dye of a blend whose dyes stand in ``parts`` by mass.

    ``depth_pct``: of all dyes together. ``parts``, ``strengths_pct``: one number per dye, in the same order.
    """
    parts, strengths_pct = list(parts), list(strengths_pct)
    if len(parts) != len(strengths_pct):
        raise ValueError("Each dye of a blend needs its part and its bottle's strength: fill in both.")
    return [
        stock_ml(fibre_g, _depth(depth_pct) * share_of(part, parts), strength)
        for part, strength in zip(parts, strengths_pct, strict=True)
    ]


# Bottles


def powder_for_stock_g(volume_ml, strength_pct):
    """Dye (g) to weigh for ``volume_ml`` of stock solution. Inverse: ``strength_pct``.

    It is dissolved in part of the water, then filled up to the volume: % w/v is of the finished solution.
    """
    return _volume(volume_ml) * _strength(strength_pct) / 100


def strength_pct(dye_g, volume_ml):
    """True strength of a bottle holding ``dye_g`` made up to ``volume_ml``."""
    strength = 100 * _positive(dye_g, "The dye", "the grams that were weighed") / _volume(volume_ml)
    if strength > STRONGEST_STOCK_PCT:
        raise ValueError("That is more dye than a solution can hold: check the grams and the volume.")
    return strength


def strength_to_dispense_pct(fibre_g, depth_pct, volume_ml):
    """The strength at which this depth is ``volume_ml``: a stock no stronger than it gives at least that."""
    depth = _positive(depth_pct, "The depth of shade", "the percent wanted on the fibre, such as 1")
    return _fibre(fibre_g) * depth / _volume(volume_ml)


def dilution_ml(from_pct, to_pct, volume_ml):
    """(stock, water) in mL that make ``volume_ml`` at ``to_pct`` from stock at ``from_pct``."""
    stronger, weaker, volume = _strength(from_pct), _strength(to_pct), _volume(volume_ml)
    if weaker > stronger:
        raise ValueError("Water can't make a stock stronger: choose a strength below the bottle's.")
    stock = volume * weaker / stronger
    return stock, volume - stock


# Bath


def bath_ml(fibre_g, liquor_ratio):
    """Bath (mL, water as 1 g/mL) at ``liquor_ratio`` mL to 1 g of dry fibre. Inverse: ``liquor_ratio``."""
    ratio = _positive(liquor_ratio, "The liquor ratio", "the mL of bath to 1 g of fibre, such as 30")
    return _fibre(fibre_g) * ratio


def liquor_ratio(bath_ml, fibre_g):
    """mL of bath to 1 g of dry fibre."""
    return _volume(bath_ml) / _fibre(fibre_g)


def water_to_pour_ml(bath_ml, added_ml=(), held_ml=0):
    """Water (mL) still to pour for a bath of ``bath_ml``.

    ``added_ml``: volumes of the stock and acid solutions that go in; ``held_ml``: water in the soaked fibre.
    """
    added = sum((_not_negative(ml, "The volume") for ml in added_ml), Decimal(0))
    water = _volume(bath_ml) - added - _not_negative(held_ml, "The water in the fibre")
    if water < 0:
        raise ValueError(
            "The stock, the acid and the wet fibre already hold more water than this bath: "
            "take more bath, stronger stock, or press the fibre out first."
        )
    return water


def per_litre(bath_ml, per_l):
    """g or mL of an assistant in a bath of ``bath_ml`` at ``per_l`` g/L or mL/L."""
    return _volume(bath_ml) * _not_negative(per_l, "The amount per litre") / 1000


def dye_left_mg_per_l(dye_g, exhaustion_pct, bath_ml):
    """Dye (mg/L) left in a bath once ``exhaustion_pct`` of it has gone onto the fibre."""
    taken = _not_negative(exhaustion_pct, "The exhaustion")
    if taken > 100:
        raise ValueError("Fibre can't take up more than all the dye: write an exhaustion of 100 % or less.")
    left_g = _not_negative(dye_g, "The dye") * (100 - taken) / 100
    return left_g * 1_000_000 / _volume(bath_ml)


# What can't be reckoned with


def _fibre(fibre_g):
    return _positive(fibre_g, "The weight of fibre", "the dry weight of the yarn in g, such as 100")


def _volume(volume_ml):
    return _positive(volume_ml, "The volume", "how much there is in mL, such as 250")


def _depth(depth_pct):
    return _not_negative(depth_pct, "The depth of shade")


def _strength(strength_pct):
    strength = _positive(strength_pct, "The strength of a solution", "the grams of dye in 100 mL, such as 1")
    if strength > STRONGEST_STOCK_PCT:
        raise ValueError("A solution can't hold that much dye: write the grams of dye in 100 mL, such as 1.")
    return strength


def _lot_strength(lot_strength_pct):
    strength = _positive(lot_strength_pct, "The strength of a powder lot", "100 for the studio's standard")
    if strength > STRONGEST_LOT_PCT:
        raise ValueError("A powder lot can't be above 400 %: write its strength, such as 100 or 85.")
    return strength


def _dyeable(dyeable_pct):
    share = _positive(dyeable_pct, "The part of the fibre that takes dye", "its percent by mass, such as 85")
    if share > 100:
        raise ValueError("No more than all of the fibre can take the dye: write 100 % or less.")
    return share


def _positive(value, what, how):
    number = exact(value)
    if number <= 0:
        raise ValueError(f"{what} must be more than zero: write {how}.")
    return number


def _not_negative(value, what):
    number = exact(value)
    if number < 0:
        raise ValueError(f"{what} can't be below zero: write 0 or more.")
    return number
