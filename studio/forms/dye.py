"""Dyes, assistants, and the masters of bottles."""

from django import forms
from django.core.exceptions import ValidationError
from django.db import transaction

from studio.album import NotADocument, keep_document
from studio.forms.base import StudioForm
from studio.forms.fields import ColourField, NumberField, PercentField, WholeField, WordsField
from studio.forms.named import NamedForm
from studio.forms.rows import RowsFormSet, rows_of
from studio.models import LEAST_PART, Assistant, Dye, DyeClass, Solution, SolutionPart

MOST_PARTS = 12


SHEET = ("sheet_url", "sheet_file")


class SheetForm(NamedForm):
    """Something with a safety data sheet: a link to it, a copy of it, or both."""

    sheet_url = forms.URLField(
        label="Link to the safety data sheet",
        help_text="The supplier has it: what the dust does, what to wear, what to do with the rest.",
        max_length=400,
        required=False,
        assume_scheme="https",
        widget=forms.TextInput({"inputmode": "url", "autocomplete": "off"}),
    )
    sheet_file = forms.FileField(
        label="Or a copy of it", required=False, help_text="A PDF. It replaces the copy kept before."
    )
    note = WordsField(label="Note", required=False, rows=2)
    retired = forms.BooleanField(label="No longer used", required=False)

    def clean_sheet_url(self):
        url = self.cleaned_data["sheet_url"]
        if url and not url.startswith(("http://", "https://")):
            raise ValidationError("Write a web address that starts with https://, such as https://example.org/sheet.")
        return url

    def keep_sheet(self, by):
        """Keep the copy that was chosen, if one was. False, with the field's sentence, where it can't be kept.

        It takes a moment and is done outside a transaction, once the rest of the form is right.
        """
        file = self.cleaned_data["sheet_file"]
        try:
            self.sheet = keep_document(file, f"{self.cleaned_data['name']}: safety data sheet", by) if file else None
        except NotADocument as problem:
            self.add_error("sheet_file", str(problem))
        return not self.errors

    def sheet_facts(self):
        return {"sheet": self.sheet} if self.sheet else {}


class DyeForm(SheetForm):
    """A dye powder, whatever its lots."""

    model = Dye

    parts = (
        ("The dye", "", ("name", "dye_class", "colour")),
        ("Safety", "The supplier has the sheet: what the dust does, what to wear, what to do with the rest.", SHEET),
        ("More", "", ("supplier", "note", "retired")),
    )

    name = WordsField(label="Name", max_length=80, help_text="As you say it at the pot.")
    dye_class = forms.ChoiceField(
        label="Class", choices=[("", "Choose"), *DyeClass.choices], help_text="It decides which fibres it dyes."
    )
    colour = ColourField(label="Colour on the fibre", help_text="For the colour bar and the bottles.")
    supplier = WordsField(label="Maker or supplier", max_length=120, required=False)

    field_order = ["name", "dye_class", "colour", "supplier", "sheet_url", "sheet_file", "note", "retired"]

    @staticmethod
    def initial_of(dye):
        columns = ("name", "dye_class", "colour", "supplier", "sheet_url", "note", "retired")
        return {column: getattr(dye, column) for column in columns}

    def facts(self):
        said = self.cleaned_data
        columns = ("name", "dye_class", "colour", "supplier", "sheet_url", "note")
        plain = {column: said[column] for column in columns} | {"retired": said.get("retired", False)}
        return plain | self.sheet_facts()


