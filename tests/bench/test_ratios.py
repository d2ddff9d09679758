"""Ratios of one run on one machine; `bash tests/run bench` prints them. Nothing here is asserted about seconds."""

import http.client
import json
import os
import socket
import statistics
import subprocess
import sys
import time
from contextlib import contextmanager
from datetime import date, timedelta
from decimal import Decimal
from urllib.parse import urlencode
from uuid import uuid4

import pytest

from batches.models import Batch, BatchYarn, Run
from batches.tag_face import TagFace
from batches.tag_sheet import tag_sheet
from studio.colourbar import Segment
from tests import builders
from tests.builders import NOON

pytestmark = pytest.mark.bench


def say(name, ratio, limit):
    print(f"\n{name}: {ratio:.2f} (wanted: at most {limit}){'' if ratio <= limit else '  OVER'}")


def seconds(act, times):
    taken = []
    for _ in range(times):
        begin = time.perf_counter()
        act()
        taken.append(time.perf_counter() - begin)
    return taken


def p95(taken):
    return statistics.quantiles(taken, n=20)[-1]


def many_runs(owner, lot, begin, number):
    """Finished runs in bulk, each with a pot and its yarn: only the journal's reading is measured."""
    runs = Run.objects.bulk_create(
        Run(
            code=f"z-{begin + n}",
            title=f"Run {n}",
            day=date(2020, 1, 1) + timedelta(days=(begin + n) % 2000),
            state="finished",
            made_at=NOON,
            by=owner,
            started_at=NOON,
            finished_at=NOON,
        )
        for n in range(number)
    )
    pots = Batch.objects.bulk_create(
        Batch(
            run=run, number=1, fibre_g=Decimal(200), state="finished", where="stored", started_at=NOON, finished_at=NOON
        )
        for run in runs
    )
    BatchYarn.objects.bulk_create(
        BatchYarn(
            batch=pot,
            position=1,
            source="lot",
            lot=lot,
            base=lot.base,
            skeins=2,
            grams=Decimal(200),
            skein_g=Decimal(100),
        )
        for pot in pots
    )


@pytest.mark.django_db
def test_journal_of_twenty_thousand_runs(cast, client_of, studio):
    """The journal with 20,000 runs beside the same page with 50."""
    browser = client_of(cast.owner)
    lot = builders.receive_yarn(cast.owner)
    many_runs(cast.owner, lot, 0, 50)
    open_journal = lambda: browser.get("/journal/")  # noqa: E731
    assert open_journal().status_code == 200
    few = statistics.median(seconds(open_journal, 25))
    many_runs(cast.owner, lot, 50, 19_950)
    many = statistics.median(seconds(open_journal, 25))
    say("Journal, 20,000 runs against 50", many / few, 1.5)


@pytest.fixture
def served(tmp_path):
    """The server that a studio runs, on a database of its own: `post(path, fields)` sends and expects 201."""
    environment = os.environ | {"DJANGO_SETTINGS_MODULE": "tests.bench.served", "TESTS_FOLDER": str(tmp_path)}
    made = subprocess.run(
        [sys.executable, "-m", "tests.bench.prepare"], env=environment, check=True, capture_output=True, text=True
    )
    facts = json.loads(made.stdout.splitlines()[-1])
    with serving(environment, facts["cookie"], facts["token"]) as server:
        server.facts = facts
        yield server


@contextmanager
def serving(environment, cookie, token=""):
    """The program's own server on this database, for one person's browser."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "gunicorn", "studio.wsgi", "--bind", f"127.0.0.1:{port}", "--threads", "4"]
    with subprocess.Popen(command, env=environment, stderr=subprocess.DEVNULL) as server:
        try:
            yield Served(port, cookie, token)
        finally:
            server.terminate()


class Served:
    def __init__(self, port, cookie, token):
        self.headers = {
            "Accept": "application/json",
            "Content-Type": "application/x-www-form-urlencoded",
            "Cookie": cookie,
            "Host": f"localhost:{port}",
            "X-CSRFToken": token,
        }
        self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
        self.wait()

    def wait(self):
        for _ in range(100):
            try:
                self.connection.request("GET", "/healthz", headers={"Host": self.headers["Host"]})
                return self.connection.getresponse().read()
            except OSError:
                self.connection.close()
                time.sleep(0.1)
        raise RuntimeError("The server to be measured did not start.")

    def post(self, path, fields):
        self.send("POST", path, urlencode(fields), 201)

    def get(self, path):
        self.send("GET", path, None, 200)

    def send(self, method, path, body, status):
        self.connection.request(method, path, body, self.headers)
        answer = self.connection.getresponse()
        body = answer.read()
        assert answer.status == status, (answer.status, body[:300])


def test_entry_against_a_bare_insert(served):
    """An entry from the sink beside a view that only inserts a row, in turn, so that both see the same machine."""
    facts = served.facts

    def bare():
        served.post("/bare-insert/", {})

    def entry():
        fields = {"kind": "bottle", "id": str(uuid4()), "lot": facts["lot"], "amount": "5", "amount_unit": "mL"}
        served.post(f"/sink/{facts['batch']}/log/", fields)

    for act in (bare, entry):
        seconds(act, 30)
    bares, entries = [], []
    for _ in range(30):
        bares += seconds(bare, 10)
        entries += seconds(entry, 10)
    say("Entry POST, p95 against a bare insert's", p95(entries) / p95(bares), 4)


def test_tags_in_thousands():
    """2,400 equal tags beside one sheet of them."""
    face = TagFace(
        colourway="Kiln Door",
        base="Tessel 4-ply",
        content="75% wool, 25% polyamide",
        net="100 g / 3.53 oz",
        length="425 m / 465 yd",
        dye_lot="26-118",
        care=("Hand wash cool.", "Dry flat."),
        maker=("Lamp Lane Dyehouse",),
        price="€28.95",
        dyes=(Segment("Brick", "#9c3122", Decimal(3)), Segment("Ochre", "#d39a3c", Decimal(2))),
    )
    for design, sheet in (("label", 24), ("swing", 9)):
        tag_sheet([(face, sheet)], design)
        one = statistics.median(seconds(lambda s=sheet, d=design: tag_sheet([(face, s)], d), 5))
        many = statistics.median(seconds(lambda d=design: tag_sheet([(face, 2400)], d), 5))
        say(f"2,400 equal tags against one sheet, {design}", many / one, 1.3)
