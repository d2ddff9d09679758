"""Bottles from a spreadsheet: their masters where there are none yet, and what stands on the shelf."""

from collections import defaultdict

from django.core.exceptions import ValidationError
from django.utils import timezone

from recipes import bottles, dyeing
from recipes.bottle_forms import BottleForm
from recipes.writing import fold
from studio import cells, units
from studio.forms.deliveries import goods
from studio.forms.dye import SolutionForm
from studio.models import Count, Dye, Lot, Solution, SolutionPart
from studio.sheet import Column

from .rows import Pasted, told
from .shelf import OfThings, key_of


class PastedBottle(Pasted, BottleForm):
    pass


class PastedMaster(Pasted, SolutionForm):
    pass


class Parts:
    """The parts of a master, as its form takes them."""

    def __init__(self, rows):
        self.rows = rows

    def parts(self):
        return self.rows


class Bottles(OfThings):
    slug, title, noun = "bottles", "Bottles", "bottle"
    about = "Stock solutions and mixes as they stand on the shelf: what is in them, how strong, how much is left."
    how = (
        "What is in it is read from the name where that says it, such as Brick 1 %.",
        "Its powder has to be on the shelf first: the newest lot is taken for the one it was made of. What went into a "
        "bottle made before that lot came is not taken off; say when it was made.",
    )
    columns = (
        Column("name", "Name", ("bottle", "on the bottle", "label", "solution"), needed=True),
        Column(
            "amount", "How much is in it", ("amount", "volume", "how much", "left", "in it"), needed=True, unit=True
        ),
        Column("holds", "What is in it", ("holds", "content", "contents", "strength", "recipe", "made of", "dyes")),
        Column("dye", "The dye in it", ("dye", "powder", "dye name")),
        Column("made", "Made", ("date", "made on", "mixed", "day")),
        Column("number", "Number or word on the bottle", ("number", "bottle number", "no")),
        Column("tare", "Weight of the empty bottle", ("tare", "empty", "empty bottle"), unit=True),
        Column("use_by", "Use by", ("best before", "expires")),
        Column("kind", "What it is", ("kind", "type")),
        Column("keeps_days", "Keeps for", ("keeps", "shelf life")),
        Column("note", "Note", ("notes", "remarks")),
    )

    def load(self):
        lots = bottles.with_contents(Lot.objects.all())
        self.powder = defaultdict(list)
        self.full = defaultdict(list)
        for lot in lots:
            if lot.is_bottle:
                self.full[lot.solution_id].append(lot)
            else:
                self.powder[key_of(lot)].append(lot)
        self.named = defaultdict(list)
        for key, thing in goods().items():
            if not key.startswith("base"):
                self.named[fold(thing.name)].append(thing)
        masters = Solution.objects.prefetch_related("parts__dye", "parts__assistant")
        self.masters = {master.name.casefold(): master for master in masters}
        self.new, self.made = {}, {}

    def example(self):
        ml = "8 fl oz" if self.writing.system == "us" else "240 mL"
        return [
            ["Name", "How much is in it", "What is in it", "Made"],
            ["Brick 1 %", ml, "", "2026-10-09"],
            ["Moss mix", ml, "Ochre 0.6 %, Soot 0.4 %", "2026-10-11"],
        ]

    def understand(self, line, row):
        made, use_by = self.at(line, row, "made"), self.at(line, row, "use_by")
        self.needs_unit(line, row, "amount", "240 mL, or g for a dry mix")
        master = self.master(line, row)
        if master is None or line.problems:
            self.show(line, {})
            return
        solution, parts, form = master
        sources = self.sources(line, parts)
        if not line.problems:
            bottle = self.bottle(line, row, solution, sources, made=made, use_by=use_by)
        if line.problems:
            self.show(line, {})
            return
        line.name = solution.name
        self.show(line, self.reads(bottle, solution, parts))
        self.compare(line, bottle, solution)
        line.make = lambda by: self.make(by, bottle, solution, parts, form)

    def master(self, line, row):
        """(the Solution, its parts [(thing, strength)], the form that makes it or None) that a row names, or None."""
        name = " ".join(row.get("name", "").split())
        holds = self.holds(line, row, name)
        known = self.masters.get(name.casefold()) or self.new.get(name.casefold(), (None,))[0]
        if known is not None:
            if name.casefold() in self.new:
                _, parts, form = self.new[name.casefold()]
            else:
                parts, form = [(part.dye or part.assistant, part.g_per_100) for part in known.parts.all()], None
            if row.get("holds") and holds is not None and dict(holds) != dict(parts):
                self.tell(line, "holds", told(known.name, "content", parts_words(parts)))
            return known, parts, form
        if holds is None:
            return None
        form = PastedMaster(
            {"name": name, "kind": self.kind(line, row), "keeps_days": row.get("keeps_days", ""), "note": ""}
        )
        if not form.is_valid():
            self.tell_form(line, form, {})
            return None
        if not holds and form.cleaned_data["kind"] != Solution.Kind.LIQUOR:
            self.tell(line, "holds", "Write what is in it with its strength, such as Brick 1 %.")
            return None
        said = form.cleaned_data
        solution = Solution(name=said["name"], kind=said["kind"], keeps_days=said["keeps_days"])
        self.new[name.casefold()] = solution, holds, form
        return solution, holds, form

    def kind(self, line, row):
        kinds = {fold(label): key for key, label in Solution.Kind.choices} | {"": Solution.Kind.STOCK}
        kinds |= {"stock": Solution.Kind.STOCK, "painting": Solution.Kind.PAINTING, "dry": Solution.Kind.DRY}
        kind = kinds.get(fold(row.get("kind", "")))
        if kind is None:
            named = "stock solution, painting bottle, kept liquor or dry mix"
            self.tell(line, "kind", f"{cells.quoted(row['kind'])} is no kind of bottle: write {named}.")
        return kind or ""

    def holds(self, line, row, name):
        """[(dye or assistant, strength)] of the cell, or of the name where it says it; None where that is told."""
        text = self.said_to_hold(row, name)
        if not text:
            try:
                read = cells.bottle_content(name)
            except ValueError:
                return []
            if not all(fold(each) in self.named for each, _ in read) and name.casefold() in self.masters:
                return []
        else:
            read = self.try_cell(line, {"holds": text}, "holds", cells.bottle_content)
            if read is None:
                return None
        where = next((key for key in ("dye", "holds") if row.get(key)), "name")
        found = []
        for each, strength in read:
            things = self.find(line, where, each, self.named)
            if len(things) > 1:
                self.tell(
                    line, "holds", f"Both a dye and something else are called {each}: make this bottle on its page."
                )
            found += [(thing, SolutionPart._meta.get_field("g_per_100").rounded(strength)) for thing in things[:1]]
        if len(dict(found)) < len(found):
            self.tell(line, "holds", "The same substance stands there twice: write it once with its whole strength.")
        if sum(strength for _, strength in found) > 100:
            self.tell(line, "holds", "Together that is more than 100 g in 100 mL: write the grams in 100 mL of each.")
        return None if line.problems else found

    @staticmethod
    def said_to_hold(row, name):
        """What the cells say is in it: a strength alone is of the dye beside it, or that the name begins with."""
        text, (bare, figure) = row.get("holds", ""), cells.name_and_strength(name)
        if any(sign.isalpha() for sign in text) or not (text or row.get("dye")):
            return text
        return f"{row.get('dye') or bare} {(text or figure).rstrip(' %')} %"

    def sources(self, line, parts):
        """[(lot, strength)]: the lot each part is traced to, the newest with something left."""
        found = []
        for thing, strength in parts:
            lots = self.powder[f"{'dye' if isinstance(thing, Dye) else 'assistant'}-{thing.pk}"]
            if not lots:
                self.tell(
                    line,
                    "name",
                    f"There is no {thing.name} on the shelf that it could be made of: put its lot there first.",
                )
                continue
            found.append((max(lots, key=lambda lot: (lot.on_hand > 0, lot.came_at, lot.pk)), strength))
        return found

    def bottle(self, line, row, solution, sources, **days):
        """The form of the page for making one up, filled in with what must have gone in."""
        lots = [lot for lot, _ in sources]
        form = PastedBottle(solution=solution, lots=lots)
        try:
            volume = form.fields["volume"].clean((row.get("amount", ""), None))
        except ValidationError as problem:
            for sentence in problem.messages:
                self.tell(line, "amount", sentence)
            return None
        volume = units.normalise(volume).number
        data = {
            "volume": row["amount"],
            "made_at": days["made"],
            "use_by": days["use_by"],
            "number": row.get("number", ""),
            "tare": row.get("tare", ""),
            "note": row.get("note", ""),
        }
        for lot, strength in sources:
            grams = dyeing.powder_for_stock_g(volume, strength)
            grams = dyeing.at_lot_strength(grams, lot.strength_now) if lot.dye_id else grams
            data[f"lot-{lot.pk}"] = f"{round(grams, 6):f}"
        form = PastedBottle(data, solution=solution, lots=lots)
        if not form.is_valid():
            self.tell_form(line, form, {"volume": "amount", "made_at": "made"} | dict.fromkeys(form.lots, "amount"))
        return form

    def reads(self, form, solution, parts):
        said = form.cleaned_data
        made = said["made_at"]
        return {
            "name": solution.name,
            "amount": self.amount(form.volume(), solution.unit),
            "holds": f"{parts_words(parts) or 'nobody knows'}{self.powder_words(form)}",
            "dye": " and ".join(thing.name for thing, _ in parts) if self.typed.get("dye") else "",
            "made": cells.said(timezone.localdate(made)) if made else "now",
            "number": said["number"],
            "tare": "" if said["tare"] is None else self.g(form.facts()["tare_g"]),
            "use_by": cells.said(said["use_by"]) if said["use_by"] else "",
            "kind": solution.get_kind_display() if "kind" in self.typed else "",
            "keeps_days": units.write_count(solution.keeps_days, "day") if solution.keeps_days else "",
            "note": said["note"],
        }

    def powder_words(self, form):
        """What the bottle took from the shelf; nothing where it was made before that came here."""
        made, words = form.cleaned_data["made_at"] or timezone.now(), []
        for lot, amount in form.parts():
            if lot.came_at <= made:
                words.append(f"{self.amount(amount, lot.unit)} taken off {lot}")
        if not words and form.parts():
            return "; made before its powder came here, so none is taken off"
        return f"; {', '.join(words)}" if words else ""

    def compare(self, line, form, solution):
        """The same bottle has the same number; without one, the same amount made on the same day."""
        said, volume = form.cleaned_data, form.volume()
        day = timezone.localdate(said["made_at"]) if said["made_at"] else timezone.localdate()
        number = said["number"].casefold()
        name = solution.name.casefold()
        self.once_only(line, (name, number) if number else (name, "", volume, day), "this bottle")
        for lot in self.full[solution.pk] if solution.pk else ():
            same_day = timezone.localdate(lot.came_at) == day and lot.received == volume
            if lot.number.casefold() == number and (number or same_day):
                line.here = "is here already and left as it is"

    def make(self, by, form, solution, parts, master):
        if master is not None and solution.pk is None:
            rows = [
                SolutionPart(**{"dye" if isinstance(thing, Dye) else "assistant": thing}, g_per_100=strength)
                for thing, strength in parts
            ]
            solution.pk = master.keep(Parts(rows)).pk
            solution._state.adding = False
        facts = form.facts()
        made_at = facts["made_at"] or timezone.now()
        for lot, _ in form.parts():
            if made_at < lot.came_at:
                # What came here later was here in full: a count at that hour keeps it so, whatever is dated before it.
                Count.take(lot, lot.received, by=by, at=lot.came_at, why="As it came here")
        Lot.make_bottle(solution, volume=form.volume(), parts=form.parts(), by=by, **facts | {"made_at": made_at})


def parts_words(parts):
    """ "0.6 % Ochre and 0.4 % Soot"."""
    return " and ".join(f"{units.write_pct(strength)} {thing.name}" for thing, strength in parts)
