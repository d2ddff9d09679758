"""Shapes of yarn: hanks, skeins, rings in a pot, a cone, knitting.

Each answers (path, place): the strands' points (strands, points, 3) in mm about the shape's own middle, and where on
the skein's loop each point is, (strands, points) from 0 to 1.
"""

import numpy as np

from .dye import wave

GOLDEN = 2.39996  # an angle that spreads strands evenly over a bundle


def stadium(points, length, r):
    """A loop with straight sides: along its axis and across it, and the outward normal. Ends where it begins."""
    straight, cap = length - 2 * r, np.pi * r
    s = np.linspace(0, 2 * (straight + cap), points)
    along, across, nx, ny = (np.zeros(points) for _ in range(4))
    for start, sign in ((0, 1), (straight + cap, -1)):
        on = (s >= start) & (s < start + straight)
        along[on], across[on], ny[on] = sign * (s[on] - start - straight / 2), sign * r, sign
        on = (s >= start + straight) & (s <= start + straight + cap + 1e-9)
        angle = sign * np.pi / 2 - (s[on] - start - straight) / r
        nx[on], ny[on] = np.cos(angle), np.sin(angle)
        along[on], across[on] = sign * straight / 2 + r * nx[on], r * ny[on]
    return along, across, nx, ny


def bundle(rng, strands, u, wander=0.35, loose=0.06, hollow=0.0):
    """Where in a round bundle each strand runs: two fields (strands, points) within about -1 to 1.

    `hollow` is the share of the bundle that is left out, where nobody could see in.
    """
    i = np.arange(strands)[:, None]
    rho = np.sqrt(hollow + (1 - hollow) * (i + 0.5) / strands) * (1 + 0.05 * rng.standard_normal((strands, 1)))
    rho = np.clip(rho + loose * wave(rng, u, 4, strands), 0.02, 1.10)
    phi = i * GOLDEN + 4 * np.pi * u + wander * wave(rng, u, 4, strands)
    return rho * np.cos(phi), rho * np.sin(phi)


def hank(rng, length=300, half=36, turns=2.0, strands=140, points=560, loose=0.06):
    """A skein twisted about its long axis (upright), as it is sold."""
    u = np.linspace(0, 1, points)
    length, r, thick = length - half, half * 0.50, half * 0.56
    along, across, nx, ny = stadium(points, length, r)
    turn = 2 * np.pi * turns * along / length
    taper = 1 - 0.22 * np.abs(along / (length / 2)) ** 8
    p, q = bundle(rng, strands, u, loose=loose, hollow=0.42)
    x = along + thick * p * nx
    y, z = (across + thick * p * ny) * taper, thick * q * taper
    y, z = y * np.cos(turn) - z * np.sin(turn), y * np.sin(turn) + z * np.cos(turn)
    return np.stack([y, -x, z + half], -1), np.broadcast_to(u, y.shape)


def skein(rng, length=330, gap=46, thick=17, flat=0.55, strands=130, points=520, sway=3.0):
    """An open skein laid down: two bundles side by side, joined by its bends."""
    u = np.linspace(0, 1, points)
    along, across, nx, ny = stadium(points, length - 2 * thick, gap / 2)
    p, q = bundle(rng, strands, u, wander=0.8, loose=0.10, hollow=0.3)
    shared, own = wave(rng, u, 5), wave(rng, u, 7, strands)
    x = along + thick * p * nx + 0.5 * sway * own * nx
    y = across + thick * p * ny + sway * (shared + 0.5 * own) * np.where(np.abs(ny) > 0.9, 1, 0.3)
    z = thick * flat * (q + 1) * (1 + 0.12 * shared)
    return np.stack([y, -x, z], -1), np.broadcast_to(u, y.shape)


def hung(rng, length=290, top=7, bottom=13, thick=13, strands=150, points=420):
    """A skein over a rod, limp if wet: from the middle of the rod down, narrow above and full below."""
    u = np.linspace(0, 1, points)
    along, across, nx, ny = stadium(points, length, bottom)
    p, q = bundle(rng, strands, u, wander=1.0, loose=0.14)
    low = np.clip((along + length / 2) / length, 0, 1)  # 0 at the rod, 1 at the bottom
    spread = (top / bottom) + (1 - top / bottom) * np.clip(low * 1.6, 0, 1) ** 0.8
    own = rng.standard_normal((strands, 1)) * 0.025  # no two strands are of one length
    y = (along + length / 2) * (1 + own * np.clip(low, 0.15, 1)) + thick * p * nx
    x = (across + thick * p * ny) * spread + 2.6 * wave(rng, u, 6) + 1.0 * wave(rng, u, 9, strands)
    x += 3.0 * wave(rng, np.linspace(0, 0.7, points), 2) * low
    z = 12 + thick * 0.8 * (q + 1) * (0.6 + 0.4 * spread) + np.where(low < 0.03, 2.5, 0)
    return np.stack([x, y, z], -1), np.broadcast_to(u, x.shape)


