"""Photographs by hand in a browser: many at once, one after the other, cropped; by keys, by mouse, without scripts."""

import io
from types import SimpleNamespace

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.core.files.base import ContentFile
from PIL import Image

from batches.models import PhotoTaken, Run
from studio import album
from studio.models import Picture, Studio
from tests import builders
from tests.browser.conftest import LAPTOP, PHONE
from tests.browser.walking import AXE, logs

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def jpeg(colour, size=(1600, 1000)):
    held = io.BytesIO()
    Image.new("RGB", size, colour).save(held, "JPEG")
    return held.getvalue()


def sent_file(name, content):
    return {"name": name, "mimeType": "image/jpeg", "buffer": content}


@pytest.fixture
def at(transactional_db):
    """A run with three photos, the last of them dry, seen by its maker."""
    Studio.get()
    cast = builders.make_cast()
    run = builders.run_with_pots(cast.maker, pots=1, title="Low Tide")
    pot = run.batches.get()
    shown = []
    for number, (stage, colour) in enumerate([("before", "#cfc8bb"), ("wet", "#31686b"), ("dry", "#9c3122")]):
        picture = album.keep_picture(ContentFile(jpeg(colour)), cast.maker)
        taken = PhotoTaken.log(
            pot, builders.stamp(cast.maker, builders.hours(number + 1)), picture=picture, stage=stage
        )
        shown.append(taken.photo)
    return SimpleNamespace(run=run, pot=pot, photos=shown, name=cast.maker.name, url=f"/runs/{run.code}/")


def address_of(at, place):
    return f"{at.url}photos/{at.photos[place].pk}/"


@pytest.fixture
def enter(at, open_browser, sign_in):
    def opened(size=PHONE, script=True):
        page = open_browser(size, script)
        sign_in(page, at.name)
        return page

    return opened


def ends_with(page, path):
    page.wait_for_url(f"**{path}")


@pytest.mark.parametrize("script", [True, False])
def test_one_goes_through_the_photos_by_links_and_comes_back_to_where_one_left(at, enter, script):
    page = enter(script=script)
    page.goto(at.url)
    page.locator(f"#photo-{at.photos[0].pk}").get_by_role("link").click()
    ends_with(page, address_of(at, 0))
    page.get_by_role("link", name="Next", exact=True).click()
    ends_with(page, address_of(at, 1))
    page.get_by_role("link", name="Previous", exact=True).click()
    ends_with(page, address_of(at, 0))
    page.get_by_role("link", name="Back to").click()
    ends_with(page, f"{at.url}#photo-{at.photos[0].pk}")
    assert page.locator(f"#photo-{at.photos[0].pk}").evaluate("e => e.getBoundingClientRect().top < innerHeight")


def test_arrow_keys_and_escape_go_through_the_photos(at, enter):
    page = enter(LAPTOP)
    page.goto(address_of(at, 0))
    for key, place in (("ArrowRight", 1), ("ArrowRight", 2), ("ArrowRight", 2), ("ArrowLeft", 1)):
        page.keyboard.press(key)
        ends_with(page, address_of(at, place))
    page.keyboard.press("Escape")
    ends_with(page, f"{at.url}#photo-{at.photos[1].pk}")


def test_the_focus_stays_on_the_way_that_was_taken(at, enter):
    page = enter(LAPTOP)
    page.goto(address_of(at, 0))
    focused = "document.activeElement.textContent.trim()"
    page.get_by_role("link", name="Next", exact=True).press("Enter")
    ends_with(page, address_of(at, 1))
    page.wait_for_function(f"{focused} === 'Next'")
    page.keyboard.press("Enter")
    ends_with(page, address_of(at, 2))
    page.wait_for_function(f"{focused} === 'Dry'")  # there is no next one: the name of what is shown


def test_the_neighbours_are_fetched_ahead_in_the_size_that_will_be_shown(at, enter):
    page = enter(LAPTOP)
    before, after = (f"**/pictures/{at.photos[place].picture_id}/large*" for place in (0, 2))
    with page.expect_request(before), page.expect_request(after):
        page.goto(address_of(at, 1))


@pytest.mark.parametrize("size", [PHONE, LAPTOP, {"width": 320, "height": 640}])
def test_a_photo_keeps_its_shape_and_shows_whole_on_the_first_screen(at, enter, size):
    page = enter(size)
    page.goto(address_of(at, 2))
    box = page.locator(".shown img").bounding_box()
    bar = page.locator(".shown").bounding_box()
    assert abs(box["width"] / box["height"] - 1.6) < 0.01
    assert box["y"] + box["height"] <= size["height"] and box["width"] > size["width"] * 0.5
    assert abs(bar["width"] - box["width"]) < 1, "the colour bar is as wide as the picture"
    assert page.locator(".shown img").evaluate("e => getComputedStyle(e).borderRadius") == "0px"


