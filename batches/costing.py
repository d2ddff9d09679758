"""What one sellable skein of a run cost, from quantities and prices.

Pure: no Django. Amounts of money are `Decimal` major units, ready for `studio.money.to_minor`. Everything is
worked out in exact fractions; money is rounded once, on the sheet, so that its lines, its outputs and its
skeins each sum to the same total. Wrong input raises `ValueError` with a sentence.

Who bears what
--------------
- Yarn goes to the outputs of its own base; dye and all the rest go to every output, by weight of skein.
- A second bears a part of what a first of its weight bears (the studio's setting).
- Samples and lost skeins bear nothing: the others carry them.
- Prepared skeins, skeins to be dyed again and a customer's own bear a full part, which goes on with them.
  (IAS 2 *Inventories*, paragraph 10: costs incurred in bringing inventories to their present location and
  condition.)
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from studio.money import Number, exact, rounded, split

KINDS = ("yarn", "dye", "assistant", "energy", "labour", "overhead")
CARRIED = "carried"  # a skein's part for seconds, samples and lost skeins

FIRST, SECOND, SAMPLE, AGAIN, PREPARED, LOST, RETURNED = (
    "first",
    "second",
    "sample",
    "again",
    "prepared",
    "lost",
    "customer",
)
GRADES = (FIRST, SECOND, SAMPLE, AGAIN, PREPARED, LOST, RETURNED)
SELLABLE = (FIRST, SECOND)
BEARS_NOTHING = (SAMPLE, LOST)
MOST_SKEINS = 10_000  # of one output; each is booked by itself


@dataclass(frozen=True)
class Rate:
    """A price: `cost` for `per` units, such as a lot's landed cost for the grams received, or a wage for 60 minutes.

    Kept as the two numbers it came from. The price of one gram is a fraction, and is never rounded or stored.
    """

    cost: Number
    per: Number = 1

    def __post_init__(self):
        if exact(self.per, "amount received") <= 0:
            raise ValueError("A price needs an amount above zero that it was paid for.")
        if exact(self.cost, "price") < 0:
            raise ValueError("A price can't be below zero. Write zero if it cost nothing.")

    def of(self, amount: Number) -> Fraction:
        """What `amount` units cost, exactly."""
        return exact(amount) * exact(self.cost) / exact(self.per)


@dataclass(frozen=True)
class Use:
    """Something the run took. An amount or a price of None is not known, which is another thing than zero.

    `base` names the base whose outputs alone bear it: always given for yarn, left out for what all of them share.
    """

    kind: str
    words: str
    amount: Number | None  # g, mL, kWh, minutes, batches: whatever unit the rate is per
    rate: Rate | None
    base: str | None = None

    @property
    def exact_cost(self) -> Fraction | None:
        if self.amount is None or self.rate is None:
            return None
        return self.rate.of(self.amount)


@dataclass(frozen=True)
class Made:
    """One output of the run: `count` skeins of one base, weight [g each] and grade."""

    key: str
    base: str
    count: int
    skein_g: Number
    grade: str = FIRST


@dataclass(frozen=True)
class Line:
    """One line of a sheet, or one part of a skein's cost. An amount of None is not known."""

    kind: str
    words: str
    amount: Decimal | None


@dataclass(frozen=True)
class Share:
    """What one output bears."""

    output_key: str
    grade: str
    count: int
    total: Decimal
    each: Decimal | None  # what a skein is shown to cost: the total over the count, half a unit up
    booked: tuple[Decimal, ...]  # one per skein; they sum to the total, the dearer ones first
    parts: tuple[Line, ...]  # where `each` comes from, by kind; they sum to it
    at_least: bool  # something this output bears has no known cost


@dataclass(frozen=True)
class Sheet:
    """A run's cost. Known lines sum to `total`; so do the shares, where anything made can bear it."""

    total: Decimal
    lines: tuple[Line, ...]
    shares: tuple[Share, ...]
    at_least: bool
    said: tuple[str, ...]


def cost_sheet(uses: Sequence[Use], outputs: Sequence[Made], second_pct: Number = 60, places: int = 2) -> Sheet:
    """Cost of a run and of each skein that came out of it.

    Parameters
    ----------
    uses : what went in, with prices. Strikes are left out by the caller.
    outputs : what came out, lost skeins and samples too, so that a skein's parts can say what it carries.
    second_pct : what a second bears of the cost of a first of the same weight [%], 0 to 100.
    places : digits after the point of the currency (`studio.money.minor_units`).
    """
    _check(uses, outputs)
    bearing = _bearing_g(outputs, second_pct)
    present = [exact(made.skein_g) * made.count for made in outputs]
    said: list[str] = []

    known = [(use, cost) for use in uses if (cost := use.exact_cost) is not None]
    total = rounded(sum((cost for _, cost in known), Fraction(0)), places)
    amounts = iter(_split_or_zero(total, [cost for _, cost in known], places))
    lines = tuple(Line(use.kind, use.words, None if use.exact_cost is None else next(amounts)) for use in uses)

    borne = [_spread(use, cost, outputs, bearing, said) for use, cost in known]
    plain = [_spread(use, cost, outputs, present, []) for use, cost in known]
    output_costs = [sum((row[i] for row in borne), Fraction(0)) for i in range(len(outputs))]
    totals = _split_or_zero(total, output_costs, places)

    unknown = [use for use in uses if use.exact_cost is None]
    # Spreading one unit of money shows who bears a cost that has no figure.
    touched = [_spread(use, Fraction(1), outputs, bearing, said) for use in unknown]
    shares = tuple(
        _share(
            made,
            totals[i],
            _parts_of(made, known, [row[i] for row in plain]) if bearing[i] else {},
            any(row[i] for row in touched),
            places,
        )
        for i, made in enumerate(outputs)
    )
    said += [_unknown_sentence(use) for use in unknown]
    if outputs and not any(bearing):
        said.append("Nothing was made that can bear the cost, so all of it is a loss.")
    return Sheet(total, lines, shares, bool(unknown), tuple(dict.fromkeys(said)))


