"""From a notebook's words to a version's steps and ingredients, and back to words for the next version.

Names are looked up on the shelf; amounts are turned into what they mean for any weight. Nothing is guessed: what fits
several things, or nothing, comes back as a problem with a sentence, and nothing is stored.
"""

import re
import unicodedata
from dataclasses import dataclass, field, replace
from decimal import Decimal
from difflib import get_close_matches

from django.db.models import prefetch_related_objects

from studio import units
from studio.models import Assistant, Dye, Solution

from . import dyeing, notebook, notebook_reading
from .models import LEAST_KEPT, Basis, How, Ingredient, Recipe, RecipeStep
from .notebook import NoteFor, NoteLine, NoteProblem, NoteStep, Unreadable

MOST_OWF_PCT = 200
LEAST_RATIO, MOST_RATIO = Decimal("0.1"), 1000
LEAST_FIBRE_G = Decimal("0.1")  # less yarn than that nobody dyes, and a thousandth of it would be kept as none
SPOONS = ("metric_tsp", "metric_tbsp", "metric_cup", "us_tsp", "us_tbsp", "us_cup")
POTS = Recipe.Scales.POTS


@dataclass(frozen=True)
class Facts:
    """What the notebook's amounts are for. None: not said yet; "for 6 skeins:" in the words may say it."""

    method: str = "pot"
    scales: str = Recipe.Scales.WEIGHT
    skeins: int | None = None
    fibre_g: Decimal | None = None
    pots: int | None = None
    liquor_ratio: Decimal | None = None
    skein_g: Decimal | None = None  # of the base, for skeins without a weight


@dataclass(frozen=True)
class Written:
    """What was understood. `problems`: sentences by line; with any of them nothing may be stored."""

    facts: Facts
    steps: list = field(default_factory=list)  # pairs of an unsaved RecipeStep and its unsaved Ingredients
    problems: list = field(default_factory=list)


class Shelf:
    """The names that a notebook may use: dyes, assistants and bottles, without those that are retired."""

    def __init__(self, dyes, assistants, solutions):
        self.dyes, self.assistants, self.solutions = list(dyes), list(assistants), list(solutions)

    @classmethod
    def read(cls):
        """As it is now. Three queries and the bottles' parts."""
        solutions = list(Solution.objects.filter(retired=False))
        prefetch_related_objects(solutions, "parts__dye", "parts__assistant")
        return cls(Dye.objects.filter(retired=False), Assistant.objects.filter(retired=False), solutions)

    def find(self, name, rows):
        """Those of `rows` that a name means: the same name, else the names with words that begin so.

        `acid`, `salt` and the like mean every assistant of that kind as well.
        """
        wanted = fold(name)
        same = [row for row in rows if fold(row.name) == wanted]
        if same:
            return same
        kinds = [
            row for row in rows if isinstance(row, Assistant) and wanted in (row.kind, fold(row.get_kind_display()))
        ]
        found = [row for row in rows if _has_words(fold(row.name), wanted)]
        return found + [row for row in kinds if row not in found]

    def not_there(self, name):
        """What to say of a name that is not on the shelf; with the nearest one that is, if one is near."""
        names = {fold(row.name): row.name for row in [*self.dyes, *self.assistants, *self.solutions]}
        near = nearest(name, names)
        hint = f"is {names[near]} meant? Else put it there first." if near else "put it there first."
        return f"there is no {name} on the shelf: {hint}"


def fold(name):
    """A name without case, accents and marks: "Brûlée-Red" -> "brulee red"."""
    plain = "".join(each for each in unicodedata.normalize("NFKD", name) if not unicodedata.combining(each))
    return " ".join(re.sub(r"[\W_]+", " ", plain.casefold()).split())


def nearest(name, folded):
    """The one of these folded names that a misspelt name most likely means, or None.

    A tip is worth having only where it is near: by letters alike anywhere, "vinegar" would be "cinder".
    """
    wanted = fold(name)
    near = get_close_matches(wanted, [one for one in folded if one[:1] == wanted[:1]], n=1, cutoff=0.65)
    return near[0] if near else None


