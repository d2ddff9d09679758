"""How many touches a thing takes at the sink: what is promised of each is counted, on a phone."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from batches.models import Addition, Entry, Run, SkeinDone, Timer
from recipes.models import HouseStep
from studio.models import Measure, MeasureWeighing
from tests import builders
from tests.browser.touching import Fingers, photo

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def at(cast, open_browser, sign_in):
    """`at(pot)`: fingers on the sink page of that pot, a helper's."""

    def open_at(pot, name="sink"):
        page = open_browser()
        sign_in(page, cast.helper.name)
        page.goto(reverse(f"batches:{name}", args=[pot.pk]))
        return Fingers(page)

    return open_at


@pytest.fixture
def red(cast):
    return builders.bottle(cast.maker)


def test_a_planned_step_is_one_touch_for_all_pots(cast, at, red):
    pot = builders.run_with_pots(cast.maker, pots=2, lines=[(red, 40)]).batches.first()
    hand = at(pot).touch("Log 40").sees("Every planned step is done")
    assert hand.touches == 1 and Addition.objects.count() == 2


def test_another_addition_is_four_touches_and_its_number(cast, at, red):
    pots = builders.run_with_pots(cast.maker, pots=3).batches.order_by("number")
    hand = at(pots[0])
    hand.touch("Dye").touch(re.compile("Bottle")).keys("7.5").touch("First third").touch("Log it").sees("Same again")
    assert hand.touches - hand.digits == 4
    kept = Addition.objects.get()
    assert (kept.lot, kept.typed, kept.place) == (red, "7.5", "first third")

    again = hand.touches
    hand.touch("Same again").sees(re.compile("Same again.*Pot 3"))
    assert hand.touches == again + 1
    first, second = Addition.objects.order_by("entry__batch__number")
    assert (second.lot, second.amount, second.place) == (first.lot, first.amount, first.place)
    assert second.entry.batch == pots[1] and hand.page.url.endswith(reverse("batches:sink", args=[pots[1].pk]))

    # The bottle used last is chosen, and what it gave before is a touch.
    again = hand.touches
    hand.touch("Dye").touch("7.5").sees("Same again")
    assert hand.touches == again + 2 and pots[1].entries.count() == 2

    again = hand.touches
    hand.touch("Undo").sees("struck out")
    assert hand.touches == again + 1 and Entry.objects.standing().count() == 2


def test_powder_by_one_of_several_spoons_is_four_touches_and_the_count(cast, at):
    ochre = builders.make_dye("Ochre", "#d39a3c")
    jar, other = builders.receive_powder(cast.maker, ochre), builders.receive_powder(cast.maker)
    horn, _, steel = (Measure.objects.create(name=name) for name in ("Horn spoon", "Bone spoon", "Steel spoon"))
    for spoon in Measure.objects.all():
        MeasureWeighing.objects.create(measure=spoon, dye=ochre, fillings=10, grams=2, at=builders.NOON, by=cast.maker)
    before = builders.one_pot(cast.maker)
    builders.addition(cast.maker, before, other, measure=steel, fillings=1, at=builders.hours(2))
    builders.addition(cast.helper, before, jar, measure=horn, fillings=1, at=builders.hours(1))
    hand = at(builders.one_pot(cast.maker))
    hand.touch("Dye").touch("As powder").touch(re.compile("Ochre"))
    hand.touch(hand.page.locator("label").filter(has=hand.page.locator("[name=fillings_pick][value='3']")))
    hand.digits += 1
    hand.touch("Log it").sees("Undo")
    assert hand.touches - hand.digits == 4
    kept = Addition.objects.get(fillings=3)
    assert (kept.lot, kept.measure, kept.amount) == (jar, horn, Decimal("0.6"))

    # The jar and its spoon are chosen, and the page is the one used last.
    again = hand.touches
    hand.touch("Dye")
    hand.touch(hand.page.locator("label").filter(has=hand.page.locator("[name=fillings_pick][value='2']")))
    hand.touch("Log it").sees("Undo")
    assert hand.touches == again + 3 and Addition.objects.filter(measure=horn).count() == 3


def test_a_fraction_is_read_from_the_large_keys(cast, at, red):
    pot = builders.one_pot(cast.maker)
    hand = at(pot).touch("Dye").touch(re.compile("Bottle"))
    for key in ("1", "1/2", "Delete", "3/4"):
        hand.touch(hand.page.locator(f".pad button[value='{key}']"))
    assert hand.page.locator("[name=amount]").input_value() == "1 3/4"
    hand.touch("Log it").sees("Undo")
    assert str(Addition.objects.get().amount) == "1.750"


