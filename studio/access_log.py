"""The server's own log, one line for each request. Only gunicorn loads this."""

from gunicorn.glogging import Logger

from studio.log import spelt_out


class AccessLog(Logger):
    """An address comes in decoded, so what was %0a in it would begin a line that looks like one of ours."""

    def atoms(self, *args):
        found = super().atoms(*args)
        return {name: spelt_out(value) if isinstance(value, str) else value for name, value in found.items()}
