"""The bench sheet: read back from the printed pages, as the hands at the sink read them.

Its code is read by zxing-cpp, which shares nothing with the library that writes it (ISO/IEC 18004).
"""

import io
from decimal import Decimal
from types import SimpleNamespace

import pdfplumber
import pytest
import zxingcpp
from lxml import html

from batches import bench_sheet
from batches.models import Batch, PlanLine, Run, StepDone
from batches.wording import amount_of
from studio import printing
from studio.cautions import CAUTIONS, DEFERS
from studio.models import Studio
from tests import builders
from tests.pages.test_starting import kit as kit
from tests.pages.test_starting import plan

ORIGIN = "http://192.168.178.20:8000"
MM = 72 / 25.4
ARMS_LENGTH_PT = 14  # what is read with wet hands, an arm away; common practice, no source
# An inch of letter height is read from 30 feet: Manual on Uniform Traffic Control Devices, 2009, section 2A.13; from
# memory. A digit of Bitter is 0.692 of its size high, as its font file says.
AT_TWO_METRES_PT = 2000 / (30 * 12) / 0.692 * MM
PAPERS = {"A4": (297, 210), "Letter": (279.4, 215.9)}


@pytest.fixture
def browser(cast, client_of, studio, settings):
    settings.BASE_URL = ORIGIN
    return client_of(cast.helper)


@pytest.fixture
def shelf(cast, studio):
    umber, soot = builders.make_dye("Umber"), builders.make_dye("Soot", colour="#3a3034")
    bottle = builders.bottle(
        cast.maker, [(builders.receive_powder(cast.maker, umber), Decimal(5))], volume=500, solution=None
    )
    return SimpleNamespace(
        umber=umber,
        soot=soot,
        bottle=bottle,
        powder=builders.receive_powder(cast.maker, soot, number="S-77"),
        acid=builders.receive_assistant(cast.maker),
        yarn=builders.receive_yarn(cast.maker, builders.make_base("Linnet"), skeins=40, number="Y-12"),
        pot=builders.make_vessel("Tall pot", how_many=4),
        jars=builders.make_vessel("Quart jars", kind="jar", how_many=12),
    )


def lines(shelf, times=1, note="Dilute first: bring it to 40 mL."):
    """Soak, water, acid, two dyes, heat: the amounts grow with `times`."""
    return [
        builders.plan_line(step="soak", words="Soak 30 min at 40 °C", temperature_c=40, minutes=30),
        PlanLine(step="add", water=True, exact=4000, told=4000, unit="mL", basis="20:1"),
        builders.plan_line(shelf.acid, 20, basis="5 mL/L"),
        builders.plan_line(shelf.bottle, Decimal("12.5") * times, place="one end", note=note),
        builders.plan_line(shelf.powder, Decimal("0.35") * times, dye_g=Decimal("0.35") * times),
        builders.plan_line(step="heat", words="Heat to 85 °C", temperature_c=85),
        builders.plan_line(step="rinse", words=""),
    ]


def planned(cast, shelf, pots, vessel=None, alike=True, note="Dilute first: bring it to 40 mL.", **facts):
    told = [
        {
            "vessel": vessel or shelf.pot,
            "fibre_g": Decimal(200),
            "water_ml": Decimal(4000),
            "yarns": [builders.shelf_yarn(shelf.yarn, 2)],
            "lines": lines(shelf, 1 if alike else number, note),
        }
        for number in range(1, pots + 1)
    ]
    return Run.plan(by=cast.maker, day=builders.DAY, pots=told, clock=builders.clock(), **facts)


def sheet(browser, run):
    answer = browser.get(f"/runs/{run.code}/bench.pdf")
    assert answer.status_code == 200 and answer["Content-Type"] == "application/pdf"
    return pdfplumber.open(io.BytesIO(answer.content))


def text_of(pdf):
    return " ".join(" ".join(page.extract_text() for page in pdf.pages).replace("\xa0", " ").split())


