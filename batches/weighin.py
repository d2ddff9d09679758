"""The weigh-in: one number for each jar or bottle, and from two of them what each unweighed use had.

A weighing opens a span for the next one, unless something was filled in between. The measured uses of the span are
taken off what is gone; the rest is shared over its unweighed uses, whichever batches they went into. Where that
can't be done the span stays open: the next weighing counts from the same start again, so a slip of the scale or
of the pen costs nothing but one more weighing.
"""

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from decimal import Decimal

from django.db import transaction
from django.db.models import Exists, Min, OuterRef, Q, Sum
from django.utils import timezone

from recipes.models import How
from recipes.precision import combined_u
from studio.models import Lot, Measure, Movement, ShareOut, Tool, Weighing
from studio.money import split
from studio.naming import lot_name
from studio.units import write_count

from . import sharing
from .models import AdditionLot, PlanLine
from .telling import fillings_said
from .wording import precise, weight

FIRST_KEPT = "This is its first weight, and it is kept. Weigh it again tonight to know what was taken unweighed."
AFTER_REFILL = (
    "It was filled up since it was last weighed, so this weight is kept as a new start. Weigh it again tonight."
)
NOTHING_OPEN = "Nothing was taken from it unweighed since it was last weighed."
KEPT_IN_ML = "It was weighed in g and is counted in mL at 1 g per mL, which is an approximation."

# What two weighings and some measuring may be off together: common practice, no source.
SMALL_STEPS = 5
SMALL_PART = Decimal("0.05")

ASKED_FOR = timedelta(days=14)
MOST = 200
NOON_IS_OVER = 14  # o'clock: from here on the day's jars come back
MORNING_ENDS = 11  # o'clock: what was used by then may come back as well

FILLED = (Movement.Kind.RECEIVED, Movement.Kind.MADE, Movement.Kind.RETURNED)
MEASURED = (Movement.Kind.USED, Movement.Kind.MADE_INTO, Movement.Kind.TIPPED)


@dataclass(frozen=True)
class Span:
    """What lies between an opening weighing and now: measured uses, unweighed ones, and what they come to."""

    opening: Weighing
    open_uses: tuple
    result: sharing.ShareOut

    @property
    def shares(self):
        return list(zip(self.open_uses, self.result.parts, strict=True)) if self.result.is_shared else []


def weigh(lot, gross_g, *, by, clock=timezone.now, opening_g=None, empty_g=None):
    """Weigh a lot's container [g]; share out what was taken unweighed since it was last weighed. -> Weighing

    `opening_g`: its weight before the first unweighed use, as somebody noted it; taken only while no weighing
    opens the span. `empty_g`: what the container weighs empty, where somebody says it now. Raises ValueError with a
    sentence for a weight below the empty container's.
    """
    with transaction.atomic():
        lot = Lot.lock([lot.pk])[lot.pk]
        now = clock()
        if empty_g is not None:
            lot.correct(by=by, why="Said at the weigh-in.", clock=lambda: now, tare_g=empty_g)
        refuse_lighter_than_empty(lot, gross_g)
        if opening_g is not None:
            refuse_lighter_than_empty(lot, opening_g)
            _note_opening(lot, opening_g, by=by, now=now)
        span = look(lot, gross_g, at=now)
        closing = Weighing.objects.create(lot=lot, gross_g=gross_g, at=now, recorded_at=now, by=by)
        if span is not None:
            _share_out(lot, span, closing, by=by, now=now)
    return closing


def refuse_lighter_than_empty(lot, gross_g, empty_g=None):
    """`empty_g`: as somebody says it now; else as the shelf knows it."""
    empty_g = lot.empty_g() if empty_g is None else empty_g
    if None not in (empty_g, gross_g) and gross_g < empty_g:
        raise ValueError(
            f"{weight(gross_g)} is less than the empty container weighs ({weight(empty_g)}): "
            "weigh it again, with its lid."
        )


