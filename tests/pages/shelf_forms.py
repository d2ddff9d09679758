"""Filling in the forms of the shelf: what a page was given, with something else typed into some of its boxes."""

import re
from html import unescape
from uuid import uuid4

from tests.pages.run_forms import boxes

NUL = "\x00"
BAD_AMOUNTS = [
    "",
    "-5",
    "0",
    "1,000",
    "99999999999999",
    "5 furlongs",
    "5 °C",
    "☃🧶",
    "NaN",
    "1e9",
    "x" * 10_240,
    f"5{NUL}g",
    "1/0",
    "--",
    "1.000.000",
]
BAD_WORDS = ["", "☃🧶", "x" * 10_240, f"a{NUL}b", "<b>&amp;", "' or 1=1 --"]


def send(browser, url, **typed):
    """Open a page, type into some boxes (`a__b` for "a-b"), and send it. Gives the answer."""
    filled = boxes(browser.get(url)) | {name.replace("__", "-"): value for name, value in typed.items()}
    filled.setdefault("once", str(uuid4()))
    return browser.post(url, filled)


def problems(response):
    """The sentences of the summary of a page that was not taken."""
    text = response.content.decode()
    found = re.search(r'<div class="errors".*?</ul>', text, re.DOTALL)
    return unescape(re.sub(r"<[^>]+>", " ", found[0])) if found else ""
