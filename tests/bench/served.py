"""Settings for a real server to measure: the tests' own, with the plainest view beside the program's pages."""

from tests.settings import *  # noqa: F403

ROOT_URLCONF = "tests.bench.bare"
