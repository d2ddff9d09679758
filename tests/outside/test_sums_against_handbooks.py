"""Every figure that the page of the sums shows, against worked examples.

Sources: the definitions of depth of shade, stock strength, liquor ratio and exhaustion are those of Broadbent, Basic
Principles of Textile Coloration (SDC 2001), and Duff & Sinclair, Giles's Laboratory Course in Dyeing (SDC 1989), from
memory; the figures are rows of data/dye_math.csv, worked from them, where there is one. A part of the fibre that
takes no dye, and water left to pour: common practice, no source. Costs: IAS 2 Inventories, paragraphs 10 to 14, from
memory. Prices: rows of data/price_grossup.csv; margin and mark-up are an identity. Weigh-in and the least that a tool
measures: JCGM 100:2008, F.2.2.1, and data/smallest_amount.csv; the shares are arithmetic. Steps by equal ratios:
ISO 3, preferred numbers, from memory. Small samples against a kept one, and skeins taken out in turn: common practice,
no source.
"""

import csv
from decimal import Decimal
from pathlib import Path

import pytest

from recipes.sums import all_sums

DATA = Path(__file__).parent / "data"

# key: ({box: example}, [answers, rounded to what is shown])
EXPECTED = {
    "dye": ({"fibre": "115", "depth": "0.5", "strength": "1"}, ["0.575", "57.5"]),
    "depth": ({"fibre": "100", "volume": "37.5", "strength": "1"}, ["0.375"]),
    "additions": (
        {"fibre": "120", "powder": "0.5", "volume": "40", "strength": "1", "volume2": "15", "strength2": "0.1"},
        ["0.7625"],
    ),
    "blend": ({"fibre": "100", "depth": "1.5", "parts": "50:30:20", "strength": "1"}, ["75", "45", "30"]),
    "dyeable": ({"depth": "1", "share": "75"}, ["1.3333", "0.75"]),
    "lot": ({"dye": "9", "lot": "85"}, ["10.5882"]),
    # 100 x 100/110; a weaker lot needs more of itself for the same colour
    "matched": ({"matching": "110"}, ["90.9091"]),
    # smallest_amount.csv: 0.01 g scale and 0.01 mL syringe, for 5 %; the syringe's row says 0.0577
    "surely": ({"step": "0.01", "most": "5"}, ["0.0816", "0.0577"]),
    # five terms: 0.1 + 0.375 k, and 0.1 x 2 to the k
    "steps": (
        {"least": "0.1", "most": "1.6", "steps": "5"},
        ["0.1", "0.475", "0.85", "1.225", "1.6", "0.1", "0.2", "0.4", "0.8", "1.6"],
    ),
    # 0.25 % on 80, 60, 40 and 20 g; together 0.25 + 0.5 + 0.75 + 1 % of 20 g = 0.5 g
    "pulled": ({"skein": "20", "least": "0.25", "most": "1", "steps": "4"}, ["0.2", "0.15", "0.1", "0.05"]),
    "make": ({"volume": "500", "strength": "1"}, ["5"]),
    "true": ({"dye": "4.87", "volume": "500"}, ["0.974"]),
    "dilute": ({"volume": "100", "strength": "0.1", "stronger": "1"}, ["10", "90"]),
    "finest": ({"fibre": "100", "depth": "0.02", "least": "10"}, ["0.2"]),
    "bath": ({"fibre": "100", "ratio": "30"}, ["3000"]),
    "ratio": ({"fibre": "230", "bath": "4600"}, ["20"]),
    "water": ({"bath": "3000", "stock": "100", "acid": "30", "held": "120"}, ["2750"]),
    "litre": ({"bath": "7000", "per_litre": "1.5"}, ["10.5"]),
    "left": ({"dye": "1", "taken": "97", "bath": "3000"}, ["10"]),
    # 50.40 + 95/60 x 18.00 + 6 x 0.90 = 84.30, over 5 firsts and 0.6 of one: 15.0536 and 9.0321
    "cost": (
        {"yarn": "50.40", "dye": "0", "minutes": "95", "hour": "18", "overhead": "0.90", "firsts": "5", "seconds": "1"},
        ["84.30", "15.05", "9.03"],
    ),
    "price": (
        {"cost": "18.40", "profit": "9", "tax": "20", "fee": "6.5", "fixed": "0.25"},
        ["35.99", "6.00", "2.59", "9.00"],
    ),
    "margin": ({"cost": "18.40", "margin": "40"}, ["30.67"]),
    # 212.4 - 205.2 - 4 = 3.2, by 6 and 2 taps
    "shares": (
        {"before": "212.4", "after": "205.2", "measured": "4", "taps": "6:2", "step": "0.1"},
        ["3.2", "2.4", "0.8"],
    ),
}
SUMS = {one.key: one for _, rows in all_sums() for one in rows}


def test_each_sum_of_the_page_is_checked_here():
    assert set(SUMS) == set(EXPECTED)


@pytest.mark.parametrize("key", SUMS)
def test_the_example_of_a_sum_comes_out(studio, key):
    boxes, answers = EXPECTED[key]
    assert {box.name: box.example for box in SUMS[key].boxes} == boxes
    assert [round(found.amount, 4) for found in SUMS[key].example()] == [Decimal(answer) for answer in answers]


@pytest.mark.parametrize("key", SUMS)
def test_a_sum_names_its_source(key):
    assert any(name in SUMS[key].source for name in ("SDC", "IAS 2", "JCGM", "ISO 3", "Common practice, no source"))


# Which row of the tables an example is.
ROWS = {
    "depth": "wof=100;mL=37.5;strength=1",
    "make": "V=500;strength=1",
    "true": "g=4.87;V=500",
    "dilute": "C1=1;C2=0.1;V2=100",
    "finest": "wof=100;dos=0.02;min_mL=10",
    "bath": "wof=100;LR=30",
    "ratio": "wof=230;bath=4600",
    "dyeable": "wof=100;dos=1;fractions=wool0.75+polyester0.25",
    "blend": "wof=100;dos=1.5;share=0.5;strength=1",
    "litre": "1.5 g/L;bath=7 L (LR 20)",
    "left": "dye=1 g;exhaustion=0.97;bath=3 L",
}


@pytest.mark.parametrize("key", ROWS)
def test_an_example_is_a_row_of_the_table(studio, key):
    with (DATA / "dye_math.csv").open(encoding="utf-8") as file:
        expected = {row["inputs"]: row["expected"] for row in csv.DictReader(file)}
    assert round(SUMS[key].example()[0].amount, 4) == Decimal(expected[ROWS[key]])
