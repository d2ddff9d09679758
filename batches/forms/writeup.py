"""An answer to what the evening asks: about lines of the log, or about planned lines that nobody ticked."""

from decimal import Decimal

from django import forms
from django.core.exceptions import ValidationError

from batches.models import Answer, Entry, PlanLine, TimeFrom, Whereabouts
from studio import writing
from studio.forms.fields import NumberField, RowsField, WordsField
from studio.forms.widgets import Choices
from studio.once import number_of

from .entries import EntryForm
from .lots import OWN_UNIT, GoneInField, spoons_or_g
from .strikes import NOT_YOURS_TO_STRIKE, may_strike

Ask = Answer.Question
UNKNOWN, WORDS, AMOUNT, DUE, WHEN, LONG, PLANNED, SKIPPED = (
    "unknown",
    "words",
    "amount",
    "due",
    "when",
    "long",
    "planned",
    "skipped",
)
SAYS = {
    Ask.AMOUNT: (AMOUNT, UNKNOWN),
    Ask.END: (DUE, WHEN, UNKNOWN),
    Ask.LONG: (LONG, UNKNOWN),
    Ask.LINE: (PLANNED, AMOUNT, SKIPPED, UNKNOWN),
}
STRIKES = (AMOUNT, LONG)  # answered so, the old line is struck and said anew
FIELDS = {
    Ask.PHOTO: ("words",),
    Ask.AMOUNT: ("amount",),
    Ask.END: ("when",),
    Ask.LONG: ("minutes",),
    Ask.WHERE: ("when",),
}
FIELDS[Ask.LINE] = ("amount", "when")
CHOOSE = "Choose one, or leave it all empty."
GONE = "That is answered already, or was struck out: open the page anew."


class SayField(forms.CharField):
    """What is said, by a key; which keys there are depends on the question."""

    widget = Choices


