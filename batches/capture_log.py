"""The log of some pots read as the lines of a recipe: what went in and what was done, pot beside pot, in order.

Nothing is stored and nothing decided here: an amount that nobody knows stays unknown, pots that differ stay different,
and what was done to put something right is marked.
"""

from collections import Counter
from dataclasses import dataclass, field
from decimal import Decimal

from django.db.models import Prefetch

from recipes import dyeing, notebook
from recipes.models import How, Ingredient, RecipeStep
from recipes.offers import own_in
from studio import units
from studio.models import Assistant, Lot, Measure, Tool
from studio.models.bench import filling_of

from .capture_steps import LONGEST_WORDS, long_time, moved, read_one, reads_as, worded
from .models import Addition, Check, Entry, Move, Timer, TimerEnded, Whereabouts
from .models.timers import minutes_between
from .telling import shared_g

Kind = RecipeStep.Kind
CHECKED = (Whereabouts.TO_CHECK, Whereabouts.TO_TAG, Whereabouts.STORED)
STEP_OF_PLACE = {Whereabouts.COOLING: Kind.COOL, Whereabouts.RINSING: Kind.RINSE, Whereabouts.DRYING: Kind.DRY}
OUT_BY_STEP = (Kind.RINSE, Kind.WASH, Kind.DRY)
OUT_BY_PLACE = (Whereabouts.RINSING, Whereabouts.DRYING, *CHECKED)
READ_NEAR_C = 3  # a thermometer this near to what a step says adds nothing; common practice, no source


@dataclass
class Part:
    """What one pot had of a line. `own`: of the substance itself, at the studio's standard strength, in `Line.unit`.

    `unknown`: the additions whose amount nobody knows; what `own` says is without them.
    """

    entries: list = field(default_factory=list)
    own: Decimal = Decimal(0)
    logged: Decimal = Decimal(0)  # in the lot's unit
    estimated: bool = False
    unknown: list = field(default_factory=list)
    temperature_c: Decimal | None = None
    minutes: Decimal | None = None


@dataclass
class Line:
    """One line of the recipe to be. `parts`: {batch key: Part} of the pots that have it.

    `make()`: a new unsaved Ingredient without its amount; None for a thing to do, whose `words` say what.
    """

    same: tuple
    kind: str
    words: str = ""
    make: object = None
    lot: object = None
    unit: str = ""
    name: str = ""
    place: str = ""
    parts: dict = field(default_factory=dict)
    to_fix: bool = False
    belongs: bool = True  # whether what was done to put something right is of the recipe, unless somebody says
    by: set = field(default_factory=set)  # how amounts nobody weighed are known: "weigh-in", "measure"

    @property
    def key(self):
        """The same as long as the log is: for the fields of a form."""
        return self.first.pk.hex

    @property
    def first(self):
        return min((entry for part in self.parts.values() for entry in part.entries), key=lambda one: (one.at, one.pk))

    @property
    def is_dye(self):
        return self.make is not None and (self.make().dye_id is not None or brings_dye(self.make()))

    @property
    def is_water(self):
        return self.make is not None and self.make().water

    @property
    def is_assistant(self):
        return self.make is not None and self.make().assistant_id is not None

    @property
    def painted(self):
        return self.make is not None and self.make().how == How.PAINTED

    @property
    def unknown(self):
        """The additions of all pots whose amount nobody knows."""
        return [addition for part in self.parts.values() for addition in part.unknown]

    @property
    def estimated(self):
        return any(part.estimated for part in self.parts.values())

    def own_of(self, amount):
        """How much of the substance itself is in so much [g or mL] of what was poured or sprinkled."""
        if self.lot is None or self.painted:
            return amount
        return own_in(self.make(), self.lot, amount)


def brings_dye(ingredient):
    """Whether a bottle has dye in it; of kept liquor nobody knows the parts, and it has."""
    if ingredient.solution is None:
        return False
    parts = list(ingredient.solution.parts.all())
    return not parts or any(part.dye_id for part in parts)


