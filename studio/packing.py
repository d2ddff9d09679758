"""Static files as they travel: named by their content, compressed, and without what only people read in them."""

import re
from pathlib import Path

from rjsmin import jsmin
from whitenoise.storage import CompressedManifestStaticFilesStorage

COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
INDENT = re.compile(r"\s*\n\s*")


def packed(style):
    """A style sheet without comments and indents, which says the same to a browser. No text in it may hold "/*"."""
    return INDENT.sub("\n", COMMENT.sub("", style)).strip() + "\n"


def packed_script(script):
    """A script without comments and spaces, which does the same; its names stay, so that an error can be found."""
    return jsmin(script) + "\n"


PACKERS = {".css": packed, ".js": packed_script}
OWN = ("studio/", "batches/")  # a library's own files travel as they came


class PackedStorage(CompressedManifestStaticFilesStorage):
    """Packs the styles and scripts that were collected, then names and compresses all files."""

    def post_process(self, paths, dry_run=False, **options):
        if not dry_run:
            for name in [name for name in paths if name.startswith(OWN)]:
                file = Path(self.path(name))
                if pack := PACKERS.get(file.suffix):
                    file.write_text(pack(file.read_text("utf-8")), "utf-8")
                    paths[name] = (self, name)
        yield from super().post_process(paths, dry_run, **options)
