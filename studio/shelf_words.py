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


def about_g(grams, u_g, system="metric"):
    """What a spoon gave: "about 0.4 g ± 0.04 g", the uncertainty to one figure (to two where it begins with 1), and the
    amount no finer than that (GUM 7.2.6). ``u_g`` None: "about 0.4 g".
    """
    if not u_g:
        return f"about {units.write_g(grams, system)}"
    step = Decimal(1).scaleb(u_g.adjusted() - (u_g.as_tuple().digits[0] == 1))
    return f"about {units.write_g(grams, step=step)} ±{NO_BREAK_SPACE}{units.write_g(u_g, step=step)}"


def each_filling(filling):
    """One filling in words: "0.2 g, ±\u00a012\u00a0% each; 6 fillings ±\u00a05\u00a0%"."""
    grams = f"{units.write_number(filling.grams, digits=3)}{NO_BREAK_SPACE}g"
    if filling.spread_g is None:
        return f"{grams}; weighed once, so how far off one is, is not known"
    one, six = (f"±{NO_BREAK_SPACE}{_pct(filling.off_pct(count))}" for count in (1, 6))
    return f"{grams}, {one} each; 6 fillings {six}"


def _pct(pct):
    return units.write_pct(pct, digits=2 if pct >= 1 else 1)


def came_in_skeins(received, skein_g):
    """Whether a yarn lot came as whole skeins. What is no whole number of them came on cones, and goes by weight."""
    return skein_g is not None and not Decimal(received) % skein_g
