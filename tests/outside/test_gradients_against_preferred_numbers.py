"""Steps of depth against the published preferred numbers, and blends against worked rows.

Sources: ISO 3:1973, Preferred numbers, the series R5 and R10 (from memory): a geometric sequence of the ratio 10 to
the fifth or the tenth root, rounded to the published values by 1.3 % at most. Blend rows: data/dye_math.csv and
"W 100, D 1.5, S 1, shares 50/30/20: 75 / 45 / 30 mL", worked from the definition of depth of shade in Broadbent, Basic
Principles of Textile Coloration (SDC 2001), from memory. Lattice of mixtures: Scheffe, J. R. Stat. Soc. B 20 (1958),
from memory.
"""

import csv
import re
from decimal import Decimal
from pathlib import Path

import pytest

from recipes import dyeing, gradients

D = Decimal
R5 = [D(each) for each in ("1.00", "1.60", "2.50", "4.00", "6.30", "10.0")]
R10 = [D(each) for each in ("1.00", "1.25", "1.60", "2.00", "2.50", "3.15", "4.00", "5.00", "6.30", "8.00", "10.0")]
TABLE = Path(__file__).parent / "data" / "dye_math.csv"
BLENDS = [row for row in csv.DictReader(TABLE.open(encoding="utf-8")) if row["op"] == "blend_mL"]


@pytest.mark.parametrize("series", [R5, R10], ids=["R5", "R10"])
@pytest.mark.parametrize("decade", [D("0.1"), D(1)], ids=["0.1 to 1 %", "1 to 10 %"])
def test_equal_ratios_over_a_decade_are_the_preferred_numbers(series, decade):
    found = gradients.geometric(decade, decade * 10, len(series))
    for depth, published in zip(found, series, strict=True):
        assert abs(depth / (published * decade) - 1) < D("0.013")


@pytest.mark.parametrize("row", BLENDS, ids=[row["inputs"] for row in BLENDS])
def test_a_blend_by_shares_of_one_total_depth(row):
    """The same mL by way of a family's factors: any version of the dye, multiplied to its share of the depth."""
    said = {name: D(value) for name, value in re.findall(r"(\w+)=([0-9.]+)", row["inputs"])}
    in_the_version = D("0.4")
    (factor, _) = gradients.share_factors((said["share"], 1 - said["share"]), [in_the_version, 1], said["dos"])
    assert dyeing.stock_ml(said["wof"], in_the_version * factor, said["strength"]) == D(row["expected"])


def test_three_shares_of_one_and_a_half_percent():
    factors = gradients.share_factors((D("0.5"), D("0.3"), D("0.2")), [1, 1, 1], D("1.5"))
    assert [dyeing.stock_ml(100, factor, 1) for factor in factors] == [75, 45, 30]


@pytest.mark.parametrize("divisions, mixes", [(2, 6), (3, 10), (4, 15), (5, 21)])
def test_a_triangle_has_as_many_mixes_as_a_simplex_lattice(divisions, mixes):
    assert len(gradients.between_three(divisions)) == mixes
