"""QR codes as a drawing for paper (ISO/IEC 18004, model 2). The only importer of segno; no Django. Lengths in mm."""

from dataclasses import dataclass

import segno

QUIET_MODULES = 4
"""Light modules round a code on each side: ISO/IEC 18004, "quiet zone"."""

LEAST_MODULE_MM = 0.5
"""A phone held over a wet label in a dark corner reads this with ease; half of it needs a still hand. Common practice,
no source."""

LEVEL = "q"
"""Restores about 25 % of a code: ties crease, and drops and dye hide parts of them. The next level, H (30 %), needs
more modules on the same paper, so each would be smaller, which costs more than it gives."""


class TooSmall(ValueError):
    """The text needs more modules than the paper has room for."""


@dataclass(frozen=True)
class Code:
    """A square of `modules` by `modules`, quiet zone included; `path` draws the dark ones, one unit each, as SVG."""

    text: str
    modules: int
    path: str


def code_of(text, side_mm):
    """The code of a text for a square of `side_mm`, quiet zone included. Raises TooSmall where it would be too fine."""
    try:
        made = segno.make_qr(text, error=LEVEL)
    except segno.DataOverflowError:
        raise TooSmall(f"“{text[:60]}…” is too long for a code.") from None
    modules = made.symbol_size(border=QUIET_MODULES)[0]
    if side_mm / modules < LEAST_MODULE_MM:
        raise TooSmall(
            f"The address {text} is too long for a code of this size: choose the larger label, or give the studio a "
            "shorter address."
        )
    return Code(text, modules, _path(made))


def _path(made):
    """Each run of dark modules in a row as one rectangle; all in one path, so that no seams show between them."""
    runs = []
    for y, row in enumerate(made.matrix, QUIET_MODULES):
        start = None
        for x, dark in enumerate([*row, 0], QUIET_MODULES):
            if dark and start is None:
                start = x
            elif not dark and start is not None:
                runs.append(f"M{start} {y}h{x - start}v1H{start}z")
                start = None
    return "".join(runs)
