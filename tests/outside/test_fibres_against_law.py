"""Content lines against the labelling law of the United States, the European Union and the United Kingdom.

Each row names the text it rests on. "15 USC" is the Wool Act (68b) and the Textile Act (70b), "16 CFR" their
rules, "art." and "Annex" Regulation (EU) No 1007/2011. Rounding to whole numbers by largest remainder: common
practice, no source.
"""

from decimal import Decimal

import pytest

from studio.fibres import FIBRES, Share, content_line, key_for, takes


def yarn(words):
    """Shares from "wool 75, nylon 22, metallised 3 decorative"."""
    entered = [share.split() for share in words.split(", ")]
    return [Share(fibre, Decimal(pct), **dict.fromkeys(flags, True)) for fibre, pct, *flags in entered]


US_LINES = [
    ("wool 75, nylon 25", "75% Wool 25% Nylon", "15 USC 68b(a)(2)(A)"),
    ("wool 65, nylon 20, metallised 15", "65% Wool 20% Nylon 15% Metallic", "16 CFR 303.7(o), from memory"),
    ("wool 65, nylon 20, metallised 15 decorative", "65% Wool 20% Nylon 15% Metallic", "16 CFR 300.16"),
    ("wool 75, nylon 22, metallised 3", "75% Wool 22% Nylon 3% Other Fiber", "15 USC 68b(a)(2)(A)"),
    ("wool 96, silk 4", "96% Wool 4% Other Fiber", "15 USC 68b(a)(2)(A)"),
    ("wool 95, silk 5", "95% Wool 5% Silk", "16 CFR 303.6(a): 5 per centum or more"),
    ("wool 50, nylon 20, wool 30", "80% Wool 20% Nylon", "15 USC 68b(a)(2)(A)"),
    ("alpaca 70, silk 30", "70% Alpaca 30% Silk", "16 CFR 300.18, from memory"),
    ("wool 80, yak 20", "80% Wool 20% Yak Hair", "16 CFR 303.6(b)"),
    ("angora 20, wool 80", "80% Wool 20% Angora Rabbit Hair", "16 CFR 303.6(b)"),
    (
        "cotton 85, linen 10, polyester 3, elastane 2",
        "85% Cotton 10% Linen 5% Other Fibers",
        "15 USC 70b(b)(1)-(2)",
    ),
    ("cotton 96, elastane 4 functional", "96% Cotton 4% Spandex", "15 USC 70b(b)(2)"),
    (
        "cotton 90, elastane 4 functional, acrylic 3, polyester 3",
        "90% Cotton 4% Spandex 6% Other Fibers",
        "16 CFR 303.16(a)(1), from memory: other fibers come last",
    ),
    ("wool 60 recycled, nylon 40", "60% Recycled Wool 40% Nylon", "15 USC 68b(a)(2)(A)"),
    ("wool 60 recycled, wool 40", "60% Recycled Wool 40% Wool", "15 USC 68b(a)(2)(A)"),
    ("wool 60 virgin, nylon 40", "60% Virgin Wool 40% Nylon", "16 CFR 300.20"),
    ("wool 4.6, cotton 95.4", "95% Cotton 5% Wool", "15 USC 68b(a)(2)(A): wool however little"),
    ("viscose 100", "100% Viscose", "16 CFR 303.7, names of ISO 2076"),
    (
        "undetermined 100",
        "100% miscellaneous odd lots of undetermined fiber content",
        "16 CFR 303.14",
    ),
]

