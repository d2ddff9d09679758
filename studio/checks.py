"""What `manage.py check` looks at before a studio relies on this box.

A check's message is something to put right. What is merely good to know, such as plain http, is a notice.
"""

import importlib.util
import os
import sqlite3

from django.conf import settings
from django.core.checks import Error, Warning, register

from studio import pango
from studio.sqlite import JOURNAL_MODE


def notices():
    """Sentences about how this studio runs, for `check` and for the status page."""
    said = []
    if settings.ONLY_HERE and not settings.HTTPS:
        said.append(
            f"{settings.BASE_URL} is for this computer only. For a phone on the same network too: "
            "bash studio/run --host 0.0.0.0"
        )
    elif not settings.HTTPS:
        said.append(
            f"{settings.BASE_URL} is plain http: fine on this computer or a network you trust, never on the "
            "internet. Browsers then keep things from the sink's page: it goes dark, and opens only with a network. "
            "Set CLEARBATH_BASE_URL to an https address to change that."
        )
    if settings.DATABASES["default"]["ENGINE"].endswith("sqlite3"):
        mode = f"SQLite {sqlite3.sqlite_version} keeps its journal in {JOURNAL_MODE} mode"
        if JOURNAL_MODE == "WAL":
            said.append(f"{mode}.")
        else:
            said.append(f"{mode}: in this version the faster WAL mode could lose entries. Nothing to do.")
    return said


@register("setup")
def variables_are_known(app_configs, **kwargs):
    return [
        Warning(
            f"{name} is set, but Clearbath has no such setting.",
            hint="Correct its spelling or unset it; the README lists every setting.",
            id="setup.W001",
        )
        for name in settings.ENVIRONMENT.unknown()
    ]


@register("setup")
def insides_stay_hidden(app_configs, **kwargs):
    if not settings.DEBUG:
        return []
    return [
        Warning(
            "CLEARBATH_DEBUG is on, so an error shows the program's insides.",
            hint="Unset CLEARBATH_DEBUG unless you are changing the program.",
            id="setup.W002",
        )
    ]


@register("setup")
def https_has_a_proxy(app_configs, **kwargs):
    if not settings.HTTPS or settings.BEHIND_PROXY:
        return []
    return [
        Warning(
            "The address is https, but Clearbath does not speak https itself.",
            hint="Put a web server with a certificate in front, let it set X-Forwarded-Proto and "
            "X-Forwarded-For, and set CLEARBATH_BEHIND_PROXY=yes.",
            id="setup.W003",
        )
    ]


@register("setup")
def data_folder_is_ours(app_configs, **kwargs):
    folder = settings.DATA
    if not os.access(folder, os.W_OK | os.X_OK):
        return [
            Error(
                f"Nothing can be written to the data folder {folder}.",
                hint="Give it to the account that runs Clearbath, or point CLEARBATH_DATA to another folder.",
                id="setup.E001",
            )
        ]
    private = [folder, folder / "secret_key"]
    shared = [path for path in private if path.exists() and path.stat().st_mode & 0o077]
    return [
        Warning(
            f"Other accounts on this computer can read {path}.",
            hint=f"Run: chmod go-rwx {path}",
            id="setup.W004",
        )
        for path in shared
    ]


@register("setup")
def tags_can_be_printed(app_configs, **kwargs):
    if pango.found():
        return []
    return [
        Warning(
            "The library Pango is missing, so tags, labels and sheets cannot be made.",
            hint="On Debian or Ubuntu: apt-get install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0. "
            "On Fedora: dnf install pango. On a Mac: brew install pango.",
            id="setup.W005",
        )
    ]


@register("setup")
def bucket_has_its_library(app_configs, **kwargs):
    if not settings.S3_BUCKET or importlib.util.find_spec("storages"):
        return []
    return [
        Error(
            "CLEARBATH_S3_BUCKET is set, but the library that talks to it is not installed.",
            hint='Run: .venv/bin/python -m pip install "django-storages[s3]==1.14.6"',
            id="setup.E002",
        )
    ]
