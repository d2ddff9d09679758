"""The rows of the bench sheet, to copy what was written on it: each as told, or what really went in, and when."""

from dataclasses import dataclass, field

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict

from batches import bench_sheet
from batches.models import PlanLine
from batches.parts import THOUSANDTH, is_twin
from batches.ties import pots_of
from batches.under_way import kind_of, pots_in_words
from batches.wording import capital
from studio import units
from studio.forms.base import StudioForm
from studio.forms.fields import WordsField
from studio.forms.text import tidy

from .entries import ALL, THIS
from .lots import OWN_UNIT
from .paper import ClockField, degrees_and_minutes

NOTHING = ("0", "-", "–", "—")  # what is written on paper for a step that was left out
WHICH = "line-{}"
ALL_OF = "all-{}"


class CellForm(StudioForm):
    """One line of one column. Nothing written: nothing was, so nothing is logged."""

    told = forms.BooleanField(label="As told", required=False)
    amount = WordsField(label="Actual", max_length=60, required=False)
    at = ClockField(label="Time", required=False)

    def __init__(self, *args, line, **kwargs):
        super().__init__(*args, **kwargs)
        if not line.is_amount:
            self.fields["told"].label = "Done"
        elif line.told is None:
            self.fields["told"].label = "It went in"

    def clean(self):
        cleaned = super().clean()
        if cleaned.get("told") and cleaned.get("amount"):
            self.add_error("amount", "Either it was as told, or this was: take the tick away, or empty the box.")
        if cleaned.get("at") and not cleaned.get("told") and not cleaned.get("amount"):
            cleaned["told"] = True  # a time alone says that it was done then
        return cleaned


class ColumnForm(StudioForm):
    all = forms.BooleanField(label="All of it as told", required=False)


@dataclass
class Cell:
    """One line of some pots of a column that got the same: of all of them, or of one where it was parted.

    `lines`: the plan line of each of these pots.
    """

    column: object
    pots: tuple
    lines: list
    form: CellForm
    all_told: bool = False
    room: int = 0  # for how many more cells the page has room

    @property
    def first(self):
        return self.lines[0]

    @property
    def name(self):
        return self.column.name if len(self.pots) == len(self.column.pots) else _named(self.pots)

    @property
    def done(self):
        """How many are in the log already."""
        return sum(line.done for line in self.lines)

    @property
    def left(self):
        return [line for line in self.lines if not line.done]

    @property
    def open(self):
        """Whether to draw its boxes: something is left to copy, or what was typed was refused."""
        return bool(self.left) or bool(self.form.is_bound and self.form.errors)

    @property
    def of_some(self):
        """Which pots are left, where that is not all of them."""
        left = {line.batch_id for line in self.left}
        pots = [pot for pot in self.pots if pot.pk in left]
        return _named(pots) if 0 < len(pots) < len(self.pots) else ""

    @property
    def parts_into(self):
        """What to ask for where its pots got different amounts after all: "One pot at a time"; "" where it is one."""
        return f"One {kind_of(self.pots)} at a time" if 1 < len(self.left) <= self.room else ""

    @property
    def much(self):
        return bench_sheet.how_much(self.first)

    @property
    def told(self):
        said = self.form.cleaned_data
        return bool(said.get("told")) or self.all_told and not said.get("amount")

    def keep_time(self, clock):
        """Write into its box the time that it had from a row which is in the log now, and not drawn again."""
        name = self.form.add_prefix("at")
        if clock and not self.form.data.get(name):
            self.form.data = self.form.data.copy()
            self.form.data[name] = clock

    @property
    def written(self):
        """Whether anything was written here, or holds for it."""
        return self.form.has_changed() or self.all_told and bool(self.left)


def _named(pots):
    return capital(pots_in_words(pots)) if len(pots) > 1 else pots[0].vessel_name


@dataclass
class SheetPart:
    """Columns side by side: `columns` are pairs of a column and its form; `rows` pairs of a row and its cells.

    A row has one cell for each column, or where that was parted one for each of its pots.
    """

    columns: list
    rows: list = field(default_factory=list)


