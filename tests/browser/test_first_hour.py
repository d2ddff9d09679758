"""The first hour by hand at phone size: from the set-up link to the first run, and a shelf from a spreadsheet."""

import pytest

from batches.models import Run
from studio import setup_token
from studio.models import Base, Dye, Role, Studio
from tests import builders
from tests.browser.test_the_whole_job import PASSWORD, Dyer
from tests.browser.walking import LAPTOP, NARROW, PHONE, faults_of

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
CLASSES = ("acid levelling", "acid milling", "metal complex", "reactive")


@pytest.fixture
def key(db):
    setup_token.path().unlink(missing_ok=True)
    yield setup_token.make()
    setup_token.path().unlink(missing_ok=True)


def nothing_amiss(page, sizes=(NARROW, PHONE)):
    """No overflow, no small target, and nothing that axe finds."""
    assert faults_of(page, sizes=sizes, axe=True) == []


def is_said(page, words):
    """What just happened is put into the page once more, a moment after it opens."""
    page.locator(".messages p", has_text=words).wait_for()


@pytest.mark.parametrize("script", [True, False], ids=["with scripts", "without"])
def test_from_the_set_up_link_to_the_first_run(open_browser, key, script):
    page = open_browser(PHONE, script=script)
    dyer = Dyer(page, script)
    dyer.go(f"/set-up/?key={key}")
    dyer.fill(studio="Lamp Lane", name="Oda", password=PASSWORD, again=PASSWORD)
    dyer.press("Make the account")
    dyer.sees("Where the studio is")
    if script:
        nothing_amiss(page)
    dyer.fill(country="Sweden")
    dyer.press("Fill in what is usual there")
    assert page.locator("[name=currency]").input_value() == "SEK"
    assert page.locator("[name=time_zone]").input_value() == "Europe/Stockholm"
    dyer.press("Keep it")
    assert Studio.get().time_zone == "Europe/Stockholm"
    is_said(page, "That is the studio.")
    if script:
        nothing_amiss(page)
    page.locator(".way .main").click()
    dyer.fill(name="Tessel 4-ply", skein_weight="100", form__0__fibre="wool", form__0__percent="100")
    dyer.press("Add it")
    dyer.sees("1 base here.")
    page.locator(".way .main").click()
    dyer.fill(name="Brick", dye_class="Acid, milling", colour="#9c3122")
    dyer.press("Add it")
    dyer.sees("1 dye here.")
    if script:
        nothing_amiss(page)
    page.locator(".way .main").click()
    dyer.push(page.locator("main form button.main").last)
    assert page.url.endswith(f"/sink/{Run.objects.get().batches.get().pk}/")
    dyer.go("/journal/")
    assert page.locator(".way").count() == 0


def test_the_browser_s_time_zone_is_offered(chromium, live_server, key):
    context = chromium.new_context(base_url=live_server.url, locale="en-US", timezone_id="America/Denver")
    page = context.new_page()
    dyer = Dyer(page, script=True)
    dyer.go(f"/set-up/?key={key}")
    dyer.fill(studio="Lamp Lane", name="Oda", password=PASSWORD, again=PASSWORD)
    dyer.press("Make the account")
    zone = page.locator("[name=time_zone]")
    assert zone.input_value() == "America/Denver"  # the country has several: the browser's own was free to take
    offer = page.get_by_role("button", name="Take Denver, as on this device")
    assert not offer.is_visible()
    zone.select_option(value="America/Chicago")
    assert offer.is_visible()
    offer.click()
    assert zone.input_value() == "America/Denver"
    context.close()


def many_bases():
    rows = ["Name\tFibre content\tSkein weight (g)\tLength\tSuperwash"]
    rows += [f"Base {n}\t75 % Merino wool, 25 % nylon\t100\t{400 + n} m\tyes" for n in range(1, 31)]
    return "\n".join(rows)


def many_dyes():
    rows = ["Name\tClass\tColour\tSupplier"]
    rows += [f"Dye {n}\t{CLASSES[n % 4]}\t#{n:02x}4020\tNettle Bank" for n in range(1, 61)]
    return "\n".join(rows)


@pytest.mark.parametrize("script", [True, False], ids=["with scripts", "without"])
def test_sixty_dyes_and_thirty_bases(open_browser, sign_in, script):
    builders.make_person("Oda", Role.OWNER)
    page = open_browser(PHONE, script=script)
    dyer = Dyer(page, script)
    sign_in(page, "Oda")
    dyer.go("/journal/")
    dyer.follow("Paste bases, dyes")
    dyer.fill(text=many_bases().replace("405 m", "1,000 m"))
    dyer.press("Read it")
    dyer.sees("29 bases can be kept. 1 row to put right.")
    if script:
        nothing_amiss(page)
    dyer.press("Put 29 on the shelf")
    is_said(page, "29 bases are in the studio now. 1 row is left in the box")
    box = page.locator("[name=text]")
    box.fill(box.input_value().replace("1,000 m", "405 m"))
    dyer.press("Read it again")
    dyer.press("Put 1 on the shelf")
    dyer.follow("Dyes")
    dyer.fill(text=many_dyes())
    dyer.press("Read it")
    dyer.press("Put 60 on the shelf")
    is_said(page, "60 dyes are in the studio now.")
    assert (Base.objects.count(), Dye.objects.count()) == (30, 60)
    page.go_back()
    if script:
        page.wait_for_timeout(550)
    again = page.get_by_role("button", name="Put 60 on the shelf")
    if again.count():
        again.click()
    assert Dye.objects.count() == 60


@pytest.mark.parametrize("slug", ["bases", "dyes", "lots", "bottles", "counts", "recipes"])
def test_each_list_fits_a_phone_and_a_laptop(open_browser, sign_in, slug):
    builders.make_person("Oda", Role.OWNER)
    page = open_browser(PHONE)
    sign_in(page, "Oda")
    page.goto(f"/shelf/paste/{slug}/?example=1")
    nothing_amiss(page, sizes=(NARROW, PHONE, LAPTOP))
