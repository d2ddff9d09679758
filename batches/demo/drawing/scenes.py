"""The scenes of the photographs.

Each is a function (size, seed, skeins, ...) -> a picture. `skeins` say how each was dyed and spun; what else a scene
takes differs from picture to picture and is written in `pictures.toml`. Lengths are mm.
"""

from dataclasses import dataclass

import numpy as np

from . import yarn
from .board import board, card, film, grey_card, ruled, sill, wall_and_rod
from .cloth import blot, cloth
from .dye import Dyeing, wave
from .hand import write
from .light import Table, from_screen
from .vessels import Jar, pot

WET = {"shine": 0.30, "polish": 46}


@dataclass
class Skein:
    """How a skein was dyed, and its yarn.

    thick   mm, or as the scene has it
    rough   how much the thickness varies, as that of handspun does
    hairs   how many stand off a whole skein, and `halo`, how long they are (mm)
    groove  how deep its twist shows, 0 for felted
    loose   how far strands leave the bundle
    """

    dyeing: Dyeing
    rng: np.random.Generator
    thick: float | None = None
    rough: float = 0.0
    hairs: int = 1800
    halo: float = 4.0
    groove: float = 0.45
    loose: float = 0.06


TIE = Dyeing([["#e7e3d8", 1]], uneven=0.03)


def lay(table, shape, skein, at=(0, 0), lean=0.0, thick=2.1, wet=False):
    """A shape of yarn, dyed and put on the table; `thick` unless the skein has a thickness of its own."""
    path, place = shape
    # A skein's colours have a chance of their own, so that the same pose can be dyed again.
    colour = skein.dyeing.along(skein.rng, place, len(path), wet)
    path, thick = yarn.placed(path, at, lean), skein.thick or thick
    slubs = wave(skein.rng, np.linspace(0, 1, path.shape[1]), 24, len(path))
    radius = thick / 2 * np.clip(1 + skein.rough * slubs, 0.35, 2)
    table.strands(path, colour, radius, lay=thick * 3.4, groove=skein.groove, **(WET if wet else {}))
    if not wet:
        metres = np.linalg.norm(np.diff(path, axis=1), axis=-1).sum() / 1000
        table.hairs(path, colour, round(skein.hairs * metres / 90), skein.halo)
    return path


def tie(table, at, width, way=0.0):
    """A thread tied round what lies at a place, over its crown."""
    t = np.linspace(-1, 1, 60)
    for off in (-0.7, 0.7):
        x, y = width * t, off + 0.8 * wave(table.rng, (t + 1) / 2, 2)[0]
        x, y = x * np.cos(way) - y * np.sin(way) + at[0], x * np.sin(way) + y * np.cos(way) + at[1]
        column = np.clip((x + table.half[0]) * table.px, 0, table.height.shape[1] - 1).astype(int)
        row = np.clip((y + table.half[1]) * table.px, 0, table.height.shape[0] - 1).astype(int)
        z = np.convolve(np.pad(table.height[row, column], 4, mode="edge"), np.ones(9) / 9, mode="valid") + 0.9
        table.strands(np.stack([x, y, z], -1)[None], TIE.along(table.rng, (t + 1) / 2, 1), 0.8, lay=4)


def laid_board(size, across, seed, grey="below right"):
    table = Table(size, across, seed)
    board(table)
    if grey:
        grey_card(table, grey, table.rng.uniform(-0.14, 0.14))
    return table


def hanks(
    size, seed, skeins, across=250, length=282, half=38, turns=2.0, lean=0.1, gap=None, grey="below right", **how
):
    """Twisted hanks side by side."""
    table = laid_board(size, across, seed, grey)
    many, gap = len(skeins) > 1, gap or half * 2.2
    for k, skein in enumerate(skeins):
        own = table.rng.normal(0, 1, 3) * many
        x = (k - (len(skeins) - 1) / 2) * gap - 5 * (not many)
        strands = int(140 * min(1, half / 30))
        shape = yarn.hank(table.rng, length + 3 * own[0], half, turns + 0.03 * own[1], strands, loose=skein.loose)
        lay(table, shape, skein, (x, 3 * own[2] - 4), lean + 0.015 * own[1], **how)
    return table.picture()


def open_skeins(
    size, seed, skeins, across=250, length=255, gap=26, bulk=15, lean=0.0, apart=None, grey="below right", **how
):
    """Open skeins laid side by side, tied in two places; `bulk` is the thickness of a bundle."""
    table = laid_board(size, across, seed, grey)
    apart = apart or gap + 2.7 * bulk
    for k, skein in enumerate(skeins):
        at = ((k - (len(skeins) - 1) / 2) * apart, table.rng.normal(0, 3) - 6)
        turned = lean + table.rng.normal(0, 0.012)
        lay(table, yarn.skein(table.rng, length, gap, bulk), skein, at, turned, **how)
        for share in (-0.24, 0.27):
            place = (at[0] - share * length * np.sin(turned), at[1] + share * length)
            tie(table, place, gap / 2 + bulk * 1.02, turned)
    return table.picture()


