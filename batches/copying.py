"""What was written on paper goes into the log: rows of notes, and cells of the bench sheet, each by itself.

Each goes through the intake under an id made of the page's own, so that a page that is sent twice is stored once. What
was refused stays on the page with what was typed, and what was good is in the log by then.
"""

from collections.abc import Callable
from dataclasses import dataclass
from uuid import uuid4, uuid5

from django.core.exceptions import ValidationError
from django.db.models import Q

from studio.forms.rows import asked_for_more, with_one_more
from studio.models import Lot, Person
from studio.once import number_of
from studio.units import write_count

from . import intake
from .forms.paper import PageForm, PaperRows, as_sent, pots_to_choose, things_to_choose, with_faults
from .forms.sheet_rows import SheetRows, as_ticked
from .models import Entry, PhotoTaken, PlanLine

PREFIX = "row"
ROWS_BESIDE_SHEET = 2  # below the rows of the bench sheet, for what nobody planned
NO_TIME = "Write the time of the first row: the others may leave it to the row above."
CHANGED = (
    "The plan was written anew since this page was opened, so these lines are not on it any more. Copy them below as "
    "something else: {}."
)
NOTHING = "Nothing is written yet: copy at least one line of the page."
IN_OTHERWISE = (
    "This is in the log already, as it was when this page was sent before. If that is wrong, strike it out there and "
    "log it anew."
)


@dataclass(frozen=True)
class Writer:
    """Who copies. `named(key)`: the person of a page's "who did it", as far as that may be chosen here."""

    dyeing: Person
    sent_by: Person
    named: Callable

    @property
    def people(self):
        return Person.objects.who_dye() if self.dyeing.on_phone else Person.objects.filter(is_active=True)


def photos_of_notes(run):
    """The photographed pages of notes of a run."""
    found = PhotoTaken.objects.standing().of_run(run).filter(stage=PhotoTaken.Stage.PAPER)
    return list(found.select_related("picture", "entry"))


def chosen(photos, said):
    """The page of notes of this key, or the newest; None where there is no photo of one."""
    newest_first = sorted(photos, key=lambda photo: photo.entry.at, reverse=True)
    return next((photo for photo in newest_first if str(photo.pk) == said), newest_first[0] if newest_first else None)


def keep_photo(data, files, batch, writer):
    """The intake's answer to a photo of a page of notes, which goes in as every photo does."""
    data = data.copy()
    data["stage"] = PhotoTaken.Stage.PAPER
    return intake.take(data, files, batch=batch, person=writer.named(data.get("by")), sent_by=writer.sent_by)


