"""A draft of a recipe, and the answers to what it leaves open, become the steps of a version. Nothing is stored."""

from dataclasses import dataclass, field
from decimal import Decimal

from recipes import dyeing
from recipes.models import LEAST_KEPT, Basis, Ingredient, Method, Recipe, RecipeStep
from studio import units
from studio.units import write_pct

from .capture_words import listed
from .under_way import kind_of

MOST_NOTE = 3900


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
        self.uncounted = not skeins
        self.by_share, self.estimates, self.by_eye, self.weak, self.fixed, self.strange = [], [], [], [], [], []
        self.by_litre = []

    def all(self):
        steps = []
        waters = [line for line in self.draft.lines if line.is_water and self.belongs(line)]
        for line in self.draft.lines:
            if not self.belongs(line):
                continue
            if not line.goes_in:
                steps.append((self.step(line), []))
                continue
            ingredient = self.water(line, line is waters[0]) if line.is_water else self.ingredient(line)
            steps.append((self.step(line), [ingredient]))
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
        """What is done; how hot and how long it was from pot to pot is said as the mean, unless its words say it."""
        parts = list(line.parts.values())
        means = {name: _mean([getattr(part, name) for part in parts]) for name in ("temperature_c", "minutes")}
        if line.words and any(getattr(parts[0], name) != means[name] for name in means):
            means = {name: getattr(parts[0], name) for name in means}
        return RecipeStep(kind=line.kind, words=line.words, **means)

    def liquor_ratio(self):
        ratio = self.ratio()
        return None if ratio is None else Recipe._meta.get_field("liquor_ratio").rounded(ratio) or None

    def ratio(self):
        """mL of bath to 1 g of yarn, of all pots; None where nobody knows a bath."""
        baths = self.draft.baths
        return None if not baths or None in baths.values() else sum(baths.values()) / self.total_fibre(self.keys)

    # --- amounts

    def water(self, line, first):
        """The first water is the bath, and follows the fibre or the pots; more of it later is said for each pot."""
        made = line.ingredient()
        if line.unknown:
            return _said(made, Basis.PER_POT, None, "mL")
        made.estimated = line.estimated
        ratio = self.ratio() if first else None
        if ratio is not None and ratio >= LEAST_KEPT and self.scales == Recipe.Scales.WEIGHT:
            return _said(made, Basis.RATIO, ratio, ":1")
        own = {pk: part.own for pk, part in line.parts.items()}
        if ratio is not None:
            own = self.draft.baths
        return _said(made, Basis.PER_POT, sum(own.values()) / len(self.keys), "mL")

    def ingredient(self, line):
        made, own, estimated, keys = line.ingredient(), *self.own(line)
        basis = self.basis(line, made)
        self.tell(line, made, own, estimated, basis)
        if own is None:
            return _said(made, basis if basis != Basis.OWF else Basis.PER_POT, None, line.unit)
        made.estimated = estimated
        amount = self.by(basis, own, keys)
        if Ingredient._meta.get_field("amount").rounded(amount) < LEAST_KEPT:  # a trace of a dye in very much yarn
            basis, amount = Basis.PER_POT, max(LEAST_KEPT, own / len(keys))
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
            return f"{of}, {draft.one.by_number} alone."
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
        counted = ["Nobody counted the skeins: one for each pot is written."] if self.uncounted else []
        return counted + [f"{words}: {listed(names)}." for words, names in said if names]


def _in_words(line):
    return line.same[0] == "words" or line.same[:2] == ("do", "words")


def _mean(values):
    known = [value for value in values if value is not None]
    return (sum(known) / len(known)).quantize(Decimal(1)) if len(set(known)) > 1 else next(iter(known), None)


def _said(ingredient, basis, amount, unit):
    ingredient.basis, ingredient.unit = Basis(basis), unit
    ingredient.amount = None if amount is None else Ingredient._meta.get_field("amount").rounded(amount)
    return ingredient