def lines_of_log(run, standing):
    """[Line] of these standing entries, in the order in which they were done. A fixed number of queries.

    `standing`: those of the pots that count, with their details, in order.
    """
    lots = _lots(standing)
    scales, measures = Tool.scales(), {each.pk: each for each in Measure.objects.prefetch_related("weighings")}
    by_pot = {}
    for entry in sorted(
        standing, key=lambda one: one.batch.number
    ):  # so that of pots as full the first gives the order
        by_pot.setdefault(entry.batch_id, []).append(entry)
    read = {pk: _Pot(run, entries, lots, measures, scales).lines() for pk, entries in by_pot.items()}
    return align(read)


def _lots(standing):
    """{key: Lot} of what went in, with all that a strength is reckoned from."""
    keys = {entry.addition.lot_id for entry in standing if entry.kind == Entry.Kind.ADDITION} - {None}
    sources = Lot.objects.with_facts().select_related("dye", "assistant")
    named = Lot.objects.with_facts().filter(pk__in=keys).select_related("dye", "assistant", "solution")
    named = named.prefetch_related("contents", Prefetch("contents__source", sources), "solution__parts__dye")
    return {lot.pk: lot for lot in named}


def align(by_pot):
    """[Line] of all pots: the nth of a kind in one pot is the nth in the others, wherever it stands there.

    `by_pot`: {batch key: [Line]}. The fullest pot gives the order; what only others have stands where it stood there.
    """
    found, order = {}, []
    for lines in sorted(by_pot.values(), key=len, reverse=True):
        counts, before = Counter(), None
        for line in lines:
            key = (line.same, counts[line.same])
            counts[line.same] += 1
            if key not in found:
                found[key] = line
                order.insert(order.index(before) + 1 if before is not None else 0, key)
            else:
                held = found[key]
                held.parts |= line.parts
                held.by |= line.by
                held.belongs = held.belongs and line.belongs
            before = key
    return [found[key] for key in order]


