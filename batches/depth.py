"""What dye went in: the colour bar and the depth of shade of runs and pots, and what is not known about them."""

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import BooleanField, Case, Exists, F, OuterRef, Q, Sum, Value, When

from recipes import dyeing
from studio import writing
from studio.colourbar import Segment
from studio.models import Dye, LotCorrection, Movement
from studio.units import write_g

from .models import Addition, AdditionLot, Answer, BatchYarn, Bath, Entry, Move, PlanLine


@dataclass(frozen=True)
class Fed:
    """One dye as fed: how much is known [g], whether some is not known, whether some is by a measure or estimate.

    Grams are at the studio's standard strength: 10 g of an 85 % lot count as 8.5 g.
    """

    dye: Dye
    grams: Decimal
    unweighed: bool = False
    about: bool = False

    @property
    def words(self):
        """ "2.60 g", "about 2.60 g", "2.60 g or more", "not weighed"."""
        about = "about " if self.about else ""
        weighed = f"{about}{write_g(readable(self.grams), writing.current().system)}"
        if not self.unweighed:
            return weighed
        return f"{weighed} or more" if self.grams else "not weighed"


@dataclass(frozen=True)
class Depth:
    """Depth of shade as dye fed on dry fibre [% owf], with the words that keep it honest."""

    dye_g: Decimal
    fibre_g: Decimal | None
    at_least: bool = False
    carry_over: bool = False
    shared: bool = False
    about: bool = False

    @property
    def pct(self):
        if self.fibre_g is None or not self.fibre_g:
            return None
        return dyeing.depth_pct(self.dye_g, self.fibre_g) if self.dye_g else Decimal(0)

    @property
    def shown_pct(self):
        return None if self.pct is None else readable(self.pct)

    @property
    def words(self):
        """What to say with the figure: "about", "at least", "carry-over unknown", "shared"; often nothing."""
        said = [(self.hedge, self.hedge), ("carry-over unknown", self.carry_over), ("shared", self.shared)]
        return ", ".join(word for word, holds in said if holds)

    @property
    def hedge(self):
        """What stands right before the figure, if anything: "at least", "about", "at least about"."""
        return " ".join(word for word, holds in [("at least", self.at_least), ("about", self.about)] if holds)


def readable(amount):
    """An amount with no more digits than anybody weighs: hundredths, or three digits of a very small one."""
    if abs(amount) >= Decimal("0.1") or not amount:
        return round(amount, 2)
    return round(amount, 2 - amount.adjusted())


def _standing(**where):
    return Entry.objects.standing().filter(kind=Entry.Kind.ADDITION, **where)


def _whether(*conditions):
    return Case(
        *[When(condition, then=Value(True)) for condition in conditions],
        default=Value(False),
        output_field=BooleanField(),
    )


# An addition by a measure that was never weighed with its dye counts as weighed once a weigh-in has given it a share.
MEASURED = Q(addition__measure__isnull=False, share_out__isnull=True)
BY_MEASURE, ABOUT = _whether(MEASURED), _whether(MEASURED, Q(addition__estimated=True))


def fed_by(group, *, at_standard=True, **where):
    """{group id: [Fed]} by an entry's column, such as "batch" or "batch__run": dye that standing additions brought in,
    of those entries that `where` names, such as batch__in=.

    Sorted by mass, most first. `at_standard`: else gram for gram as it was weighed, which nothing learned later of a
    lot's strength changes. A fixed number of queries, however many groups.
    """
    weighed = (
        AdditionLot.objects.standing()
        .filter(lot__dye__isnull=False, **_of("addition__entry", where))
        .order_by()
        .values_list(f"addition__entry__{group}", "lot__dye", "lot", "lot__strength_pct", ABOUT)
        .annotate(total=Sum("amount"))
    )
    grams, about, rows = defaultdict(lambda: defaultdict(Decimal)), set(), list(weighed)
    corrected = strengths_since({lot_id for _, _, lot_id, _, _, _ in rows}) if at_standard else {}
    for key, dye_id, lot_id, strength, is_about, total in rows:
        strength = corrected.get(lot_id, strength) if at_standard else 100
        grams[key][dye_id] += dyeing.at_standard_strength(total, strength)
        if is_about:
            about.add((key, dye_id))
    unweighed = _unweighed_dyes(group, where)
    dyes = Dye.objects.in_bulk({dye for by_dye in grams.values() for dye in by_dye} | {dye for _, dye in unweighed})
    for key, dye_id in unweighed:
        grams[key][dye_id] += 0
    return {
        key: [
            Fed(dyes[dye_id], total, (key, dye_id) in unweighed, (key, dye_id) in about)
            for dye_id, total in sorted(by_dye.items(), key=lambda item: (-item[1], item[0]))
        ]
        for key, by_dye in grams.items()
    }


