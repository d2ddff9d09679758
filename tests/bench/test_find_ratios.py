"""Finding among twenty thousand runs, beside a bare count of them, in turn on the same database."""

import os
import random
import shutil
import statistics
import time
from datetime import date
from pathlib import Path
from urllib.parse import urlencode

import pytest
from django.conf import settings
from django.db import connection
from django.test import Client

from batches import finding, indexing, lookup
from batches.models import Run
from studio.models import Base, Dye, Studio
from tests import builders
from tests.bench import years
from tests.bench.saying import p95, say
from tests.serving import Client as Browser
from tests.serving import serving

pytestmark = pytest.mark.bench

ROUNDS = 12


def questions():
    """Fifty that a studio asks: common words and rare ones, several, codes, filters, misses."""
    rare = years.Notes(random.Random(118)).words
    base, dye = Base.objects.get(name="Wren DK").pk, Dye.objects.get(name="Ochre").pk
    words = [
        *("bath", "slow", "the", "blue", "vinegar", "heat", "binder", "be", "s"),  # in thousands of runs
        *("wren", "ochre", "rust fast", "low tide", "kiln door", "grun", "Grün", "sparrow lace", "quern", "moss"),
        *(rare[400], rare[1500], rare[-1], rare[-40], f"{rare[900]} bath", f"{rare[2000]} {rare[2100]}"),
        *("wren ochre bath", "tide rust slow even", "pale deep split", "low tide wren dk 4-ply", "too pale again"),
        *("14-00118", "19-10", "1900118", "14-00118-1", "0217", "B-0217", "Y-1203", "118"),
        *("zebra", "ochtre", "spqrow", "wren zebra bath", "99-99999", "%"),
    ]
    narrowed = [
        ("", {"base": base}),
        ("", {"dye": dye, "verdict": "never"}),
        ("", {"fibre": "silk", "method": "painted"}),
        ("", {"first": date(2019, 3, 1), "last": date(2019, 3, 31)}),
        ("bath", {"base": base, "dye": dye}),
        ("slow blue", {"verdict": "standard", "method": "pot", "first": date(2020, 1, 1)}),
        ("tide", {"fibre": "cotton", "last": date(2016, 12, 31)}),
        ("spot", {"base": base, "dye": dye, "method": "dipped", "verdict": "never", "first": date(2025, 6, 1)}),
    ]
    return [(word, {}) for word in words] + narrowed


@pytest.fixture
def many(transactional_db):
    """Twenty thousand runs, stored for every connection to see. Answers the cookie of a signed-in browser."""
    Studio.get()
    owner = builders.make_cast().owner
    years.make(owner)
    indexing.rebuild()
    browser = Client()
    browser.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    return f"{settings.SESSION_COOKIE_NAME}={browser.session.session_key}"


@pytest.fixture
def environment(many):
    """In which a server finds the same rows."""
    found = os.environ | {"DJANGO_SETTINGS_MODULE": "tests.bench.served"}
    name = connection.settings_dict["NAME"]
    if connection.vendor == "postgresql":
        return found | {"DATABASE_URL": f"{os.environ['DATABASE_URL'].rpartition('/')[0]}/{name}"}
    data = Path(os.environ["TESTS_FOLDER"]) / "data"
    data.mkdir(exist_ok=True)
    shutil.copy(name, data / "clearbath.sqlite3")
    return found


def in_turn(asked, *acts):
    """[seconds of each act] for one question after the other, the acts in turn, so that all see the same machine."""
    taken = [[] for _ in acts]
    for turn in range(ROUNDS):
        for one in asked:
            for times, act in zip(taken, acts, strict=True):
                begin = time.perf_counter()
                act(one)
                if turn:  # the first round warms up
                    times.append(time.perf_counter() - begin)
    return taken


def address(text, filters):
    filters = dict(filters)
    days = {told: filters.pop(name) for name, told in (("first", "from"), ("last", "to")) if name in filters}
    return "/find/?" + urlencode({"q": text} | filters | days)


def say_both(name, found, counted, limit=None):
    ratio = p95(found) / p95(counted)
    said = f"{name}, p95 against a bare count's"
    say(said, ratio, limit) if limit else print(f"\n{said}: {ratio:.2f}")
    middle = statistics.median(found) / statistics.median(counted)
    print(f"    medians: {middle:.2f}; p95 {p95(found) * 1e3:.2f} ms, of the count {p95(counted) * 1e3:.2f} ms")


def test_finding_against_a_bare_count(many, environment):
    """Three ways: which runs answer; all that a page shows of it, as rows; and the page itself, from a real server."""
    asked = questions()
    meant = [lookup.Question.of(text, **filters) for text, filters in asked]
    counted, looked, found = in_turn(meant, lambda one: Run.objects.count(), lookup.look_up, finding.find)
    print(f"\nFinding among {Run.objects.count()} runs, {len(asked)} questions, a count before each")
    say_both("Looking up which runs answer", looked, counted, 5)
    say_both("All that is shown of them", found, counted)
    with serving(environment) as port:
        server = Browser(port, many, accept="text/html")
        pages = [address(*one) for one in asked]
        bare, opened = in_turn(pages, lambda one: server.get("/bare-count/"), server.get)
    say_both("The page from a server, against a page that counts", opened, bare, 5)
