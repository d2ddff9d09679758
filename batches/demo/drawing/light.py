"""A table before a camera, and the light on it.

What lies there is kept for each pixel: how high it is (mm above the board), its colour in linear light, which way it
faces, and how much it shines. Then the light is worked out once for everything: a large soft window, upper left, whose
shadows are found by walking from each pixel towards it; the room's own light, less of it in folds and crevices; the
shine. Lengths are mm, x to the right and y down from the middle of the picture, z towards the camera.
"""

import numpy as np
from PIL import Image, ImageDraw

FINER = 2  # drawn twice as large, then reduced
WINDOW = np.array([-0.46, -0.52, 0.72])
WINDOW = WINDOW / np.linalg.norm(WINDOW)
BETWEEN = (WINDOW + (0, 0, 1)) / np.linalg.norm(WINDOW + (0, 0, 1))  # halfway from the window to the camera
ROOM = 0.40  # the share of light that comes from everywhere


def from_screen(hexcode):
    """ "#rrggbb" in linear light, three floats from 0 to 1 (the transfer function of IEC 61966-2-1, sRGB)."""
    c = np.array([int(hexcode[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4).astype("float32")


def to_screen(light):
    light = np.clip(light, 0, 1)
    return np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)


def blurred(field, radius):
    """A field of floats after three box blurs, which together come close to a Gaussian of this radius in pixels."""
    size = max(1, round(radius))
    for axis in (0, 1, 0, 1, 0, 1):
        pad = [(0, 0)] * field.ndim
        pad[axis] = (size + 1, size)
        run = np.cumsum(np.pad(field, pad, mode="edge"), axis=axis, dtype="float64")
        ahead = np.take(run, range(2 * size + 1, run.shape[axis]), axis=axis)
        behind = np.take(run, range(run.shape[axis] - 2 * size - 1), axis=axis)
        field = ((ahead - behind) / (2 * size + 1)).astype("float32")
    return field


def cloud(rng, shape, size):
    """Smooth noise, about -1 to 1, with features of this many pixels."""
    small = rng.standard_normal([max(3, round(n / size) + 2) for n in shape]).astype("float32")
    picture = Image.fromarray(small).resize(shape[::-1], Image.BICUBIC)
    return np.asarray(picture, "float32") / 1.4


def shifted(field, dx, dy):
    """The field as seen from each pixel when looking (dx, dy) pixels away."""
    h, w = field.shape
    rows, columns = np.clip(np.arange(h) + dy, 0, h - 1), np.clip(np.arange(w) + dx, 0, w - 1)
    return field[rows[:, None], columns]


class Table:
    def __init__(self, size, across_mm, seed):
        self.size = size
        w, h = size[0] * FINER, size[1] * FINER
        self.rng = np.random.default_rng(seed)
        self.px = w / across_mm  # pixels to the millimetre
        self.half = (across_mm / 2, across_mm / 2 * h / w)
        self.x, self.y = np.meshgrid(
            (np.arange(w, dtype="float32") + 0.5 - w / 2) / self.px,
            (np.arange(h, dtype="float32") + 0.5 - h / 2) / self.px,
        )
        self.height = np.zeros((h, w), "float32")
        self.colour = np.full((h, w, 3), 0.7, "float32")
        self.facing = np.zeros((h, w, 3), "float32")
        self.facing[..., 2] = 1
        self.shine = np.zeros((h, w), "float32")
        self.polish = np.full((h, w), 12, "float32")
        self.glow = np.zeros((h, w), "float32")  # 1 where the colour is light itself, as outside a window
        self.pools, self.after = [], []

    # Laying things down

    def plate(self, where, height, colour, shine=0.0, polish=12, glow=0.0):
        """Something flat or softly bent: a mask, its height (number or field), its colour (one, or one each pixel)."""
        height = np.broadcast_to(np.asarray(height, "float32"), self.height.shape)
        down, right = np.gradient(height, 1 / self.px)
        facing = np.stack([-right, -down, np.ones_like(height)], -1)
        facing /= np.linalg.norm(facing, axis=-1, keepdims=True)
        self.height[where] = height[where]
        self.facing[where] = facing[where]
        self.colour[where] = np.broadcast_to(colour, self.colour.shape)[where]
        for field, value in ((self.shine, shine), (self.polish, polish), (self.glow, glow)):
            field[where] = np.broadcast_to(value, self.height.shape)[where]

    def strands(self, path, colour, radius, *, plies=3, lay=7.5, shine=0.05, polish=12, groove=0.5):
        """Yarn: `path` (strands, points, 3) in mm, `colour` and `radius` in mm, one or each point's.

        Each strand is a twisted cord: `plies` of them turning once in `lay` mm, with grooves between. The highest
        piece at a pixel is what the camera sees.
        """
        radius = np.broadcast_to(np.asarray(radius, "float32"), path.shape[:2])
        path, colour, radius, along = self._closer(path, colour, radius[..., None])
        radius = radius[..., 0]
        run = np.gradient(path, axis=1)
        run /= np.linalg.norm(run, axis=-1, keepdims=True) + 1e-9
        flat = np.hypot(run[..., 0], run[..., 1]) + 1e-6
        side = np.stack([-run[..., 1] / flat, run[..., 0] / flat, np.zeros_like(flat)], -1)
        up = np.cross(run, side) * -1
        up *= np.where(up[..., 2:] < 0, -1, 1)
        slices = []
        for v in np.linspace(-0.98, 0.98, max(3, int(np.ceil(radius.max() * 2 * self.px / 0.85)))):
            turned = plies / 2 * (np.arcsin(v) + 2 * np.pi * along / lay)
            ridge = np.abs(np.cos(turned))
            z = path[..., 2] + radius * (np.sqrt(1 - v * v) * up[..., 2] + 0.16 * groove * (ridge - 1))
            x, y = path[..., 0] + radius * v * side[..., 0], path[..., 1] + radius * v * side[..., 1]
            column = np.floor((x + self.half[0]) * self.px).astype("int32")
            row = np.floor((y + self.half[1]) * self.px).astype("int32")
            seen = (column >= 0) & (row >= 0) & (column < self.height.shape[1]) & (row < self.height.shape[0])
            at = (row * self.height.shape[1] + column)[seen]
            z = z[seen].astype("float32")
            np.maximum.at(self.height.reshape(-1), at, z)
            slices.append((v, seen, at, z, ridge, np.sin(2 * turned)))
        for v, seen, at, z, ridge, tilt in slices:
            top = self.height.reshape(-1)[at] <= z
            at, seen = at[top], np.flatnonzero(seen)[top]
            facing = v * side.reshape(-1, 3)[seen] + np.sqrt(1 - v * v) * up.reshape(-1, 3)[seen]
            facing += groove * 0.55 * tilt.reshape(-1)[seen][:, None] * run.reshape(-1, 3)[seen]
            self.facing.reshape(-1, 3)[at] = facing / np.linalg.norm(facing, axis=1, keepdims=True)
            dark = 1 - groove * (1 - ridge.reshape(-1)[seen]) ** 2
            self.colour.reshape(-1, 3)[at] = colour.reshape(-1, 3)[seen] * dark[:, None]
            self.shine.reshape(-1)[at] = shine
            self.polish.reshape(-1)[at] = polish
            self.glow.reshape(-1)[at] = 0

    def _closer(self, *fields):
        """Points three quarters of a pixel apart, and at last the way covered, in mm; the first field is the path."""
        path = fields[0]
        lengths = np.linalg.norm(np.diff(path[..., :2], axis=1), axis=-1)
        n, m = path.shape[1], int(np.ceil(lengths.sum(1).max() * self.px / 0.75)) + 2
        t = np.linspace(0, n - 1.001, m)
        low, share = t.astype(int), (t % 1).astype("float32")[:, None]
        finer = [(field[:, low] * (1 - share) + field[:, low + 1] * share).astype("float32") for field in fields]
        covered = np.concatenate([np.zeros((len(path), 1)), np.cumsum(lengths, axis=1)], axis=1)
        along = covered[:, low] * (1 - share[:, 0]) + covered[:, low + 1] * share[:, 0]
        return (*finer, along + self.rng.uniform(0, 50, (len(path), 1)))

    def hairs(self, path, colour, count, length):
        """Fine fibres that stand off the strands; drawn last, over the light."""
        self.after.append((path, colour, count, length))

    def pool(self, where, level, clear, cloud_colour, murk, ripple=0.5):
        """Liquor up to a level: `clear` is what 10 mm of it let through, `murk` at what depth (mm) things are lost."""
        self.pools.append((where, level, np.asarray(clear), np.asarray(cloud_colour), murk, ripple))

    # The light

    def picture(self):
        surface = self.height.copy()
        for where, level, *_ in self.pools:
            surface[where] = np.maximum(surface[where], level)
        key, room = self._window(surface), self._folds(surface)
        # Yarn lets light round the corner, so its dark side begins late.
        turned = np.clip((self.facing @ WINDOW + 0.18) / (WINDOW[2] + 0.18), 0, None)
        light = (1 - ROOM) * key * turned + ROOM * room * (0.55 + 0.45 * self.facing[..., 2])
        light = light * (1 - self.glow) + self.glow
        lit = self.colour * light[..., None]
        glint = np.clip(self.facing @ BETWEEN, 0, 1) ** self.polish * self.shine * key * (0.4 + 0.6 * room)
        lit = lit + glint[..., None]
        for pool in self.pools:
            lit = self._under(lit, key, *pool)
        fall = 1.03 - 0.055 * (self.x / self.half[0]) - 0.045 * (self.y / self.half[1])
        lit = lit * np.where(self.glow > 0.5, 1, fall)[..., None]
        canvas = Image.fromarray((to_screen(lit) * 255 + 0.5).astype("uint8"))
        self._draw_hairs(canvas, light)
        return canvas.resize(self.size, Image.LANCZOS)

    def _window(self, surface):
        """How much of the window each pixel sees, 0 to 1: a walk towards places all over it, at half the fineness."""
        h, w = surface.shape[0] // 2, surface.shape[1] // 2
        coarse = surface[: h * 2, : w * 2].reshape(h, 2, w, 2).max((1, 3))
        seen, places, px = np.zeros_like(coarse), 15, self.px / 2
        for k in range(places):
            way = np.arctan2(WINDOW[1], WINDOW[0]) + 0.42 * ((k * 0.618) % 1 * 2 - 1)
            slope = WINDOW[2] / np.hypot(*WINDOW[:2]) + 0.5 * (k / places - 0.4)
            open_sky = np.ones_like(coarse)
            for mm in (0.9, 1.6, 2.6, 4.2, 6.5, 10, 15, 22, 32):
                away = mm * (1 + 0.45 * ((k * 0.382) % 1))
                over = shifted(coarse, round(away * px * np.cos(way)), round(away * px * np.sin(way))) - coarse
                open_sky = np.minimum(open_sky, 1 - np.clip((over - slope * away) / (0.4 + 0.22 * away), 0, 1))
            seen += open_sky / places
        soft = Image.fromarray(blurred(seen, 1)).resize(surface.shape[::-1], Image.BILINEAR)
        return np.asarray(soft, "float32")

    def _folds(self, surface):
        """How open each pixel lies to the room, 0 to 1. On the board itself only large things nearby count."""
        room, lying = np.ones_like(surface), np.clip(surface / 6, 0, 1)
        for mm, strength in ((1.2, 0.70), (5, 0.50), (18, 0.40)):
            below = blurred(surface, mm * self.px / 1.7) - surface
            share = strength * (lying if mm < 6 else 0.6 + 0.4 * lying)
            room *= 1 - share * np.clip(below / mm, 0, 1.2) / 1.2
        return room

    def _under(self, lit, key, where, level, clear, cloud_colour, murk, ripple):
        deep = np.where(where, np.clip(level - self.height, 0, None), 0)
        through = clear ** (deep[..., None] / 10)
        veil = (1 - np.exp(-deep / murk))[..., None]
        light = ((1 - ROOM) * key + ROOM)[..., None]
        lit = np.where(deep[..., None] > 0, lit * through * (1 - veil) + cloud_colour * veil * light, lit)
        waves = sum(cloud(self.rng, deep.shape, mm * self.px) * mm for mm in (9, 22)) * ripple / 18
        down, right = np.gradient(waves, 1 / self.px)
        wet = deep > 0.2
        reflected = self._panes(self.x + 75 * right, self.y + 75 * down)
        lit = lit + (wet * (0.010 + 0.20 * reflected * (0.25 + 0.75 * key)))[..., None]
        edge = blurred(wet.astype("float32"), 0.9 * self.px)
        rim = np.where(wet, np.clip(1 - edge, 0, 1) * 2, 0)
        return lit + (0.10 * rim * key)[..., None] * np.array([1, 1, 1])

    def _panes(self, x, y):
        """The window with its bars, as it lies on the water, upper left."""
        s = min(self.half)
        u, v = (x + 0.30 * s) / (0.24 * s) + (y + 0.30 * s) / (0.9 * s), (y + 0.34 * s) / (0.20 * s)
        inside = (np.abs(u) < 1) & (np.abs(v) < 1) & (np.abs(u) > 0.07) & (np.abs(v) > 0.08)
        return blurred(inside.astype("float32"), 1.1 * self.px)

    def _draw_hairs(self, canvas, light):
        layer = Image.new("RGBA", canvas.size, (0, 0, 0, 0))
        draw = ImageDraw.Draw(layer)
        for path, colour, count, length in self.after:
            for _ in range(count):
                i, j = self.rng.integers(path.shape[0]), self.rng.integers(path.shape[1])
                x, y, z = path[i, j]
                column, row = int((x + self.half[0]) * self.px), int((y + self.half[1]) * self.px)
                if not (0 <= column < canvas.width and 0 <= row < canvas.height) or self.height[row, column] > z + 3:
                    continue
                way, at, points = self.rng.uniform(0, 2 * np.pi), np.array([column, row], float), [(column, row)]
                for _ in range(6):
                    way += self.rng.normal(0, 0.4)
                    at = at + self.px * length / 6 * self.rng.uniform(0.5, 1.3) * np.array([np.cos(way), np.sin(way)])
                    points.append(tuple(at))
                tone = to_screen(colour[i, j] * (0.55 + 0.6 * light[row, column]))
                draw.line(points, fill=(*(tone * 255).astype(int).tolist(), 100), width=1)
        canvas.paste(layer, mask=layer.getchannel("A"))
