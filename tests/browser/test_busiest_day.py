"""The busiest day that the sink must carry: two pots of six, eight jars, nine bottles on six skeins, one helper.

Two phones, one for the dyer's wet hands and one for the helper's. What was planned is confirmed for all pots at once,
what was not goes from jar to jar with the same again, a painted skein is its photo. In the morning and in the evening
the jars and bottles stand on the scale, a number each, and what nobody measured is known to the milligram.
"""

from decimal import ROUND_FLOOR, Decimal
from types import SimpleNamespace

import pytest
from django.urls import reverse

from batches.models import Addition, AdditionLot, Batch, Entry, PlanLine, Run, Timer
from recipes.models import RecipeStep
from studio.models import Lot
from tests import builders
from tests.browser.touching import Fingers, photo

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

DYER_AT_MOST, HELPER_AT_MOST = 12, 25
PAINTING = ("Dawn", "Reed", "Silt", "Heron", "Mallow", "Cinder", "Loam", "Sloe", "Tansy")
MILLIGRAM = Decimal("0.001")

# What stood on the scale, whole, with its lid [g]: in the morning, in the evening.
POWDERS_G = {"Marigold": ("148.37", "134.98"), "Umber": ("96.12", "93.11")}
BOTTLES_G = {name: (f"{540 + 3 * at}.4", f"{488 + 2 * at}.{at}") for at, name in enumerate(PAINTING)}


@pytest.fixture
def day(cast):
    """The shelf, and three runs that were planned for today."""
    maker = cast.maker
    powders = {name: builders.receive_powder(maker, dye=builders.make_dye(name)) for name in POWDERS_G}
    vinegar = builders.receive_assistant(maker, builders.make_assistant("Vinegar"), amount=5000)
    bottles = {name: filled(maker, name, "painting") for name in PAINTING}
    stock = {name: filled(maker, name, "stock", 1000) for name in ("Brick 1 %", "Ochre 1 %", "Plum 1 %")}
    builders.addition(maker, builders.run_with_pots(maker, pots=1).batches.get(), vinegar, 15)
    Run.objects.get().abandon(why="Spilt", by=maker)
    pots = begun(
        maker,
        pots=2,
        skeins=6,
        method="pot",
        lines=[
            step("soak", "Soak 30 min", minutes=30),
            water(12000),
            builders.plan_line(vinegar, 120),
            *(builders.plan_line(lot, 90) for lot in stock.values()),
            step("heat", "Heat to 85 °C"),
            step("hold", "Hold 40 min at 85 °C", minutes=40),
            step("rinse", "Rinse"),
        ],
    )
    jars = begun(maker, pots=8, skeins=1, method="jar", lines=[step("soak", "Soak"), water(700), step("heat", "Warm")])
    table = begun(
        maker,
        pots=1,
        skeins=6,
        method="painted",
        lines=[step("soak", "Soak"), *(builders.plan_line(lot, how="painted") for lot in bottles.values())],
    )
    return SimpleNamespace(powders=powders, bottles=bottles, vinegar=vinegar, pots=pots, jars=jars, table=table)


def filled(by, name, kind, volume=250):
    """A bottle of this name at 1 %."""
    dye = builders.make_dye(f"{name} powder")
    powder = builders.receive_powder(by, dye=dye)
    solution = builders.make_solution(name, [(dye, 1)], kind=kind)
    return builders.bottle(by, [(powder, Decimal(volume) / 100)], volume, solution)


def step(kind, words, **facts):
    return builders.plan_line(step=kind, words=words, **facts)


def water(ml):
    return PlanLine(step=RecipeStep.Kind.ADD, water=True, told=Decimal(ml), exact=Decimal(ml), unit="mL")


def begun(by, *, pots, skeins, lines, **facts):
    """A started run; each pot has lines of its own."""
    yarn = builders.receive_yarn(by, skeins=pots * skeins)
    run = Run.plan(by=by, day=builders.DAY, pots=[pot_of(yarn, skeins, lines) for _ in range(pots)], **facts)
    run.start(by=by)
    return run


def pot_of(yarn, skeins, lines):
    copies = [
        PlanLine(**{field.attname: getattr(line, field.attname) for field in PlanLine._meta.fields}) for line in lines
    ]
    return {"fibre_g": yarn.skein_g * skeins, "yarns": [builders.shelf_yarn(yarn, skeins)], "lines": copies}


@pytest.fixture
def phone(open_browser, sign_in):
    def hand_to(person, run, name="sink"):
        page = open_browser()
        sign_in(page, person.name)
        page.goto(reverse(f"batches:{name}", args=[run.batches.order_by("number").first().pk]))
        return Fingers(page)

    return hand_to


def test_the_busiest_day(cast, day, phone):
    dry = phone(cast.helper, day.jars).page
    weigh(dry, day, 0)
    dyer, helper = phone(cast.maker, day.pots), phone(cast.helper, day.jars, "sink-all")

    jars_are_filled(helper, day)
    pots_go_to_heat(dyer, day)
    skeins_are_painted(dyer, day)
    bottles_are_confirmed(helper, day)
    acid_comes_late(helper, day)
    assert dyer.touches <= DYER_AT_MOST, dyer.touches
    assert helper.touches <= HELPER_AT_MOST, helper.touches
    assert helper.digits == dyer.digits == 0  # nobody typed a number with gloves on

    weigh(dry, day, 1)
    every_sprinkle_is_known_to_the_milligram(day)


