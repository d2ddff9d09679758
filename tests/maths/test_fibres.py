import re
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.fibres import (
    DYE_CLASSES,
    FIBRES,
    UNDETERMINED,
    Share,
    classes_for,
    content_line,
    dyeable_pct,
    key_for,
    plied,
    takes,
    under_wool_act,
)


@st.composite
def any_content(draw):
    """Valid shares: up to 21 fibres in hundredths of a percent that sum to 100."""
    cuts = draw(st.sets(st.integers(1, 9999), max_size=20))
    edges = [0, *sorted(cuts), 10000]
    amounts = [Decimal(high - low) / 100 for low, high in zip(edges, edges[1:], strict=False)]
    flags = st.fixed_dictionaries({"decorative": st.booleans(), "functional": st.booleans(), "virgin": st.booleans()})
    return [Share(draw(st.sampled_from(list(FIBRES))), amount, **draw(flags)) for amount in amounts]


def printed_numbers(text):
    return [int(number) for number in re.findall(r"(\d+)%", text.split(" Exclusive of ")[0])]


@given(any_content(), st.sampled_from(["US", "EU", "UK"]))
def test_printed_numbers_total_100_and_none_is_0(shares, market):
    numbers = printed_numbers(content_line(shares, market).text)

    assert sum(numbers) == 100
    assert min(numbers) >= 1


@given(any_content(), st.sampled_from(["US", "EU", "UK"]))
def test_numbers_descend_with_other_fiber_last(shares, market):
    text = content_line(shares, market).text
    named = printed_numbers(re.sub(r" ?\d+% Other Fibers?", "", text))

    assert named == sorted(named, reverse=True)
    assert re.search(r"Other Fibers? \d", text) is None


@pytest.mark.parametrize(("of_1", "of_a_tenth"), [(10, 10), (20, 10)])
def test_many_small_fibres_all_keep_a_number(of_1, of_a_tenth):
    traces = zip(list(FIBRES)[1:], ["1"] * of_1 + ["0.1"] * of_a_tenth, strict=False)
    shares = [Share("wool", 99 - of_1), *(Share(fibre, pct) for fibre, pct in traces)]
    small = of_1 + of_a_tenth

    assert printed_numbers(content_line(shares, "EU").text) == [100 - small] + [1] * small


@given(any_content())
def test_rounding_moves_no_fibre_by_more_than_the_small_ones_need(shares):
    shares = [Share(share.fibre, share.percent) for share in shares]
    text = content_line(shares, "EU").text
    small = sum(share.percent < 1 for share in shares)

    for number, name in re.findall(r"(\d+)% ([^,]+)", text):
        same = [s.percent for s in shares if content_line([Share(s.fibre, 100)], "EU").text == f"100% {name}"]
        assert abs(int(number) - sum(same)) <= 1 + small


@pytest.mark.parametrize(
    ("percents", "sentence"),
    [
        ([33, 33, 33], r"add up to 99 %, not 100 %.*thirds, enter 34, 33 and 33"),
        ([55, 30, 16], r"add up to 101 %, not 100 %"),
        (["50.5", "30", "19.4"], r"add up to 99\.9 %"),
        ([100, 0, 0], r"Alpaca has 0 %"),
        ([120, -10, -10], r"Wool has 120 %"),
        (["NaN", 50, 50], r"Wool has NaN %"),
    ],
)
def test_wrong_percentages_are_refused_and_never_scaled(percents, sentence):
    shares = [Share(fibre, pct) for fibre, pct in zip(["wool", "alpaca", "silk"], percents, strict=True)]

    with pytest.raises(ValueError, match=sentence):
        content_line(shares, "US")


def test_thirds_with_decimals_pass():
    shares = [Share("wool", "33.33"), Share("alpaca", "33.33"), Share("silk", "33.33")]

    assert content_line(shares, "EU").text == "34% wool, 33% alpaca, 33% silk"


def test_a_percentage_in_words_is_refused():
    with pytest.raises(ValueError, match="“most” is not a percentage"):
        Share("wool", "most")


@pytest.mark.parametrize(
    ("shares", "market", "language", "sentence"),
    [
        ([], "EU", "en", "Enter the fibres"),
        ([Share("wool", 100)], "JP", "en", "Choose US, EU or UK"),
        ([Share("wool", 100)], "EU", "de", "Print in English"),
        ([Share("moonbeam", 100)], "EU", "en", "not a generic fibre name"),
        ([Share("wool", 100, virgin=True, recycled=True)], "EU", "en", "both virgin and recycled"),
        ([Share("wool", 50), Share(UNDETERMINED, 50)], "EU", "en", "stands alone"),
    ],
)
def test_what_has_no_line_says_why(shares, market, language, sentence):
    with pytest.raises(ValueError, match=sentence):
        content_line(shares, market, language)


@pytest.mark.parametrize(
    ("shares", "market", "warning"),
    [
        ([Share("wool", 50), Share("nylon", 20), Share("wool", 30)], "US", "entered more than once"),
        ([Share("wool", 96), Share("silk", 4)], "US", "Under 5 %, so not named on a US tag: silk"),
        ([Share("wool", "4.6"), Share("cotton", "95.4")], "US", r"Wool is 4\.6 % and prints as 5%"),
        ([Share("wool", 97), Share("metallised", 3, decorative=True)], "EU", "left out as decoration"),
        ([Share("wool", 90), Share("metallised", 10, decorative=True)], "US", "counted like any fibre"),
        ([Share("wool", 20, virgin=True), Share("nylon", 80)], "EU", "at least 25 % wool"),
        ([Share("wool", 96), Share("silk", 4, functional=True)], "US", "not there for a job"),
        ([Share("viscose", 100, breed="Bamboo")], "EU", "“Bamboo” is not printed"),
        ([Share("cashmere", 100)], "US", "19 micron"),
    ],
)
def test_the_studio_is_warned(shares, market, warning):
    assert re.search(warning, " ".join(content_line(shares, market).warnings))


