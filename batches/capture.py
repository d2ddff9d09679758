"""A log becomes a recipe version: amounts by fibre, skein, pot or litre, in the order in which they went in.

`draft_of` reads a run, or one pot of it; `settled` turns that into steps with the answers somebody gave; `keep` writes
the version. What is not known is asked for, and what was not weighed stays marked as an estimate for ever after.
"""

from collections import Counter
from dataclasses import dataclass, field
from decimal import Decimal

from django.db import transaction

from recipes import dyeing
from recipes.models import Basis, How, Ingredient, Method, Recipe, RecipeStep
from studio import units
from studio.models import Assistant, Studio, Tool
from studio.units import NO_BREAK_SPACE, write_pct

from . import beginning, depth
from .capture_log import lines_of_log
from .models import Answer, BatchYarn, Captured, Entry, PlanLine, Run, State
from .record import batches_of, log_of, standing_of
from .telling import added_late
from .under_way import kind_of, pots_in_words
from .wording import amount_of, capital

ALL = "all"
BROUGHT_PCT = 2  # of the bath: what bottles bring below it is not counted as bath, as in planning
LEAST = Decimal("0.000001")
APART_MIN, APART_C = 5, 3  # steps of two pots nearer than this are the same; common practice, no source
MOST_NOTE = 3900
BASES = {
    Basis.OWF: "the yarn’s weight",
    Basis.PER_L: "the water, so much for each litre",
    Basis.PER_SKEIN: "the skeins",
    Basis.PER_POT: "the pots",
}


@dataclass(frozen=True)
class Answers:
    """What somebody said about a draft. `amounts`: {line key: so much in each pot, in the lot's unit; None: by eye}."""

    fibre_g: Decimal | None = None  # all of the yarn, where no pot says it
    skeins: int | None = None
    scales: str = ""
    amounts: dict = field(default_factory=dict)
    bases: dict = field(default_factory=dict)  # {line key: Basis}
    fixes: dict = field(default_factory=dict)  # {line key: whether it belongs in the recipe}
    note: str = ""  # to be said besides what was decided


@dataclass
class Draft:
    """What a log says, before anything is decided. `problem`: a sentence, where no recipe can be made of it."""

    run: Run
    pots: list  # those that count
    lines: list
    one: object = None  # the pot, where it is of one pot alone
    others: list = field(default_factory=list)  # the pots that it could be of alone
    fibre: dict = field(default_factory=dict)  # {batch key: g or None}
    skeins: dict = field(default_factory=dict)  # {batch key: count or None}
    baths: dict = field(default_factory=dict)  # {batch key: mL or None}
    bases: list = field(default_factory=list)  # studio.Base
    differs: list = field(default_factory=list)  # sentences
    honest: list = field(default_factory=list)  # sentences, of what a recipe cannot give back
    taken: list = field(default_factory=list)  # Captured, of the same pots, newest first
    problem: str = ""
    average: bool = False  # somebody wants the average of pots that differ

    @property
    def fibre_known(self):
        return bool(self.fibre) and None not in self.fibre.values()

    @property
    def skeins_known(self):
        return bool(self.skeins) and None not in self.skeins.values()

    @property
    def unknown(self):
        return [line for line in self.lines if line.unknown and not line.is_water]

    @property
    def fixes(self):
        return [line for line in self.lines if line.to_fix]

    @property
    def assistants(self):
        return [line for line in self.lines if line.is_assistant and not line.painted]

    @property
    def by_pots(self):
        """Whether a pot is the unit: jars, and whatever was sprinkled dry."""
        sprinkled = any(line.is_dye and line.make().how == How.SPRINKLED for line in self.lines)
        return self.run.method == Method.JAR or sprinkled

    @property
    def usual_scales(self):
        return Recipe.Scales.POTS if self.by_pots else Recipe.Scales.WEIGHT

    @property
    def counts_skeins(self):
        return self.run.method == Method.PAINTED or any(line.painted for line in self.lines)

    @property
    def must_choose(self):
        """Pots differ, and nobody has said which of them is meant."""
        return bool(self.differs) and not self.average and self.one is None

    @property
    def asks(self):
        """Whether something has to be said before a version can be made of it."""
        return bool(
            self.problem
            or self.must_choose
            or self.unknown
            or self.taken
            or not self.fibre_known
            or self.counts_skeins
            and not self.skeins_known
            or self.run.colourway_id is None
            or self.run.state == State.ABANDONED
        )

    def usual_basis(self, line):
        return self.offered(line)[0]

    def offered(self, line):
        """[Basis] that an assistant can be said by, the sensible one first: common practice, no source.

        Acid and the like follow the fibre, unless their amounts followed the water from pot to pot; a wetting agent
        follows the water.
        """
        known_bath = None not in self.baths.values() and bool(self.baths)
        offers = [Basis.OWF, *([Basis.PER_L] if known_bath else []), Basis.PER_POT, Basis.PER_SKEIN]
        if self.by_pots:
            first = Basis.PER_POT
        elif known_bath and (line.make().assistant.kind == Assistant.Kind.WETTING or self.follows_water(line)):
            first = Basis.PER_L
        else:
            first = Basis.OWF
        return [first, *(one for one in offers if one != first)]

    def follows_water(self, line):
        """Whether a line's amounts are nearer to the same for each litre than to the same for each gram of fibre."""
        parts = {pk: part.own for pk, part in line.parts.items() if part.own and not part.unknown}
        if len(parts) < 2 or not self.fibre_known:
            return False
        by_water = _apart([own / self.baths[pk] for pk, own in parts.items()])
        return by_water < _apart([own / self.fibre[pk] for pk, own in parts.items()])


