"""What differs between two versions, said in words: matched as a dyer would, complete, and the same from both sides."""

from copy import deepcopy
from decimal import Decimal
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recipes.differences import CHANGED, GONE, NEW, differences, more_or_less
from recipes.models import Basis, How, Ingredient, Method, Recipe, RecipeStep
from recipes.outline import outline_of
from studio.models import Assistant, Base, Dye

OCHRE, RUST, SOOT = (Dye(pk=pk, name=name, colour="#c09030") for pk, name in enumerate(["Ochre", "Rust", "Soot"], 1))
ACID, SALT = Assistant(pk=1, name="Citric acid", unit="g"), Assistant(pk=2, name="Salt", unit="g")
SUBSTANCES = {"Ochre": OCHRE, "Rust": RUST, "Soot": SOOT, "Citric acid": ACID, "Salt": SALT}


def line(name, amount="0.3", **facts):
    """An ingredient as plain facts, so that a test can change one of them."""
    usual = {"basis": "owf", "unit": "%", "strength_pct": None, "how": "added", "place": "", "estimated": False}
    amount = None if amount is None else Decimal(amount)
    return SimpleNamespace(name=name, amount=amount, **usual | {"typed": ""} | facts)


def step(kind="add", *lines, words="", temperature_c=None, minutes=None):
    return SimpleNamespace(kind=kind, lines=list(lines), words=words, temperature_c=temperature_c, minutes=minutes)


def said(*steps, **facts):
    """The outline of a version that is nowhere stored."""
    usual = {"skeins": 1, "fibre_g": Decimal(100), "pots": 1, "liquor_ratio": Decimal(20), "method": "pot"}
    bases = facts.pop("bases", [])
    version = Recipe(pk=1, **usual | facts)
    rows = []
    for position, one in enumerate(steps, 1):
        row = RecipeStep(
            pk=position, kind=one.kind, words=one.words, temperature_c=one.temperature_c, minutes=one.minutes
        )
        held = [_ingredient(each) for each in one.lines]
        row._prefetched_objects_cache = {"ingredients": held}
        rows.append(row)
    version._prefetched_objects_cache = {
        "steps": rows,
        "bases": [Base(pk=n, name=name) for n, name in enumerate(bases)],
    }
    return outline_of(version)


def _ingredient(each):
    facts = dict(vars(each))
    name = facts.pop("name")
    column = {Dye: "dye", Assistant: "assistant"}.get(type(SUBSTANCES.get(name)))
    return Ingredient(**facts, **({column: SUBSTANCES[name]} if column else {"water": True}))


def told(before, after):
    return [one.sentence.replace("\xa0", " ") for one in differences(before, after)]


# --- in a dyer's words


def test_an_amount_is_said_with_how_much_more_it_is():
    before, after = said(step("add", line("Ochre", "0.25"))), said(step("add", line("Ochre", "0.3")))
    assert told(before, after) == ["Ochre: 0.3 % owf, before 0.25 % owf (a fifth more)"]


def test_a_time_is_said_once_though_the_notebooks_words_say_it_as_well():
    before = said(step("hold", words="Hold 30 min at 85 °C", minutes=Decimal(30), temperature_c=Decimal(85)))
    after = said(step("hold", words="Hold 45 min at 85 °C", minutes=Decimal(45), temperature_c=Decimal(85)))
    assert told(before, after) == ["Hold: 45 min, before 30 min"]


def test_other_words_of_a_step_are_said_beside_its_time():
    before = said(step("hold", words="Hold 30 min", minutes=Decimal(30)))
    after = said(step("hold", words="Hold 45 min, lid on", minutes=Decimal(45)))
    assert told(before, after) == ["Hold: 45 min, “Hold 45 min, lid on”, before 30 min, “Hold 30 min”"]


def test_what_changed_places_with_a_step_is_the_line_and_not_the_step():
    heat, acid, dye = (
        step("heat", temperature_c=Decimal(85)),
        step("add", line("Citric acid")),
        step("add", line("Rust")),
    )
    assert told(said(dye, acid, heat), said(dye, heat, acid)) == [
        "Citric acid: after the heat, before ahead of the heat"
    ]


def test_new_and_no_longer():
    ochre, soot = step("add", line("Ochre")), step("add", line("Soot", "0.02"))
    assert told(said(ochre), said(ochre, soot)) == ["new: Soot, 0.02 % owf"]
    assert told(said(ochre, soot), said(ochre)) == ["no longer: Soot, 0.02 % owf"]