def look(lot, gross_g, *, at, opening_g=None):
    """The `Span` that a weighing at this time would close, or None where none is open. Writes nothing."""
    opening = opening_of(lot, at)
    if opening is None and opening_g is not None:
        opening = Weighing(lot=lot, gross_g=opening_g, at=_before_first_use(lot) or at)
    if opening is None:
        return None
    uses = tuple(_open_uses(lot, opening.at, at))
    step = Tool.step_for(max(opening.gross_g, gross_g), "g", Tool.objects.filter(retired=False))
    measured = _measured(lot, opening.at, at)
    if lot.unit == Lot.Unit.ML:
        share = sharing.share_out_bottle(opening.gross_g, gross_g, measured, _counted(uses), scale_step_g=step)
    else:
        off = _measured_u(lot, opening.at, at)
        share = sharing.share_out(
            opening.gross_g, gross_g, measured, _counted(uses), scale_step_g=step, measured_u_g=off
        )
    return Span(opening, uses, share)


def opening_of(lot, at):
    """The weighing that the next one is compared with, or None: the last before any filling up, and from there
    back to where a span began that could not be settled."""
    opening = lot.weighings.filter(at__lte=at).order_by("at", "pk").last()
    while opening is not None and (unsettled := _unsettled_span(opening)) is not None:
        opening = unsettled.opening
    if opening is None or filled_since(lot, opening.at, at):
        return None
    return opening


def _unsettled_span(closing):
    span = ShareOut.objects.filter(closing=closing).select_related("opening").first()
    return span if span is not None and span.said else None


def filled_since(lot, begin, end):
    """Whether something was put into the container in that time, so that two weights can't be compared."""
    return lot.movements.filter(kind__in=FILLED, at__gt=begin, at__lte=end, reversed_by__isnull=True).exists()


def _measured(lot, begin, end):
    """What was taken out by measure, less what was struck out again."""
    within = lot.movements.filter(at__gt=begin, at__lte=end)
    taken = within.filter(Q(kind__in=MEASURED) | Q(kind=Movement.Kind.REVERSED, reverses__kind__in=MEASURED))
    return max(-(taken.aggregate(total=Sum("amount"))["total"] or Decimal(0)), Decimal(0))


def _measured_u(lot, begin, end):
    """How far off the measured uses may be [g]: of those that came by a measure of the studio's own.

    All fillings of one measure lean on the same mean, so they are taken together, not one use at a time. A measure
    that was weighed only once adds nothing: how far off it is, nobody knows. What came off a scale is far surer.
    """
    within = lot.movements.filter(at__gt=begin, at__lte=end, kind=Movement.Kind.USED, reversed_by__isnull=True)
    used = within.filter(addition__measure__isnull=False, amount__isnull=False)
    rows = used.order_by().values_list("addition__measure").annotate(fillings=Sum("addition__fillings"))
    fillings = dict(rows)
    found = []
    for measure in Measure.objects.filter(pk__in=fillings):
        held = measure.holds_of(lot.dye_id)
        found.append((held.of(fillings[measure.pk])[1] if held else None) or 0)
    return combined_u(*found)


def _open_uses(lot, begin, end):
    """Unweighed uses of that time that nothing has settled."""
    uses = lot.movements.open_unweighed().filter(at__gt=begin, at__lte=end)
    return uses.select_related("addition").order_by("at", "pk")


def _counted(uses):
    """How much each use counts for where they share: its taps, or its fillings where all were of one measure."""
    added = [getattr(use, "addition", None) for use in uses]
    measures = {one.measure_id for one in added if one is not None and one.measure_id}
    if len(measures) == 1 and not any(one is not None and one.taps for one in added):
        return [one and one.fillings for one in added]
    return [one and one.taps for one in added]


def _before_first_use(lot):
    """The morning of the first use that is still open: when a weight noted on paper was taken."""
    first = lot.movements.open_unweighed().aggregate(first=Min("at"))["first"]
    if first is None:
        return None
    morning = datetime.combine(timezone.localtime(first).date(), time(0), tzinfo=timezone.get_current_timezone())
    return max(morning, lot.came_at)


def _note_opening(lot, gross_g, *, by, now):
    at = _before_first_use(lot)
    if at is not None and opening_of(lot, now) is None:
        Weighing.objects.create(lot=lot, gross_g=gross_g, at=at, recorded_at=now, by=by)


