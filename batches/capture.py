"""A log becomes a recipe version: amounts by fibre, skein, pot or litre, in the order in which they went in.

`draft_of` reads a run, or one pot of it; `settled` turns that into steps with the answers somebody gave; `keep` writes
the version. What is not known is asked for, and what was not weighed stays marked as an estimate for ever after.
"""

from dataclasses import dataclass, field
from decimal import Decimal

from django.db import transaction

from recipes import baths
from recipes.models import Basis, How, Method, Recipe
from studio.models import Assistant

from . import beginning, capture_words
from .capture_log import lines_of_log
from .capture_settling import Answers, settled
from .capture_words import apart
from .models import BatchYarn, Captured, Entry, Run, State
from .record import batches_of, log_of, standing_of

ALL = "all"
BASES = {
    Basis.OWF: "the yarn’s weight",
    Basis.PER_L: "the water, so much for each litre",
    Basis.PER_SKEIN: "the skeins",
    Basis.PER_POT: "the pots",
}


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
    def newest(self):
        """The number of the newest version that was taken from it; 0: of none."""
        return self.taken[0].recipe.number if self.taken else 0

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
        sprinkled = any(line.is_dye and line.ingredient().how == How.SPRINKLED for line in self.lines)
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
        elif known_bath and (line.ingredient().assistant.kind == Assistant.Kind.WETTING or self.follows_water(line)):
            first = Basis.PER_L
        else:
            first = Basis.OWF
        return [first, *(one for one in offers if one != first)]

    def follows_water(self, line):
        """Whether a line's amounts are nearer to the same for each litre than to the same for each gram of fibre."""
        parts = {pk: part.own for pk, part in line.parts.items() if part.own and not part.unknown}
        if len(parts) < 2 or not self.fibre_known:
            return False
        by_water = apart([own / self.baths[pk] for pk, own in parts.items()])
        return by_water < apart([own / self.fibre[pk] for pk, own in parts.items()])


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
    draft.differs = capture_words.differences(draft)
    draft.honest = capture_words.honest(draft, mine, [batch for batch in wanted if batch.pk not in went_in])
    return draft


def _taken(run, one):
    """The versions that were taken from the same log before."""
    same = Captured.objects.filter(run=run, batch=one).select_related("recipe__colourway", "batch__vessel")
    return same.order_by("-recipe__number")


def _problem(draft):
    if draft.run.state == State.PLANNED:
        return "This run has not been started, so its log is empty: dye it first."
    if not draft.lines or not any(line.goes_in or line.same[0] == "words" for line in draft.lines):
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

    Where no water was logged, what the plan says of the bath.
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
        whole = part.own + brought
        found[batch.pk] = whole if baths.counts(brought, whole) else part.own
    return found


def _brought(draft, pk):
    """mL that bottles, liquids and what was weighed once and dissolved brought into the bath of a pot."""
    into_bath = [line for line in draft.lines if line.lot is not None and not line.to_fix and pk in line.parts]
    wet = sum((line.parts[pk].logged for line in into_bath if line.lot.unit == "mL" and not line.painted), Decimal(0))
    planned = [entry.addition.plan_line for line in into_bath for entry in line.parts[pk].entries]
    return wet + sum((each.pour_ml for each in planned if each is not None and each.pour_ml is not None), Decimal(0))


# Into the recipes


class AlreadyTaken(ValueError):
    """Somebody else took a version from the same log in the meantime."""


def keep(draft, answers=None, *, by, now, name=None, known=None):
    """The version taken from a draft: the next of its run's colourway.

    `name`: what `beginning.call_it` takes, where the run has no colourway yet. `known`: the newest version of the same
    log that whoever takes this one knows of, by its number; None: the draft's. Raises ValueError with a sentence where
    something is still open, or somebody was quicker to take that name; `AlreadyTaken` where there is a newer one.
    """
    answers = answers or Answers()
    made = settled(draft, answers)
    note = f"{made.note}\n{answers.note}" if answers.note else made.note
    with transaction.atomic():
        run = Run.lock(draft.run.pk)
        known = draft.newest if known is None else known
        draft.taken = list(_taken(run, draft.one))
        if draft.newest > known:
            raise AlreadyTaken(
                f"Version {draft.newest} was taken from this log in the meantime: look at that one. Keep this one too "
                "only if it is to be another."
            )
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