EU_LINES = [
    ("wool 75, nylon 25", "75% wool, 25% polyamide", "art. 9(1)"),
    ("wool 75, nylon 22, metallised 3 decorative", "77% wool, 23% polyamide", "art. 10(1)"),
    ("wool 75, nylon 22, metallised 3", "75% wool, 22% polyamide, 3% metallised fibre", "art. 9(1)"),
    ("wool 93, metallised 7 decorative", "100% wool", "art. 10(1): up to 7 %"),
    ("wool 92, metallised 8 decorative", "92% wool, 8% metallised fibre", "art. 10(1): more than 7 %"),
    ("wool 65, nylon 20, metallised 15", "65% wool, 20% polyamide, 15% metallised fibre", "Annex I row 48"),
    ("wool 96, silk 4", "96% wool, 4% silk", "art. 9(2): other fibres only where not known"),
    ("wool 50, nylon 20, wool 30", "80% wool, 20% polyamide", "art. 9(1)"),
    ("cotton 97, elastane 3", "97% cotton, 3% elastane", "Annex I row 43"),
    ("viscose 100", "100% viscose", "Annex I row 25"),
    ("alpaca 70, silk 30", "70% alpaca, 30% silk", "Annex I rows 2 and 4"),
    ("wool 80, yak 20", "80% wool, 20% yak", "Annex I rows 1 and 2"),
    (
        "cotton 85, linen 10, polyester 3, elastane 2",
        "85% cotton, 10% linen, 3% polyester, 2% elastane",
        "art. 9(1)",
    ),
    ("wool 60 recycled, nylon 40", "60% wool, 40% polyamide", "art. 16(2)"),
    ("wool 100 virgin", "100% virgin wool", "art. 8(1), Annex III"),
    ("wool 75 virgin, nylon 25", "75% virgin wool, 25% polyamide", "art. 8(2)"),
    ("wool 25 virgin, nylon 75", "75% polyamide, 25% virgin wool", "art. 8(2): at least 25 %"),
    ("wool 20 virgin, nylon 80", "80% polyamide, 20% wool", "art. 8(2): under 25 %"),
    ("wool 60 virgin, nylon 20, silk 20", "60% wool, 20% polyamide, 20% silk", "art. 8(2): one other fibre"),
    ("wool 50 virgin, wool 25, nylon 25", "75% wool, 25% polyamide", "art. 8(2): all of the wool"),
    ("wool 75, nylon 25 virgin", "75% wool, 25% polyamide", "art. 8(1): a word for wool"),
    ("hemp 100", "100% true hemp", "Annex I row 8"),
    ("undetermined 100", "mixed fibres", "art. 9(4)"),
]


@pytest.mark.parametrize(("content", "line", "source"), US_LINES)
def test_us_line_follows_the_acts(content, line, source):
    assert content_line(yarn(content), "US").text == line, source


# The United Kingdom kept the regulation: SI 2012/1102.
@pytest.mark.parametrize("market", ["EU", "UK"])
@pytest.mark.parametrize(("content", "line", "source"), EU_LINES)
def test_european_line_follows_the_regulation(content, line, source, market):
    assert content_line(yarn(content), market).text == line, source


# 16 CFR 303.26 and 300.16: the threshold is of all fibre, the figure revealed is of the principal fibres.
@pytest.mark.parametrize(
    ("content", "reveal", "line"),
    [
        (
            "wool 75, nylon 22, metallised 3 decorative",
            False,
            "77% Wool 23% Nylon Exclusive of Ornamentation",
        ),
        (
            "wool 75, nylon 22, metallised 3 decorative",
            True,
            "77% Wool 23% Nylon Exclusive of 3% Metallic Ornamentation",
        ),
        ("wool 95, metallised 5 decorative", True, "100% Wool Exclusive of 5% Metallic Ornamentation"),
        # 4.8 of the 96 counted is 5 %
        (
            "wool 91.2, nylon 4.8, metallised 4 decorative",
            False,
            "95% Wool 5% Nylon Exclusive of Ornamentation",
        ),
        ("wool 94, metallised 6 decorative", True, "94% Wool 6% Metallic"),
    ],
)
def test_us_ornamentation_is_left_out_only_with_its_phrase(content, reveal, line):
    assert content_line(yarn(content), "US", reveal_ornament=reveal).text == line


