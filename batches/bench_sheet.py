"""The bench sheet: a run's plan on paper, to hang above the sink and to write on with a pencil.

Pots stand side by side, the steps under each other in their order. Pots that get the same are one column; the yarn that
goes in counts as well, so that the sheet says which skeins are for which pot.
"""

from collections import defaultdict
from dataclasses import dataclass, field, replace

from django.template.loader import render_to_string

from recipes import dyeing
from studio import printing, qr, units, writing
from studio.cautions import CAUTIONS, DEFERS
from studio.colourbar import safe_fill, widths
from studio.naming import lot_name, lot_number

from . import days, depth, hazards
from .models import PlanLine, State
from .telling import STEPS
from .ties import address_of, pots_of
from .under_way import pots_in_words
from .wording import amount_of, capital, heat_and_time

CODE_MM = 32.0  # side of the code, quiet zone included; as in bench.css
BAR_MM = 80.0
ACROSS = 4  # pots side by side on a page
TICKED = 12  # of so many alike pots each has a square of its own to tick
MOST_BOXES = 800  # to write in: layout takes some hundredths of a second each, and a phone sends three fields of each
BESIDE = 90  # characters of a note that stand below the name of a step: a longer one runs across the page
BELOW_BAR = 130  # characters of the names of dyes that stand below their bar: more of them run across the page
EMPTY = 3  # rows for what nobody planned
EMPTY_WITHOUT_PLAN = 10
OVER = (State.FINISHED, State.ABANDONED)


@dataclass(frozen=True)
class Column:
    """Pots that get the same. `lines`: the `PlanLine`s of the first, in their order; those of each are in `of_each`."""

    pots: tuple
    lines: tuple
    of_each: tuple

    @property
    def name(self):
        return capital(pots_in_words(self.pots)) if len(self.pots) > 1 else self.pots[0].vessel_name

    @property
    def label(self):
        return self.pots[0].label

    @property
    def yarn(self):
        """What goes in, "4 skeins Sparrow, lot 31"."""
        return "; ".join(said_yarn(yarn) for yarn in self.pots[0].in_it)

    @property
    def bath(self):
        """ "400 g in 8 L, 20:1"; what nobody knows is left out."""
        pot, system = self.pots[0], writing.current().system
        weight = units.write_g(pot.fibre_g, system) if pot.fibre_g is not None else ""
        water = units.write_ml(pot.water_ml, system) if pot.water_ml is not None else ""
        ratio = f", {units.write_number(dyeing.liquor_ratio(pot.water_ml, pot.fibre_g))}:1" if weight and water else ""
        return " in ".join(part for part in (weight, water) if part) + ratio

    @property
    def ticks(self):
        """The numbers of the pots, each with a square; () where there is one, or more than there is room for."""
        return tuple(pot.number for pot in self.pots) if 1 < len(self.pots) <= TICKED else ()


@dataclass(frozen=True)
class Cell:
    """One line of one column: what the hands put in, and what is to mind of it that is not so in the other columns.

    `done`: "in already", of which of its pots where not of all; they are not to get it a second time.
    """

    much: str = ""
    notes: tuple = ()
    ticks: tuple = ()
    done: str = ""

    @property
    def number(self):
        return self._parts[0] or self.much

    @property
    def unit(self):
        """ "mL"; "" where the amount is in words."""
        return self._parts[2] if self._parts[0] else ""

    @property
    def _parts(self):
        return self.much.partition(units.NO_BREAK_SPACE)


@dataclass(frozen=True)
class Row:
    """One line of the plan over the columns of a page. `care`: titles of cautions that begin to matter here."""

    number: int
    name: str
    place: str = ""
    notes: tuple = ()
    cells: tuple = ()
    care: tuple = ()

    @property
    def beside(self):
        return [note for note in self.notes if len(note) <= BESIDE]

    @property
    def across(self):
        """The long notes, which would make a narrow column of the row as high as a page."""
        return [note for note in self.notes if len(note) > BESIDE]


@dataclass(frozen=True)
class Part:
    """Columns that stand side by side on one page, with their rows."""

    columns: tuple
    rows: tuple = ()


