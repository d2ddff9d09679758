"""Signing in, passwords, and the first account."""

from unicodedata import category

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from studio.forms.base import StudioForm
from studio.forms.fields import WordsField
from studio.models import Person

TOO_WEAK = {
    "password_too_short": "This password is too short: write %(min_length)d characters or more. "
    "Three or four words in a row do well.",
    "password_too_common": "This password is among the first that are guessed: choose a less common one.",
    "password_too_similar": "This password is too much like the name: choose one that has nothing to do with it.",
}
JOINERS = "\u200c\u200d"  # unseen too, but some names and most families of emoji are written with them
LONG_ENOUGH = "10 characters or more. Three or four words in a row do well."


def one_line(text):
    return " ".join(text.split())


class PasswordField(forms.CharField):
    """A password, taken as it is typed: spaces count."""

    def __init__(self, autocomplete, **kwargs):
        widget = forms.PasswordInput({"autocomplete": autocomplete})
        super().__init__(strip=False, **{"widget": widget, **kwargs})


class OwnName(WordsField):
    """The name that somebody signs in with."""

    def __init__(self, **kwargs):
        attrs = {"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}
        super().__init__(widget=forms.TextInput(attrs), **kwargs)

    def to_python(self, value):
        """One line, without characters that can't be seen: two people must not look the same in the record."""
        text = "".join(sign for sign in super().to_python(value) if category(sign) != "Cf" or sign in JOINERS)
        return one_line(text).strip(JOINERS)


class SignInForm(StudioForm):
    username = OwnName(label="Name")
    password = PasswordField("current-password", label="Password")

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        if not self.is_bound:  # a page with something to put right begins with saying so
            self.fields["username"].widget.attrs["autofocus"] = True


class NewPasswordForm(StudioForm):
    """A new password, judged by the studio's rules; `name` is whose it will be."""

    def whose(self):
        return Person(name="")

    def clean_password(self):
        return strong_enough(self.cleaned_data["password"], self.whose())


class TwiceForm(NewPasswordForm):
    """A new password that is typed blind, and so typed twice."""

    def clean(self):
        cleaned = super().clean()
        first, again = cleaned.get("password"), cleaned.get("again")
        if first and again and first != again:
            self.add_error("again", "The two passwords differ: type the same one in both boxes.")
        return cleaned


class SetUpForm(TwiceForm):
    studio = WordsField(label="The studio's name", max_length=80, help_text="It can be changed later.")
    name = OwnName(label="Your name", max_length=60, help_text="You sign in with it, and the record says it.")
    password = PasswordField("new-password", label="Password", help_text=LONG_ENOUGH)
    again = PasswordField("new-password", label="The password again")

    def clean_studio(self):
        return one_line(self.cleaned_data["studio"])

    def whose(self):
        return Person(name=self.cleaned_data.get("name", ""))


class OwnPasswordForm(TwiceForm):
    """Changing one's own password, which takes the present one."""

    old = PasswordField("current-password", label="Present password")
    password = PasswordField("new-password", label="New password", help_text=LONG_ENOUGH)
    again = PasswordField("new-password", label="The new password again")

    def __init__(self, *args, person, **kwargs):
        self.person = person
        super().__init__(*args, **kwargs)

    def whose(self):
        return self.person

    def clean_old(self):
        old = self.cleaned_data["old"]
        if not self.person.check_password(old):
            raise ValidationError("This is not your present password: type it again.", code="wrong")
        return old


def strong_enough(password, person):
    """The password, or ValidationError with this program's sentences."""
    try:
        validate_password(password, person)
    except ValidationError as refused:
        raise ValidationError(
            [ValidationError(TOO_WEAK.get(e.code, e.message), code=e.code, params=e.params) for e in refused.error_list]
        ) from None
    return password
