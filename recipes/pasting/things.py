"""Bases and dyes from a spreadsheet."""

from studio import cells, fibres, units
from studio.forms.dye import DyeForm
from studio.forms.fields import ColourField
from studio.forms.yarn import BaseForm, FibreFormSet
from studio.models import Base, Dye, DyeClass
from studio.sheet import Column

from .rows import EMPTY, Kind, Pasted, told


class PastedBase(Pasted, BaseForm):
    pass


class PastedDye(Pasted, DyeForm):
    colour = ColourField(label="Colour on the fibre", required=False)
    sheet = None


class Named(Kind):
    """Things that go by a name of their own."""

    model = None

    def load(self):
        self.known = {thing.name.casefold(): thing for thing in self.things()}

    def things(self):
        return self.model.objects.all()

    def compare(self, line, thing, facts):
        """Say that a thing is here; or which of what the row says is otherwise there. `facts`: [(words, here, row)]."""
        other = [(words, here) for words, here, row in facts if here != row]
        if other:
            words, here = other[0]
            self.tell(line, "name", told(thing.name, words, here or "not said"))
        else:
            line.here = "is here already and left as it is"


class Bases(Named):
    slug, title, noun = "bases", "Bases", "base"
    about = "Undyed yarns as you buy them."
    how = (
        "Fibre content as the label has it: 75 % Merino wool, 25 % nylon. It may be left empty; only tags wait for it.",
        "How many skeins of each are here is pasted after them, under What is here.",
    )
    model = Base
    money = ("price",)
    columns = (
        Column("name", "Name", ("base", "yarn", "base name", "yarn name"), needed=True),
        Column("make_up", "Ply or thickness", ("ply", "thickness", "weight class", "make up")),
        Column("content", "Fibre content", ("fibre", "fibres", "fiber", "fibers", "fiber content", "content",
                                            "composition", "made of", "blend")),
        Column("skein_weight", "Weight of a skein", ("skein weight", "weight", "skein", "grams"),
               needed=True, unit=True),
        Column("skein_length", "Length of a skein", ("skein length", "length", "yardage", "meterage", "metreage",
                                                     "run length", "metres", "meters", "yards"), unit=True),
        Column("superwash", "Superwash", ("sw", "washable")),
        Column("supplier", "Mill or supplier", ("mill", "supplier", "maker", "from")),
        Column("price", "Usual price of a dyed skein", ("price", "selling price", "retail", "sells for")),
        Column("low_skeins", "Low under", ("low", "reorder at", "reorder", "minimum")),
        Column("note", "Note", ("notes", "remarks", "comment")),
    )  # fmt: skip

    def things(self):
        return Base.objects.prefetch_related("fibres")

    def example(self):
        us = self.writing.system == "us"
        g, m = ("3.5 oz", "460 yd") if us else ("100 g", "420 m")
        return [
            ["Name", "Ply or thickness", "Fibre content", "Weight of a skein", "Length of a skein", "Superwash"],
            ["Sparrow 4-ply", "4-ply", "75 % Merino wool, 25 % nylon", g, m, "yes"],
            ["Heron DK", "DK", "100 % Bluefaced Leicester", g, "250 yd" if us else "230 m", "no"],
        ]

    def understand(self, line, row):
        superwash = self.try_cell(line, row, "superwash", is_superwash)
        content = self.try_cell(line, row, "content", cells.fibre_content) or []
        plain, said_so = without_superwash(content)
        data = {key: text for key, text in row.items() if key not in ("content", "superwash")}
        if superwash or (superwash is None and said_so):
            data["superwash"] = "on"
        form = PastedBase(data)
        fibres = FibreFormSet(fibre_data(plain))
        if not form.is_valid():
            self.tell_form(line, form, {})
        if not fibres.is_valid():
            for sentence in self.sentences(fibres):
                self.tell(line, "content", sentence)
        if line.problems:
            self.show(line, {})
            return
        line.name = form.cleaned_data["name"]
        facts, (rows, _) = form.facts(), fibres.fibres()
        self.show(line, self.reads(facts, rows))
        self.once_only(line, line.name.casefold(), "this name")
        if thing := self.known.get(line.name.casefold()):
            self.compare(line, thing, self.differences(thing, facts, rows))
        line.make = lambda by: form.keep(fibres)

    @staticmethod
    def sentences(formset):
        yield from formset.non_form_errors()
        for row in formset:
            for sentences in row.errors.values():
                yield from sentences

    def reads(self, facts, rows):
        length, price = facts["skein_m"], facts["price_minor"]
        return {
            "name": facts["name"],
            "make_up": facts["make_up"],
            "content": content_words(rows),
            "skein_weight": self.g(facts["skein_g"]),
            "skein_length": "" if length is None else units.write_m(length, self.writing.system),
            "superwash": "yes" if facts["superwash"] else "no" if "superwash" in self.typed else "",
            "supplier": facts["supplier"],
            "price": self.in_money(price),
            "low_skeins": "" if facts["low_skeins"] is None else units.write_count(facts["low_skeins"], "skein"),
            "note": facts["note"],
        }

    def differences(self, thing, facts, rows):
        there = thing.__dict__ | {"name": facts["name"]}
        here = {name: there[name] for name in facts if name in there}
        old = self.reads(here, list(thing.fibres.all()))
        new = self.reads(facts, rows)
        return [
            (column.label.lower(), old[column.key], new[column.key])
            for column in self.columns
            if column.key in self.typed
        ]