def test_a_plain_blend_warns_of_nothing():
    assert content_line([Share("wool", 75), Share("nylon", 25)], "US").warnings == ()


def test_a_folded_fibre_is_named_nowhere_on_a_us_tag():
    line = content_line([Share("wool", 96), Share("silk", 4, breed="Mulberry silk", recycled=True)], "US")

    assert "silk" not in " ".join([line.text, *line.notes]).lower()


@pytest.mark.parametrize("breed", ["Silk", "Superwash Merino", "80% Merino", "Cashmere soft", "Virgin", "new wool"])
@pytest.mark.parametrize("market", ["US", "EU"])
def test_a_breed_that_says_more_is_not_printed(breed, market):
    line = content_line([Share("wool", 100, breed=breed)], market)

    assert line.text.casefold() == "100% wool"
    assert line.notes == ()
    assert line.warnings


def test_a_breed_of_part_of_the_wool_says_so():
    line = content_line([Share("wool", 50, breed="Merino"), Share("wool", 50)], "US")

    assert line.text == "100% Wool"
    assert line.notes == ("Part of the wool is Merino",)


@pytest.mark.parametrize(
    ("typed", "key", "breed"),
    [
        ("Wool", "wool", ""),
        ("  polyamide ", "nylon", ""),
        ("Spandex", "elastane", ""),
        ("rayon", "viscose", ""),
        ("FLAX", "linen", ""),
        ("merino wool", "wool", "Merino"),
        ("Blue-faced Leicester", "wool", "Bluefaced Leicester"),
        ("lamb’s wool", "wool", "Lamb's wool"),
        ("baby alpaca", "alpaca", "Baby alpaca"),
        ("tussah", "silk", "Tussah silk"),
        ("bamboo", "viscose", "Bamboo"),
        ("glitter", "metallised", ""),
        ("stainless steel", "metal", ""),
        ("soy", "protein", ""),
        ("yak hair", "yak", ""),
    ],
)
def test_a_typed_word_finds_its_fibre(typed, key, breed):
    found = key_for(typed)

    assert (found.key, found.breed) == (key, breed)


@pytest.mark.parametrize("key", FIBRES)
def test_a_key_and_the_words_of_its_choice_read_back(key):
    assert key_for(key).key == key
    assert key_for(FIBRES[key].split(" (")[0].removesuffix(" thread")).key == key


def test_recycled_virgin_and_superwash_are_read_apart():
    assert key_for("recycled wool").recycled
    assert key_for("virgin wool").virgin
    assert "line of its own" in key_for("superwash merino").note


@pytest.mark.parametrize(
    "typed", ["Glimmerfil", "softspun wool", "wool blend", "wool 80", "plant fibre", "🧶", "x" * 9999]
)
def test_a_trade_name_is_sent_to_the_suppliers_label(typed):
    with pytest.raises(ValueError, match="look up the generic name on the supplier's label") as refused:
        key_for(typed)
    assert len(str(refused.value)) < 300


@pytest.mark.parametrize("typed", ["", "   ", "recycled"])
def test_no_fibre_name_is_refused(typed):
    with pytest.raises(ValueError, match="fibre"):
        key_for(typed)


def test_dyeable_share_leaves_out_what_stays_undyed():
    sock = [Share("wool", 65), Share("nylon", 20), Share("metallised", 15)]

    assert dyeable_pct(sock, "acid_levelling") == 85
    assert dyeable_pct(sock, "disperse") == 20


def test_dyeable_share_needs_no_complete_content():
    assert dyeable_pct([Share("wool", 60)], "acid_milling") == 60


@pytest.mark.parametrize("shares", [[], [Share(UNDETERMINED, 100)]])
def test_dyeable_share_of_an_unknown_yarn_is_unknown(shares):
    assert dyeable_pct(shares, "acid_milling") is None
    assert classes_for(shares) == []


def test_every_fibre_has_a_word_for_every_dye_class():
    assert {takes(fibre, dye_class) for fibre in FIBRES for dye_class in DYE_CLASSES} == {
        "dyes",
        "some",
        "none",
    }


def test_an_unknown_dye_class_is_refused():
    with pytest.raises(ValueError, match="not a dye class"):
        takes("wool", "vat")


def test_classes_that_dye_most_come_first():
    assert classes_for([Share("cotton", 80), Share("wool", 20)])[:2] == ["reactive", "direct"]
    assert classes_for([Share("polypropylene", 100)]) == []


def test_wool_act_covers_goat_and_camel_hair_but_not_yak_or_rabbit():  # 15 USC 68(b)
    assert under_wool_act([Share("cotton", 95), Share("mohair", 5)])
    assert not under_wool_act([Share("yak", 50), Share("angora", 50)])


def test_yarns_held_together_add_up_by_mass():
    sock = [Share("wool", 75), Share("nylon", 25)]
    halo = [Share("mohair", 70), Share("silk", 30)]
    together = plied([(100, sock), (50, halo)])

    assert sum(share.percent for share in together) == pytest.approx(Decimal(100))
    assert content_line(together, "EU").text == "50% wool, 23% mohair, 17% polyamide, 10% silk"


@pytest.mark.parametrize("yarns", [[], [(0, [Share("wool", 100)])]])
def test_yarns_without_weight_are_refused(yarns):
    with pytest.raises(ValueError, match="weight above 0"):
        plied(yarns)
