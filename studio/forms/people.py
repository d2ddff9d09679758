"""The owner's forms for the people of the studio."""

from django import forms
from django.core.exceptions import ValidationError

from studio.forms.base import StudioForm
from studio.forms.door import LONG_ENOUGH, NewPasswordForm, OwnName
from studio.forms.once import OnceField
from studio.forms.widgets import Choices
from studio.models import Person, Role


class AnothersName(OwnName):
    """A name that the owner writes for somebody: the browser must not fill in the owner's own."""

    def widget_attrs(self, widget):
        return {"autocomplete": "off", "autocapitalize": "words"}


class ShownPassword(forms.CharField):
    """A password to be passed on, so the owner sees it."""

    def __init__(self):
        attrs = {"autocomplete": "off", "autocapitalize": "none", "spellcheck": "false"}
        super().__init__(
            label="First password",
            strip=False,
            widget=forms.TextInput(attrs),
            help_text=f"{LONG_ENOUGH} Tell it to them; they change it on their own page.",
        )


class RoleField(forms.ChoiceField):
    def __init__(self):
        super().__init__(label="What they may do", choices=Role.choices, widget=Choices, initial=Role.HELPER)


def once_here(name, but=None):
    """The name, unless somebody else of the studio has it, whatever its capitals."""
    for person in Person.objects.exclude(pk=but and but.pk):
        if person.name.casefold() == name.casefold():
            raise ValidationError(
                f"Somebody named {person.name} is here already: write a name that differs.", code="unique"
            )
    return name


class NewPersonForm(NewPasswordForm):
    name = AnothersName(label="Name", max_length=60, help_text="They sign in with it, and the record says it.")
    role = RoleField()
    password = ShownPassword()
    once = OnceField()

    def whose(self):
        return Person(name=self.cleaned_data.get("name", ""))

    def clean_name(self):
        return once_here(self.cleaned_data["name"])


class PersonForm(StudioForm):
    name = AnothersName(label="Name", max_length=60)
    role = RoleField()
    is_active = forms.BooleanField(
        label="May sign in",
        required=False,
        help_text="Nobody is ever deleted: what they logged keeps their name. Without this tick they are signed "
        "out at once, and stay out.",
    )

    def __init__(self, *args, person, **kwargs):
        self.person = person
        kwargs.setdefault("initial", {"name": person.name, "role": person.role, "is_active": person.is_active})
        super().__init__(*args, **kwargs)

    def clean_name(self):
        return once_here(self.cleaned_data["name"], but=self.person)


class AnothersPasswordForm(NewPasswordForm):
    password = ShownPassword()

    def __init__(self, *args, person, **kwargs):
        self.person = person
        super().__init__(*args, **kwargs)
        self.fields["password"].label = "New password"

    def whose(self):
        return self.person
