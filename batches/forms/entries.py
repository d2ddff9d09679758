"""The form of the log that all kinds of it follow, whichever way they come in; and the plainest two, words and work.

All share who, when, which pots and a note. At the pot nothing is required but what happened: an empty time is
now, an empty amount was not measured.
"""

import hashlib
import json
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

from babel.numbers import get_decimal_symbol
from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from batches.models import Batch, Entry, State, TimeFrom
from batches.models.log import corrected
from batches.under_way import kind_of
from batches.wording import all_words, capital
from studio import writing
from studio.forms.base import QuietBoundField, StudioForm
from studio.forms.fields import NumberField, WhenField, WholeField, WordsField
from studio.forms.text import tidy
from studio.forms.widgets import Choices
from studio.models import Person
from studio.once import number_of

THIS, ALL = "this", "all"
NOT_OF_THE_CONTENT = ("id", "sent_at", "offset")  # they differ when the same thing is sent again
LONGEST_BEFORE = timedelta(days=366)
SET = "set"
AGO = [("", "Now"), ("5", "5 min ago"), ("15", "15 min ago"), ("30", "30 min ago"), (SET, "Set it")]


def hidden(field, **kwargs):
    return field(widget=forms.HiddenInput, required=False, **kwargs)


class EntryForm(StudioForm):
    """Who did it, when, in which pots; what was sent, and the number it was sent under.

    `usual_pots` is meant where nothing is said: planned lines go to all pots, the rest to this one.
    """

    bound_field_class = QuietBoundField
    usual_pots = THIS
    pots_words = ("{} only", "{}, the same in each")
    padded = ()  # names of boxes that large keys on the page write into

    id = forms.UUIDField(widget=forms.HiddenInput)
    kind = forms.CharField(widget=forms.HiddenInput)
    sent_at = hidden(WhenField, future=True)
    offset = hidden(WholeField, least=-840, most=840)
    happened_at = hidden(WhenField, future=True)
    pots = forms.ChoiceField(choices=[(THIS, THIS), (ALL, ALL)], widget=Choices, required=False, label="Which pots")
    ago = forms.ChoiceField(label="When", choices=AGO, widget=Choices, required=False)
    when = WhenField(label="The day and the time", required=False)
    paper = forms.BooleanField(label="The time is from paper notes", required=False)
    on_page = forms.UUIDField(widget=forms.HiddenInput, required=False)  # the photo of the notes it was copied from
    by = forms.ModelChoiceField(queryset=Person.objects.none(), label="Who did it", required=False, empty_label=None)
    note = WordsField(label="Note", rows=2, max_length=2000, required=False)

    def __init__(self, data=None, files=None, *, batch, person, **kwargs):
        self.batch, self.person = batch, person
        initial = {"id": uuid4(), "by": person.pk, "pots": self.usual_pots} | kwargs.pop("initial", {})
        super().__init__(data, files, initial=initial, **kwargs)
        # Where a name is touched and no password said, it is one of those that can be touched.
        on_phone = person.on_phone
        self.fields["by"].queryset = Person.objects.who_dye() if on_phone else Person.objects.filter(is_active=True)
        for name in self.padded:
            self.fields[name].widget.attrs["data-pad"] = get_decimal_symbol(writing.current().locale)

    def name_pots(self):
        """Say which pots or jars there are to choose from. For a page that draws the form; what was sent is read
        without it.
        """
        others = self.open_pots()
        if len(others) < 2:
            self.fields["pots"].widget = forms.HiddenInput()
            return
        this, together = self.pots_words
        words = together.format(capital(all_words(len(others), kind_of(others))))
        self.fields["pots"].choices = [(THIS, this.format(self.batch.pot_name)), (ALL, words)]

    def open_pots(self):
        """This pot and those of its run that are as far: unfinished ones, or all of a run that is over."""
        if not hasattr(self, "_open_pots"):
            pots = list(Batch.objects.filter(run_id=self.batch.run_id).select_related("vessel").order_by("pk"))
            over = (State.FINISHED, State.ABANDONED)
            if self.batch.state not in over:
                pots = [pot for pot in pots if pot.state not in over]
            self._open_pots = pots
        return self._open_pots

    def chosen_pots(self):
        """The keys of the pots that were meant."""
        meant = self.cleaned_data.get("pots") or self.usual_pots
        return [pot.pk for pot in self.open_pots()] if meant == ALL else [self.batch.pk]

    # --- what was sent

    def sent_id(self):
        """The number that came with it, or None where it is not one."""
        return number_of(self.data.get("id"))

    def digest(self):
        """A fingerprint of what was sent, so that a replay is told from something else under the same number.

        Empty fields are left out: a page of an older version, without them, says the same.
        """
        said = {"batch": str(self.batch.pk)}
        for name, field in self.fields.items():
            value = self._plain(field.widget.value_from_datadict(self.data, self.files, self.add_prefix(name)))
            if value and name not in NOT_OF_THE_CONTENT:
                said[name] = value
        return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()

    @staticmethod
    def _plain(value):
        if isinstance(value, tuple):  # an amount and its unit
            typed = tidy(str(value[0] or "")).strip()
            return [typed, tidy(str(value[1] or ""))] if typed else ""
        if isinstance(value, list):
            said = [file_digest(part) if hasattr(part, "chunks") else str(part) for part in value]
            return said if any(said) else ""
        if hasattr(value, "chunks"):
            return file_digest(value)
        return "" if value in (None, False) else tidy(str(value)).strip()

    def as_new(self):
        """The same page with what was typed, under a number of its own."""
        data = self.data.copy()
        data["id"] = str(uuid4())
        return type(self)(data, None, batch=self.batch, person=self.person)

    # --- who and when

    def clean_when(self):
        when = self.cleaned_data["when"]
        if when is not None and when.date() < self.batch.run.day - LONGEST_BEFORE:
            raise ValidationError("That is long before this pot: check the day, and write it again.")
        return when

    def clean_on_page(self):
        """The entry of that photo, where it is of this run; a line does not wait for its page."""
        key = self.cleaned_data["on_page"]
        pages = Entry.objects.filter(kind=Entry.Kind.PHOTO, batch__run_id=self.batch.run_id)
        return pages.filter(pk=key).first() if key else None

    def clean(self):
        cleaned = super().clean()
        ago, when = cleaned.get("ago"), cleaned.get("when")
        if when and ago not in (None, "", SET):
            self.add_error(
                "when", f"Choose “{dict(AGO)[SET]}” for this time, or empty it: “{dict(AGO)[ago]}” is chosen."
            )
        elif not when and "when" not in self.errors:
            if cleaned.get("paper"):
                self.add_error("when", "Write the time that the paper says, or take the tick away.")
            elif ago == SET:
                self.add_error("when", "Write when it was, or choose “Now”.")
        return cleaned

    def stamped(self):
        """Who and when, as `Stamp` takes it."""
        said = self.cleaned_data
        when = said.get("when") or self.so_long_ago()
        time_from = (TimeFrom.PAPER if said.get("paper") else TimeFrom.SAID) if when else TimeFrom.TOUCH
        happened_at = when or said.get("happened_at")
        offset = said.get("offset")
        if offset is None:
            offset = int(timezone.localtime(happened_at or timezone.now()).utcoffset().total_seconds() // 60)
        return {
            "by": said.get("by") or self.person,
            "happened_at": happened_at,
            "offset_min": offset,
            "sent_at": said.get("sent_at"),
            "time_from": time_from,
            "words": said.get("note", ""),
            "because": said.get("on_page"),
        }

    def touched_at(self):
        """When it was touched, by our clock: however late it is sent, and by whatever clock the phone goes."""
        now, sent_at = timezone.now(), self.cleaned_data.get("sent_at")
        touched = self.cleaned_data.get("happened_at") or sent_at or now
        return corrected(touched, sent_at=sent_at, received_at=now, time_from=TimeFrom.TOUCH)

    def so_long_ago(self):
        """The moment that "15 min ago" was, counted from the touch; None where that is not said."""
        ago = self.cleaned_data.get("ago")
        return None if ago in (None, "", SET) else self.touched_at() - timedelta(minutes=int(ago))


def file_digest(file):
    found = hashlib.sha256()
    for chunk in file.chunks():
        found.update(chunk)
    file.seek(0)
    return found.hexdigest()


class WordsForm(EntryForm):
    pots_words = ("{} only", "{}")

    note = WordsField(label="Note", rows=4, max_length=4000)


class WorkForm(EntryForm):
    """Minutes of hands. Said for all pots, they are split over them."""

    usual_pots = ALL
    pots_words = ("{} only", "{}, split evenly")
    padded = ("minutes",)

    minutes = NumberField(label="Minutes", unit="min", least=Decimal("0.1"), most=1440, required=False)
    quick = hidden(WholeField, least=1, most=1440)

    def clean(self):
        cleaned = super().clean()
        if cleaned.get("minutes") and cleaned.get("quick"):
            self.add_error(
                "minutes", "One number is written and another was touched: empty the box, or log what it says."
            )
        minutes = cleaned.get("minutes") or cleaned.get("quick")
        if minutes is None and not {"minutes", "quick"} & self.errors.keys():
            self.add_error("minutes", "Write how many minutes it took.")
        cleaned["minutes"] = None if minutes is None else Decimal(minutes)
        return cleaned