class _Pot:
    """One pot's entries, as they become lines."""

    def __init__(self, run, entries, lots, measures, scales):
        self.run, self.entries, self.lots, self.measures, self.scales = run, entries, lots, measures, scales
        self.found = []
        self.kinds_done = {one.step.kind for one in entries if one.kind == Entry.Kind.STEP}
        self.timers = {one.pk: one for one in entries if one.kind == Entry.Kind.TIMER}
        self.trouble_at = min((one.at for one in entries if _says_trouble(one)), default=None)
        self.end_at = min((one.at for one in entries if _is_the_end(one)), default=None)
        self.out_at = self._came_out()

    def lines(self):
        for entry in self.entries:
            reader = READERS.get(entry.kind)
            for line in (reader(self, entry) if reader else None) or ():
                self._mark(line, entry)
                self._keep(line)
        return self.found

    def _came_out(self):
        """When the yarn came out of the bath after the last dye; None where nothing says so."""
        dyed = [
            one.at
            for one in self.entries
            if one.kind == Entry.Kind.ADDITION and one.addition.lot_id and not self._is_trouble(one)
        ]
        last = max(dyed, default=None)
        outs = [one.at for one in self.entries if _is_out(one) and (last is None or one.at >= last)]
        return min(outs, default=self.end_at)

    def _is_trouble(self, entry):
        because = entry.because
        if because is not None and because.kind == Entry.Kind.CHECK:
            return True
        return self.trouble_at is not None and entry.at >= self.trouble_at

    def _mark(self, line, entry):
        late = self.end_at is not None and entry.at >= self.end_at and line.make is not None
        line.to_fix = self._is_trouble(entry) or late
        line.belongs = not line.to_fix or self.out_at is None or entry.at < self.out_at
        if line.to_fix:
            line.same = ("fix", *line.same)

    def _keep(self, line):
        """Put it after the rest; the same that was poured, painted or tapped a moment before it is one with it."""
        before = self.found[-1] if self.found else None
        if line.painted:
            before = next((one for one in self.found if one.same == line.same), None)
        if before is None or line.make is None or before.same != line.same:
            self.found.append(line)
            return
        (held,), (more,) = before.parts.values(), line.parts.values()
        if bool(held.unknown) != bool(more.unknown):
            self.found.append(line)
            return
        held.entries += more.entries
        held.unknown += more.unknown
        held.own, held.logged = held.own + more.own, held.logged + more.logged
        held.estimated = held.estimated or more.estimated
        before.by |= line.by

    # --- what went in

    def addition(self, entry):
        said = entry.addition
        if said.other == Addition.Other.WORDS:
            return self._in_words(entry, said)
        if said.amount is not None and not said.amount:
            return None
        if said.lot_id is None:
            make = _maker(water=True, how=How.ADDED, place=said.place)
            return self._went_in(entry, make, None, "mL", said.amount, "water")
        lot = self.lots[said.lot_id]
        make = _substance(lot, said)
        made = make()
        unit = made.unit if made.unit else lot.unit
        return self._went_in(entry, make, lot, unit, said.amount, str(made.substance))

    def _in_words(self, entry, said):
        how_much = f"{units.write_number(said.amount, digits=9)} {said.unit} of " if said.amount else ""
        words = f"{how_much}{said.what}{f', {said.place}' if said.place else ''}"
        words = next(
            (one for one in (f"Stir in {words}", f"Stir in: {words}") if reads_as(one, Kind.OTHER, None, None)),
            f"Do: put in {words}",
        )
        return self._to_do(entry, Kind.OTHER, None, None, words, same=("words", said.what.casefold(), said.place))

    def _went_in(self, entry, make, lot, unit, amount, name):
        said, made = entry.addition, make()
        same = (made.dye_id, made.assistant_id, made.solution_id, made.water, made.how, said.place.casefold())
        if made.how == How.PAINTED:
            same = (*same, made.strength_pct)
        line = Line(("in", *same), Kind.ADD, make=make, lot=lot, unit=unit, name=name, place=said.place)
        part = Part([entry])
        if amount is None:
            amount, by = self._known_since(said, lot)
            part.estimated = amount is not None
            line.by = {by} if by else set()
        elif said.by_measure:
            part.estimated = True
            line.by = {"measure"}
        if amount is None:
            part.unknown.append(said)
        else:
            part.logged, part.own = amount, line.own_of(amount)
        line.parts = {entry.batch_id: part}
        return [line]

    def _known_since(self, said, lot):
        """(amount in the lot's unit, how that is known) of what nobody weighed: by a weigh-in, or by a measure."""
        if lot is None:
            return None, ""
        if (grams := shared_g(said)) is not None and grams > 0:
            if not lot.is_bottle:
                return grams, "weigh-in"
            held = sum((one.g_per_100 for one in lot.contents.all() if one.g_per_100), Decimal(0))
            if held:
                return grams * 100 / held, "weigh-in"
        if said.measure_id and said.fillings and lot.dye_id:
            grams = grams_by_measure(self.measures[said.measure_id], lot.dye_id, said.fillings, self.scales)
            return (grams, "measure") if grams is not None else (None, "")
        return None, ""

    # --- what was done

    def step(self, entry):
        said, planned = entry.step, entry.plan_line
        if self._is_over(entry) or said.kind == Kind.ADD:
            return None
        words = entry.words
        if planned is not None and planned.words:
            as_planned = (said.temperature_c, said.minutes) == (planned.temperature_c, planned.minutes)
            told = planned.words.removesuffix(":")
            if as_planned and not words and reads_as(told, said.kind, said.temperature_c, said.minutes):
                return self._to_do(entry, said.kind, said.temperature_c, said.minutes, told)
        if said.called:
            words = f"{said.called} as usual{f'. {words}' if words else ''}"
        return self._to_do(entry, said.kind, said.temperature_c, said.minutes, words)

    def timer(self, entry):
        """What was waited for and became no step of its own: days in the sun, or a hold that nobody ended."""
        said = entry.timer
        if said.what == Timer.What.LOOK or self._is_over(entry):
            return None
        ended = self._ended(entry)
        if ended is not None and (ended.timer_ended.outcome == TimerEnded.Outcome.LONGER or said.step):
            return None
        if ended is None and (entry.plan_line_id or said.step) and self._step_follows(entry, said.step):
            return None
        began = said.first_began() if entry.because_id else entry.at
        minutes = minutes_between(began, ended.at if ended else said.due_at).quantize(Decimal(1))
        if minutes <= 0:
            return None
        if said.what == Timer.What.SUN:
            return self._to_do(entry, Kind.HOLD, None, minutes, f"Leave in the sun for {long_time(minutes)}")
        kind = said.step or Kind.OTHER
        return self._to_do(entry, kind, None, minutes, entry.words or ("" if said.step else "wait"))

    def _ended(self, timer):
        for one in self.entries:
            if one.kind == Entry.Kind.ENDED and one.timer_ended.target in (timer.pk, timer.together):
                return one
        return None

    def _step_follows(self, timer, kind):
        """Whether what the timer was for was logged by hand."""
        return any(
            one.kind == Entry.Kind.STEP
            and one.at >= timer.at
            and (one.step.kind == kind or timer.plan_line_id and one.plan_line_id == timer.plan_line_id)
            for one in self.entries
        )

    def reading(self, entry):
        said = entry.reading
        if self._is_over(entry) or (self.out_at is not None and entry.at >= self.out_at):
            return None
        found = []
        if said.temperature_c is not None and not self._said_by_a_step(said.temperature_c):
            found.append(f"{notebook.plain(said.temperature_c)} °C")
        if said.ph is not None:
            found.append(f"pH {notebook.plain(said.ph)}")
        if not found:
            return None
        words = f"Check: it read {' and '.join(found)} that day"
        temperature = said.temperature_c if "°C" in words else None
        return self._to_do(entry, Kind.OTHER, temperature, None, words, same=("read", said.ph is None))

    def _said_by_a_step(self, celsius):
        said = [line.parts[pk].temperature_c for line in self.found for pk in line.parts]
        return any(one is not None and abs(one - celsius) <= READ_NEAR_C for one in said[-6:])

    def move(self, entry):
        said = entry.move
        if self._is_over(entry):
            return None
        if said.what == Move.What.WHERE:
            kind = STEP_OF_PLACE.get(said.where)
            if kind is None or kind in self.kinds_done:
                return None
            self.kinds_done.add(kind)
            return self._to_do(entry, kind, None, None, entry.words)
        words = moved(entry)
        before = self.found[-1] if self.found else None
        minutes = None
        if said.what == Move.What.YARN_OUT and before is not None and before.same[-1] == "pulled":
            since = minutes_between(before.parts[entry.batch_id].entries[-1].at, entry.at).quantize(Decimal(1))
            if since > 0:
                words, minutes = f"{words} {since} min after that", since
        what = "pulled" if said.what == Move.What.YARN_OUT else said.what
        return self._to_do(entry, Kind.OTHER, None, minutes, words, same=("moved", said.skeins, what))

    def _is_over(self, entry):
        """After the pot was judged or finished what is done to the yarn is no part of dyeing it."""
        return self.end_at is not None and entry.at >= self.end_at and not self._is_trouble(entry)

    def _to_do(self, entry, kind, temperature_c, minutes, words, same=None):
        """The step; where its words would read as something else, the step and then its words."""
        said = worded(kind, temperature_c, minutes, words)
        if said is None and kind != Kind.OTHER:
            plain = self._to_do(entry, kind, temperature_c, minutes, "")
            return plain + self._to_do(entry, Kind.OTHER, None, None, words, same=("beside", words.casefold()))
        if said is None:
            said = f"Do: {' '.join(words.split())}"[:LONGEST_WORDS]
            one = read_one(said)
            temperature_c, minutes = (one.temperature_c, one.minutes) if one else (None, None)
        part = Part([entry], temperature_c=temperature_c, minutes=minutes)
        same = same or (kind, said.casefold() if words else "")
        line = Line(("do", *same), kind, words=said, name=said or RecipeStep.Kind(kind).label)
        line.parts = {entry.batch_id: part}
        return [line]