def in_the_pot(
    size,
    seed,
    skeins,
    across=400,
    kind="steel",
    shape=(1, 1),
    clear="#d8c9bd",
    murk=110,
    level=70,
    proud=7,
    turn=0.0,
    bits=0,
):
    """A pot or pan from above: yarn and liquor.

    `shape` of it, length and width; `clear` is what 10 mm of liquor lets through and `murk` (mm) where it hides things;
    the yarn stands `proud` of it; `bits` of plants float on it.
    """
    table = Table(size, across, seed)
    board(table)
    radius = min(table.half[1] * 0.88 / shape[1], table.half[0] * 0.84 / shape[0])
    half = (radius * shape[0], radius * shape[1])
    bath = pot(table, half, radius if shape[0] == shape[1] else radius * 0.35, level + 26, kind)
    for k, skein in enumerate(skeins):
        path, place = yarn.in_pot(table.rng, radius * 0.93, level + proud - 7 * (len(skeins) - 1 - k))
        path = path * (shape[0], shape[1], 1)
        lay(table, (path, (place + turn) % 1), skein, thick=2.7, wet=True)
    through = from_screen(clear)
    table.pool(bath, level, through, through**3 * 0.5, murk)
    if bits:
        _plant_bits(table, bath, bits, level)
    return table.picture()


def _plant_bits(table, bath, count, level):
    """Chips of root that float."""
    t, chip = np.linspace(0, 1, 12), Dyeing([["#6b3a24", 1], ["#8a5a34", 1]], uneven=0.3)
    rows, columns = np.nonzero(bath)
    for pick in table.rng.integers(len(rows), size=count):
        x, y = table.x[rows[pick], columns[pick]] * 0.92, table.y[rows[pick], columns[pick]] * 0.92
        way, size = table.rng.uniform(0, np.pi), table.rng.uniform(4, 13)
        bend = 1.5 * wave(table.rng, t * 0.6, 2)[0]
        path = [x + size * t * np.cos(way) + bend, y + size * t * np.sin(way) - bend, 0 * t + level + 1.5]
        colour = chip.along(table.rng, t, 1)
        table.strands(np.stack(path, -1)[None], colour, table.rng.uniform(0.6, 1.5), plies=1, groove=0.25)


def jars(size, seed, skeins, across=330, clears=(), levels=(), yarns=(), lids=(), radius=34, height=128):
    """Jars on a window sill: the liquor of each (what 10 mm let through), its level, the yarn's (0 to 1), its lid."""
    table = Table(size, across, seed)
    foot = table.half[1] * 0.60
    sill(table, table.half[1] * 0.46)
    gap = across / (len(clears) + 0.15)
    for k, clear in enumerate(clears):
        x, y = (k - (len(clears) - 1) / 2) * gap + table.rng.normal(0, 0.04) * gap, foot + table.rng.normal(0, 2)
        jar, through = Jar(table, x, y, min(radius, gap * 0.44), height), from_screen(clear)
        jar.shade(through)
        middle, floor, wide = jar.contents()
        skein = skeins[k % len(skeins)]
        lay(
            table,
            yarn.in_jar(table.rng, wide, yarns[k % len(yarns)] * height),
            skein,
            (middle, floor),
            thick=2.6,
            wet=True,
        )
        jar.fill(levels[k % len(levels)] * height, through)
        jar.glass()
        if lids[k % len(lids)]:
            jar.lid(table.rng.normal(0, 0.035), abs(table.rng.normal(2, 1)))
    return table.picture()


def drying(size, seed, skeins, across=300, length=250, wet=True, **how):
    """Skeins hung on a rod to dry."""
    table = Table(size, across, seed)
    rod = -table.half[1] * 0.66
    wall_and_rod(table, rod)
    gap = across / (len(skeins) + 0.35)
    for k, skein in enumerate(skeins):
        x = (k - (len(skeins) - 1) / 2) * gap + table.rng.normal(0, 2)
        shape = yarn.hung(table.rng, length * (1 + 0.02 * table.rng.standard_normal()))
        lay(table, shape, skein, (x, rod - 8), wet=wet, **how)
    return table.picture()


