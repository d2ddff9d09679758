"""The drawn photographs of the demo studio: the table and the files say the same, and drawing is repeatable."""

import tomllib
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

DEMO = Path(__file__).resolve().parents[2] / "batches" / "demo"
FILES = sorted((DEMO / "photos").iterdir())
TABLE = tomllib.loads((DEMO / "drawing" / "pictures.toml").read_text(encoding="utf-8"))
RATIOS = {(4, 5), (4, 3)}


def test_every_picture_of_the_table_is_drawn_and_no_other():
    assert {path.name for path in FILES} == {f"{name}.jpg" for name in TABLE}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_picture_is_a_small_plain_jpeg_of_a_photograph_s_shape(path):
    with Image.open(path) as picture:
        assert picture.format == "JPEG"
        assert not picture.getexif()
        width, height = picture.size
    assert any(width * down == height * across for across, down in RATIOS), picture.size
    assert path.stat().st_size <= 60_000


def test_all_together_are_a_small_download():
    assert sum(path.stat().st_size for path in FILES) <= 2_800_000


def test_the_same_row_draws_the_same_bytes():
    pytest.importorskip("numpy", reason="numpy is needed to draw, and only to draw; tests/requirements.txt has it")
    from batches.demo.drawing.__main__ import as_jpeg, draw

    row = {"scene": "hanks", "seed": 1, "zones": ["#3c6e71 60", "#d39a3c 40"], "speckle": ["#20201f 4"], "hairs": 40}
    once, again, other = (as_jpeg(draw(row | {"seed": seed}, (60, 75))) for seed in (1, 1, 2))
    assert once == again
    assert once != other
    with Image.open(BytesIO(once)) as picture:
        assert picture.size == (60, 75)
        # Neither an empty board nor one block of colour.
        assert len(picture.convert("RGB").quantize(16).getcolors()) > 8
