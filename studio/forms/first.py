"""The first thing a new studio is asked: where it is, and so how it counts."""

from django import forms

from studio import territory
from studio.forms.fields import WordsField
from studio.forms.studio import LOCALES, StudioSettingsForm, currencies, time_zones
from studio.forms.widgets import Choices
from studio.models import Market, Paper, Spoons, Studio, System

CHOOSE = ("", "Choose")


class FirstStudioForm(StudioSettingsForm):
    """Name, country, money, clock and units. A country only proposes the rest; each is looked at and kept."""

    address = contact = hour_minor = overhead_minor = second_pct = tax_pct = repeats_pct = None

    name = WordsField(label="The studio's name", max_length=80)
    country = forms.ChoiceField(
        label="Where the studio is", help_text="The button below fills in what is usual there. It can all be changed."
    )
    currency = forms.ChoiceField(label="Currency", help_text="What you buy and sell in.")
    time_zone = forms.ChoiceField(label="Time zone", help_text="The clock that the log goes by.")
    market = forms.ChoiceField(
        label="Where you sell most",
        choices=[CHOOSE, *Market.choices],
        help_text="Decides the rules for what a tag says.",
    )
    system = forms.ChoiceField(
        label="Units", choices=System.choices, widget=Choices, help_text="Others can be typed anywhere all the same."
    )

    class Meta:
        model = Studio
        fields = ["name", "currency", "locale", "time_zone", "market", "system"]

    field_order = ["name", "country", "currency", "time_zone", "locale", "market", "system"]

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["country"].choices = [CHOOSE, *territory.countries()]
        for name in ("currency", "locale"):
            self.fields[name].choices = [CHOOSE, *self.fields[name].choices]
        self.fields["time_zone"].choices = [CHOOSE, *time_zones(self.instance.time_zone)]
        self.fields["time_zone"].widget.attrs["data-browser-zone"] = ""
        if proposed := (self.data if self.is_bound else self.initial).get("locale"):
            self._know_locale(proposed)

    def _know_locale(self, code):
        """A way of writing that a country proposed is a choice, though it is not among the usual ones."""
        choices = self.fields["locale"].choices
        if code not in dict(choices) and territory.exists(code):
            self.fields["locale"].choices = [*choices, (code, territory.locale_name(code))]

    def save(self, commit=True):
        """Spoons and paper follow; both are on the settings page for whoever has others."""
        studio = self.instance
        studio.spoons = Spoons.US if studio.system == System.US else Spoons.METRIC
        studio.paper = territory.propose(self.cleaned_data["country"]).paper or Paper.A4
        return super().save(commit)


def proposed_for(country, languages, server_zone="UTC"):
    """What the boxes begin with in a country, "" where a person has to choose."""
    found = territory.propose(country, languages, LOCALES)
    facts = {name: value for name, value in found._asdict().items() if name != "paper"}
    if found.currency not in dict(currencies(found.currency or "EUR")):
        facts["currency"] = ""
    if not facts["time_zone"] and server_zone != "UTC":
        facts["time_zone"] = server_zone
    return facts
