"""Making up a bottle: what to weigh or pour for its master, and how strong it turned out.

Amounts are Decimals in g or mL, as the lot's own unit says; what a lot holds is at standard strength, as in `holding`.
"""

from dataclasses import dataclass, field
from decimal import Decimal
from itertools import count

from django.db import IntegrityError, transaction
from django.db.models import Exists, OuterRef, Prefetch, Q

from recipes import dyeing
from recipes.holding import held, key_of, strength_at_standard
from studio.models import LEAST_PART, Content, Dye, Lot, Solution, SolutionPart, Tool
from studio.units import write_number

ZERO = Decimal(0)
LEAST_CONTENT = Decimal("0.000000001")  # g in 100 mL: the last digit that a bottle's contents are kept to


@dataclass(frozen=True)
class Source:
    """A lot that may go into the bottle. `wanted`: how much, if all of its substance comes from it; None: unknown."""

    lot: Lot
    wanted: Decimal | None = None
    step: Decimal | None = None  # what the finest tool for it can measure

    @property
    def told(self):
        """The amount as the hands can measure it; the exact one where no tool could."""
        rounded = Decimal(write_number(self.wanted, self.step)) if self.step else self.wanted
        return rounded or self.wanted


@dataclass(frozen=True)
class Part:
    """One substance of the master, and what the shelf has of it."""

    substance: object  # Dye or Assistant
    g_per_100: Decimal
    wanted: Decimal  # g (mL of a measured liquid) still to come, at standard strength
    sources: list[Source] = field(default_factory=list)


def shelf_for(solution):
    """The lots that may go into a bottle of this master, oldest first: what is left of each is in `on_hand`.

    Powder and assistants of its parts, and bottles that hold nothing but them. A substance with nothing left by
    the books keeps its newest lot: what is in the hand counts, not what the books say.
    """
    parts = list(solution.parts.all())
    dyes = {part.dye_id for part in parts if part.dye_id}
    assistants = {part.assistant_id for part in parts if part.assistant_id}
    strange = Content.objects.filter(lot=OuterRef("pk")).exclude(
        Q(source__dye__in=dyes) | Q(source__assistant__in=assistants)
    )
    something = Exists(Content.objects.filter(lot=OuterRef("pk")))
    poured = Q(solution__isnull=False, on_hand__gt=0) & something & ~Exists(strange)
    fits = Q(dye__in=dyes) | Q(assistant__in=assistants) | poured
    lots = list(with_contents(Lot.objects.all()).filter(fits))
    newest = {key_of(lot): lot for lot in lots if not lot.is_bottle}
    there = {key_of(lot) for lot in lots if not lot.is_bottle and lot.on_hand > 0}
    return [
        lot
        for lot in lots
        if lot.on_hand > 0 or (not lot.is_bottle and key_of(lot) not in there and newest[key_of(lot)] is lot)
    ]


def with_contents(lots):
    """With all that `held` reads, at a fixed number of queries."""
    sources = Lot.objects.with_facts().select_related("dye", "assistant")
    return (
        lots.with_on_hand()
        .with_facts()
        .select_related("dye", "assistant", "solution")
        .prefetch_related("contents", Prefetch("contents__source", sources))
        .order_by("came_at", "pk")
    )


def work_out(solution, volume, lots, tools=(), rest=None, rest_amount=ZERO):
    """What to weigh or pour for `volume` (mL; g of a dry mix) of this master: a `Part` for each substance.

    `lots`: what `shelf_for` gave; `tools`: the studio's scales and syringes. `rest`: an older bottle whose rest
    (`rest_amount`, mL) goes in first.
    """
    in_rest = (held(rest) or {}) if rest else {}
    made = []
    for row in solution.parts.all():
        key = key_of(row)
        wanted = dyeing.powder_for_stock_g(volume, row.g_per_100) - in_rest.get(key, ZERO) * rest_amount
        wanted = max(wanted, ZERO)
        bought = [lot for lot in lots if not lot.is_bottle and key_of(lot) == key]
        poured = [lot for lot in lots if lot.solution_id != solution.pk and _stronger(lot, key, row.g_per_100)]
        sources = [_source(lot, key, wanted, tools) for lot in bought + poured]
        made.append(Part(row.dye or row.assistant, row.g_per_100, wanted, sources))
    return made


def master_for(substance, strength_pct):
    """The master that holds this dye or assistant alone, so strong (g in 100 mL); a new one where there is none.

    Two people who ask for it at the same time both get the one that was there first.
    """
    try:
        return _found_or_described(substance, strength_pct)
    except IntegrityError:  # somebody described another by hand, under the very name: look again
        return _found_or_described(substance, strength_pct)


