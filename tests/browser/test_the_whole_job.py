"""The whole job once through, by hand in a browser: from an empty studio to a run that is found again.

Walked twice at phone size: as a phone does it, and with scripts switched off.
"""

import io
import re
from decimal import Decimal

import pdfplumber
import pytest
from PIL import Image

from batches.models import CostSheet, Entry, Run, TagPrint
from studio import setup_token
from studio.models import Lot, ShareOut
from tests.browser.walking import logs

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PASSWORD = "kettle on the hob"
RECIPE = """for 6 skeins:
Soak 30 min at 40 °C
Water 20:1
1 tbsp vinegar
240 mL brick 1 %, first third
0.3 % ochre
Heat to 85 °C
Hold 40 min at 85 °C"""


def photo():
    held = io.BytesIO()
    Image.new("RGB", (900, 1200), "#9c3122").save(held, "JPEG")
    return {"name": "wet.jpg", "mimeType": "image/jpeg", "buffer": held.getvalue()}


class Dyer:
    """Somebody at a phone: fills in by the words on the page, and presses what is written on the buttons."""

    def __init__(self, page, script):
        self.page = page
        self.script = script

    def go(self, path):
        answer = self.page.goto(path)
        assert answer.status == 200, f"{path}: {answer.status}"

    def fill(self, within=None, **said):
        """Fill in fields by their names in the form, "skeins=3"."""
        for name, value in said.items():
            box = (within or self.page).locator(f"[name='{name.replace('__', '-')}']").first
            folded = box.locator("xpath=ancestor::details[not(@open)]/summary")
            if folded.count():
                folded.first.click()
            if box.get_attribute("type") == "radio":
                self.page.locator(f"label:has([name='{name}'])", has_text=value).first.click()
            elif box.evaluate("element => element.tagName") == "SELECT":
                box.select_option(label=value)
            else:
                box.fill(str(value))

    def choose(self, words):
        self.page.get_by_label(words, exact=False).first.check()

    def press(self, words):
        self.push(self.page.get_by_role("button", name=words).first)

    def push(self, button):
        """Press a button that sends something, and see that it was taken. No hand is quicker than half a second."""
        if self.script:
            self.page.wait_for_timeout(550)
            if button.evaluate("button => button.form.matches('[data-log]')"):
                logs(self.page, button)
                return
        with self.page.expect_navigation():
            button.click()
        self.not_refused()

    def add_row(self, words):
        """With scripts a row is added where one is; without, the page comes back with one more."""
        button = self.page.get_by_role("button", name=words).first
        if self.script:
            button.click()
        else:
            self.push(button)

    def follow(self, words):
        with self.page.expect_navigation():
            self.page.get_by_role("link", name=words).first.click()

    def not_refused(self):
        errors = self.page.locator(".errors")
        assert errors.count() == 0, errors.inner_text()

    def sees(self, words):
        shown = self.page.locator("main").inner_text().replace("\u00a0", " ")
        assert words in shown, f"{words!r} is not on {self.page.url}:\n{shown}"


# --- the nine steps


def opens_the_studio(dyer):
    link = setup_token.link()
    dyer.go(link[link.index("/", 8) :])
    dyer.fill(studio="Lamp Lane Dyehouse", name="Oda", password=PASSWORD)
    for box in dyer.page.locator("[type=password]").all():
        box.fill(PASSWORD)
    dyer.push(dyer.page.locator("main form button").last)
    dyer.fill(country="Ireland", currency="EUR, Euro", time_zone="Dublin", locale="English (Ireland)")
    dyer.fill(market="European Union")
    dyer.choose("Metric")
    dyer.press("Keep it")
    dyer.sees("The first hour")


def puts_the_shelf_in(dyer):
    dyer.go("/shelf/bases/new/")
    dyer.fill(name="Tessel 4-ply", make_up="4-ply", skein_weight="100", skein_length="425", price="28.95")
    dyer.fill(form__0__fibre="wool", form__0__percent="75", form__1__fibre="nylon", form__1__percent="25")
    dyer.press("Add it")
    for name, colour in (("Brick", "#9c3122"), ("Ochre", "#d39a3c")):
        dyer.go("/shelf/dyes/new/")
        dyer.fill(name=name, dye_class="Acid, milling", colour=colour, sheet_url="https://example.org/sheet.pdf")
        dyer.press("Add it")
    dyer.go("/shelf/assistants/new/")
    dyer.fill(name="Vinegar", kind="Acid", strength_pct="5")
    dyer.choose("Measured, in mL")
    dyer.press("Add it")
    dyer.go("/shelf/bench/pots/new/")
    dyer.fill(name="Enamel pot", volume="14", volume_unit="L", fill="12", fill_unit="L", skeins="6")
    dyer.press("Add it")
    dyer.go("/shelf/bench/tools/new/")
    dyer.fill(name="Small scale", kind="Scale", step="0.01", largest="200")
    dyer.press("Add it")
    receives(dyer)
    makes_a_bottle(dyer)
    dyer.go("/shelf/")
    dyer.sees("Tessel 4-ply")


