"""Amounts of a lot in words."""

from decimal import Decimal

import pytest

from studio.shelf_words import about_g, came_in_skeins, said


@pytest.mark.parametrize(
    ("amount", "unit", "skein_g", "words"),
    [
        (3400, "g", 100, "34 skeins"),
        (100, "g", 100, "1 skein"),
        (0, "g", 100, "0 skeins"),
        (250, "g", 100, "2 skeins and 50 g"),
        (30, "g", 100, "30 g"),
        (-300, "g", 100, "\u22123 skeins"),
        (1850, "g", None, "1.85 kg"),
        (Decimal("8.5"), "g", None, "8.5 g"),
        (410, "mL", None, "410 mL"),
        (None, "mL", None, "not known"),
    ],
)
def test_an_amount_is_said_as_a_dyer_says_it(amount, unit, skein_g, words):
    amount = None if amount is None else Decimal(amount)
    assert said(amount, unit, skein_g and Decimal(skein_g)).replace("\u00a0", " ") == words


def test_a_studio_in_ounces_reads_ounces():
    # NIST Handbook 44, Appendix C: 1 oz is 28.349523125 g.
    assert said(Decimal("283.49523125"), "g", None, "us") == "10\u00a0oz"


@pytest.mark.parametrize(("received", "skein_g", "skeins"), [(1000, 100, True), (1850, 100, False), (50, None, False)])
def test_what_is_no_whole_number_of_skeins_came_on_a_cone(received, skein_g, skeins):
    assert came_in_skeins(Decimal(received), skein_g and Decimal(skein_g)) is skeins


@pytest.mark.parametrize(
    ("grams", "u", "said"),
    [
        ("0.4", "0.0392", "about 0.4 g ± 0.04 g"),
        ("0.4567", "0.0392", "about 0.46 g ± 0.04 g"),
        ("0.4567", "0.0149", "about 0.457 g ± 0.015 g"),
        ("12.3456", "0.951", "about 12.3 g ± 1 g"),
        ("30", "25", "about 30 g ± 30 g"),
        ("0.4567", None, "about 0.4567 g"),
        ("0.4", "0", "about 0.4 g"),
    ],
)
def test_what_a_spoon_gave_is_said_no_finer_than_it_is_known(grams, u, said):
    assert about_g(Decimal(grams), u and Decimal(u)).replace("\N{NO-BREAK SPACE}", " ") == said
