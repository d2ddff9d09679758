"""Tie labels and pot labels: read back from the printed page, and opened as a phone opens them.

What a QR code needs round it and how much of it may be lost: ISO/IEC 18004 (quiet zone 4 modules; level Q restores
about 25 %). Read by zxing-cpp, which shares nothing with the library that writes them.
"""

import io
from types import SimpleNamespace

import pdfplumber
import pytest
import zxingcpp
from django.urls import reverse
from lxml import html
from PIL import ImageDraw

from batches import ties
from batches.models import Move, Run, Whereabouts
from studio import printing, qr
from tests import builders
from tests.pages.run_forms import BAD, boxes, fields_of, sentences, words

DPI = 200
PER_MM = DPI / 25.4
ORIGIN = "http://192.168.178.20:8000"


@pytest.fixture
def at(cast, client_of, studio, settings):
    settings.BASE_URL = ORIGIN
    yarn = builders.receive_yarn(cast.maker, builders.make_base("Sparrow"), skeins=20)
    run = builders.run_with_pots(cast.maker, yarn, skeins=3, title="Wet slate")
    return SimpleNamespace(run=run, url=f"/runs/{run.code}/ties/", browser=client_of(cast.maker))


def make(at, **said):
    fields = fields_of(at.browser.get(at.url), "start_at")
    return at.browser.get(at.url, fields | {name.replace("__", "-"): value for name, value in said.items()})


def pictures(pdf):
    with pdfplumber.open(io.BytesIO(pdf)) as opened:
        return [page.to_image(resolution=DPI).original.convert("L") for page in opened.pages]


def addresses(picture):
    return [found.text for found in zxingcpp.read_barcodes(picture)]


def text_of(pdf):
    with pdfplumber.open(io.BytesIO(pdf)) as opened:
        return [page.extract_text() for page in opened.pages]


def box_of(found):
    at = found.position
    xs = [at.top_left.x, at.top_right.x, at.bottom_left.x, at.bottom_right.x]
    ys = [at.top_left.y, at.top_right.y, at.bottom_left.y, at.bottom_right.y]
    return min(xs), min(ys), max(xs), max(ys)


# --- on the ties of a run


@pytest.mark.parametrize("design", ["strip", "label"])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_each_code_reads_as_the_address_of_its_pot(at, design, paper):
    answer = make(at, design=design, paper=paper)
    assert answer["Content-Type"] == "application/pdf", sentences(answer)
    first, second = (f"{ORIGIN}/sink/{pot.pk}/" for pot in at.run.batches.order_by("number"))
    (page,) = pictures(answer.content)
    assert sorted(addresses(page)) == sorted([first] * 3 + [second] * 3)


def test_the_address_on_the_paper_opens_the_sink_of_that_pot(at):
    (page,) = pictures(make(at).content)
    for address in set(addresses(page)):
        sink = at.browser.get(address.removeprefix(ORIGIN))
        assert sink.status_code == 200
        assert at.run.code in words(sink) and sink.context["batch"].run == at.run


def test_scanned_signed_out_it_leads_to_the_sink_by_way_of_signing_in(at, cast, client_of):
    pot = at.run.batches.first()
    phone = client_of(None)
    address = ties.address_of("batches:sink", pot.pk).removeprefix(ORIGIN)
    asked = phone.get(address)
    assert asked.url == f"/sign-in/?next={address}"
    said = {"username": cast.helper.name, "password": builders.PASSWORD, "next": address}
    assert phone.post(asked.url, said).url == address
    assert phone.get(address).status_code == 200


def test_a_label_says_code_pot_name_and_yarn(at):
    (said,) = text_of(make(at, **{f"pot__{at.run.batches.last().pk}": ""}).content)
    assert said.count("Wet slate") == 3 and said.count("Sparrow") == 3
    assert said.count(at.run.code) == 6  # at both ends of a strip
    assert "Pot 1" in said and "Pot 2" not in said


def test_as_many_as_are_wanted_from_the_first_free_place_on(at):
    first, second = at.run.batches.order_by("number")
    answer = make(at, design="label", start_at="23", **{f"pot__{first.pk}": "2", f"pot__{second.pk}": "1"})
    one, two = pictures(answer.content)
    assert [address.split("/")[-2] for address in addresses(one) + addresses(two)] == [str(first.pk)] * 2 + [
        str(second.pk)
    ]


