"""All shares of three dyes laid out as a triangle: down the first dye, across the third, and the second is the rest."""

from dataclasses import dataclass, replace

from studio.units import write_pct

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
    alone = [dyes for _, dyes in (rows[0][0], rows[-1][-1], rows[-1][0])]
    if any(len(dyes) != 1 for dyes in alone) or len(set.union(*alone)) < 3:
        return None
    first, third, second = (next(iter(dyes)) for dyes in alone)
    for down, row in enumerate(rows):
        for across, (_, dyes) in enumerate(row):
            there = {first: down < count - 1, second: across < down, third: across > 0}
            if dyes != {dye for dye, is_there in there.items() if is_there}:
                return None
    places = {dye.name: place for place, dye in enumerate((first, second, third))}
    shares = [write_pct(100 * part / (count - 1), 3) for part in range(count)]
    return Triangle(
        first,
        third,
        second,
        shares,
        [
            Row(shares[-1 - down], [_in_order(cell, places) for cell, _ in row], [None] * (count - len(row)))
            for down, row in enumerate(rows)
        ],
    )


def _in_order(cell, places):
    """The sample with its bar in one order of the dyes everywhere, so that neighbours can be compared."""
    return replace(cell, segments=sorted(cell.segments, key=lambda segment: places.get(segment.name, len(places))))


def _rows_in(many):
    """How many rows a triangle of so many samples has; None where so many make none."""
    rows = 0
    while rows * (rows + 1) // 2 < many:
        rows += 1
    return rows if rows >= LEAST_ROWS and rows * (rows + 1) // 2 == many else None
