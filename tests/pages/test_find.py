"""The page for finding again: words, filters, what is shown to whom, and input that means nothing."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from lxml import html

from batches.models import Finish, Output
from studio.models import Base, Dye
from tests import builders
from tests.builders import NOON, hours, stamp
from tests.pages.run_forms import sentences, words


def codes(page):
    return [run.code for run in page.context["answer"].runs]


def links(page, **which):
    found = html.fromstring(page.content.decode()).xpath("//main//a")
    return {" ".join(link.text_content().split()): link.get("href") for link in found}


@pytest.fixture
def two(cast):
    """Low tide on Sparrow (wool), in the pot; High field on Lint (linen), in jars, never again."""
    by = cast.maker
    sparrow = builders.receive_yarn(by, builders.make_base("Sparrow"), skeins=20)
    lint = builders.receive_yarn(by, builders.make_base("Lint", fibres=[("linen", 100)]), skeins=20)
    rust = builders.receive_powder(by, builders.make_dye("Rust"), number="B-0417")
    low = builders.run_with_pots(by, sparrow, pots=1, colourway=builders.colourway(by, "Low tide"))
    high = builders.run_with_pots(by, lint, pots=1, title="High field", method="jar", at=NOON - timedelta(days=60))
    builders.addition(by, low.batches.get(), rust, 2, how="sprinkled")
    builders.words(by, low.batches.get(), "Smells of wet sheep & <b>vinegar</b>")
    builders.finish(by, high.batches.get(), verdict="never", next_time="Hotter, and slower")
    return {"low": low, "high": high}


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ({"base": "Sparrow"}, ["low"]),
        ({"fibre": "linen"}, ["high"]),
        ({"fibre": "wool"}, ["low"]),
        ({"dye": "Rust"}, ["low"]),
        ({"method": "jar"}, ["high"]),
        ({"verdict": "never"}, ["high"]),
        ({"verdict": "standard"}, []),
        ({"from": "2026-03"}, ["low"]),
        ({"to": "2026-02"}, ["high"]),
        ({"from": "January 2026", "to": "2026"}, ["low", "high"]),
        ({"from": "2026-03-14", "to": "2026-03-14"}, ["low"]),
        ({"from": "2026-03-15"}, []),
        ({"to": "2025"}, []),
        ({"from": "2025", "to": "14 March 2026", "method": "pot"}, ["low"]),
        ({"q": "sheep", "base": "Sparrow", "from": "3/2026"}, ["low"]),
        ({"q": "sheep", "base": "Lint"}, []),
        ({"q": "hotter", "verdict": "never", "method": "jar", "fibre": "linen"}, ["high"]),
    ],
)
def test_filters_narrow_alone_and_together(two, maker, asked, found):
    keys = {"base": Base, "dye": Dye}
    asked = {name: keys[name].objects.get(name=value).pk if name in keys else value for name, value in asked.items()}
    page = maker.get("/find/", asked)
    assert page.status_code == 200
    assert codes(page) == [two[name].code for name in found]


def test_the_line_is_shown_with_its_word_marked_and_nothing_else_of_it_read_as_html(two, maker):
    page = maker.get("/find/", {"q": "sheep VIN"}).content.decode()
    assert "Smells of wet <mark>sheep</mark> &amp; &lt;b&gt;<mark>vin</mark>egar&lt;/b&gt;" in page


def test_a_filter_can_be_taken_off_by_itself(two, maker):
    page = maker.get("/find/", {"q": "tide", "method": "pot", "from": "2026"})
    assert links(page)["Take off"] in ("/find/?q=tide&from=2026", "/find/?q=tide&method=pot")
    assert "Dyed in the pot" in words(page) and "From 2026" in words(page)


def test_nothing_found_says_what_would_find_something(two, maker):
    page = maker.get("/find/", {"q": "tide", "method": "jar", "verdict": "never"})
    assert codes(page) == []
    assert "Nothing has “tide”, dyed in jars, verdict never again all together." in words(page)
    page = maker.get("/find/", {"q": "tide", "method": "jar"})
    found = links(page)
    assert found["Without dyed in jars"] == "/find/?q=tide"
    assert links(maker.get("/find/", {"q": "tide zebra"}))["Without “zebra”"] == "/find/?q=tide"
    assert links(maker.get("/find/", {"q": "sparow"}))["“sparrow” instead"] == "/find/?q=sparrow"


def test_things_of_that_name_lead_to_their_pages(two, maker):
    found = links(maker.get("/find/", {"q": "rust"}))
    assert any(name.startswith("Rust") and href.startswith("/shelf/") for name, href in found.items())
    found = links(maker.get("/find/", {"q": "0417"}))
    assert any("Rust, B-0417" in name for name in found)


def test_a_helper_is_not_led_to_a_colourway(two, cast, client_of):
    for person, sees in ((cast.helper, False), (cast.viewer, True), (cast.owner, True)):
        page = client_of(person).get("/find/", {"q": "low tide"})
        assert codes(page) == [two["low"].code]
        assert ([thing.kind for thing in page.context["answer"].things] == ["colourway"]) is sees
        assert ("/colourways/1" in page.content.decode()) <= sees


def test_a_colourway_story_is_not_told_to_a_helper(cast, client_of):
    builders.colourway(cast.maker, "Low tide", story="After a quarrel at the weir")
    assert client_of(cast.owner).get("/find/", {"q": "quarrel"}).context["answer"].things
    assert not client_of(cast.helper).get("/find/", {"q": "quarrel"}).context["answer"].things


def test_the_note_of_a_recipe_finds_its_colourway_but_not_for_a_helper(cast, client_of):
    way = builders.colourway(cast.maker, "Low tide", story="After a quarrel at the weir")
    draft = way.next_version(by=cast.maker, now=NOON, fibre_g=Decimal(100), note="Hottest in the sécond pot")
    way.next_version(by=cast.maker, now=NOON, fibre_g=Decimal(100), note="The second pot again")

    def things(person, text):
        return [one.name for one in client_of(person).get("/find/", {"q": text}).context["answer"].things]

    for text in ("hottest", "SECOND pot", "tide quarrel hottest"):
        assert things(cast.viewer, text) == ["Low tide"], text
        assert things(cast.helper, text) == [], text
    assert things(cast.owner, "hottest again") == []  # of two versions
    draft.note = "Slower"
    draft.save()
    assert things(cast.owner, "hottest") == [] and things(cast.owner, "slower") == ["Low tide"]


@pytest.mark.parametrize("number", [30, 150])
def test_pages_follow_each_other_without_a_gap_or_a_run_twice(cast, maker, number):
    runs = builders.past_runs(cast.maker, number, a_day=3)
    seen, address = [], "/find/?q=run"
    while address:
        page = maker.get(address)
        while page.context["answer"].behind:
            page = maker.get(address)
        seen += codes(page)
        assert page.context["answer"].count == number
        address = page.context["older"]
    assert seen == [run.code for run in sorted(runs, key=lambda run: (run.day, run.pk), reverse=True)]


def test_runs_that_are_not_looked_through_yet_are_said(cast, maker):
    builders.past_runs(cast.maker, 60)
    assert "20 runs changed so lately that they are not looked through yet" in words(maker.get("/find/", {"q": "run"}))
    assert "not looked through" not in words(maker.get("/find/", {"q": "run"}))


NONSENSE = [
    "zebra",
    "🧶",
    "x" * 10_000,
    "a\x00b",
    "%",
    "_",
    "*",
    "' or 1=1 --",
    '"',
    "<script>",
    "a AND NOT b",
    "NEAR(a b)",
]


@pytest.mark.parametrize("text", [*NONSENSE, "low*", "tide:*", "lo%", "l_w", "^low", "low tide\x07", "-", "(", "&|!"])
def test_signs_are_text_and_nothing_breaks(two, maker, text):
    page = maker.get("/find/", {"q": text})
    assert page.status_code == 200
    boxes = html.fromstring(page.content.decode()).xpath('//input[@name="q"]')
    assert len(boxes[0].get("value", "")) <= 200
    if text in NONSENSE:
        assert codes(page) == []


@pytest.mark.parametrize("name", ["from", "to"])
@pytest.mark.parametrize(
    "text", ["yesterday", "2026-13", "2026-02-30", "0000", "99999", "32 March 2026", "x" * 500, "٣"]
)
def test_a_day_that_is_none_is_said_and_kept(two, maker, name, text):
    page = maker.get("/find/", {"q": "tide", name: text})
    assert page.status_code == 422
    assert codes(page) == [two["low"].code]  # found as if it had not been asked
    assert any("write a year, a month or a day" in said or "shorten" in said for said in sentences(page))
    box = html.fromstring(page.content.decode()).xpath(f'//input[@name="{name}"]')[0]
    assert box.get("value") == text


@pytest.mark.parametrize(
    "asked", [{"base": "x"}, {"base": "999999999999999999999"}, {"dye": "-1"}, {"fibre": "tin"}, {"method": "zz"}]
)
def test_a_choice_that_is_none_is_said(two, maker, asked):
    page = maker.get("/find/", {"q": "tide", **asked})
    assert page.status_code == 422
    assert codes(page) == [two["low"].code]
    assert len(sentences(page)) == 1


@pytest.mark.parametrize(
    "before", ["x", "2026-13-01.5", "2026-01-01.", "2026-01-01.99999999999999999999", "🧶", "a\x00b"]
)
def test_a_page_that_is_none_still_opens(two, maker, before):
    assert maker.get("/find/", {"q": "tide", "before": before}).status_code == 200


def test_a_page_beyond_the_last_run_leads_to_the_newest(two, maker):
    page = maker.get("/find/", {"q": "tide", "before": "2001-01-01.1"})
    assert codes(page) == []
    assert "1 run None of them is older than that." in words(page) and "newest first" not in words(page)
    assert links(page)["See the newest"] == "/find/?q=tide"
    assert "older ones" not in words(maker.get("/find/", {"q": "tide", "before": "x"}))


def test_part_of_the_page_for_htmx(two, maker):
    page = maker.get("/find/", {"q": "tide"}, headers={"HX-Request": "true"})
    assert page.content.decode().lstrip().startswith('<div id="found"')
    assert codes(page) == [two["low"].code]
    assert "HX-Request" in page["Vary"]


def test_nothing_asked_is_no_search(two, maker):
    page = maker.get("/find/")
    assert codes(page) == [] and "No run was found" not in words(page)


def test_words_that_were_too_many_are_named(maker):
    assert "These were left out: i, j." in words(maker.get("/find/", {"q": "a b c d e f g h i j"}))


def test_the_journals_old_address_leads_here(maker):
    assert maker.get("/journal/", {"q": "low tide"})["Location"] == "/find/?q=low+tide"


def many(by, number):
    yarn = builders.receive_yarn(by, skeins=200)
    jar = builders.receive_powder(by)
    for n in range(number):
        run = builders.run_with_pots(by, yarn, pots=2, title=f"Run {n}")
        for batch in run.batches.all():
            builders.addition(by, batch, jar, Decimal(1))
            builders.words(by, batch, "Run clear")
            if n % 2:
                outputs = [Output(yarn=batch.yarns.get(), grade="first", skeins=2)]
                Finish.log(batch, stamp(by, hours(3)), outputs=outputs)


@pytest.mark.parametrize("asked", [{"q": "run"}, {"method": "pot"}, {"q": "run clear", "from": str(date(2026, 1, 1))}])
def test_queries_do_not_grow_with_the_runs(cast, maker, django_assert_max_num_queries, asked):
    many(cast.maker, 3)
    maker.get("/find/", asked)
    with django_assert_max_num_queries(40) as few:
        maker.get("/find/", asked)
    number = len(few)
    many(cast.maker, 6)
    maker.get("/find/", asked)
    with django_assert_max_num_queries(number):
        maker.get("/find/", asked)
