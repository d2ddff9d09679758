"""The sums of dyeing against worked examples.

Sources: the definitions of depth of shade, stock strength, liquor ratio and exhaustion are those of
Broadbent, Basic Principles of Textile Coloration (SDC 2001), and Duff & Sinclair, Giles's Laboratory Course
in Dyeing (SDC 1989), from memory; the rows of data/dye_math.csv are worked from them. Blends with a fibre
that takes no dye: common practice, no source.
"""

import csv
import re
from decimal import Decimal
from pathlib import Path

import pytest

from recipes import dyeing

TABLE = Path(__file__).parent / "data" / "dye_math.csv"
ROWS = list(csv.DictReader(TABLE.open(encoding="utf-8")))
HERE = {
    "dye_g": lambda n: dyeing.dye_g(n["wof"], n["dos"]),
    "stock_mL": lambda n: dyeing.stock_ml(n["wof"], n["dos"], n["strength"]),
    "dos_from_stock": lambda n: dyeing.depth_from_stock_pct(n["mL"], n["strength"], n["wof"]),
    "strength_needed": lambda n: dyeing.strength_to_dispense_pct(n["wof"], n["dos"], n["min_mL"]),
    "make_stock_g": lambda n: dyeing.powder_for_stock_g(n["V"], n["strength"]),
    "stock_strength": lambda n: dyeing.strength_pct(n["g"], n["V"]),
    "dilute_V1": lambda n: dyeing.dilution_ml(n["C1"], n["C2"], n["V2"])[0],
    "bath_mL": lambda n: dyeing.bath_ml(n["wof"], n["LR"]),
    "LR": lambda n: dyeing.liquor_ratio(n["bath"], n["wof"]),
    "dyeable_depth": lambda n: dyeing.depth_on_dyeable_pct(n["dos"], 75),
    "dye_g_dyeable_only": lambda n: dyeing.dye_g(n["wof"], dyeing.depth_for_dyeable_pct(n["dos"], 100 * n["dyeable"])),
    "blend_mL": lambda n: dyeing.stock_ml(n["wof"], n["dos"] * n["share"], n["strength"]),
    "scale_dye": lambda n: dyeing.stock_ml(n["new_wof"], dyeing.depth_from_stock_pct(n["old"], 1, n["old_wof"]), 1),
    "scale_acid_gL": lambda n: dyeing.per_litre(1000 * n["bath"], Decimal("1.5")),
    "exhaust_left": lambda n: dyeing.dye_left_mg_per_l(n["dye"], 100 * n["exhaustion"], 1000 * n["bath"]),
}


def numbers(inputs):
    return {name: Decimal(value) for name, value in re.findall(r"(\w+)=([0-9.]+)", inputs)}


@pytest.mark.parametrize("row", ROWS, ids=[f"{row['op']}: {row['inputs']}" for row in ROWS])
def test_a_worked_example_comes_out(row):
    found = HERE[row["op"]](numbers(row["inputs"]))
    assert round(found, 4) == Decimal(row["expected"])


# Broadbent's definitions worked by hand: the examples of a dyer's day.
@pytest.mark.parametrize(
    "found, expected",
    [
        pytest.param(dyeing.stock_ml(115, Decimal("0.5"), 1), "57.5", id="a 115 g skein, half a percent"),
        pytest.param(dyeing.stock_ml(250, Decimal("1.25"), 5), "62.5", id="two and a half skeins from 5 %"),
        pytest.param(dyeing.dye_in_stock_g(5, 1), "0.05", id="one small syringe"),
        pytest.param(dyeing.powder_for_stock_g(250, Decimal("0.1")), "0.25", id="a weak bottle"),
        pytest.param(
            dyeing.depth_of_additions_pct(120, [Decimal("0.50")], [(40, 1), (15, Decimal("0.1"))]),
            "0.7625",
            id="powder and two bottles on 120 g",
        ),
        pytest.param(dyeing.water_to_pour_ml(3000, [100, 30], 120), "2750", id="water left to pour"),
        pytest.param(dyeing.depth_on_dyeable_pct(Decimal("0.85"), 85), "1", id="15 % that stays white"),
        pytest.param(
            dyeing.per_litre(dyeing.bath_ml(5, 10), 40) / Decimal("0.2"),
            "10",
            id="5 g cloth, 10:1, salt 40 g/L from a 20 % solution",
        ),
    ],
)
def test_a_day_s_sums_come_out(found, expected):
    assert found == Decimal(expected)


def test_parts_of_a_blend_come_out():
    assert dyeing.blend_ml(100, Decimal("1.5"), [50, 30, 20], [1, 1, 1]) == [75, 45, 30]


def test_a_weaker_lot_needs_more_powder():
    assert round(dyeing.at_lot_strength(9, 85), 4) == Decimal("10.5882")


# C1 V1 = C2 V2: conservation of the dye.
def test_a_dilution_of_ten_to_one():
    assert dyeing.dilution_ml(1, Decimal("0.1"), 100) == (10, 90)