class SheetRows:
    """All rows of a run's bench sheet, drawn from its plan as it is now; none where it is too large to be printed.

    A cell of several pots is parted into them where `part` in `data` names it, which is then `parting`; and it stays so
    as long as boxes of them are sent.
    """

    def __init__(self, run, data=None):
        self.data, self.parting = data, False
        self.sent = {name.rpartition("-")[0] for name in data or {}}
        parts = bench_sheet.parts_of(bench_sheet.columns_of(run, pots_of(run)))
        parts = parts if bench_sheet.boxes_in(parts) <= bench_sheet.MOST_BOXES else []
        self.parts = [self._part(part) for part in parts if part.rows]
        cells = list(self.cells())
        self.lines = [line for cell in cells for line in cell.lines]
        for cell in cells:
            cell.room = bench_sheet.MOST_BOXES - len(cells) + 1  # one of them is its own
        self.lost = self._lost(run)

    def _part(self, part):
        columns = [(column, ColumnForm(self.data, prefix=ALL_OF.format(column.pots[0].pk))) for column in part.columns]
        return SheetPart(columns, [(row, self._cells(place, columns)) for place, row in enumerate(part.rows)])

    def _cells(self, place, columns):
        found = []
        for column, _ in columns:
            lines = [of_pot[place] for of_pot in column.of_each]
            if self._is_parted(lines):
                found += [self._cell(column, (pot,), [line]) for pot, line in zip(column.pots, lines, strict=True)]
            else:
                found.append(self._cell(column, column.pots, lines))
        return found

    def _cell(self, column, pots, lines):
        return Cell(column, pots, lines, CellForm(self.data, prefix=WHICH.format(lines[0].pk), line=lines[0]))

    def _is_parted(self, lines):
        if len(lines) > 1 and self.data and self.data.get("part") == str(lines[0].pk):
            self._hand_on(lines)
            return True
        return any(WHICH.format(line.pk) in self.sent for line in lines[1:])

    def _hand_on(self, lines):
        """Each pot begins with what was written for all of them."""
        self.parting, self.data = True, self.data.copy()
        for name in CellForm.base_fields:
            value = self.data.get(f"{WHICH.format(lines[0].pk)}-{name}")
            for line in lines[1:] if value else ():
                self.data.setdefault(f"{WHICH.format(line.pk)}-{name}", value)

    def _lost(self, run):
        """What was typed for lines that are on the sheet no more, as their plan was written anew meanwhile."""
        known = {WHICH.format(cell.first.pk) for cell in self.cells()}
        typed = {}
        for name, value in (self.data or {}).items():
            prefix, _, box = name.rpartition("-")
            if (
                prefix.startswith(WHICH.format(""))
                and prefix not in known
                and box in ("amount", "at")
                and value.strip()
            ):
                typed.setdefault(prefix.removeprefix(WHICH.format("")), []).append(tidy(value).strip()[:60])
        old = {str(line.pk): line for line in PlanLine.every.filter(batch__run=run)} if typed else {}
        return [f"{old[key].name if key in old else 'A line'}: {', '.join(said)}" for key, said in typed.items()]

    def cells(self):
        """Each cell, column by column as the pots were dyed, its rows in their order."""
        for part in self.parts:
            for column, _ in part.columns:
                for _, cells in part.rows:
                    yield from (cell for cell in cells if cell.column is column)

    def __bool__(self):
        return any(cell.open for cell in self.cells())

    def judge(self):
        """Read all that was sent. What is wrong is said by each cell's own form, and by `lost`."""
        for part in self.parts:
            everything = {id(column) for column, form in part.columns if form.is_valid() and form.cleaned_data["all"]}
            for _, cells in part.rows:
                for cell in cells:
                    cell.form.full_clean()
                    cell.all_told = id(cell.column) in everything

    def unjudged(self):
        for cell in self.cells():
            cell.form.unjudged()

    def forms(self):
        return [cell.form for cell in self.cells()]

    def timed(self):
        """[(Cell, clock)] of what was written, in the order of the columns.

        A row without a time has that of the pot beside it, or of the row above: "" where neither has one, None where
        it has one that can't be read.
        """
        clocks, above = {}, {}
        for part in self.parts:
            for _, cells in part.rows:
                beside = ""
                for cell in cells:
                    if "at" in cell.form.errors:
                        beside = None
                    elif cell.written:
                        beside = cell.form.cleaned_data.get("at") or beside or above.get(cell.pots[-1].pk, "")
                        clocks[id(cell)] = beside
                    else:
                        continue
                    above |= {pot.pk: beside for pot in cell.pots}
        return [(cell, clocks.get(id(cell))) for cell in self.cells() if cell.written]

    def everywhere(self, cell):
        """Whether what is left of a cell is all that is left of its line in the run: then one touch says it."""
        alike = {
            line.pk
            for line in self.lines
            if not line.done and line.position == cell.first.position and is_twin(cell.first, line)
        }
        left, over = cell.left, {pot.state in bench_sheet.OVER for pot in cell.column.pots}
        return len(left) > 1 and len(over) == 1 and {line.pk for line in left} == alike


def as_ticked(cell, line, *, sent, day, clock, by, page_photo, everywhere):
    """A cell as the sink's own form of a planned line would have sent it."""
    data = QueryDict(mutable=True)
    data["kind"], data["id"], data["line"] = "tick", str(sent), str(line.pk)
    data["when"], data["paper"], data["by"] = f"{day:%Y-%m-%d} {clock}", "on", str(by.pk)
    data["pots"] = ALL if everywhere else THIS
    if page_photo is not None:
        data["on_page"] = str(page_photo)
    text = tidy(cell.form.cleaned_data.get("amount", "")).strip()
    if cell.told:
        return data
    if text in NOTHING:
        data["skip"] = "on"
    elif line.is_amount:
        data["amount"], data["amount_unit"] = _in_own_unit(line, text), OWN_UNIT
    else:
        data["temperature"], data["minutes"] = degrees_and_minutes(text)
    return data


def _in_own_unit(line, text):
    """What was written of a line, in words for its amount.

    Of what was weighed once for all pots the sheet tells how much to pour: so many mL of it hold so much.
    Raises ValidationError where that can't be read.
    """
    if line.pour_ml is None or line.told is None:
        return text
    try:
        poured = units.read_amount(text, "mL", units.VOLUME)
        return str((line.told * units.to_ml(*poured) / line.pour_ml).quantize(THOUSANDTH))
    except ValueError as problem:
        raise ValidationError({"amount": str(problem)}) from None