def is_superwash(text):
    """True or False; a column of that name often says "SW" where it is so."""
    return text.casefold().strip(" .") in ("superwash", "sw") or cells.yes_or_no(text)


def without_superwash(content):
    """(the content without the word superwash, whether it was said): it is a treatment and no fibre."""
    plain, said = [], False
    for name, share in content:
        words = [word for word in name.split() if word.casefold() not in ("superwash", "sw")]
        said = said or len(words) < len(name.split())
        plain.append((" ".join(words), share))
    return plain, said


def fibre_data(content):
    """What the rows of fibre content would be sent as."""
    data = {"form-TOTAL_FORMS": str(len(content)), "form-INITIAL_FORMS": "0"}
    for place, (name, share) in enumerate(content):
        data |= {f"form-{place}-fibre": name, f"form-{place}-percent": share, f"form-{place}-breed": ""}
    return data


def content_words(rows):
    """ "75 % wool (Merino), 25 % nylon" of BaseFibres."""
    words = []
    for row in rows:
        name = fibres.FIBRES.get(row.fibre, "mixed fibres").lower()
        words.append(f"{units.write_pct(row.percent)} {name}{f' ({row.breed})' if row.breed else ''}")
    return ", ".join(words)


class Dyes(Named):
    slug, title, noun = "dyes", "Dyes", "dye"
    about = "Dye powders as you say them at the pot."
    how = (
        "Class: acid levelling, acid milling, metal complex, reactive, direct, disperse, basic or natural.",
        "Colour: # and six figures, such as #9c3122, or a plain name such as firebrick; empty is not known yet.",
        "How much powder of each is here is pasted after them, under What is here.",
    )
    model = Dye
    columns = (
        Column("name", "Name", ("dye", "dye name", "powder"), needed=True),
        Column("dye_class", "Class", ("dye class", "type", "kind", "dye type"), needed=True),
        Column("colour", "Colour on the fibre", ("colour", "color", "hex", "shade", "color on the fiber")),
        Column("supplier", "Maker or supplier", ("supplier", "maker", "from", "brand")),
        Column("sheet_url", "Link to the safety data sheet", ("safety data sheet", "safety sheet", "sds", "msds",
                                                              "sheet", "link")),
        Column("note", "Note", ("notes", "remarks", "comment")),
    )  # fmt: skip

    def example(self):
        return [
            ["Name", "Class", "Colour on the fibre", "Maker or supplier"],
            ["Brick", "acid milling", "#9c3122", "Nettle Bank"],
            ["Ochre", "acid levelling", "goldenrod", "Nettle Bank"],
            ["Soot", "metal complex", "", ""],
        ]

    def understand(self, line, row):
        form = PastedDye(
            row
            | {
                "dye_class": self.try_cell(line, row, "dye_class", cells.dye_class) or "",
                "colour": self.try_cell(line, row, "colour", cells.colour) or "",
            }
        )
        told_of = {label for label, _ in line.problems}
        if not form.is_valid():
            for name, sentences in form.errors.items():
                if self.heads.typed.get(name) not in told_of:
                    self.tell(line, name, EMPTY if self.lacks(name) else sentences[0])
        if line.problems:
            self.show(line, {})
            return
        facts = form.facts()
        line.name = facts["name"]
        reads = self.reads(facts)
        self.show(line, reads)
        self.once_only(line, line.name.casefold(), "this name")
        if thing := self.known.get(line.name.casefold()):
            old = self.reads(thing.__dict__)
            compared = [column for column in self.columns[1:] if column.key in self.typed]
            self.compare(line, thing, [(c.label.lower(), old[c.key], reads[c.key]) for c in compared])
        line.make = lambda by: form.keep()

    @staticmethod
    def reads(facts):
        columns = ("name", "colour", "supplier", "sheet_url", "note")
        return {column: facts[column] for column in columns} | {"dye_class": DyeClass(facts["dye_class"]).label}
