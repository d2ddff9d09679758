"""A notebook's words become a version's steps and amounts, and words again."""

from decimal import Decimal

import pytest
from django.db import transaction

from recipes.models import Basis, How
from recipes.writing import Facts, Shelf, as_text, understand
from tests import builders as build

D = Decimal
SIX = Facts(skeins=6, fibre_g=D(600), pots=2)
BY_POTS = Facts(scales="pots", skeins=6, fibre_g=D(600), pots=2)


@pytest.fixture
def shelf(db):
    red = build.make_dye("Brick Red")
    build.make_dye("Red Oxide")
    build.make_dye("Ochre")
    build.make_dye("Crème Brûlée")
    build.make_assistant("Citric acid", unit="g")
    build.make_assistant("Vinegar", strength_pct=D(5))
    build.make_assistant("Alum", kind="mordant", unit="g")
    build.make_solution("Sunset mix", parts=[(red, 1)], kind="painting")
    return Shelf.read()


def lines(text, shelf, facts=SIX):
    written = understand(text, facts, shelf)
    assert [problem.sentence for problem in written.problems] == []
    return [each for _, ingredients in written.steps for each in ingredients]


def one(text, shelf, facts=SIX):
    (line,) = [each for each in lines(f"{text}\n0.1 % ochre", shelf, facts) if each.typed != "0.1 % ochre"]
    return line


def problems(text, shelf, facts=SIX):
    return [problem.sentence for problem in understand(text, facts, shelf).problems]


# --- what an amount means


@pytest.mark.parametrize(
    "typed, facts, basis, amount, unit",
    [
        ("40 mL ochre 1 %", SIX, Basis.OWF, "0.066667", "%"),
        ("40 mL ochre 1 %", BY_POTS, Basis.PER_POT, "0.2", "g"),
        ("0.4 % ochre", SIX, Basis.OWF, "0.4", "%"),
        ("0,4 % ochre", BY_POTS, Basis.OWF, "0.4", "%"),
        ("3 g ochre", SIX, Basis.OWF, "0.5", "%"),
        ("3 g ochre for all", SIX, Basis.FIXED, "3", "g"),
        ("5 mL ochre 1 % per skein", SIX, Basis.PER_SKEIN, "0.05", "g"),
        ("1 tbsp vinegar", SIX, Basis.OWF, "2.5", "%"),
        ("1 tbsp vinegar", BY_POTS, Basis.PER_POT, "7.5", "mL"),
        ("1 1/2 tbsp vinegar each pot", SIX, Basis.PER_POT, "22.5", "mL"),
        ("2 g/L citric acid", SIX, Basis.PER_L, "2", "g"),
        ("10 mL/L vinegar", SIX, Basis.PER_L, "10", "mL"),
        ("20 mL citric acid 10 %", BY_POTS, Basis.PER_POT, "1", "g"),
        ("12 L water", SIX, Basis.RATIO, "20", ":1"),
        ("12 L water", BY_POTS, Basis.PER_POT, "6000", "mL"),
        ("water 20:1", SIX, Basis.RATIO, "20", ":1"),
        ("20 mL ochre 0.5 % painted, middle", BY_POTS, Basis.PER_POT, "10", "mL"),
        ("5 mL ochre 0.5 % per skein painted, middle", SIX, Basis.PER_SKEIN, "5", "mL"),
        ("60 mL sunset", SIX, Basis.OWF, "10", "%"),
    ],
)
def test_an_amount_is_kept_on_what_it_follows(shelf, typed, facts, basis, amount, unit):
    line = one(typed, shelf, facts)
    assert (line.basis, round(line.amount, 6), line.unit) == (basis, D(amount), unit)
    assert line.typed == typed


def test_a_line_of_the_issue_is_several_lines(shelf):
    red, acid = lines("for 6 skeins: 40 mL brick red 1 %, 1 tbsp vinegar", shelf)
    assert (red.dye.name, red.strength_pct, red.how) == ("Brick Red", 1, How.BOTTLE)
    assert acid.assistant.name == "Vinegar"


