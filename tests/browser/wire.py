"""What really goes over the wire between a browser and a server: a relay that counts, whoever in the browser asks."""

import re
import socket
import threading
import time
from contextlib import contextmanager
from functools import partial
from urllib.parse import urlsplit

ASKED = re.compile(rb"^(?:GET|HEAD|POST) (\S+) HTTP/1\.1\r$", re.MULTILINE)
QUIET = 2  # seconds in which nothing travels: a page, and its worker behind it, have all that they want


class Wire:
    def __init__(self, server):
        self.server = urlsplit(server)
        self.listening = socket.create_server(("127.0.0.1", 0))
        self.address = f"http://{self.server.hostname}:{self.listening.getsockname()[1]}"
        self.open = []
        self.begin()
        threading.Thread(target=self._accept, daemon=True).start()

    def begin(self):
        """Count anew."""
        self.answers, self.moved = [], time.monotonic()  # [path, bytes of its answer] of each, in order

    def settle(self):
        """Wait until nothing travels any more."""
        while time.monotonic() - self.moved < QUIET:
            time.sleep(0.1)

    def close(self):
        for one in [self.listening, *self.open]:
            one.close()

    def _accept(self):
        while True:
            try:
                browser, _ = self.listening.accept()
            except OSError:
                return
            server = socket.create_connection((self.server.hostname, self.server.port))
            self.open += [browser, server]
            now = [[]]  # what was asked last on this connection: the answers come in the order of the questions
            for source, target, seen in ((browser, server, self._up), (server, browser, self._down)):
                threading.Thread(target=self._relay, args=(source, target, partial(seen, now)), daemon=True).start()

    def _relay(self, source, target, seen):
        try:
            while data := source.recv(65536):
                seen(data)
                target.sendall(data)
            target.shutdown(socket.SHUT_WR)
        except OSError:
            pass

    def _up(self, now, data):
        self.moved = time.monotonic()
        for path in ASKED.findall(data):
            now[0] = [path.decode(), 0]
            self.answers.append(now[0])

    def _down(self, now, data):
        self.moved = time.monotonic()
        now[0][1] += len(data)

    @property
    def asked(self):
        return [path for path, _ in self.answers]

    @property
    def bytes(self):
        return sum(size for _, size in self.answers)


@contextmanager
def wire_to(server):
    wire = Wire(server)
    try:
        yield wire
    finally:
        wire.close()
