"""Colour along yarn, as dye makes it.

Dye takes light away: twice as much dye leaves the square of what was left of the light. So all shading here is worked
out in densities, minus the logarithm of what is reflected, where colours that meet mix as dyes do.
"""

import numpy as np

from .light import from_screen


def density(hexcode):
    return -np.log(np.clip(from_screen(hexcode), 0.004, 0.98))


def wave(rng, u, octaves=4, rows=1):
    """Smooth noise that closes on itself, about -1 to 1: (rows, points), along u from 0 to 1."""
    out = np.zeros(np.broadcast_shapes((rows, 1), u.shape))
    for k in range(1, octaves + 1):
        start, strength = rng.random((rows, 1)), rng.uniform(0.5, 1, (rows, 1))
        out += np.sin(2 * np.pi * (k * u + start)) / k * strength
    return out / 1.6


class Dyeing:
    """How a skein was dyed, from a table's row.

    zones    [[colour, width], ...] laid around the skein's loop; one zone is a solid
    uneven   how much the depth of shade varies, from place to place and from strand to strand
    repeats  how often the zones come round, where yarn is shown that was wound off the skein
    blend    how far neighbouring colours run into each other, as a share of the loop
    speckle  [colour, spots on each strand] sprinkled on top
    depth    1 as it is; 0.5 half the dye, 2 twice
    """

    def __init__(self, zones, uneven=0.12, blend=0.012, speckle=None, depth=1.0, repeats=1):
        self.densities = np.array([density(colour) for colour, _ in zones]) * depth
        widths = np.array([width for _, width in zones], float)
        self.edges = np.concatenate([[0], np.cumsum(widths / widths.sum())])
        self.uneven, self.blend, self.speckle, self.repeats = uneven, blend, speckle, repeats

    def along(self, rng, u, strands, wet=False):
        """Colours (strands, points, 3) for places u (points,) or (strands, points) on the loop."""
        u = np.broadcast_to(u, (strands, u.shape[-1]))
        lost = self._zones(rng, u)
        patchy = wave(rng, u, 7) + 0.5 * wave(rng, u, 3, strands) + 0.35 * rng.standard_normal((strands, 1))
        lost = lost * (1 + self.uneven * np.clip(patchy, -2, 2.5))[..., None]
        for colour, spots in self.speckle or []:
            lost = lost + self._spots(rng, u, spots)[..., None] * density(colour)
        return np.exp(-lost * (1.35 if wet else 1)).astype("float32")

    def _zones(self, rng, u):
        strands = len(u)
        if len(self.densities) == 1:
            return np.broadcast_to(self.densities[0], (*u.shape, 3))
        t = (
            u * self.repeats
            + self.blend * (0.8 * rng.standard_normal((strands, 1)) + 1.2 * wave(rng, u * 3 % 1, 4, strands))
        ) % 1
        out, total = np.zeros((*u.shape, 3)), np.zeros(u.shape)
        for i, colour in enumerate(self.densities):
            middle, half = (self.edges[i] + self.edges[i + 1]) / 2, (self.edges[i + 1] - self.edges[i]) / 2
            outside = np.abs((t - middle + 0.5) % 1 - 0.5) - half
            share = 1 / (1 + np.exp(np.clip(outside / max(self.blend, 1e-3), -30, 30)))
            out += share[..., None] * colour
            total += share
        return out / total[..., None]

    def _spots(self, rng, u, spots):
        """Depth of a sprinkled dye: a grain colours the strands beside each other, and a little along them.

        In a bundle laid out by the golden angle, neighbours are 8, 13 and 21 strands apart.
        """
        out = np.zeros(u.shape)
        strands, points = u.shape
        for _ in range(int(spots * strands / 4)):
            at, first, grain = rng.integers(points), rng.integers(strands), rng.gamma(2.0, 0.35)
            for apart in rng.permutation([0, 8, 13, 21, -8, -13, -21])[: rng.integers(1, 6)]:
                length = rng.integers(2, 7)
                place = (at + rng.integers(-1, 2) + np.arange(length)) % points
                out[(first + apart) % strands, place] += grain * np.hanning(length + 2)[1:-1]
        return np.minimum(out, 1.5)
