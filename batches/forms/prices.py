"""What a first of each base is sold for."""

from django import forms

from studio.forms.base import StudioForm
from studio.forms.fields import MoneyField
from studio.models import Base


class PriceForm(StudioForm):
    base = forms.ModelChoiceField(queryset=Base.objects.filter(retired=False), widget=forms.HiddenInput)
    price = MoneyField(label="Price", required=False)
