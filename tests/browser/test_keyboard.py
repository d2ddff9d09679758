"""Tab through every kind of page of the demo studio: what has the focus is seen, not covered, and in the page's order.

WCAG 2.2, success criteria 2.1.2 (no trap), 2.4.3 (order), 2.4.7 (focus visible) and 2.4.11 (focus not obscured).
"""

import re

import pytest

from tests.browser.walking import LAPTOP, PHONE, dressed, kind_of, pages_from

pytestmark = [pytest.mark.browser]

MOST_STOPS = 400

# What has the focus, and what is wrong with how it is shown. Its number in the page's order comes back to be compared.
FOCUSED = """() => {
  const element = document.activeElement, faults = [];
  if (!element || element === document.body) return null;
  const name = (element.innerText || element.name || element.id || element.tagName).trim().slice(0, 40);
  const label = element.matches("input[type=radio], input[type=checkbox]") ? element.closest("label") : null;
  const box = element.getBoundingClientRect();
  const over = getComputedStyle(element, "::after"); // a print's link lies over all of the print
  const area = over.position === "absolute" && over.content !== "none" ? element.offsetParent : label ?? element;
  const lines = element.getClientRects(), first = lines[0] ?? box;
  const high = innerHeight, wide = document.documentElement.clientWidth;
  if (!box.width || !box.height) faults.push(`has no size: ${name}`);
  if (first.bottom <= 0 || first.top >= high || first.right <= 0 || first.left >= wide)
    faults.push(`out of sight: ${name}`);
  const points = [[.5, .5], [.1, .5], [.9, .5], [.5, .2], [.5, .8]].map(([x, y]) =>
    [first.left + first.width * x, first.top + Math.min(first.height, high) * y]);
  const seen = points.some(([x, y]) => {
    const top = document.elementFromPoint(x, y);
    return top && (area.contains(top) || top.contains(element) && !top.closest("header, footer, nav"));
  });
  if (!seen) faults.push(`covered: ${name}`);
  const style = getComputedStyle(element);
  const outlined = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2;
  if (!outlined) faults.push(`no focus to be seen: ${name}`);
  else if (parseFloat(style.outlineOffset) <= 0 && style.outlineColor === style.backgroundColor)
    faults.push(`focus of the colour of its ground: ${name}`);
  const order = [...document.querySelectorAll("*")].indexOf(element);
  return {order, faults, name, inParts: element.matches("input[type^=date], input[type=time]")};
}"""
STOPS = """() => [...document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary")]
  .filter(each => each.checkVisibility({visibilityProperty: true}) && each.tabIndex >= 0 && !each.disabled
    && !each.closest(".hidden"))
  .filter((each, place, all) => each.type !== "radio"
    || all.findIndex(other => other.type === "radio" && other.name === each.name && other.form === each.form) === place)
  .length"""

FROM_THE_TOP = """() => {
  document.body.tabIndex = -1;
  document.body.focus();
  document.body.removeAttribute("tabindex");
  scrollTo(0, 0);
}"""


def walk(page):
    """(faults, how many stops) of one walk with Tab from the top of the page to its end."""
    page.evaluate(FROM_THE_TOP)
    faults, stops, first, before = [], 0, 0, -1
    for _ in range(MOST_STOPS):
        page.keyboard.press("Tab")
        at = page.evaluate(FOCUSED)
        if at is None or at["order"] < before and stops and at["order"] <= first:
            return faults, stops
        if not stops:
            first = at["order"]
        if at["order"] == before and at["inParts"]:
            continue  # the day, the month and the year of one box
        if at["order"] == before:
            return [*faults, f"stuck at {at['name']}"], stops
        if at["order"] < before:
            faults.append(f"goes back to {at['name']}")
        faults += at["faults"]
        before, stops = at["order"], stops + 1
    return [*faults, f"no end after {stops} stops"], stops


def test_tab_goes_through_every_kind_of_page_and_is_always_seen(demo_studio):
    page = demo_studio.open("Oda")
    faults, opened = [], 0
    for address, _ in pages_from(page, "/journal/", same=kind_of):
        opened += 1
        for size in (LAPTOP, PHONE):
            page.set_viewport_size(size)
            found, stops = walk(page)
            wanted = page.evaluate(STOPS)
            if stops < wanted:
                found.append(f"{stops} stops of {wanted}")
            faults += [f"{address} at {size['width']} px: {fault}" for fault in found]
    assert opened > 45
    assert not faults, "\n".join(faults)


def test_the_skip_link_goes_to_the_page(demo_studio):
    page = demo_studio.open("Oda")
    page.goto("/shelf/")
    page.keyboard.press("Tab")
    skip = page.get_by_role("link", name="Skip to the page")
    assert skip.evaluate("link => link === document.activeElement && link.getBoundingClientRect().top >= 0")
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("() => document.activeElement.closest('main') !== null")


def test_what_was_logged_is_said_and_stays(demo_studio):
    page = demo_studio.open("Oda")
    page.goto("/journal/")
    page.locator("a[href^='/sink/']").first.click()
    page.get_by_role("link", name="Note", exact=True).click()
    page.get_by_label("Note", exact=True).fill("Smells of sheep")
    dressed(page)
    page.get_by_role("button", name="Log it").press("Enter")
    page.get_by_role("status").filter(has_text=re.compile("Logged: Note.*Smells of sheep")).wait_for()
    page.get_by_role("status").filter(has_text="All sent").wait_for()
    page.locator(".last").get_by_text("Smells of sheep", exact=True).first.wait_for()


@pytest.mark.parametrize("script", [True, False])
def test_a_refusal_takes_the_focus(demo_studio, script):
    page = demo_studio.open("Oda", script=script)
    page.goto("/people/new/")
    page.locator("main form button.main").click()
    page.locator(".errors").wait_for()
    if script:
        page.wait_for_function("() => document.activeElement.matches('.errors')")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_url("**#id_name")