def test_two_lines_of_one_dye_are_told_apart_by_their_place():
    before = said(step("add", line("Rust", "0.2", place="first third")), step("add", line("Rust", "0.1", place="last")))
    after = said(step("add", line("Rust", "0.1", place="last")), step("add", line("Rust", "0.3", place="first third")))
    assert told(before, after) == [
        "Rust (last): ahead of Rust (first third), before after Rust (first third)",
        "Rust (first third): 0.3 % owf, before 0.2 % owf (half as much again)",
    ]


def test_a_second_line_of_a_dye_is_new_and_the_first_is_the_same():
    one, more = step("add", line("Rust", "0.2")), step("add", line("Rust", "0.05", place="in spots"))
    assert told(said(one), said(one, more)) == ["new: Rust, 0.05 % owf, in spots"]
    assert told(said(one), said(more, one)) == ["new: Rust, 0.05 % owf, in spots"]


def test_another_basis_is_compared_by_what_it_means_for_the_yarn():
    before = said(step("add", line("Rust", "40", basis="per_pot", unit="mL", strength_pct=Decimal(1))))
    after = said(step("add", line("Rust", "0.4")))
    assert told(before, after) == ["Rust: 0.4 % owf, before 40 mL of 1 % for each pot (as much as before)"]


def test_another_strength_of_bottle_brings_as_much_dye():
    before = said(step("add", line("Rust", "40", basis="per_pot", unit="mL", strength_pct=Decimal(1))))
    after = said(step("add", line("Rust", "80", basis="per_pot", unit="mL", strength_pct=Decimal("0.5"))))
    assert told(before, after) == ["Rust: 80 mL of 0.5 % for each pot, before 40 mL of 1 % for each pot"]


def test_a_difference_behind_the_digits_shown_is_said_with_all_of_them():
    before, after = said(step("add", line("Rust", "0.066667"))), said(step("add", line("Rust", "0.066668")))
    assert told(before, after) == ["Rust: 0.066668 % owf, before 0.066667 % owf (under 1 % more)"]


def test_the_notebooks_words_alone_are_a_quiet_difference():
    before = said(step("add", line("Rust", typed="0.3 % rust")))
    after = said(step("add", line("Rust", typed="rust 0.3 %")))
    (found,) = differences(before, after)
    assert found.quiet and "rust 0.3 %" in found.to


def test_words_are_no_difference_to_a_version_that_was_taken_from_a_log_and_has_none():
    taken = said(step("add", line("Rust")), step("hold", minutes=Decimal(45)))
    typed = said(step("add", line("Rust", typed="0.3 % rust")), step("hold", words="Hold 45 min", minutes=Decimal(45)))
    assert differences(taken, typed) == differences(typed, taken) == []
    hot = {"temperature_c": Decimal(85), "minutes": Decimal(45)}
    taken_hot = said(step("add", line("Rust")), step("hold", **hot))
    typed_hot = said(step("add", line("Rust")), step("hold", words="Hold at 85 °C for 45 min", **hot))
    assert differences(taken_hot, typed_hot) == differences(typed_hot, taken_hot) == []
    lidded = said(step("add", line("Rust")), step("hold", words="Hold 45 min, lid on", minutes=Decimal(45)))
    assert told(taken, lidded) == ["Hold: “Hold 45 min, lid on”, before no words of its own"]


def test_an_estimate_that_was_weighed_since_is_a_difference():
    before, after = said(step("add", line("Rust", estimated=True))), said(step("add", line("Rust")))
    assert told(before, after) == ["Rust: 0.3 % owf, before about 0.3 % owf"]


def test_the_water_is_told_once():
    def wet(ratio):
        water = line("Water", ratio, basis="ratio", unit=":1")
        return said(step("add", water), liquor_ratio=Decimal(ratio))

    assert told(wet("20"), wet("30")) == ["Water: 30:1, before 20:1 (half as much again)"]


def test_into_which_step_it_goes_is_told():
    paint = step("add", line("Rust"), line("Ochre"), words="Into one jug:")
    assert told(said(step("add", line("Rust"), words="Into one jug:"), step("add", line("Ochre"))), said(paint)) == [
        "Ochre: with “Into one jug”, before by itself"
    ]


@pytest.mark.parametrize(
    "now, before, words",
    [
        ("0.3", "0.25", "a fifth more"), ("0.25", "0.3", "17 % less"), ("2", "1", "twice as much"),
        ("1.12", "1", "12 % more"), ("1.004", "1", "under 1 % more"), ("2.4", "1", "2.4 times as much"),
        ("1", "2", "half as much"), ("0.4", "1", "40 % of it"), ("0.852", "1", "15 % less"), ("1", "1", ""),
        ("1.21", "1", "about a fifth more"), ("3", "1", "three times as much"),
        ("0.001", "1", "less than a hundredth of it"),
    ],
)  # fmt: skip
def test_how_an_amount_stands_to_another(now, before, words):
    assert more_or_less(Decimal(now), Decimal(before)).replace("\xa0", " ") == words


