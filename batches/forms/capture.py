"""What is asked before a log becomes a version: what nobody weighed, what an amount follows, what it is called."""

from decimal import Decimal

from django import forms

from batches.capture import BASES, Answers
from batches.capture_ingredients import grams_by_measure
from batches.capture_words import asked_words, fix_words
from recipes.models import Colourway, Recipe
from recipes.writing import LEAST_FIBRE_G
from studio import units
from studio.forms.base import QuietBoundField, dress
from studio.forms.fields import AmountField, NumberField, WholeField, WordsField
from studio.forms.once import OnceForm
from studio.forms.widgets import Choices
from studio.models import Measure, Tool

SO_MUCH, MEASURE, EYE = "so_much", "measure", "eye"
MOST_FIBRE_G = 1_000_000
MOST_AMOUNT = 1_000_000


class CaptureForm(OnceForm):
    """The answers to a `capture.Draft`; its fields are those that this draft needs.

    `amount-KEY`, `measure-KEY`, `fillings-KEY`, `say-KEY` of a line that nobody weighed; `basis-KEY` of an assistant;
    `fix-KEY` of what was done to put something right.
    """

    bound_field_class = QuietBoundField

    def __init__(self, data=None, *, draft):
        super().__init__(data)
        self.draft = draft
        self.asked, self.bases_asked, self.fixes_asked = [], [], []
        weighed = Measure.objects.filter(retired=False).prefetch_related("weighings")
        self.measures = list(weighed) if draft.unknown else []
        if draft.run.colourway_id is None:
            self._ask_its_name()
        if not draft.fibre_known:
            self._add("fibre_g", self._weight())
        if not draft.skeins_known:
            self._add("skeins", WholeField(label="Skeins in all", least=1, most=10_000, required=draft.counts_skeins))
        for line in draft.unknown:
            self._ask_amount(line)
        for line in draft.fixes:
            self._ask_fix(line)
        for line in draft.assistants:
            if line.belongs:
                self._ask_basis(line)
        self._add(
            "scales",
            forms.ChoiceField(
                label="When there is more yarn",
                choices=Recipe.Scales.choices,
                initial=draft.usual_scales,
                widget=Choices,
                required=False,
            ),
        )
        self._add("note", WordsField(label="To say besides", rows=2, required=False, max_length=400))

    def _add(self, name, field):
        dress(field, field.label or name)
        self.fields[name] = field
        return name

    def _ask_its_name(self):
        ways = Colourway.objects.filter(retired=False)
        title = self.draft.run.title
        same = ways.filter(name__iexact=title).first() if title else None
        self._add(
            "colourway",
            forms.ModelChoiceField(ways, label="Colourway", required=False, empty_label="A new one", initial=same),
        )
        self._add(
            "name",
            WordsField(label="Name of the new one", max_length=80, required=False, initial="" if same else title[:80]),
        )

    @staticmethod
    def _weight():
        return AmountField(
            ("g", "oz"),
            label="Dry weight of all the yarn",
            least=LEAST_FIBRE_G,
            most=MOST_FIBRE_G,
            help_text="Nobody has said it yet, and what is in % follows it.",
        )

    def _ask_amount(self, line):
        key, unit = line.key, line.lot.unit
        measures = [one for one in self.measures if line.lot.dye_id in {each.dye_id for each in one.weighings.all()}]
        each = "How much, in each" if len({one.entry.batch_id for one in line.unknown}) > 1 else "How much"
        says = [(SO_MUCH, "About so much:"), *([(MEASURE, "By a measure:")] if measures else [])]
        says.append((EYE, "Leave it by eye"))
        amount = AmountField((unit,), label=each, above_zero=True, most=MOST_AMOUNT, required=False)
        fields = {
            "say": forms.ChoiceField(label="How it is known", choices=says, widget=Choices, required=False),
            "amount": amount,
        }
        if measures:
            named = [("", "Choose a measure"), *((str(one.pk), one.name) for one in measures)]
            fields["fillings"] = NumberField(label="Or fillings", least=Decimal("0.1"), most=1000, required=False)
            fields["measure"] = forms.ChoiceField(label="Of which measure", choices=named, required=False)
        names = [self._add(f"{part}-{key}", field) for part, field in fields.items()]
        words, pots = asked_words(line, self.draft)
        self.asked.append({"line": line, "words": words, "pots": pots, "names": names})

    def _ask_fix(self, line):
        name = self._add(
            f"fix-{line.key}",
            forms.BooleanField(label=fix_words(line), required=False, initial=line.belongs),
        )
        self.fixes_asked.append(name)

    def _ask_basis(self, line):
        offers = [(basis, BASES[basis]) for basis in self.draft.offered(line)]
        label = f"{line.name}{f', {line.place}' if line.place else ''} follows"
        field = forms.ChoiceField(label=label, choices=offers, initial=offers[0][0], required=False)
        self.bases_asked.append(self._add(f"basis-{line.key}", field))

    # --- as the page draws it

    def amount_rows(self):
        return [
            row | {"say": self[row["names"][0]], "boxes": [self[name] for name in row["names"][1:]]}
            for row in self.asked
        ]

    def fix_fields(self):
        return [self[name] for name in self.fixes_asked]

    def basis_fields(self):
        return [self[name] for name in self.bases_asked]

    # --- what was said

    def clean(self):
        said = super().clean()
        if "name" in self.fields:
            self._judge_name(said)
        self.amounts = {row["line"].key: self._amount(row["line"], said) for row in self.asked}
        return said

    def _judge_name(self, said):
        name = said.get("name")
        if said.get("colourway") or "name" in self.errors or "colourway" in self.errors:
            return
        if not name:
            self.add_error("name", "Say what the colour is called, or choose its colourway.")
        elif Colourway.objects.filter(name__iexact=name).exists():
            self.add_error("name", "There is a colourway of this name already: choose it above.")

    def _amount(self, line, said):
        """So much in each pot, in the lot's unit; None: by eye."""
        key = line.key
        say, amount = said.get(f"say-{key}"), said.get(f"amount-{key}")
        measure, fillings = said.get(f"measure-{key}"), said.get(f"fillings-{key}")
        filled = [kind for kind, box in ((SO_MUCH, amount), (MEASURE, measure or fillings)) if box]
        say = say or (filled[0] if filled else "")
        if {f"{part}-{key}" for part in ("say", "amount", "measure", "fillings")} & self.errors.keys():
            return None
        if len(filled) > 1 or filled and say != filled[0]:
            self.add_error(
                f"say-{key}", "A box is filled in and something else is chosen: empty the box, or choose it."
            )
        elif say == SO_MUCH and amount is None:
            self.add_error(f"amount-{key}", "Write about how much it was, or choose to leave it by eye.")
        elif say == MEASURE:
            return self._by_measure(line, measure, fillings)
        elif not say:
            self.add_error(f"say-{key}", "Nobody weighed this: say about how much it was, or leave it by eye.")
        return None if amount is None else units.normalise(amount).number

    def _by_measure(self, line, measure, fillings):
        if not measure or not fillings:
            which = f"measure-{line.key}" if not measure else f"fillings-{line.key}"
            self.add_error(which, "Say how many fillings of which measure it was.")
            return None
        chosen = next(one for one in self.measures if str(one.pk) == measure)
        return grams_by_measure(chosen, line.lot.dye_id, fillings, Tool.scales())

    def answers(self):
        """What was said, as `capture.settled` takes it. Call after is_valid()."""
        said = self.cleaned_data
        weight = said.get("fibre_g")
        return Answers(
            fibre_g=None if weight is None else units.normalise(weight).number,
            skeins=said.get("skeins"),
            scales=said.get("scales") or "",
            amounts=self.amounts,
            bases=self._keyed("basis"),
            fixes=self._keyed("fix"),
            note=said.get("note") or "",
        )

    def _keyed(self, part):
        named = ((name.partition("-"), value) for name, value in self.cleaned_data.items())
        return {key: value for (before, _, key), value in named if before == part and value != ""}

    def its_name(self):
        """What `beginning.call_it` takes; None where the run has a colourway."""
        if "name" not in self.fields:
            return None
        way = self.cleaned_data.get("colourway")
        return {"colourway": way} if way else {"title": self.cleaned_data["name"], "make_colourway": True}