# Art. 5 and 16(2): only Annex I names in the line, a breed apart from it. 16 CFR 303.16(d), from memory: a
# truthful descriptor may stand with the generic name in the US.
@pytest.mark.parametrize(
    ("typed", "market", "line", "notes"),
    [
        ("merino", "EU", "80% wool, 20% polyamide", ("Merino",)),
        ("merino", "UK", "80% wool, 20% polyamide", ("Merino",)),
        ("merino", "US", "80% Merino Wool 20% Nylon", ()),
        ("baby alpaca", "EU", "80% alpaca, 20% polyamide", ("Baby alpaca",)),
        ("kid mohair", "US", "80% Kid Mohair 20% Nylon", ()),
        ("lambswool", "US", "80% Lamb's Wool 20% Nylon", ()),
        ("silk noil", "US", "80% Silk Noil 20% Nylon", ()),
    ],
)
def test_a_breed_never_replaces_the_name(typed, market, line, notes):
    fibre = key_for(typed)
    found = content_line([Share(fibre.key, 80, breed=fibre.breed), Share("nylon", 20)], market)

    assert (found.text, found.notes) == (line, notes)


def test_recycled_is_said_apart_in_europe():  # art. 16(2)
    assert content_line(yarn("wool 60 recycled, nylon 40"), "EU").notes == ("Recycled wool",)


# Regulation (EU) 1007/2011, Annex I.
ANNEX_I_NAMES = {
    1: ["wool"],
    2: ["alpaca", "llama", "camel", "cashmere", "mohair", "angora", "vicuna", "yak", "guanaco"],
    4: ["silk"],
    5: ["cotton"],
    7: ["linen"],
    8: ["true hemp"],
    9: ["jute"],
    14: ["ramie"],
    19: ["acetate"],
    21: ["cupro"],
    22: ["modal"],
    23: ["protein"],
    24: ["triacetate"],
    25: ["viscose"],
    26: ["acrylic"],
    30: ["polyamide"],
    33: ["lyocell"],
    34: ["polylactide"],
    35: ["polyester"],
    37: ["polypropylene"],
    43: ["elastane"],
    48: ["metal fibre", "metallised fibre"],
}


def test_europe_prints_only_annex_i_names():
    printed = {content_line([Share(fibre, 100)], "EU").text.removeprefix("100% ") for fibre in FIBRES}

    assert printed == {name for row in ANNEX_I_NAMES.values() for name in row}


# Uptake by dye class, from memory of Broadbent, Basic Principles of Textile Coloration, and Lewis and Rippon,
# The Coloration of Wool and Other Keratin Fibres: protein fibre and nylon take acid dyes, cellulose does not;
# disperse dyes are for acetate, polyester and nylon, basic dyes for acrylic.
@pytest.mark.parametrize(
    ("dye_class", "dyes", "none"),
    [
        (
            "acid_levelling",
            "wool alpaca mohair silk nylon protein",
            "cotton linen viscose acetate polyester acrylic",
        ),
        (
            "metal_complex",
            "wool cashmere silk nylon",
            "cotton hemp lyocell polyester polypropylene metallised",
        ),
        ("reactive", "wool silk cotton linen ramie viscose", "polyester acrylic acetate metallised elastane"),
        ("direct", "cotton linen viscose modal cupro", "polyester acrylic acetate metal"),
        ("disperse", "polyester acetate triacetate nylon", "cotton linen viscose silk metal"),
        ("basic", "acrylic", "cotton viscose nylon polyester"),
        ("natural", "wool alpaca silk", "polyester acrylic elastane metallised"),
    ],
)
def test_uptake_by_dye_class(dye_class, dyes, none):
    assert {takes(fibre, dye_class) for fibre in dyes.split()} == {"dyes"}
    assert {takes(fibre, dye_class) for fibre in none.split()} == {"none"}