def test_a_skein_done_is_one_touch_with_its_photo_too(cast, at):
    hand = at(builders.one_pot(cast.maker, skeins=3, method="painted"))
    hand.touch("Skein 1 done").sees("Skein 2 of 3")
    hand.snap("Done, with its photo", photo()).sees("Skein 3 of 3")
    assert hand.touches == 2 and SkeinDone.objects.count() == 2
    assert Entry.objects.get(kind="photo").photo.about.skein_done.number == 2


def test_without_a_network_the_skeins_are_counted_on(cast, at):
    """The page as kept says skein 1 for ever: nobody must wonder which ones are in the log."""
    hand = at(builders.one_pot(cast.maker, skeins=3, method="painted"))
    hand.page.route("**/log/", lambda route: route.abort("internetdisconnected"))
    hand.touch("Skein 1 done").sees("Skein 2 of 3")
    hand.snap("Done, with its photo", photo()).sees("Skein 3 of 3").sees("Last: Skein 2 done")
    hand.touch("Undo").sees("Skein 2 of 3")
    hand.touch("Skein 2 done").touch("Skein 3 done").sees("All 3 skeins are done")
    assert not hand.page.get_by_text("Skein 4").count() or not hand.page.get_by_text("Skein 4").first.is_visible()
    hand.page.unroute("**/log/")
    hand.page.evaluate("sender.flush()")
    hand.page.locator("[data-outbox]").filter(has_text="all sent").wait_for()
    assert list(SkeinDone.objects.order_by("number").values_list("number", flat=True)) == [1, 2, 3]


def test_without_a_network_a_plan_goes_on_by_one_touch_a_step(cast, at, red):
    """Each step that waits brings up the one after it, with its amount and its time; an undo brings it back."""
    hold = builders.plan_line(step="hold", words="Hold it", minutes=45)
    lines = [builders.plan_line(red, 40), hold, builders.plan_line(red, 10), builders.plan_line(red, 5)]
    run = Run.plan(
        by=cast.maker, day=timezone.now().date(), pots=[{"fibre_g": 100, "yarns": [], "lines": lines}], title="Low tide"
    )
    run.start(by=cast.maker)
    hand = at(run.batches.get())
    hand.page.route("**/log/", lambda route: route.abort("internetdisconnected"))
    hand.touch("Log 40 mL").sees("step 2 of 4").sees("Then 2 more steps")
    hand.touch("Start 45 min").sees("until")
    brought_up = hand.page.locator("[data-brought-up]")
    hand.touch(brought_up.get_by_role("button", name="Done", exact=True)).sees("step 3 of 4")
    hand.touch("Log 10 mL").sees("step 4 of 4")
    stands = brought_up.element_handle()
    hand.page.evaluate("sender.flush()")
    assert stands.is_visible(), "it is drawn anew each time that sending is tried"
    assert not hand.page.get_by_text("done already?").is_visible()
    assert hand.page.get_by_role("link", name="Other amount").get_attribute("href").endswith(str(lines[3].pk))
    hand.touch("Undo").sees("step 3 of 4").sees("Then 1 more step:")
    expect(hand.page.locator("section.next:visible")).to_have_count(1)
    hand.touch("Log 10 mL").touch("Log 5 mL")
    expect(hand.page.locator("section.next:visible")).to_have_count(0)
    hand.page.unroute("**/log/")
    hand.page.evaluate("sender.flush()")
    hand.page.locator("[data-outbox]").filter(has_text="all sent").wait_for()
    kept = Entry.objects.standing().in_order().values_list("kind", "plan_line__position")
    assert [(kind, line) for kind, line in kept] == [
        ("addition", lines[0].position),
        ("timer", hold.position),
        ("step", hold.position),
        ("addition", lines[2].position),
        ("addition", lines[3].position),
    ]


def test_without_a_network_a_line_says_what_was_read_and_when(cast, at):
    hand = at(builders.one_pot(cast.maker)).touch("Reading")
    hand.page.route("**/log/", lambda route: route.abort("internetdisconnected"))
    hand.page.locator("[name=temperature]").fill("61 1/2")
    hand.page.locator("[name=ph]").fill("4,5")
    hand.touch(hand.page.locator("label").filter(has_text="15 min ago"))
    quarter = hand.page.evaluate("pages.clock(Date.now() - 15 * 60_000)")
    hand.touch("Log it").sees("Last: 61 1/2 °C, pH 4,5")
    hour, minute = map(int, quarter.split(":"))
    last = hand.page.locator("[data-newest]").inner_text()
    assert quarter in last or f"{(hour + (minute + 1) // 60) % 24:02}:{(minute + 1) % 60:02}" in last