def test_a_pot_whose_skeins_nobody_counted_takes_one(at, cast):
    yarn = builders.BatchYarn(source="unlabelled", words="grey", grams=None)
    run = Run.plan(by=cast.maker, day=builders.DAY, pots=[{"yarns": [yarn]}], clock=builders.clock())
    assert boxes(at.browser.get(f"/runs/{run.code}/ties/"))[f"pot-{run.batches.get().pk}"] == "1"


def test_the_longest_words_stay_on_their_own_label(at):
    long = "Løvetann på Þingvellir etter Regnværsdagen i Æðey før Őszi Żółć og sånn"
    labels = [
        (ties.Label("26-11180", long, long, f"{long}, {long}, {long}", f"{ORIGIN}/sink/123456/"), 1),
        (ties.Label(long, "", long, long, f"{ORIGIN}/pot/1/1/"), 1),
        (ties.Label("26-2", "Pot 1", "Short", "Yarn", f"{ORIGIN}/sink/2/"), 1),
    ]
    for design in ("strip", "label"):
        for paper in ("A4", "Letter"):
            pdf = ties.draw(labels, design, paper)
            with pdfplumber.open(io.BytesIO(pdf)) as opened:
                (page,) = opened.pages
                sheet = printing.sheet_for(design, paper)
                left, top = sheet.corner(2)
                cell = [side * 72 / 25.4 for side in (left, top, left + sheet.width, top + sheet.height)]
                assert set(page.crop(cell).extract_text().split()) == {"26-2", "Pot", "1", "Short", "Yarn"}
            assert len(addresses(pictures(pdf)[0])) == 3


@pytest.mark.parametrize(
    ("design", "paper"), [("strip", "A4"), ("strip", "Letter"), ("label", "A4"), ("label", "Letter")]
)
def test_a_code_has_large_modules_and_light_round_it(at, design, paper):
    """Measured on the page: four light modules on each side, and each 0.5 mm or more."""
    (page,) = pictures(make(at, design=design, paper=paper).content)
    found = zxingcpp.read_barcodes(page)
    modules = qr.code_of(found[0].text, 30).modules - 2 * qr.QUIET_MODULES
    for one in found:
        left, top, right, bottom = box_of(one)
        module = (right - left) / modules
        assert module / PER_MM >= qr.LEAST_MODULE_MM - 0.01
        quiet = int(4 * module) - 2  # two pixels for where an edge falls between two
        round_it = page.crop((left - quiet, top - quiet, right + quiet, bottom + quiet)).copy()
        ImageDraw.Draw(round_it).rectangle(
            (quiet - 3, quiet - 3, round_it.width - quiet + 3, round_it.height - quiet + 3), 255
        )
        assert round_it.getextrema()[0] > 200, "something is printed in the quiet zone"


@pytest.mark.parametrize("number", [7, 1032, 123456])
@pytest.mark.parametrize("share", [0.06, 0.12])
def test_a_stained_code_is_still_read(share, number):
    """A drop of dye over the middle: half of the 25 % that level Q restores, as a stain cuts many codewords in part."""
    address = f"{ORIGIN}/sink/{number}/"
    (page,) = pictures(ties.draw([(ties.Label("26-001", "Pot 1", "Wet slate", "Sparrow", address), 1)], "strip", "A4"))
    (one,) = zxingcpp.read_barcodes(page)
    left, top, right, bottom = box_of(one)
    radius = (right - left) * (share / 3.1416) ** 0.5
    middle = ((left + right) / 2, (top + bottom) / 2)
    stained = page.crop((left - 25, top - 25, right + 25, bottom + 25))
    x, y = middle[0] - left + 25, middle[1] - top + 25
    ImageDraw.Draw(stained).ellipse((x - radius, y - radius, x + radius, y + radius), 0)
    assert addresses(stained) == [address]


def test_an_address_too_long_for_a_strip_is_refused_with_what_to_do(at, settings):
    settings.BASE_URL = "https://" + "long-names-are-hard-to-type." * 2 + "example"
    answer = make(at)
    assert answer.status_code == 422
    assert any("choose the larger label, or give the studio a shorter address" in said for said in sentences(answer))
    assert make(at, design="label")["Content-Type"] == "application/pdf"


def test_codes_that_only_this_computer_could_open_are_said(at, settings):
    settings.ONLY_HERE = True
    assert "which only this computer answers" in words(at.browser.get(at.url))
    settings.ONLY_HERE = False
    assert f"The codes lead to {ORIGIN}" in words(at.browser.get(at.url))


