"""Counts from a spreadsheet: what was really there."""

from collections import defaultdict

from django.utils import timezone

from recipes.writing import fold, nearest
from studio import cells, shelf_words
from studio.forms.lots import CountForm
from studio.models import Count, Lot
from studio.sheet import Column

from .rows import Pasted
from .shelf import AMOUNT_WORDS, OfThings


class PastedCount(Pasted, CountForm):
    pass


class Counts(OfThings):
    slug, title, noun = "counts", "Counts", "count"
    about = "What was really there when you counted. The shelf is put right by it."
    verb = "Keep"
    how = (
        "Write the unit with every amount. 0 g says that it is all gone.",
        "Where a thing has several lots, the lot number says which was counted.",
    )
    columns = (
        Column("what", "What", ("name", "base", "dye", "yarn", "bottle", "item", "thing"), needed=True),
        Column("amount", "How much is there", ("amount", "count", "counted", *AMOUNT_WORDS), needed=True, unit=True),
        Column("number", "Lot number", ("lot", "number", "lot no", "dye lot", "bottle number")),
        Column("at", "Counted", ("date", "day", "counted on", "when")),
        Column("why", "Note", ("notes", "remarks")),
    )

    def load(self):
        self.lots = defaultdict(list)
        for lot in Lot.objects.named().with_on_hand():
            self.lots[fold(lot.substance.name)].append(lot)
        self.last = {}
        for lot, amount, at in Count.objects.order_by("at", "pk").values_list("lot", "amount", "at"):
            self.last[lot] = (amount, timezone.localdate(at))

    def example(self):
        us = self.writing.system == "us"
        return [
            ["What", "Lot number", "How much is there", "Counted"],
            ["Sparrow 4-ply", "K-204", "17 skeins", "2026-10-31"],
            ["Brick", "B1", "3 oz" if us else "86.5 g", "2026-10-31"],
        ]

    def understand(self, line, row):
        lot = self.lot(line, row)
        self.needs_unit(line, row, "amount", "17 skeins, 86.5 g or 240 mL")
        at = self.at(line, row, "at")
        if not line.problems:
            form = PastedCount({"amount": row.get("amount", ""), "at": at, "why": row.get("why", "")}, lot=lot)
            if not form.is_valid():
                self.tell_form(line, form, {})
        if line.problems:
            self.show(line, {})
            return
        said = form.cleaned_data
        line.name = str(lot)
        in_skeins = lot.skein_g if lot.base_id and shelf_words.came_in_skeins(lot.received, lot.skein_g) else None
        day = timezone.localdate(said["at"]) if said["at"] else timezone.localdate()
        self.show(
            line,
            {
                "what": str(lot.substance),
                "amount": shelf_words.said(said["amount"], lot.unit, in_skeins, self.writing.system),
                "number": lot.number or (f"came {cells.said(timezone.localdate(lot.came_at))}"),
                "at": cells.said(day) if said["at"] else "now",
                "why": said["why"],
            },
        )
        self.once_only(line, lot.pk, "a count of this")
        if self.last.get(lot.pk) == (Lot._meta.get_field("received").rounded(said["amount"]), day):
            line.here = "was counted so on that day already"
        line.make = lambda by: Count.take(lot, said["amount"], by=by, at=said["at"], why=said["why"])

    def lot(self, line, row):
        """The one lot that a row is about, or None where that is told."""
        if not row.get("what"):
            self.tell(line, "what", "Write what was counted: the name of a base, a dye or a bottle.")
            return None
        found = self.lots.get(fold(row["what"]), [])
        if not found:
            near = nearest(row["what"], self.lots)
            hint = f"Is {self.lots[near][0].substance.name} meant?" if near else "Paste it under What is here first."
            self.tell(line, "what", f"There is no lot of {cells.quoted(row['what'])} on the shelf. {hint}")
            return None
        number = row.get("number", "").casefold()
        if number:
            chosen = [lot for lot in found if lot.number.casefold() == number]
        else:
            chosen = [lot for lot in found if lot.on_hand > 0] or found
        if len(chosen) == 1:
            return chosen[0]
        if len({lot.substance.name for lot in chosen}) == 1 or not chosen:
            numbers = ", ".join(lot.number or "one without a number" for lot in found[:6])
            self.tell(
                line, "number" if number else "what",
                f"The shelf has these lots of {found[0].substance.name}: {numbers}. Write which under Lot number.",
            )  # fmt: skip
        return None