@pytest.mark.parametrize("script", [True, False])
def test_another_photo_leads_by_hand(at, enter, script):
    page = enter(script=script)
    page.goto(address_of(at, 1))
    page.get_by_role("button", name="Lead with this one").click()
    page.get_by_text("This photo leads the run now.").wait_for()
    assert Run.objects.get().cover_photo == at.photos[1]


def test_a_cover_is_cropped_without_scripts(at, enter):
    page = enter(script=False)
    page.goto(address_of(at, 2))
    page.get_by_role("link", name="Crop for the cover").click()
    page.get_by_label("left to right").fill("70")
    page.get_by_label("How much of it").fill("50")
    page.get_by_role("button", name="Show the crop").click()
    # Of 1600 by 1000 px, 800 by 1000 fits; half of that is 400 by 500, its middle at 70 and 50 %.
    assert page.locator("[data-cropped]").get_attribute("viewBox") == "920 250 400 500"
    page.get_by_role("button", name="Lead with this crop").click()
    page.get_by_text("This crop leads the run now.").wait_for()
    assert [(cut.across_pct, cut.down_pct, cut.size_pct) for cut in Picture.objects.filter(crop_of__isnull=False)] == [
        (70, 50, 50)
    ]


def test_a_cover_is_cropped_by_keyboard_alone(at, enter):
    page = enter(LAPTOP)
    page.goto(f"{address_of(at, 2)}crop/")
    assert page.get_by_role("button", name="Show the crop").count() == 0, "it follows by itself"
    page.locator("[data-crop]").focus()
    for _ in range(8):
        page.keyboard.press("Shift+-")
    for key in ("ArrowRight", "ArrowRight", "Shift+ArrowDown"):
        page.keyboard.press(key)
    assert page.locator("[data-cropped]").get_attribute("viewBox") == "592 250 480 600"
    said = {name: page.locator(f"[name={name}]").input_value() for name in ("across", "down", "size")}
    assert said == {"across": "52", "down": "55", "size": "60"}
    page.get_by_role("button", name="Lead with this crop").press("Enter")
    page.get_by_text("This crop leads the run now.").wait_for()
    made = Run.objects.get().cover
    assert (made.crop_of, made.across_pct, made.down_pct, made.size_pct) == (at.photos[2].picture, 52, 55, 60)


def test_a_frame_is_dragged_and_stays_in_its_picture(at, enter):
    page = enter(LAPTOP)
    page.goto(f"{address_of(at, 2)}crop/")
    box = page.locator("[data-crop]").bounding_box()
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.move(*middle)
    page.mouse.down()
    page.mouse.move(middle[0] + box["width"], middle[1], steps=4)
    page.mouse.up()
    assert page.locator("[data-cropped]").get_attribute("viewBox") == "800 0 800 1000"
    assert page.locator("[name=across]").input_value() == "75"


@pytest.mark.parametrize("where", ["sink", "run"])
@pytest.mark.parametrize("script", [True, False])
def test_many_photos_are_chosen_in_one_go_and_a_bad_one_is_named(at, enter, where, script):
    page = enter(script=script)
    page.goto(f"/sink/{at.pot.pk}/add/photo/" if where == "sink" else f"{at.url}photos/")
    good = [sent_file(f"{colour}.jpg", jpeg(f"#{colour}", (400, 500))) for colour in ("203040", "405060")]
    page.locator("[name=photos]").set_input_files([good[0], sent_file("list.jpg", b"wool, dye"), good[1]])
    keep = page.get_by_role("button", name="Keep the photos")
    logs(page, keep) if script and where == "sink" else keep.click()
    if script and where == "sink":  # each goes by itself, and a bad one stays on the phone with what is wrong with it
        refused = page.locator("[data-rows-here] > li")
        refused.get_by_text("This file is not a photo.").wait_for()
        assert "“list.jpg”" in refused.locator(".what").text_content()
    else:
        page.get_by_text("“list.jpg” was not kept. This file is not a photo.").wait_for()
    assert PhotoTaken.objects.count() == 5


@pytest.mark.parametrize("path", ["photos/", "one", "crop", "compare/"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_pages_of_photos_pass_axe_and_fit_a_narrow_screen_with_large_letters(at, enter, path, scheme):
    page = enter({"width": 320, "height": 640})
    page.emulate_media(color_scheme=scheme)
    addresses = {"one": address_of(at, 2), "crop": f"{address_of(at, 2)}crop/"}
    page.goto(addresses.get(path, f"{at.url}{path}"))
    violations = Axe().run(page, options=AXE).response["violations"]
    assert not violations, [(each["id"], [node["html"] for node in each["nodes"]]) for each in violations]
    page.evaluate("document.documentElement.style.fontSize = '200%'")
    wide = "document.scrollingElement"
    assert page.evaluate(f"{wide}.scrollWidth <= {wide}.clientWidth")
