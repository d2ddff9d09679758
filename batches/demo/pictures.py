"""The demo's photographs, drawn by a program. Each is developed once in a process, however often the year is told."""

from functools import cache
from pathlib import Path

from studio import album, darkroom

FOLDER = Path(__file__).parent / "photos"


@cache
def developed(name):
    """The `darkroom.Photo` of a picture. Raises FileNotFoundError for one that nobody drew."""
    with (FOLDER / f"{name}.jpg").open("rb") as file:
        return darkroom.develop(file, max_bytes=album.most_bytes())


def hang_up(name, *, by, clock, id):
    """Keep it as if somebody had just taken it."""
    return album.keep_photo(developed(name), by, clock=clock, id=id)
