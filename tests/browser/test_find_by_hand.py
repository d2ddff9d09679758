"""Finding in a browser: what was found changes as one types, and the field stays under the fingers."""

import re

import pytest

from studio.models import Studio
from tests import builders
from tests.browser.conftest import PHONE

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def maker(transactional_db):
    """Low Tide in the pot, and High Field in jars."""
    Studio.get()
    maker = builders.make_cast().maker
    builders.run_with_pots(maker, pots=1, title="Low Tide")
    builders.run_with_pots(maker, pots=1, title="High Field", method="jar")
    return maker


def names(page):
    return page.locator("#found .print .name").all_inner_texts()


def test_what_is_found_changes_while_one_types(maker, open_browser, sign_in):
    page = open_browser(PHONE)
    sign_in(page, maker.name)
    page.goto("/find/")
    page.evaluate("document.body.dataset.same = 'yes'")
    field = page.get_by_label("Words, all of them wanted")
    field.press_sequentially("low ti")
    page.locator("#found .print").wait_for()
    assert names(page) == ["Low Tide"]
    page.wait_for_url(
        re.compile(r"/find/\?q=low(\+|%20)ti"), wait_until="commit"
    )  # so that a reload, or a link sent on, shows the same
    assert field.evaluate("box => box === document.activeElement") and field.input_value() == "low ti"
    page.get_by_text("Narrow it by").click()
    page.get_by_label("How it was dyed").select_option("jar")
    page.get_by_text("No run was found").wait_for()
    page.get_by_role("link", name="Without dyed in jars").wait_for()
    assert page.evaluate("document.body.dataset.same") == "yes"  # the page itself was never left


def test_it_finds_without_scripts(maker, open_browser, sign_in):
    page = open_browser(PHONE, script=False)
    sign_in(page, maker.name)
    page.goto("/find/")
    page.get_by_label("Words, all of them wanted").fill("field")
    page.get_by_role("button", name="Find", exact=True).click()
    assert names(page) == ["High Field"]
