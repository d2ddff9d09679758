"""All shares of three dyes as a triangle: where each sample stands, and what is no triangle."""

from typing import NamedTuple

import pytest

from batches.triangle import Cell, triangle_of
from recipes.gradients import between_three
from studio.colourbar import Segment


class Dye(NamedTuple):
    name: str
    colour: str = "#888888"


PLUM, SAND, TEAL = Dye("Plum"), Dye("Sand"), Dye("Teal")


def samples(parts, dyes=(PLUM, SAND, TEAL)):
    """[(Cell, {Dye})] as a series of such shares is planned; each bar with its widest dye first."""
    found = []
    for number, shares in enumerate(between_three(parts), 1):
        there = sorted([pair for pair in zip(shares, dyes, strict=True) if pair[0]], reverse=True)
        segments = [Segment(dye.name, dye.colour, share) for share, dye in there]
        found.append((Cell(number, "", segments), {dye for _, dye in there}))
    return found


@pytest.mark.parametrize("parts", range(2, 7))
def test_each_sample_stands_where_its_shares_say(parts):
    found = triangle_of(samples(parts))
    assert (found.down, found.across, found.rest) == (PLUM, TEAL, SAND)
    assert [len(row.cells) for row in found.rows] == list(range(1, parts + 2))
    assert {len(row.cells) + len(row.blank) for row in found.rows} == {parts + 1} == {len(found.columns)}
    assert [cell.number for row in found.rows for cell in row.cells] == list(range(1, len(samples(parts)) + 1))
    assert [row.share for row in found.rows] == found.columns[::-1]
    for down, row in enumerate(found.rows):
        for across, cell in enumerate(row.cells):
            shares = {segment.name: segment.share for segment in cell.segments}
            wanted = {"Plum": parts - down, "Sand": down - across, "Teal": across}
            assert {name: round(share * parts) for name, share in shares.items()} == {
                name: part for name, part in wanted.items() if part
            }


def test_halves_have_their_corners_and_their_sides():
    found = triangle_of(samples(2))
    assert found.columns == ["0 %", "50 %", "100 %"]
    names = [[[segment.name for segment in cell.segments] for cell in row.cells] for row in found.rows]
    assert names == [[["Plum"]], [["Plum", "Sand"], ["Plum", "Teal"]], [["Sand"], ["Sand", "Teal"], ["Teal"]]]


@pytest.mark.parametrize("many", [0, 1, 2, 3, 4, 5, 7, 9, 11])
def test_so_many_samples_make_no_triangle(many):
    assert triangle_of(samples(6)[:many]) is None


@pytest.mark.parametrize("place", range(10))
def test_one_dye_too_few_or_too_many_anywhere_is_no_triangle(place):
    whole = samples(3)
    cell, dyes = whole[place]
    for other in ({SAND} if dyes != {SAND} else {TEAL}, {*dyes, Dye("Rust")}, set(), {PLUM, SAND, TEAL} - dyes):
        assert triangle_of([*whole[:place], (cell, other), *whole[place + 1 :]]) is None


def test_two_corners_of_one_dye_are_no_triangle():
    assert triangle_of(samples(3, (PLUM, SAND, PLUM))) is None