@pytest.mark.parametrize("junk", BAD.values(), ids=BAD)
@pytest.mark.parametrize("box", ["start_at", "pot"])
def test_what_cannot_be_read_is_said_and_kept(at, box, junk):
    name = box if box == "start_at" else f"pot-{at.run.batches.first().pk}"
    answer = make(at, **{name.replace("-", "__"): junk})
    assert answer.status_code == 422 and sentences(answer)
    assert boxes(answer)[name].strip() == junk.replace("\x00", "")


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({"start_at": "12"}, "start at 1 to 11"),
        ({"design": "poster"}, "no longer there"),
        ({"paper": "A0"}, "no longer there"),
    ],
)
def test_what_can_not_be_printed_is_refused_with_a_sentence(at, said, sentence):
    answer = make(at, **said)
    assert answer.status_code == 422
    assert any(sentence in found for found in sentences(answer)), sentences(answer)


def test_none_at_all_is_said(at):
    none = {f"pot__{pot.pk}": "" for pot in at.run.batches.all()}
    assert sentences(make(at, **none)) == ["Say how many labels to print."]


def test_helpers_print_them_and_viewers_do_not(at, cast, client_of):
    assert client_of(cast.helper).get(at.url).status_code == 200
    assert client_of(cast.viewer).get(at.url).status_code == 403


def test_the_page_is_reached_from_the_run(at):
    page = at.browser.get(f"/runs/{at.run.code}/")
    assert f'href="{at.url}"' in page.content.decode()


def test_starting_without_a_recipe_leads_to_the_labels_where_asked(at):
    fields = fields_of(at.browser.get("/runs/new/bare/"), "pots")
    answer = at.browser.post("/runs/new/bare/", fields | {"do": "ties"})
    run = Run.objects.order_by("-pk").first()
    assert (answer.url, run.state) == (f"/runs/{run.code}/ties/", "running")


def test_queries_do_not_grow_with_the_pots(at, cast, django_assert_max_num_queries):
    with django_assert_max_num_queries(30) as few:
        at.browser.get(at.url)
    many = builders.run_with_pots(cast.maker, pots=9)
    with django_assert_max_num_queries(len(few)):
        at.browser.get(f"/runs/{many.code}/ties/")


# --- on the pots themselves


@pytest.fixture
def bench(cast, client_of, studio, settings):
    settings.BASE_URL = ORIGIN
    pot = builders.make_vessel("Tall pot")
    jars = builders.make_vessel("Quart jars", kind="jar", how_many=3)
    return SimpleNamespace(pot=pot, jars=jars, by=cast.maker, browser=client_of(cast.maker))


def in_vessel(by, vessel, pots=1, start=True):
    run = builders.run_with_pots(by, pots=pots, start=False)
    run.batches.update(vessel=vessel)
    if start:
        run.start(by=by, clock=builders.clock())
    return run


def put(by, batch, where):
    Move.log(batch, builders.stamp(by), what="where", where=where)


def test_each_pot_and_jar_gets_a_label_with_its_own_address(bench):
    url = "/shelf/bench/pots/labels/"
    answer = bench.browser.get(url, fields_of(bench.browser.get(url), "start_at"))
    (page,) = pictures(answer.content)
    expected = [f"{ORIGIN}/pot/{bench.jars.pk}/{number}/" for number in (1, 2, 3)] + [f"{ORIGIN}/pot/{bench.pot.pk}/1/"]
    assert sorted(addresses(page)) == sorted(expected)
    (said,) = text_of(answer.content)
    assert all(name in said for name in ("Jar 1", "Jar 2", "Jar 3", "Quart jars", "Tall pot"))


def test_no_pot_chosen_is_said(bench):
    url = "/shelf/bench/pots/labels/"
    fields = fields_of(bench.browser.get(url), "start_at")
    del fields["vessels"]
    assert bench.browser.get(url, fields).status_code == 422


@pytest.mark.parametrize("key", ["9" * 30, "first", "\x00", "-1"])
def test_a_pot_that_is_none_is_said(bench, key):
    url = "/shelf/bench/pots/labels/"
    fields = fields_of(bench.browser.get(url), "start_at") | {"vessels": [key]}
    answer = bench.browser.get(url, fields)
    assert answer.status_code == 422 and "no longer there: choose another" in answer.content.decode()


