"""Forms that carry the number of their page, so that a second copy makes nothing twice (see studio/once.py)."""

from uuid import uuid4

from django import forms
from django.core.exceptions import ValidationError

from studio.forms.base import StudioForm
from studio.once import number_of


class OnceField(forms.UUIDField):
    """A new number for each page that is drawn."""

    widget = forms.HiddenInput
    default_error_messages = {
        "required": "This page came without its number, so nothing was taken: send it once more.",
        "invalid": "This page came without its number, so nothing was taken: send it once more.",
    }

    def __init__(self):
        super().__init__(initial=uuid4)

    def bound_data(self, data, initial):
        """A number that can't be read gives way to a new one, so that sending the page again works."""
        return number_of(data) or uuid4()

    def to_python(self, value):
        try:
            return super().to_python(value)
        except (AttributeError, TypeError):
            raise ValidationError(self.error_messages["invalid"], code="invalid") from None


class OnceForm(StudioForm):
    """A form that makes something; `cleaned_data["once"]` goes to `only_once`."""

    once = OnceField()