class AnswerForm(EntryForm):
    """`say` is one of SAYS; for a photo also the id of a line, and for where the yarn is one of `Whereabouts`."""

    question = forms.ChoiceField(choices=Ask.choices, widget=forms.HiddenInput)
    about = forms.ModelMultipleChoiceField(
        queryset=Entry.objects.none(),
        widget=forms.MultipleHiddenInput,
        required=False,
        error_messages={"invalid_choice": GONE},
    )
    lines = RowsField(
        queryset=PlanLine.objects.none(),
        widget=forms.MultipleHiddenInput,
        required=False,
        error_messages={"invalid_choice": GONE, "invalid_pk_value": GONE},
    )
    say = SayField(label="Your answer", max_length=40, required=False)
    words = WordsField(label="In words", max_length=300, required=False)
    amount = GoneInField(spoons_or_g, own=True, label="How much, in each", required=False)
    minutes = NumberField(label="Minutes", unit="min", least=Decimal("0.5"), most=20160, required=False)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        run = self.batch.run_id
        entries = (
            Entry.objects.standing().filter(batch__run=run).with_details().select_related("batch__run", "plan_line")
        )
        self.fields["about"].queryset = entries
        self.fields["lines"].queryset = PlanLine.objects.filter(batch__run=run).select_related("batch", "lot")
        self.fields["when"].label = "When"

    def asks(self, question):
        """Offer what can be said to this `writeup.Question`; not needed to read what was sent."""
        choices = self._choices(question)
        self.fields["say"].widget.choices = choices
        self.fields["say"].label = question.sentence
        if question.ask == Ask.AMOUNT and len(question.about) == 1:
            self.fields["amount"].label = "How much"
        if question.ask == Ask.LINE and not self.is_bound:
            self.initial["when"] = question.at
            self.fields["when"].label = "About when it went in"
        if question.ask in (Ask.AMOUNT, Ask.LINE):
            self.initial["amount"] = ("", question.unit)
            self.fields["amount"].begins_with(question.unit)
        self.shown = [self[name] for name in FIELDS[question.ask] if self._fits(name, question)]
        return self

    def _fits(self, name, question):
        return name != "amount" or any(choice == AMOUNT for choice, _ in self._choices(question))

    def _choices(self, question):
        ask, nobody = question.ask, (UNKNOWN, "Nobody knows")
        if ask == Ask.PHOTO:
            return [*((str(entry.pk), words) for entry, words in question.offers), (WORDS, "Something else:"), nobody]
        if ask == Ask.WHERE:
            return [*((value, label.capitalize()) for value, label in PLACES), nobody]
        if ask == Ask.END:
            due = writing.clock(question.about[0].timer.due_at)
            return [(DUE, f"When it was due, {due}"), (WHEN, "At another time:"), nobody]
        if ask == Ask.LINE:
            return [(PLANNED, "As planned"), (AMOUNT, "Another amount:"), (SKIPPED, "It was left out"), nobody]
        mine = all(may_strike(self.person, entry) for entry in question.about)
        said = (AMOUNT, "So much:") if ask == Ask.AMOUNT else (LONG, "So long:")
        return [said, nobody] if mine else [nobody]

    def clean(self):
        cleaned = super().clean()
        ask, about, lines = cleaned.get("question"), cleaned.get("about"), cleaned.get("lines")
        if not ask or "about" in self.errors or "lines" in self.errors:
            return cleaned
        if bool(lines) != (ask == Ask.LINE) or bool(about) == (ask == Ask.LINE):
            raise ValidationError(GONE)
        cleaned["say"] = self._said(ask, cleaned)
        if cleaned["say"] and not self.errors:
            getattr(self, f"_judge_{ask}", lambda: None)()
            if cleaned["say"] in STRIKES and about and not all(may_strike(self.person, entry) for entry in about):
                self.add_error(None, ValidationError(NOT_YOURS_TO_STRIKE, code="forbidden"))
        return cleaned

    def _said(self, ask, cleaned):
        """What was chosen, or what a filled box says by itself."""
        say = cleaned.get("say") or ""
        boxes = {"words": WORDS, "amount": AMOUNT, "minutes": LONG}
        filled = [kind for name, kind in boxes.items() if name in FIELDS[ask] and cleaned.get(name)]
        if ask == Ask.END and cleaned.get("when"):
            filled.append(WHEN)
        if not say and filled:
            say = filled[0]
        elif filled and say != filled[0]:
            self.add_error("say", "A box is filled in and something else is chosen: empty the box, or choose it.")
        if not say and not self.errors or say and not self._is_offered(ask, say):
            self.add_error("say", CHOOSE)
        return say

    def _is_offered(self, ask, say):
        if ask == Ask.WHERE:
            return say == UNKNOWN or say in dict(PLACES)
        if ask != Ask.PHOTO:
            return say in SAYS[ask]
        if say in (WORDS, UNKNOWN):
            return True
        asked = number_of(say)
        found = list(self.fields["about"].queryset.filter(pk=asked)) if asked else []
        self.shows = found[0] if found else None
        return bool(found)

    def _judge_photo(self):
        if self.cleaned_data["say"] == WORDS and not self.cleaned_data.get("words"):
            self.add_error("words", "Write what the photo shows.")

    def _judge_long(self):
        if self.cleaned_data["say"] == LONG and not self.cleaned_data.get("minutes"):
            self.add_error("minutes", "Write how many minutes it took.")

    def _judge_end(self):
        if self.cleaned_data["say"] == WHEN and not self.cleaned_data.get("when"):
            self.add_error("when", "Write when it was over.")

    def _judge_amount(self):
        if self.cleaned_data["say"] == AMOUNT:
            self._keep_amount(self.cleaned_data["about"][0].addition.lot)

    def _judge_line(self):
        line, say = self.cleaned_data["lines"][0], self.cleaned_data["say"]
        if say == AMOUNT:
            self._keep_amount(line.lot, line)
        if say in (PLANNED, AMOUNT) and not self.cleaned_data.get("when"):
            self.add_error("when", "Write about when it went in.")

    def _keep_amount(self, lot, line=None):
        amount = self.cleaned_data.get("amount")
        if amount is None:
            self.add_error("amount", "Write how much it was.")
            return
        unit, name = (lot.unit, str(lot.substance)) if lot else (line.unit or "mL", line.name)
        try:
            self.cleaned_data["kept"] = self.fields["amount"].kept_in(amount, unit, name)
        except ValidationError as problem:
            self.add_error("amount", problem)

    def typed(self):
        """The amount as it was typed, as `Addition.log` takes it."""
        amount = self.cleaned_data.get("amount")
        if amount is None:
            return {"typed": "", "typed_unit": ""}
        return {
            "typed": str(self["amount"].data[0] or "").strip()[:60],
            "typed_unit": "" if amount.unit == OWN_UNIT else amount.unit,
        }

    def chosen_pots(self):
        of = [*(self.cleaned_data.get("about") or ()), *(self.cleaned_data.get("lines") or ())]
        return sorted({one.batch_id for one in of})

    def stamped(self):
        """An answer is said now, whatever time it tells."""
        return super().stamped() | {
            "happened_at": None,
            "time_from": TimeFrom.TOUCH,
            "words": self.cleaned_data["words"],
        }


PLACES = [(value, label) for value, label in Whereabouts.choices if value != Whereabouts.SHELF]