def test_the_code_of_a_pot_opens_what_is_in_it(bench):
    run = in_vessel(bench.by, bench.pot)
    assert bench.browser.get(f"/pot/{bench.pot.pk}/1/").url == f"/sink/{run.batches.get().pk}/"


def test_jars_are_told_apart_by_their_number(bench):
    run = in_vessel(bench.by, bench.jars, pots=3)
    for jar in run.batches.all():
        assert bench.browser.get(f"/pot/{bench.jars.pk}/{jar.number}/").url == f"/sink/{jar.pk}/"


def test_two_in_one_pot_are_both_offered(bench):
    runs = [in_vessel(bench.by, bench.pot) for _ in range(2)]
    page = bench.browser.get(f"/pot/{bench.pot.pk}/1/")
    assert page.status_code == 200 and "Which is in front of you?" in words(page)
    for run in runs:
        assert f'href="/sink/{run.batches.get().pk}/"' in page.content.decode()


def test_yarn_that_hangs_on_the_line_is_in_no_pot(bench):
    run = in_vessel(bench.by, bench.pot)
    put(bench.by, run.batches.get(), Whereabouts.DRYING)
    page = bench.browser.get(f"/pot/{bench.pot.pk}/1/")
    assert "nothing is in it now" in words(page) and "Perhaps one of these" in words(page)
    assert f'href="/sink/{run.batches.get().pk}/"' in page.content.decode()


def test_yarn_in_the_rinse_gives_way_to_what_is_in_the_pot(bench):
    rinsed, next_one = (in_vessel(bench.by, bench.pot).batches.get() for _ in range(2))
    put(bench.by, rinsed, Whereabouts.RINSING)
    assert bench.browser.get(f"/pot/{bench.pot.pk}/1/").url == f"/sink/{next_one.pk}/"
    put(bench.by, next_one, Whereabouts.DRYING)
    assert bench.browser.get(f"/pot/{bench.pot.pk}/1/").url == f"/sink/{rinsed.pk}/"


def test_an_empty_pot_offers_what_is_planned_for_it(bench):
    run = in_vessel(bench.by, bench.pot, start=False)
    page = bench.browser.get(f"/pot/{bench.pot.pk}/1/")
    assert "nothing is in it now" in words(page) and "Planned for it" in words(page) and run.code in words(page)


def test_the_number_of_a_jar_that_is_not_there_opens_no_other(bench):
    in_vessel(bench.by, bench.jars, pots=3)
    page = bench.browser.get(f"/pot/{bench.jars.pk}/9/")
    assert "Jar 9" in words(page) and "nothing is in it now" in words(page)
    assert bench.browser.get("/pot/999999/1/").status_code == 404


def test_a_viewer_is_led_to_the_record(bench, cast, client_of):
    run = in_vessel(bench.by, bench.pot)
    assert client_of(cast.viewer).get(f"/pot/{bench.pot.pk}/1/").url == f"/runs/{run.code}/"
    in_vessel(bench.by, bench.pot)
    page = client_of(cast.viewer).get(f"/pot/{bench.pot.pk}/1/")
    assert not html.fromstring(page.content.decode()).xpath("//main//a[contains(@href, '/sink/')]")


def test_signed_out_it_leads_to_signing_in_and_then_there(bench, client_of):
    address = reverse("batches:pot", args=[bench.pot.pk, 1])
    assert client_of(None).get(address).url == f"/sign-in/?next={address}"


def test_what_a_code_opens_is_never_kept_by_the_phone(bench):
    in_vessel(bench.by, bench.pot)
    answer = bench.browser.get(f"/pot/{bench.pot.pk}/1/")
    assert answer.status_code == 302 and "no-store" in answer["Cache-Control"]


def test_the_bench_leads_to_the_labels(bench):
    assert 'href="/shelf/bench/pots/labels/"' in bench.browser.get(reverse("studio:bench")).content.decode()


def test_queries_do_not_grow_with_what_is_in_it(bench, django_assert_max_num_queries):
    for _ in range(2):
        in_vessel(bench.by, bench.pot)
    with django_assert_max_num_queries(20) as few:
        bench.browser.get(f"/pot/{bench.pot.pk}/1/")
    for _ in range(3):
        in_vessel(bench.by, bench.pot)
    with django_assert_max_num_queries(len(few)):
        bench.browser.get(f"/pot/{bench.pot.pk}/1/")
