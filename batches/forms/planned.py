"""Lines of the plan, confirmed: one as told or otherwise, or all up to one."""

from decimal import Decimal

from django import forms
from django.core.exceptions import ValidationError

from batches.models import PlanLine, TimeFrom
from recipes.models import How
from studio.forms.fields import NumberField
from studio.forms.supplies import LocalAmountField, temperatures

from .additions import BottleForm, GoneInForm
from .entries import ALL, EntryForm
from .lots import GoneInField, LotField, anything_that_goes_in, assistants, spoons_or_g


class LineField(forms.ModelChoiceField):
    widget = forms.HiddenInput

    def __init__(self):
        super().__init__(
            queryset=PlanLine.objects.none(),
            error_messages={
                "required": "Choose a line of the plan.",
                "invalid_choice": "That line is not in this pot's plan: choose one on the sink page.",
            },
        )


class TickForm(GoneInForm):
    """A planned line: as told, with another amount, from another bottle, or skipped; a step, as it really was."""

    usual_pots = ALL
    pots_words = BottleForm.pots_words

    line = LineField()
    skip = forms.BooleanField(widget=forms.HiddenInput, required=False)
    lot = LotField(anything_that_goes_in, label="From", required=False)
    amount = GoneInField(spoons_or_g, own=True, label="Amount", required=False, help_text="Empty is as planned.")
    how = forms.ChoiceField(choices=How.choices, widget=forms.HiddenInput, required=False)
    temperature = LocalAmountField(temperatures, label="Temperature", least=-20, most=200, required=False)
    minutes = NumberField(label="How long", unit="min", least=Decimal("0.1"), most=20160, required=False)
    hows = tuple(How)
    usual_how = ""

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        # A phone that had not heard of a plan written anew ticks a line of the earlier one: it went in all the same.
        self.fields["line"].queryset = plan_of(self.batch, PlanLine.every)

    def offer(self, **kwargs):
        line = self.the_line()
        if line is not None and not line.is_amount:
            del self.fields["lot"], self.fields["amount"]
        elif line is not None:
            self.fields["lot"].queryset = self.fields["lot"].queryset.filter(**same_nature(line))
            self.fields["amount"].begins_with(line.lot.unit if line.lot_id else line.unit)
        super().offer(**kwargs)

    def the_line(self):
        key = self["line"].value()
        return (
            self.fields["line"].queryset.filter(pk=key).first() if str(key).isdecimal() and len(str(key)) < 18 else None
        )

    def substance_known(self, cleaned):
        line = cleaned.get("line")
        return line is not None and line.is_amount

    def unit_of(self, cleaned):
        lot, line = cleaned.get("lot") or cleaned["line"].lot, cleaned["line"]
        if lot is not None:
            return lot.unit, str(lot.substance)
        return (line.unit or "mL"), line.name

    def clean(self):
        cleaned = super().clean()
        line, lot = cleaned.get("line"), cleaned.get("lot")
        as_told = cleaned.get("amount") is None and not cleaned.get("unmeasured") and "amount" not in self.errors
        if as_told and line and lot and line.told is not None and lot.unit != line.unit:
            self.add_error(
                "amount", f"The plan says {line.unit}, and this one is kept in {lot.unit}: write how much went in."
            )
        return cleaned


class DoneToHereForm(EntryForm):
    """All planned lines up to this one, confirmed together."""

    usual_pots = ALL

    line = LineField()

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["line"].queryset = plan_of(self.batch)

    def stamped(self):
        return super().stamped() | {"time_from": TimeFrom.TOGETHER}


class WeighedForm(EntryForm):
    """A planned amount that stands weighed, ahead of its step: as told, or another one."""

    usual_pots = ALL

    line = LineField()
    amount = GoneInField(spoons_or_g, own=True, label="Weighed instead", required=False)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["line"].queryset = plan_of(self.batch)

    def clean(self):
        cleaned = super().clean()
        line, amount = cleaned.get("line"), cleaned.get("amount")
        if line is not None and amount is not None:
            try:
                cleaned["kept"] = self.fields["amount"].kept_in(amount, line.unit or "g", line.name)
            except ValidationError as problem:
                self.add_error("amount", problem)
        return cleaned


class AllWeighedForm(EntryForm):
    """All amounts of a pot stand weighed as told."""


def plan_of(batch, lines=PlanLine.objects):
    return lines.filter(batch=batch).named()


def same_nature(line):
    """Which lots can stand in for a planned line: dye for dye, assistants for assistants."""
    if line.assistant_id:
        return {"pk__in": assistants().values("pk")}
    return {"assistant__isnull": True}