def _has_words(name, wanted):
    """Whether each wanted word begins a word of the name."""
    return bool(wanted) and all(any(word.startswith(part) for word in name.split()) for part in wanted.split())


# Words to rows


def understand(text, facts, shelf, spoons="metric"):
    """`Written`: what the words mean for these facts, with the names of this shelf. Stores nothing, never raises."""
    rows = notebook_reading.read_lines(text, spoons)
    problems = [row for row in rows if isinstance(row, NoteProblem)]
    facts, said = _settle(facts, rows)
    problems += said
    reader = _Reader(facts, shelf)
    steps = reader.steps(rows)
    problems += reader.problems
    if not problems and not _has_dye(steps):
        why = "There is no dye in this recipe yet: write at least one line such as 40 mL red 1 % or 0.4 % red."
        problems.append(NoteProblem(0, "", why))
    return Written(reader.facts, steps, sorted(problems, key=lambda problem: problem.number))


def _has_dye(steps):
    return any(each.dye or _brings_dye(each.solution) for _, ingredients in steps for each in ingredients)


def _brings_dye(solution):
    """Whether a bottle has dye in it; of kept liquor nobody knows the parts, and it has."""
    if solution is None:
        return False
    parts = list(solution.parts.all())
    return not parts or any(part.dye_id for part in parts)


def _settle(facts, rows):
    """(facts with what "for 6 skeins:" says, problems where the boxes say something else)."""
    problems = []
    for row in rows:
        if not isinstance(row, NoteFor):
            continue
        for name, words in (("skeins", "skeins"), ("fibre_g", "g of yarn"), ("pots", "pots")):
            here, there = getattr(row, name), getattr(facts, name)
            if here is None:
                continue
            if there is not None and there != here:
                says, box = notebook.plain(here), notebook.plain(there)
                why = f"this says {says} {words}, and the box says {box}: make them the same."
                problems.append(NoteProblem(row.number, row.typed, why))
            else:
                facts = replace(facts, **{name: here})
    if facts.fibre_g is None and facts.skeins and facts.skein_g:
        facts = replace(facts, fibre_g=facts.skeins * facts.skein_g)
    if facts.fibre_g is None or facts.fibre_g <= 0:
        why = "Say how much yarn the amounts are for: its weight in g, or the skeins and a base."
        if facts.skeins and facts.skein_g is None:
            many = units.write_count(facts.skeins, "skein")
            why = f"{many} of what weight? Tick one base, or write the dry weight of all the yarn in g."
        return replace(facts, fibre_g=None), [*problems, NoteProblem(0, "", why)]
    if facts.fibre_g < LEAST_FIBRE_G:
        why = (
            f"{notebook.plain(facts.fibre_g)} g of yarn is too little: write {notebook.plain(LEAST_FIBRE_G)} g or more."
        )
        return replace(facts, fibre_g=None), [*problems, NoteProblem(0, "", why)]
    return replace(facts, skeins=facts.skeins or 1, pots=facts.pots or 1), problems


