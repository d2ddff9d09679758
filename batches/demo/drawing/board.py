"""What yarn is laid on or hung before: the board, its grey card, film, cards, a wall with a rod, a window sill."""

import numpy as np

from .light import blurred, cloud, from_screen

BOARD = np.array([0.665, 0.662, 0.655], "float32")
GREY = 0.18  # the grey card reflects 18 % of the light: common practice, no source
EVERYWHERE = np.s_[:, :]


def inside(table, at, size, lean=0.0, corner=0.0):
    """The pixels of a rectangle: its middle, its two sides in mm, turned by `lean`, corners rounded by `corner` mm."""
    x, y = table.x - at[0], table.y - at[1]
    x, y = x * np.cos(lean) + y * np.sin(lean), y * np.cos(lean) - x * np.sin(lean)
    dx, dy = np.abs(x) - size[0] / 2 + corner, np.abs(y) - size[1] / 2 + corner
    return np.hypot(np.maximum(dx, 0), np.maximum(dy, 0)) + np.minimum(np.maximum(dx, dy), 0) < max(corner, 1e-6)


def board(table):
    """A light, neutral, slightly rough board."""
    shape = table.height.shape
    grain = 1 + 0.010 * cloud(table.rng, shape, 60 * table.px) + 0.008 * table.rng.standard_normal(shape)
    table.plate(EVERYWHERE, 0.02 * cloud(table.rng, shape, 1.5 * table.px), BOARD * grain[..., None].astype("float32"))


def grey_card(table, corner="below right", lean=0.10):
    """The grey card in a corner, cut off by the picture's edge."""
    below, right = "below" in corner, "right" in corner
    at = ((1 if right else -1) * (table.half[0] - 6), (1 if below else -1) * (table.half[1] - 6))
    where = inside(table, at, (86, 62), lean, 1.5)
    table.plate(where, 0.9, np.full(3, GREY, "float32"), shine=0.01)


def card(table, at, size, lean=0.0, tone=0.86, holes=()):
    """A paper card with punched holes, their places told from its middle."""
    where = inside(table, at, size, lean, 1.0)
    for x, y in holes:
        turned = (at[0] + x * np.cos(lean) - y * np.sin(lean), at[1] + x * np.sin(lean) + y * np.cos(lean))
        where &= np.hypot(table.x - turned[0], table.y - turned[1]) > 2.8
    paper = tone * (1 + 0.006 * table.rng.standard_normal(table.height.shape))
    table.plate(where, 0.8, paper[..., None].astype("float32") * np.array([1, 0.992, 0.965], "float32"))


def ruled(table, size, lean=0.0, gap=13.0):
    """Faint lines to write on, `gap` mm apart, across a page that lies in the middle."""
    down = table.y * np.cos(lean) - table.x * np.sin(lean) + size[1] / 2 - 22
    on = inside(table, (0, 0), size, lean, 1.0) & (down > -gap / 2)
    line = np.exp(-((((down + gap / 2) % gap - gap / 2) / 0.16) ** 2)) * on
    table.colour[:] = table.colour * (1 - 0.30 * line[..., None] * np.array([1.0, 0.75, 0.45], "float32"))


def film(table, at, size, lean=0.0):
    """Clear film under yarn: seen by its edge, its creases and what it reflects."""
    where = inside(table, at, size, lean, 2.0)
    shape = table.height.shape
    bend = table.x * 0.8 + table.y * 0.5 + 22 * cloud(table.rng, shape, 60 * table.px)
    creases = np.exp(-((((bend + 35) % 70 - 35) / 2.5) ** 2)) + 0.5 * cloud(table.rng, shape, 40 * table.px)
    edge = where & ~inside(table, at, (size[0] - 2.4, size[1] - 2.4), lean, 2.0)
    table.plate(where, 0.3 + 0.5 * np.clip(creases, 0, 2), table.colour * 0.955, shine=0.55, polish=90)
    table.colour[edge] *= 1.10


def wall_and_rod(table, rod=-150):
    """A pale wall and a round wooden rod before it, for skeins that hang."""
    shape = table.height.shape
    wall = 0.66 * (1 + 0.02 * cloud(table.rng, shape, 50 * table.px) + 0.008 * table.rng.standard_normal(shape))
    table.plate(
        EVERYWHERE,
        0.12 * cloud(table.rng, shape, 6 * table.px),
        wall[..., None].astype("float32") * np.array([1, 0.99, 0.97], "float32"),
    )
    off = table.y - rod
    where = np.abs(off) < 8
    figure = cloud(table.rng, (shape[0], max(8, shape[1] // 40)), 1.2 * table.px)
    figure = np.repeat(figure, 41, axis=1)[:, : shape[1]]
    wood = from_screen("#b18a5e") * (1 + 0.16 * blurred(figure, 2))[..., None]
    table.plate(where, 12 + np.sqrt(np.clip(64 - off * off, 0, None)), wood, shine=0.05)


def sill(table, edge):
    """A window from inside: morning outside, out of focus, two bars, and the sill from `edge` (y, mm) down."""
    shape = table.height.shape
    down = np.clip((table.y + table.half[1]) / (edge + table.half[1]), 0, 1)
    trees = blurred(np.clip(cloud(table.rng, shape, 34 * table.px) + 1.7 * down - 1.25, 0, 1), 9 * table.px)
    sky = np.stack([0.80 - 0.10 * down, 0.83 - 0.08 * down, 0.86 - 0.07 * down], -1).astype("float32")
    outside = sky * (1 - 0.42 * trees[..., None] * np.array([1.0, 0.86, 1.05], "float32"))
    table.plate(EVERYWHERE, 0.0, outside, glow=1.0)
    bars = (np.abs(table.x + 0.06 * table.half[0]) < 5.5) | (np.abs(table.y + 0.62 * table.half[1]) < 4.5)
    soft = blurred(bars.astype("float32"), 1.4 * table.px)[..., None]
    table.colour[:] = table.colour * (1 - soft) + 0.50 * soft
    below = table.y > edge
    tone = 0.60 + 0.16 * np.exp(-np.clip(table.y - edge, 0, None) / 16)
    tone = tone * (1 + 0.012 * cloud(table.rng, shape, 30 * table.px))
    table.plate(below, 0.0, np.broadcast_to(tone[..., None], (*shape, 3)).astype("float32"), glow=1.0)