@dataclass(frozen=True)
class Sheet:
    run: object
    yarns: list
    parts: list
    bar: list
    address: str
    day_of: object = None  # days.DayOf, where the work takes several
    cautions: list = field(default_factory=list)

    @property
    def alike(self):
        """Whether all pots get the same, so that their yarn needs to be said only once."""
        return len(self.parts) == len(self.parts[0].columns) == len(self.parts[0].columns[0].pots) == 1

    @property
    def dyes_across(self):
        """Whether the names of its dyes take more room than there is below their bar."""
        return sum(len(f"{dye.number} {dye.name} {dye.amount}") for dye in self.bar) > BELOW_BAR

    @property
    def empty(self):
        return range(EMPTY if any(part.rows for part in self.parts) else EMPTY_WITHOUT_PLAN)


def sheet_of(run):
    """The `Sheet` of a run: of its pots that are not finished, or of all where none is left. A few queries."""
    pots = pots_of(run)
    pots = [pot for pot in pots if pot.state not in OVER] or pots
    groups = columns_of(run, pots)
    care = [key for pot in pots for key in hazards.of_vessel(pot.vessel)]
    lines = [line for columns in groups for column in columns for line in column.lines]
    care += [key for line in lines for key in hazards.of_line(line)]
    care += ["disposal"] if lines else []
    return Sheet(
        run=run,
        yarns=yarns_of(pots),
        parts=parts_of(groups),
        bar=bar_of(depth.segments(depth.planned_of_run(run))),
        day_of=days.days_of([run]).get(run.pk),
        address=address_of("batches:run", run.code),
        cautions=[caution for key, caution in CAUTIONS.items() if key in care],
    )


def columns_of(run, pots):
    """[[Column]] of these pots, which come as `pots_of` gives them: those whose plans have the same rows together.

    Two queries, however many pots and lines.
    """
    by_pot = defaultdict(list)
    for line in lines_of(run):
        by_pot[line.batch_id].append(line)
    groups = {}
    for pot in pots:
        lines = tuple(by_pot[pot.pk])
        columns = groups.setdefault(tuple(_same_row(line) for line in lines), {})
        columns.setdefault(_alike(pot, lines), []).append((pot, lines))
    return [
        [
            Column(tuple(pot for pot, _ in alike), alike[0][1], tuple(lines for _, lines in alike))
            for alike in columns.values()
        ]
        for columns in groups.values()
    ]


def lines_of(run):
    """The plan that counts, of all pots, in its order, with what its lines name."""
    lines = PlanLine.objects.filter(batch__run=run).with_bottles().with_done()
    return lines.order_by("position", "batch__number")


def _same_row(line):
    return line.step, line.words, line.dye_id, line.assistant_id, line.solution_id, line.water, line.place


def _alike(pot, lines):
    """What is the same for pots of one column."""
    yarns = tuple((yarn.source, yarn.lot_id, yarn.output_id, yarn.name, yarn.skeins) for yarn in pot.in_it)
    amounts = tuple((line.told, line.unit, line.pour_ml, line.lot_id, line.note) for line in lines)
    return pot.vessel_id, pot.label, pot.fibre_g, pot.water_ml, yarns, amounts


def parts_of(groups):
    """[Part] of these columns, so many across as a page takes. A caution's title stands at the first row it is of."""
    found, said = [], set()
    for columns in groups:
        for first in range(0, len(columns), ACROSS):
            across = tuple(columns[first : first + ACROSS])
            rows = [row_of(place, across) for place in range(len(across[0].lines))]
            found.append(Part(across, tuple(_with_care(rows, across, said))))
    return found


def boxes_in(parts):
    """How many boxes to write in these have, the empty rows left out."""
    return sum(len(part.columns) * len(part.rows) for part in parts)


def row_of(place, columns):
    """One `Row` of the lines at this place, from 0: what is so in all columns is said once, before the first."""
    lines = [column.lines[place] for column in columns]
    first = lines[0]
    notes = [notes_of(line) for line in lines]
    common = [note for note in notes[0] if all(note in of_one for of_one in notes)]
    cells = tuple(
        Cell(how_much(line), tuple(note for note in of_one if note not in common), column.ticks, done_in(column, place))
        for column, line, of_one in zip(columns, lines, notes, strict=True)
    )
    return Row(place + 1, name_of(first), first.place, tuple(common), cells)


def done_in(column, place):
    """ "In already", "Pots 1 and 2: done already": what the log had of this line when the sheet was printed."""
    done = [pot for pot, lines in zip(column.pots, column.of_each, strict=True) if lines[place].done]
    if not done:
        return ""
    said = "in already" if column.lines[place].is_amount else "done already"
    return capital(said) if len(done) == len(column.pots) else f"{capital(pots_in_words(done))}: {said}"


