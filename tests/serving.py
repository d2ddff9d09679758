"""The server that a studio runs, started by tests as `studio/run` starts it."""

import http.client
import json
import re
import shlex
import socket
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlencode

RUN = Path(__file__).resolve().parent.parent / "studio" / "run"
START_SERVER = re.compile(r"^start_server\(\) \{\n(?P<command>.*?)&\n", re.MULTILINE | re.DOTALL)


def free_port():
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


def command(port):
    """What `studio/run` says to start the server, with this Python and this port: read there, so as not to drift."""
    said = START_SERVER.search(RUN.read_text())["command"]
    known = {"$PYTHON": sys.executable, "$BIND": f"127.0.0.1:{port}"}
    return [known.get(part, part) for part in shlex.split(said.replace("\\\n", " "))]


def prepared(environment):
    """What `tests/prepare.py` made in the database of this environment."""
    made = subprocess.run(
        [sys.executable, "-m", "tests.prepare"], env=environment, check=True, capture_output=True, text=True
    )
    return json.loads(made.stdout.splitlines()[-1])


@contextmanager
def serving(environment, port=None):
    """The server on this database; answers its port. It stops gently at the end."""
    port = port or free_port()
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    with subprocess.Popen(command(port), env=environment, **quiet) as server:
        try:
            wait_for(port)
            yield port
        finally:
            server.terminate()


def wait_for(port, seconds=60):
    """Until something answers there."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
        try:
            connection.request("GET", "/healthz", headers={"Host": f"localhost:{port}"})
            return connection.getresponse().read()
        except (OSError, http.client.HTTPException):
            time.sleep(0.05)
        finally:
            connection.close()
    raise RuntimeError("The server did not start.")


class Client:
    """One browser's connection: it is kept open, and asks for JSON as the outbox does."""

    def __init__(self, port, cookie, token="", accept="application/json"):
        self.headers = {
            "Accept": accept,
            "Content-Type": "application/x-www-form-urlencoded",
            "Cookie": cookie,
            "Host": f"localhost:{port}",
            "X-CSRFToken": token,
        }
        self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)

    def post(self, path, fields):
        return self.send("POST", path, urlencode(fields), 201)

    def get(self, path):
        return self.send("GET", path, None, 200)

    def send(self, method, path, body, status):
        self.connection.request(method, path, body, self.headers)
        answer = self.connection.getresponse()
        body = answer.read()
        assert answer.status == status, (answer.status, body[:300])
        return body
