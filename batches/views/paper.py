"""Entries from paper: a photo of the page, and beside it the rows to copy it into."""

from uuid import UUID, uuid4, uuid5

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from batches import intake
from batches.forms.paper import PageForm, PaperRows, as_sent, pots_to_choose, things_to_choose, with_faults
from batches.forms.sheet_rows import SheetRows, as_ticked
from batches.models import PhotoTaken, PlanLine, State
from batches.record import batches_of
from batches.views.run import the_run
from studio.forms.rows import asked_for_more, with_one_more
from studio.models import Lot, Person
from studio.units import write_count

PREFIX = "row"
ROWS_BESIDE_SHEET = 2  # below the rows of the bench sheet, for what nobody planned
NO_TIME = "Write the time of the first row: the others may leave it to the row above."
CHANGED = (
    "The plan was written anew since this page was opened, so these lines are not on it any more. Copy them below as "
    "something else: {}."
)
NOTHING = "Nothing is written yet: copy at least one line of the page."


@never_cache
@require_http_methods(["GET", "POST"])
def from_paper(request, code):
    run = the_run(code)
    if run.state == State.PLANNED:
        messages.error(request, "This run is not started, so nothing was noted of it yet.")
        return redirect("batches:run", code)
    batches = batches_of(run)
    if request.POST.get("kind") == "photo":
        return keep_page(request, run, batches)
    pages = list(PhotoTaken.objects.standing().of_run(run).filter(stage="paper").select_related("picture", "entry"))
    sheet = Paper(request, run, batches, chosen(pages, request))
    if request.method == "POST" and sheet.take():
        messages.success(request, sheet.said())
        return redirect(sheet.address)
    return render(request, "batches/from_paper.html", sheet.context(pages), status=422 if sheet.refused else 200)


def chosen(pages, request):
    """The page of notes that was asked for, or the newest; None where there is no photo of one."""
    said = request.POST.get("photo") or request.GET.get("photo", "")
    newest_first = sorted(pages, key=lambda page: page.entry.at, reverse=True)
    return next((page for page in newest_first if str(page.pk) == said), newest_first[0] if newest_first else None)


def keep_page(request, run, batches):
    """A photo of the page goes in as every photo does."""
    data = request.POST.copy()
    data["stage"] = PhotoTaken.Stage.PAPER
    person = request.who.named(data.get("by"))
    answer = intake.take(data, request.FILES, batch=batches[0], person=person, sent_by=request.user)
    address = reverse("batches:from-paper", args=[run.code])
    if answer.ok:
        return redirect(f"{address}?photo={answer.entries[0].pk}")
    form = answer.form if answer.form is not None and answer.state != intake.CLASH else None
    sheet = Paper(request, run, batches, None)
    sheet.photo_form, sheet.refused = form or sheet.photo_form, answer.sentence or " "
    return render(request, "batches/from_paper.html", sheet.context([]), status=answer.status)


