"""A real browser on the real pages: Debian's Chromium, kept from talking to anybody but this computer."""

import os

import pytest
from django.conf import settings
from playwright.sync_api import sync_playwright

from tests import builders

# The browser's driver runs an event loop in this thread; the tests themselves touch the database between clicks.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

QUIET = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
PHONE = {"width": 360, "height": 740}
LAPTOP = {"width": 1280, "height": 800}


@pytest.fixture(scope="session")
def django_db_modify_db_settings():
    """A file, so that the server's threads and the test have a connection each, as in a studio."""
    default = settings.DATABASES["default"]
    if default["ENGINE"].endswith("sqlite3"):
        default.setdefault("TEST", {})["NAME"] = os.path.join(os.environ["TESTS_FOLDER"], "browser.sqlite3")


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
        if message.type == "error" and "422" not in message.text:
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
        context.set_default_timeout(10_000)
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
