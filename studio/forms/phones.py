"""Trusting a phone."""

from studio.forms.base import StudioForm
from studio.forms.door import PasswordField, one_line
from studio.forms.fields import WordsField


class TrustForm(StudioForm):
    name = WordsField(
        label="What this phone is called",
        max_length=60,
        help_text="Such as: the phone in the stand. Pages then say “Pia, on the phone in the stand”.",
    )
    password = PasswordField("current-password", label="Your password")

    def clean_name(self):
        return one_line(self.cleaned_data["name"])