class AssistantForm(SheetForm):
    """Acid, salt, soda ash, mordant, wetting agent."""

    model = Assistant

    parts = (
        ("What it is", "", ("name", "kind", "unit", "strength_pct")),
        ("Safety", "The supplier has the sheet: what it does to skin and eyes, what to do with the rest.", SHEET),
        ("More", "", ("supplier", "note", "retired")),
    )

    name = WordsField(label="Name", max_length=80, help_text="Such as citric acid, or vinegar 5 %.")
    kind = forms.ChoiceField(label="What it is", choices=[("", "Choose"), *Assistant.Kind.choices])
    unit = forms.ChoiceField(label="How it is measured", choices=Assistant.Unit.choices, widget=forms.RadioSelect)
    strength_pct = PercentField(
        label="Strength, if it is a liquid", required=False, help_text="Grams in 100 mL: vinegar is often 5."
    )
    supplier = WordsField(label="Maker or supplier", max_length=120, required=False)

    field_order = [
        "name", "kind", "unit", "strength_pct", "supplier", "sheet_url", "sheet_file", "note", "retired",
    ]  # fmt: skip

    @staticmethod
    def initial_of(assistant):
        columns = ("name", "kind", "unit", "strength_pct", "supplier", "sheet_url", "note", "retired")
        return {column: getattr(assistant, column) for column in columns}

    def clean_strength_pct(self):
        strength = self.cleaned_data["strength_pct"]
        if strength == 0:
            raise ValidationError("A strength of 0 is water: write the grams in 100 mL, or leave it empty.")
        return strength

    def clean_unit(self):
        unit = self.cleaned_data["unit"]
        if self.row is not None and unit != self.row.unit and self.row.lots.exists():
            raise ValidationError(
                f"Lots of it are kept in {self.row.unit} already, so the unit stays: add a new one for the other unit."
            )
        return unit

    def facts(self):
        said = self.cleaned_data
        columns = ("name", "kind", "unit", "strength_pct", "supplier", "sheet_url", "note")
        plain = {column: said[column] for column in columns} | {"retired": said.get("retired", False)}
        return plain | self.sheet_facts()


class SolutionForm(NamedForm):
    """The master of a bottle: what one made from it should hold."""

    model = Solution

    name = WordsField(label="Name", max_length=80, help_text="As it is written on the bottle, such as Brick 1 %.")
    kind = forms.ChoiceField(label="What it is", choices=Solution.Kind.choices, initial=Solution.Kind.STOCK)
    keeps_days = WholeField(
        label="Keeps for", required=False, least=1, most=3650, help_text="In days; the use-by date starts from it."
    )
    note = WordsField(label="Note", required=False, rows=2)
    retired = forms.BooleanField(label="No longer made", required=False)

    @staticmethod
    def initial_of(solution):
        columns = ("name", "kind", "keeps_days", "note", "retired")
        return {column: getattr(solution, column) for column in columns}

    def clean_kind(self):
        kind = self.cleaned_data["kind"]
        dry = Solution.Kind.DRY
        if self.row is not None and (kind == dry) != (self.row.kind == dry) and self.row.lots.exists():
            raise ValidationError("Some have been made already, by weight or by volume: make a new one for the other.")
        return kind

    def facts(self):
        said = self.cleaned_data
        columns = ("name", "kind", "keeps_days", "note")
        return {column: said[column] for column in columns} | {"retired": said.get("retired", False)}

    def keep(self, rows):
        """The master with its parts, in one piece."""
        with transaction.atomic():
            solution = super().keep()
            solution.write_parts(rows.parts())
        return solution


class PartRow(StudioForm):
    """One substance of a bottle with its strength, or its parts of the whole. A row with none of it is no row."""

    what = forms.ChoiceField(label="Dye or assistant", required=False)
    strength = PercentField(
        label="Strength", required=False, help_text="Grams in 100 mL of the finished bottle: 1 is 1\u00a0%."
    )
    share = NumberField(label="Or parts", required=False, most=1000, help_text="Such as 3, and 1 in the next row.")

    def __init__(self, *args, substances=None, **kwargs):
        super().__init__(*args, **kwargs)
        self.substances = substances or {}
        self.fields["what"].choices = choices_of(self.substances)

    def clean_strength(self):
        strength = self.cleaned_data["strength"]
        if strength is not None and strength < LEAST_PART:
            raise ValidationError("That is no strength: write the grams in 100 mL, such as 1 or 0.1.")
        return strength

    def clean(self):
        said = super().clean()
        if self.errors:
            return said
        strength, share = said["strength"], said["share"]
        if said["what"] and strength is None and share is None:
            self.add_error("strength", "Write how strong it is to be, in grams in 100 mL, such as 1; or its parts.")
        elif strength is not None and share is not None:
            self.add_error("share", "Write its strength or its parts, not both: the parts follow from all together.")
        elif share == 0:
            self.add_error("share", "No part of it is none at all: write more than 0, or empty the row.")
        elif (strength is not None or share is not None) and not said["what"]:
            self.add_error("what", "Choose what is in it, or empty the row.")
        return said

    def as_part(self, g_per_100):
        """An unsaved SolutionPart."""
        substance = self.substances[self.cleaned_data["what"]]
        column = "dye" if isinstance(substance, Dye) else "assistant"
        return SolutionPart(**{column: substance}, g_per_100=g_per_100)


