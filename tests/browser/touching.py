"""Fingers on a phone at the sink: every touch is counted, and none comes as soon as the double of a wet screen."""

import io
import re

from PIL import Image

AFTER_A_BOUNCE_MS = 600


def photo(name="skein.jpg", colour="#9c3122"):
    """A small photograph, as a file chooser takes it."""
    held = io.BytesIO()
    Image.new("RGB", (600, 800), colour).save(held, "JPEG")
    return {"name": name, "mimeType": "image/jpeg", "buffer": held.getvalue()}


class Fingers:
    """Whoever touches this page. `touches` are all, `digits` those of them that wrote a number."""

    def __init__(self, page):
        self.page = page
        self.touches = self.digits = 0

    def touch(self, what):
        """Touch what is written so on a button, a link, a tile; or a locator."""
        target = self.named(what) if isinstance(what, (str, re.Pattern)) else what
        target.click()
        self.touches += 1
        self.page.wait_for_timeout(AFTER_A_BOUNCE_MS)
        self.page.locator("html:not([data-logging])").wait_for()  # what was touched is sent, and the page drawn anew
        return self

    def named(self, words):
        page = self.page
        found = page.locator("main").locator("button:not(.hidden), a, label, summary").filter(has_text=words)
        return found.locator("visible=true").first

    def keys(self, number):
        """Write a number on the large keys of the page, a touch for each."""
        for digit in number:
            self.touch(self.page.locator(".pad .keys button").get_by_text(digit, exact=True))
            self.digits += 1
        return self

    def snap(self, label, file):
        """Touch what opens the camera, and take the photo."""
        with self.page.expect_file_chooser() as opened:
            self.touch(label)
        opened.value.set_files([file])
        self.page.wait_for_timeout(AFTER_A_BOUNCE_MS)
        self.page.locator("html:not([data-logging])").wait_for()
        return self

    def sees(self, words):
        self.page.locator("main").get_by_text(words).first.wait_for()
        return self
