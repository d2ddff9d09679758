"""Pots seen from above, and jars seen from the side, with the liquor in them."""

import numpy as np

from .light import cloud, from_screen

STEEL, ENAMEL, SPECK = from_screen("#b9bbbd"), from_screen("#e9e8e4"), from_screen("#31353c")


def from_rim(table, half, corner):
    """How far each pixel is outside the rim (negative: inside), in mm. A round pot is all corner."""
    dx, dy = np.abs(table.x) - half[0] + corner, np.abs(table.y) - half[1] + corner
    return np.hypot(np.maximum(dx, 0), np.maximum(dy, 0)) + np.minimum(np.maximum(dx, dy), 0) - corner


def pot(table, half, corner, deep, kind="steel"):
    """A pot or pan: its rolled rim, its wall going down, its floor and two handles; answers where its inside is.

    `half` are half its length and width; heights are above the board it stands on.
    """
    out = from_rim(table, half, corner)
    metal, shine, polish = {
        "steel": (STEEL, 0.55, 28),
        "enamel": (ENAMEL, 0.22, 60),
        "dark": (from_screen("#3a3d43"), 0.30, 40),
    }[kind]
    tone = np.broadcast_to(metal, table.colour.shape)
    if kind == "steel":
        around = np.arctan2(table.y, table.x)
        tone = tone * (0.90 + 0.10 * np.cos(2 * (around - 0.9)) + 0.03 * np.sin(out * 9))[..., None]
    edge = np.broadcast_to(SPECK, tone.shape) if kind == "enamel" else tone
    for side in (-1, 1):
        _handle(table, side * (half[0] + 11), deep * 0.8, edge, shine, polish)
    wall = np.clip(1 + out / 12, 0, 1)
    table.plate(out < 0, 4 + wall**0.5 * deep, tone * 0.85, shine, polish)
    table.plate(np.abs(out) < 4, deep + np.sqrt(np.clip(16 - out**2, 0, None)), edge, shine * 1.2, polish)
    return out < -4


def _handle(table, x, height, tone, shine, polish):
    x, y = (table.x - x) / 13, table.y / 30
    ring = np.abs(np.hypot(x, y) - 0.8) * 13
    outer = ring < 4
    table.plate(outer, height + np.sqrt(np.clip(16 - ring**2, 0, None)), tone, shine, polish)


class Jar:
    """A glass jar on a sill: its middle line (x), the sill it stands on (y), its radius and height in mm."""

    def __init__(self, table, x, foot, radius, height):
        self.table, self.x, self.foot, self.radius, self.height = table, x, foot, radius, height
        across, up = table.x - x, foot - table.y
        shoulder = np.clip((up - height * 0.86) / (height * 0.14), 0, 1)
        base = np.clip(1 - up / 5, 0, 1)
        self.reach = radius * (1 - 0.20 * shoulder**1.6) - 3 * base**2
        self.share = across / self.reach  # -1 at the left wall, 1 at the right
        self.where = (np.abs(self.share) < 1) & (up > 0) & (up < height)
        self.up = up

    def contents(self):
        return self.x, self.foot - 3, self.radius - 2.5

    def fill(self, level, clear):
        """Liquor to `level` mm: what lies behind is seen through as much of it as the jar is thick there."""
        chord = np.sqrt(np.clip(1 - self.share**2, 0, 1)) * self.radius * 2
        wet = self.where & (self.up < level + 1.2 * self.share**2)
        thick = np.where(self.table.height > 0.5, np.clip(self.radius * 0.10, 2, None), chord)
        seen = np.asarray(clear, "float32") ** (thick[..., None] / 10)
        self.table.colour[wet] = (self.table.colour * seen)[wet]
        line = self.where & (np.abs(self.up - level - 0.4) < 0.7)
        self.table.colour[line] = self.table.colour[line] * 0.6 + 0.22

    def glass(self):
        """The walls darken towards the sides, the window draws a bright stroke, and the foot is thick."""
        t, s = self.table, np.abs(self.share)
        dark = 1 - 0.55 * np.clip((s - 0.90) / 0.10, 0, 1) ** 1.5 - 0.10 * np.clip((s - 0.6) / 0.4, 0, 1)
        foot = np.clip(1 - np.abs(self.up - 3) / 3, 0, 1)
        look = t.colour * (dark * (1 - 0.35 * foot))[..., None]
        stroke = 0.50 * np.exp(-(((self.share + 0.62) / 0.055) ** 2)) + 0.16 * np.exp(
            -(((self.share - 0.72) / 0.04) ** 2)
        )
        ends = np.clip((self.up - 8) / 16, 0, 1) * np.clip((self.height * 0.84 - self.up) / 12, 0, 1)
        look = look + (stroke * ends * (0.85 + 0.15 * cloud(t.rng, s.shape, 8 * t.px)))[..., None]
        t.colour[self.where] = look[self.where]

    def lid(self, lean=0.03, lift=2.0, tone="#8f9296"):
        """A lid that lies on loosely, never screwed down."""
        t = self.table
        x, y = t.x - self.x, self.foot - self.height - lift - t.y
        x, y = x * np.cos(lean) - y * np.sin(lean), y * np.cos(lean) + x * np.sin(lean)
        wide = self.radius * 0.92
        where = (np.abs(x) < wide) & (y > -3) & (y < 9)
        share = x / wide
        tin = 0.55 + 0.55 * np.exp(-(((share + 0.45) / 0.22) ** 2)) + 0.12 * np.sign(np.sin(share * 1.5 * 40)) * (y < 6)
        tin = tin * np.where(y > 7.4, 1.35, 1) * np.where(np.abs(share) > 0.94, 0.6, 1) * np.where(y < -2.2, 0.5, 1)
        colour = from_screen(tone) * tin[..., None]
        t.plate(where, 0.0, colour.astype("float32"), glow=1.0)

    def shade(self, clear):
        """Light that came through the jar lies on the sill before it, coloured."""
        t = self.table
        y = (t.y - self.foot) / (self.height * 0.55)
        x = (t.x - self.x - 9 * y) / (self.radius * (1.02 + 0.25 * y))
        fall = np.exp(-(np.clip(np.abs(x), 0, 3) ** 6)) * np.exp(-np.clip(y, 0, None) * 1.2) * (y > -0.02)
        dim = 1 - fall[..., None] * (0.72 - 0.62 * np.asarray(clear) ** 3)
        mask = (t.height < 0.5) & (y > -0.02)
        t.colour[mask] = (t.colour * dim)[mask].astype("float32")
        contact = np.exp(-(((t.y - self.foot) / 2.2) ** 2)) * (np.abs(t.x - self.x) < self.radius * 0.98)
        t.colour[mask] = (t.colour * (1 - 0.5 * contact)[..., None])[mask]