def _with_care(rows, columns, said):
    for place, row in enumerate(rows):
        titles = []
        for key in hazards.of_line(columns[0].lines[place]):
            if key not in said:
                said.add(key)
                titles.append(CAUTIONS[key].title)
        yield replace(row, care=tuple(titles)) if titles else row


def name_of(line):
    """What is put in, or what is done: "Heat to 82 °C"."""
    if line.is_amount:
        return line.name
    if line.words:
        return line.words
    return ", ".join(said for said in (capital(STEPS.get(line.step, line.step)), heat_and_time(line)) if said)


def how_much(line):
    """What the hands put in, "60 mL"; of what is weighed once for all pots, how much of it goes in here."""
    if not line.is_amount:
        return ""
    if line.pour_ml is not None:
        return amount_of(line.pour_ml, "mL")
    return amount_of(line.told, line.unit) if line.told is not None else "by eye"


def notes_of(line):
    """What else is to know of a line: where it is taken from, how the recipe says it, what to mind."""
    said = [taken_from(line), line.basis]
    if line.is_amount:
        said += [line.words, heat_and_time(line)]
    if line.pour_ml is not None and line.told is not None:
        said.append(f"It holds {amount_of(line.told, line.unit)} of it.")
    return [sentence for sentence in (*said, line.note) if sentence]


def taken_from(line):
    """ "From Slate 1 %, 3" or "From lot T-2209"; "" where the name says it all, or no lot was planned."""
    if line.lot is None:
        return ""
    name, number = lot_name(line.lot), lot_number(line.lot)
    said = ", ".join(part for part in (name if name != line.name else "", number) if part)
    return f"From {said}" if said else ""


def yarns_of(pots):
    """["6 skeins Sparrow, lot 31"] of all pots together, the same yarn once."""
    found = {}
    for yarn in (yarn for pot in pots for yarn in pot.in_it):
        first, skeins = found.setdefault((yarn.source, yarn.lot_id, yarn.output_id, yarn.name), (yarn, []))
        skeins.append(yarn.skeins)
    return [said_yarn(yarn, None if None in skeins else sum(skeins)) for yarn, skeins in found.values()]


def said_yarn(yarn, skeins=None):
    """ "6 skeins Sparrow, lot 31" """
    counted = yarn.skeins if skeins is None else skeins
    count = f"{units.write_count(counted, 'skein')} " if counted else ""
    number = lot_number(yarn.lot) if yarn.lot_id else ""
    earlier = f"out of {yarn.came_from.code}" if yarn.came_from else ""
    return ", ".join(part for part in (f"{count}{yarn.name}", number or earlier) if part)


@dataclass(frozen=True)
class BarPart:
    """One dye of the bar as SVG attribute texts in mm; its number stands below it, so that no colour is needed."""

    number: int
    name: str
    amount: str
    fill: str
    x: str
    width: str
    middle: str


def bar_of(segments):
    """[BarPart] of the planned dyes, left to right."""
    parts, left = [], 0.0
    for segment, share in zip(segments, widths([segment.share for segment in segments]), strict=True):
        width = float(share) * BAR_MM / 100
        if width <= 0:
            continue
        fill = safe_fill(segment.fill)
        at = {"x": f"{left:.2f}", "width": f"{width:.2f}", "middle": f"{left + width / 2:.2f}"}
        parts.append(BarPart(len(parts) + 1, segment.name, segment.amount, "#fff" if fill == "none" else fill, **at))
        left += width
    return parts


def draw(sheet, paper):
    """PDF bytes. paper: "A4" or "Letter", laid across. Raises printing.PrinterMissing and printing.TooMuchToPrint.

    Where the studio's address is too long for a code, the sheet says the address alone.
    """
    if (boxes := boxes_in(sheet.parts)) > MOST_BOXES:
        raise printing.TooMuchToPrint(
            f"The pots of this run differ, so its sheet would have {boxes} boxes to write in, and {MOST_BOXES} are "
            "printed at most: follow the plan on the screen, or plan fewer pots in one run."
        )
    try:
        code = qr.code_of(sheet.address, CODE_MM)
    except qr.TooSmall:
        code = None
    context = {"sheet": sheet, "run": sheet.run, "code": code, "paper": paper.lower(), "bar_mm": f"{BAR_MM:g}"}
    return printing.render_pdf(render_to_string("batches/bench_sheet.html", context | {"defers": DEFERS}))
