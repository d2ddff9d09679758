"""All shares of three dyes laid out as a triangle: down the first dye, across the third, and the second is the rest."""

from dataclasses import dataclass, replace

from studio.units import NO_BREAK_SPACE, write_pct

LEAST_ROWS = 3  # below it is no mix of all: each dye alone, or two of them


@dataclass(frozen=True)
class Cell:
    """One sample of it. `number`: of its pot; `segments`: of its colour bar."""

    number: int
    label: str
    segments: list
    photo: object = None


@dataclass(frozen=True)
class Row:
    """The samples with as much of the first dye. `blank`: one for each place that no mix is for."""

    share: str
    cells: list
    blank: list


@dataclass(frozen=True)
class Triangle:
    down: object  # studio.Dye, as the other two
    across: object
    rest: object
    columns: list
    rows: list


def triangle_of(samples):
    """The `Triangle` of these samples; None where they are no shares of three dyes.

    `samples`: [(Cell, {Dye that is in it})] in the order in which `gradients.between_three` gives them, which is how
    such a series is planned.
    """
    count = _rows_in(len(samples))
    if count is None:
        return None
    rows = [samples[row * (row + 1) // 2 :][: row + 1] for row in range(count)]
    dyes = _corners(rows)
    return _laid_out(rows, dyes) if dyes and _are_shares(rows, dyes) else None


def _corners(rows):
    """[first dye, second, third], each alone in its corner; None where the corners are of no three dyes."""
    corners = rows[0][0], rows[-1][0], rows[-1][-1]
    alone = [next(iter(dyes)) for _, dyes in corners if len(dyes) == 1]
    return alone if len(set(alone)) == len(corners) else None


def _are_shares(rows, dyes):
    """Whether each sample is of all three, but along the side opposite a dye's corner, where that one is missing."""
    for down, row in enumerate(rows):
        for across, (_, found) in enumerate(row):
            there = (down < len(rows) - 1, across < down, across > 0)
            if found != {dye for dye, is_there in zip(dyes, there, strict=True) if is_there}:
                return False
    return True


def _laid_out(rows, dyes):
    first, second, third = dyes
    places = {dye.name: place for place, dye in enumerate(dyes)}
    shares = [_share(part, len(rows) - 1) for part in range(len(rows))]
    laid_out = [
        Row(shares[-1 - down], [_in_order(cell, places) for cell, _ in row], [None] * (len(rows) - len(row)))
        for down, row in enumerate(rows)
    ]
    return Triangle(first, third, second, shares, laid_out)


def _share(part, parts):
    """ "66.7 %", that may break before its sign: in large letters a column of seven is narrow."""
    return write_pct(100 * part / parts, 3).replace(NO_BREAK_SPACE, " ")


def _in_order(cell, places):
    """The sample with its bar in one order of the dyes everywhere, so that neighbours can be compared."""
    return replace(cell, segments=sorted(cell.segments, key=lambda segment: places.get(segment.name, len(places))))


def _rows_in(many):
    """How many rows a triangle of so many samples has; None where so many make none."""
    rows = 0
    while rows * (rows + 1) // 2 < many:
        rows += 1
    return rows if rows >= LEAST_ROWS and rows * (rows + 1) // 2 == many else None
