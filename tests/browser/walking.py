"""Following links through the studio, and looking at each page as somebody would who stands before it."""

import gzip
import re
from pathlib import Path
from urllib.parse import urljoin, urlsplit

from axe_playwright_python.sync_playwright import Axe

PHONE = {"width": 360, "height": 740}
LAPTOP = {"width": 1280, "height": 800}
NARROW = {"width": 320, "height": 640}  # 400 % zoom on a laptop: WCAG 2.2, success criterion 1.4.10

LOOK = (Path(__file__).parent / "eye.js").read_text()
# The driver's own way to wait takes a promise itself for a yes.
KEPT = """async (path) => {
  for (let tries = 0; tries < 600; tries++) {
    if (await pages.get(path)) return;
    await new Promise((later) => setTimeout(later, 100));
  }
  throw new Error(`This phone never kept ${path}`);
}"""
# A form waits longer for the studio's answer than a second and a half before it goes back to the sink without it.
ANSWERS_IN_TIME = """const later = setTimeout;
globalThis.setTimeout = (done, ms, ...more) => later(done, ms === 1500 ? 60_000 : ms, ...more);"""
LINKS = "links => links.map(link => link.getAttribute('href'))"
FILES = re.compile(r"^/(static|pictures|documents)/|\.(pdf|csv|zip)$")
AT_THE_SINK = re.compile(r"^/sink/\d*(\d)/(strike|add/[\w-]+)/")
AXE = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]},
    "resultTypes": ["violations"],
}


def kind_of(address):
    """What makes an address a page of its own kind: names and numbers of rows do not."""
    path = urlsplit(address)
    parts = [part for part in path.path.split("/") if part and not re.search(r"\d", part)]
    return "/".join(parts), frozenset(re.findall(r"(?:^|&)(\w+)", path.query))


def page_itself(address):
    """Every path is a page of its own; of what may stand behind a question mark, one of each kind will do.

    Of the pages that log or strike at the sink there are as many as pots times kinds: a tenth of the pots will do.
    """
    path = urlsplit(address)
    if found := AT_THE_SINK.match(path.path):
        return found.groups()
    return kind_of(address) if path.query else path.path


def pages_from(page, start, same=page_itself):
    """Yields (address, answer) of each page that links lead to from `start`, opened, those that are the `same` once.

    A link that is refused or leads nowhere fails, naming the page that it stands on.
    """
    waiting, known = [(start, "the beginning")], {same(start)}
    while waiting:
        address, stands_on = waiting.pop(0)
        answer = page.goto(address)
        assert answer.status == 200, f"a link on {stands_on} leads to {address}, which answers {answer.status}"
        yield address, answer
        for link in page.eval_on_selector_all("a[href]", LINKS):
            found = urlsplit(urljoin(page.url, link))
            path = found.path + (f"?{found.query}" if found.query else "")
            if found.netloc != urlsplit(page.url).netloc or FILES.search(found.path) or same(path) in known:
                continue
            known.add(same(path))
            waiting.append((path, address))


def faults_of(page, sizes=(LAPTOP, PHONE), schemes=("light", "dark"), look=True, axe=False):
    """What is wrong with the page as it stands, at these sizes and in these schemes."""
    found = {}
    for scheme in schemes:
        page.emulate_media(color_scheme=scheme)
        for size in sizes:
            page.set_viewport_size(size)
            faults = page.evaluate(LOOK) if look else []
            if axe:
                violations = Axe().run(page, options=AXE).response["violations"]
                faults += [f"{each['id']}: {node['html'][:120]}" for each in violations for node in each["nodes"]]
            for fault in faults:
                found.setdefault(fault, f"{urlsplit(page.url).path}, {size['width']} px, {scheme}: {fault}")
    return list(found.values())


def packed(answer):
    """Bytes of a page as they would travel, compressed as well as can be."""
    return len(gzip.compress(answer.body(), 9))


def logs(page, button):
    """Press a button of the sink, and wait until what it said has arrived, or is kept on the phone."""
    button.click()
    logged(page)


def logged(page):
    """What was pressed last has arrived, or is kept on the phone."""
    page.wait_for_function("() => !('logging' in document.documentElement.dataset)")


def is_kept(page, path):
    """Wait until the phone has kept that page of the sink."""
    page.evaluate(KEPT, path)


def dressed(page):
    """The scripts of this page have run: a button that was pressed before would send its form past them."""
    page.wait_for_load_state("domcontentloaded")