class _Reader:
    """Turns read lines into steps, gathering problems."""

    def __init__(self, facts, shelf):
        self.facts, self.shelf, self.problems = facts, shelf, []

    def steps(self, rows):
        steps = []
        for row in rows:
            if isinstance(row, NoteStep):
                steps.append((_step(row), []))
            elif isinstance(row, NoteLine):
                ingredient = self.ingredient(row)
                if ingredient is None:
                    continue
                if row.inside and steps:
                    steps[-1][1].append(ingredient)
                else:
                    step = RecipeStep(kind=RecipeStep.Kind.ADD, temperature_c=row.temperature_c, minutes=row.minutes)
                    steps.append((step, [ingredient]))
        return steps

    def ingredient(self, row):
        try:
            _check_row(row)
            ingredient = self.water(row) if row.water else self.substance(row)
        except _NotFound as why:
            self.problems.append(NoteProblem(row.number, row.typed, str(why), why.name))
            return None
        except ValueError as why:
            self.problems.append(NoteProblem(row.number, row.typed, str(why)))
            return None
        ingredient.typed, ingredient.place, ingredient.estimated = row.typed, row.place, row.estimated
        return ingredient

    def water(self, row):
        if row.basis == "per_l":
            raise Unreadable("water for each litre of bath makes no sense: write 6 L water or water 20:1.")
        if row.unit == ":1":
            _sensible_ratio(row.amount)
        ingredient = Ingredient(water=True, how=How.ADDED)
        if row.amount is None:
            return _based(ingredient, Basis.PER_POT, None, "mL")
        if row.unit == ":1":
            return self.ratio(_based(ingredient, Basis.RATIO, row.amount, ":1"), row)
        if row.basis in ("per_skein", "per_pot", "fixed"):
            return _based(ingredient, row.basis, row.amount, "mL")
        if self.facts.scales == POTS:
            return _based(ingredient, Basis.PER_POT, row.amount / (self.facts.pots or 1), "mL")
        if self.facts.fibre_g is None:
            return _based(ingredient, Basis.PER_POT, row.amount, "mL")  # there is a problem already
        ratio = _sensible_ratio(dyeing.liquor_ratio(row.amount, self.facts.fibre_g))
        return self.ratio(_based(ingredient, Basis.RATIO, ratio, ":1"), row)

    def ratio(self, ingredient, row):
        """Water of the dye bath says the version's liquor ratio; water under a heading such as Soak is its own."""
        if row.inside:
            return ingredient
        known = self.facts.liquor_ratio
        if known is not None and known != ingredient.amount:
            here = units.write_number(ingredient.amount)
            raise Unreadable(
                f"this is {here}:1, and the liquor ratio says {units.write_number(known)}:1: make them the same."
            )
        self.facts = replace(self.facts, liquor_ratio=ingredient.amount)
        return ingredient

    def substance(self, row):
        found = self.named(row)
        if isinstance(found, Solution):
            return self.of_bottle(row, found)
        return self.of_dye(row, found) if isinstance(found, Dye) else self.of_assistant(row, found)

    def named(self, row):
        """The one thing on the shelf that a line names."""
        shelf = self.shelf
        powders = [*shelf.dyes, *shelf.assistants]
        in_bottles = row.unit == "mL" and row.strength_pct is None
        pools = ([*shelf.assistants, *shelf.solutions], shelf.dyes) if in_bottles else (powders, shelf.solutions)
        found = shelf.find(row.name, pools[0]) or shelf.find(row.name, pools[1])
        if not found:
            raise _NotFound(shelf.not_there(row.name), row.name)
        if len(found) > 1:
            either = " or ".join(each.name for each in found[:4])
            raise Unreadable(f"{notebook.quoted(row.name)} could be {either}: write the whole name.")
        return found[0]

    # --- dyes

    def of_dye(self, row, dye):
        ingredient = Ingredient(dye=dye, strength_pct=row.strength_pct, how=self.how(row))
        if row.how == How.PAINTED and row.unit != "mL":
            raise Unreadable("what is painted is measured in mL of a strength, such as 5 mL black 0.5 % painted.")
        if row.amount is None:
            return _based(ingredient, _basis_by_eye(row), None, "g")
        if row.unit == "%":
            return _based(ingredient, Basis.OWF, _sensible_pct(row.amount), "%")
        if row.unit == "mL" and row.strength_pct is None:
            if row.measure in SPOONS:
                raise Unreadable(
                    "powder is never measured in spoons: weigh it and write g, or write the bottle's strength."
                )
            raise Unreadable(
                f"how strong is the {dye.name}? Write it as {notebook.plain(row.amount)} mL {dye.name} 1 %."
            )
        if row.unit == "mL" and row.how == How.SPRINKLED:
            raise Unreadable("only dry powder is sprinkled: write its g and leave out the strength.")
        if row.how == How.PAINTED:
            return self.painted(row, ingredient)
        grams = row.amount if row.unit == "g" else dyeing.dye_in_stock_g(row.amount, row.strength_pct)
        return self.spread(row, ingredient, grams, "g")

    def painted(self, row, ingredient):
        if row.basis in ("per_skein", "per_pot", "fixed"):
            return _based(ingredient, row.basis, row.amount, "mL")
        if row.basis:
            raise Unreadable("what is painted is said for each skein, for each pot or for all.")
        if self.facts.scales == POTS:
            return _based(ingredient, Basis.PER_POT, row.amount / (self.facts.pots or 1), "mL")
        return _based(ingredient, Basis.PER_SKEIN, row.amount / (self.facts.skeins or 1), "mL")

    def how(self, row):
        if row.how:
            return row.how
        return How.BOTTLE if row.strength_pct is not None else How.ADDED

    # --- assistants and mixed bottles

    def of_assistant(self, row, assistant):
        ingredient = Ingredient(assistant=assistant, how=row.how or How.ADDED)
        if row.amount is None:
            return _based(ingredient, _basis_by_eye(row), None, assistant.unit)
        if row.unit == "%":
            return _based(ingredient, Basis.OWF, _sensible_pct(row.amount), "%")
        amount = row.amount
        if assistant.unit == "g" and row.unit == "mL":
            if row.strength_pct is None:
                spoons = "spoons" if row.measure in SPOONS else "mL"
                why = f"{assistant.name} is a powder, and {spoons} say nothing sure about its weight: write grams"
                raise Unreadable(f"{why}, or the strength of its bottle.")
            amount = dyeing.dye_in_stock_g(amount, row.strength_pct)
            ingredient.strength_pct, ingredient.how = row.strength_pct, row.how or How.BOTTLE
        elif assistant.unit == "mL":
            self.check_liquid(row, assistant)
        return self.spread(row, ingredient, amount, assistant.unit)

    def check_liquid(self, row, assistant):
        if row.unit == "g":
            raise Unreadable(f"{assistant.name} is measured in mL here: write mL, or a spoon.")
        known = assistant.strength_pct
        if row.strength_pct is not None and known is not None and row.strength_pct != known:
            here, there = units.write_number(row.strength_pct), units.write_number(known)
            raise Unreadable(f"this says {here} %, and {assistant.name} is {there} % on the shelf: make them the same.")

    def of_bottle(self, row, solution):
        ingredient = Ingredient(solution=solution, how=row.how or How.BOTTLE)
        if row.amount is None:
            return _based(ingredient, _basis_by_eye(row), None, solution.unit)
        if row.unit == "%":
            raise Unreadable(f"{solution.name} is a mix: write it in {solution.unit}, not in % of the yarn's weight.")
        if row.unit != solution.unit:
            raise Unreadable(f"{solution.name} is measured in {solution.unit}: write {solution.unit}.")
        self.check_mix(row, solution)
        if row.how == How.PAINTED and row.unit == "mL":
            return self.painted(row, ingredient)
        return self.spread(row, ingredient, row.amount, solution.unit)

    def check_mix(self, row, solution):
        """A mix has strengths of its own; one that is said beside its name must be the same."""
        parts = list(solution.parts.all())
        if row.strength_pct is None or sum(part.g_per_100 for part in parts) == row.strength_pct:
            return
        if fold(f"{row.name} {notebook.plain(row.strength_pct)}") != fold(solution.name):
            raise Unreadable(f"{solution.name} has its own strength: leave out {notebook.plain(row.strength_pct)} %.")

    def spread(self, row, ingredient, amount, unit):
        """The amount on the basis that was said; with none, on what the version scales by."""
        if row.basis:
            return _based(ingredient, row.basis, amount, unit)
        if self.facts.scales == POTS:
            return _based(ingredient, Basis.PER_POT, amount / (self.facts.pots or 1), unit)
        if self.facts.fibre_g is None:
            return _based(ingredient, Basis.OWF, amount, "%")  # there is a problem already
        return _based(ingredient, Basis.OWF, _sensible_pct(dyeing.depth_pct(amount, self.facts.fibre_g)), "%")


