"""Recipes from a spreadsheet, or as a notebook has them."""

import re

from django.db.models import prefetch_related_objects
from django.utils import timezone

from recipes.forms import ColourwayForm, VersionForm
from recipes.models import Colourway, Method, Recipe
from recipes.writing import Shelf, fold
from studio import cells, sheet, units
from studio.models import Base
from studio.sheet import Column

from .rows import Kind, Line, Outcome, Pasted, unfit

BLOCKS = re.compile(r"\n[ \t]*\n")
LIKE_A_LINE = re.compile(r"[0-9½¼¾.,]+\s*(%|(g|mg|ml|l|kg)\b)|for [0-9]", re.IGNORECASE)


class PastedColourway(Pasted, ColourwayForm):
    pass


class PastedVersion(Pasted, VersionForm):
    """A version whose names are looked up on a shelf that was read once."""

    def __init__(self, *args, shelf, of_bases, **kwargs):
        self.read_shelf, self.of_bases = shelf, of_bases
        super().__init__(*args, **kwargs)
        self.fields.pop("bases")

    def shelf(self):
        return self.read_shelf

    def clean(self):
        self.cleaned_data["bases"] = self.of_bases
        return super().clean()


class Recipes(Kind):
    slug, title, noun = "recipes", "Recipes", "recipe"
    about = "Colourways with how to dye them, in the words of your notebook."
    box = "The recipes"
    verb = "Keep"
    how = (
        "Paste them as the notebook has them: the colourway's name, its lines below it, and an empty line before the "
        "next name. A line such as “for 6 skeins of 100 g” says how much yarn the amounts are for.",
        "Or as rows with headings, with all the lines of a recipe in one cell.",
        "The dyes, acids and bottles they name have to be on the shelf.",
    )
    columns = (
        Column("name", "Name", ("colourway", "colorway", "colour", "color", "recipe name"), needed=True),
        Column("text", "The recipe", ("recipe", "lines", "how", "formula", "how to"), needed=True),
        Column("skeins", "Skeins", ("for skeins", "number of skeins")),
        Column("fibre_g", "Dry weight", ("weight", "fibre", "fiber", "wof", "yarn weight"), unit=True),
        Column("pots", "Pots", ("number of pots",)),
        Column("bases", "For these bases", ("base", "bases", "yarn")),
        Column("method", "How it is dyed", ("method",)),
        Column("liquor_ratio", "Water to yarn", ("liquor ratio", "water")),
        Column("story", "Story", ("about", "description")),
        Column("note", "Note", ("notes", "remarks")),
    )

    def load(self):
        self.shelf = Shelf.read()
        self.bases = {fold(base.name): base for base in Base.objects.filter(retired=False)}
        self.known = {}
        for colourway in Colourway.objects.select_related("standard"):
            self.known[colourway.name.casefold()] = colourway
        self.versions = {}
        newest = Recipe.objects.order_by("colourway", "-number")
        for version in newest:
            self.versions.setdefault(version.colourway_id, version)
        versions = [self.first_of(colourway) for colourway in self.known.values()]
        prefetch_related_objects([version for version in versions if version], "steps__ingredients")

    def first_of(self, colourway):
        return colourway.standard or self.versions.get(colourway.pk)

    def example(self):
        return [
            ["Name", "Skeins", "Dry weight", "The recipe"],
            ["Low tide", "2", "200 g", "Water 20:1\n1 tbsp vinegar\n0.6 % brick\n0.2 % ochre\nHold 30 min at 85 °C"],
        ]

    def example_text(self):
        """As a notebook has them: a name, its lines, and an empty line before the next."""
        weight = "8 oz" if self.writing.system == "us" else "200 g"
        return (
            f"Low tide\nfor {weight}:\nWater 20:1\n0.6 % brick\n0.2 % ochre\nHold 30 min at 85 °C\n\n"
            f"Wet slate\nfor {weight}:\nWater 20:1\n1.5 % soot\nHold 40 min at 85 °C\n"
        )

    def read(self, text):
        if self.has_headings(text):
            return super().read(text)
        blocks = [block.strip("\n") for block in BLOCKS.split(text.replace("\r\n", "\n")) if block.strip()]
        if not blocks:
            raise ValueError("There is nothing here yet: paste recipes, or choose a file.")
        if len(blocks) > sheet.MOST_ROWS:
            raise ValueError(f"That is {len(blocks)} recipes, and {sheet.MOST_ROWS} are taken at once: paste fewer.")
        if all("\n" not in block for block in blocks):
            raise ValueError(
                "Under each name its lines have to follow, and an empty line before the next name; or let the first "
                "row say what the columns are: Name; The recipe."
            )
        outcome = Outcome(row_word="Recipe")
        for number, block in enumerate(blocks, 1):
            outcome.lines.append(self.block(number, block))
        return outcome

    def has_headings(self, text):
        try:
            found = sheet.read(text)
            sheet.headings(found.heading, self.columns, self.unit_called)
        except ValueError:
            first = next((line for line in text.split("\n") if line.strip()), "")
            known = {sheet.plain(word) for column in self.columns for word in (column.label, *column.words)}
            cells_of_it = first.split(sheet.separator_of(first))
            return len(cells_of_it) > 1 and sheet.plain(cells_of_it[0]) in known
        return True

    def block(self, number, block):
        """A recipe as a notebook has it: the name, then the lines."""
        name, _, lines = block.partition("\n")
        line = Line(number, (block,), name=name.strip().rstrip(":").strip())
        self.heads = sheet.Headings({}, {}, {}, [])
        self.typed = {"name": line.name, "text": lines.strip()}
        if LIKE_A_LINE.match(line.name):
            self.tell(line, "name", "This begins with a line of a recipe: write the colourway's name above it.")
        elif sentence := unfit(block):
            self.tell(line, "text", sentence)
        else:
            self.understand(line, dict(self.typed))
        return line

    def understand(self, line, row):
        named = PastedColourway({"name": row.get("name", ""), "story": row.get("story", "")})
        if not named.is_valid():
            self.tell_form(line, named, {})
        of_bases = self.of_bases(line, row)
        columns = ("text", "skeins", "fibre_g", "pots", "liquor_ratio", "note")
        data = {key: row.get(key, "") for key in columns} | {
            "method": self.method(line, row),
            "scales": Recipe.Scales.WEIGHT,
        }
        if not line.problems:
            form = PastedVersion(data, shelf=self.shelf, of_bases=of_bases)
            if not form.is_valid():
                self.tell_form(line, form, {})
        if line.problems:
            self.show(line, {})
            return
        line.name = named.cleaned_data["name"]
        self.show(line, self.reads(line, form, of_bases))
        self.once_only(line, line.name.casefold(), "this name")
        colourway = self.known.get(line.name.casefold())
        if colourway is not None and (there := self.first_of(colourway)):
            self.compare(line, there, form)
        line.make = lambda by: self.make(by, named, colourway, form)

    def method(self, line, row):
        if not row.get("method"):
            return Method.POT
        wanted = fold(row["method"])
        for key, label in Method.choices:
            if wanted in (key, fold(label)):
                return key
        named = "; ".join(label for _, label in Method.choices)
        self.tell(line, "method", f"{cells.quoted(row['method'])} is no way that is known here: write one of {named}.")
        return ""

    def of_bases(self, line, row):
        found = []
        for name in re.split(r"[,;\n]", row.get("bases", "")):
            if not name.strip():
                continue
            base = self.bases.get(fold(name))
            if base is None:
                self.tell(
                    line, "bases", f"There is no base {cells.quoted(name.strip())} on the shelf: put it there first."
                )
            else:
                found.append(base)
        return found

    def reads(self, line, form, of_bases):
        facts = form.understood.facts
        ratio = "" if facts.liquor_ratio is None else f"{units.write_number(facts.liquor_ratio)}:1"
        return {
            "name": line.name,
            "text": form.cleaned_data["text"],
            "skeins": "" if "skeins" not in self.typed else str(facts.skeins),
            "fibre_g": self.g(facts.fibre_g),
            "pots": "" if "pots" not in self.typed else str(facts.pots),
            "bases": ", ".join(base.name for base in of_bases),
            "method": Method(facts.method).label if "method" in self.typed else "",
            "liquor_ratio": ratio,
            "story": self.typed.get("story", ""),
            "note": form.cleaned_data["note"],
        }

    def compare(self, line, there, form):
        steps = [(step, step.ingredients.all()) for step in there.steps.all()]
        if words_of(steps) == words_of(form.understood.steps) and there.fibre_g == form.understood.facts.fibre_g:
            line.here = "is here already and left as it is"
            return
        self.tell(
            line, "name",
            f"{line.name} is here already and is dyed otherwise there: write its next version on its own page, or take "
            "this one out.",
        )  # fmt: skip

    def make(self, by, named, colourway, form):
        now = timezone.now()
        if colourway is None:
            colourway = Colourway.objects.create(made_at=now, by=by, **named.facts())
        form.write_next(colourway, by=by, now=now)


def words_of(steps):
    """The words of a version, to be compared: of the steps and what goes in, as they were typed."""
    found = []
    for step, ingredients in steps:
        found += [step.words, *(each.typed for each in ingredients)]
    return [" ".join(words.split()).casefold() for words in found if words.strip()]
