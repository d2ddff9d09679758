"""Draws the photographs of the demo studio, all or those named:

    python -m batches.demo.drawing [NAME...] [--into FOLDER]

needs numpy (see `tests/requirements.txt`) and some seconds for each.
"""

import argparse
import io
import tomllib
from pathlib import Path

import numpy as np

from .dye import Dyeing
from .scenes import SCENES, Skein

TABLE = Path(__file__).with_name("pictures.toml")
PHOTOS = Path(__file__).parents[1] / "photos"
MOST_BYTES = 60_000
PORTRAIT, LANDSCAPE = (600, 750), (900, 675)
LANDSCAPES = {"in-the-pot", "jars"}

DYED = ("zones", "uneven", "blend", "speckle", "depth", "repeats")
SPUN = ("thick", "rough", "hairs", "halo", "groove", "loose")


def pictures():
    """{name: what to draw}, from the table."""
    return tomllib.loads(TABLE.read_text(encoding="utf-8"))


def colours(words):
    """["#9c3122 30", ...] -> [("#9c3122", 30.0), ...]"""
    return [(colour, float(amount)) for colour, amount in (word.split() for word in words)]


def skein_of(row, rng):
    dyed = {key: row[key] for key in DYED if key in row}
    for key in ("zones", "speckle"):
        if key in dyed:
            dyed[key] = colours(dyed[key])
    return Skein(Dyeing(**dyed), rng, **{key: row[key] for key in SPUN if key in row})


def draw(row, size=None):
    """One row of the table -> a Pillow picture; the same row gives the same picture each time."""
    row = dict(row)
    scene, seed = row.pop("scene"), row.pop("seed")
    yarn = {key: row.pop(key) for key in (*DYED, *SPUN) if key in row}
    own = row.pop("skeins", None) or [{}] * row.pop("count", 1)
    skeins = [skein_of(yarn | more, np.random.default_rng([seed, k])) for k, more in enumerate(own)]
    wide = row.pop("landscape", scene in LANDSCAPES)
    size = size or (LANDSCAPE if wide else PORTRAIT)
    return SCENES[scene](size, seed, skeins, **row)


def as_jpeg(picture):
    """The best quality that stays small; no EXIF, like what the darkroom makes of an upload."""
    for quality in range(84, 30, -3):
        held = io.BytesIO()
        picture.save(held, "JPEG", quality=quality, optimize=True, progressive=True)
        if held.tell() <= MOST_BYTES:
            break
    return held.getvalue()


def main():
    table = pictures()
    ask = argparse.ArgumentParser(prog="python -m batches.demo.drawing", description="Draws the demo photographs.")
    ask.add_argument("names", nargs="*", metavar="NAME", help="a row of pictures.toml; all where none is named")
    ask.add_argument("--into", type=Path, default=PHOTOS, metavar="FOLDER", help="where the files go")
    asked = ask.parse_args()
    unknown = set(asked.names) - set(table)
    if unknown:
        ask.error(f"There is no picture called {', '.join(sorted(unknown))} in {TABLE.name}.")
    asked.into.mkdir(parents=True, exist_ok=True)
    for name in asked.names or table:
        data = as_jpeg(draw(table[name]))
        (asked.into / f"{name}.jpg").write_bytes(data)
        print(f"{name}.jpg {len(data) / 1000:.0f} kB", flush=True)


if __name__ == "__main__":
    main()
