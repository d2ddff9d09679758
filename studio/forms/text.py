"""Text as it comes from a page or a phone, made fit to keep."""

import re
import unicodedata

# What no table or page can hold: control characters but tab and line ends, halves of a pair, non-characters.
UNKEEPABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff]")


def tidy(value):
    """``value`` without characters that cannot be kept, line ends as they are kept, accents composed.

    Strings alone or in a list or tuple; anything else (a file, True, None) comes back as it is.
    """
    if isinstance(value, str):
        lines = value.replace("\r\n", "\n").replace("\r", "\n")
        return unicodedata.normalize("NFC", UNKEEPABLE.sub("", lines))
    if isinstance(value, (list, tuple)):
        return type(value)(tidy(part) for part in value)
    return value