@transaction.atomic
def _found_or_described(substance, strength_pct):
    type(substance).objects.select_for_update().get(pk=substance.pk)  # the second one waits here, and finds it
    return _alone(substance, strength_pct) or _described(substance, strength_pct)


def _column(substance):
    return "dye" if isinstance(substance, Dye) else "assistant"


def _alone(substance, strength_pct):
    so_strong = Solution.objects.filter(**{f"parts__{_column(substance)}": substance}, parts__g_per_100=strength_pct)
    return next((each for each in so_strong.prefetch_related("parts") if each.only_part), None)


def _described(substance, strength_pct):
    master = Solution.objects.create(name=_free_name(f"{str(substance)[:60]} {write_number(strength_pct)} %"))
    master.write_parts([SolutionPart(**{_column(substance): substance}, g_per_100=strength_pct)])
    return master


def _free_name(stem):
    names = (stem if number == 1 else f"{stem}, {number}" for number in count(1))
    return next(name for name in names if not Solution.objects.filter(name__iexact=name).exists())


def weaker_master(lot, strength_pct):
    """The master of all that a bottle holds, thinned to so strong (g of dye in 100 mL, at the studio's standard); a new
    one of the same kind where there is none. Raises ValueError with a sentence where it would be stronger, or only
    water.
    """
    now_pct = strength_at_standard(lot)
    dyeing.dilution_ml(now_pct, strength_pct, 1)  # says what can't be
    amount = SolutionPart._meta.get_field("g_per_100").rounded
    parts = {key: amount(100 * grams * strength_pct / now_pct) for key, grams in held(lot).items()}
    if min(parts.values()) < LEAST_PART:
        raise ValueError("So weak a bottle can't be told from water: write more, such as 0.1.")
    with transaction.atomic():
        strong = Solution.objects.select_for_update().get(pk=lot.solution_id)  # the second one waits here, and finds it
        return _holding(parts) or _thinned(strong, parts)


def _holding(parts):
    (column, pk), least = min(parts.items(), key=lambda part: part[1])
    found = Solution.objects.filter(**{f"parts__{column}": pk}, parts__g_per_100=least, retired=False)
    wet = found.exclude(kind=Solution.Kind.DRY).prefetch_related("parts")
    return next((each for each in wet if {key_of(part): part.g_per_100 for part in each.parts.all()} == parts), None)


def _thinned(strong, parts):
    stem = strong.name.rsplit(" ", 2)[0] if strong.name.endswith("%") else strong.name
    name = _free_name(f"{stem[:60]} {write_number(sum(parts.values()), digits=3)} %")
    master = Solution.objects.create(name=name, kind=strong.kind, keeps_days=strong.keeps_days)
    master.write_parts(SolutionPart(**{f"{column}_id": pk}, g_per_100=each) for (column, pk), each in parts.items())
    return master


def mixes(solution, lots):
    """Bottles of several substances: how much of them to pour is for the hands to say."""
    return [
        Source(lot) for lot in lots if lot.is_bottle and lot.solution_id != solution.pk and len(held(lot) or ()) > 1
    ]


def _stronger(lot, key, g_per_100):
    """Whether a bottle holds this substance alone, and more of it than the new one is to hold."""
    found = held(lot) if lot.is_bottle else None
    return bool(found) and set(found) == {key} and found[key] * 100 > g_per_100


def _source(lot, key, wanted, tools):
    of_lot = wanted / held(lot)[key]
    return Source(lot, of_lot, Tool.step_for(of_lot, lot.unit, tools))


def why_not(parts, volume, dry):
    """Why these parts can't make `volume`, as a sentence; "" if they can. `parts`: pairs of a lot and an amount."""
    if any(g * 100 / volume < LEAST_CONTENT for lot, amount in parts for g in lot.holds(amount)[0].values()):
        return "So little of it went in that it can't be told from nothing: leave it out, or check the amounts."
    poured = sum((amount for lot, amount in parts if lot.unit == "mL"), ZERO)
    weighed = sum((amount for lot, amount in parts if lot.unit == "g"), ZERO)
    if dry:
        return "" if weighed <= volume else "The parts weigh more than the whole mix: check what was weighed."
    if poured > volume:
        return "More was poured in than the bottle was filled to: check the volumes."
    if weighed > volume:
        return "That is more powder than a solution can hold: check the grams and the volume."
    return ""