READERS = {
    Entry.Kind.ADDITION: _Pot.addition,
    Entry.Kind.STEP: _Pot.step,
    Entry.Kind.TIMER: _Pot.timer,
    Entry.Kind.READING: _Pot.reading,
    Entry.Kind.MOVE: _Pot.move,
}


def _says_trouble(entry):
    if entry.kind != Entry.Kind.CHECK:
        return False
    said = entry.check_made
    return said.what == Check.What.REMEDY or said.what != Check.What.RINSE and said.bleeds


def _is_the_end(entry):
    """Whether it was judged, or put away: what comes later is no part of dyeing it."""
    if entry.kind == Entry.Kind.CHECK:
        return entry.check_made.what not in (Check.What.RINSE, Check.What.REMEDY)
    if entry.kind == Entry.Kind.MOVE:
        return entry.move.where in CHECKED
    return entry.kind == Entry.Kind.FINISH


def _is_out(entry):
    if entry.kind == Entry.Kind.STEP:
        return entry.step.kind in OUT_BY_STEP
    return _is_the_end(entry) or entry.kind == Entry.Kind.MOVE and entry.move.where in OUT_BY_PLACE


# What went in, as a recipe's ingredient


def _maker(**facts):
    return lambda: Ingredient(**facts)


def _substance(lot, said):
    """A maker of the Ingredient that this lot is for. Its `unit` is that of its own amounts."""
    facts = {"how": said.how, "place": said.place}
    if lot.dye_id:
        if said.how == How.PAINTED:
            facts["how"] = How.DISSOLVED  # powder is painted on only once it is a bottle
        return _maker(dye=lot.dye, unit="g", **facts)
    if lot.assistant_id:
        return _maker(assistant=lot.assistant, unit=lot.assistant.unit, **facts)
    sources = [content.source for content in lot.contents.all()]
    held = {(source.dye or source.assistant) for source in sources if source is not None}
    if None in sources or len(held) != 1 or lot.unit == "g":
        return _maker(solution=lot.solution, unit=lot.unit, **facts)
    (thing,) = held
    if isinstance(thing, Assistant) and thing.unit != "g":
        return _maker(solution=lot.solution, unit=lot.unit, **facts)
    facts["strength_pct"] = Ingredient._meta.get_field("strength_pct").rounded(strength_that_day(lot))
    if not facts["strength_pct"]:
        return _maker(solution=lot.solution, unit=lot.unit, **facts | {"strength_pct": None})
    if isinstance(thing, Assistant):
        return _maker(assistant=thing, unit="g", **facts)
    return _maker(dye=thing, unit="mL" if said.how == How.PAINTED else "g", **facts)


def strength_that_day(lot):
    """How strong a bottle of one substance was [% w/v], its powder counted at the studio's standard strength."""
    return sum(
        dyeing.at_standard_strength(one.g_per_100, one.source.strength_now) if one.source.dye_id else one.g_per_100
        for one in lot.contents.all()
    )


def grams_by_measure(measure, dye_id, fillings, scales):
    """What so many fillings of a measure hold of a dye [g]; None where it was never weighed with it.

    `measure`: with its weighings prefetched.
    """
    weighings = [one for one in measure.weighings.all() if one.dye_id == dye_id]
    return filling_of(weighings, scales).of(fillings)[0] if weighings else None