def _check_row(row):
    if row.inside and (row.temperature_c is not None or row.minutes is not None):
        raise Unreadable("under a heading a temperature or a time has a line of its own, such as Heat to 60 °C.")
    if row.strength_pct is not None and row.strength_pct < LEAST_KEPT:
        raise Unreadable("that strength is less than anybody can make: write the grams in 100 mL, such as 0.1 %.")


class _NotFound(Unreadable):
    def __init__(self, why, name):
        super().__init__(why)
        self.name = name


def _step(row):
    return RecipeStep(kind=row.kind, words=row.typed, temperature_c=row.temperature_c, minutes=row.minutes)


def _based(ingredient, basis, amount, unit):
    if amount is not None and amount < LEAST_KEPT:
        raise Unreadable("this is less than anybody can measure: write more, or leave the line out.")
    ingredient.basis, ingredient.amount, ingredient.unit = Basis(basis), amount, unit
    return ingredient


def _basis_by_eye(row):
    return row.basis if row.basis in ("per_l", "per_skein", "per_pot", "fixed") else Basis.PER_POT


def _sensible_ratio(ratio):
    if not LEAST_RATIO <= ratio <= MOST_RATIO:
        said = units.write_number(ratio)
        raise Unreadable(f"that is {said} mL of water to 1 g of yarn: check the water and the weight of the yarn.")
    return ratio


