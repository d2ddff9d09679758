"""An entry from the sink beside a view that only inserts a row, from the same server, by one client and by twenty."""

import os
import statistics
from concurrent.futures import ThreadPoolExecutor
from uuid import uuid4

import pytest

from tests.bench.saying import p95, say, seconds
from tests.serving import Client, prepared, serving

pytestmark = pytest.mark.bench

ROUNDS = 20
ASKED = 400  # of each view in all


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    """(port, facts): the server that a studio runs, on a database of its own."""
    environment = os.environ | {
        "DJANGO_SETTINGS_MODULE": "tests.bench.served",
        "TESTS_FOLDER": str(tmp_path_factory.mktemp("served")),
    }
    facts = prepared(environment)
    with serving(environment) as port:
        yield port, facts


class Phone(Client):
    """One phone, with a pot before it and a bottle in its hand."""

    def __init__(self, port, facts, pot, bottle):
        super().__init__(port, facts["cookie"], facts["token"])
        self.path, self.bottle = f"/sink/{pot}/log/", bottle

    def bare(self):
        self.post("/bare-insert/", {})

    def entry(self):
        fields = {"kind": "bottle", "id": str(uuid4()), "lot": self.bottle, "amount": "5", "amount_unit": "mL"}
        self.post(self.path, fields)


@pytest.mark.parametrize(("clients", "pots"), [(1, 1), (20, 10), (20, 1)])
def test_entry_against_a_bare_insert(served, clients, pots):
    """Every client sends as fast as it is answered; the two views in turn, so that both see the same machine.

    Twenty at one pot, from one bottle, wait for each other's locks: more than any studio will see.
    """
    port, facts = served
    phones = [
        Phone(port, facts, facts["pots"][number % pots], facts["bottles"][number % pots]) for number in range(clients)
    ]
    each = max(ASKED // ROUNDS // clients, 2)
    bares, entries = [], []
    with ThreadPoolExecutor(clients) as hands:
        for turn in range(ROUNDS + 3):
            for act, taken in ((Phone.bare, bares), (Phone.entry, entries)):
                found = hands.map(lambda phone, act=act: seconds(lambda: act(phone), each), phones)
                if turn >= 3:  # the first rounds warm up
                    taken.extend(one for some in found for one in some)
                else:
                    list(found)
    who = "1 client" if clients == 1 else f"{clients} clients at {pots} pot{'s' if pots > 1 else ''}"
    say(f"Entry POST of {who}, p95 against a bare insert's", p95(entries) / p95(bares), 4)
    middle = statistics.median(entries) / statistics.median(bares)
    told = [f"{name} p95 {p95(some) * 1e3:.1f} ms" for name, some in (("bare", bares), ("entry", entries))]
    print(f"    medians: {middle:.2f}; {', '.join(told)}")