def test_by_eye_has_no_amount(shelf):
    line = one("brick red by eye", shelf)
    assert (line.amount, line.dye.name) == (None, "Brick Red")


def test_what_goes_in_under_a_heading_belongs_to_its_step(shelf):
    text = "Mordant 60 min at 90 °C:\n8 % alum\n\nOchre by eye\nRinse"
    steps = understand(text, SIX, shelf).steps
    assert [(step.kind, len(ingredients)) for step, ingredients in steps] == [("mordant", 1), ("add", 1), ("rinse", 0)]


def test_water_says_the_liquor_ratio(shelf):
    assert understand("water 20:1\n1 % ochre", SIX, shelf).facts.liquor_ratio == 20


def test_skeins_and_a_base_say_the_weight(shelf):
    written = understand("for 6 skeins: 1 % ochre", Facts(skein_g=D(50)), shelf)
    assert (written.facts.skeins, written.facts.fibre_g) == (6, 300)


# --- names


@pytest.mark.parametrize(
    "typed, name",
    [
        ("1 % OCHRE", "Ochre"),
        ("1 % och", "Ochre"),
        ("1 % creme brulee", "Crème Brûlée"),
        ("1 % oxide", "Red Oxide"),
        ("1 % red oxide", "Red Oxide"),
        ("1 g/L citric", "Citric acid"),
        ("3 % mordant", "Alum"),
    ],
)
def test_a_name_is_found_by_its_words(shelf, typed, name):
    assert one(typed, shelf).substance.name == name


def test_two_that_a_name_fits_are_asked_about(shelf):
    (said,) = problems("1 % ochre\n1 % brown\n".replace("1 % brown", "0.2 % acid"), shelf)
    assert said == "Line 2, “0.2 % acid”: “acid” could be Citric acid or Vinegar: write the whole name."


def test_a_retired_dye_is_not_found(shelf):
    dye = build.make_dye("Mulberry", retired=True)
    (problem,) = understand("1 % mulberry\n1 % ochre", SIX, Shelf.read()).problems
    assert (problem.number, problem.name) == (1, "mulberry")
    assert dye.name not in [each.name for each in Shelf.read().dyes]


# --- what is refused, in a sentence


@pytest.mark.parametrize(
    "typed, said",
    [
        ("1 % red", "“red” could be Brick Red or Red Oxide: write the whole name."),
        ("40 mL ochre", "how strong is the Ochre? Write it as 40 mL Ochre 1 %."),
        ("1 tsp ochre", "powder is never measured in spoons"),
        ("1 tbsp citric", "Citric acid is a powder, and spoons say nothing sure about its weight: write grams"),
        ("30 g vinegar", "Vinegar is measured in mL here"),
        ("30 mL vinegar 10 %", "this says 10 %, and Vinegar is 5 % on the shelf"),
        ("60 mL sunset 5 %", "Sunset mix has its own strength: leave out 5 %."),
        ("0.4 % ochre painted", "what is painted is measured in mL"),
        ("ochre by eye painted", "what is painted is measured in mL"),
        ("5 mL ochre 1 % sprinkled", "only dry powder is sprinkled"),
        ("2 kg ochre", "that is 333.3 % of the yarn's weight"),
        ("1 mL water", "mL of water to 1 g of yarn"),
        ("water 9999:1", "mL of water to 1 g of yarn"),
        ("1 g elephants", "there is no elephants on the shelf: put it there first."),
        ("1 g okre", "there is no okre on the shelf: is Ochre meant? Else put it there first."),
        ("1 g char", "there is no char on the shelf: put it there first."),
        ("40 mL ochre 0.0000001 %", "less than anybody can make"),
        ("0.000001 mg ochre", "less than anybody can measure"),
        ("Soak:\n3 % alum at 40 °C", "has a line of its own"),
    ],
)
def test_what_makes_no_sense_is_refused_with_what_to_write(shelf, typed, said):
    found = problems(f"1 % ochre\n{typed}", shelf)
    assert len(found) == 1 and said in found[0]


