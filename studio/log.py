"""How the log is written."""

import logging
import time


class OneLine(logging.Formatter):
    """One line for each event, in UTC; line ends inside one are spelt out, so nobody can forge a line."""

    converter = time.gmtime
    default_time_format = "%Y-%m-%dT%H:%M:%S"
    default_msec_format = "%s.%03dZ"

    def format(self, record):
        return super().format(record).replace("\r", "\\r").replace("\n", "\\n")