def strengths_since(lots):
    """{lot key: strength [%] it turned out to have}: of the powder lots whose strength was put right, the newest.

    What is known of a lot now is what it was then: a weak delivery was weak before anybody tested it.
    """
    said = LotCorrection.objects.filter(lot__in=lots, strength_pct__isnull=False)
    return dict(said.order_by("recorded_at", "pk").values_list("lot", "strength_pct")) if lots else {}


def _of(entry, where):
    """Conditions on an entry as those of a row that reaches it by `entry`."""
    return {f"{entry}__{column}": value for column, value in where.items()}


def _unweighed_dyes(group, where):
    """{(group id, dye id)} of additions nobody weighed, as powder or out of a bottle that holds the dye.

    In two questions of plain joins: in one, a database that has not surveyed its tables yet may go through the ledger
    for each of its own lines.
    """
    left = Addition.objects.standing().filter(movement__amount__isnull=True, movement__kind=Movement.Kind.USED)
    dyes = ("lot__dye", "lot__contents__source__dye")
    rows = list(left.filter(**_of("entry", where)).values_list("movement", f"entry__{group}", *dyes))
    known = Movement.objects.settled_since({use for use, *_ in rows})
    found = {(key, dye) for use, key, *dyes in rows if use not in known for dye in dyes if dye is not None}
    return found | _perhaps_in(group, where)


def _perhaps_in(group, where):
    """{(group id, dye id)} of planned lines of which nobody knows whether they went in, in pots that something did."""
    asked = Answer.objects.standing().filter(question=Answer.Question.LINE, known=False, **_of("entry", where))
    asked = asked.filter(Exists(_standing(batch=OuterRef("entry__batch"))))
    line = "entry__plan_line"
    rows = asked.values_list(f"entry__{group}", f"{line}__dye", f"{line}__lot__contents__source__dye")
    return {(key, dye) for key, *dyes in rows for dye in dyes if dye is not None}


def planned_by(group, lines):
    """{group id: [Fed]} of what plans say, by a plan line's column, such as "batch" or "batch__run"."""
    lines = PlanLine.objects.filter(pk__in=lines.values("pk"))
    of_dyes = lines.filter(dye__isnull=False).order_by().values_list(group, "dye", "estimated")
    rows = list(of_dyes.annotate(total=Sum("dye_g"))) + _planned_of_mixes(group, lines)
    grams, unknown, about = defaultdict(lambda: defaultdict(Decimal)), set(), set()
    for key, dye_id, estimated, total in rows:
        if estimated:
            about.add((key, dye_id))
        grams[key][dye_id] += total or 0
        if total is None:
            unknown.add((key, dye_id))
    dyes = Dye.objects.in_bulk({dye_id for by_dye in grams.values() for dye_id in by_dye})
    return {
        key: sorted(
            (
                Fed(dyes[dye_id], total, (key, dye_id) in unknown, (key, dye_id) in about)
                for dye_id, total in by_dye.items()
            ),
            key=lambda one: (-one.grams, one.dye.pk),
        )
        for key, by_dye in grams.items()
    }


def _planned_of_mixes(group, lines):
    """[(group id, dye id, whether by estimate, g or None)] of the lines that name a bottle, as its master has it."""
    named = lines.filter(solution__parts__dye__isnull=False)
    columns = ("pk", group, "solution__parts__dye", "estimated", "exact", "dye_g", "solution__parts__g_per_100")
    parts = list(named.values_list(*columns).order_by())
    in_all = defaultdict(Decimal)
    for pk, *_, per_100 in parts:
        in_all[pk] += per_100
    # What the bottle really holds was reckoned when it was planned; the master says how the dyes share it.
    return [
        (
            key,
            dye,
            estimated,
            None if exact is None else (exact * in_all[pk] / 100 if dye_g is None else dye_g) * per_100 / in_all[pk],
        )
        for pk, key, dye, estimated, exact, dye_g, per_100 in parts
    ]


def segments(fed):
    """The colour bar's segments for what was fed."""
    return [
        Segment(one.dye.name, one.dye.colour, one.grams or None, unweighed=one.unweighed, amount=one.words)
        if one.unweighed
        else Segment(one.dye.name, one.dye.colour, one.grams, amount=one.words)
        for one in fed
    ]


def fed_of_runs(ids, *, at_standard=True):
    """{run id: [Fed]} as logged, and as planned while nothing is logged. A fixed number of queries."""
    logged = fed_by("batch__run", at_standard=at_standard, batch__run__in=ids)
    without = [pk for pk in ids if not logged.get(pk)]
    planned = planned_by("batch__run", PlanLine.objects.filter(batch__run__in=without)) if without else {}
    return {pk: logged.get(pk) or planned.get(pk) or [] for pk in ids}