def _check(uses: Sequence[Use], outputs: Sequence[Made]) -> None:
    for use in uses:
        if use.kind not in KINDS:
            raise ValueError(f"A cost is one of {', '.join(KINDS)}, not {use.kind!r}.")
        if use.kind == "yarn" and use.base is None:
            raise ValueError(f"{use.words}: say which base this yarn is, so that its own skeins bear its cost.")
        if use.amount is not None and exact(use.amount) < 0:
            raise ValueError(f"{use.words}: the amount is below zero. Write zero or more, or leave it unknown.")
    for made in outputs:
        if made.grade not in GRADES:
            raise ValueError(f"A skein's grade is one of {', '.join(GRADES)}, not {made.grade!r}.")
        if not 0 <= made.count <= MOST_SKEINS or made.count != int(made.count):
            raise ValueError(f"The number of skeins has to be a whole number from 0 to {MOST_SKEINS}.")
        if made.skein_g is None or exact(made.skein_g, "skein weight") <= 0:
            raise ValueError("A skein's weight has to be above zero, because the cost is shared by weight.")
    if len({made.key for made in outputs}) < len(outputs):
        raise ValueError("Two outputs have the same name. Give each its own.")


def _bearing_g(outputs: Sequence[Made], second_pct: Number) -> list[Fraction]:
    """Grams of each output, less for seconds and none for what bears nothing."""
    of_first = exact(second_pct, "share of a second") / 100
    if not 0 <= of_first <= 1:
        raise ValueError("A second bears between 0 and 100 % of what a first does.")
    bearing = [
        Fraction(0)
        if made.grade in BEARS_NOTHING
        else exact(made.skein_g) * made.count * (of_first if made.grade == SECOND else 1)
        for made in outputs
    ]
    if not any(bearing):
        # Seconds that bear nothing of a first bear all of it when there is no first.
        bearing = [exact(made.skein_g) * made.count if made.grade == SECOND else Fraction(0) for made in outputs]
    return bearing


def _spread(
    use: Use, cost: Fraction, outputs: Sequence[Made], weights: list[Fraction], said: list[str]
) -> list[Fraction]:
    """`cost` over the outputs in proportion to `weights`, to those of its own base where it has one."""
    own = [
        weight if use.base in (None, made.base) else Fraction(0) for made, weight in zip(outputs, weights, strict=True)
    ]
    if use.base is not None and not any(own) and any(weights):
        said.append(f"{use.words}: no skein of this base bears its cost, so all the others do.")
        own = weights
    together = sum(own, Fraction(0))
    return [cost * weight / together if together else Fraction(0) for weight in own]


def _parts_of(made: Made, known, plain: list[Fraction]) -> dict[str, Fraction]:
    """Cost by kind of one skein of this output, as if all skeins had come out alike."""
    by_kind: dict[str, Fraction] = {}
    for kind in KINDS:
        costs = [cost for (use, _), cost in zip(known, plain, strict=True) if use.kind == kind]
        if costs and made.count:
            by_kind[kind] = sum(costs, Fraction(0)) / made.count
    return by_kind


def _share(made: Made, total: Decimal, by_kind: dict[str, Fraction], at_least: bool, places: int) -> Share:
    if not made.count:
        return Share(made.key, made.grade, 0, total, None, (), (), at_least)
    each = rounded(exact(total) / made.count, places)
    booked = tuple(sorted(split(total, [1] * made.count, places), reverse=True))
    parts = _parts(each, by_kind, places) if by_kind else ()
    return Share(made.key, made.grade, made.count, total, each, booked, parts, at_least)


def _parts(each: Decimal, by_kind: dict[str, Fraction], places: int) -> tuple[Line, ...]:
    """Lines that sum to `each`. A second carries less than nothing: it bears less than its weight."""
    alike = rounded(sum(by_kind.values(), Fraction(0)), places)
    amounts = _split_or_zero(alike, list(by_kind.values()), places)
    parts = [Line(kind, kind.capitalize(), amount) for kind, amount in zip(by_kind, amounts, strict=True)]
    if each != alike:
        parts.append(Line(CARRIED, "For seconds, samples and lost skeins", each - alike))
    return tuple(parts)


def _split_or_zero(total: Decimal, weights: list[Fraction], places: int) -> list[Decimal]:
    return split(total, weights, places) if any(weights) else [rounded(0, places)] * len(weights)


def _unknown_sentence(use: Use) -> str:
    what = "price" if use.rate is None else "amount"
    both = "neither amount nor price is" if use.rate is None and use.amount is None else f"the {what} is not"
    return f"{use.words}: {both} known, so the cost is at least what is shown."
