"""How much of a lot, as a dyer says it: skeins of yarn, grams of powder, millilitres of a bottle. Pure: no Django."""

from decimal import Decimal

from studio import units
from studio.units import NO_BREAK_SPACE


def said(amount, unit, skein_g=None, system="metric"):
    """``amount`` (g or mL, as ``unit`` says) in words: "34 skeins", "2 skeins and 50 g", "1.25 kg", "410 mL".

    ``skein_g``: what a skein weighs, for a yarn that came in skeins. None is "not known".
    """
    if amount is None:
        return "not known"
    sign = "\u2212" if amount < 0 else ""
    size = abs(amount)
    if skein_g:
        return sign + in_skeins(size, skein_g, system)
    return sign + (units.write_g(size, system) if unit == "g" else units.write_ml(size, system))


def in_skeins(grams, skein_g, system="metric"):
    """Whole skeins and the rest by weight; under one skein by weight alone."""
    skeins, rest = divmod(grams, skein_g)
    if rest and not skeins:
        return units.write_g(grams, system)
    whole = f"{skeins:.0f}{NO_BREAK_SPACE}{'skein' if skeins == 1 else 'skeins'}"
    return f"{whole} and {units.write_g(rest, system)}" if rest else whole


def came_in_skeins(received, skein_g):
    """Whether a yarn lot came as whole skeins. What is no whole number of them came on cones, and goes by weight."""
    return skein_g is not None and not Decimal(received) % skein_g