def _share_out(lot, span, closing, *, by, now):
    found = span.result
    share_out = ShareOut.objects.create(
        lot=lot,
        opening=span.opening,
        closing=closing,
        used_g=span.opening.gross_g - closing.gross_g,
        measured_g=found.measured,
        said=_in_the_way(found),
        recorded_at=now,
        by=by,
    )
    for use, part in span.shares:
        Movement.post(lot, Movement.Kind.SHARED, -part, at=use.at, by=by, now=now, settles=use, share_out=share_out)
        addition = getattr(use, "addition", None)
        if addition is not None:
            AdditionLot.trace(addition, part, share_out)


def _in_the_way(found):
    """The sentence that keeps the span open, or "" where it is settled.

    With nothing unweighed to share, the small change of scales and spills is left behind at each weighing rather
    than carried on to the next. More than that looks like a slip, and the next weighing counts from the old start.
    """
    if found.outcome in (sharing.SHARED, sharing.TALLIES):
        return ""
    small = max(SMALL_STEPS * found.limit, SMALL_PART * found.measured)
    return "" if not found.parts and abs(found.rest) <= small else found.said[0][:300]


# What to weigh


BY_HAND = (How.SPRINKLED, How.PAINTED, How.DIPPED)  # what goes in so is known by weighing its jar or bottle


def touched(since):
    """Jars and bottles used since then and not weighed after it; and those lately left with an unweighed use open.

    An older open use, which no pair of weights may ever settle, does not ask for its jar for ever.
    """
    lately = USES.filter(lot=OuterRef("pk"), at__gte=since).filter(_after_the_last_weighing())
    left_open = Movement.objects.open_unweighed().filter(lot=OuterRef("pk"), at__gte=since - ASKED_FOR)
    return _containers().filter(Exists(lately) | Exists(left_open))


def before_use(day):
    """Jars and bottles that open plans until this day name, not weighed since they were last used: for the morning.

    A bottle that a syringe measures out of, and that nobody weighs, tells nothing on the scale.
    """
    lines = PlanLine.objects.promised().filter(batch__run__day__lte=day).with_done().filter(done=False)
    of_it = lines.filter(lot=OuterRef("pk"))
    told = Q(unit=Lot.Unit.G) | Exists(of_it.filter(Q(how__in=BY_HAND) | Q(told__isnull=True))) | Exists(WEIGHED)
    used = USES.filter(lot=OuterRef("pk")).filter(_after_the_last_weighing())
    return _containers().filter(Exists(of_it), told).filter(~Exists(WEIGHED) | Exists(used))


def wanted_before_use(now):
    """How many jars and bottles a morning asks for; 0 once it is over."""
    at = timezone.localtime(now)
    return before_use(at.date()).count() if at.hour < NOON_IS_OVER else 0


def some(pks):
    """These jars and bottles, to be weighed because somebody says so."""
    return _containers().filter(pk__in=pks)


def others(but):
    """All other jars and bottles that hold something."""
    return _containers().with_on_hand().filter(on_hand__gt=0).exclude(pk__in=but)


def listed(lots):
    """Jars and bottles with all that the page says of each, first those that somebody waits to know of. A fixed number
    of queries.
    """
    shown = lots.with_unweighed().with_on_hand().with_facts().named().prefetch_related("weighings")
    return list(shown.order_by("-has_unweighed", "solution__name", "dye__name", "assistant__name", "pk")[:MOST])


USES = Movement.objects.filter(kind=Movement.Kind.USED, reversed_by__isnull=True)
WEIGHED = Weighing.objects.filter(lot=OuterRef("pk"))


def _after_the_last_weighing():
    """Of a movement: its lot was not weighed since."""
    return ~Exists(Weighing.objects.filter(lot=OuterRef("lot"), at__gte=OuterRef("at")))


def _containers():
    return Lot.objects.filter(base__isnull=True)


@dataclass(frozen=True)
class Sheet:
    """Whether it is the weigh-in before the work or after it, and what each part of its page asks for."""

    morning: bool
    asked: list
    planned: list
    used: list
    rest: list

    @property
    def lots(self):
        return [*self.asked, *self.planned, *self.used, *self.rest]


