"""Takes the README's pictures of the real pages: `bash tests/run pictures`.

The demo studio is told into a throwaway folder at one fixed moment and served from this process, so a picture changes
only where a page did. Needs Chromium. `PICTURES` is the table: each row is one file of this folder.
"""

import os
import sys
import tempfile
import threading
from contextlib import contextmanager
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parents[1]))
MOMENT = datetime(2026, 11, 25, 14, 10, tzinfo=UTC)
PHONE, WIDE = {"width": 360, "height": 740}, {"width": 1280, "height": 800}
TALL = {"width": 1280, "height": 1080}

# File, page (see `pages`), size, scheme. Photographs go into a JPEG, lines and letters into a PNG.
PICTURES = {
    "colourways.jpg": ("colourways", WIDE, "light"),
    "journal.jpg": ("journal", TALL, "light"),
    "run.jpg": ("run", TALL, "light"),
    "plan.png": ("plan", WIDE, "light"),
    "shelf.png": ("shelf", WIDE, "light"),
    "sink.png": ("sink", PHONE, "light"),
    "colourway.jpg": ("colourway", PHONE, "dark"),
    "cost.png": ("cost", WIDE, "light"),
    "tags.png": ("tags", None, None),
}
SHEET_DPI, ROW_MM = 110, 97  # a row of swing tags with its cut marks
QUIET = ("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking")


def main():
    import django
    import time_machine

    os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"  # the browser's driver runs an event loop in this thread
    with tempfile.TemporaryDirectory(prefix="clearbath-pictures-") as folder:
        os.environ["TESTS_FOLDER"] = folder
        django.setup()
        with time_machine.travel(MOMENT, tick=False):  # timers would tell how long the taking took
            tell_the_demo()
            with served() as address:
                take(address)


def tell_the_demo():
    from django.core.management import call_command

    call_command("migrate", verbosity=0)
    call_command("demo")


@contextmanager
def served():
    """The address of the studio, served to this computer on a free port."""
    from django.conf import settings
    from django.core.servers.basehttp import ThreadedWSGIServer, WSGIRequestHandler
    from django.core.wsgi import get_wsgi_application

    class Silent(WSGIRequestHandler):
        def log_message(self, *args):
            """Says nothing."""

    settings.ALLOWED_HOSTS = ["127.0.0.1"]
    server = ThreadedWSGIServer(("127.0.0.1", 0), Silent)
    server.daemon_threads = True
    server.set_app(get_wsgi_application())
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        server.server_close()


def pages():
    """{name: address}, found in what the demo tells."""
    from django.db.models import Sum
    from django.urls import reverse

    from batches.models import Batch, Finish, Run, TagPrint, Verdict
    from recipes.models import Colourway, Recipe

    shown = Colourway.objects.get(name="Kiln Door")
    matched = Finish.objects.filter(entry__batch__run__colourway=shown, verdict=Verdict.STANDARD)
    finished = Run.objects.filter(batches__entries__finish__in=matched).order_by("pk").last()
    sheets = (
        TagPrint.objects.filter(design="swing", output__yarn__batch__run=finished)
        .values("sheet")
        .annotate(tags=Sum("copies"))
        .order_by("-tags", "sheet")
    )
    in_the_pot = Batch.objects.filter(run__state="running", run__colourway=shown).order_by("pk").first()
    return {
        "colourways": reverse("batches:colourways"),
        "journal": reverse("batches:journal"),
        "run": reverse("batches:run", args=[finished.code]),
        "plan": reverse("batches:plan", args=[Recipe.objects.filter(colourway=shown).order_by("pk").last().pk]),
        "shelf": reverse("batches:shelf"),
        "sink": reverse("batches:sink", args=[in_the_pot.pk]),
        "colourway": reverse("batches:colourway", args=[shown.pk]),
        "cost": reverse("batches:cost", args=[finished.code]),
        "tags": reverse("batches:tag-sheet", args=[sheets[0]["sheet"]]),
    }


def take(address):
    from playwright.sync_api import sync_playwright

    from batches.demo.story import PASSWORD

    found = pages()
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path="/usr/bin/chromium", args=QUIET)
        context = browser.new_context(base_url=address)
        page = context.new_page()
        page.goto("/sign-in/")
        page.get_by_label("Name").fill("Oda")
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_url("**/journal/")
        signed_in = context.storage_state()
        for name, (what, size, scheme) in PICTURES.items():
            if size is None:
                picture = first_row(context.request.get(found[what]).body())
            else:
                picture = photographed(browser, signed_in, address + found[what], size, scheme, FIRST.get(what))
            keep(picture, HERE / name)
        browser.close()


def photographed(browser, signed_in, address, size, scheme, first=None):
    """A screenful of a page, after what is to be done there first."""
    context = browser.new_context(storage_state=signed_in, viewport=size, color_scheme=scheme, reduced_motion="reduce")
    page = context.new_page()
    page.clock.set_fixed_time(MOMENT)
    page.goto(address, wait_until="networkidle")
    answer = page.reload(wait_until="networkidle")  # a slow first visit is set in the fallback typeface
    assert answer.status == 200, f"{address} answers {answer.status}"
    if first:
        first(page)
    shot = page.screenshot()
    context.close()
    return shot


def work_out_six_skeins(page):
    """A plan for six skeins in two pots, as far as the amounts."""
    yarn = page.get_by_label("Yarn", exact=True).first
    yarn.select_option(yarn.locator("option", has_text="4-ply").first.get_attribute("value"))
    page.get_by_label("Skeins").first.fill("6")
    page.get_by_label("How many pots").fill("2")
    page.get_by_role("button", name="Work it out").click()
    page.get_by_label("Show the exact amounts too").check()
    page.locator("[aria-labelledby=measure] h3").first.evaluate("heading => heading.scrollIntoView()")


FIRST = {"plan": work_out_six_skeins}


def first_row(pdf):
    """The first row of tags on a sheet, their fronts above their backs, as a PNG."""
    import pdfplumber
    from PIL import Image, ImageOps

    rows, high = [], round(ROW_MM / 25.4 * SHEET_DPI)
    with pdfplumber.open(BytesIO(pdf)) as document:
        for page in document.pages[:2]:
            sheet = page.to_image(resolution=SHEET_DPI, antialias=True).original.convert("RGB")
            left, top, right, _ = ImageOps.invert(sheet.convert("L")).getbbox()
            rows.append(sheet.crop((left, top, right, top + high)))
    picture = Image.new("RGB", (rows[0].width, high * len(rows)), "white")
    for k, row in enumerate(rows):
        picture.paste(row, (0, high * k))
    held = BytesIO()
    ImageOps.expand(picture, 24, "white").save(held, "PNG")
    return held.getvalue()


def keep(shot, path):
    """A JPEG for photographs; for lines and letters a PNG of few colours, which is smaller and sharper."""
    from PIL import Image

    picture = Image.open(BytesIO(shot)).convert("RGB")
    if path.suffix == ".jpg":
        picture.save(path, "JPEG", quality=80, optimize=True, progressive=True)
    else:
        # A swatch is a few pixels among many grey ones, and keeps its colour all the same.
        few = picture.quantize(128, method=Image.Quantize.MAXCOVERAGE, dither=Image.Dither.NONE)
        few.save(path, "PNG", optimize=True)
    print(f"{path.name} {path.stat().st_size / 1000:.0f} kB")


if __name__ == "__main__":
    main()
