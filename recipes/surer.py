"""The one rule for what can be measured again with the tools at hand, and what would do where they can't.

An amount that repeats less surely than the studio wants (`Studio.repeats_pct`) is said in one sentence, whatever it is:
dye or assistant, weighed or drawn up. A weighing is two readings, a syringe one, and the tool is the finest that takes
the amount. What the bottle itself is off by is left out: it was weighed and filled with more than its pots take of it.
So is water: it goes by the jug.
"""

from dataclasses import dataclass
from decimal import Decimal
from math import ceil

from studio.models import Tool
from studio.naming import lot_name
from studio.units import NO_BREAK_SPACE, write_g, write_ml, write_number, write_pct

from . import dyeing, precision
from .meaning import own_unit, painted
from .models import How
from .offers import written

STRENGTHS = [Decimal(each) for each in ("5", "2", "1", "0.5", "0.2", "0.1", "0.05", "0.02", "0.01")]  # as studios keep
MOST_GOES = 3  # filling a small syringe oftener is no help; common practice, no source
TO_SPARE = 2  # a bottle made for it should repeat so many times as surely: it has an uncertainty of its own
THIN = Decimal(10)  # a liquid is thinned so many times; common practice, no source


@dataclass(frozen=True)
class Bench:
    """The studio's scales, syringes and cylinders, and the percent within which an amount has to repeat."""

    tools: list
    limit_pct: Decimal

    @classmethod
    def of(cls, tools, studio):
        return cls(list(tools), studio.repeats_pct)

    def step(self, amount, unit):
        return Tool.step_for(amount, unit, self.tools)

    def off_pct(self, amount, unit, step=None, goes=1):
        """How surely an amount (g or mL, above zero) repeats, in percent; with the tool at hand unless said."""
        step = self.step(amount, unit) if step is None else step
        return precision.measured_pct(amount, step, weighed=unit == "g", goes=goes)

    def repeats(self, amount, unit):
        """Whether the tool at hand shows this amount at all, and repeats it within the studio's limit."""
        return amount >= self.step(amount, unit) / 2 and self.off_pct(amount, unit) <= self.limit_pct


def why_unsure(line, bench, offers=()):
    """One sentence: that the line's amount can't be measured, or not surely enough, and what would do. "" if it can.

    `line`: a plan's, with its exact amount. `offers`: what the shelf has for it.
    """
    said = unsure_words(line.exact, line.unit, bench)
    would_do = [one for one in (_bottle(line, bench, offers), _tool(line, bench)) if one] if said else []
    return f"{said}: {', or '.join(would_do)}." if would_do else said and f"{said}."


def strength_that_would_do(line, bench, offers=()):
    """The strength (%) of a bottle to be made, of which this line's amount could be measured; None where it can be
    measured as it is, a bottle that is there would do, or none would.
    """
    if not unsure_words(line.exact, line.unit, bench) or _in_no_bottle(line):
        return None
    grams, now_pct = _grams(line), _strength_now(line)
    if _bottle_there(line, grams, now_pct, bench, offers) is not None:
        return None
    return _strength(line, grams, now_pct, bench)


def unsure_words(amount, unit, bench):
    """ "0.03 g repeats only to ± 14 % on a scale that shows 0.01 g"; "" for what repeats well enough, or is nothing."""
    if not amount or bench.repeats(amount, unit):
        return ""
    step = bench.step(amount, unit)
    tool = f"on a scale that shows {write_g(step)}" if unit == "g" else f"in steps of {write_ml(step)}"
    if amount < step / 2:
        return f"{written(amount, unit)} is too little to {'weigh' if unit == 'g' else 'measure'} {tool}"
    off = write_number(bench.off_pct(amount, unit), digits=2)
    return f"{written(amount, unit)} repeats only to \u00b1 {off}{NO_BREAK_SPACE}% {tool}"


# --- a bottle that would do