def large_words(pdf, least=ARMS_LENGTH_PT):
    """Each word of the pages that is set large enough, with how often it stands there."""
    found = []
    for page in pdf.pages:
        near = page.filter(lambda thing: thing["object_type"] != "char" or thing["size"] >= least)
        found += near.extract_text(y_tolerance=8).replace("\xa0", " ").split("\n")
    return " ".join(" ".join(found).split())


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("pots", [1, 2, 4, 5, 12])
def test_every_told_amount_stands_on_it_to_be_read_from_two_metres(browser, cast, shelf, studio, paper, pots):
    Studio.objects.update(paper=paper)
    run = planned(cast, shelf, pots, shelf.jars, alike=False)
    with sheet(browser, run) as pdf:
        read, names = large_words(pdf, AT_TWO_METRES_PT), large_words(pdf)
        for line in PlanLine.objects.filter(batch__run=run, told__isnull=False):
            assert amount_of(line.told, line.unit).replace("\xa0", " ") in read
        for number in range(1, pots + 1):
            assert f"Jar {number}" in names
        assert len({f"{amount_of(12.5 * n, 'mL')}" for n in range(1, pots + 1)}) == pots


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("pots", [1, 3, 12])
def test_it_lies_across_and_nothing_leaves_the_page(browser, cast, shelf, studio, paper, pots):
    Studio.objects.update(paper=paper)
    long = "Løvetann på Þingvellir etter Regnværsdagen i Æðey før Őszi Żółć og sånn"
    run = planned(cast, shelf, pots, alike=False, title=long, note=f"{long}. " * 3)
    Batch.objects.filter(run=run).update(label="Überlangschrittzähler".ljust(60, "e")[:60])
    type(shelf.umber).objects.filter(pk=shelf.umber.pk).update(
        name="Donaudampfschifffahrtsgesellschaftskapitänsmützenrot"
    )
    with sheet(browser, run) as pdf:
        wide, high = (side * MM for side in PAPERS[paper])
        for page in pdf.pages:
            assert (float(page.width), float(page.height)) == pytest.approx((wide, high), abs=0.5)
            edge = printing.SAFE_EDGE_MM * MM
            for thing in [*page.chars, *page.rects, *page.lines]:
                assert thing["x0"] >= edge and thing["x1"] <= wide - edge
                assert thing["top"] >= edge and thing["bottom"] <= high - edge
        assert "mützenrot" in text_of(pdf).replace(" ", "")


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("pots", [1, 2, 9])
def test_a_wet_hand_can_write_into_every_box(browser, cast, shelf, studio, paper, pots):
    """9 mm is a line of wide-ruled paper: common practice, no source."""
    Studio.objects.update(paper=paper)
    with sheet(browser, planned(cast, shelf, pots, alike=False)) as pdf:
        for page in pdf.pages:
            words = [word for word in page.extract_words() if word["text"] in ("actual", "time")]
            rects = [(rect["x0"], rect["top"], rect["x1"], rect["bottom"]) for rect in [*page.rects, *page.curves]]
            for word in words:
                inside = (word["x0"], word["top"], -word["x1"], -word["bottom"])
                around = [r for r in rects if all(a <= b for a, b in zip((*r[:2], -r[2], -r[3]), inside, strict=True))]
                left, top, right, bottom = min(around, key=lambda r: (r[2] - r[0]) * (r[3] - r[1]))
                assert bottom - top >= 9 * MM and right - left >= 15 * MM


@pytest.mark.parametrize("paper", PAPERS)
def test_the_names_of_many_dyes_do_not_run_into_the_pots(browser, cast, shelf, studio, paper):
    Studio.objects.update(paper=paper)
    lots = [builders.receive_powder(cast.maker, builders.make_dye(f"{'Earthy violet ' * 4}no. {n}")) for n in range(15)]
    lines = [builders.plan_line(lot, 1, dye_g=1) for lot in lots]
    run = Run.plan(by=cast.maker, day=builders.DAY, pots=[{"fibre_g": 100, "lines": lines}])
    with sheet(browser, run) as pdf:
        page = pdf.pages[0]
        table = min(page.find_tables(), key=lambda found: found.bbox[1] if len(found.rows) > 1 else 999)
        above = page.crop((0, 0, page.width, table.bbox[1])).extract_text().replace("\n", " ")
        assert all(f"no. {n}" in above for n in range(15))


def test_a_long_note_runs_across_the_page(browser, cast, shelf):
    note = "Dilute first: bring it to 40 mL of water at hand heat, and stir until no grain is left. " * 3
    with sheet(browser, planned(cast, shelf, 4, alike=False, note=note)) as pdf:
        words = [word for page in pdf.pages for word in page.extract_words() if word["text"] == "Dilute"]
        page = pdf.pages[words[0].get("page_number", 1) - 1] if words else pdf.pages[0]
        line = [word for word in page.extract_words() if abs(word["top"] - words[0]["top"]) < 2]
        assert max(word["x1"] for word in line) - min(word["x0"] for word in line) > 200 * MM
        assert text_of(pdf).count("Dilute first") == 3 * len(
            {page for page in pdf.pages if "Dilute" in page.extract_text()}
        )


def test_words_of_neighbours_do_not_run_into_each_other(browser, cast, shelf):
    """Each column's words stay between its lines: none is drawn across the rule beside it."""
    run = planned(cast, shelf, 4, alike=False)
    Batch.objects.filter(run=run).update(label="Überlangschrittzähler".ljust(60, "e")[:60])
    with sheet(browser, run) as pdf:
        page = pdf.pages[0]
        header = page.search("Tall pot 4|Pot 4")[0]
        (table,) = page.find_tables()[:1]
        columns = sorted({round(cell[0], 1) for cell in table.cells if cell[3] > header["top"]})
        for left in columns[1:5]:
            assert not [
                char
                for char in page.chars
                if char["x0"] < left - 0.5 and char["x1"] > left + 0.5 and char["top"] > header["top"] - 20
            ]


