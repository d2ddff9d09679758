"""What is proposed for a country. The countries of the Union: Treaty on European Union, article 52."""

import pytest

from studio import territory
from studio.territory import propose

LOCALES = ["de_CH", "fr_CH", "en_IE", "ga_IE", "sv_SE", "en_US", "en_GB", "en_CA"]


@pytest.mark.parametrize(
    ("header", "languages", "country"),
    [
        ("en-IE,en;q=0.9,ga;q=0.8", ["en_IE", "en", "ga"], "IE"),
        ("de", ["de"], ""),
        ("fr, de-CH;q=0.5", ["fr", "de_CH"], "CH"),
        ("zh-Hant-TW", ["zh_TW"], "TW"),
        ("en-EU", ["en_EU"], ""),  # no country
        ("*", [], ""),
        ("", [], ""),
        (";;,,=\x00" * 900, [], ""),
    ],
)
def test_a_browser_s_languages_name_a_country_or_none(header, languages, country):
    """Accept-Language: RFC 9110, section 12.5.4; language tags: RFC 5646."""
    assert territory.languages_of(header) == languages
    assert territory.country_of(languages) == country


@pytest.mark.parametrize(
    ("country", "market", "currency", "time_zone", "system", "paper"),
    [
        # ISO 4217 for the currencies, the IANA time zone database for the zones
        ("IE", "EU", "EUR", "Europe/Dublin", "metric", "A4"),
        ("SE", "EU", "SEK", "Europe/Stockholm", "metric", "A4"),
        ("BG", "EU", "EUR", "Europe/Sofia", "metric", "A4"),
        ("GB", "UK", "GBP", "Europe/London", "metric", "A4"),
        ("US", "US", "USD", "", "us", "Letter"),  # several zones: one is chosen
        ("CA", "", "CAD", "", "metric", "Letter"),
        ("NO", "", "NOK", "Europe/Oslo", "metric", "A4"),
    ],
)
def test_what_is_usual_in_a_country(country, market, currency, time_zone, system, paper):
    found = propose(country, locales=LOCALES)
    assert (found.market, found.currency, found.time_zone) == (market, currency, time_zone)
    assert (found.system, found.paper) == (system, paper)


def test_the_union_has_27_members():
    assert len(territory.EUROPEAN_UNION) == 27


@pytest.mark.parametrize(
    ("country", "languages", "locale"),
    [
        ("CH", ["fr_FR", "fr"], "fr_CH"),
        ("CH", ["it"], "de_CH"),  # none of the usual ones: that of the country
        ("SE", ["en_US"], "sv_SE"),
        ("IE", ["en_US"], "en_IE"),
        ("SG", [], "en_SG"),
    ],
)
def test_dates_and_numbers_are_proposed_as_one_writes_there(country, languages, locale):
    assert propose(country, languages, LOCALES).locale == locale


@pytest.mark.parametrize("country", ["", "XX", "EU", "ie", "\x00", "Ireland"])
def test_what_is_no_country_proposes_nothing(country):
    assert not any(propose(country, locales=LOCALES)[1:5])