def _bottle(line, bench, offers):
    """ "take 3 mL of a 1 % bottle": of one that is there, else of one to be made; "" where none would help."""
    if line.ingredient.how == How.SPRINKLED:
        return ""  # it goes on dry
    if line.ingredient.solution_id or own_unit(line.ingredient) == "mL":
        return _thinned(line, bench)
    grams, now_pct = _grams(line), _strength_now(line)
    there = _bottle_there(line, grams, now_pct, bench, offers)
    if there is not None:
        return f"take {_told_ml(there.amount_of(grams), bench)} of {lot_name(there.lot)}"
    strength = _strength(line, grams, now_pct, bench)
    if strength is None:
        return ""
    return f"take {_told_ml(100 * grams / strength, bench)} of a {write_pct(strength)} bottle"


def _in_no_bottle(line):
    """What goes on dry, is a mix, or is a liquid as it was bought: no bottle of one substance is made for it."""
    ingredient = line.ingredient
    return ingredient.how == How.SPRINKLED or ingredient.solution_id or own_unit(ingredient) == "mL"


def _strength_now(line):
    """How strong (%) what the line is taken from is; powder is 100."""
    return 100 * _grams(line) / line.exact if line.unit == "mL" else Decimal(100)


def _bottle_there(line, grams, now_pct, bench, offers):
    """The `Offer` of a weaker bottle with enough in it, of which so much could be measured; or None."""
    weaker = [offer for offer in offers if offer.lot.solution_id and offer.per_unit * 100 < now_pct]
    for offer in sorted(weaker, key=lambda offer: -offer.per_unit):
        volume = offer.amount_of(grams)
        if bench.repeats(volume, "mL") and offer.free >= volume and not painted(line.ingredient):
            return offer
    return None


def _grams(line):
    """g of the substance in a line of dye or of what is weighed, as the bottle for it would be made."""
    if line.dye_g is not None:
        return line.dye_g
    return line.exact if line.unit == "g" else line.exact * (line.ingredient.strength_pct or Decimal(100)) / 100


def _strength(line, grams, now_pct, bench):
    """The strongest usual strength (%), weaker than now, at which this much surely repeats; painted no weaker than
    it is painted.
    """
    least = line.ingredient.strength_pct if painted(line.ingredient) else 0
    for share in (TO_SPARE, 1):
        for strength in STRENGTHS:
            volume = dyeing.stock_ml(grams, 100, strength)
            if least <= strength < now_pct and bench.off_pct(volume, "mL") <= bench.limit_pct / share:
                return strength
    return None


def _thinned(line, bench):
    """A liquid or a mix that can be measured once it is thinned; "" for paint, whose strength stays."""
    volume = line.exact * THIN
    if painted(line.ingredient) or line.unit != "mL" or not bench.repeats(volume, "mL"):
        return ""
    return f"thin some with {THIN - 1} times as much water and take {_told_ml(volume, bench)}"


def _told_ml(volume, bench):
    return write_ml(Decimal(write_number(volume, bench.step(volume, "mL"))))


# --- a tool that would do


def _tool(line, bench):
    """A finer tool of the studio's own, in a few goes; else what one would have to show."""
    for tool in sorted(bench.tools, key=lambda tool: -tool.step):
        if tool.unit != line.unit or tool.largest is None or tool.largest >= line.exact:
            continue  # what takes it at once was thought of
        goes = ceil(line.exact / tool.largest)
        if goes <= MOST_GOES and bench.off_pct(line.exact, line.unit, tool.step, goes) <= bench.limit_pct:
            return f"measure it in {goes} goes with \u201c{tool}\u201d"
    weighed = line.unit == "g"
    steps = precision.SCALES_G if weighed else precision.SYRINGES_ML
    step = precision.step_that_repeats(line.exact, bench.limit_pct, steps, weighed=weighed)
    if step is None:
        return ""
    return f"use a scale that shows {write_g(step)}" if weighed else f"use a syringe marked every {write_ml(step)}"
