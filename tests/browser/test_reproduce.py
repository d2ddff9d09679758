"""An improvised colour dyed again: on other yarn, for another weight, over two pots and with a weaker red.

By hand in a browser, from the sink to the batches side by side. What is to be measured is worked out here, from the
identities of dye arithmetic as they are taught: depth D = V S / W, dye m = W D / 100, stock V = m / S; of a blend of
which a part f takes the dye, m = W f D / 100; of a lot at a strength of P % of the standard, m x 100 / P. (A. D.
Broadbent, Basic Principles of Textile Coloration, SDC 2001, for % shade and liquor ratio; the others follow from them.)
"""

import io
import re
from datetime import timedelta
from decimal import ROUND_HALF_UP, Decimal
from types import SimpleNamespace

import pdfplumber
import pytest
import zxingcpp
from django.utils import timezone

from batches.models import Addition, Captured, PlanLine, Run
from recipes.models import Basis, Ingredient
from studio.models import Studio
from tests import builders
from tests.browser.test_the_whole_job import Dyer, adds

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# The improvised pot: one skein of 100 g, 30 mL of red and 12 mL of ochre, both 1 %.
WEIGHT_G, STOCK_PCT = Decimal(100), Decimal(1)
POURED_ML = {"Oxblood": Decimal(30), "Straw": Decimal(12)}
DEPTH_PCT = {name: ml * STOCK_PCT / WEIGHT_G for name, ml in POURED_ML.items()}  # D = V S / W

# Dyed again: 350 g in skeins of 50 g, 4 and 3 of them; 80 % of it takes the dye; the new red has 85 % of the strength.
PART_THAT_TAKES = Decimal("0.8")
RED_STRENGTH_PCT = Decimal(85)
POTS_G = [Decimal(200), Decimal(150)]


def to_pour_ml(name, fibre_g):
    """mL of a 1 % bottle for a pot: m = W f D / 100, times 100 / P, and V = 100 m / S."""
    grams = fibre_g * PART_THAT_TAKES * DEPTH_PCT[name] / 100
    strength = RED_STRENGTH_PCT if name == "Oxblood" else Decimal(100)
    return 100 * (grams * 100 / strength) / STOCK_PCT


def in_steps(ml, step=1):
    return (ml / step).quantize(Decimal(1), ROUND_HALF_UP) * step


@pytest.fixture
def shelf(cast, studio):
    """Yarn of two bases, two bottles that are nearly empty, and what has come since: a red of 85 %, made up at 1 %."""
    by, then = cast.maker, timezone.now() - timedelta(days=3)
    wool = builders.make_base("Linnet", fibres=[("wool", 100)], skein_g=Decimal(100))
    blend = builders.make_base("Bunting", fibres=[("wool", 80), ("polyester", 20)], skein_g=Decimal(50))
    red, straw = builders.make_dye("Oxblood"), builders.make_dye("Straw", colour="#d8c04a")
    masters = {dye.name: builders.make_solution(f"{dye.name} 1 %", [(dye, 1)]) for dye in (red, straw)}
    old = builders.receive_powder(by, red, grams="0.3", at=then, number="X-1")
    builders.bottle(by, [(old, Decimal("0.3"))], volume=30, solution=masters["Oxblood"], at=then)
    yellow = builders.receive_powder(by, straw, at=then)
    builders.bottle(by, [(yellow, Decimal("2.5"))], volume=250, solution=masters["Straw"], at=then)
    builders.make_tool("Syringe", kind="syringe", step="1", largest=Decimal(60))
    builders.make_tool("Small scale", step="0.01", largest=Decimal(200))
    return SimpleNamespace(
        by=by,
        red=red,
        masters=masters,
        wool=builders.receive_yarn(by, wool, skeins=2, at=then),
        blend=builders.receive_yarn(by, blend, skeins=10, at=then, number="U-5"),
        vinegar=builders.receive_assistant(by, at=then),
        pot=builders.make_vessel("Tall pot", fill_ml=Decimal(12000), how_many=2),
    )


def a_weaker_red_comes(shelf):
    """A new delivery at 85 %, and 500 mL of a bottle with 5 g of it: 1 g in 100 mL, as its label says."""
    powder = builders.receive_powder(
        shelf.by, shelf.red, number="X-2", strength_pct=RED_STRENGTH_PCT, at=timezone.now()
    )
    return builders.bottle(
        shelf.by, [(powder, Decimal(5))], volume=500, solution=shelf.masters["Oxblood"], at=timezone.now()
    )


def improvises(dyer, shelf):
    dyer.go("/runs/new/bare/")
    dyer.page.locator("[name=lot]").select_option(value=str(shelf.wool.pk))
    dyer.fill(skeins="1", pots="1", vessel="Tall pot", title="Gate hinge")
    dyer.press(re.compile("^Start"))
    run = Run.objects.get()
    pot = run.batches.get().pk
    dyer.go(f"/sink/{pot}/add/water/")
    dyer.fill(amount="2", amount_unit="L")
    dyer.press("Log it")
    for name, ml in POURED_ML.items():
        adds(dyer, pot, "bottle", f"{name} 1 %", amount=str(ml))
    adds(dyer, pot, "other", "Vinegar", amount="15")
    dyer.go(f"/sink/{pot}/add/heat/")
    dyer.fill(temperature="85", minutes="40")
    dyer.choose("Hold")
    dyer.press("Log it")
    dyer.go(f"/runs/{run.code}/finish/")
    dyer.choose("This is the colour to match")
    dyer.fill(next_time="Stir the straw in slowly.")
    dyer.press("Finish")
    assert Run.objects.get().state == "finished"
    return run


