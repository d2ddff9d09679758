"""White cloth, dry or damp, and what wet dye leaves on cloth and paper."""

import numpy as np

from .board import inside
from .dye import density
from .light import cloud


def cloth(table, at, size, lean=0.0, stain=None, strength=0.35, damp=True):
    """A square of plain-woven cotton; `stain` is the colour that came off, `strength` its depth at the middle."""
    rng, shape = table.rng, table.height.shape
    ragged = 0.7 * cloud(rng, shape, 7 * table.px)
    x, y = table.x - at[0], table.y - at[1]
    along, across = x * np.cos(lean) + y * np.sin(lean), y * np.cos(lean) - x * np.sin(lean)
    where = inside(table, at, size, lean) & (np.abs(along) < size[0] / 2 + ragged - 0.8)
    where &= np.abs(across) < size[1] / 2 + ragged - 0.8
    warp, weft = np.sin(2 * np.pi * along / 1.1), np.sin(2 * np.pi * across / 1.1)
    weave = 0.16 * np.maximum(warp * np.sign(weft), weft * np.sign(-warp))
    bend = across + 14 * cloud(rng, shape, 60 * table.px) + 0.35 * along
    folds = 1.4 * np.exp(-((((bend + 30) % 61 - 30) / 5.5) ** 2)) + 1.6 * cloud(rng, shape, 70 * table.px)
    lost = np.broadcast_to(density("#f1f0ec"), (*shape, 3)) * (1.5 if damp else 1.0)
    if stain:
        spot = np.hypot(along / (size[0] * 0.26), across / (size[1] * 0.30)) + 0.30 * cloud(rng, shape, 12 * table.px)
        tide = 0.35 * np.exp(-(((spot - 0.95) / 0.10) ** 2))  # dye gathers where the wet ended
        deep = np.clip(1.05 - spot, 0, 1) ** 0.7 * (0.8 + 0.22 * cloud(rng, shape, 9 * table.px)) + tide
        lost = lost + (strength * np.clip(deep, 0, 1.4))[..., None] * density(stain)
    table.plate(where, 2.6 + weave + folds, np.exp(-lost), shine=0.10 if damp else 0.0, polish=20)


def blot(table, at, radius, colour, strength=0.5):
    """A drop of dye that dried on paper, darker where its wet ended."""
    away = np.hypot(table.x - at[0], table.y - at[1]) / radius
    away = away + 0.16 * cloud(table.rng, table.height.shape, radius * 0.7 * table.px)
    tide = 0.8 * np.exp(-(((away - 0.94) / 0.07) ** 2))
    deep = strength * np.where(away < 1, 0.55 + tide, tide * (away < 1.1))
    table.colour[:] = table.colour * np.exp(-deep[..., None] * density(colour))
