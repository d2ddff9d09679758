"""The server is killed again and again while phones send: what it acknowledged is there, and nothing is there twice.

A phone throws its copy away when the answer names its number, so an answer must be worth as much as the disk. The
server is the one that `studio/run` starts, on a database of its own; each phone sends what it has until it is answered.
"""

import http.client
import json
import os
import random
import signal
import subprocess
import sys
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from urllib.parse import quote, urlencode
from uuid import uuid4

import psycopg
import pytest

from tests.serving import Client, command, free_port, prepared, wait_for

PHONES, EACH, KILLS = 8, 125, 8
ALL = PHONES * EACH
LONGEST = 240  # seconds, on a busy machine; a quiet one with two cores needs a small part of it
VOLUME = 100_000


@pytest.fixture
def environment(tmp_path):
    """The studio's own settings, on a database that nothing else uses."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("CLEARBATH_")}
    port = free_port()
    found = kept | {
        "DJANGO_SETTINGS_MODULE": "studio.settings",
        "CLEARBATH_DATA": str(tmp_path),
        "CLEARBATH_BASE_URL": f"http://localhost:{port}",
        "PORT": str(port),
    }
    if not os.environ.get("DATABASE_URL"):
        yield found
        return
    server, _, _ = os.environ["DATABASE_URL"].rpartition("/")
    name = f"crash_{uuid4().hex}"
    with psycopg.connect(os.environ["DATABASE_URL"], autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    yield found | {"DATABASE_URL": f"{server}/{quote(name)}"}
    with psycopg.connect(os.environ["DATABASE_URL"], autocommit=True) as connection:
        connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


class Mortal:
    """The server, with all its workers in a group of their own."""

    def __init__(self, environment):
        self.environment, self.port = environment, int(environment["PORT"])
        self.start()

    def start(self):
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        self.process = subprocess.Popen(command(self.port), env=self.environment, start_new_session=True, **quiet)
        wait_for(self.port, 60)

    def kill(self):
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()


def things(facts, luck):
    """What one phone sends: (pot, fields, how many lines it makes, what leaves which bottle)."""
    for _ in range(EACH):
        kind = luck.choice(["bottle", "bottle", "bottle", "both", "words", "step"])
        pot, bottle = luck.choice(facts["twins"]), luck.choice(facts["bottles"][:3])
        fields = {"id": str(uuid4()), "kind": kind}
        if kind in ("bottle", "both"):
            fields |= {"kind": "bottle", "lot": bottle, "amount": str(luck.randint(1, 9)), "amount_unit": "mL"}
            fields |= {"pots": "all"} if kind == "both" else {}
        else:
            fields |= {"note": "Steams"} if kind == "words" else {"step": luck.choice(["heat", "cool", "rinse"])}
        yield pot, fields


class Phone:
    """Sends one thing after the other, each until it is answered by its number."""

    def __init__(self, port, facts, luck):
        self.port, self.facts, self.waiting = port, facts, list(things(facts, luck))
        self.states, self.lost, self.odd = Counter(), 0, []
        self.until = time.monotonic() + LONGEST

    def send_all(self, kept):
        client = self.connect()
        for pot, fields in self.waiting:
            while time.monotonic() < self.until:
                try:
                    client.connection.request("POST", f"/sink/{pot}/log/", urlencode(fields), client.headers)
                    answer = client.connection.getresponse()
                    body = answer.read()
                except (OSError, http.client.HTTPException):
                    self.lost += 1
                    client = self.connect()
                    time.sleep(0.05)
                    continue
                if answer.status in (200, 201) and json.loads(body)["id"] == fields["id"]:
                    self.states[answer.status] += 1
                    kept.append(fields["id"])
                    break
                self.odd.append((answer.status, body[:200]))
                time.sleep(0.05)

    def connect(self):
        return Client(self.port, self.facts["cookie"], self.facts["token"])


def kill_now_and_then(server, kept, luck):
    """KILLS times, evenly over all that is sent, each a moment after some more was answered."""
    until = time.monotonic() + LONGEST
    for number in range(1, KILLS + 1):
        while len(kept) < ALL * number // (KILLS + 1) and time.monotonic() < until:
            time.sleep(0.005)
        time.sleep(luck.random() / 10)
        server.kill()
        server.start()


def run_beside(environment, *arguments):
    found = subprocess.run([sys.executable, *arguments], env=environment, capture_output=True, text=True)
    assert found.returncode == 0, found.stdout + found.stderr
    return found.stdout


def test_what_was_acknowledged_is_there_once_however_often_the_server_is_killed(environment):
    facts = prepared(environment)
    luck, kept = random.Random(14), []
    server = Mortal(environment)
    phones = [Phone(server.port, facts, random.Random(number)) for number in range(PHONES)]
    try:
        with ThreadPoolExecutor(PHONES) as hands:
            sending = [hands.submit(phone.send_all, kept) for phone in phones]
            kill_now_and_then(server, kept, luck)
            for one in sending:
                one.result()
    finally:
        server.kill()
    seen = json.loads(run_beside(environment, "-m", "tests.crash.look"))
    sent = [thing for phone in phones for thing in phone.waiting]
    assert not [odd for phone in phones for odd in phone.odd]
    assert sorted(kept) == sorted(fields["id"] for _, fields in sent)  # everything was answered, and once
    assert sum(phone.lost for phone in phones) >= KILLS  # the kills were felt
    assert Counter(map(tuple, seen["lines"])) == Counter(lines_of(facts, sent))
    assert {lot: Decimal(left) for lot, left in seen["on_hand"].items()} == left_of(facts, sent)
    run_beside(environment, "manage.py", "check", "--tag", "records")


def lines_of(facts, sent):
    """(number, pot) of each line that the log must have."""
    for pot, fields in sent:
        for each in facts["twins"] if fields.get("pots") == "all" else [pot]:
            yield fields["id"], each


def left_of(facts, sent):
    """{bottle: mL} that must be left."""
    left = {str(bottle): Decimal(VOLUME) for bottle in facts["bottles"]}
    for _, fields in sent:
        if fields["kind"] == "bottle":
            left[str(fields["lot"])] -= Decimal(fields["amount"]) * (2 if fields.get("pots") == "all" else 1)
    return left