def receives(dyer):
    dyer.go("/shelf/deliveries/new/")
    dyer.add_row("Add another line")
    lines = [
        ("Tessel 4-ply", "20", "skeins", "168.00"),
        ("Brick", "100", "g", "18.99"),
        ("Ochre", "50", "g", "8.20"),
        ("Vinegar", "2", "L", "1.90"),
    ]
    for number, (what, amount, unit, price) in enumerate(lines):
        dyer.fill(**{f"form__{number}__what": what, f"form__{number}__amount": amount, f"form__{number}__price": price})
        dyer.fill(**{f"form__{number}__amount_unit": unit})
    dyer.fill(supplier="Nettle Bank Mill", carriage="12.50", form__2__tare="42.5")
    dyer.press("Put it on the shelf")
    assert Lot.objects.count() == 4


def makes_a_bottle(dyer):
    dyer.go("/shelf/masters/new/")
    dyer.fill(name="Brick 1 %", form__0__what="Brick", form__0__strength="1")
    dyer.press("Add it")
    brick = Lot.objects.get(dye__name="Brick")
    solution = Lot.solution.field.related_model.objects.get()
    dyer.go(f"/shelf/masters/{solution.pk}/make/?volume=500")
    dyer.sees("5 g")  # 500 mL at 1 %
    made = dyer.page.locator("form[method=post]").last
    dyer.fill(within=made, **{f"lot__{brick.pk}": "5.02", "volume": "500"})
    dyer.press("It is made")
    assert Lot.objects.get(solution=solution).strength() == Decimal("1.004")


def writes_a_recipe(dyer):
    dyer.go("/colourways/")
    dyer.go("/colourways/new/")
    dyer.fill(name="Kiln Door", story="A stove door left open.")
    dyer.press("Keep it, and write how it is dyed")
    dyer.choose("Tessel 4-ply")
    dyer.fill(text=RECIPE)
    dyer.press("Keep as version 1")
    dyer.sees("0.4")  # 240 mL of 1 % on 600 g, in % owf
    dyer.sees("240 mL brick 1 %")


def plans_two_pots(dyer):
    dyer.go("/runs/new/")
    if dyer.page.get_by_role("link", name="Kiln Door").count():
        dyer.follow("Kiln Door")
    else:
        dyer.go("/runs/new/plan/1/")
    dyer.page.locator("[name='yarn-0-lot']").select_option(index=1)
    dyer.fill(yarn__0__skeins="6", vessel="Enamel pot", pots="2")
    dyer.press("Work it out")
    dyer.sees("119.5 mL")  # brick to each pot: the bottle holds 1.004 % and not 1
    dyer.press("Keep the plan")
    dyer.go("/shelf/")
    dyer.sees("1.985 L free")  # a tablespoon of the vinegar is promised
    dyer.go(f"/runs/{Run.objects.get().code}/")
    dyer.press("Start the run")


def logs_at_the_sink(dyer):
    run = Run.objects.get()
    pot = run.batches.order_by("number").first().pk
    dyer.go(f"/sink/{pot}/")
    dyer.sees("Next")
    dyer.push(dyer.page.locator("form:has([name=kind][value=tick]) button").first)
    assert Entry.objects.filter(batch__run=run).count() == 2  # soaked, in both pots at one touch
    dyer.page.locator("summary").filter(has_text="done already").click()
    dyer.press(re.compile(r"^Done to here\s*: .*Ochre"))
    assert Entry.objects.filter(batch__run=run, time_from="together").count() == 8
    adds(dyer, pot, "bottle", "Brick 1 %", amount="1 1/2", amount_unit="metric tbsp")
    sprinkles(dyer, pot)
    adds(dyer, pot, "other", "Vinegar", amount="15")
    dyer.go(f"/sink/{pot}/add/water/")
    dyer.fill(amount="0,5", amount_unit="L")
    dyer.press("Log it")
    dyer.go(f"/sink/{pot}/add/heat/")
    dyer.fill(temperature="85", minutes="40")
    dyer.choose("Hold")
    dyer.press("Log it")
    dyer.go(f"/sink/{pot}/add/reading/")
    dyer.fill(temperature="84.5", ph="4.3")
    dyer.press("Log it")
    dyer.go(f"/sink/{pot}/add/clear/")
    dyer.press("Clear: no colour left in it")
    dyer.go(f"/sink/{pot}/add/move/")
    dyer.press("rinsing")
    dyer.go(f"/sink/{pot}/add/note/")
    dyer.fill(note="Wim stirred this one.")
    dyer.press("Log it")
    dyer.go(f"/sink/{pot}/add/work/")
    dyer.press("15 min")
    dyer.go(f"/sink/{pot}/add/photo/")
    dyer.page.locator("[name=photos]").set_input_files([photo()])
    dyer.choose("Dry")
    dyer.press("Keep the photo")
    strikes(dyer, pot)