def jars_are_filled(helper, day):
    """Water as planned; then powder by eye into the first jar, and the same into the seven others."""
    helper.touch("Done in 8 pots").touch("Log 700").sees("Warm")
    helper.touch(helper.page.locator(".potrow a").nth(1))  # the first is All
    for name in day.powders:
        helper.touch("Dye").touch(name).touch("not measured").sees("Same again")
    for number in range(2, 9):
        helper.touch(helper.page.locator("button", has_text="Same again").filter(has_text=f"Pot {number}"))
    helper.touch("Done in 8 pots").sees("Every planned step is done")
    for powder in day.powders.values():
        sprinkles = Addition.objects.filter(lot=powder)
        assert sprinkles.count() == 8 == sprinkles.values("entry__batch").distinct().count()
        assert not sprinkles.filter(amount__isnull=False).exists()


def pots_go_to_heat(dyer, day):
    """All is in: confirmed together, in both pots; then the heat, and from heat on the hold."""
    dyer.touch("done already?").touch("Done to here: Plum 1 %").sees("Heat to 85 °C")
    dyer.touch("Done in 2 pots").sees("Hold 40 min")
    dyer.touch("start 40 min").sees("Its time runs")
    told = Entry.objects.filter(batch__run=day.pots)
    assert told.filter(kind="addition", time_from="together").count() == 2 * 5
    assert Timer.objects.filter(entry__in=told).count() == 2


def skeins_are_painted(dyer, day):
    dyer.touch(dyer.page.locator("nav a").filter(has_text=day.table.code))
    for number in range(1, 7):
        done = f"Skein {number + 1} of 6" if number < 6 else "All 6 skeins are done"
        dyer.snap("Done, with its photo", photo(f"skein-{number}.jpg")).sees(done)
    shown = Entry.objects.filter(kind="photo", batch__run=day.table)
    assert sorted(shown.values_list("photo__about__skein_done__number", flat=True)) == [1, 2, 3, 4, 5, 6]


def bottles_are_confirmed(helper, day):
    helper.touch(helper.page.locator("nav a").filter(has_text=day.table.code))
    helper.touch("done already?").touch(f"Done to here: {PAINTING[-1]}").sees("Every planned step is done")
    painted = Addition.objects.filter(entry__batch__run=day.table)
    assert painted.count() == 9 and not painted.filter(amount__isnull=False).exists()


def acid_comes_late(helper, day):
    helper.touch(helper.page.locator("nav a").filter(has_text=day.jars.code))
    helper.touch("Acid / other").touch("Vinegar").touch("15").sees("in each of 8")
    assert (
        list(Addition.objects.filter(entry__batch__run=day.jars, lot=day.vinegar).values_list("amount", flat=True))
        == [15] * 8
    )


def weigh(page, day, when):
    """At the dry table: each jar and bottle on the scale, and its number. 0 is the morning, 1 the evening."""
    weights = {day.powders[name].pk: said[when] for name, said in POWDERS_G.items()}
    weights |= {day.bottles[name].pk: said[when] for name, said in BOTTLES_G.items()}
    page.goto(reverse("batches:weigh-in") + "?" + "&".join(f"lot={key}" for key in weights))
    for key, grams in weights.items():
        page.locator(f"[name='gross_{key}']").fill(grams)
    page.get_by_role("button", name="Keep these weights").click()
    page.wait_for_url("**/weigh-in/result/**")


def every_sprinkle_is_known_to_the_milligram(day):
    """Reckoned here anew: what is gone from each jar, split evenly, the odd milligrams one each."""
    for name, (before, after) in POWDERS_G.items():
        gone = Decimal(before) - Decimal(after)
        shares = shared(day.powders[name])
        least = (gone / 8).quantize(MILLIGRAM, ROUND_FLOOR)
        odd = int((gone - 8 * least) / MILLIGRAM)
        assert sorted(shares) == [least] * (8 - odd) + [least + MILLIGRAM] * odd
        assert sum(shares) == gone
        assert builders.on_hand(day.powders[name]) == 100 - gone
    for name, (before, after) in BOTTLES_G.items():
        gone_ml = Decimal(before) - Decimal(after)  # 1 g is taken for 1 mL, as the page says
        # A bottle of 1 % gave its one table of skeins a hundredth of that in powder.
        assert shared(day.bottles[name]) == [gone_ml / 100]
        assert builders.on_hand(day.bottles[name]) == 250 - gone_ml


def shared(lot):
    parts = AdditionLot.objects.filter(addition__lot=lot, share_out__isnull=False)
    return list(parts.values_list("amount", flat=True))


def test_the_day_is_set_as_it_is_told(day):
    assert Batch.objects.filter(run__in=[day.pots, day.jars, day.table]).count() == 2 + 8 + 1
    assert Lot.objects.filter(pk__in=[lot.pk for lot in day.bottles.values()]).count() == 9
