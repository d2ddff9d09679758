"""Strict readers for settings that come from the environment.

Every reader either returns a value of the right kind or raises `WrongSetting` with one sentence that names
the variable, what it held and how to write it. An empty variable counts as not set.
"""

import os
import re
import tempfile
from contextlib import suppress
from ipaddress import ip_address
from pathlib import Path
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

YES = {"1", "yes", "true", "on"}
NO = {"0", "no", "false", "off"}
HOST_NAME = re.compile(r"[a-z0-9]([a-z0-9-]*[a-z0-9])?(\.[a-z0-9]([a-z0-9-]*[a-z0-9])?)*")


class WrongSetting(Exception):
    """A variable holds something that cannot be used; the message is meant for a person."""


class Environment:
    """The variables with our prefix, and which of them the program knows."""

    def __init__(self, variables, prefix):
        self.variables = variables
        self.prefix = prefix
        self.known = set()

    def text(self, name, default=""):
        self.known.add(self.prefix + name)
        return self.variables.get(self.prefix + name, "").strip() or default

    def flag(self, name, default=False):
        text = self.text(name).lower()
        if not text:
            return default
        if text not in YES | NO:
            raise self.wrong(name, "write yes or no")
        return text in YES

    def whole(self, name, default, least, most):
        text = self.text(name)
        if not text:
            return default
        if not (text.isascii() and text.isdigit()) or not least <= int(text[:12]) <= most:
            raise self.wrong(name, f"write a whole number from {least} to {most}")
        return int(text)

    def folder(self, name, default):
        return Path(self.text(name, str(default))).expanduser().absolute()

    def time_zone(self, name, default):
        text = self.text(name, default)
        try:
            ZoneInfo(text)
        except (KeyError, ValueError, OSError):
            raise self.wrong(name, "write a time zone such as Europe/Lisbon or UTC") from None
        return text

    def site(self, name, default):
        """The address people type, as parts; http or https, a host, perhaps a port, and nothing more."""
        how = "write it like https://dyes.example.org or http://192.168.1.20:8000"
        try:
            parts = urlsplit(self.text(name, default).rstrip("/"))
            host, port = parts.hostname or "", parts.port
        except ValueError:
            raise self.wrong(name, how) from None
        if parts.scheme not in ("http", "https") or port == 0 or not is_host(host):
            raise self.wrong(name, how)
        if parts.path or parts.query or parts.fragment or "@" in parts.netloc:
            raise self.wrong(name, f"{how}, with no folder, sign-in or question mark in it")
        return parts

    def secret(self, name):
        """The text of a variable, or of the file that the variable with _FILE behind its name points to."""
        text, file = self.text(name), self.text(f"{name}_FILE")
        if text and file:
            raise WrongSetting(f"set {self.prefix}{name} or {self.prefix}{name}_FILE, not both.")
        if not file:
            return text
        try:
            return Path(file).read_text(encoding="utf-8").strip()
        except (OSError, UnicodeDecodeError):
            raise self.wrong(f"{name}_FILE", "write the path of a text file this program may read") from None

    def unknown(self):
        """Names with our prefix that nothing reads: most likely misspelt."""
        ours = {name for name in self.variables if name.startswith(self.prefix)}
        return sorted(ours - self.known)

    def wrong(self, name, how):
        shown = self.variables.get(self.prefix + name, "")[:80]
        return WrongSetting(f"{self.prefix}{name} is {shown!r}; {how}.")


def is_host(text):
    """Whether this is one name or one address. A star or a leading dot would let every name in."""
    try:
        return bool(ip_address(text))
    except ValueError:
        return bool(HOST_NAME.fullmatch(text))


def kept_secret(path, make):
    """The text of a file only its owner may read, made with `make()` the first time it is asked for.

    The file appears whole or not at all, so two servers that start together agree. Raises OSError where the
    folder cannot be written.
    """
    path = Path(path)
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    if not path.exists():
        with tempfile.NamedTemporaryFile("w", dir=path.parent, encoding="ascii") as file:  # mode 600
            file.write(make())
            file.flush()
            os.fsync(file.fileno())
            with suppress(FileExistsError):
                os.link(file.name, path)
    return path.read_text(encoding="ascii", errors="replace").strip()