def cone(size, seed, skeins, across=220, lean=0.32):
    """A cone of yarn without a label, on its side, wound on a paper tube."""
    table = laid_board(size, across, seed)
    t = np.linspace(-np.pi, np.pi, 160)
    rings = [np.stack([17 * np.cos(t), 0 * t - 95 - 9 + 0.8 * k, 17 * np.sin(t) + 56], -1) for k in range(-12, 12)]
    paper = np.broadcast_to(from_screen("#8d7a63"), (24, 160, 3))
    table.strands(yarn.placed(np.array(rings), (0, 4), lean), paper, 0.7, groove=0)
    lay(table, yarn.cone(table.rng), skeins[0], (0, 4), lean, thick=2.0)
    return table.picture()


def wash_cloth(size, seed, skeins, across=255, stain=None, strength=0.35, lean=0.06):
    """A damp white cloth beside the skein it was pressed on; with what came off, or clean."""
    table = laid_board(size, across, seed, "above right")
    cloth(table, (table.half[0] * 0.38, 24), (128, 158), lean, stain, strength)
    lay(table, yarn.hank(table.rng, 275, 34, 2.0), skeins[0], (-table.half[0] * 0.54, 0), 0.05, wet=True)
    return table.picture()


def knitted(size, seed, skeins, across=170, lean=-0.07, stitches=17, rows=19):
    """A knitted snippet on a card, as it is kept with the batch's papers."""
    table = laid_board(size, across, seed)
    card(table, (-4, 2), (120, 158), lean, holes=[(0, -68)])
    path = lay(table, yarn.knitted(table.rng, stitches, rows), skeins[0], (-4, 8), lean + 0.03, thick=2.5)
    u = np.linspace(0, 1, 60)
    for row, way in ((0, 1), (rows - 1, -1)):
        start = path[row, -1 if way > 0 else 0]
        x, y = start[0] + way * 20 * np.sin(1.5 * u), start[1] + way * 26 * u**1.4 + 3 * wave(table.rng, u * 0.6, 2)[0]
        tail = np.stack([x, y, 1.2 + 1.2 * (1 - u)], -1)
        lay(table, (tail[None], u[None] * 0.05 + row / rows), skeins[0], thick=2.5)
    return table.picture()


def snippets(size, seed, skeins, across=190, lean=0.03):
    """Short ends of yarn hitched through a card's holes, in two rows, as a studio's binder has them."""
    table = laid_board(size, across, seed)
    columns = -(-len(skeins) // 2)
    places = [((k % columns - (columns - 1) / 2) * 38, -84 + 92 * (k // columns)) for k in range(len(skeins))]
    binder = [(-64, y) for y in (-76, -26, 26, 76)]
    card(table, (2, 0), (148, 212), lean, holes=[*places, *binder])
    for place, skein in zip(places, skeins, strict=True):
        at = yarn.placed(np.array([[*place, 0.0]]), (2, 0), lean)[0]
        turned = lean + table.rng.normal(0, 0.03)
        lay(table, yarn.hitched(table.rng), skein, (at[0], at[1] + 9), turned, thick=2.1)
        lay(table, yarn.knot(), skein, (at[0], at[1] + 8), turned, thick=2.2)
    return table.picture()


def notes(size, seed, skeins, across=122, lines=(), lean=-0.05, drops=()):
    """A page of notes from the bench: its lines, and drops of what was in the spoon, "#rrggbb x y radius" each."""
    table = laid_board(size, across, seed, None)
    page = (105, 148)  # A6
    card(table, (0, 0), page, lean)
    ruled(table, page, lean)
    for drop in drops:
        colour, *place = drop.split()
        x, y, radius = map(float, place)
        blot(table, (x, y), radius, colour)
    (start,) = yarn.placed(np.array([[-46.0, -50.6, 0.0]]), (0, 0), lean)[..., :2]
    write(table, lines, start, lean)
    return table.picture()


def painted(size, seed, skeins, across=300, length=310, gap=50, bulk=20, apart=None, wet=True):
    """Skeins laid on film and painted in bands across."""
    table = laid_board(size, across, seed, None)
    apart = apart or gap + 2.9 * bulk
    film(table, (2, 0), (min(apart * len(skeins) + 36, across * 0.94), length + 46), 0.015)
    for k, skein in enumerate(skeins):
        path, _ = yarn.skein(table.rng, length, gap, bulk, flat=0.42, strands=160, sway=4)
        # Bands go across both sides of the skein: the place is how far down the table a strand lies.
        place = (path[..., 1] / length + 0.5) * 0.96 + 0.02
        lay(table, (path, np.clip(place, 0.01, 0.99)), skein, ((k - (len(skeins) - 1) / 2) * apart, 0), 0.01, wet=wet)
    return table.picture()


SCENES = {
    scene.__name__.replace("_", "-"): scene
    for scene in (hanks, open_skeins, in_the_pot, jars, drying, cone, wash_cloth, knitted, snippets, notes, painted)
}