def adds(dyer, pot, page, lot, **said):
    dyer.go(f"/sink/{pot}/add/{page}/")
    dyer.choose(lot)
    dyer.fill(**said)
    dyer.press("Log it")


def sprinkles(dyer, pot):
    dyer.go(f"/sink/{pot}/add/powder/")
    dyer.choose("Ochre, powder")
    dyer.choose("Sprinkled dry")
    dyer.fill(taps="3")
    dyer.press("Log it, not measured")
    dyer.sees("not measured")


def strikes(dyer, pot):
    wrong = Entry.objects.get(batch=pot, addition__typed="15")
    dyer.go(f"/sink/{pot}/strike/{wrong.pk}/")
    dyer.fill(reason="the other pot")
    dyer.press(re.compile("Strike"))
    assert Entry.objects.with_struck().get(pk=wrong.pk).struck


def weighs_in(dyer):
    ochre = Lot.objects.get(dye__name="Ochre")
    for gross in ("92.5", "90.2"):
        dyer.go("/weigh-in/")
        box = dyer.page.locator(f"[name='opening_{ochre.pk}']")
        if box.count() and gross == "92.5":
            box.fill("92.5")
            continue_with = dyer.page.locator(f"[name='gross_{ochre.pk}']")
            continue_with.fill("90.2")
            dyer.press("Keep these weights")
            break
        dyer.page.locator(f"[name='gross_{ochre.pk}']").fill(gross)
        dyer.press("Keep these weights")
    shared = ShareOut.objects.get()
    # 92.5 - 90.2 g were used, 1.8 g of them measured into the two pots: half a gram was sprinkled.
    assert (shared.used_g, shared.measured_g) == (Decimal("2.300"), Decimal("1.800"))
    dyer.sees("0.5")


def judges(dyer):
    code = Run.objects.get().code
    for check, said in (("rinse", {"rinses": "2"}), ("cloth", "Nothing"), ("rub_dry", "Nothing")):
        dyer.go(f"/runs/{code}/judge/?check={check}")
        form = dyer.page.locator("form:has([name=kind][value=check])").first
        if isinstance(said, dict):
            dyer.fill(within=form, **said)
        else:
            form.get_by_label(said, exact=True).first.check()
        dyer.push(form.get_by_role("button", name="Log it"))
    assert Entry.objects.filter(kind="check").count() >= 3


def finishes(dyer):
    code = Run.objects.get().code
    dyer.go(f"/runs/{code}/finish/")
    dyer.choose("Yes: one dye lot for all")
    dyer.choose("This is the colour to match")
    dyer.fill(next_time="Ochre a little later.", snippet="Ring binder, page 12")
    dyer.press("Finish")
    assert Run.objects.get().state == "finished"
    dyer.go(f"/runs/{code}/cost/")
    dyer.press("Freeze this sheet")
    sheet = CostSheet.objects.get()
    assert sum(line.minor for line in sheet.lines.all() if line.minor is not None) == sheet.total_minor
    assert sum(share.minor for share in sheet.shares.all()) == sheet.total_minor


def prints_tags(dyer):
    code = Run.objects.get().code
    dyer.go(f"/runs/{code}/tags/")
    dyer.page.locator("main form button", has_text="Make the sheet").scroll_into_view_if_needed()
    cookies = dyer.page.context.cookies()
    assert cookies
    form = dyer.page.locator("main form").first
    fields = form.evaluate("form => Object.fromEntries(new FormData(form))")
    # The first sheet loads the engine and its fonts, which takes long on a computer that is busy elsewhere.
    answer = dyer.page.request.post(dyer.page.url, form=fields, headers={"referer": dyer.page.url}, timeout=60_000)
    assert answer.ok and answer.headers["content-type"] == "application/pdf", answer.status
    with pdfplumber.open(io.BytesIO(answer.body())) as pdf:
        words = pdf.pages[0].extract_text() + pdf.pages[1].extract_text()
    for said in ("Kiln", "Tessel 4-ply", "75", "wool", "polyamide", "425", "28.95", code, "separately"):
        assert said in words
    assert sum(TagPrint.objects.values_list("copies", flat=True)) == 6


def finds_it_again(dyer):
    code = Run.objects.get().code
    for words in ("kiln", code, "ochre", "tessel", "stirred"):
        dyer.go("/journal/")
        dyer.fill(q=words)
        dyer.press("Find")
        dyer.sees("Kiln Door")
    dyer.follow("Kiln Door")
    dyer.sees("Ring binder")
    dyer.sees("Wim stirred this one.")


STEPS = [
    opens_the_studio,
    puts_the_shelf_in,
    writes_a_recipe,
    plans_two_pots,
    logs_at_the_sink,
    weighs_in,
    judges,
    finishes,
    prints_tags,
    finds_it_again,
]


@pytest.mark.parametrize("script", [True, False], ids=["with-scripts", "without-scripts"])
def test_a_studio_does_the_whole_job(open_browser, script):
    dyer = Dyer(open_browser(script=script), script)
    for step in STEPS:
        step(dyer)
