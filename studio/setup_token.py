"""The key in the one-time set-up link: whoever holds it makes the first account.

It lies in the data folder, readable by the account that runs the program, and is gone once it was used.
"""

import secrets

from django.conf import settings
from django.urls import NoReverseMatch, reverse
from django.utils.crypto import constant_time_compare

from studio.environment import kept_secret


def path():
    return settings.DATA / "setup_token"


def make():
    """The key, the same one until it is used, so that a link opened before a restart still works."""
    return kept_secret(path(), lambda: secrets.token_urlsafe(32))


def verify(token):
    """Whether `token` is the key that waits to be used. Text of any length is fine."""
    try:
        kept = path().read_text(encoding="ascii").strip()
    except FileNotFoundError:
        return False
    return bool(kept) and constant_time_compare(kept, token or "")


def burn(token):
    """Use the key up. True for exactly one caller, who may make the account; False for everyone else."""
    if not verify(token):
        return False
    try:
        path().unlink()
    except FileNotFoundError:
        return False
    return True


def link():
    """The whole address. The key stands behind the question mark, a part the server's log leaves out."""
    try:
        page = reverse("studio:set-up")
    except NoReverseMatch:
        page = "/set-up/"
    return f"{settings.BASE_URL}{page}?key={make()}"
