"""A line of the log that is wrong, and who may say so."""

from datetime import timedelta

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from batches.models import Entry
from studio.forms.fields import WordsField
from studio.forms.widgets import Choices

from .entries import ALL, THIS, EntryForm

OWN_UNDO = timedelta(minutes=15)
NOT_YOURS_TO_STRIKE = "Helpers strike their own lines only. Ask a maker to strike this one."


class StrikeForm(EntryForm):
    """A line of the log is wrong: `target` is its id, or the id of the touch that made it with others.

    One's own newest lines need no reason for a while. A helper strikes own lines only.
    """

    target = forms.UUIDField(widget=forms.HiddenInput)
    reason = WordsField(label="What is wrong with it", max_length=200, required=False)
    scope = forms.ChoiceField(
        choices=[(THIS, "This line only"), (ALL, "All lines of that touch")],
        widget=Choices,
        required=False,
        label="Which lines",
    )

    def clean(self):
        cleaned = super().clean()
        target = self.look_up()
        if target is None:
            return cleaned
        if target.batch.run_id != self.batch.run_id:
            self.add_error("target", "That line is in another log: open that pot, and strike it there.")
        elif target.kind == Entry.Kind.STRIKE:
            self.add_error("target", "A strike-out can't be struck out: log the line again instead.")
        elif not may_strike(self.person, target):
            self.add_error(None, ValidationError(NOT_YOURS_TO_STRIKE, code="forbidden"))
        elif not cleaned.get("reason") and not self.is_undo(target) and "reason" not in self.errors:
            self.add_error("reason", "Write what is wrong with it: a few words are enough.")
        return cleaned

    def look_up(self):
        """The line that is meant, or the first of the touch that is meant; None while it has not come in."""
        key = self.cleaned_data.get("target")
        named = Entry.objects.select_related("batch")
        self.target = named.filter(pk=key).first()
        if self.target is None and key is not None:
            self.target = named.filter(together=key).order_by("at", "pk").first()
        return self.target

    def is_undo(self, target):
        """Whether it was touched soon enough after its line. A phone without a network may send it much later."""
        return just_now(self.person, target, at=self.touched_at())

    def chosen_pots(self):
        return [self.batch.pk, *(batch.pk for batch, _ in self.targets())]

    def targets(self):
        """The lines that were meant and still stand; those of one touch together."""
        target = self.target
        if target is None:
            return [(self.batch, self.cleaned_data["target"])]
        lines = Entry.objects.standing().filter(pk=target.pk)
        whole = self.cleaned_data.get("scope") == ALL or self.cleaned_data["target"] == target.together
        if target.together and whole:
            lines = Entry.objects.standing().filter(together=target.together)
        return [(line.batch, line.pk) for line in lines.select_related("batch").order_by("batch_id", "at", "pk")]


def may_strike(person, entry):
    return person.may_make or (person.may_log and is_own(person, entry))


def is_own(person, entry):
    """Whether they did it, or said it for somebody else as who had signed in. What was logged by a touched name is that
    person's alone: the session which sent it is that of the owner who trusted the phone.
    """
    if person.pk == entry.by_id:
        return True
    return person.pk == entry.sent_by_id and not entry.by_touch and not person.on_phone


def just_now(person, entry, at=None):
    """Whether this is a line of their own that may be taken back without a word, now or `at` a time."""
    return is_own(person, entry) and (at or timezone.now()) - entry.received_at <= OWN_UNDO