def in_pot(rng, radius, top, strands=110, points=420):
    """One skein in a pot: a loose bundle that winds in a round, its upper side at about `top`.

    The place on its loop follows the side of the pot, as where dye is poured in at the sides.
    """
    u = np.linspace(0, 1, points)
    off, side = radius * rng.uniform(0.06, 0.24), rng.uniform(0, 2 * np.pi)
    round_ = radius * rng.uniform(0.42, 0.74) * (1 + 0.20 * wave(rng, u, 3))
    spin = 2 * np.pi * (u + rng.random()) + 0.35 * wave(rng, u, 3)
    p, q = bundle(rng, strands, u, wander=1.6, loose=0.30)
    wide = radius * 0.19 * (1 + 0.3 * wave(rng, u, 3))
    far = round_ + wide * p + 0.05 * radius * wave(rng, u, 8, strands)
    x, y = off * np.cos(side) + far * np.cos(spin), off * np.sin(side) + far * np.sin(spin)
    over = np.maximum(np.hypot(x, y) / (radius * 0.97), 1)
    z = top - 0.11 * radius * (1 - q) + 0.05 * radius * wave(rng, u, 4)
    place = (np.arctan2(y, x) / (2 * np.pi) + 0.02 * wave(rng, u, 4, strands)) % 1
    return np.stack([x / over, y / over, z], -1), place


def in_jar(rng, radius, height, strands=95, points=300):
    """Yarn pressed into a jar, seen from the side: loops that lie askew, up to a `height` above the jar's floor."""
    u = np.linspace(0, 1, points)
    level = (np.arange(strands)[:, None] + 0.5) / strands * height * 0.9
    turns = rng.uniform(1.2, 2.4, (strands, 1))
    angle = 2 * np.pi * (turns * u + rng.random((strands, 1))) + 0.5 * wave(rng, u, 3, strands)
    far = radius * np.clip(0.93 + 0.12 * wave(rng, u, 4, strands), 0.4, 0.98)
    askew = height * np.clip(0.13 * rng.standard_normal((strands, 1)), -0.26, 0.26)
    y = level + askew * np.cos(angle - 6.3 * rng.random((strands, 1))) + 0.05 * height * wave(rng, u, 5, strands)
    low, high = 2 + rng.uniform(0, 3, (strands, 1)), height + 3 * wave(rng, u, 3)
    y = np.minimum(np.maximum(y, low), high - rng.uniform(0, 4, (strands, 1)))
    x, z = far * np.cos(angle), far * np.sin(angle)
    return np.stack([x, -y, z + radius], -1), np.broadcast_to(u, x.shape)


def hitched(rng, length=66, strands=10, points=60):
    """A snippet hitched to a hole at its top, hanging down in short, loose ends."""
    u = np.linspace(0, 1, points)
    side = np.linspace(-1, 1, strands)[:, None] + 0.15 * rng.standard_normal((strands, 1))
    ends = length * (1 + 0.06 * rng.standard_normal((strands, 1)))
    x = side * (2.2 + 5.0 * u**0.7) + 1.5 * wave(rng, u * 0.6, 3, strands) * u
    z = 2.2 + 1.6 * np.sqrt(np.clip(1 - 0.8 * side * side, 0.05, 1)) + 0.4 * wave(rng, u, 3, strands)
    return np.stack([x, u * ends, z], -1), np.broadcast_to(u, x.shape)


def knot(points=80, size=3.6):
    """The hitch itself: a thick turn over the paper's edge, two turns wide."""
    t = np.linspace(0, 1, points)
    turns = [
        np.stack([size * np.cos(np.pi * t), y + 1.2 * np.sin(np.pi * t), 2 + 4.4 * np.sin(np.pi * t)], -1)
        for y in (-1.6, 0.4, 2.2)
    ]
    lead = np.stack([-1.1 + 0 * t, -8 + 8 * t, 1 + 3.2 * t], -1)
    return np.array([*turns, lead, lead + (2.2, 0, 0)]), np.broadcast_to(t, (5, points))


def cone(rng, height=190, top=22, bottom=56, layers=16, side_by_side=15, points=700):
    """Yarn wound crosswise on a cone that lies on its side: its axis upright in the picture, the small end above."""
    s = np.linspace(0, 1, points)
    share = 0.5 - 0.5 * np.cos(np.pi * s)  # the winder turns round softly at the ends
    paths = []
    for layer in range(layers):
        y = (share - 0.5) * (1 if layer % 2 else -1)
        for k in range(side_by_side):
            r = top + (bottom - top) * (y + 0.5) + 0.05 * layer + 0.35 * rng.random() - 2.5 * np.abs(2 * y) ** 14
            angle = 2 * np.pi * ((5.2 + 0.1 * rng.random()) * s + (k + 0.5 * rng.random()) / side_by_side) + layer * 1.7
            paths.append(np.stack([r * np.cos(angle), y * height, r * np.sin(angle) + bottom], -1))
    paths = np.array(paths)
    return paths, np.broadcast_to(s, paths.shape[:2])


def knitted(rng, stitches=17, rows=20, stitch=5.6, row=4.4, points=24):
    """Stocking stitch, right side up: each row one strand whose loops hang in the row below."""
    t = np.linspace(0, stitches, stitches * points)
    paths = []
    for k in range(rows):
        a = 2 * np.pi * t
        x = (t - stitches / 2) * stitch + 0.24 * stitch * np.sin(2 * a)
        y = (rows / 2 - k) * row + 0.86 * row * np.cos(a)
        z = 2.3 - 0.95 * np.cos(2 * a) - 0.5 * np.cos(a)
        wobble = 0.22 * wave(rng, t / stitches, 9, 2)
        paths.append(np.stack([x + wobble[0], y + wobble[1], z], -1))
    paths = np.array(paths)
    order = np.linspace(0, 1, rows * len(t)).reshape(rows, len(t))
    return paths, order


def placed(path, at=(0, 0), lean=0.0):
    """The shape turned by `lean` (radians, clockwise) and moved to a place on the board."""
    cos, sin = np.cos(lean), np.sin(lean)
    x, y = path[..., 0] * cos - path[..., 1] * sin, path[..., 0] * sin + path[..., 1] * cos
    return np.stack([x + at[0], y + at[1], path[..., 2]], -1)
