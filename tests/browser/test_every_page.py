"""Every page of the demo studio in a real browser, on a phone and on a laptop.

Pages are found by following the links from the journal, as the owner, one of each kind. Sizes of targets: WCAG 2.2
success criterion 2.5.5 (44 px, links in running text excepted); for wet hands 72 px with 16 px between, which is
this project's own measure (common practice, no source).
"""

import re
from urllib.parse import urljoin, urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe

from batches.demo import story
from studio.models import Person, Role
from tests.browser.conftest import LAPTOP, PHONE

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

AXE = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]},
    "resultTypes": ["violations"],
}
NO_PAGES = re.compile(r"^/(static|pictures|documents)/|\.pdf$")
LINKS = "links => links.map(link => link.getAttribute('href'))"
LEFT_EMPTY = ["/shelf/bases/new/", "/shelf/deliveries/new/", "/colourways/new/", "/people/new/"]

SEEN_BY_A_HAND = """() => {
  const faults = [], shown = element => element.checkVisibility({visibilityProperty: true});
  const wide = document.scrollingElement;
  if (wide.scrollWidth > wide.clientWidth) faults.push(`scrolls sideways, ${wide.scrollWidth} px`);
  const name = element => (element.innerText || element.name || element.id).trim().slice(0, 40);
  const inText = link => getComputedStyle(link).display === "inline"
    && link.parentElement.innerText.trim().length > link.innerText.trim().length;
  const targets = [];
  for (const element of document.querySelectorAll("a[href], button, input, select, textarea, summary")) {
    if (!shown(element) || element.closest(".hidden, .skip") || element.type === "hidden") continue;
    if (element.tagName === "A" && inText(element)) continue;
    // A print or a bottle is one target: its link is laid over all of it.
    const over = getComputedStyle(element, "::after");
    const target = over.position === "absolute" && over.content !== "none"
      ? element.offsetParent : element.closest("label") || element;
    targets.push([target, target.getBoundingClientRect()]);
  }
  for (const [target, box] of targets) {
    if (box.height < 43.9) faults.push(`${Math.round(box.height)} px high: ${name(target)}`);
    if (box.right > wide.clientWidth + 1 || box.left < -1) faults.push(`off the page: ${name(target)}`);
  }
  const near = (a, b, gap) => a.left < b.right + gap && b.left < a.right + gap
    && a.top < b.bottom + gap && b.top < a.bottom + gap;
  targets.forEach(([one, a], place) => targets.slice(place + 1).forEach(([other, b]) => {
    if (one.contains(other) || other.contains(one) || !near(a, b, -1)) return;
    faults.push(`${name(one)} lies on ${name(other)}`);
  }));
  const large = [...document.querySelectorAll(".sink .wet .button")].map(each => [each, each.getBoundingClientRect()]);
  large.forEach(([one, a], place) => {
    if (a.height < 71.9) faults.push(`for wet hands ${Math.round(a.height)} px high: ${name(one)}`);
    large.slice(place + 1).forEach(([other, b]) => {
      if (near(a, b, 15.9)) faults.push(`for wet hands too near: ${name(one)}, ${name(other)}`);
    });
  });
  for (const caution of document.querySelectorAll(".caution")) {
    const a = caution.getBoundingClientRect();
    for (const [target, b] of targets)
      if (!caution.contains(target) && near(a, b, 3)) faults.push(`a caution touches ${name(target)}`);
  }
  return faults;
}"""


def kind_of(address):
    """What makes an address a page of its own kind: names and numbers of rows do not."""
    path = urlsplit(address)
    parts = [part for part in path.path.split("/") if part and not re.search(r"\d", part)]
    return "/".join(parts), frozenset(re.findall(r"(?:^|&)(\w+)", path.query))


def pages_from(page, start):
    """Yields the address of one page of each kind that links lead to, opened; a link that is refused fails."""
    waiting, known = [start], {kind_of(start)}
    while waiting:
        address = waiting.pop(0)
        answer = page.goto(address)
        assert answer.status == 200, f"a link leads to {address}, which answers {answer.status}"
        yield address
        for link in page.eval_on_selector_all("a[href]", LINKS):
            found = urlsplit(urljoin(page.url, link))
            path = found.path + (f"?{found.query}" if found.query else "")
            if found.netloc != urlsplit(page.url).netloc or NO_PAGES.search(found.path) or kind_of(path) in known:
                continue
            known.add(kind_of(path))
            waiting.append(path)


def faults_of(page):
    """What is wrong with the page as it stands, on a phone and on a laptop."""
    found = []
    for size in (LAPTOP, PHONE):
        page.set_viewport_size(size)
        faults = page.evaluate(SEEN_BY_A_HAND)
        violations = Axe().run(page, options=AXE).response["violations"]
        faults += [f"{each['id']}: {node['html'][:120]}" for each in violations for node in each["nodes"]]
        found += [f"{page.url} at {size['width']} px: {fault}" for fault in faults]
    return found


@pytest.fixture
def demo(db):
    return story.Story().tell()


def test_every_page_fits_is_reachable_by_hand_and_passes_axe(demo, open_browser, sign_in):
    page = open_browser(PHONE)
    sign_in(page, demo.name, story.PASSWORD)
    faults, opened = [], []
    for address in pages_from(page, "/journal/"):
        opened.append(address)
        faults += faults_of(page)
    for address in LEFT_EMPTY:
        page.goto(address)
        page.locator("main form[method=post] button.main").last.click()
        page.locator(".errors").wait_for()
        faults += faults_of(page)
    assert len(opened) > 45
    assert not faults, "\n".join(faults)


@pytest.mark.parametrize("role", [Role.HELPER, Role.VIEWER])
def test_no_link_leads_to_a_shut_door(demo, open_browser, sign_in, role):
    page = open_browser(PHONE)
    sign_in(page, Person.objects.get(role=role).name, story.PASSWORD)
    assert len(list(pages_from(page, "/journal/"))) > 10
