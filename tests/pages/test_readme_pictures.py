"""The README's pictures of the pages: named, taken and there, and small. Nothing here needs a database."""

import re
from pathlib import Path

from PIL import Image

from tests.pictures.take import PHONE, PICTURES, WIDE

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "tests" / "pictures"
SHOWN = re.findall(r"!\[([^\]]*)\]\(([^)\s]+)\)", (ROOT / "README.md").read_text(encoding="utf-8"))
MOST_BYTES, MOST_ALTOGETHER = 160_000, 700_000


def files():
    return sorted(path for path in FOLDER.iterdir() if path.suffix in (".png", ".jpg"))


def test_readme_script_and_folder_name_the_same_pictures():
    assert {path for _, path in SHOWN} == {f"tests/pictures/{name}" for name in PICTURES}
    assert {path.name for path in files()} == set(PICTURES)


def test_each_picture_says_in_words_what_it_shows():
    for words, path in SHOWN:
        assert len(words.split()) >= 8 and words.endswith("."), path
    assert len({words for words, _ in SHOWN}) == len(SHOWN)


def test_the_pictures_are_of_the_size_they_were_asked_in():
    for name, (_, size, _) in PICTURES.items():
        if size is not None:
            with Image.open(FOLDER / name) as picture:
                assert picture.size == (size["width"], size["height"]), name
    assert {PHONE["width"], WIDE["width"]} == {360, 1280}


def test_the_pictures_are_a_small_download():
    sizes = {path.name: path.stat().st_size for path in files()}
    assert max(sizes.values()) <= MOST_BYTES, sizes
    assert sum(sizes.values()) <= MOST_ALTOGETHER, sizes