def _apart(numbers):
    """How far numbers are from one another, as a part of their mean."""
    return (max(numbers) - min(numbers)) * len(numbers) / sum(numbers)


def draft_of(run, pot=None):
    """The `Draft` of a run's log. `pot`: the number of one pot; `ALL`: the average, though pots differ; None: all.

    Raises ValueError where there is no such pot. A fixed number of queries for any length of log.
    """
    batches = batches_of(run)
    wanted = [batch for batch in batches if str(batch.number) == str(pot)] if pot not in (None, "", ALL) else batches
    if not wanted:
        raise ValueError(f"This run has no pot {str(pot)[:12]}.")
    one = wanted[0] if len(batches) > 1 and len(wanted) == 1 else None
    standing = standing_of(log_of(run, batches))
    went_in = {entry.batch_id for entry in standing if entry.kind == Entry.Kind.ADDITION}
    counted = [batch for batch in wanted if batch.pk in went_in]
    others = [batch for batch in batches if batch.pk in went_in and batch != one]
    keys = {batch.pk for batch in counted}
    mine = [entry for entry in standing if entry.batch_id in keys]
    draft = Draft(run, counted, lines_of_log(run, mine), one, average=pot == ALL)
    draft.others = others if len(others) > 1 or one is not None else []
    draft.taken = list(_taken(run, one))
    draft.problem = _problem(draft)
    if draft.problem:
        return draft
    _weigh(draft)
    draft.baths = _baths(draft)
    draft.differs = differences(draft)
    draft.honest = _honest(draft, mine, [batch for batch in wanted if batch.pk not in went_in])
    return draft


def _taken(run, one):
    """The versions that were taken from the same log before."""
    same = Captured.objects.filter(run=run, batch=one).select_related("recipe__colourway", "batch__vessel")
    return same.order_by("-recipe__number")


def _problem(draft):
    if draft.run.state == State.PLANNED:
        return "This run has not been started, so its log is empty: dye it first."
    if not draft.lines or not any(line.make is not None or line.same[0] == "words" for line in draft.lines):
        return "Nothing that went in is in the log yet: log it, or copy it from paper, and come back."
    if not any(line.is_dye for line in draft.lines if not line.to_fix):
        return (
            "Nothing in this log is a dye of the shelf, so there is no colour to dye again from it. Put on the shelf "
            "what dyed it and log that, or write the recipe by hand."
        )
    return ""


def _weigh(draft):
    """How much yarn the pots that count hold, and of which bases."""
    keys = [batch.pk for batch in draft.pots]
    draft.fibre = {batch.pk: batch.fibre_g for batch in draft.pots}
    draft.skeins = dict.fromkeys(keys, 0)
    bases = {}
    for yarn in BatchYarn.objects.named().filter(batch__in=keys).order_by("batch__number", "position"):
        held = draft.skeins[yarn.batch_id]
        draft.skeins[yarn.batch_id] = None if held is None or not yarn.skeins else held + yarn.skeins
        if (base := yarn.known_base) is not None:
            bases[base.pk] = base
    draft.skeins = {pk: skeins or None for pk, skeins in draft.skeins.items()}
    draft.bases = list(bases.values())


