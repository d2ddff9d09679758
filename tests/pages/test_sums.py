"""The page of the sums: examples worked out, and one's own numbers."""

import gzip
import re
from html import unescape

import pytest
from django.urls import reverse

from recipes import dyeing
from recipes.sums import all_sums
from studio.models import System

SUMS = [one for _, rows in all_sums() for one in rows]
URL = "/sums/"


def page_of(client, **asked):
    answer = client.get(URL, asked)
    assert answer.status_code == 200
    return answer.content.decode()


def article(page, key):
    return unescape(page.split(f'<article class="sum" id="{key}"')[1].split("</article>")[0])


@pytest.mark.parametrize("role", ["owner", "maker", "helper", "viewer"])
def test_everybody_reads_each_example_on_the_page(cast, client_of, role):
    page = page_of(client_of(getattr(cast, role)))
    for one in SUMS:
        said = article(page, one.key)
        assert one.formula_said in said and one.source in said
        for found in one.example():
            assert f">{found.said}</dd>" in said


def test_the_page_is_light(cast, client_of):
    assert len(gzip.compress(page_of(client_of(cast.owner)).encode(), 9)) <= 14 * 1024


def test_an_example_says_what_the_program_reckons(cast, client_of, monkeypatch):
    monkeypatch.setattr(dyeing, "dye_g", lambda fibre, depth: 42)
    assert ">42\u00a0g</dd>" in article(page_of(client_of(cast.owner)), "dye")


@pytest.mark.parametrize(
    ("fibre", "unit", "depth", "said"),
    [
        ("250", "g", "1,25", ("3.125\u00a0g", "312.5\u00a0mL")),
        ("1/2", "kg", "0.5", ("2.5\u00a0g", "250\u00a0mL")),
        ("1 1/2", "kg", "½", ("7.5\u00a0g", "750\u00a0mL")),
    ],
)
def test_own_numbers_are_read_with_commas_fractions_and_units(cast, client_of, fibre, unit, depth, said):
    page = page_of(client_of(cast.helper), sum="dye", fibre=fibre, fibre_unit=unit, depth=depth, strength="1")
    mine = article(page, "dye").split('role="status"')[1]
    assert all(f">{one}</dd>" in mine for one in said)
    assert f'value="{fibre}"' in article(page, "dye")


def test_the_other_sums_keep_their_examples_shut(cast, client_of):
    page = page_of(client_of(cast.helper), sum="make", volume="250", volume_unit="mL", strength="2")
    assert page.count('<details class="fold" open>') == 1
    assert ">5\u00a0g</dd>" in article(page, "make").split('role="status"')[1]


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        ({"sum": "dye", "fibre": "1", "depth": "abc", "strength": "1"}, "can't be read as a number"),
        ({"sum": "dye", "fibre": "", "depth": "1", "strength": "1"}, "Fill in “Dry weight of fibre”."),
        ({"sum": "dye", "fibre": "0", "depth": "1", "strength": "1"}, "The weight of fibre must be more than zero"),
        ({"sum": "dilute", "volume": "100", "strength": "2", "stronger": "1"}, "Water can't make a stock stronger"),
        ({"sum": "water", "bath": "10", "stock": "100", "acid": "0", "held": "0"}, "already hold more water"),
        ({"sum": "blend", "fibre": "100", "depth": "1", "parts": "three", "strength": "1"}, "with colons between"),
        ({"sum": "blend", "fibre": "100", "depth": "1", "parts": "0:0", "strength": "1"}, "parts add up to nothing"),
        ({"sum": "shares", "before": "1", "after": "9", "measured": "0", "taps": "1:2", "step": "1"}, "at the end"),
        ({"sum": "cost", "yarn": "1", "dye": "1", "minutes": "1", "hour": "1", "overhead": "1", "firsts": "0",
          "seconds": "0"}, "how many skeins came out"),
        ({"sum": "lot", "dye": "9", "lot": f"0.{'0' * 17}1"}, "This number can't be worked with"),
        ({"sum": "margin", "cost": "10", "margin": "100"}, "A margin has to be below 100"),
    ],
)  # fmt: skip
def test_what_cannot_be_reckoned_is_said_and_kept(cast, client_of, asked, sentence):
    page = page_of(client_of(cast.maker), **asked)
    assert "<title>Error: " in page and 'class="errors"' in page and sentence in unescape(page)
    for name, value in asked.items():
        if name != "sum":
            box = re.search(rf'<input[^>]*name="{name}"[^>]*>', article(page, asked["sum"]))[0]
            assert value == "" or f'value="{value}"' in box


def test_an_unknown_sum_is_the_page_as_it_is(cast, client_of):
    assert 'class="errors"' not in page_of(client_of(cast.viewer), sum="moon", fibre="x")


def test_a_studio_in_us_units_reads_its_own(cast, client_of, studio):
    studio.system = System.US
    studio.save()
    page = page_of(client_of(cast.owner), sum="bath", fibre="1", fibre_unit="lb", ratio="30")
    assert ">14.38\u00a0qt</dd>" in article(page, "bath").split('role="status"')[1]


def test_the_sums_are_at_the_foot_of_every_page(cast, client_of):
    assert f'href="{reverse("recipes:sums")}"' in client_of(cast.viewer).get("/shelf/").content.decode()
