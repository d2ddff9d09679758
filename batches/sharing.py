"""Weighings of a jar or bottle -> what each unweighed sprinkle from it had.

Pure: no Django. A jar is weighed with its lid in the morning and in the evening, with no refill between. The
difference is what left it; the measured uses are taken off, and the rest is shared over the sprinkles that
nobody weighed. Weights in g, volumes in mL, `Decimal` in and out; wrong input raises `ValueError` with a
sentence.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import isqrt

from studio.money import Number, exact, rounded, split

SHARED = "shared"
TALLIES = "tallies"  # no sprinkles, and nothing missing that the scale could tell
TOO_LITTLE = "too little to weigh"
GAINED = "closing above opening"
OVER_MEASURED = "measured more than used"
MISSING = "missing"  # something left the jar and no sprinkle is logged

_PLACES = 3  # shares to the milligram, or to the thousandth of a mL


@dataclass(frozen=True)
class ShareOut:
    """What a container lost between two weighings, and who had it. `unit` is "g" or "mL" for all amounts."""

    outcome: str
    unit: str
    used: Decimal
    measured: Decimal
    rest: Decimal  # used less measured; below zero when more was logged than left the jar
    limit: Decimal  # a rest smaller than this can't be told from nothing
    parts: tuple[Decimal | None, ...]  # one per sprinkle, in order; None: still not known
    said: tuple[str, ...]  # sentences for the person

    @property
    def is_shared(self) -> bool:
        return self.outcome == SHARED


def share_out(
    opening_g: Number,
    closing_g: Number,
    measured_g: Number,
    sprinkles: Sequence[Number | None],
    *,
    scale_step_g: Number,
    measured_u_g: Number = 0,
) -> ShareOut:
    """Share what left a jar between two gross weighings [g] over its unweighed sprinkles.

    Parameters
    ----------
    opening_g, closing_g : gross weights [g], jar and lid included both times, no refill between.
    measured_g : sum of the weighed uses [g].
    sprinkles : one entry per unweighed sprinkle: its count of taps or pinches, or None when nobody counted.
    scale_step_g : the step of the scale [g].
    measured_u_g : standard uncertainty of `measured_g` [g], where it is known.

    The parts are in proportion to the taps and sum to the rest to the milligram (largest remainder). Where
    some sprinkles have a count and others don't, one without counts as the mean of those with. With no counts
    at all the parts are equal. Nothing is shared when the rest is too little to weigh (`smallest_difference`)
    or below zero: the parts stay unknown.
    """
    opening, closing, measured, step, measured_u = (
        _zero_or_more(opening_g, "opening weight"),
        _zero_or_more(closing_g, "closing weight"),
        _zero_or_more(measured_g, "measured amount"),
        exact(scale_step_g, "step of the scale"),
        _zero_or_more(measured_u_g, "uncertainty of the measured amount"),
    )
    return _share(opening - closing, measured, sprinkles, smallest_difference(step, measured_u), "g", ())


def share_out_bottle(
    opening_g: Number,
    closing_g: Number,
    measured_ml: Number,
    sprinkles: Sequence[Number | None],
    *,
    scale_step_g: Number,
    density_g_per_ml: Number = 1,
    measured_u_ml: Number = 0,
) -> ShareOut:
    """The same for a bottle that is weighed in g while its uses are in mL; all amounts come back in mL.

    A density of 1 g/mL is an approximation, and is said to be one: a stock of dye in water is a little
    heavier, and one thick with salt or thickener is more so.
    """
    opening, closing, measured, step, density, measured_u = (
        _zero_or_more(opening_g, "opening weight"),
        _zero_or_more(closing_g, "closing weight"),
        _zero_or_more(measured_ml, "measured amount"),
        exact(scale_step_g, "step of the scale"),
        exact(density_g_per_ml, "density"),
        _zero_or_more(measured_u_ml, "uncertainty of the measured amount"),
    )
    if density <= 0:
        raise ValueError("The density has to be above zero. Water has 1 g per mL.")
    said = ()
    if density == 1:
        said = ("The bottle was weighed in g and is counted in mL at 1 g per mL, which is an approximation.",)
    limit = smallest_difference(step / density, measured_u)
    return _share((opening - closing) / density, measured, sprinkles, limit, "mL", said)


def smallest_difference(scale_step: Number, measured_u: Number = 0) -> Decimal:
    """The smallest rest that two weighings on a scale can tell from nothing, in the unit of the step.

    A reading on a digital scale of step d has the standard uncertainty d/sqrt(12) (JCGM 100:2008, F.2.2.1);
    the difference of two readings has d/sqrt(6) (5.1.2), joined by that of the measured uses where it is
    known. The limit is twice that (6.2.1, k = 2, about 95 %): 0.82 of a step. So one whole step counts, and
    no step doesn't.
    """
    step = exact(scale_step, "step of the scale")
    if step <= 0:
        raise ValueError("The step of the scale has to be above zero, such as 0.1 g.")
    variance = step * step / 6 + exact(measured_u) ** 2
    # Root of 4·variance in millionths: an integer root, so that no float decides, and never zero.
    return Decimal(max(1, isqrt(int(4 * variance * 10**12)))).scaleb(-6)


def _share(used, measured, sprinkles, limit, unit, said) -> ShareOut:
    weights, said_of_taps = _weights(sprinkles)
    # Rounded first, so that used less measured is the rest in the figures shown.
    used, measured = rounded(used, _PLACES), rounded(measured, _PLACES)
    rest = used - measured
    outcome = _outcome(used, rest, limit, bool(weights))
    parts: tuple[Decimal | None, ...] = (None,) * len(weights)
    if outcome == SHARED:
        parts = tuple(split(rest, weights, _PLACES))
        said += said_of_taps
    sentence = _sentence(outcome, used, measured, rest, limit, unit, len(weights))
    return ShareOut(outcome, unit, used, measured, rest, limit, parts, (*sentence, *said))


def _outcome(used: Decimal, rest: Decimal, limit: Decimal, has_sprinkles: bool) -> str:
    if used <= -limit:
        return GAINED
    if rest <= -limit:
        return OVER_MEASURED
    if rest < limit or rest <= 0:
        return TOO_LITTLE if has_sprinkles else TALLIES
    return SHARED if has_sprinkles else MISSING


def _sentence(outcome, used, measured, rest, limit, unit, count) -> tuple[str, ...]:
    sprinkles = "the unweighed sprinkle" if count == 1 else "the unweighed sprinkles"
    unshared = " Nothing is shared out, and what was sprinkled stays unknown." if count else ""
    if outcome == GAINED:
        return (
            f"It holds {_plain(-used)} {unit} more at the end than at the start. Was it refilled, or weighed "
            f"with another lid, or mixed up with another? Correct the weighing.{unshared}",
        )
    if outcome == OVER_MEASURED:
        return (
            f"The log says {_plain(measured)} {unit} were measured out, but only "
            f"{_plain(max(used, Decimal(0)))} {unit} are gone. Check the weighings and the measured "
            f"amounts.{unshared}",
        )
    if outcome == TOO_LITTLE:
        return (
            f"Too little to weigh: this scale can't tell less than {_plain(limit, 2)} {unit} from nothing. "
            f"{sprinkles[0].upper()}{sprinkles[1:]} had less than that together, and no amount is given.",
        )
    if outcome == MISSING:
        return (
            f"{_plain(rest)} {unit} are gone that no entry names. Add the use that was not logged, or note "
            "that some was spilled.",
        )
    return ()


def _weights(sprinkles: Sequence[Number | None]) -> tuple[list[Fraction], tuple[str, ...]]:
    counts = [None if taps is None else exact(taps, "number of taps") for taps in sprinkles]
    counted = [taps for taps in counts if taps is not None]
    if any(taps <= 0 for taps in counted):
        raise ValueError("A sprinkle has no taps. Give it a number above zero, or strike it if nothing went in.")
    if not counted:
        return [Fraction(1)] * len(counts), ()
    mean = sum(counted, Fraction(0)) / len(counted)
    said = ()
    if len(counted) < len(counts):
        said = ("A sprinkle without a count of taps is taken as the mean of those with one.",)
    return [mean if taps is None else taps for taps in counts], said


def _zero_or_more(value: Number, what: str) -> Fraction:
    number = exact(value, what)
    if number < 0:
        raise ValueError(f"The {what} is below zero. Write it as zero or more.")
    return number


def _plain(value: Decimal, significant: int | None = None) -> str:
    if significant and value:
        value = rounded(value, max(0, significant - 1 - value.adjusted()))
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