def _baths(draft):
    """{batch key: mL of its dye bath, None where nobody knows}: the first water, and what bottles brought to it.

    Water that was logged by a plan is the whole bath already; so is what a plan says where no water was logged.
    """
    water = next((line for line in draft.lines if line.is_water and not line.to_fix), None)
    if water is None:
        return {batch.pk: batch.water_ml for batch in draft.pots}
    found = {}
    for batch in draft.pots:
        part = water.parts.get(batch.pk)
        if part is None or part.unknown:
            found[batch.pk] = None
            continue
        brought = _brought(draft, batch.pk)
        planned = any(entry.addition.plan_line_id for entry in part.entries)
        whole = part.own + brought
        found[batch.pk] = part.own if planned or brought * 100 < whole * BROUGHT_PCT else whole
    return found


def _brought(draft, pk):
    """mL that bottles and liquids brought into the bath of a pot."""
    wet = (line for line in draft.lines if line.lot is not None and line.lot.unit == "mL")
    into_bath = (line for line in wet if not line.painted and not line.to_fix and pk in line.parts)
    return sum((line.parts[pk].logged for line in into_bath), Decimal(0))


# How the pots differ


def differences(draft):
    """Sentences about what went into some pots and not alike into all: amounts beyond a tool's step, and the order."""
    if len(draft.pots) < 2:
        return []
    tools, repeats = list(Tool.objects.filter(retired=False)), Studio.get().repeats_pct
    found = []
    for line in draft.lines:
        if (line.make is None and line.same[0] != "words") or line.to_fix and not line.belongs:
            continue
        having = [batch for batch in draft.pots if batch.pk in line.parts]
        if len(having) < len(draft.pots):
            found.append(f"{line.name} went into {pots_in_words(having)} only.")
        if line.make is not None and _amounts_apart(draft, line, tools, repeats):
            found.append(_apart_words(draft, line))
    return found + _order_apart(draft)


def _amounts_apart(draft, line, tools, repeats):
    doses = [dose for pk, part in line.parts.items() if (dose := _dose(draft, line, pk, part)) is not None]
    if len(doses) < 2:
        return False
    logged = [part.logged for part in line.parts.values() if part.logged]
    mean = sum(logged) / len(logged)
    unit = line.lot.unit if line.lot else "mL"
    step = Decimal(100) if line.is_water else Tool.step_for(mean, unit, tools)
    return _apart(doses) * 100 > max(repeats, step * 100 / mean)


def _dose(draft, line, pk, part):
    """What a pot had of a line, by what the recipe will follow; None where that is not known."""
    if part.unknown or not part.own:
        return None
    if draft.by_pots:
        return part.own
    if line.painted:
        return part.own / draft.skeins[pk] if draft.skeins[pk] else None
    if line.is_assistant and draft.usual_basis(line) == Basis.PER_L:
        return part.own / draft.baths[pk]
    return part.own / draft.fibre[pk] if draft.fibre[pk] else part.own


def _apart_words(draft, line):
    """ "Rust: from 0.4 g in jar 3 to 0.8 g in jar 2." """
    unit = line.lot.unit if line.lot else "mL"
    known = [(line.parts[batch.pk], batch) for batch in draft.pots if batch.pk in line.parts]
    known = [(part, batch) for part, batch in known if not part.unknown]
    least, most = min(known, key=lambda one: one[0].logged), max(known, key=lambda one: one[0].logged)
    about = "about " if line.estimated else ""
    if least[0].logged == most[0].logged:
        return f"{line.name}: {about}{amount_of(least[0].logged, unit)} in each, for different weights of yarn."
    where = f", {line.place}" if line.place else ""
    return (
        f"{line.name}{where}: from {about}{amount_of(least[0].logged, unit)} in {pots_in_words([least[1]])} "
        f"to {about}{amount_of(most[0].logged, unit)} in {pots_in_words([most[1]])}."
    )


def _order_apart(draft):
    """Where a pot had things in another order than the recipe will say."""
    for batch in draft.pots:
        mine = [line for line in draft.lines if line.make is not None and batch.pk in line.parts and not line.to_fix]
        for before, after in zip(mine, mine[1:], strict=False):
            if before.parts[batch.pk].entries[0].at > after.parts[batch.pk].entries[0].at:
                return [f"In {pots_in_words([batch])} {after.name} went in before {before.name}."]
    return []


# What a recipe cannot give back