def makes_a_recipe_of_it(dyer, run):
    dyer.go(f"/runs/{run.code}/")
    dyer.press("Make a recipe of it")
    if not Captured.objects.exists():  # the colour has no name yet, so it is asked
        dyer.press("Keep it as a version")
    version = Captured.objects.get(run=run).recipe
    depths = {
        one.substance.name.removesuffix(" 1 %"): one.amount
        for one in Ingredient.objects.filter(step__recipe=version, basis=Basis.OWF)
        if one.substance.name.removesuffix(" 1 %") in DEPTH_PCT
    }
    assert depths == DEPTH_PCT
    return version


def plans_it_on_the_blend(dyer, shelf, version):
    dyer.go(f"/runs/new/plan/{version.pk}/")
    dyer.sees("Stir the straw in slowly.")  # what was said for the next time stands first
    dyer.page.locator("[name='yarn-0-lot']").select_option(value=str(shelf.blend.pk))
    dyer.fill(yarn__0__skeins="7", vessel="Tall pot", pots="2")
    dyer.press("Work it out")
    dyer.sees("80 %")  # of the blend takes the dye
    dyer.page.locator("label:has([name='move-hold'][value=dyeable])").click()
    dyer.press("Work it out")
    for name in DEPTH_PCT:
        for fibre_g in POTS_G:
            dyer.sees(f"{in_steps(to_pour_ml(name, fibre_g))} mL")
    dyer.press("Keep the plan")
    run = Run.objects.exclude(recipe=None).get()
    for pot, fibre_g in zip(run.batches.order_by("number"), POTS_G, strict=True):
        assert pot.fibre_g == fibre_g
        for name in DEPTH_PCT:
            line = PlanLine.objects.get(batch=pot, lot__solution=shelf.masters[name])
            assert abs(line.exact - to_pour_ml(name, fibre_g)) < Decimal("0.001"), name
            assert line.told == in_steps(to_pour_ml(name, fibre_g))
    return run


def prints_the_bench_sheet(dyer, run):
    dyer.go(f"/runs/{run.code}/")
    link = dyer.page.get_by_role("link", name="Bench sheet").get_attribute("href")
    # The first sheet loads the engine and its fonts, which takes long on a computer that is busy elsewhere.
    answer = dyer.page.request.get(link, timeout=60_000)
    assert answer.ok and answer.headers["content-type"] == "application/pdf"
    with pdfplumber.open(io.BytesIO(answer.body())) as pdf:
        said = " ".join(" ".join(page.extract_text() for page in pdf.pages).replace("\xa0", " ").split())
        (code,) = zxingcpp.read_barcodes(pdf.pages[0].to_image(resolution=150).original.convert("L"))
    assert code.text.endswith(f"/runs/{run.code}/")
    for name in DEPTH_PCT:
        for fibre_g in POTS_G:
            assert f"{in_steps(to_pour_ml(name, fibre_g))} mL" in said
    assert "Bunting, lot U-5" in said and "200 g" in said and "150 g" in said


def dyes_it(dyer, run):
    dyer.go(f"/runs/{run.code}/")
    dyer.press("Start the run")
    ticked = dyer.page.locator("form:has([name=kind][value=tick]) button[name=pots][value=all]")
    for _ in range(PlanLine.objects.filter(batch__run=run, batch__number=1).count()):
        dyer.push(ticked.first)
    assert not PlanLine.objects.filter(batch__run=run).with_done().filter(done=False).exists()
    for pot, fibre_g in zip(run.batches.order_by("number"), POTS_G, strict=True):
        fed = dict(
            Addition.objects.filter(entry__batch=pot, lot__solution__isnull=False).values_list(
                "lot__solution__name", "amount"
            )
        )
        assert fed == {f"{name} 1 %": in_steps(to_pour_ml(name, fibre_g)) for name in DEPTH_PCT}
    dyer.go(f"/runs/{run.code}/finish/")
    dyer.choose("Yes: one dye lot for all")
    dyer.choose("As good as the colour to match")
    dyer.press("Finish")
    assert Run.objects.get(pk=run.pk).state == "finished"


def compares(dyer, first, again):
    colourway = Run.objects.get(pk=again.pk).colourway_id
    pots = [first.batches.get().pk, again.batches.get(number=1).pk]
    dyer.go(f"/colourways/{colourway}/close/?pot={pots[0]}&pot={pots[1]}")
    differed = dyer.page.locator("section[aria-labelledby=differed]").inner_text().replace("\xa0", " ")
    assert "Linnet" in differed and "Bunting" in differed
    assert "lot X-1" in differed and "lot X-2, 85 % strong" in differed
    # On all of the yarn it is a fifth paler, as a fifth of it takes no dye. Of the red a little more went in than that.
    straw = differed[differed.index("Straw") : differed.index("Dye in all")]
    assert "0.12 % owf" in straw and "about a fifth less" in straw
    assert "twice as much" in differed  # yarn in the pot: 200 g beside 100 g


@pytest.mark.parametrize("script", [True, False], ids=["with-scripts", "without-scripts"])
def test_last_springs_colour_on_other_yarn(open_browser, sign_in, cast, shelf, script):
    Studio.objects.update(paper="A4")
    page = open_browser(script=script)
    sign_in(page, cast.owner.name)
    dyer = Dyer(page, script)
    first = improvises(dyer, shelf)
    version = makes_a_recipe_of_it(dyer, first)
    a_weaker_red_comes(shelf)
    again = plans_it_on_the_blend(dyer, shelf, version)
    prints_the_bench_sheet(dyer, again)
    dyes_it(dyer, again)
    compares(dyer, first, again)
