"""Measuring on a database as a studio has it: a file that is synced, and not memory."""

import os

import pytest
from django.conf import settings


@pytest.fixture(scope="session")
def django_db_modify_db_settings():
    default = settings.DATABASES["default"]
    if default["ENGINE"].endswith("sqlite3"):
        default.setdefault("TEST", {})["NAME"] = os.path.join(os.environ["TESTS_FOLDER"], "bench.sqlite3")
