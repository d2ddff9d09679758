"""The studio's own settings."""

from zoneinfo import available_timezones

from babel import Locale
from babel.numbers import get_currency_name, list_currencies
from django import forms
from django.core.exceptions import ValidationError
from django.utils.safestring import mark_safe

from studio import money
from studio.forms.base import StudioModelForm
from studio.forms.door import one_line
from studio.forms.fields import MoneyField, PercentField, WholeField, WordsField
from studio.forms.widgets import WHOLE, Choices, SuffixInput
from studio.models import Lot, Studio

# How dates, numbers and money are written. Any other that babel knows works too, and is added when it is set.
LOCALES = [
    "bg_BG", "ca_ES", "cs_CZ", "cy_GB", "da_DK", "de_AT", "de_CH", "de_DE", "el_GR", "en_AU", "en_CA",
    "en_GB", "en_IE", "en_IN", "en_NZ", "en_US", "en_ZA", "es_AR", "es_CL", "es_ES", "es_MX", "es_US",
    "et_EE", "eu_ES", "fi_FI", "fo_FO", "fr_BE", "fr_CA", "fr_CH", "fr_FR", "ga_IE", "hr_HR", "hu_HU",
    "is_IS", "it_CH", "it_IT", "ja_JP", "ko_KR", "lt_LT", "lv_LV", "mt_MT", "nb_NO", "nl_BE", "nl_NL",
    "pl_PL", "pt_BR", "pt_PT", "ro_RO", "sk_SK", "sl_SI", "sr_RS", "sv_FI", "sv_SE", "tr_TR", "uk_UA",
    "zh_TW",
]  # fmt: skip
ELSEWHERE = "Elsewhere"
ELSEWHERE_TOO = mark_safe(
    'The clock that the log goes by. <a href="?zones=all#id_time_zone">Show the whole world</a>, once the rest is kept.'
)
PRICES_ARE_KEPT = (
    "Prices are kept here in %(kept)s by now, and another currency would change what every one of them says: leave it "
    "at %(kept)s."
)


def locales(present):
    names = {code: Locale.parse(code).get_display_name("en") for code in {*LOCALES, present}}
    return sorted(names.items(), key=lambda named: named[1])


def currencies(present):
    """(code, "EUR, Euro"), of what is in use today."""
    codes = {code for code in list_currencies() if _in_use(code)} | {present}
    return [(code, f"{code}, {get_currency_name(code, locale='en')}") for code in sorted(codes)]


def _in_use(code):
    """Babel lists also what was money once; those carry their years in their English name."""
    try:
        money.minor_units(code)
    except ValueError:
        return False
    name = get_currency_name(code, locale="en")
    return not any(sign.isdigit() for sign in name) and name != code


def time_zones(present):
    """Grouped by part of the world, as they are looked for."""
    groups = {}
    for name in sorted(available_timezones() | {"UTC", present}):
        part, _, place = name.partition("/")
        if part in ("posix", "right", "Etc", "SystemV") or (not place and name not in ("UTC", present)):
            continue
        groups.setdefault(part if place else ELSEWHERE, []).append((name, (place or name).replace("_", " ")))
    return list(groups.items())


def near_by(zones, present):
    """The zones of the same part of the world, which is a tenth of the whole list; [] for one that nobody knows."""
    return [
        (part, [(name, place) for name, place in found if part != ELSEWHERE or name == present])
        for part, found in zones
        if present in dict(found)
    ]