def _sensible_pct(percent):
    if percent > MOST_OWF_PCT:
        said = units.write_number(percent)
        raise Unreadable(
            f"that is {said} % of the yarn's weight, more than can be right: check the amount and the weight."
        )
    return percent


# Rows to words


def as_text(recipe):
    """The words of a version as they were typed, one line each, so that the next one starts from them.

    What was never typed (a recipe taken from a log) is said the way `notebook.say` says it.
    """
    lines, grouped = [], False
    for step in recipe.steps.all():
        ingredients = list(step.ingredients.all())
        heading = step.words.endswith(":")
        if grouped and not step.words:
            lines.append("")
        if step.words or step.kind != RecipeStep.Kind.ADD or not ingredients:
            lines.append(step.words or notebook.say(_as_note(step, bool(ingredients))))
        if ingredients and lines and step.kind != RecipeStep.Kind.ADD and not lines[-1].endswith(":"):
            lines[-1] += ":"
            heading = True
        lines += [each.typed or notebook.say(_as_line(each, step, heading, recipe)) for each in ingredients]
        grouped = heading
    return "\n".join(lines)


def _as_note(step, heading):
    return NoteStep(0, "", step.kind, step.temperature_c, step.minutes, heading)


def _as_line(ingredient, step, inside, recipe):
    amount, unit, basis = ingredient.amount, ingredient.unit, ingredient.basis
    if ingredient.solution_id and unit == "%" and amount is not None:
        # A mix is measured, and never a % of the yarn: so much of it for all the yarn that the notebook is for.
        amount, unit, basis = dyeing.dye_g(recipe.fibre_g, amount), ingredient.solution.unit, ""
    if amount is not None and ingredient.strength_pct is not None and unit == "g":
        amount, unit = amount * 100 / ingredient.strength_pct, "mL"
    how = "" if ingredient.how in (How.ADDED, How.BOTTLE) else ingredient.how
    name = "water" if ingredient.water else ingredient.substance.name
    conditions = {} if inside else {"temperature_c": step.temperature_c, "minutes": step.minutes}
    return NoteLine(
        0, "", name, amount, unit, "", ingredient.strength_pct, basis, how, ingredient.place,
        estimated=ingredient.estimated, water=ingredient.water, **conditions,
    )  # fmt: skip