def _honest(draft, standing, empty):
    """Sentences for the note: what the log leaves open, and what these amounts do not hold."""
    found = []
    if empty:
        found.append(f"{capital(pots_in_words(empty))} had nothing logged and is left out.")
    depths = depth.depths_of(draft.pots).values()
    if any(one.carry_over for one in depths):
        found.append("Carry-over unknown: its bath or its yarn had dye in it before, and no recipe holds that.")
    if any(one.shared for one in depths):
        found.append("Shared: yarn went in or out between additions, and the dye is counted on all of it.")
    late = [entry.addition.name for entry in standing if entry.kind == Entry.Kind.ADDITION and added_late(entry)]
    if late:
        found.append(f"Logged after the finish: {_listed(late)}.")
    perhaps = _perhaps(draft)
    if perhaps:
        found.append(f"Nobody knows whether it went in, so it is not in here: {_listed(perhaps)}.")
    if draft.run.state == State.RUNNING:
        found.append("The run was still going on when this was taken.")
    if draft.run.state == State.ABANDONED:
        why = f": {draft.run.why_abandoned}" if draft.run.why_abandoned else ""
        found.append(f"The run was given up{why.rstrip('.')}.")
    return found + _steps_apart(draft)


def _perhaps(draft):
    """Names of planned lines of which nobody knows whether they went in."""
    asked = Answer.objects.standing().filter(question=Answer.Question.LINE, known=False, entry__batch__in=draft.pots)
    lines = PlanLine.every.filter(entries__answer__in=asked).select_related("dye", "assistant", "solution")
    return [line.name for line in lines.distinct()]


def _steps_apart(draft):
    """Steps that took another time or heat from pot to pot: the recipe says their mean."""
    found = []
    for line in draft.lines:
        if line.make is not None or len(line.parts) < 2:
            continue
        for name, apart, unit in (("minutes", APART_MIN, "min"), ("temperature_c", APART_C, "°C")):
            said = [value for part in line.parts.values() if (value := getattr(part, name)) is not None]
            if said and max(said) - min(said) > apart:
                least, most = units.write_number(min(said)), units.write_number(max(said))
                found.append(f"{line.name}: {least} to {most}{NO_BREAK_SPACE}{unit} from pot to pot, said as the mean.")
    return found


def _listed(names):
    return ", ".join(dict.fromkeys(names))


# Answers to steps


@dataclass
class Settled:
    """A version to be. `steps`: pairs of an unsaved RecipeStep and its unsaved Ingredients."""

    facts: dict
    steps: list
    decided: list  # sentences

    @property
    def note(self):
        return " ".join(self.decided)[:MOST_NOTE]


def settled(draft, answers=None):
    """The `Settled` version of a draft. Needs its fibre known, or said. Asks nothing and stores nothing."""
    return _Settling(draft, answers or Answers()).all()


