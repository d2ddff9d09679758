"""Filling in the forms of the shelf: what a page was given, with something else typed into some of its boxes."""

import re
from html import unescape
from html.parser import HTMLParser
from uuid import uuid4

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


class _Boxes(HTMLParser):
    def __init__(self):
        super().__init__()
        self.fields, self.select = {}, None

    def handle_starttag(self, tag, attrs):
        attrs = dict(attrs)
        name = attrs.get("name")
        if tag == "input" and name and name not in ("csrfmiddlewaretoken", "rest"):
            if attrs.get("type") in ("radio", "checkbox") and "checked" not in attrs:
                return
            self.fields.setdefault(name, attrs.get("value", "on" if attrs.get("type") == "checkbox" else ""))
        elif tag == "textarea" and name:
            self.fields.setdefault(name, "")
        elif tag == "select":
            self.select = name
            self.fields.setdefault(name, None)
        elif tag == "option" and self.select and ("selected" in attrs or self.fields[self.select] is None):
            self.fields[self.select] = attrs.get("value", "")

    def handle_endtag(self, tag):
        if tag == "select":
            self.select = None


def boxes(response):
    """{name: value} of every box of a page as a browser would send it."""
    reader = _Boxes()
    reader.feed(response.content.decode())
    return {name: value or "" for name, value in reader.fields.items()}


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
