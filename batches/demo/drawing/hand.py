"""Handwriting: each letter is a few strokes of a pen, drawn by a hand that is never quite steady.

A stroke is its points, two digits each: to the right, and up from 0, the lowest tail of a g; 2 is the line that is
written on, 6 the height of an x, 9 that of a capital.
"""

import numpy as np
from PIL import Image, ImageDraw

from .light import blurred, cloud, from_screen

LINE, GAP, SPACE = 2, 1.7, 3.0
SLANT = 0.16
LETTERS = {
    "a": "45361604122244 464352",
    "b": "0902 04163644321203",
    "c": "45361604123243",
    "d": "45361604122244 494352",
    "e": "04344536160413223243",
    "f": "48392822 1646",
    "g": "45361604122244 46413010",
    "h": "0902 0416364442",
    "i": "060312 08",
    "k": "0902 3604 0442",
    "l": "090312",
    "m": "0602 0416263432 3446566462",
    "n": "0602 0416364442",
    "o": "160503123243453616",
    "p": "0600 04163644321203",
    "r": "0602 041636",
    "s": "453616052443321203",
    "t": "18132232 0636",
    "u": "0603122244 464352",
    "v": "062246",
    "w": "0612355266",
    "x": "0642 4602",
    "y": "0624 462310",
    "z": "064602 0242",
    "B": "0902 0929482606 2645432202",
    "F": "0902 0949 0636",
    "H": "0902 4942 0646",
    "M": "0209 0925 2549 4942",
    "0": "29070422444729",
    "1": "0729 2922",
    "2": "0719394602 0242",
    "3": "081939472644321203",
    "4": "2904 0454 3632",
    "5": "4909 0906 06264543321203",
    "6": "391603224335250304",
    "7": "0949 4922",
    "8": "290826442204264829",
    "9": "482907254748 484322",
    ".": "12",
    ",": "1201",
    "!": "2924 22",
    "°": "1908172819",
    "-": "0545",
}


def strokes_of(letter):
    """[(points, 2)] of a letter."""
    return [
        np.array([(int(right), int(up)) for right, up in zip(one[::2], one[1::2], strict=True)], float)
        for one in LETTERS[letter].split()
    ]


def rounded(points, finer=9):
    """The way of a pen through these points: a Catmull-Rom curve, straight where there are only two of them."""
    if len(points) < 3:
        return points
    p = np.concatenate([points[:1], points, points[-1:]])
    t = np.linspace(0, 1, finer, endpoint=False)[:, None]
    a, b, c, d = p[:-3, None], p[1:-2, None], p[2:-1, None], p[3:, None]
    way = b + 0.5 * t * (c - a + t * (2 * a - 5 * b + 4 * c - d + t * (3 * (b - c) + d - a)))
    return np.concatenate([way.reshape(-1, 2), points[-1:]])


def written(rng, line):
    """[(points, 2)]: a line of words as the pen goes, from 0 to the right, in the letters' own unit."""
    strokes, x = [], 0.0
    for letter in line:
        if letter == " ":
            x += SPACE * rng.uniform(0.85, 1.25)
            continue
        lift, tall, lean = rng.normal(0, 0.22), rng.normal(1, 0.05), rng.normal(SLANT, 0.04)
        drawn = [stroke + rng.normal(0, 0.13, stroke.shape) for stroke in strokes_of(letter)]
        for stroke in drawn:
            up = (stroke[:, 1] - LINE) * tall
            strokes.append(rounded(np.stack([x + stroke[:, 0] + lean * up, up + lift], -1)))
        x += max(stroke[:, 0].max() for stroke in drawn) + GAP * rng.uniform(0.8, 1.15)
    return strokes


def write(table, lines, at, lean=0.0, unit=0.78, gap=13.0, ink="#2c3350", pen=0.55):
    """Lines of words on what lies there, the first letter of the first at `at` (mm), `gap` mm apart."""
    mask = Image.new("L", table.height.shape[::-1], 0)
    draw = ImageDraw.Draw(mask)
    for number, line in enumerate(lines):
        climb, start = table.rng.normal(0.008, 0.008), table.rng.normal(0, 0.9)
        for points in written(table.rng, line):
            x, y = start + points[:, 0] * unit, number * gap - points[:, 1] * unit - climb * points[:, 0]
            x, y = at[0] + x * np.cos(lean) - y * np.sin(lean), at[1] + x * np.sin(lean) + y * np.cos(lean)
            way = [*zip((x + table.half[0]) * table.px, (y + table.half[1]) * table.px, strict=True)]
            wide = pen * table.px * table.rng.uniform(0.85, 1.15)
            if len(way) > 1:
                draw.line(way, fill=255, width=max(1, round(wide)), joint="curve")
            for px, py in (way[0], way[-1]):
                draw.ellipse((px - wide / 2, py - wide / 2, px + wide / 2, py + wide / 2), fill=255)
    shape = table.height.shape
    wet = blurred(np.asarray(mask, "float32") / 255, 0.12 * table.px)
    wet = np.clip(1.25 * wet * (0.86 + 0.10 * cloud(table.rng, shape, 2.5 * table.px)), 0, 1)[..., None]
    table.colour[:] = table.colour * (1 - wet * (1 - from_screen(ink)))