def test_its_code_leads_to_the_run(browser, cast, shelf):
    run = planned(cast, shelf, 2)
    with sheet(browser, run) as pdf:
        (read,) = zxingcpp.read_barcodes(pdf.pages[0].to_image(resolution=150).original.convert("L"))
    assert read.text == f"{ORIGIN}/runs/{run.code}/"
    page = browser.get(read.text.removeprefix(ORIGIN))
    assert page.status_code == 200 and page.context["run"] == run


def test_where_the_address_is_too_long_for_a_code_it_is_written(browser, cast, shelf, settings):
    settings.BASE_URL = "https://" + "long-names-are-hard-to-type." * 5 + "example"
    run = planned(cast, shelf, 1)
    with sheet(browser, run) as pdf:
        assert not zxingcpp.read_barcodes(pdf.pages[0].to_image(resolution=150).original.convert("L"))
        assert "long-names-are-hard-to-type" in text_of(pdf).replace(" ", "")


def test_it_says_which_run_and_which_lots(browser, cast, shelf):
    run = planned(cast, shelf, 2, title="Wet slate")
    with sheet(browser, run) as pdf:
        said = text_of(pdf)
    for part in (run.code, "Wet slate", "4 skeins Linnet, lot Y-12", "From Soot, powder, lot S-77"):
        assert part in said
    assert f"{run.day.day} " in said and str(run.day.year) in said
    assert "one end" in said and "Dilute first: bring it to 40 mL." in said and "200 g in 4 L, 20:1" in said
    assert "Soak 30 min at 40 °C" in said and "Heat to 85 °C" in said and "Rinse" in said


def test_pots_that_get_the_same_are_one_column_with_a_square_for_each(browser, cast, shelf):
    run = planned(cast, shelf, 6, shelf.jars)
    with sheet(browser, run) as pdf:
        said = text_of(pdf)
        assert "Jars 1 to 6, each" in said and "Jar 3" not in said
        assert large_words(pdf).count("12.5 mL") == 1
        steps = len(lines(shelf))
        squares = [rect for page in pdf.pages for rect in page.rects if 3.4 * MM < rect["width"] < 4.6 * MM]
        assert len({(round(s["x0"]), round(s["top"]), s["page_number"]) for s in squares}) >= 6 * steps
        assert said.count("actual") == said.count("time") == steps + 3  # and three rows for what nobody planned


def test_skeins_of_another_lot_make_a_column_of_their_own(browser, cast, shelf):
    run = planned(cast, shelf, 2)
    other = builders.receive_yarn(cast.maker, shelf.yarn.base, skeins=4, number="Y-13")
    run.batches.get(number=2).yarns.update(lot=other)
    with sheet(browser, run) as pdf:
        said = text_of(pdf)
    assert "lot Y-12" in said and "lot Y-13" in said and ", each" not in said


def test_pots_whose_plans_differ_in_their_steps_have_pages_of_their_own(browser, cast, shelf):
    run = planned(cast, shelf, 2)
    second = run.batches.get(number=2)
    Batch.objects.filter(pk=second.pk).update(edition=2)
    builders.plan_line(shelf.bottle, 33, batch=second, edition=2, position=1, dye_g=Decimal("0.33")).save()
    with sheet(browser, run) as pdf:
        first, *_, last = [page.extract_text().replace("\xa0", " ") for page in pdf.pages]
        assert "Pot 1" in first and "Pot 2" in last and "33 mL" in last and "33 mL" not in first
        assert "12.5 mL" in large_words(pdf)


def test_of_a_run_under_way_only_the_pots_still_to_come_are_on_it(browser, cast, shelf):
    run = planned(cast, shelf, 2, alike=False)
    run.start(by=cast.maker, clock=builders.clock())
    builders.finish(cast.maker, run.batches.get(number=1))
    with sheet(browser, run) as pdf:
        assert "25 mL" in large_words(pdf) and "12.5 mL" not in large_words(pdf)
    builders.finish(cast.maker, run.batches.get(number=2))
    with sheet(browser, run) as pdf:
        assert "12.5 mL" in large_words(pdf)


def test_what_can_hurt_is_said_where_it_begins_and_in_full_at_the_end(browser, cast, shelf):
    run = planned(cast, shelf, 2, shelf.jars)
    with sheet(browser, run) as pdf:
        said = text_of(pdf)
    for key in ("powder", "acid", "heat"):
        assert said.count(CAUTIONS[key].title) == 2, key
    assert CAUTIONS["jars"].title in said and CAUTIONS["disposal"].title in said and DEFERS in said
    assert CAUTIONS["microwave"].title not in said and CAUTIONS["mordant"].title not in said