class Paper:
    """The page of one run: its rows as they are drawn, and what became of those that were sent."""

    def __init__(self, request, run, batches, page):
        self.request, self.run, self.batches, self.page = request, run, batches, page
        self.kept, self.refused = 0, ""
        self.id = _uuid(request.POST.get("page"))
        self.people = Person.objects.who_dye() if request.dyeing.on_phone else Person.objects.filter(is_active=True)
        planned = set(PlanLine.objects.filter(batch__run=run, lot__isnull=False).values_list("lot", flat=True))
        self.for_rows = {"pots": pots_to_choose(batches), "things": things_to_choose(planned)}
        self.head = PageForm(None, people=self.people, initial={"day": run.day, "by": request.dyeing.pk})
        self.sheet = SheetRows(run, request.POST if "page" in request.POST else None)
        self.rows = self.empty_rows()
        self.photo_form = intake.KINDS["photo"].form(
            None, batch=batches[0], person=request.dyeing, initial={"kind": "photo", "stage": "paper"}
        )

    def empty_rows(self, data=None):
        rows = PaperRows(data, prefix=PREFIX, form_kwargs=self.for_rows)
        if self.sheet:
            rows.extra = ROWS_BESIDE_SHEET
        return rows

    @property
    def address(self):
        address = reverse("batches:from-paper", args=[self.run.code])
        return f"{address}?photo={self.page.pk}" if self.page else address

    def take(self):
        """Log each row by itself: True where all that was written is in the log now."""
        post = self.request.POST
        self.head = PageForm(post, people=self.people)
        if asked_for_more(post, PREFIX):
            self.rows = self.empty_rows(with_one_more(post, PREFIX))
            self.rows.unjudged()
            self.sheet.unjudged()
            self.head.unjudged()
            return False
        self.rows = self.empty_rows(post)
        self.rows.is_valid()
        self.sheet.judge()
        if not self.head.is_valid() or self.rows.non_form_errors():
            self.refused = " "
            return False
        written = [(number, row) for number, row in enumerate(self.rows.forms) if row.has_changed()]
        cells = self.sheet.timed()
        if not written and not cells and not self.sheet.lost:
            self.refused = NOTHING
            return False
        wrong_cells, wrong = self.log_cells(cells), self.log(written)
        if self.sheet.lost:
            self.refused = CHANGED.format("; ".join(self.sheet.lost))
        elif wrong_cells or wrong:
            self.refused = " "
        if self.refused:
            if self.kept:
                messages.success(self.request, self.said())
            self.show_again(wrong)
        return not self.refused

    def log_cells(self, cells):
        """Log what was written on the bench sheet, each cell by itself; those that were refused."""
        waits = set()
        for cell, clock in cells:
            if cell.form.errors or clock is None:
                continue
            if not clock:
                # Said once of a column: the rows below it wait for the same time.
                if cell.column not in waits:
                    cell.form.add_error("at", NO_TIME)
                    waits.add(cell.column)
            elif self.log_cell(cell, clock):
                self.kept += 1
        wrong = [(cell, clock) for cell, clock in cells if cell.form.errors or not clock]
        for cell, clock in wrong:
            cell.keep_time(clock)
        return wrong

    def log_cell(self, cell, clock):
        """Log a cell in each pot that lacks it; whether that went in, now or when the page was sent before."""
        left, everywhere = cell.left, self.sheet.everywhere(cell)
        if not left and self.sheet.known([self.id_of(line) for line in cell.lines]):
            return True
        for line in (left or cell.lines)[: 1 if everywhere else None]:
            try:
                data = as_ticked(cell, line, sent=self.id_of(line), clock=clock, everywhere=everywhere, **self.copied())
            except ValidationError as problem:
                cell.form.add_error(None, problem)
                break
            answer = self.send(data, line.batch_id)
            if not answer.ok:
                with_faults(cell.form, answer.errors)
                break
            line.done = True
        if everywhere and not cell.form.errors:
            for line in left:
                line.done = True
        return not cell.form.errors

    def id_of(self, line):
        return uuid5(self.id, f"line-{line.pk}")

    def copied(self):
        """What holds for all of the page, as the sink's own forms say it."""
        head = self.head.cleaned_data
        return {"day": head["day"], "by": head["by"], "page_photo": self.page.pk if self.page else None}

    def send(self, data, pot):
        """Through the one way in, for the pot of this key; of one that is not here, for the first."""
        batch = next((batch for batch in self.batches if str(batch.pk) == str(pot)), self.batches[0])
        person = self.request.who.named(str(self.head.cleaned_data["by"].pk))
        return intake.take(data, {}, batch=batch, person=person, sent_by=self.request.user)

    def log(self, written):
        lots = Lot.objects.filter(base__isnull=True).in_bulk(
            [
                int(row.cleaned_data["what"][4:])
                for _, row in written
                if row.cleaned_data.get("what", "").startswith("lot-")
            ]
        )
        clock, wrong = "", []
        for number, row in written:
            clock = row.cleaned_data.get("at") or clock
            if not row.errors and not clock:
                row.add_error("at", NO_TIME)
            if not row.errors:
                self.log_one(number, row, clock, lots)
            if row.errors:
                wrong.append((row, clock))
            else:
                self.kept += 1
        return wrong

    def log_one(self, number, row, clock, lots):
        said = row.cleaned_data
        try:
            data = as_sent(said, sent=uuid5(self.id, str(number)), clock=clock, lots=lots, **self.copied())
        except ValidationError as problem:
            row.add_error(None, problem)
            return
        answer = self.send(data, said["pot"])
        if not answer.ok:
            with_faults(row, answer.errors)

    def show_again(self, wrong):
        """Only the rows that were refused, with what was typed and why, under a number of their own."""
        data = {f"{PREFIX}-TOTAL_FORMS": str(len(wrong)), f"{PREFIX}-INITIAL_FORMS": "0"}
        for number, (row, clock) in enumerate(wrong):
            for name in row.fields:
                data[f"{PREFIX}-{number}-{name}"] = row.data.get(row.add_prefix(name), "")
            data[f"{PREFIX}-{number}-at"] = data[f"{PREFIX}-{number}-at"] or clock  # the row above may be gone
        again = self.empty_rows(data)
        again.is_valid()
        for form, (row, _) in zip(again.forms, wrong, strict=True):
            form._errors, form.cleaned_data = row.errors, {}
        self.rows, self.id = again, uuid4()

    def said(self):
        return f"{write_count(self.kept, 'row')} kept."

    def context(self, pages):
        return {
            "here": "journal",
            "run": self.run,
            "batches": self.batches,
            "page": self.page,
            "pages": pages if len(pages) > 1 else [],
            "page_id": self.id,
            "formset": self.rows,
            "sheet": self.sheet,
            "head": self.head,
            "photo_form": self.photo_form,
            "forms": [self.head, *self.sheet.forms(), self.photo_form],
            "refused": self.refused.strip(),
        }


def _uuid(text):
    try:
        return UUID(str(text or ""))
    except ValueError:
        return uuid4()
