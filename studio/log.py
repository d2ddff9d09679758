"""How the log is written."""

import logging
import time


def spelt_out(text):
    """The text with line ends and all that is not seen written out, so that nobody can forge or hide a line."""
    return "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in text)


class OneLine(logging.Formatter):
    """One line for each event, in UTC."""

    converter = time.gmtime
    default_time_format = "%Y-%m-%dT%H:%M:%S"
    default_msec_format = "%s.%03dZ"

    def format(self, record):
        return spelt_out(super().format(record))