class AllTogetherForm(StudioForm):
    """How strong a bottle is in all, where what is in it was written by parts."""

    total = PercentField(
        label="All parts together",
        required=False,
        help_text="Only for rows with parts: 3 parts and 1 part, 1 % in all, are 0.75 % and 0.25 %.",
    )


class PartRows(RowsFormSet):
    """What a bottle is to hold. Kept liquor may say nothing: nobody knows what is left in it."""

    def __init__(self, data=None, *args, **kwargs):
        super().__init__(data, *args, **kwargs)
        self.together = AllTogetherForm(data)
        self.beside = [self.together]

    def unjudged(self):
        self.together.unjudged()
        return super().unjudged()

    def is_valid(self):
        return all([super().is_valid(), self.together.is_valid()])

    def clean(self):
        if any(self.errors) or not self.together.is_valid():
            return
        by_parts, total = any(row.cleaned_data["share"] is not None for row in self.rows()), self.total()
        if by_parts and not total:
            self.together.add_error("total", "Write how strong all parts are together, such as 1 %.")
            return
        if total and not by_parts:
            self.together.add_error("total", "No row has parts: write the parts of each, or leave this empty.")
            return
        if any(each < LEAST_PART for each in self.strengths()):
            self.together.add_error("total", "So little of one part can't be told from nothing: write more in all.")
            return
        chosen = [row.cleaned_data["what"] for row in self.rows()]
        if len(chosen) != len(set(chosen)):
            raise ValidationError("The same substance stands in two rows: give it one row with its whole strength.")
        if sum(self.strengths()) > 100:
            raise ValidationError("Together that is more than 100 g in 100 mL: write the grams in 100 mL of each.")

    def rows(self):
        return [row for row in self.forms if row.cleaned_data.get("what")]

    def parts(self):
        """Unsaved SolutionParts."""
        return [row.as_part(strength) for row, strength in zip(self.rows(), self.strengths(), strict=True)]

    def total(self):
        return self.together.cleaned_data["total"]

    def strengths(self):
        """g in 100 mL of each row; those that were written by parts sum to their total exactly."""
        places = SolutionPart._meta.get_field("g_per_100")
        shares = [row.cleaned_data["share"] for row in self.rows() if row.cleaned_data["share"] is not None]
        left, found = self.total(), []
        last = len(shares)
        for row in self.rows():
            share = row.cleaned_data["share"]
            if share is None:
                found.append(row.cleaned_data["strength"])
                continue
            last -= 1
            strength = places.rounded(self.total() * share / sum(shares)) if last else left
            left -= strength
            found.append(strength)
        return found


PartFormSet = rows_of(PartRow, extra=2, most=MOST_PARTS, more="Add another dye or assistant", base=PartRows)


def substances():
    """{"dye-3": Dye, "assistant-1": Assistant}: what a bottle can be made of."""
    dyes = {f"dye-{dye.pk}": dye for dye in Dye.objects.filter(retired=False)}
    return dyes | {f"assistant-{one.pk}": one for one in Assistant.objects.filter(retired=False)}


def choices_of(substances):
    """Grouped choices for a select."""
    groups = {"Dyes": [], "Acid and other": [], "Yarn": []}
    for key, thing in substances.items():
        group = {"dye": "Dyes", "assistant": "Acid and other", "base": "Yarn"}[key.split("-")[0]]
        groups[group].append((key, str(thing)))
    return [("", "Choose"), *((group, rows) for group, rows in groups.items() if rows)]


def part_rows_of(solution):
    """What the rows of a master's parts start with."""
    return [
        {"what": f"dye-{part.dye_id}" if part.dye_id else f"assistant-{part.assistant_id}", "strength": part.g_per_100}
        for part in solution.parts.all()
    ]