def test_nothing_is_compared_with_nothing():
    with pytest.raises(ValueError):
        more_or_less(Decimal(1), Decimal(0))


# --- whatever the versions are


amounts = st.decimals("0.000001", "200", places=6)
lines = st.builds(
    line,
    st.sampled_from(list(SUBSTANCES)),
    st.one_of(st.none(), amounts),
    place=st.sampled_from(["", "first third", "last third"]),
    how=st.sampled_from([How.ADDED, How.BOTTLE, How.DISSOLVED]),
    estimated=st.booleans(),
    typed=st.sampled_from(["", "some", "a drop"]),
)
steps = st.builds(
    lambda kind, words, heat, long, inside: step(kind, *inside, words=words, temperature_c=heat, minutes=long),
    st.sampled_from(["add", "add", "soak", "heat", "hold", "other"]),
    st.sampled_from(["", "Stir 3 times", "Stir 5 times", "Heat to 85 °C", "Lid on the pot"]),
    st.one_of(st.none(), st.integers(20, 95).map(Decimal)),
    st.one_of(st.none(), st.integers(1, 90).map(Decimal)),
    st.lists(lines, max_size=3),
)
versions = st.lists(steps, max_size=7)


@given(versions)
@settings(max_examples=60, deadline=None)
def test_a_version_differs_in_nothing_from_itself(rows):
    assert differences(said(*rows), said(*rows)) == []


@given(versions, versions)
@settings(max_examples=150, deadline=None)
def test_both_directions_name_the_same_things(one, other):
    there, back = differences(said(*one), said(*other)), differences(said(*other), said(*one))
    turned = {CHANGED: CHANGED, NEW: GONE, GONE: NEW}
    assert sorted((each.kind, each.name) for each in there) == sorted((turned[each.kind], each.name) for each in back)


LINE = {
    "amount": Decimal("77.123456"), "basis": Basis.PER_POT, "place": "over the join", "how": How.SPRINKLED,
    "estimated": None, "typed": "as it was", "strength_pct": Decimal("0.7"), "name": "Salt",
}  # fmt: skip
STEP = {
    "kind": "wash", "words": "Turn it over", "temperature_c": Decimal("33.125"), "minutes": Decimal("7.5"),
}  # fmt: skip


@given(versions.filter(lambda rows: any(one.lines for one in rows)), st.data())
@settings(max_examples=150, deadline=None)
def test_every_field_of_a_line_that_was_changed_is_named(rows, data):
    other = deepcopy(rows)
    changed = data.draw(st.sampled_from([one for row in other for one in row.lines]))
    name = data.draw(st.sampled_from(sorted(LINE)))
    if name == "name" and changed.name == "Salt":
        return
    had_words = bool(changed.typed)
    setattr(changed, name, not changed.estimated if name == "estimated" else LINE[name])
    if name == "basis":
        changed.unit = "g"
    if name == "typed" and not had_words:
        return  # the notebook's own words came to what had none
    if name == "estimated" and changed.amount is None or name == "strength_pct" and changed.amount is None:
        return  # nothing was written to be about, or to come from
    found = differences(said(*rows), said(*other))
    assert any(each.name == changed.name or each.name.startswith(f"{changed.name} (") for each in found)


@given(versions.filter(lambda rows: any(one.words or one.kind != "add" for one in rows)), st.data())
@settings(max_examples=150, deadline=None)
def test_every_field_of_a_step_that_was_changed_is_named(rows, data):
    other = deepcopy(rows)
    changed = data.draw(st.sampled_from([one for one in other if one.words or one.kind != "add"]))
    name = data.draw(st.sampled_from(sorted(STEP)))
    setattr(changed, name, STEP[name])
    assert differences(said(*rows), said(*other))


@pytest.mark.parametrize(
    "name, value",
    [
        ("method", Method.JAR), ("scales", "pots"), ("skeins", 3), ("fibre_g", Decimal("100.001")), ("pots", 2),
        ("liquor_ratio", Decimal(30)), ("liquor_ratio", None), ("note", "Less soot"), ("bases", ["Sparrow"]),
    ],
)  # fmt: skip
def test_every_fact_that_was_changed_is_named(name, value):
    rows = [step("add", line("Rust"))]
    found = differences(said(*rows), said(*rows, **{name: value}))
    assert len(found) == 1 and found[0].to != found[0].was


@given(st.permutations(range(5)))
def test_another_order_is_always_named(order):
    rows = [step("heat", temperature_c=Decimal(85)), *(step("add", line(name)) for name in list(SUBSTANCES)[:4])]
    assert bool(differences(said(*rows), said(*(rows[place] for place in order)))) == (order != sorted(order))
