"""What a plan says of amounts too small for the tools, against JCGM 100:2008 (GUM), through the whole planning.

Sources: GUM 4.3.7, F.2.2.1 and 5.1.2, from memory; the tables in data/ follow from them. A plan's rule is how well one
tool repeats, so the rows with a maker's tolerance (ISO 7886-1:1993) or a spoon, a cylinder's limits or the weather in
them are no part of it: those are checked in test_precision_against_gum.py.
"""

import csv
from decimal import Decimal
from pathlib import Path

import pytest

from recipes.models import Basis
from recipes.offers import lots_for
from recipes.planning import plan
from recipes.plans import Load
from studio.models import Studio, Tool
from tests import builders as build

D = Decimal
DATA = Path(__file__).parent / "data"
TOOLS = [
    row
    for row in csv.DictReader((DATA / "smallest_amount.csv").open(encoding="utf-8"))
    if "reading only" in row["tool"] or "tare+read" in row["tool"]
]
LIMITS = ("10", "5", "2", "1")
PUBLISHED = [
    pytest.param(row, limit, D(row[f"min_for_{limit}pct"]), id=f"{row['tool']} to {limit} %")
    for row in TOOLS
    for limit in LIMITS
    if row[f"min_for_{limit}pct"]
]


def tool_of(row):
    """The tool that a row of the table is about, as the studio would write it down."""
    if row["unit"] == "g":
        return Tool(kind="scale", name="Scale", step=D(row["tool"].split(" g")[0]))
    nominal, step = row["tool"].split(" mL")[0], row["tool"].split(", ")[1].split(" mL")[0]
    return Tool(kind="syringe", name="Syringe", step=D(step), largest=D(nominal))


def said_of(person, amount, unit, tools, limit_pct=5):
    """What a plan says of one assistant's amount for a pot."""
    lot = build.receive_assistant(person, build.make_assistant(unit=unit))
    recipe = build.recipe(person, lines=[(lot.assistant, amount, Basis.PER_POT)])
    studio = Studio(repeats_pct=D(limit_pct))
    (line,) = plan(recipe, [Load(fibre_g=D(100))], lots_for(recipe), tools, studio).pots[0].lines
    assert line.unit == unit
    return f"{line.problem} {line.note}".strip()


@pytest.mark.parametrize("row, limit, published", PUBLISHED)
def test_a_plan_warns_under_the_smallest_amount_and_not_over_it(cast, row, limit, published):
    last_digit = D(1).scaleb(published.as_tuple().exponent)
    said = said_of(cast.maker, published - last_digit, row["unit"], [tool_of(row)], limit)
    assert "repeats only to" in said
    assert said_of(cast.maker, published + last_digit, row["unit"], [tool_of(row)], limit) == ""


CASES = {row["case"]: row for row in csv.DictReader((DATA / "uncertainty.csv").open(encoding="utf-8"))}


@pytest.mark.parametrize(
    "case, unit, tool",
    [
        ("0.03 g on 0.01 g scale, tare+reading", "g", Tool(kind="scale", step=D("0.01"))),
        ("stock 1.00 g in 100 mL: powder weighed on 0.01 g, tare+reading", "g", Tool(kind="scale", step=D("0.01"))),
        (
            "3 mL in a 10 mL syringe (0.2 mL grad, read ±0.1)",
            "mL",
            Tool(kind="syringe", step=D("0.2"), largest=D(10)),
        ),
    ],
)
def test_a_worked_case_is_said_with_its_own_uncertainty(cast, case, unit, tool):
    row = CASES[case]
    off = D(row["u_relative_percent"])
    said = said_of(cast.maker, D(row["value"]), unit, [tool], off - D("0.01"))
    assert f"\u00b1 {off.normalize():.2g}\u00a0%" in said
    assert said_of(cast.maker, D(row["value"]), unit, [tool], off + D("0.01")) == ""


# 0.03 g of dye on a 0.01 g scale: from 1 % stock it is 3 mL, and in a 10 mL syringe (0.2) 1.92 %, where another
# dilution would help no further (GUM as above; S = W D / V, Broadbent, from memory)
def test_the_bottle_that_is_proposed_is_that_of_the_worked_case(cast):
    powder = build.receive_powder(cast.maker)
    recipe = build.recipe(cast.maker, lines=[(powder.dye, D("0.03"), Basis.OWF)])
    tools = [Tool(kind="scale", step=D("0.01")), Tool(kind="syringe", name="10 mL", step=D("0.2"), largest=D(10))]
    (line,) = plan(recipe, [Load(fibre_g=D(100))], lots_for(recipe), tools, Studio()).pots[0].lines
    assert "take 3\u00a0mL of a 1\u00a0% bottle" in line.note
