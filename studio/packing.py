"""Static files as they travel: named by their content, compressed, and styles without what only people read."""

import re
from pathlib import Path

from whitenoise.storage import CompressedManifestStaticFilesStorage

COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
INDENT = re.compile(r"\s*\n\s*")


def packed(style):
    """A style sheet without comments and indents, which says the same to a browser. No text in it may hold "/*"."""
    return INDENT.sub("\n", COMMENT.sub("", style)).strip() + "\n"


class PackedStorage(CompressedManifestStaticFilesStorage):
    """Packs the style sheets that were collected, then names and compresses all files."""

    def post_process(self, paths, dry_run=False, **options):
        if not dry_run:
            for name in [name for name in paths if name.endswith(".css")]:
                file = Path(self.path(name))
                file.write_text(packed(file.read_text("utf-8")), "utf-8")
                paths[name] = (self, name)
        yield from super().post_process(paths, dry_run, **options)
