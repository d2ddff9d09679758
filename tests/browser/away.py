"""A studio whose server can be stopped and started, phones that can be restarted, and what is in the log after all."""

import os
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

from playwright.sync_api import TimeoutError

from batches.demo import story
from tests.browser.walking import PHONE, dressed, is_kept, logged
from tests.serving import command, free_port, wait_for

CHROMIUM = "/usr/bin/chromium"
NO_ECHO = "() => Date.now() - JSON.parse(sessionStorage.getItem('last-tap') ?? '[0]')[0] > 500"
WAITING = "async () => (await phone.all('waiting')).map(({ id, problem, tries }) => ({ id, problem, tries }))"


class OwnStudio:
    """The demo studio on a server of its own, with the static files as a studio serves them."""

    def __init__(self, folder):
        self.folder, self.port, self.server = folder, free_port(), None
        self.address = f"http://127.0.0.1:{self.port}"
        kept = {
            name: value for name, value in os.environ.items() if not name.startswith(("CLEARBATH_", "DATABASE_URL"))
        }
        self.environment = kept | {
            "DJANGO_SETTINGS_MODULE": "studio.settings",
            "CLEARBATH_DATA": str(folder),
            "CLEARBATH_BASE_URL": self.address,
        }
        self.manage("prepare", "--demo")
        self.start()

    def manage(self, *words):
        arguments = [sys.executable, "manage.py", *words]
        subprocess.run(arguments, env=self.environment, check=True, capture_output=True)

    def start(self):
        if self.server is None:
            quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
            self.server = subprocess.Popen(command(self.port), env=self.environment, start_new_session=True, **quiet)
            wait_for(self.port)

    def stop(self):
        if self.server is not None:
            os.killpg(self.server.pid, signal.SIGKILL)  # with its workers, which would answer on for a moment
            self.server.wait()
            self.server = None

    def rows(self, sql, *facts):
        """What stands in the database itself. `sql` may change it, too."""
        with sqlite3.connect(self.folder / "clearbath.sqlite3", timeout=20) as base:
            base.row_factory = sqlite3.Row
            return [dict(row) for row in base.execute(sql, facts)]

    def notes(self, mark):
        """The notes of the log that hold this word, in the log's own order."""
        return self.rows(
            "SELECT e.*, p.name AS who FROM batches_entry e JOIN studio_person p ON p.id = e.by_id "
            "WHERE e.words LIKE ? ORDER BY e.at, e.received_at, e.id",
            f"%{mark}%",
        )


class Handset:
    """One phone: a browser with a folder of its own, which outlives the browser."""

    def __init__(self, kind, studio, folder, args, script=None):
        self.kind, self.studio, self.folder, self.args, self.script = kind, studio, Path(folder), args, script
        self.context = None
        self.open()

    def open(self):
        self.context = self.kind.launch_persistent_context(
            self.folder, executable_path=CHROMIUM, args=list(self.args), viewport=PHONE, base_url=self.studio.address
        )
        self.context.set_default_timeout(30_000)
        if self.script:
            self.context.add_init_script(self.script)
        self.page = self.context.pages[0]
        return self.page

    def close(self):
        if self.context is not None:
            self.context.close()
            self.context = None

    def kill(self):
        """End the browser as a dead battery would: its own processes, known by its folder."""
        for found in Path("/proc").glob("[0-9]*/cmdline"):
            try:
                if str(self.folder).encode() in found.read_bytes():
                    os.kill(int(found.parent.name), signal.SIGKILL)
            except (OSError, ValueError):
                continue
        time.sleep(0.5)
        try:
            self.close()
        except Exception:  # noqa: BLE001  # it is dead, and says so
            self.context = None
        for lock in self.folder.glob("Singleton*"):
            lock.unlink(missing_ok=True)

    def sign_in(self, name):
        self.page.goto("/sign-in/")
        self.page.get_by_label("Name").fill(name)
        self.page.get_by_label("Password").fill(story.PASSWORD)
        self.page.get_by_role("button", name="Sign in").click()
        self.page.wait_for_url("**/journal/")

    def to_sink(self, number=0):
        """At the sink, with what it needs kept on the phone. Answers the address."""
        self.page.goto("/journal/")
        sink = self.page.locator("a[href^='/sink/']").nth(number).get_attribute("href")
        self.page.goto(sink)
        is_kept(self.page, f"{sink}add/note/")
        self.page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        return sink

    def until(self, question, *facts):
        """Wait until the answer, or what it promises, is yes. The driver's own way takes a promise itself for a yes."""
        for _ in range(300):
            if self.page.evaluate(question, *facts):
                return
            self.page.wait_for_timeout(100)
        raise AssertionError(f"Never so: {question}")

    def press(self, name):
        """A touch on a button that logs, once the page no longer takes it for an echo of the last one."""
        dressed(self.page)
        self.page.wait_for_function(NO_ECHO)
        self.page.get_by_role("button", name=name).click()

    def note(self, words):
        """Log a note by its own page, as hands do."""
        self.page.get_by_role("link", name="Note", exact=True).click()
        self.page.locator("textarea[name=note]").fill(words)
        self.press("Log it")
        self.settled()

    def settled(self):
        """Logged or kept, and long enough ago that the next touch is no bounce of a wet screen, as with real hands."""
        logged(self.page)
        self.page.wait_for_function(NO_ECHO)

    def answered(self):
        """A list to which each thing is added that was sent from here on, and answered: it may be tried more often."""
        bodies = []

        def came(answer):
            if answer.url.endswith("/log/"):
                bodies.append(answer.request.post_data or "")

        self.context.on("response", came)
        return bodies

    def waiting(self):
        return self.page.evaluate(WAITING)

    @property
    def count(self):
        return self.page.locator("[data-outbox]")

    def says(self, words):
        try:
            self.count.filter(has_text=words).wait_for()
        except TimeoutError:
            raise AssertionError(f"{words!r} is not in {self.count.text_content()!r}: {self.waiting()}") from None

    def send_now(self):
        """Whatever waits, until nothing more is on its way. Answers whether the studio knows who sends."""
        return self.page.evaluate("sender.flush().then(() => !sender.now.signedOut)")

    def all_sent(self):
        self.send_now()
        self.says("All sent")
