"""Fixtures that every room of the tests shares."""

import pytest

from tests import builders


@pytest.fixture
def cast(db):
    """One person of each role: `cast.owner`, `cast.maker`, `cast.helper`, `cast.viewer`."""
    return builders.make_cast()