def test_a_late_hold_leaves_the_next_step_on_the_first_screen(cast, at, red):
    run = builders.run_with_pots(cast.maker, pots=2, skeins=1, lines=[(red, 40)])
    pot = run.batches.order_by("number").first()
    over = timezone.now() - timedelta(hours=1)
    Timer.log(pot, builders.stamp(cast.maker, over), what="hold", minutes=Decimal(45))
    hand = at(pot)
    for name in ("Done", "10 min more"):
        assert hand.page.get_by_role("button", name=name, exact=True).is_visible()
    assert hand.page.locator("#next").bounding_box()["y"] < hand.page.viewport_size["height"] - 72
    hand.touch("10 min more").sees("Hold")
    assert hand.touches == 1 and Timer.objects.count() == 2


def test_a_step_that_is_touched_has_its_boxes_right_below(cast, at):
    hand = at(builders.one_pot(cast.maker)).touch("Heat").touch("Let cool")
    for name in ("temperature", "minutes"):
        box = hand.page.locator(f"[name={name}]").bounding_box()
        assert box["y"] >= 0 and box["y"] + box["height"] <= hand.page.locator(".logbar").bounding_box()["y"], name
    assert hand.page.locator(".picked .choice:visible").count() == 2
    hand.touch("Another step").touch("Hold").keys("85").touch(hand.page.locator(".pad .which button").nth(1)).keys("40")
    hand.touch("Log it").sees("Hold")
    kept = Entry.objects.get().step
    assert (kept.kind, kept.temperature_c, kept.minutes) == ("hold", 85, 40)


def test_a_step_as_usual_is_one_touch(cast, at):
    HouseStep.objects.create(name="Presoak", kind="soak", minutes=30)
    hand = at(builders.one_pot(cast.maker)).touch("Presoak").sees("Presoak as usual")
    assert hand.touches == 1 and Entry.objects.get().step.minutes == 30


def test_without_a_network_the_same_again_goes_from_jar_to_jar(cast, at, red):
    jars = list(builders.run_with_pots(cast.maker, pots=3, skeins=1).batches.order_by("number"))
    hand = at(jars[2])
    for jar in (jars[1], jars[0]):  # each page is kept on the phone as it is opened
        hand.page.goto(reverse("batches:sink", args=[jar.pk]))
    hand.touch("Dye").touch(re.compile("Bottle")).keys("7.5")
    hand.page.route("**/log/", lambda route: route.abort("internetdisconnected"))
    hand.touch("Log it")
    for number in (2, 3):
        hand.touch(hand.page.locator(".same button").filter(has_text=f"Pot {number}"))
    assert hand.page.url.endswith(reverse("batches:sink", args=[jars[2].pk])) and not Entry.objects.exists()
    hand.page.unroute("**/log/")
    hand.page.evaluate("sender.flush()")
    hand.page.locator("[data-outbox]").filter(has_text="all sent").wait_for()
    assert list(Addition.objects.order_by("entry__batch__number").values_list("entry__batch", "typed")) == [
        (jar.pk, "7.5") for jar in jars
    ]


def test_every_target_is_large_enough_for_gloves(cast, at, red):
    """72 px and more for what is touched at the sink, and 16 px between what stands side by side."""
    run = builders.run_with_pots(cast.maker, pots=8, skeins=1, method="jar", lines=[(red, 40)])
    hand = at(run.batches.order_by("number").first())
    pages = ["", "add/bottle/", "add/powder/", "add/other/", "add/water/", "add/heat/", "add/reading/", "add/clear/"]
    for page in pages:
        hand.page.goto(f"/sink/{run.batches.first().pk}/{page}")
        small = hand.page.evaluate(
            """() => [...document.querySelectorAll(
                "main :is(.wet .button, .pad .button, .logbar .button, .choice, .potbox, .undo)")]
              .map(target => [target, target.getBoundingClientRect()])
              .filter(([, box]) => box.width && box.height < 72)
              .map(([target, box]) => `${target.textContent.trim()} ${box.height}`)"""
        )
        assert not small, (page, small)
