"""What is usual where a studio is: proposals for its settings, from a country. Pure: no Django.

Nothing here is ever taken without being asked: a proposal stands in a box that a person looks at. What a country does
not settle (a zone where there are several, the market of a country that is none of ours) is left empty.
"""

import re
from typing import NamedTuple

from babel import Locale, UnknownLocaleError
from babel.core import get_global
from babel.languages import get_official_languages
from babel.numbers import get_territory_currencies

# Member states: Treaty on European Union, article 52, as amended by the accessions and the withdrawal since.
EUROPEAN_UNION = frozenset(
    {
        "AT", "BE", "BG", "CY", "CZ", "DE", "DK", "EE", "ES", "FI", "FR", "GR", "HR", "HU", "IE", "IT", "LT", "LU",
        "LV", "MT", "NL", "PL", "PT", "RO", "SE", "SI", "SK",
    }
)  # fmt: skip
# Ounces and yards, and Letter paper: Unicode CLDR, supplemental measurement data, from memory.
US_UNITS = frozenset({"US", "PR", "VI", "GU", "AS", "MP", "LR"})
LETTER = US_UNITS - {"LR"} | {"CA", "MX", "CL", "CO", "CR", "GT", "NI", "PA", "PH", "SV", "VE", "BZ"}
# Euro since 1 January 2026; tables of currencies may be older. From memory.
NEWER_CURRENCY = {"BG": "EUR"}
NO_COUNTRY = frozenset({"EU", "EZ", "UN", "QO", "XA", "XB", "ZZ"})


class Proposal(NamedTuple):
    """What is usual in a country; "" where the country alone does not say."""

    country: str = ""
    market: str = ""
    currency: str = ""
    locale: str = ""
    time_zone: str = ""
    system: str = ""
    paper: str = ""


def countries():
    """(code, English name), by name."""
    named = Locale("en").territories.items()
    found = [(code, name) for code, name in named if re.fullmatch("[A-Z]{2}", code) and code not in NO_COUNTRY]
    return sorted(found, key=lambda row: row[1].casefold())


def languages_of(header):
    """["en_IE", "en"] from an Accept-Language header, in its order, as locales are written here.

    Header: RFC 9110, section 12.5.4; tags: RFC 5646. What is no such tag is passed over.
    """
    found = []
    for part in header[:500].split(","):
        tag = part.split(";")[0].strip()
        if match := re.fullmatch(r"([A-Za-z]{2,3})(?:-[A-Za-z]{4})?(?:-([A-Za-z]{2}))?", tag):
            language, country = match[1].lower(), (match[2] or "").upper()
            found.append(f"{language}_{country}" if country else language)
    return found


def country_of(languages):
    """The country that the first language with one names, or ""."""
    known = dict(countries())
    return next((country for _, _, country in (each.partition("_") for each in languages) if country in known), "")


def propose(country, languages=(), locales=()):
    """The `Proposal` for a country. `languages`: the person's own; `locales`: the usual ones, such as "sv_SE"."""
    if country not in dict(countries()):
        return Proposal()
    zones = get_global("territory_zones").get(country, [])
    currencies = get_territory_currencies(country)
    return Proposal(
        country=country,
        market=_market(country),
        currency=NEWER_CURRENCY.get(country) or (currencies[0] if currencies else ""),
        locale=_locale(country, languages, locales),
        time_zone=zones[0] if len(zones) == 1 else "",
        system="us" if country in US_UNITS else "metric",
        paper="Letter" if country in LETTER else "A4",
    )


def _market(country):
    if country in EUROPEAN_UNION:
        return "EU"
    return {"GB": "UK", "US": "US"}.get(country, "US" if country in US_UNITS - {"LR"} else "")


def _locale(country, languages, locales):
    """The person's own way of writing in that country, else English there, else the country's own."""
    wanted = [f"{language.partition('_')[0]}_{country}" for language in languages]
    wanted += [f"en_{country}", *(f"{language}_{country}" for language in get_official_languages(country))]
    wanted += [locale for locale in locales if locale.endswith(f"_{country}")]
    return next((locale for locale in wanted if locale in locales), "") or next(filter(exists, wanted), "")


def exists(locale):
    """Whether there is such a way of writing."""
    try:
        return str(Locale.parse(locale)) == locale
    except (UnknownLocaleError, ValueError):
        return False


def locale_name(locale):
    """ "English (Ireland)" for en_IE."""
    return Locale.parse(locale).get_display_name("en")