class StudioSettingsForm(StudioModelForm):
    name = WordsField(label="Name", max_length=80)
    address = WordsField(label="Address", max_length=200, required=False, help_text="Printed on tags.", rows=2)
    contact = WordsField(label="E-mail or web address", max_length=120, required=False, help_text="Printed on tags.")
    currency = forms.ChoiceField(label="Currency", help_text="Fixed once a price is kept.")
    locale = forms.ChoiceField(label="Dates, numbers and money as in", help_text="The pages themselves are in English.")
    time_zone = forms.ChoiceField(label="Time zone")
    hour_minor = MoneyField(
        label="An hour of work", required=False, help_text="What it costs the studio. Empty is not known."
    )
    overhead_minor = MoneyField(
        label="Overhead a skein",
        required=False,
        help_text="Rent, power and the like, shared over the skeins. Empty is not known.",
    )
    second_pct = WholeField(
        label="A second bears",
        most=100,
        unit="%",
        widget=SuffixInput("%", WHOLE),
        help_text="Of what a first costs, when the cost of a pot is shared over its skeins.",
    )
    tax_pct = PercentField(label="Sales tax inside prices", help_text="0 where your prices are without it.")

    repeats_pct = PercentField(
        label="Amounts have to repeat within",
        help_text="What your scale or syringe can't measure again so surely is said in a plan, with what would do.",
    )

    class Meta:
        model = Studio
        fields = [
            "name", "address", "contact", "market", "currency", "locale", "time_zone", "system", "spoons", "paper",
            "repeats_pct", "hour_minor", "overhead_minor", "second_pct", "tax_pct",
        ]  # fmt: skip
        labels = {
            "market": "Where you sell",
            "system": "Units",
            "spoons": "Spoons and cups",
            "paper": "Paper",
        }
        help_texts = {"market": "Decides the rules for what a tag says."}
        widgets = {"market": Choices, "system": Choices, "spoons": Choices, "paper": Choices}

    PARTS = (
        ("The studio", "Who you are, on tags and pages.", ("name", "address", "contact", "market")),
        ("Writing", "How this program writes.", ("locale", "time_zone", "system", "spoons", "paper")),
        ("Measuring", "How surely an amount is to be met.", ("repeats_pct",)),
        (
            "Money",
            "What costs are worked out with.",
            ("currency", "hour_minor", "overhead_minor", "second_pct", "tax_pct"),
        ),
    )

    def __init__(self, *args, everywhere=False, **kwargs):
        super().__init__(*args, **kwargs)
        self.kept_currency = self.instance.currency
        self.fields["currency"].choices = currencies(self.kept_currency)
        self.fields["locale"].choices = locales(self.instance.locale)
        self.fields["time_zone"].choices = zones = time_zones(self.instance.time_zone)
        if not everywhere and (near := near_by(zones, self._zone_shown())):
            self.fields["time_zone"].widget.choices = near
            self.fields["time_zone"].help_text = ELSEWHERE_TOO
        self._read_money_in(self.data.get("currency") if self.is_bound else self.kept_currency)

    def _zone_shown(self):
        return self.data.get("time_zone") if self.is_bound else self.instance.time_zone

    def _read_money_in(self, currency):
        """Amounts on the page are in the currency chosen on the page."""
        if currency in dict(self.fields["currency"].choices):
            for name in {"hour_minor", "overhead_minor"} & self.fields.keys():
                self.fields[name].own_currency = currency

    def parts(self):
        """(heading, what it is about, its fields) for the page."""
        for heading, about, names in self.PARTS:
            yield heading, about, [self[name] for name in names]

    def clean_name(self):
        return one_line(self.cleaned_data["name"])

    def clean_currency(self):
        currency = self.cleaned_data["currency"]
        if currency != self.kept_currency and Lot.objects.filter(cost_minor__isnull=False).exists():
            raise ValidationError(PRICES_ARE_KEPT, code="kept", params={"kept": self.kept_currency})
        return currency

    def clean_tax_pct(self):
        tax = self.cleaned_data["tax_pct"]
        if Studio._meta.get_field("tax_pct").rounded(tax) >= 100:
            raise ValidationError("A tax inside the price is less than 100 %: write it as 20, for 20 %.")
        return tax

    def clean_repeats_pct(self):
        limit = Studio._meta.get_field("repeats_pct").rounded(self.cleaned_data["repeats_pct"])
        if not 0 < limit <= 50:
            raise ValidationError("Write how far off an amount may be, above 0 and up to 50: 5 is usual, for 5 %.")
        return limit
