from decimal import Decimal

import pytest

from studio.care import WASH, care_lines


# Care sets per base: common practice, no source.
@pytest.mark.parametrize(
    ("fibres", "superwash", "wash", "dry", "iron", "professional"),
    [
        (["wool"], False, "Hand wash", "Dry flat", "medium", "gentle"),
        (["wool"], None, "Hand wash", "Dry flat", "medium", "gentle"),
        (["wool"], True, "Machine wash at 30 °C, wool cycle", "Dry flat", "medium", "Dry clean."),
        (["wool", "nylon"], True, "Machine wash at 30 °C, wool cycle", "Dry flat", "low", "Dry clean."),
        (["wool", "silk"], True, "Hand wash", "in the shade", "low", "gentle"),
        (["mohair", "silk"], False, "Hand wash", "in the shade", "low", "gentle"),
        (["alpaca"], False, "Hand wash", "it stretches", "low", "gentle"),
        (["cotton"], False, "Machine wash at 40 °C", "Line dry", "medium", "Dry clean."),
        (["viscose"], False, "Machine wash at 30 °C, wool cycle", "weak", "low", "gentle"),
        (["cotton", "elastane"], False, "Machine wash at 30 °C, gentle", "Dry flat", "low", "Dry clean."),
        (["wool", "metallised"], True, "Hand wash", "Dry flat", "Do not iron", "Do not dry clean"),
        ([], True, "Hand wash", "in the shade", "Do not iron", "Do not dry clean"),
        (["undetermined"], True, "Hand wash", "in the shade", "Do not iron", "Do not dry clean"),
    ],
)
def test_a_yarn_gets_the_mildest_step_of_every_fibre(fibres, superwash, wash, dry, iron, professional):
    care = care_lines(fibres, superwash)

    assert wash in care.wash
    assert dry in care.dry
    assert iron in care.iron
    assert professional in care.professional
    assert care.bleach == "Do not bleach."


@pytest.mark.parametrize(
    ("fibres", "superwash", "limit", "wash"),
    [
        (["wool", "nylon"], True, "40_gentle", "Machine wash at 40 °C, gentle"),
        (["wool"], True, "40_very_gentle", "Machine wash at 40 °C, wool cycle"),
        (["wool"], True, "hand", "Hand wash"),
        (["cotton"], False, "30_gentle", "Machine wash at 30 °C, gentle"),
        (["elastane"], False, "40_very_gentle", "Machine wash at 30 °C, wool cycle"),
        (["wool"], False, "40_gentle", "Hand wash"),
        (["cotton"], False, "no_wash", "Do not wash"),
    ],
)
def test_no_wash_is_stronger_than_the_base_maker_or_a_fibre_allows(fibres, superwash, limit, wash):
    assert wash in care_lines(fibres, superwash, limit).wash


# Grades of ISO 105-C06 to words: common practice, no source.
@pytest.mark.parametrize(
    ("fastness", "line"),
    [
        (None, ""),
        (5, ""),
        (4, ""),
        (Decimal("3.5"), "with like colours"),
        (3, "separately at first; may release"),
        (2.5, "do not combine with light colours"),
        (2, "always alone"),
        (1, "always alone"),
        ("none", ""),
        ("trace", "with like colours"),
        ("some", "separately at first; may release"),
        ("a_lot", "do not combine with light colours"),
        ("running", "always alone"),
    ],
)
def test_fastness_chooses_what_to_wash_with(fastness, line):
    wash_with = care_lines(["wool"], fastness=fastness, first_wash=False).wash_with

    assert line in wash_with
    assert bool(line) == bool(wash_with)


@pytest.mark.parametrize("fastness", [None, "none", "trace", 4.5, 3.5])
def test_first_wash_alone_stays_until_a_person_takes_it_off(fastness):
    assert "cool, separately the first time" in care_lines(["wool"], fastness=fastness).wash_with


@pytest.mark.parametrize(("fastness", "held"), [("running", True), (2, True), ("a_lot", False), (None, False)])
def test_yarn_that_still_runs_is_held_and_says_so(fastness, held):
    care = care_lines(["wool"], fastness=fastness)

    assert bool(care.hold) == held
    assert care.hold not in care.sentences


def test_what_is_not_washed_says_nothing_about_washing_with():
    assert care_lines(["wool"], base_maker_limit="no_wash", fastness="some").wash_with == ""


def test_us_tags_spell_and_measure_their_own_way():
    care = care_lines(["wool"], True, fastness="a_lot", market="US")

    assert "light colors" in care.wash_with
    assert care.wash.startswith("Machine wash cold (86 °F)")
    assert "°C" not in " ".join(care.sentences)


@pytest.mark.parametrize("market", ["US", "EU", "UK"])
def test_hand_wash_carries_no_number(market):
    care = care_lines(["silk"], market=market)

    assert care.wash.startswith("Hand wash cool")
    assert not any(character.isdigit() for character in " ".join(care.sentences))


def test_sentences_come_in_the_order_of_the_standard():  # ISO 3758: wash, bleach, dry, iron, professional
    care = care_lines(["wool"])

    assert care.sentences == (care.wash, care.wash_with, care.bleach, care.dry, care.iron, care.professional)


@pytest.mark.parametrize("limit", WASH)
def test_every_limit_gives_words_for_every_yarn(limit):
    for fibres in (["wool"], ["cotton"], ["elastane", "viscose"], []):
        assert care_lines(fibres, True, limit).wash.endswith(".")


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        ({"fastness": 3.2}, "from 1 to 5 in halves"),
        ({"fastness": 6}, "from 1 to 5 in halves"),
        ({"fastness": "fine"}, "one of: none, trace, some, a_lot, running"),
        ({"fastness": Decimal("NaN")}, "from 1 to 5 in halves"),
        ({"base_maker_limit": "boil"}, "not a wash"),
        ({"market": "JP"}, "Choose US, EU or UK"),
    ],
)
def test_what_it_cannot_read_is_refused(arguments, sentence):
    with pytest.raises(ValueError, match=sentence):
        care_lines(["wool"], **arguments)
