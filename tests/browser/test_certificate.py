"""A studio over https with a certificate of its own: on a phone that was told of it, on one where the browser's warning
was passed over, and in a window in which the browser keeps nothing.

The certificate is made by the README's own commands. To the browser a warning that was passed over makes no trust: it
then takes no service worker (W3C "Service Workers", registration fails where the script can't be fetched).
"""

import base64
import hashlib
import subprocess
from types import SimpleNamespace

import pytest
from axe_playwright_python.sync_playwright import Axe

from batches.demo import story
from tests.browser.conftest import QUIET
from tests.browser.walking import AXE, PHONE, dressed, is_kept
from tests.outside.test_own_certificate import NAME, made
from tests.serving import command, free_port

pytestmark = pytest.mark.browser

WORKER = "navigator.serviceWorker.getRegistration().then((one) => Boolean(one?.active))"
PRIVATE = "delete Navigator.prototype.serviceWorker;"  # as some browsers' private windows have none
NOT_KEPT = [{"trusting": False}, {"trusting": True, "script": PRIVATE}]
LINE = "[data-stays-open]"


def openssl(words, given=None):
    return subprocess.run(["openssl", *words.split()], input=given, check=True, capture_output=True).stdout


@pytest.fixture(scope="module")
def over_https(own_studio, tmp_path_factory):
    """The studio once more, on the same records, behind its own certificate."""
    files = made(tmp_path_factory.mktemp("certificate"))
    key = openssl("pkey -pubin -outform der", openssl(f"x509 -in {files / 'studio.crt'} -pubkey -noout"))
    address = f"https://{NAME}:{(port := free_port())}"
    server = [*command(port), "--certfile", files / "studio.crt", "--keyfile", files / "studio.key"]
    environment = own_studio.environment | {"CLEARBATH_BASE_URL": address}
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    with subprocess.Popen(server, env=environment, **quiet) as process:
        yield SimpleNamespace(address=address, key=base64.b64encode(hashlib.sha256(key).digest()).decode())
        process.terminate()


@pytest.fixture
def sink_of(chromium, over_https):
    """`sink_of(trusting)`: a page at a pot's sink, in a browser that has the certificate or was told to go on."""
    browsers = []

    def give(*, trusting, script=""):
        args = [*QUIET, f"--host-resolver-rules=MAP {NAME} 127.0.0.1"]
        if trusting:
            args.append(f"--ignore-certificate-errors-spki-list={over_https.key}")
        browser = chromium.browser_type.launch(executable_path="/usr/bin/chromium", args=args)
        browsers.append(browser)
        page = browser.new_page(viewport=PHONE, base_url=over_https.address, ignore_https_errors=not trusting)
        page.add_init_script(script)
        page.goto("/sign-in/")
        page.get_by_label("Name").fill("Oda")
        page.get_by_label("Password").fill(story.PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_url("**/journal/")
        sink = page.locator("a[href^='/sink/']").first.get_attribute("href")
        page.goto(sink)
        is_kept(page, f"{sink}add/note/")
        assert page.evaluate("isSecureContext"), "not told by this: so it is to be told by what fails"
        return page

    yield give
    for browser in browsers:
        browser.close()


def test_a_phone_that_has_the_certificate_opens_the_sink_without_a_network(sink_of):
    page = sink_of(trusting=True)
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    assert page.locator(LINE).is_hidden()
    page.context.set_offline(True)
    page.reload()
    page.get_by_text("this is how it stood at").wait_for()


@pytest.mark.parametrize("how", NOT_KEPT)
def test_where_the_browser_keeps_no_copy_one_line_says_what_to_do(sink_of, how):
    page = sink_of(**how)
    line = page.locator(LINE)
    line.locator("summary", has_text="keep the sink open").wait_for()
    assert "script" in how or not page.evaluate(WORKER)
    assert line.locator("summary").bounding_box()["height"] >= 44
    line.locator("summary").click()
    for words in ("certificate", "README", "private"):
        assert words in line.locator("p").inner_text()
    assert not Axe().run(page, options=AXE).response["violations"]


@pytest.mark.parametrize("how", NOT_KEPT)
def test_what_is_logged_there_without_a_network_waits_in_the_open_page(sink_of, own_studio, how):
    page = sink_of(**how)
    page.context.set_offline(True)
    page.get_by_role("link", name="Note", exact=True).click()
    words = f"bracken, {'private' if 'script' in how else 'past a warning'}"
    page.locator("textarea[name=note]").fill(words)
    dressed(page)
    page.get_by_role("button", name="Log it", exact=True).click()
    page.locator("[data-outbox]", has_text="1 on this phone").wait_for()
    page.context.set_offline(False)
    page.evaluate("sender.flush()")
    page.locator("[data-outbox]", has_text="All sent").wait_for()
    assert len(own_studio.notes(words)) == 1
