"""Shares of a few dyes, steps of depth, and skeins pulled in turn."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recipes import dyeing, gradients

D = Decimal
depths = st.decimals("0.01", "20", places=3)


def test_equal_differences():
    assert gradients.linear(D("0.2"), 1, 5) == [D("0.2"), D("0.4"), D("0.6"), D("0.8"), 1]


def test_equal_ratios():
    assert gradients.geometric(D("0.25"), 4, 5) == [D("0.25"), D("0.5"), 1, 2, 4]


@given(depths, depths, st.integers(2, 30))
def test_a_gradient_begins_and_ends_where_it_was_told_to(one, other, steps):
    if one == other:
        return
    least, most = sorted((one, other))
    for found in (gradients.linear(least, most, steps), gradients.geometric(least, most, steps)):
        assert (found[0], found[-1], len(found)) == (least, most, steps)
        assert found == sorted(set(found))
    found = gradients.geometric(least, most, steps)
    for before, now, after in zip(found, found[1:], found[2:], strict=False):
        assert abs(now * now / (before * after) - 1) < D("1e-20")


@pytest.mark.parametrize(
    "least, most, steps, sentence",
    [
        pytest.param(0, 1, 5, "A depth of 0 is undyed yarn", id="from nothing"),
        pytest.param(1, 0, 5, "A depth of 0 is undyed yarn", id="to nothing"),
        pytest.param(-1, 1, 5, "A depth of 0 is undyed yarn", id="below nothing"),
        pytest.param(1, 1, 5, "must be below the deepest", id="no way between"),
        pytest.param(2, 1, 5, "must be below the deepest", id="the wrong way round"),
        pytest.param(1, 101, 5, "its own weight of dye", id="more dye than yarn"),
        pytest.param(1, 2, 1, "two steps or more", id="one step"),
        pytest.param(1, 2, 31, "30 steps or fewer", id="too many"),
    ],
)
@pytest.mark.parametrize("spaced", [gradients.linear, gradients.geometric])
def test_what_is_no_gradient_is_said(spaced, least, most, steps, sentence):
    with pytest.raises(ValueError, match=sentence):
        spaced(least, most, steps)


def test_two_dyes_in_five_steps():
    assert gradients.between_two(5) == [
        (1, 0),
        (D("0.75"), D("0.25")),
        (D("0.5"), D("0.5")),
        (D("0.25"), D("0.75")),
        (0, 1),
    ]


def test_three_dyes_by_halves():
    half = D("0.5")
    assert gradients.between_three(2) == [
        (1, 0, 0),
        (half, half, 0),
        (half, 0, half),
        (0, 1, 0),
        (0, half, half),
        (0, 0, 1),
    ]


@pytest.mark.parametrize("divisions", range(2, 7))
def test_a_triangle_holds_every_mix_of_whole_parts_once(divisions):
    found = gradients.between_three(divisions)
    assert len(set(found)) == len(found) == (divisions + 1) * (divisions + 2) // 2


@given(st.integers(2, 30), st.integers(2, 6))
def test_shares_sum_to_exactly_one_and_none_is_below_nothing(steps, divisions):
    for shares in gradients.between_two(steps) + gradients.between_three(divisions):
        assert sum(shares) == 1 and min(shares) >= 0


@given(st.integers(2, 12), depths, depths, depths)
def test_every_member_of_a_family_is_as_deep_as_the_others(steps, first, second, total):
    for shares in gradients.between_two(steps):
        factors = gradients.share_factors(shares, [first, second], total)
        assert abs(factors[0] * first + factors[1] * second - total) < D("1e-20")


@pytest.mark.parametrize(
    "own, total, sentence",
    [((1, 0), 1, "needs an amount"), ((1, 1), 0, "undyed yarn"), ((1, 1), 101, "its own weight of dye")],
)
def test_a_family_of_nothing_is_said(own, total, sentence):
    with pytest.raises(ValueError, match=sentence):
        gradients.share_factors((D("0.5"), D("0.5")), own, total)


@pytest.mark.parametrize("steps", [-1, 0, 1, 31])
def test_a_row_needs_two_steps(steps):
    with pytest.raises(ValueError, match="steps"):
        gradients.between_two(steps)


@pytest.mark.parametrize("divisions", [-3, 1, 7])
def test_a_triangle_needs_parts(divisions):
    with pytest.raises(ValueError, match="hoose"):
        gradients.between_three(divisions)


def test_three_skeins_pulled_in_turn():
    # By hand: 3 skeins of 20 g at 0.5, 1 and 2 %. 60 g x 0.5 % = 0.3 g; 40 g x 0.5 % = 0.2 g; 20 g x 1 % = 0.2 g.
    stages = gradients.pulled([D("0.5"), 1, 2], 20)
    assert [stage.dye_g for stage in stages] == [D("0.3"), D("0.2"), D("0.2")]
    assert [(stage.skeins_in, stage.fibre_g) for stage in stages] == [(3, 60), (2, 40), (1, 20)]


@given(st.lists(depths, min_size=2, max_size=12, unique=True), st.decimals("1", "200", places=1))
def test_what_goes_into_the_pot_is_what_the_skeins_hold(wanted, skein_g):
    wanted = sorted(wanted)
    stages = gradients.pulled(wanted, skein_g)
    assert sum(stage.dye_g for stage in stages) == sum(dyeing.dye_g(skein_g, depth) for depth in wanted)
    held = D(0)
    for stage in stages:  # what one skein has taken by the time it is pulled, all taking alike
        held += stage.dye_g / stage.skeins_in
        assert abs(dyeing.depth_pct(held, skein_g) - stage.depth_pct) < D("1e-20")


@pytest.mark.parametrize(
    "wanted, skein_g, sentence",
    [
        pytest.param([1], 20, "two steps or more", id="one skein"),
        pytest.param([1, 1], 20, "from the lightest on", id="no deeper"),
        pytest.param([2, 1], 20, "from the lightest on", id="lighter"),
        pytest.param([0, 1], 20, "from the lightest on", id="undyed"),
        pytest.param([1, 120], 20, "its own weight of dye", id="more dye than yarn"),
        pytest.param([1, 2], 0, "more than zero", id="no yarn"),
    ],
)
def test_skeins_that_can_t_be_pulled_so_are_said(wanted, skein_g, sentence):
    with pytest.raises(ValueError, match=sentence):
        gradients.pulled(wanted, skein_g)


def test_what_matches_at_110_percent_is_90_9_percent_strong():
    assert round(dyeing.matched_strength_pct(110), 1) == D("90.9")
    assert dyeing.matched_strength_pct(100) == 100


@given(st.decimals("10", "400", places=1))
def test_a_match_and_the_amount_asked_for_agree(matching):
    strength = dyeing.matched_strength_pct(matching)
    if strength <= dyeing.STRONGEST_LOT_PCT:
        assert abs(dyeing.at_lot_strength(100, strength) - matching) < D("1e-20")


@pytest.mark.parametrize("matching", [0, -5])
def test_a_match_at_nothing_is_said(matching):
    with pytest.raises(ValueError, match="more than zero"):
        dyeing.matched_strength_pct(matching)
