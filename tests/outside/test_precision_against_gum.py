"""Uncertainties against JCGM 100:2008, Evaluation of measurement data (GUM).

Sources: GUM 4.3.7 (limits: a / sqrt(3)), F.2.2.1 (a step: 0.29 of it), 5.1.2 and 5.1.6 (independent terms),
from memory. The syringe tolerances are those of ISO 7886-1:1993, table 1, from memory; spoons within 10 % and
humidity within 3 %: common practice, no source. The tables in data/ follow from these; the last test draws
samples instead, so that it leans on none of the formulas.
"""

import csv
import random
from pathlib import Path
from statistics import fmean, stdev

import pytest

from recipes.precision import (
    combined_pct,
    combined_u,
    limits_u,
    reading_u,
    relative_pct,
    smallest_amount,
    weighing_u,
)

DATA = Path(__file__).parent / "data"
CASES = list(csv.DictReader((DATA / "uncertainty.csv").open(encoding="utf-8")))
TOOLS = list(csv.DictReader((DATA / "smallest_amount.csv").open(encoding="utf-8")))

CYLINDER_PCT = relative_pct(limits_u(1), 100)
STOCK_PCT = combined_pct(relative_pct(weighing_u(0.01), 1), CYLINDER_PCT)
SYRINGE_10_ML, TOLERANCE_AT_3_ML = reading_u(0.2), limits_u(0.015 * 10 + 0.01 * 3)


def of(amount, pct):
    return amount * pct / 100


# One row each, in the order of the table.
WORKED = [
    reading_u(0.01),
    weighing_u(0.01),
    combined_u(weighing_u(0.01), limits_u(0.02)),
    weighing_u(0.01),
    limits_u(1),
    reading_u(0.2),
    combined_u(reading_u(0.1), limits_u(0.05 * 3)),
    of(0.03, combined_pct(STOCK_PCT, relative_pct(SYRINGE_10_ML, 3))),
    of(0.03, combined_pct(STOCK_PCT, relative_pct(combined_u(SYRINGE_10_ML, TOLERANCE_AT_3_ML), 3))),
    combined_u(reading_u(0.2), limits_u(0.04 * 10)),
    combined_u(reading_u(1), limits_u(0.04 * 30)),
    limits_u(0.1 * 5),
    limits_u(0.03 * 100),
]


@pytest.mark.parametrize("row, u", list(zip(CASES, WORKED, strict=True)), ids=[row["case"] for row in CASES])
def test_a_worked_uncertainty_comes_out(row, u):
    assert u == pytest.approx(float(row["u_standard"]), abs=6e-6, rel=1e-3)
    assert relative_pct(u, float(row["value"])) == pytest.approx(float(row["u_relative_percent"]), abs=0.006)


def test_a_step_is_worth_0_29_of_itself():
    assert reading_u(1) == pytest.approx(0.29, abs=0.005)


LIMITS = (10, 5, 2, 1)
REPEATED = [row for row in TOOLS if "tol" not in row["tool"]]
ANY_SYRINGE = [row for row in TOOLS if "tol" in row["tool"]]


@pytest.mark.parametrize("row", REPEATED, ids=[row["tool"] for row in REPEATED])
def test_the_smallest_amount_for_a_tool_comes_out(row):
    u = float(row["u_reading"])
    for limit_pct in LIMITS:
        if published := row[f"min_for_{limit_pct}pct"]:
            assert smallest_amount(u, limit_pct) == pytest.approx(float(published), abs=0.006)


@pytest.mark.parametrize("step", [1, 0.1, 0.01, 0.001])
def test_the_smallest_weighing_comes_out(step):
    row = next(row for row in TOOLS if row["tool"].startswith(f"{step:g} g scale"))
    for limit_pct in LIMITS:
        published = float(row[f"min_for_{limit_pct}pct"])
        assert smallest_amount(weighing_u(step), limit_pct) == pytest.approx(published, abs=6e-5)


@pytest.mark.parametrize("step, published", [(0.01, 0.06), (0.1, 0.58), (0.2, 1.15), (1, 5.77)])
def test_the_smallest_volume_in_one_syringe_comes_out(step, published):
    assert smallest_amount(reading_u(step), 5) == pytest.approx(published, abs=0.005)


@pytest.mark.parametrize("row", ANY_SYRINGE, ids=[row["tool"] for row in ANY_SYRINGE])
def test_any_syringe_to_the_standard_is_at_its_limit_at_the_smallest_amount(row):
    nominal = float(row["tool"].split(" mL")[0])
    step = float(row["tool"].split(", ")[1].split(" mL")[0])
    for limit_pct in LIMITS:
        if published := row[f"min_for_{limit_pct}pct"]:
            volume = float(published)
            tolerance = 0.015 * nominal + (0.02 if nominal < 5 else 0.01) * volume
            found = relative_pct(combined_u(reading_u(step), limits_u(tolerance)), volume)
            assert found == pytest.approx(limit_pct, rel=0.006 / volume + 1e-3)


def test_a_draw_of_the_whole_chain_agrees():
    """1.00 g into 100 mL, then 3 mL of it in any 10 mL syringe: 4.03 % by the formula."""
    draw = random.Random(11)

    def within(limit):
        return draw.uniform(-limit, limit)

    dye = [
        (1 + within(0.005) + within(0.005)) / (100 + within(1)) * (3 + within(0.1) + within(0.18))
        for _ in range(50_000)
    ]
    formula = combined_pct(STOCK_PCT, relative_pct(combined_u(SYRINGE_10_ML, TOLERANCE_AT_3_ML), 3))
    assert relative_pct(stdev(dye), fmean(dye)) == pytest.approx(formula, rel=0.015)
