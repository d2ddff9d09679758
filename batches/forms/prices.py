"""What a first of each base is sold for, and the rule that proposes it."""

from decimal import Decimal

from django import forms
from django.core.exceptions import ValidationError

from studio import money
from studio.forms.base import StudioForm
from studio.forms.fields import MoneyField, PercentField, WordsField
from studio.models import Base

MOST = 100_000_000  # minor units of a skein's price: more is a slip of the keys


class PriceForm(StudioForm):
    base = forms.ModelChoiceField(queryset=Base.objects.filter(retired=False), widget=forms.HiddenInput)
    price = MoneyField(label="Price", required=False)

    def clean_price(self):
        price = self.cleaned_data["price"]
        if price is not None and price > MOST:
            raise ValidationError("That is too much for a skein: check the price, and write it again.")
        return price


class RuleForm(StudioForm):
    """From the cost of a skein to a price. Nothing is stored: it only proposes."""

    keep = PercentField(
        label="Keep, of the net price",
        help_text="What stays of the price after tax: a margin, not a mark-up.",
        most=90,
        required=False,
    )
    fee = PercentField(
        label="Card and shop fees", help_text="Taken on the whole price, tax too.", most=50, required=False
    )
    ending = WordsField(label="Price ends in", max_length=6, required=False, help_text="Such as .95; empty is any.")

    def clean_ending(self):
        ending = self.cleaned_data["ending"]
        if ending:
            try:
                money.up_to_ending(Decimal(1), ending)
            except ValueError as problem:
                raise ValidationError(str(problem)) from None
        return ending
