"""A real browser on the real pages: Debian's Chromium, kept from talking to anybody but this computer."""

import os
import socket
import subprocess
import sys
import time
from urllib.request import urlopen

import pytest
from django.conf import settings
from playwright.sync_api import expect, sync_playwright

from batches.demo import story
from tests import builders
from tests.browser.away import Handset, OwnStudio
from tests.browser.walking import LAPTOP, PHONE  # noqa: F401  # for the tests of this room

# The browser's driver runs an event loop in this thread; the tests themselves touch the database between clicks.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

# How long a page may take at the most: for a computer that does many other things at the same time.
PATIENCE_MS = 30_000
expect.set_options(timeout=PATIENCE_MS)

QUIET = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@pytest.fixture(scope="session")
def django_db_modify_db_settings():
    """A file, so that the server's threads and the test have a connection each, as in a studio."""
    default = settings.DATABASES["default"]
    if default["ENGINE"].endswith("sqlite3"):
        name = f"browser-{os.environ.get('PYTEST_XDIST_WORKER', 'alone')}.sqlite3"
        default.setdefault("TEST", {})["NAME"] = os.path.join(os.environ["TESTS_FOLDER"], name)


@pytest.fixture(scope="session")
def chromium():
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path="/usr/bin/chromium", args=QUIET)
        yield browser
        browser.close()


class Watched:
    """A page that remembers what went wrong behind it, and which other hosts it asked."""

    def __init__(self, context, address):
        self.page = context.new_page()
        self.address = address
        self.complaints = []
        self.page.on("console", self.heard)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("request", self.asked)

    def heard(self, message):
        # A question that is given up for a newer one, as somebody types on, is no fault; one that fails says so itself.
        given_up = message.text.startswith(("htmx:sendAbort", "htmx:afterRequest"))
        cut_off = "ERR_INTERNET_DISCONNECTED" in message.text  # by the test itself
        if message.type == "error" and "422" not in message.text and not given_up and not cut_off:
            self.complaints.append(message.text)

    def asked(self, request):
        if not request.url.startswith((self.address, "data:", "blob:")):
            self.complaints.append(f"asked another host: {request.url}")


@pytest.fixture
def open_browser(chromium, live_server):
    """`open_browser(size, script=True)`: a page at that size; at the end nothing may have gone wrong behind it."""
    opened = []

    def opener(size=PHONE, script=True):
        context = chromium.new_context(viewport=size, java_script_enabled=script, base_url=live_server.url)
        context.set_default_timeout(PATIENCE_MS)
        watched = Watched(context, live_server.url)
        opened.append((context, watched))
        return watched.page

    yield opener
    for context, watched in opened:
        context.close()
        assert not watched.complaints


@pytest.fixture
def sign_in():
    def enter(page, name, password=builders.PASSWORD):
        page.goto("/sign-in/")
        page.get_by_label("Name").fill(name)
        page.get_by_label("Password").fill(password)
        page.get_by_role("button", name="Sign in").click()

    return enter


class DemoStudio:
    """The demo studio on the server that a studio runs, with its compressed and named static files."""

    def __init__(self, chromium, address):
        self.chromium, self.address = chromium, address
        self.watched = {}

    def open(self, name, size=PHONE, script=True):
        """A page on which this person is signed in; nobody for None."""
        context = self.chromium.new_context(viewport=size, base_url=self.address, java_script_enabled=script)
        context.set_default_timeout(PATIENCE_MS)
        watched = Watched(context, self.address)
        self.watched[watched.page] = watched
        if name:
            watched.page.goto("/sign-in/")
            watched.page.get_by_label("Name").fill(name)
            watched.page.get_by_label("Password").fill(story.PASSWORD)
            watched.page.get_by_role("button", name="Sign in").click()
        return watched.page

    def complaints(self, page):
        """What went wrong behind that page so far."""
        return self.watched[page].complaints

    def close(self):
        for page in self.watched:
            page.context.close()


@pytest.fixture(scope="session")
def demo_address(tmp_path_factory):
    """Where the demo studio is served, on a database of its own."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        bind = f"127.0.0.1:{free.getsockname()[1]}"
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("CLEARBATH_", "DATABASE_URL"))}
    environment = kept | {
        "DJANGO_SETTINGS_MODULE": "studio.settings",
        "CLEARBATH_DATA": str(tmp_path_factory.mktemp("demo")),
        "CLEARBATH_BASE_URL": f"http://{bind}",
    }
    subprocess.run([sys.executable, "manage.py", "prepare", "--demo"], env=environment, check=True, capture_output=True)
    command = [
        sys.executable,
        "-m",
        "gunicorn",
        "studio.wsgi",
        "--bind",
        bind,
        "--threads",
        "4",
        "--log-level",
        "error",
    ]
    with subprocess.Popen(command, env=environment) as server:
        wait_for(f"http://{bind}/healthz")
        yield f"http://{bind}"
        server.terminate()


def wait_for(address):
    for _ in range(600):
        try:
            return urlopen(address).read()
        except OSError:
            time.sleep(0.1)
    raise RuntimeError("The demo studio did not start.")


@pytest.fixture
def demo_studio(chromium, demo_address):
    studio = DemoStudio(chromium, demo_address)
    yield studio
    studio.close()


@pytest.fixture(scope="session")
def own_studio(tmp_path_factory):
    own = OwnStudio(tmp_path_factory.mktemp("away"))
    yield own
    own.stop()


@pytest.fixture
def phone_of(chromium, own_studio, tmp_path):
    """`phone_of("Oda")`: a phone at the sink of a pot, on which she is signed in. `.sink` is its address.

    script: run before those of each page. args: more of the browser's own.
    """
    phones = []

    def give(name, script=None, number=0, args=()):
        folder = tmp_path / f"phone {len(phones)}"
        phone = Handset(chromium.browser_type, own_studio, folder, (*QUIET, *args), script)
        phones.append(phone)
        phone.sign_in(name)
        phone.sink = phone.to_sink(number)
        return phone

    own_studio.start()
    yield give
    for phone in phones:
        phone.close()
    own_studio.start()