class _Settling:
    def __init__(self, draft, answers):
        self.draft, self.answers = draft, answers
        self.scales = answers.scales or draft.usual_scales
        self.keys = [batch.pk for batch in draft.pots]
        share = None if answers.fibre_g is None else answers.fibre_g / len(self.keys)
        self.fibre = {pk: draft.fibre[pk] if draft.fibre_known else share for pk in self.keys}
        skeins = answers.skeins if not draft.skeins_known else sum(draft.skeins.values())
        self.skeins = skeins or len(self.keys)
        self.by_share, self.estimates, self.by_eye, self.weak, self.fixed, self.strange = [], [], [], [], [], []
        self.by_litre = []

    def all(self):
        steps = []
        waters = [line for line in self.draft.lines if line.is_water and self.belongs(line)]
        for line in self.draft.lines:
            if not self.belongs(line):
                continue
            if line.make is None:
                steps.append((self.step(line), []))
                continue
            ingredient = self.water(line, line is waters[0]) if line.is_water else self.ingredient(line)
            steps.append((RecipeStep(kind=RecipeStep.Kind.ADD), [ingredient]))
        draft, run = self.draft, self.draft.run
        facts = {
            "method": run.method,
            "scales": self.scales,
            "skeins": self.skeins,
            "fibre_g": self.total_fibre(self.keys),
            "pots": len(self.keys),
            "liquor_ratio": self.liquor_ratio(),
        }
        return Settled(facts, steps, [self.taken_words(), *self.decisions(), *draft.honest])

    def belongs(self, line):
        return not line.to_fix or self.answers.fixes.get(line.key, line.belongs)

    def total_fibre(self, keys):
        return sum((self.fibre[pk] for pk in keys), Decimal(0))

    def step(self, line):
        """A thing to do; what it took from pot to pot is said as the mean, unless its words say it."""
        parts = list(line.parts.values())
        means = {name: _mean([getattr(part, name) for part in parts]) for name in ("temperature_c", "minutes")}
        if line.words and any(getattr(parts[0], name) != means[name] for name in means):
            means = {name: getattr(parts[0], name) for name in means}
        return RecipeStep(kind=line.kind, words=line.words, **means)

    def liquor_ratio(self):
        baths = self.draft.baths
        if not baths or None in baths.values():
            return None
        ratio = sum(baths.values()) / self.total_fibre(self.keys)
        return Recipe._meta.get_field("liquor_ratio").rounded(ratio) or None

    # --- amounts

    def water(self, line, first):
        """The first water is the bath, and follows the fibre or the pots; more of it later is said for each pot."""
        made = line.make()
        if line.unknown:
            return _said(made, Basis.PER_POT, None, "mL")
        if first and self.scales == Recipe.Scales.WEIGHT and None not in self.draft.baths.values():
            return _said(made, Basis.RATIO, sum(self.draft.baths.values()) / self.total_fibre(self.keys), ":1")
        own = {pk: part.own for pk, part in line.parts.items()}
        if first and None not in self.draft.baths.values():
            own = self.draft.baths
        return _said(made, Basis.PER_POT, sum(own.values()) / len(self.keys), "mL")

    def ingredient(self, line):
        made, own, estimated, keys = line.make(), *self.own(line)
        basis = self.basis(line, made)
        self.tell(line, made, own, estimated, basis)
        if own is None:
            return _said(made, basis if basis != Basis.OWF else Basis.PER_POT, None, line.unit)
        made.estimated = estimated
        amount = self.by(basis, own, keys)
        if Ingredient._meta.get_field("amount").rounded(amount) < LEAST:  # a trace of a dye in very much yarn
            basis, amount = Basis.PER_POT, max(LEAST, own / len(keys))
        return _said(made, basis, amount, "%" if basis == Basis.OWF else line.unit)

    def own(self, line):
        """(of the substance itself in all, whether some of it is an estimate, the pots it is of); None: by eye.

        Where only some pots are known, and the rest was left by eye, the known ones speak for all.
        """
        own = sum((part.own for part in line.parts.values()), Decimal(0))
        if not line.unknown:
            return own, line.estimated, self.keys
        each = self.answers.amounts.get(line.key)
        if each is not None:
            pots = sum(1 for part in line.parts.values() if part.unknown)
            return own + line.own_of(each) * pots, True, self.keys
        known = [pk for pk in self.keys if pk in line.parts and not line.parts[pk].unknown]
        if not known:
            return None, False, self.keys
        return sum(line.parts[pk].own for pk in known), True, known

    def basis(self, line, made):
        if made.assistant_id and line.key in self.answers.bases:
            return Basis(self.answers.bases[line.key])
        if line.painted or self.draft.run.method == Method.PAINTED and line.is_dye:
            return Basis.PER_SKEIN
        if self.scales == Recipe.Scales.POTS:
            return Basis.PER_POT
        if made.assistant_id:
            usual = self.draft.usual_basis(line)
            return usual if usual != Basis.PER_POT else Basis.OWF
        return Basis.OWF

    def by(self, basis, own, keys):
        if basis == Basis.OWF:
            return dyeing.depth_pct(own, self.total_fibre(keys))
        if basis == Basis.PER_L:
            return own * 1000 / sum(self.draft.baths[pk] for pk in keys)
        if basis == Basis.PER_SKEIN:
            return own / (Decimal(self.skeins) * len(keys) / len(self.keys))
        return own / len(keys)

    # --- what was decided, in words

    def tell(self, line, made, own, estimated, basis):
        if own is None:
            self.by_eye.append(line.name)
        elif estimated:
            by = "by a weigh-in" if "weigh-in" in line.by else "by a measure" if "measure" in line.by else ""
            self.estimates.append(f"{line.name} ({by})" if by and not line.unknown else line.name)
        if line.lot is not None and line.lot.dye_id and line.lot.strength_now != 100:
            self.weak.append(f"{line.name} of a lot of {write_pct(line.lot.strength_now)}")
        if made.solution_id and not made.solution.parts.all():
            self.strange.append(line.name)
        if basis == Basis.PER_L and line.key not in self.answers.bases and self.draft.follows_water(line):
            self.by_litre.append(line.name)

    def taken_words(self):
        draft = self.draft
        of = f"Taken from the log of {draft.run.code}"
        if draft.one is not None:
            return f"{of}, {draft.one.pot_name[:1].lower()}{draft.one.pot_name[1:]} alone."
        if len(draft.pots) == 1:
            return f"{of}."
        many = units.write_count(len(draft.pots), kind_of(draft.pots))
        if draft.differs:
            return f"{of}: the average of {many} that differed. {' '.join(draft.differs[:6])}"
        return f"{of}: {many} alike."

    def decisions(self):
        said = (
            ("Estimated, not weighed", self.estimates),
            ("Left by eye", self.by_eye),
            ("Counted at the studio's standard strength", self.weak),
            ("Said for each litre, as the amounts followed the water", self.by_litre),
            ("What is in it is not known", self.strange),
            ("In words, so it does not scale", [one.first.addition.what for one in self.draft.lines if _in_words(one)]),
            ("Added to put it right, and in here", [one.name for one in self.draft.fixes if self.belongs(one)]),
            ("Done afterwards, and left out", [one.name for one in self.draft.fixes if not self.belongs(one)]),
        )
        return [f"{words}: {_listed(names)}." for words, names in said if names]