class Copy:
    """A page of one run to copy notes into: its rows as they are drawn, and what became of those that were sent.

    `kept`: how many rows went in. `refused`: whether something did not; `why`: what is said of it beside no row.
    """

    def __init__(self, run, batches, photo, writer, posted=None):
        self.run, self.batches, self.photo, self.writer = run, batches, photo, writer
        self.posted = posted if posted is not None else {}
        self.kept, self.refused, self.why, self.sent_before = 0, False, "", {}
        self.id = number_of(self.posted.get("page")) or uuid4()
        planned = set(PlanLine.objects.filter(batch__run=run, lot__isnull=False).values_list("lot", flat=True))
        self.for_rows = {"pots": pots_to_choose(batches), "things": things_to_choose(planned)}
        self.head = PageForm(None, people=writer.people, initial={"day": run.day, "by": writer.dyeing.pk})
        self.sheet = SheetRows(run, self.posted if "page" in self.posted else None)
        self.rows = self._rows()
        first = {"batch": batches[0], "person": writer.dyeing, "initial": {"kind": "photo", "stage": "paper"}}
        self.photo_form = intake.KINDS["photo"].form(None, **first)

    def _rows(self, data=None):
        rows = PaperRows(data, prefix=PREFIX, form_kwargs=self.for_rows)
        if self.sheet:
            rows.extra = ROWS_BESIDE_SHEET
        return rows

    def take(self):
        """Log each row by itself: True where all that was written is in the log now."""
        self.head = PageForm(self.posted, people=self.writer.people)
        if asked_for_more(self.posted, PREFIX) or self.sheet.parting:
            self._draw_again()
            return False
        self.rows = self._rows(self.posted)
        self.rows.is_valid()
        self.sheet.judge()
        if not self.head.is_valid() or self.rows.non_form_errors():
            self.refused = True
            return False
        written = [(number, row) for number, row in enumerate(self.rows.forms) if row.has_changed()]
        cells = self.sheet.timed()
        if not written and not cells and not self.sheet.lost:
            self.refused, self.why = True, NOTHING
            return False
        wrong_cells, wrong = self._log_cells(cells), self._log_rows(written)
        if self.sheet.lost:
            self.why = CHANGED.format("; ".join(self.sheet.lost))
        self.refused = bool(self.sheet.lost or wrong_cells or wrong)
        if self.refused:
            self._show_again(wrong)
        return not self.refused

    def said(self):
        return f"{write_count(self.kept, 'row')} kept."

    def refuse_photo(self, answer):
        """Say why the photo was not kept, beside the box that it was chosen in."""
        if answer.form is not None and answer.state != intake.CLASH:
            self.photo_form = answer.form
        self.refused, self.why = True, answer.sentence

    def _draw_again(self):
        """The same page with all that was typed and nothing judged, as it only asked for more boxes."""
        more = asked_for_more(self.posted, PREFIX)
        self.rows = self._rows(with_one_more(self.posted, PREFIX) if more else self.posted)
        for forms in (self.rows, self.sheet, self.head):
            forms.unjudged()

    # Cells of the bench sheet

    def _log_cells(self, cells):
        """Log what was written on the bench sheet, each cell by itself; those that were refused."""
        self.sent_before = self._sent_before(cells)
        waits = set()
        for cell, clock in cells:
            if cell.form.errors or clock is None:
                continue
            if not clock:
                # Said once of a column: the rows below it wait for the same time.
                if cell.column not in waits:
                    cell.form.add_error("at", NO_TIME)
                    waits.add(cell.column)
            elif self._log_cell(cell, clock):
                self.kept += 1
        wrong = [(cell, clock) for cell, clock in cells if cell.form.errors or not clock]
        for cell, clock in wrong:
            cell.keep_time(clock)
        return wrong

    def _sent_before(self, cells):
        """{id that this page gave to a line of these cells: the touch it is part of, or None} of those in the log."""
        ids = [self._id_of(line) for cell, _ in cells if not cell.left for line in cell.lines]
        if not ids:
            return {}
        found = Entry.objects.filter(Q(pk__in=ids) | Q(together__in=ids)).values_list("pk", "together")
        return {together or pk: together for pk, together in found}

    def _log_cell(self, cell, clock):
        """Log a cell in each pot that lacks it; whether that went in, now or when the page was sent before."""
        left, everywhere = cell.left, self.sheet.everywhere(cell)
        again = [line for line in cell.lines if self._id_of(line) in self.sent_before]
        if not left and again:
            left, everywhere = again, self.sent_before[self._id_of(again[0])] is not None
        for line in (left or cell.lines)[: 1 if everywhere else None]:
            problems = self._tick(cell, line, clock, everywhere)
            if problems:
                with_faults(cell.form, problems)
                return False
            for done in left if everywhere else [line]:
                done.done = True
        return True

    def _tick(self, cell, line, clock, everywhere):
        """Log a cell in the pot of a line, or in all pots that lack it; {box: sentences} where that was refused."""
        try:
            said = as_ticked(cell, line, sent=self._id_of(line), clock=clock, everywhere=everywhere, **self._for_all())
        except ValidationError as problem:
            return problem.message_dict
        answer = self._send(said, line.batch_id)
        if answer.state == intake.CLASH:
            return {"__all__": [IN_OTHERWISE]}
        return {} if answer.ok else answer.errors

    def _id_of(self, line):
        return uuid5(self.id, f"line-{line.pk}")

    # Other rows

    def _log_rows(self, written):
        """Log rows, (number, form) each, one by one; (form, the time it would have had) of those that were refused."""
        keys = [row.lot_key for _, row in written]
        lots = Lot.objects.filter(base__isnull=True).in_bulk([key for key in keys if key])
        clock, wrong = "", []
        for number, row in written:
            clock = row.cleaned_data.get("at") or clock
            if not row.errors and not clock:
                row.add_error("at", NO_TIME)
            if not row.errors:
                self._log_row(number, row, clock, lots)
            if row.errors:
                wrong.append((row, clock))
            else:
                self.kept += 1
        return wrong

    def _log_row(self, number, row, clock, lots):
        said = row.cleaned_data
        try:
            data = as_sent(said, sent=uuid5(self.id, str(number)), clock=clock, lots=lots, **self._for_all())
        except ValidationError as problem:
            row.add_error(None, problem)
            return
        answer = self._send(data, said["pot"])
        if not answer.ok:
            with_faults(row, answer.errors)

    def _show_again(self, wrong):
        """Only the rows that were refused, with what was typed and why, under a number of their own."""
        data = {f"{PREFIX}-TOTAL_FORMS": str(len(wrong)), f"{PREFIX}-INITIAL_FORMS": "0"}
        for number, (row, clock) in enumerate(wrong):
            for name in row.fields:
                data[f"{PREFIX}-{number}-{name}"] = row.data.get(row.add_prefix(name), "")
            data[f"{PREFIX}-{number}-at"] = data[f"{PREFIX}-{number}-at"] or clock  # the row above may be gone
        again = self._rows(data)
        again.is_valid()
        for form, (row, _) in zip(again.forms, wrong, strict=True):
            form._errors, form.cleaned_data = row.errors, {}
        self.rows, self.id = again, uuid4()

    # Of both

    def _for_all(self):
        """What holds for all of the page, as the sink's own forms say it."""
        head = self.head.cleaned_data
        return {"day": head["day"], "by": head["by"], "page_photo": self.photo.pk if self.photo else None}

    def _send(self, data, pot):
        """Through the one way in, for the pot of this key; of one that is not here, for the first."""
        batch = next((batch for batch in self.batches if str(batch.pk) == str(pot)), self.batches[0])
        person = self.writer.named(str(self.head.cleaned_data["by"].pk))
        return intake.take(data, {}, batch=batch, person=person, sent_by=self.writer.sent_by)