def sheet(now, asked=()):
    """The `Sheet` of this moment. It is the evening's once something used today is not weighed yet, or it is late.

    A jar that was used yesterday and is planned today stands with the planned ones while it is morning, else with the
    used: one number settles both.
    """
    at = timezone.localtime(now)
    asked = listed(some(asked)) if asked else []
    used = listed(touched(at.replace(hour=0, minute=0, second=0, microsecond=0)))
    planned = listed(before_use(at.date()))
    morning = at.hour < NOON_IS_OVER and not (used and at.hour >= MORNING_ENDS)
    seen = {lot.pk for lot in asked}
    parts = [planned, used] if morning else [used, planned]
    for part in parts:
        part[:] = [lot for lot in part if lot.pk not in seen]
        seen |= {lot.pk for lot in part}
    return Sheet(morning, asked, planned, used, listed(others(seen)))


# What it came to


@dataclass(frozen=True)
class Told:
    """One jar or bottle of a weigh-in in words."""

    lot: Lot
    weighing: Weighing
    net_g: Decimal | None
    sentences: list
    shares: list

    @property
    def name(self):
        return lot_name(self.lot)

    @property
    def weight(self):
        """What it weighed, and what is in it where the empty container's weight is known."""
        gross = weight(self.weighing.gross_g)
        return gross if self.net_g is None else f"{gross}, so {weight(self.net_g)} are in it"

    @property
    def uses(self):
        """Each unweighed use: where it went, when, how much that was, and what part of them all; these sum to 100."""
        amounts = [-share.amount for share in self.shares]
        percents = split(100, amounts, places=0) if any(amounts) else [Decimal(0)] * len(amounts)
        return [_use(share) | {"percent": part} for share, part in zip(self.shares, percents, strict=True)]

    @property
    def shared(self):
        """All that the unweighed uses had together, in the lot's unit."""
        return -sum((share.amount for share in self.shares), Decimal(0))


def _use(share):
    addition = getattr(share.settles, "addition", None)
    batch = addition.entry.batch if addition is not None else None
    where = f"{batch.run.name} {batch.run.code}, {batch.pot_name}" if batch is not None else "Not in a batch"
    return {"name": where, "at": share.at, "counted": counted_said(addition), "amount": -share.amount}


def counted_said(addition):
    """How an unweighed use was counted, in its own word: "4 taps", "2 × Bone spoon"; "" where nobody counted."""
    if addition is None:
        return ""
    if addition.taps:
        return write_count(addition.taps, "tap")
    return fillings_said(addition) if addition.measure_id else ""


def tell(weighings):
    """`Told` for each of these weighings (a queryset), with what every unweighed use had."""
    rows = weighings.select_related("lot", "by", "closes__opening").prefetch_related(
        "lot__contents__source__dye", "lot__dye", "lot__solution", "lot__assistant", "lot__corrections"
    )
    return [_told(weighing) for weighing in rows]


def _told(weighing):
    lot, share_out = weighing.lot, getattr(weighing, "closes", None)
    empty_g = lot.empty_g()
    net = None if empty_g is None else weighing.gross_g - empty_g
    if share_out is None:
        before = lot.weighings.filter(at__lt=weighing.at).exists()
        return Told(lot, weighing, net, [AFTER_REFILL if before else FIRST_KEPT], [])
    shares = list(
        share_out.movements.filter(kind=Movement.Kind.SHARED)
        .select_related(
            "settles__addition__entry__batch__run__colourway",
            "settles__addition__entry__batch__vessel",
            "settles__addition__measure",
        )
        .order_by("at", "pk")
    )
    return Told(lot, weighing, net, _sentences(lot, share_out, shares), shares)


def _sentences(lot, share_out, shares):
    if share_out.said:
        return [share_out.said]
    gone, measured = weight(share_out.used_g), precise(share_out.measured_g, lot.unit)
    if not shares:
        return [f"{NOTHING_OPEN} {gone} are gone, {measured} of it measured."]
    rest = precise(-sum(share.amount for share in shares), lot.unit)
    uses = f"{len(shares)} uses that nobody weighed" if len(shares) > 1 else "one use that nobody weighed"
    if share_out.measured_g:
        said = [f"{gone} are gone, {measured} of it measured. The other {rest} went into {uses}:"]
    else:
        said = [f"{gone} are gone, into {uses}:"]
    return [*said, KEPT_IN_ML] if lot.unit == Lot.Unit.ML else said
