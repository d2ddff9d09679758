"""A recipe as a notebook says it."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from recipes.notebook import NoteFor, NoteLine, NoteProblem, NoteStep, say
from recipes.notebook_reading import read_lines

D = Decimal


def only(text, **options):
    (row,) = read_lines(text, **options)
    assert not isinstance(row, NoteProblem), row.sentence
    return row


def differs_from_nothing(row):
    """The fields of a row that say something, but for the unit as it was typed."""
    plain = NoteLine(row.number, row.typed, row.name) if isinstance(row, NoteLine) else NoteStep(1, row.typed, row.kind)
    return {name: value for name, value in vars(row).items() if value != vars(plain)[name] and name != "measure"}


@pytest.mark.parametrize(
    "typed, name, said",
    [
        ("40 mL red 1 %", "red", {"amount": 40, "unit": "mL", "strength_pct": 1}),
        ("40mL red 1%", "red", {"amount": 40, "unit": "mL", "strength_pct": 1}),
        ("40 mL of 1 % red", "red", {"amount": 40, "unit": "mL", "strength_pct": 1}),
        ("Add 40 mL red 1 %", "red", {"amount": 40, "unit": "mL", "strength_pct": 1}),
        ("- 40 mL red at 1 %", "red", {"amount": 40, "unit": "mL", "strength_pct": 1}),
        ("3. 40 mL red 1 %", "red", {"amount": 40, "unit": "mL", "strength_pct": 1}),
        ("40 mL Red 40 1 %", "Red 40", {"amount": 40, "unit": "mL", "strength_pct": 1}),
        ("40 mL Yellow 3F 1 %", "Yellow 3F", {"amount": 40, "unit": "mL", "strength_pct": 1}),
        ("0.4 % red", "red", {"amount": D("0.4"), "unit": "%", "basis": "owf"}),
        ("0,4 % red", "red", {"amount": D("0.4"), "unit": "%", "basis": "owf"}),
        ("0.4 % owf red", "red", {"amount": D("0.4"), "unit": "%", "basis": "owf"}),
        ("½ % red", "red", {"amount": D("0.5"), "unit": "%", "basis": "owf"}),
        ("1 tbsp acid", "acid", {"amount": 15, "unit": "mL"}),
        ("1 1/2 tbsp vinegar each pot", "vinegar", {"amount": D("22.5"), "unit": "mL", "basis": "per_pot"}),
        ("1½ tbsp vinegar per jar", "vinegar", {"amount": D("22.5"), "unit": "mL", "basis": "per_pot"}),
        ("5 mL red 1 % a skein", "red", {"amount": 5, "unit": "mL", "strength_pct": 1, "basis": "per_skein"}),
        ("2 g/L citric acid", "citric acid", {"amount": 2, "unit": "g", "basis": "per_l"}),
        ("2 g citric acid per litre", "citric acid", {"amount": 2, "unit": "g", "basis": "per_l"}),
        ("10 mL/L vinegar", "vinegar", {"amount": 10, "unit": "mL", "basis": "per_l"}),
        ("20 g salt, for all", "salt", {"amount": 20, "unit": "g", "basis": "fixed"}),
        ("about 20 g salt", "salt", {"amount": 20, "unit": "g", "estimated": True}),
        (
            "0.5 g soot sprinkled, last sixth",
            "soot",
            {"amount": D("0.5"), "unit": "g", "how": "sprinkled", "place": "last sixth"},
        ),
        ("Stir in 20 g salt", "salt", {"amount": 20, "unit": "g"}),
        ("Sprinkle 0.5 g soot", "soot", {"amount": D("0.5"), "unit": "g", "how": "sprinkled"}),
        (
            "5 mL black 0.5 % per skein painted, middle",
            "black",
            {
                "amount": 5,
                "unit": "mL",
                "strength_pct": D("0.5"),
                "basis": "per_skein",
                "how": "painted",
                "place": "middle",
            },
        ),
        ("20 mL ochre 1 % at 60 °C", "ochre", {"amount": 20, "unit": "mL", "strength_pct": 1, "temperature_c": 60}),
        ("water 20:1", "water", {"amount": 20, "unit": ":1", "basis": "ratio", "water": True}),
        ("water 1:20", "water", {"amount": 20, "unit": ":1", "basis": "ratio", "water": True}),
        ("6 L water", "water", {"amount": 6000, "unit": "mL", "water": True}),
        ("1 000 g alum", "alum", {"amount": 1000, "unit": "g"}),
        ("1 lb alum", "alum", {"amount": D("453.59237"), "unit": "g"}),
        ("red by eye", "red", {}),
        ("a pinch of soot", "soot", {}),
        ("a pinch of soot by eye", "soot", {}),
        ("handsome red by eye", "handsome red", {}),
    ],
)
def test_an_ingredient_is_read(typed, name, said):
    row = only(typed)
    assert (row.name, typed.endswith(row.typed)) == (name, True)
    assert differs_from_nothing(row) == said


@pytest.mark.parametrize(
    "typed, kind, said",
    [
        ("Soak 30 min at 40 C", "soak", {"minutes": 30, "temperature_c": 40}),
        ("Heat to 185 °F", "heat", {"temperature_c": 85}),
        ("Heat to 85 degrees C", "heat", {"temperature_c": 85}),
        ("Heat slowly, 1 °C per min, to 85 °C", "heat", {"temperature_c": 85}),
        ("Hold for 1 h 30 min", "hold", {"minutes": 90}),
        ("Hold 1 1/2 hours", "hold", {"minutes": 90}),
        ("Let cool overnight", "cool", {}),
        ("Rinse until clear", "rinse", {}),
        ("Do: Put 2 L of tea on", "other", {}),
        ("Strip 30 min at 80 °C", "strip", {"minutes": 30, "temperature_c": 80}),
        ("Mordant 60 min at 90 °C:", "mordant", {"minutes": 60, "temperature_c": 90, "heading": True}),
        ("Dye bath:", "add", {"heading": True}),
    ],
)
def test_a_thing_to_do_is_read(typed, kind, said):
    row = only(typed)
    assert (row.kind, row.typed, differs_from_nothing(row)) == (kind, typed, said)


def test_one_line_may_hold_several():
    rows = read_lines("for 6 skeins: 40 mL red 1 %, 1 tbsp acid\nHeat to 85 °C, hold 40 min")
    assert rows[0] == NoteFor(1, "for 6 skeins:", skeins=6)
    assert [row.typed for row in rows[1:]] == ["40 mL red 1 %", "1 tbsp acid", "Heat to 85 °C", "hold 40 min"]


@pytest.mark.parametrize(
    "typed, said",
    [
        ("for 6 skeins of 100 g in 2 pots:", (6, 600, 2)),
        ("for 600 g:", (None, 600, None)),
        ("For 2 jars", (None, None, 2)),
        ("for 2 lb of yarn:", (None, D("907.18474"), None)),
    ],
)
def test_what_it_is_for_is_read(typed, said):
    row = only(typed)
    assert (row.skeins, row.fibre_g, row.pots) == said


def test_what_follows_a_heading_belongs_to_it_until_an_empty_line():
    rows = read_lines("Mordant:\n8 % alum\n\n1 % red")
    assert [row.inside for row in rows[1:]] == [True, False]


@pytest.mark.parametrize("spoons, ml", [("metric", 15), ("us", D("14.78676478125"))])
def test_a_spoon_is_the_studios(spoons, ml):
    assert only("1 tbsp acid", spoons=spoons).amount == ml


@pytest.mark.parametrize(
    "typed, why",
    [
        ("1,000 g alum", "“1,000” could be 1 or 1000: write 1 or 1000."),
        ("2 reds", "“reds” is not a unit to use here"),
        ("40 red", "“red” is not a unit to use here"),
        ("85°C 40 min", "begin with what is done, such as Heat to 85 °C or Hold 40 min at 85 °C."),
        ("40 min 85 °C", "begin with what is done"),
        ("red", "write an amount first, such as 40 mL red 1 %"),
        ("0.4 % red by eye", "it has an amount and is by eye as well"),
        ("🎨", "write an amount first"),
        ("-5 mL red 1 %", "“-5” is below zero"),
        ("0 mL red 1 %", "an amount of 0 is nothing"),
        ("40 mL red 0 %", "a strength is above 0 and at most 100 %"),
        ("40 mL red 101 %", "a strength is above 0 and at most 100 %"),
        ("40 mL 1 %", "what is it?"),
        ("40", "40 of what?"),
        ("Heat to 85", "85 of which degrees? Write 85 °C or 85 °F."),
        ("Heat to 900 °C", "to 900 °C can't be right"),
        ("Mordant with 8 % alum", "8 % would be lost in here: give what goes in a line of its own."),
        ("Soak in 2 mL wetting agent", "2 mL would be lost in here"),
        ("Hold 0 min", "that time can't be right"),
        ("5 g alum per skein per pot", "it is said both for each skein and for each pot"),
        ("5 g/L alum per pot", "it is said both for each litre and for each pot"),
        ("5 mL red 1 % painted sprinkled", "it can't be sprinkled and painted at once"),
        ("40 mL red 1 % 2 %", "it names two strengths"),
        ("red 20:1", "write an amount first"),
        ("20:1 red", "only water is written as so many parts to 1"),
        ("water 20:3", "write the water as so many parts to 1 of yarn"),
        ("3 % water", "write water as 6 L water"),
        ("1 T vinegar", "“T” is not a unit"),
        ("9999999999 g alum", "more than can be right"),
        ("for 6 cats:", "“cats” is not a unit to use here"),
        ("for 6 skeins of joy:", "write what the amounts are for"),
        ("for 0 skeins:", "0 can't be right"),
        ("x" * 301, "longer than 300 characters"),
    ],
)
def test_what_cannot_be_read_says_the_line_and_what_to_write(typed, why):
    found = [row for row in read_lines(f"Rinse\n{typed}") if isinstance(row, NoteProblem)]
    assert len(found) == 1
    assert found[0].sentence.startswith("Line 2, ")
    assert why in found[0].sentence


def test_too_many_lines_are_one_sentence():
    (row,) = read_lines("Rinse\n" * 200)
    assert row.sentence == "This has 200 lines, and a recipe takes 120: leave out what is not needed at the pot."


@given(st.text(max_size=400))
def test_nothing_typed_breaks_it(text):
    for row in read_lines(text):
        assert row.typed or isinstance(row, NoteProblem)


# --- there and back


WORDS = ["red", "Brick", "citric", "acid", "Ocker", "Brûlée", "soot", "number", "alum", "2B"]
names = st.lists(st.sampled_from(WORDS), min_size=1, max_size=3).map(" ".join).filter(lambda name: name[0].isalpha())
places = st.sampled_from(["", "last sixth", "middle", "the ends and the join"])
amounts = st.decimals("0.001", "9999", places=3, allow_nan=False)
strengths = st.one_of(st.none(), st.decimals("0.01", "100", places=2))
conditions = {
    "temperature_c": st.one_of(st.none(), st.decimals("-20", "200", places=1)),
    "minutes": st.one_of(st.none(), st.integers(1, 5000).map(D)),
}


@st.composite
def note_lines(draw):
    row = NoteLine(1, "", draw(names), place=draw(places), **{key: draw(value) for key, value in conditions.items()})
    row = replace(row, how=draw(st.sampled_from(["", "sprinkled", "dissolved", "painted", "dipped", "bottle"])))
    unit = draw(st.sampled_from(["", "g", "mL", "%", ":1"]))
    if unit == ":1":
        return replace(row, name="water", water=True, how="", amount=draw(amounts), unit=unit, basis="ratio")
    if unit == "":
        return replace(row, basis=draw(st.sampled_from(["", "per_l", "per_skein", "per_pot", "fixed"])))
    basis = "owf" if unit == "%" else draw(st.sampled_from(["", "per_l", "per_skein", "per_pot", "fixed"]))
    said = {"amount": draw(amounts), "unit": unit, "basis": basis}
    return replace(row, strength_pct=draw(strengths), estimated=draw(st.booleans()), **said)


@given(note_lines())
def test_an_ingredient_said_is_read_the_same(row):
    assert replace(only(say(row)), typed="", measure="") == row


@given(
    st.sampled_from(["soak", "scour", "mordant", "strip", "heat", "hold", "cool", "rinse", "wash", "dry", "other"]),
    st.fixed_dictionaries(conditions),
    st.booleans(),
)
def test_a_thing_to_do_said_is_read_the_same(kind, said, heading):
    row = NoteStep(1, "", kind, heading=heading, **said)
    assert replace(only(say(row)), typed="") == row


@given(st.integers(1, 10_000), st.decimals("0.1", "9999", places=1), st.integers(1, 100))
def test_what_it_is_for_said_is_read_the_same(skeins, grams, pots):
    row = NoteFor(1, "", skeins, grams, pots)
    assert replace(only(say(row)), typed="") == row


@given(note_lines())
def test_an_amount_by_eye_is_never_zero(row):
    assume(row.amount is None)
    assert only(say(row)).amount is None
