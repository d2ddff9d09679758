"""Dye, stock solutions, bottles and baths: inverses, limits and what is refused."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recipes import dyeing

masses = st.decimals(min_value="0.5", max_value=20_000, places=2)
depths = st.decimals(min_value="0.001", max_value=8, places=3)
strengths = st.decimals(min_value="0.01", max_value=20, places=2)
volumes = st.decimals(min_value="0.1", max_value=10_000, places=1)
HAIR = Decimal("1e-18")


@given(masses, depths)
def test_depth_and_dye_are_inverses(fibre_g, depth_pct):
    assert abs(dyeing.depth_pct(dyeing.dye_g(fibre_g, depth_pct), fibre_g) - depth_pct) < HAIR


@given(masses, depths, strengths)
def test_stock_holds_the_dye_that_was_wanted(fibre_g, depth_pct, strength_pct):
    volume_ml = dyeing.stock_ml(fibre_g, depth_pct, strength_pct)
    dye_g = dyeing.dye_g(fibre_g, depth_pct)
    assert abs(dyeing.dye_in_stock_g(volume_ml, strength_pct) - dye_g) < HAIR
    assert abs(dyeing.depth_from_stock_pct(volume_ml, strength_pct, fibre_g) - depth_pct) < HAIR


@given(volumes, strengths)
def test_a_bottle_s_strength_and_its_powder_are_inverses(volume_ml, strength_pct):
    powder_g = dyeing.powder_for_stock_g(volume_ml, strength_pct)
    assert abs(dyeing.strength_pct(powder_g, volume_ml) - strength_pct) < HAIR


@given(volumes, strengths, strengths)
def test_a_dilution_keeps_the_dye_and_fills_the_volume(volume_ml, one_pct, other_pct):
    from_pct, to_pct = max(one_pct, other_pct), min(one_pct, other_pct)
    stock, water = dyeing.dilution_ml(from_pct, to_pct, volume_ml)
    assert abs(stock + water - volume_ml) < HAIR
    assert water >= 0
    assert abs(dyeing.dye_in_stock_g(stock, from_pct) - dyeing.dye_in_stock_g(volume_ml, to_pct)) < HAIR


@given(masses, depths, volumes)
def test_a_stock_of_the_strength_to_dispense_gives_that_volume(fibre_g, depth_pct, volume_ml):
    strength_pct = dyeing.strength_to_dispense_pct(fibre_g, depth_pct, volume_ml)
    if 0 < strength_pct <= dyeing.STRONGEST_STOCK_PCT:
        assert abs(dyeing.stock_ml(fibre_g, depth_pct, strength_pct) - volume_ml) < HAIR


@given(masses, st.integers(min_value=1, max_value=400))
def test_lot_strength_there_and_back(amount, lot_strength_pct):
    of_lot = dyeing.at_lot_strength(amount, lot_strength_pct)
    assert abs(dyeing.at_standard_strength(of_lot, lot_strength_pct) - amount) < HAIR
    assert (of_lot > amount) == (lot_strength_pct < 100)


@given(depths, st.integers(min_value=1, max_value=100))
def test_dyeable_depth_there_and_back(depth_pct, dyeable_pct):
    of_all = dyeing.depth_for_dyeable_pct(depth_pct, dyeable_pct)
    assert abs(dyeing.depth_on_dyeable_pct(of_all, dyeable_pct) - depth_pct) < HAIR


@given(masses, st.decimals(min_value=1, max_value=100, places=1))
def test_bath_and_liquor_ratio_are_inverses(fibre_g, ratio):
    assert abs(dyeing.liquor_ratio(dyeing.bath_ml(fibre_g, ratio), fibre_g) - ratio) < HAIR


@given(masses, depths, st.lists(st.integers(min_value=0, max_value=9), min_size=1, max_size=5))
def test_the_dyes_of_a_blend_add_up_to_its_depth(fibre_g, depth_pct, parts):
    if sum(parts):
        mls = dyeing.blend_ml(fibre_g, depth_pct, parts, [1] * len(parts))
        stocks = [(ml, 1) for ml in mls]
        assert abs(dyeing.depth_of_additions_pct(fibre_g, stocks=stocks) - depth_pct) < HAIR


def test_numbers_of_any_plain_kind_come_out_as_decimal():
    for fibre_g, depth_pct in [(115, 0.1), (Decimal(115), Decimal("0.1")), (115.0, 0.1)]:
        dye_g = dyeing.dye_g(fibre_g, depth_pct)
        assert isinstance(dye_g, Decimal)
        assert dye_g == Decimal("0.115")


@pytest.mark.parametrize(
    "found, expected",
    [
        pytest.param(dyeing.dye_g(100, 0), 0, id="undyed"),
        pytest.param(dyeing.depth_pct(0, 100), 0, id="no dye fed"),
        pytest.param(dyeing.depth_of_additions_pct(100), 0, id="no additions"),
        pytest.param(dyeing.dilution_ml(1, 1, 50), (50, 0), id="already at that strength"),
        pytest.param(dyeing.depth_on_dyeable_pct(2, 100), 2, id="all of it takes dye"),
        pytest.param(dyeing.at_lot_strength(9, 100), 9, id="standard lot"),
        pytest.param(dyeing.water_to_pour_ml(3000), 3000, id="nothing added yet"),
        pytest.param(dyeing.water_to_pour_ml(250, [100, 30], 120), 0, id="wet yarn fills the bath"),
        pytest.param(dyeing.dye_left_mg_per_l(1, 100, 3000), 0, id="clear"),
        pytest.param(dyeing.per_litre(3000, 0), 0, id="no assistant"),
    ],
)
def test_limit_cases(found, expected):
    assert found == expected


@pytest.mark.parametrize(
    "sum_, says",
    [
        (lambda: dyeing.dye_g(0, 1), "weight of fibre must be more than zero"),
        (lambda: dyeing.dye_g(-100, 1), "weight of fibre"),
        (lambda: dyeing.dye_g(100, -1), "depth of shade can't be below zero"),
        (lambda: dyeing.dye_g(float("nan"), 1), "can't be worked with"),
        (lambda: dyeing.stock_ml(100, 1, 0), "strength of a solution must be more than zero"),
        (lambda: dyeing.stock_ml(100, 1, 101), "can't hold that much dye"),
        (lambda: dyeing.dye_in_stock_g(-5, 1), "volume can't be below zero"),
        (lambda: dyeing.depth_pct(1, 0), "weight of fibre"),
        (lambda: dyeing.depth_pct(-1, 100), "dye can't be below zero"),
        (lambda: dyeing.depth_of_additions_pct(100, [-1]), "dye can't be below zero"),
        (lambda: dyeing.depth_on_dyeable_pct(1, 0), "takes dye must be more than zero"),
        (lambda: dyeing.depth_on_dyeable_pct(1, 101), "100 % or less"),
        (lambda: dyeing.at_lot_strength(9, 0), "powder lot must be more than zero"),
        (lambda: dyeing.at_lot_strength(9, 401), "above 400 %"),
        (lambda: dyeing.at_lot_strength(-9, 85), "can't be below zero"),
        (lambda: dyeing.share_of(1, [0, 0]), "add up to nothing"),
        (lambda: dyeing.blend_ml(100, 1, [1, 2], [1]), "fill in both"),
        (lambda: dyeing.powder_for_stock_g(0, 1), "volume must be more than zero"),
        (lambda: dyeing.strength_pct(0, 500), "dye must be more than zero"),
        (lambda: dyeing.strength_pct(501, 500), "more dye than a solution can hold"),
        (lambda: dyeing.strength_to_dispense_pct(100, 1, 0), "volume"),
        (lambda: dyeing.dilution_ml(0.1, 1, 100), "can't make a stock stronger"),
        (lambda: dyeing.dilution_ml(1, 0, 100), "strength of a solution"),
        (lambda: dyeing.bath_ml(100, 0), "liquor ratio must be more than zero"),
        (lambda: dyeing.liquor_ratio(0, 100), "volume"),
        (lambda: dyeing.water_to_pour_ml(200, [100, 30], 120), "take more bath"),
        (lambda: dyeing.per_litre(3000, -1), "per litre can't be below zero"),
        (lambda: dyeing.dye_left_mg_per_l(1, 101, 3000), "100 % or less"),
    ],
)
def test_wrong_input_is_refused_in_a_sentence(sum_, says):
    with pytest.raises(ValueError, match=says) as refused:
        sum_()
    assert str(refused.value).endswith(".")