def test_a_recipe_without_dye_is_refused(shelf):
    (said,) = problems("Soak 30 min\n2 g/L citric acid", shelf)
    assert said.startswith("There is no dye in this recipe yet")


@pytest.mark.parametrize("facts", [Facts(), Facts(fibre_g=D(0))])
def test_no_weight_is_asked_for(shelf, facts):
    (said,) = problems("40 mL ochre 1 %\n12 L water", shelf, facts)
    assert said.startswith("Say how much yarn the amounts are for")


def test_skeins_of_no_base_ask_which_base(shelf):
    (said,) = problems("for 6 skeins: 40 mL ochre 1 %\n12 L water", shelf, Facts())
    assert said.startswith("6 skeins of what weight? Tick one base")


def test_words_and_boxes_that_differ_are_asked_about(shelf):
    (said,) = problems("for 4 skeins: 1 % ochre", shelf)
    assert said == "Line 1, “for 4 skeins:”: this says 4 skeins, and the box says 6: make them the same."


def test_two_liquor_ratios_are_asked_about(shelf):
    (said,) = problems("water 20:1\n1 % ochre", shelf, Facts(fibre_g=D(600), liquor_ratio=D(30)))
    assert "this is 20:1, and the liquor ratio says 30:1" in said


# --- kept, and back to words


TYPED = """Soak 30 min at 40 °C
water 20:1
2 g/L citric acid
40 mL brick red 1 %
0,4 % ochre
0.5 g red oxide sprinkled, last sixth
5 mL ochre 0.5 % per skein painted, middle
brick red by eye
Mordant 60 min at 90 °C:
8 % alum

0.2 % ochre at 60 °C
Heat to 85 °C
hold 40 min
Let cool overnight
Do: Admire it"""


def kept(person, text, shelf, facts=SIX):
    written = understand(text, facts, shelf)
    assert written.problems == []
    said = written.facts
    recipe = build.colourway(person).next_version(
        by=person, now=build.NOON, skeins=said.skeins, fibre_g=said.fibre_g, pots=said.pots, scales=said.scales,
        liquor_ratio=said.liquor_ratio,
    )  # fmt: skip
    recipe.write(written.steps)
    return type(recipe).objects.get(pk=recipe.pk)


def test_editing_starts_from_the_words_that_were_typed(cast, shelf):
    assert as_text(kept(cast.maker, TYPED, shelf)) == TYPED


def meaning(recipe):
    return [
        (
            step.kind,
            step.words,
            step.temperature_c,
            step.minutes,
            each.basis,
            each.amount,
            each.unit,
            each.how,
            each.place,
        )
        for step in recipe.steps.all()
        for each in step.ingredients.all() or [build.ingredient(build.make_dye(), 1)]
    ]


@pytest.mark.parametrize("facts", [SIX, BY_POTS], ids=["by weight", "by whole pots"])
def test_words_of_its_own_mean_the_same_as_the_typed_ones(cast, shelf, facts):
    text = TYPED.replace("Do: Admire it", "Rinse").replace("Let cool overnight", "Let cool")
    recipe = kept(cast.maker, text, shelf, facts)
    before = meaning(recipe)
    for step in recipe.steps.all():
        step.ingredients.update(typed="")
    untyped = as_text(type(recipe).objects.get(pk=recipe.pk))
    assert "mL Brick Red 1 %" in untyped or "owf Brick Red 1 %" in untyped
    assert meaning(kept(cast.maker, untyped, shelf, facts)) == before


def test_a_long_line_fits_what_is_kept(cast, shelf):
    place = "a" * 120
    with transaction.atomic():
        kept(cast.maker, f"40 mL brick red 1 %, {place}", shelf)
