"""Fixtures that every room of the tests shares."""

import pytest
from django.test import Client

from studio.models import Studio
from tests import builders


@pytest.fixture
def cast(db):
    """One person of each role: `cast.owner`, `cast.maker`, `cast.helper`, `cast.viewer`."""
    return builders.make_cast()


@pytest.fixture
def client_of():
    """`client_of(person)`: a browser in which this person is signed in; `client_of(None)`: in which nobody is."""

    def client(person):
        browser = Client()
        if person is not None:
            browser.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
        return browser

    return client


@pytest.fixture
def studio(db):
    """The studio's one row."""
    return Studio.get()


@pytest.fixture
def maker(cast, client_of):
    """A browser in which the maker is signed in."""
    return client_of(cast.maker)
