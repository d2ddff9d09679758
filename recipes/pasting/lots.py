"""Lots from a spreadsheet: what came, and what was here already."""

from collections import defaultdict

from django.utils import timezone

from recipes.writing import fold
from studio import cells, shelf_words, units
from studio.forms.deliveries import OpeningForm, goods
from studio.models import Lot
from studio.receiving import receive
from studio.sheet import Column

from .rows import Pasted, told
from .shelf import AMOUNT_WORDS, OfThings, key_of

KINDS_OF_THING = {
    "base": "base|yarn|undyed yarn|wool",
    "dye": "dye|powder|dye powder",
    "assistant": "acid or other|acid|other|assistant|chemical|salt|mordant|auxiliary",
}
KIND_CALLED = {word: kind for kind, words in KINDS_OF_THING.items() for word in words.split("|")}


class PastedLot(Pasted, OpeningForm):
    pass


class Lots(OfThings):
    slug, title, noun = "lots", "What is here", "lot"
    about = "Yarn, powder, acid and the rest as it came or as it is here: one row for each lot."
    how = (
        "Write the unit with every amount, or in the heading: 20 skeins, 250 g, 1/2 L.",
        "Rows with the same supplier, invoice and day become one delivery; rows without are what was here already.",
        "Where a yarn and a powder go by one name, add a column Kind that says yarn or dye.",
    )
    money = ("price",)
    columns = (
        Column("what", "What", ("name", "base", "dye", "yarn", "item", "thing"), needed=True),
        Column("amount", "Amount", AMOUNT_WORDS, needed=True, unit=True),
        Column("number", "Lot number", ("lot", "supplier's lot number", "dye lot", "lot no", "batch")),
        Column("came", "Came", ("date", "here since", "received", "delivered", "bought", "day")),
        Column("price", "Price of all of it", ("price", "cost", "paid", "total price", "total")),
        Column("strength", "Strength of a powder", ("strength",)),
        Column("tare", "Weight of the empty container", ("tare", "empty", "container"), unit=True),
        Column("use_by", "Use by", ("best before", "expires", "expiry")),
        Column("supplier", "Supplier", ("mill", "from", "maker")),
        Column("reference", "Invoice", ("invoice or order number", "order", "order number", "invoice number")),
        Column("kind", "Kind", ("type", "category")),
    )

    def load(self):
        self.goods = goods()
        self.named = defaultdict(list)
        for thing in self.goods.values():
            self.named[fold(thing.name)].append(thing)
        self.keys = {thing: key for key, thing in self.goods.items()}
        self.lots = defaultdict(list)
        for lot in Lot.objects.filter(solution__isnull=True):
            self.lots[key_of(lot)].append(lot)

    def example(self):
        us = self.writing.system == "us"
        return [
            ["What", "Amount", "Lot number", "Came", "Price of all of it"],
            ["Sparrow 4-ply", "20 skeins", "K-204", "2026-10-09", "168.00"],
            ["Brick", "3.5 oz" if us else "100 g", "B1", "2026-10-09", ""],
            ["Vinegar", "2 qt" if us else "2 L", "", "", ""],
        ]

    def understand(self, line, row):
        found = self.what(line, row)
        self.needs_unit(line, row, "amount", "20 skeins, 250 g or 1 L")
        came, use_by = self.at(line, row, "came"), self.at(line, row, "use_by")
        thing = found[0] if found else None
        data = row | {"came_at": came, "use_by": use_by, "what": self.keys[thing] if thing else ""}
        if not line.problems:
            form = PastedLot(data, goods=self.goods)
            if not form.is_valid():
                self.tell_form(line, form, {"came_at": "came"})
        if line.problems:
            self.show(line, {})
            return
        facts, said = form.lot_facts(), form.cleaned_data
        line.name = thing.name
        self.show(line, self.reads(form, facts))
        self.compare(line, form, facts)
        delivery = (row.get("supplier", "")[:120], row.get("reference", "")[:80])
        line.make = (said["came_at"], delivery, facts, said["price"])

    def what(self, line, row):
        """The things that the row may be about; told where there is not one."""
        found = self.find(line, "what", row.get("what", ""), self.named) if row.get("what") else []
        if not row.get("what"):
            self.tell(line, "what", "Write what it is: the name of a base, a dye, or an acid or other.")
        if row.get("kind") and found:
            kind = KIND_CALLED.get(fold(row["kind"]))
            if kind is None:
                self.tell(
                    line, "kind", f"{cells.quoted(row['kind'])} is no kind here: write yarn, dye, or acid or other."
                )
            else:
                found = [thing for thing in found if self.keys[thing].startswith(kind)] or found
        if len(found) > 1:
            self.tell(
                line, "what", f"Both a yarn and a powder are called {found[0].name}: add a column Kind and say which."
            )
        return found

    def reads(self, form, facts):
        said, kind = form.cleaned_data, form.kind
        unit = form.thing.unit if kind == "assistant" else "g"
        skein_g = form.thing.skein_g if kind == "base" else None
        in_skeins = skein_g if shelf_words.came_in_skeins(form.received, skein_g) else None
        return {
            "what": form.thing.name,
            "amount": shelf_words.said(form.received, unit, in_skeins, self.writing.system),
            "number": facts["number"],
            "came": cells.said(timezone.localdate(said["came_at"])) if said["came_at"] else "",
            "price": self.in_money(said["price"]),
            "strength": "" if said["strength"] is None else units.write_pct(said["strength"]),
            "tare": "" if facts["tare_g"] is None else self.g(facts["tare_g"]),
            "use_by": cells.said(said["use_by"]) if said["use_by"] else "",
            "supplier": self.typed.get("supplier", ""),
            "reference": self.typed.get("reference", ""),
            "kind": self.typed.get("kind", ""),
        }

    def compare(self, line, form, facts):
        """The same number is the same lot; without a number, the same amount on the same day."""
        key, number = self.keys[form.thing], facts["number"].casefold()
        came = form.cleaned_data["came_at"]
        day = timezone.localdate(came) if came else timezone.localdate()
        received = Lot._meta.get_field("received").rounded(form.received)
        same = (key, number) if number else (key, "", received, day)
        self.once_only(line, same, "this lot")
        for lot in self.lots[key]:
            alike = lot.received == received
            if number and lot.number.casefold() == number:
                if alike:
                    line.here = "is here already and left as it is"
                else:
                    here = shelf_words.said(lot.received, lot.unit, None, self.writing.system)
                    self.tell(line, "amount", told(str(lot), "amount", here))
            elif not number and not lot.number and alike and timezone.localdate(lot.came_at) == day:
                line.here = "is here already and left as it is"

    def keep(self, lines, *, by):
        """Rows of one supplier, invoice and day are one delivery; those without are what was here already."""
        together = defaultdict(list)
        for line in lines:
            came, delivery, facts, price = line.make
            together[delivery if any(delivery) else None, came].append((facts, price))
        for (delivery, came), rows in together.items():
            facts, prices = [facts for facts, _ in rows], [price for _, price in rows]
            if delivery:
                supplier, reference = delivery
                receive(facts, by=by, came_at=came, costs=prices, supplier=supplier, reference=reference)
                continue
            for one, price in rows:
                Lot.receive(by=by, came_at=came or timezone.now(), cost_minor=price, **one)
