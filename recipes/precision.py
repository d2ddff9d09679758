"""What can be measured again with the tools at hand.

Floats; standard uncertainties in the sense of JCGM 100:2008 (GUM), in the unit of the tool's step. They say
how well the same tool repeats, not how true it is: a maker's tolerance is mostly the same each time, and
counts only where another tool takes over (add ``limits_u``).
"""

from decimal import Decimal
from math import hypot, isfinite, sqrt

SCALES_G = (1, 0.1, 0.01, 0.001)  # what scales show, the coarse ones first; common practice, no source
SYRINGES_ML = (1, 0.5, 0.2, 0.1, 0.05, 0.01)  # what syringes are marked in; common practice, no source

# What is told apart where no tool of the shelf says how finely it measures: two figures within it are one. A jug; a
# kitchen or probe thermometer; a strip; a hand that looks at the clock; a scale for yarn. Common practice, no source.
WATER_STEP_ML = Decimal(100)
TEMPERATURE_STEP_C = Decimal(2)
PH_STEP = Decimal("0.3")
TIME_STEP_MIN = Decimal(2)
YARN_STEP_G = Decimal(1)
SMALL_JUG_STEP_ML = Decimal(10)  # of a jug that holds less than a litre
ROUGH = Decimal("0.1")  # of an amount: a weigh-in's share of it, or spoons that were never weighed with their powder


def reading_u(step):
    """Standard uncertainty of one reading of a scale, syringe or jug marked in ``step``.

    A value between two marks is as likely anywhere within the step: step / sqrt(12) (GUM F.2.2.1).
    """
    return _positive(step, "The step of a tool", "the smallest it shows, such as 0.1") / sqrt(12)


def weighing_u(step):
    """Standard uncertainty of one weighing on a scale that shows ``step``: tare and load are two readings."""
    return sqrt(2) * reading_u(step)


def limits_u(limit):
    """Standard uncertainty of what is only known to lie within plus or minus ``limit`` (GUM 4.3.7)."""
    return _positive(limit, "The limit", "how far off it may be, such as 0.5") / sqrt(3)


def combined_u(*us):
    """Standard uncertainty of a sum or difference of independent amounts in one unit (GUM 5.1.2)."""
    return hypot(*us)


def relative_pct(u, amount):
    """``u`` in percent of ``amount``."""
    return 100 * _known(u) / _positive(amount, "The amount", "how much is measured")


def combined_pct(*relative_pcts):
    """Relative uncertainty (%) of a product or quotient of independent amounts (GUM 5.1.6)."""
    return hypot(*relative_pcts)


def smallest_amount(u, limit_pct):
    """The smallest amount whose standard uncertainty ``u`` is within ``limit_pct`` of it."""
    return 100 * _known(u) / _positive(limit_pct, "The limit", "the percent that may be off, such as 5")


def measured_pct(amount, step, *, weighed, goes=1):
    """How surely an amount repeats (%), measured with one tool of this ``step``, in so many ``goes``.

    ``weighed``: on a scale, two readings for each go; else drawn up, one reading. Only the tool's own reading counts:
    not how true the tool is, nor how surely the bottle was made that it draws from.
    """
    once = weighing_u(step) if weighed else reading_u(step)
    return relative_pct(once * sqrt(goes), amount)


def step_that_repeats(amount, limit_pct, steps, *, weighed):
    """The coarsest of ``steps`` with which an amount repeats within ``limit_pct``; None where none does."""
    fine = (step for step in sorted(steps, reverse=True) if measured_pct(amount, step, weighed=weighed) <= limit_pct)
    return next(fine, None)


def _known(u):
    u = float(u)
    if not isfinite(u) or u < 0:
        raise ValueError("An uncertainty can't be below zero: write how far off the amount may be.")
    return u


def _positive(value, what, how):
    number = float(value)
    if not isfinite(number) or number <= 0:
        raise ValueError(f"{what} must be more than zero: write {how}.")
    return number
