"""The studio's own page: settings for its owner, facts for everybody else."""

import gzip
import re
from decimal import Decimal

import pytest
from django.utils import timezone

from studio.models import Studio
from tests import builders

ADDRESS = "/studio/"
RIGHT = {
    "name": "Marsh Lane",
    "address": "4 Marsh Lane",
    "contact": "hello@marsh.example",
    "market": "UK",
    "currency": "GBP",
    "locale": "en_GB",
    "time_zone": "Europe/London",
    "system": "metric",
    "spoons": "metric",
    "paper": "A4",
    "repeats_pct": "5",
    "hour_minor": "14.50",
    "overhead_minor": "",
    "second_pct": "60",
    "tax_pct": "20",
}


@pytest.fixture
def owner(cast, client_of):
    return client_of(cast.owner)


def send(client, **changed):
    return client.post(ADDRESS, RIGHT | changed)


def test_what_the_owner_writes_is_kept(owner):
    assert send(owner).status_code == 302
    studio = Studio.get()
    assert (studio.name, studio.currency, studio.hour_minor, studio.overhead_minor) == ("Marsh Lane", "GBP", 1450, None)
    assert studio.tax_pct == Decimal(20)
    page = owner.get(ADDRESS).content.decode()
    assert 'value="14.50"' in page
    assert "The settings are kept." in page


def test_a_change_is_remembered_with_who_made_it(owner, cast):
    send(owner)
    assert Studio.get().history.latest().history_user == cast.owner


@pytest.mark.parametrize("currency", ["JPY", "KWD"])
def test_amounts_are_read_in_the_currency_chosen_with_them(owner, currency):
    answer = send(owner, currency=currency, hour_minor="1500" if currency == "JPY" else "1.500")
    assert answer.status_code == 302
    assert Studio.get().hour_minor == 1500


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"name": ""}, "Fill in “Name”."),
        ({"name": "x" * 81}, "80 fit"),
        ({"address": "x" * 10_000}, "200 fit"),
        ({"market": "MOON"}, "no longer there"),
        ({"currency": "XXX"}, "no longer there"),
        ({"currency": ""}, "Choose one under “Currency”."),
        ({"locale": "../../etc"}, "no longer there"),
        ({"time_zone": "Mars/Base"}, "no longer there"),
        ({"hour_minor": "1,000"}, "1,000"),
        ({"hour_minor": "-3"}, "-3"),
        ({"hour_minor": "🧶"}, "🧶"),
        ({"hour_minor": "9" * 30}, "9999"),
        ({"hour_minor": "14.505"}, "2 digits after the point"),
        ({"second_pct": "101"}, "100"),
        ({"second_pct": "60.5"}, "whole number"),
        ({"repeats_pct": "0"}, "above 0"),
        ({"repeats_pct": "50.5"}, "up to 50"),
        ({"repeats_pct": ""}, "Fill in “Amounts have to repeat within”."),
        ({"tax_pct": "100"}, "less than 100"),
        ({"tax_pct": "99.9999"}, "less than 100"),
        ({"tax_pct": "-1"}, "-1"),
        ({"tax_pct": ""}, "Fill in “Sales tax inside prices”."),
    ],
)
def test_bad_input_is_said_and_nothing_is_lost(owner, changed, sentence):
    before = Studio.get().name
    answer = send(owner, **changed)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert "<title>Error: " in page
    choices = {"market", "currency", "locale", "time_zone", "system", "spoons", "paper"}
    kept = {name: text for name, text in (RIGHT | changed).items() if name not in choices}
    assert [text for text in kept.values() if text not in page] == []
    assert Studio.get().name == before


def test_nothing_at_all_is_answered_with_sentences(owner):
    assert owner.post(ADDRESS, {}).status_code == 422


def test_the_currency_stays_once_there_are_prices(owner, cast):
    builders.receive_powder(cast.maker, cost_minor=1200)
    answer = send(owner, currency="USD")
    assert answer.status_code == 422
    assert "Prices are kept here in EUR by now" in answer.content.decode()
    assert send(owner, currency="EUR").status_code == 302


@pytest.mark.parametrize("role", ["maker", "helper", "viewer"])
def test_the_others_read_it_and_may_not_write(cast, client_of, role):
    client = client_of(getattr(cast, role))
    page = client.get(ADDRESS).content.decode()
    assert "European Union" in page
    assert "<select" not in page
    assert "/people/" not in page
    assert send(client).status_code == 403
    assert Studio.get().name != "Marsh Lane"


@pytest.mark.parametrize(("role", "sees"), [("maker", True), ("helper", False), ("viewer", False)])
def test_what_an_hour_costs_is_for_those_who_see_costs(cast, client_of, owner, role, sees):
    send(owner, hour_minor="31.70")
    page = client_of(getattr(cast, role)).get(ADDRESS).content.decode()
    assert ("31.70" in page) == sees


def test_pages_are_written_in_the_studio_s_time(owner, cast):
    send(owner, time_zone="Asia/Tokyo", locale="ja_JP")
    cast.helper.last_login = timezone.now().replace(hour=20, minute=5, second=0, microsecond=0)
    cast.helper.save(update_fields=["last_login"])
    assert "5:05" in owner.get(f"/people/{cast.helper.pk}/").content.decode()
    assert timezone.get_current_timezone_name() == "UTC"  # the next request starts afresh


def test_a_zone_this_computer_does_not_know_breaks_nothing(owner, studio):
    Studio.objects.update(time_zone="Mars/Base")
    assert owner.get("/people/").status_code == 200
    page = owner.get(ADDRESS)
    assert page.status_code == 200


def zones_of(page):
    return re.findall(r'<option value="([^"]+)"', page.split('name="time_zone"')[1].split("</select>")[0])


def test_the_time_zones_of_this_part_of_the_world_are_offered_and_all_when_asked(owner):
    assert send(owner, time_zone="Europe/Dublin").status_code == 302
    page = owner.get(ADDRESS).content
    near = zones_of(page.decode())
    assert "Europe/Dublin" in near and "Europe/Rome" in near and "Asia/Tokyo" not in near
    assert len(gzip.compress(page, 9)) <= 9 * 1024
    assert "Asia/Tokyo" in zones_of(owner.get(ADDRESS, {"zones": "all"}).content.decode())
    assert send(owner, time_zone="Asia/Tokyo").status_code == 302
    assert "Asia/Seoul" in zones_of(owner.get(ADDRESS).content.decode())


def test_a_studio_on_world_time_is_not_sent_the_whole_list(owner):
    assert send(owner, time_zone="UTC").status_code == 302
    assert zones_of(owner.get(ADDRESS).content.decode()) == ["UTC"]
