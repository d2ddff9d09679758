"""What to find: words, and filters that narrow it."""

import re
from calendar import monthrange
from datetime import date
from functools import cache

from django import forms
from django.core.exceptions import ValidationError

from batches.lookup import Question
from batches.models import Verdict
from recipes.models import Method
from studio.fibre_names import FIBRES
from studio.forms.base import StudioForm
from studio.forms.text import tidy
from studio.models import Base, BaseFibre, Dye

LONGEST = 200
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
YEAR_FIRST = re.compile(r"(\d{4})(?:[-./ ](\d{1,2})(?:[-./ ](\d{1,2}))?)?")
MONTH_FIRST = re.compile(r"(\d{1,2})[-./ ](\d{4})")
DAY_FIRST = re.compile(r"(?:(\d{1,2})\.? )?([a-z]{3,9})\.? (\d{4})")
LABELS = {"method": "Dyed"}  # where a filter that was set reads better by another word
UNREADABLE = "“{label}” is no day: write a year, a month or a day, such as 2026, 2026-03 or 2026-03-14."


def read_days(text):
    """(first, last) day of what was written: "2026", "2026-03", "3/2026", "March 2026", "14 March 2026", "2026-03-14".

    Raises ValueError for what is none of these.
    """
    text = " ".join(text.lower().split())
    if found := YEAR_FIRST.fullmatch(text):
        year, month, day = found[1], found[2], found[3]
    elif found := MONTH_FIRST.fullmatch(text):
        year, month, day = found[2], found[1], None
    elif (found := DAY_FIRST.fullmatch(text)) and found[2][:3] in MONTHS:
        year, month, day = found[3], MONTHS.index(found[2][:3]) + 1, found[1]
    else:
        raise ValueError(text)
    year, months = int(year), [int(month)] if month else [1, 12]
    first = date(year, months[0], int(day) if day else 1)
    return first, first if day else date(year, months[-1], monthrange(year, months[-1])[1])


class DaysField(forms.CharField):
    """A year, a month or a day, read as its (first, last) day; None for nothing."""

    def __init__(self, **kwargs):
        super().__init__(required=False, max_length=40, **kwargs)

    def clean(self, value):
        text = super().clean(value)
        if not text:
            return None
        try:
            return read_days(text)
        except ValueError:
            raise ValidationError(UNREADABLE.replace("{label}", self.label), code="invalid") from None


class Choice(forms.Select):
    """A choice drawn in one go: a template for each of a hundred dyes took longer than to find among all runs."""

    template_name = "batches/_choice.html"


class FindForm(StudioForm):
    """Every filter may be left alone; one that can't be read is said, and does not narrow."""

    base = forms.ModelChoiceField(
        Base.objects.only("name").order_by("name"), required=False, empty_label="Any", widget=Choice
    )
    fibre = forms.ChoiceField(required=False, widget=Choice)
    dye = forms.ModelChoiceField(
        Dye.objects.only("name").order_by("name"), required=False, empty_label="Any", widget=Choice
    )
    method = forms.ChoiceField(
        required=False, label="How it was dyed", choices=[("", "Any"), *Method.choices], widget=Choice
    )
    verdict = forms.ChoiceField(
        required=False, choices=[("", "Any"), *(one for one in Verdict.choices if one[0])], widget=Choice
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["fibre"].choices = cache(self._fibres)

    @staticmethod
    def _fibres():
        there = set(BaseFibre.objects.values_list("fibre", flat=True).distinct())
        known = [(key, fibre.words) for key, fibre in FIBRES.items() if key in there]
        return [("", "Any"), *known]

    def text(self):
        """The words as they were typed, as far as they are looked at."""
        return " ".join(tidy(self.data.get("q", "")).split())[:LONGEST]

    def question(self):
        said = {name: value for name, value in self.cleaned_data.items() if value}
        days = {"first": said.pop("from", (None,))[0], "last": said.pop("to", (None, None))[1]}
        for name in ("base", "dye"):
            if name in said:
                said[name] = said[name].pk
        return Question.of(self.text(), **said, **days)

    def asked(self):
        """{name: value} of the address, without what asks for nothing."""
        words = {"q": self.text()} if self.text() else {}
        return words | {name: tidy(self.data[name]) for name in self.cleaned_data if self.cleaned_data[name]}

    def said(self):
        """[(name, label, what it asks for in words)] of the filters that ask for something."""
        return [
            (name, LABELS.get(name, self[name].label), self._words(name, value))
            for name, value in self.cleaned_data.items()
            if value
        ]

    def _words(self, name, value):
        if name in ("from", "to"):
            return tidy(self.data[name])
        if name in ("fibre", "method", "verdict"):
            words = dict(self.fields[name].choices)[value]
            return words[:1].lower() + words[1:]
        return str(value)


# "from" is a word of the language, so these two cannot be written as the others are.
FindForm.base_fields |= {
    "from": DaysField(label="From", help_text="2026, 2026-03 or a day"),
    "to": DaysField(label="To", help_text="Likewise, and with it"),
}
