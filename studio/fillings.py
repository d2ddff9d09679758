"""What a measure of the studio's own holds: a spoon's fillings, weighed together -> grams, and how far off.

Pure: no Django. Weights in g, `Decimal` in and out. Uncertainties are standard uncertainties in the sense of
JCGM 100:2008 (GUM); twice one is about a 95 % interval.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

WEIGHED_ENOUGH = 10  # fillings to weigh; common practice, no source


@dataclass(frozen=True)
class Filling:
    """One filling of a measure with one dye, from its weighings.

    grams: of one filling, on average. spread_g: standard deviation of a single filling, None where it was weighed only
    once. mean_u_g: standard uncertainty of `grams` itself, None likewise. fillings, weighings: how many it rests on.
    """

    grams: Decimal
    spread_g: Decimal | None
    mean_u_g: Decimal | None
    fillings: int
    weighings: int

    def of(self, count):
        """(grams, standard uncertainty in g or None) of so many fillings, which may be halves.

        The fillings vary one by one, and all of them lean on the same mean, so by GUM 5.1.2 for `count` = n:
        u² = n·s² + (n·u(mean))², with s the spread of one filling. Half a filling varies as half of one does.
        """
        count = _above_zero(count, "number of fillings")
        if self.spread_g is None:
            return count * self.grams, None
        return count * self.grams, (count * self.spread_g**2 + (count * self.mean_u_g) ** 2).sqrt()

    def off_pct(self, count=1):
        """Standard uncertainty of so many fillings, in percent of what they hold; None where it is not known."""
        grams, u = self.of(count)
        return None if u is None else 100 * u / grams


def filling_from(weighings: Sequence[tuple], scale_step_g=None) -> Filling:
    """One filling, from weighings given as (fillings, grams together).

    m fillings weighed together vary as one does, less by root m when shared out; so with weighings i of m fillings
    and M fillings in all

        mean = Σ g / M,    s² = Σ m·(g/m - mean)² / (weighings - 1),    u(mean) = s / √M.

    With one filling in each weighing these are GUM 4.2.1 to 4.2.3; for the general case s² is the weighted variance
    of NIST's Dataplot reference manual (WEIGHTED STANDARD DEVIATION), for one filling instead of a usual weighing.

    `scale_step_g` [g]: the scale's, where it is known. Weighings that agree to the last figure don't make a perfect
    spoon: u(mean) is never less than what the scale itself leaves open, step/√6 a weighing (GUM F.2.2.1), and is
    not added to it, for the scatter holds it already (GUM 4.3.10).
    """
    said = [(_above_zero(m, "number of fillings"), _above_zero(g, "weight")) for m, g in weighings]
    if not said:
        raise ValueError("Weigh some fillings first: nothing is known of this measure.")
    fillings = sum(m for m, _ in said)
    mean = sum(g for _, g in said) / fillings
    if len(said) == 1:
        return Filling(mean, None, None, int(fillings), 1)
    spread = (sum(m * (g / m - mean) ** 2 for m, g in said) / (len(said) - 1)).sqrt()
    mean_u = spread / fillings.sqrt()
    if scale_step_g:
        mean_u = max(mean_u, Decimal(scale_step_g) * (Decimal(len(said)) / 6).sqrt() / fillings)
    return Filling(mean, spread, mean_u, int(fillings), len(said))


def _above_zero(value, what):
    number = Decimal(value)
    if not number.is_finite() or number <= 0:
        raise ValueError(f"The {what} has to be above zero, such as 2 or 0.5.")
    return number