def bars_of_runs(runs):
    """{run id: segments}, likewise."""
    return {pk: segments(fed) for pk, fed in fed_of_runs([run.pk for run in runs]).items()}


def depths_of(batches):
    """{batch id: Depth} of these pots. A fixed number of queries."""
    ids = [batch.pk for batch in batches]
    fed = fed_of_batches(batches)
    carried, moved = carried_over(ids), shared_out(ids)
    return {
        batch.pk: Depth(
            dye_g=sum((one.grams for one in fed.get(batch.pk, [])), Decimal(0)),
            fibre_g=batch.fibre_g,
            at_least=any(one.unweighed for one in fed.get(batch.pk, [])),
            carry_over=batch.pk in carried,
            shared=batch.pk in moved,
            about=any(one.about for one in fed.get(batch.pk, [])),
        )
        for batch in batches
    }


def carried_over(ids):
    """Keys of the pots that hold dye nobody can count: another pot's bath, a kept liquor, or yarn dyed before.

    Yarn that was only mordanted, or came back out of clean water, brings none. One query more for each time that
    yarn went back into a pot.
    """
    found, yarn_from = _strange_liquor(ids), {}
    pots = set(ids)
    while pots:
        links = BatchYarn.objects.filter(batch__in=pots, source=BatchYarn.Source.OUTPUT)
        before = set(links.values_list("batch", "output__yarn__batch"))
        yarn_from |= {pot: [one for into, one in before if into == pot] for pot, _ in before}
        pots = {one for _, one in before} - yarn_from.keys()
    earlier = {one for pots_before in yarn_from.values() for one in pots_before}
    dyed = _saw_dye(earlier) | _strange_liquor(earlier) if earlier else set()
    return found | {pot for pot in ids if _any_before(pot, yarn_from, dyed)}


def _any_before(pot, yarn_from, dyed):
    """Whether a pot that the yarn went through before this one is among the dyed."""
    return any(one in dyed or _any_before(one, yarn_from, dyed) for one in yarn_from.get(pot, ()))


def _strange_liquor(ids):
    """Keys of the pots with liquor in them that dyed something else before."""
    from_elsewhere = Bath.objects.filter(batch__in=ids, continues__isnull=False).exclude(continues__batch=F("batch"))
    poured = _standing(batch__in=ids, addition__lot__solution__isnull=False)
    kept_liquor = poured.filter(addition__lot__contents__source__isnull=True)
    poured_in = _standing_moves(ids, Move.What.LIQUOR_IN)
    found = set()
    for rows in (from_elsewhere, kept_liquor, poured_in):
        found |= set(rows.values_list("batch", flat=True))
    return found


def _saw_dye(ids):
    """Keys of the pots that dye went into, weighed or not; something in words may have been dye as well."""
    dye = Q(addition__lot__dye__isnull=False) | Q(addition__lot__contents__source__dye__isnull=False)
    in_words = Q(addition__other=Addition.Other.WORDS)
    return set(_standing(batch__in=ids).filter(dye | in_words).values_list("batch", flat=True))


def shared_out(ids):
    """Keys of the pots that yarn came into or went out of between additions."""
    return set(_standing_moves(ids, Move.What.YARN_IN, Move.What.YARN_OUT).values_list("batch", flat=True))


def _standing_moves(ids, *what):
    return Entry.objects.standing().filter(batch__in=ids, kind=Entry.Kind.MOVE, move__what__in=what)


def depth_of_run(batches, depths):
    """The run's depth: all its dye on all its fibre."""
    weights = [batch.fibre_g for batch in batches]
    parts = [depths[batch.pk] for batch in batches]
    return Depth(
        dye_g=sum((part.dye_g for part in parts), Decimal(0)),
        fibre_g=None if any(weight is None for weight in weights) or not weights else sum(weights),
        at_least=any(part.at_least for part in parts),
        carry_over=any(part.carry_over for part in parts),
        shared=any(part.shared for part in parts),
        about=any(part.about for part in parts),
    )


def fed_of_batches(batches):
    """{batch id: [Fed]} as logged."""
    return fed_by("batch", batch__in=[batch.pk for batch in batches])


def fed_of_run(run):
    """[Fed] of a whole run, as logged."""
    return fed_by("batch__run", batch__run=run).get(run.pk, [])


def planned_of_run(run):
    """[Fed] of a whole run, as planned."""
    return planned_by("batch__run", PlanLine.objects.filter(batch__run=run)).get(run.pk, [])