def test_the_bar_is_told_without_colour(browser, cast, shelf):
    run = planned(cast, shelf, 1)
    with sheet(browser, run) as pdf:
        page = pdf.pages[0]
        assert "1 Soot" in text_of(pdf)
        assert [rect for rect in page.rects if rect.get("fill") and rect["stroking_color"] is not None]


def test_a_run_without_a_plan_gets_rows_to_write_in(browser, cast):
    run = builders.run_with_pots(cast.maker, pots=1)
    with sheet(browser, run) as pdf:
        assert len(pdf.pages) == 1 and text_of(pdf).count("actual") == 10


def test_the_run_leads_to_it(browser, cast, shelf):
    run = planned(cast, shelf, 1)
    assert f'href="/runs/{run.code}/bench.pdf"' in browser.get(f"/runs/{run.code}/").content.decode()


def test_planning_leads_to_it(maker, kit):
    answer = plan(maker, kit, do="bench")
    kept = Run.objects.get(recipe=kit.recipe)
    assert (answer.status_code, answer.url, kept.state) == (302, f"/runs/{kept.code}/bench.pdf", "planned")


def test_helpers_print_it_and_viewers_do_not(browser, cast, client_of, shelf):
    run = planned(cast, shelf, 1)
    assert client_of(cast.viewer).get(f"/runs/{run.code}/bench.pdf").status_code == 403
    page = html.fromstring(client_of(cast.viewer).get(f"/runs/{run.code}/").content.decode())
    assert not page.xpath("//a[contains(@href, 'bench.pdf')]")
    assert browser.get("/runs/99-999/bench.pdf").status_code == 404


def test_without_the_engine_what_to_install_is_said(browser, cast, shelf, monkeypatch):
    def missing():
        raise printing.PrinterMissing("Printing needs the Pango library.")

    monkeypatch.setattr(printing, "_weasyprint", missing)
    answer = browser.get(f"/runs/{planned(cast, shelf, 1).code}/bench.pdf")
    assert answer.status_code == 503 and "Pango" in answer.content.decode()


def test_a_sheet_of_more_boxes_than_anybody_writes_in_is_refused_before_it_is_laid_out(
    browser, cast, shelf, monkeypatch
):
    run = planned(cast, shelf, 2, alike=False)
    monkeypatch.setattr(bench_sheet, "MOST_BOXES", 2 * len(lines(shelf)) - 1)
    monkeypatch.setattr(printing, "lay_out", lambda html: pytest.fail("it was laid out"))
    answer = browser.get(f"/runs/{run.code}/bench.pdf", follow=True)
    assert answer.redirect_chain == [(f"/runs/{run.code}/", 302)]
    assert f"would have {2 * len(lines(shelf))} boxes" in answer.content.decode()


def test_names_are_printed_as_they_are_written_and_fetch_nothing(browser, cast, shelf):
    name = '<img src="http://192.0.2.1/x.png">'
    run = planned(cast, shelf, 2, alike=False, colourway=builders.colourway(cast.maker, name))
    run.batches.update(label=name)
    with sheet(browser, run) as pdf:
        said = text_of(pdf).replace(" ", "")
        assert said.count(name.replace(" ", "")) >= 2 and not any(page.images for page in pdf.pages)


def test_queries_do_not_grow_with_the_pots_and_their_lines(browser, cast, shelf, django_assert_max_num_queries):
    few_pots, many = planned(cast, shelf, 1), planned(cast, shelf, 12, alike=False)
    with django_assert_max_num_queries(25) as few:
        browser.get(f"/runs/{few_pots.code}/bench.pdf")
    with django_assert_max_num_queries(len(few)):
        browser.get(f"/runs/{many.code}/bench.pdf")


def test_what_is_in_already_is_said_so_that_nobody_puts_it_in_again(browser, cast, shelf):
    """Printed anew in the middle of the day: some pots have had their acid, and one its dye."""
    run = planned(cast, shelf, 3)
    run.start(by=cast.maker)
    for pot in run.batches.order_by("number")[:2]:
        builders.addition(cast.maker, pot, shelf.acid, 20, plan_line=pot.plan.get(lot=shelf.acid))
    for pot in run.batches.all():
        StepDone.log(pot, builders.stamp(cast.maker), kind="soak", plan_line=pot.plan.first())
    (part,) = bench_sheet.sheet_of(run).parts
    assert [cell.done for row in part.rows for cell in row.cells][:4] == [
        "Done already",
        "",
        "Pots 1 and 2: in already",
        "",
    ]
    with sheet(browser, run) as pdf:
        assert "Pots 1 and 2: in already" in text_of(pdf)