def _in_words(line):
    return line.same[0] == "words" or line.same[:2] == ("do", "words")


def _mean(values):
    known = [value for value in values if value is not None]
    return (sum(known) / len(known)).quantize(Decimal(1)) if len(set(known)) > 1 else next(iter(known), None)


def _said(ingredient, basis, amount, unit):
    ingredient.basis, ingredient.unit = Basis(basis), unit
    ingredient.amount = None if amount is None else Ingredient._meta.get_field("amount").rounded(amount)
    return ingredient


# Into the recipes


def keep(draft, answers=None, *, by, now, name=None):
    """The version taken from a draft: the next of its run's colourway.

    `name`: what `beginning.call_it` takes, where the run has no colourway yet. Raises ValueError with a sentence where
    something is still open, or somebody was quicker to take that name.
    """
    answers = answers or Answers()
    made = settled(draft, answers)
    note = f"{made.note}\n{answers.note}" if answers.note else made.note
    with transaction.atomic():
        run = Run.lock(draft.run.pk)
        if run.colourway_id is None:
            if not name:
                raise ValueError("Say what the colour is called.")
            beginning.call_it(run, by=by, **name)
        way = run.colourway
        made_from = run.recipe if run.recipe_id and run.recipe.colourway_id == way.pk else None
        version = way.next_version(by=by, now=now, made_from=made_from, note=note, **made.facts)
        version.bases.set(draft.bases)
        version.write(made.steps)
        Captured.objects.create(recipe=version, run=run, batch=draft.one)
        if way.standard_id is None:
            way.pin(version)
    return version


def asked_words(line, draft):
    """("Rust, sprinkled dry, bottom layer, 3 taps", "jars 1 to 6"): how a line that nobody weighed is asked for."""
    first = line.unknown[0]
    taps = Counter(addition.taps for addition in line.unknown if addition.taps)
    how = [first.get_how_display()] if first.how not in (How.ADDED, How.BOTTLE) else []
    said = [line.name, *how, *([line.place] if line.place else [])]
    if len(taps) == 1:
        said.append(units.write_count(next(iter(taps)), "tap"))
    elif taps:
        said.append(f"{min(taps)} to {max(taps)} taps")
    if first.measure_id and first.fillings:
        said.append(f"{units.write_number(first.fillings)} × {first.measure}")
    unknown = {addition.entry.batch_id for addition in line.unknown}
    pots = [batch for batch in draft.pots if batch.pk in unknown]
    where = "" if len(draft.pots) == 1 else pots_in_words(pots)
    return ", ".join(said), where


def fix_words(line):
    """What was done afterwards, and how much: "Citric acid, 4 g"."""
    if line.make is None:
        (part, *_) = line.parts.values()
        more = [f"{units.write_number(part.temperature_c)}{NO_BREAK_SPACE}°C"] if part.temperature_c is not None else []
        more += [f"{units.write_number(part.minutes)}{NO_BREAK_SPACE}min"] if part.minutes is not None else []
        return line.name if line.words else ", ".join([line.name, *more])
    if line.lot is None:
        return line.name
    logged = sum((part.logged for part in line.parts.values()), Decimal(0))
    return f"{line.name}, {amount_of(logged or None, line.lot.unit)}"
