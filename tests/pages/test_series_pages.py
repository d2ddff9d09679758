"""The pages of samples: shares, depths, skeins pulled in turn, and how strong a powder lot is."""

from decimal import Decimal
from types import SimpleNamespace

import pytest
from lxml import html

from batches.models import Match, Run, StrengthTest
from recipes.models import Basis
from studio.models import Lot
from tests import builders
from tests.pages.run_forms import BAD, boxes, fields_of, sentences, words

D = Decimal


@pytest.fixture
def kit(cast):
    maker = cast.maker
    brick, ochre = builders.make_dye("Brick"), builders.make_dye("Ochre")
    way = builders.colourway(maker, "Low tide")
    recipe = builders.recipe(maker, way, [(brick, "0.6", Basis.OWF), (ochre, "0.2", Basis.OWF)], liquor_ratio=D(20))
    way.pin(recipe)
    old = builders.receive_powder(maker, brick, number="B-1")
    new = builders.receive_powder(maker, brick, number="B-2", at=builders.hours(1))
    builders.receive_powder(maker, ochre)
    yarn = builders.receive_yarn(maker, builders.make_base("Sparrow"), skeins=2)
    jar = builders.make_vessel("Jam jar", kind="jar", how_many=8, volume_ml=1000, fill_ml=700)
    return SimpleNamespace(
        recipe=recipe, way=way, old=old, new=new, yarn=yarn, jar=jar, url=f"/runs/new/series/{recipe.pk}/"
    )


def send(browser, url, do="work", **typed):
    page = browser.get(url)
    return browser.post(
        url, fields_of(page, "grams") | {"do": do} | {k.replace("__", "-"): v for k, v in typed.items()}
    )


def text(answer):
    return words(answer).replace("\xa0", " ")


def test_the_versions_page_leads_to_its_samples(maker, kit):
    assert f'href="{kit.url}"' in maker.get(f"/recipes/{kit.recipe.pk}/").content.decode()


def test_making_a_bottle_leads_back_to_the_samples_as_they_were_asked(maker, kit):
    page = maker.get(f"{kit.url}?kind=depths&lot={kit.yarn.pk}&grams=12&lightest=0.3&deepest=1.2&steps=3&spaced=ratio")
    assert page.status_code == 200 and "0.6 % owf" in text(page) and boxes(page)["grams"] == "12"


def test_a_family_is_worked_out_before_anything_is_kept(maker, kit):
    page = send(maker, kit.url, lot=kit.yarn.pk, vessel=kit.jar.pk)
    assert page.status_code == 200
    assert "75 % Brick, 25 % Ochre" in text(page) and "Brick alone" in text(page)
    assert not Run.objects.exists()


def test_the_lot_of_a_dye_that_the_first_sample_lacks_can_be_chosen(cast, maker, kit):
    ochre = kit.recipe.steps.get(ingredients__dye__name="Ochre").ingredients.get(dye__name="Ochre").dye
    builders.receive_powder(cast.maker, ochre, number="O-2")
    page = text(send(maker, kit.url, lot=kit.yarn.pk, vessel=kit.jar.pk))
    assert "Brick, taken from" in page and "Ochre, taken from" in page


def test_a_family_is_kept_as_a_run_of_labelled_pots(maker, kit):
    answer = send(maker, kit.url, "plan", lot=kit.yarn.pk, steps="3")
    run = Run.objects.get()
    assert answer.url == f"/runs/{run.code}/" and run.state == "planned"
    assert [batch.label for batch in run.batches.order_by("number")] == [
        "Brick alone",
        "50\xa0%\xa0Brick, 50\xa0%\xa0Ochre",
        "Ochre alone",
    ]
    page = maker.get(answer.url)
    assert "Samples" in text(page) and "50 % Brick, 50 % Ochre" in text(page)


def test_each_sample_is_photographed_and_made_a_recipe_by_itself(maker, kit):
    send(maker, kit.url, "start", lot=kit.yarn.pk, steps="2")
    code = Run.objects.get().code
    page = maker.get(f"/runs/{code}/").content.decode()
    for number in (1, 2):
        assert f"/runs/{code}/photos/?pot={number}#add" in page and f"/runs/{code}/recipe/?pot={number}" in page


def test_a_plan_of_many_samples_is_a_line_for_each(maker, kit, three):
    """All amounts of 28 samples under each other were 31,000 px on a phone."""
    page = html.fromstring(send(maker, three, lot=kit.yarn.pk, steps="6").content.decode())
    lines = page.xpath("//ol/li[starts-with(@id, 'pot')]/details[not(@open)]")
    assert len(lines) == 28 and not page.xpath("//*[@class='potcard']")
    said = " ".join(lines[1].xpath("string(summary)").replace("\xa0", " ").split())
    assert said == "2 83.3 % Plum, 16.7 % Sand 0.12 g Plum, 0.03 g Sand"
    assert len(lines[1].xpath(".//ol/li")) == 2 and "1.25 % owf" in lines[1].text_content().replace("\xa0", " ")


def test_a_plan_of_few_pots_shows_all_amounts(maker, kit):
    page = html.fromstring(send(maker, ladder_url(kit.new), lot=kit.yarn.pk, vessel=kit.jar.pk).content.decode())
    assert len(page.xpath("//*[@class='potcard']")) == 3


def test_each_of_many_samples_is_a_line_that_opens(maker, kit):
    """Ten cards with their buttons, and ten lines above them that say the same, were pages to scroll on a phone."""
    send(maker, f"{kit.url}?kind=depths", "start", lot=kit.yarn.pk, steps="10", lightest="0.2", deepest="2")
    run = Run.objects.get()
    page = html.fromstring(maker.get(f"/runs/{run.code}/").content.decode())
    told = [name.text_content() for name in page.xpath("//section[@class='record']//dt")]
    assert [name for name in told if "Pot" in name] == ["Pots 1 to 10"]
    lines = page.xpath("//section//ol/li[starts-with(@id, 'sample-')]/details")
    assert len(lines) == 10 and not page.xpath("//li[starts-with(@id, 'sample-')]/details[@open]")
    first, last = (line.xpath("string(summary)").replace("\xa0", " ") for line in (lines[0], lines[-1]))
    assert "0.2 % owf" in first and "2 % owf" in last
    assert not lines[0].xpath("summary//a") and len(lines[0].xpath(".//a")) == 3
    assert "planned" in lines[0].text_content() and "0.015" in lines[0].text_content()
    wide = [len(line.xpath("summary//*[local-name()='rect']")) for line in lines]
    assert set(wide) == {2}, "each bar has both dyes"


def test_bars_of_paler_samples_are_shorter(maker, kit):
    """Pale and deep are of the same shares: bars as wide as each other would show no difference."""
    send(maker, f"{kit.url}?kind=depths", "start", lot=kit.yarn.pk, steps="3", lightest="0.5", deepest="2")
    page = html.fromstring(maker.get(f"/runs/{Run.objects.get().code}/").content.decode())
    bars = page.xpath("//li[starts-with(@id, 'sample-')]//summary//svg")
    widths = [sum(float(each.strip("%")) for each in bar.xpath(".//*[local-name()='rect']/@width")) for bar in bars]
    assert [round(width / widths[-1], 2) for width in widths] == [0.25, 0.5, 1]


def test_a_sample_leads_to_the_colour_to_match(cast, maker, kit):
    send(maker, kit.url, "start", lot=kit.yarn.pk, steps="2")
    run = Run.objects.get()
    pots = list(run.batches.order_by("number"))
    assert f"/colourways/{kit.way.pk}/close/?pot={pots[1].pk}" not in maker.get(f"/runs/{run.code}/").content.decode()
    spring = builders.run_with_pots(cast.maker, pots=1, colourway=kit.way)
    builders.finish(cast.maker, spring.batches.get(), verdict="standard")
    page = maker.get(f"/runs/{run.code}/").content.decode()
    assert all(f"/colourways/{kit.way.pk}/close/?pot={pot.pk}" in page for pot in pots)


def test_depths_from_pale_to_deep(maker, kit):
    page = send(maker, f"{kit.url}?kind=depths", lot=kit.yarn.pk, lightest="0.25", deepest="4", steps="5")
    assert all(f"{depth} % owf" in text(page) for depth in ("0.25", "0.5", "1", "2", "4"))
    page = send(maker, f"{kit.url}?kind=depths", lot=kit.yarn.pk, lightest="0.5", deepest="1", steps="3", spaced="even")
    assert "0.75 % owf" in text(page)


def test_skeins_are_pulled_in_turn_out_of_one_pot(maker, kit):
    url = f"{kit.url}?kind=pulled"
    answer = send(maker, url, "start", lot=kit.yarn.pk, own="0.2 0.5 1,2", grams="20", vessel=kit.jar.pk)
    run = Run.objects.get()
    assert answer.url == f"/sink/{run.batches.get().pk}/"
    taken = [line.words for line in run.batches.get().plan.all() if "Take skein" in line.words]
    assert taken[2] == "Take skein 3 out, 1.2\xa0% owf, once the bath is clear"
    assert builders.on_hand(kit.yarn) == 140


def test_a_version_of_one_dye_has_no_shares_and_one_of_none_says_so(cast, maker):
    one = builders.recipe(cast.maker)
    assert "Pale to deep" in text(maker.get(f"/runs/new/series/{one.pk}/"))
    assert "Shares of its dyes" not in text(maker.get(f"/runs/new/series/{one.pk}/"))
    none = builders.recipe(cast.maker, lines=[(builders.make_assistant(), 1, Basis.OWF)])
    assert "There is no dye in this version" in text(maker.get(f"/runs/new/series/{none.pk}/"))


@pytest.mark.parametrize(
    "kind, typed, sentence",
    [
        pytest.param("depths", {"lightest": "0"}, "A depth of 0 is undyed yarn", id="from nothing"),
        pytest.param(
            "depths", {"lightest": "3", "deepest": "1"}, "must be below the deepest", id="the wrong way round"
        ),
        pytest.param("depths", {"steps": "1"}, "too little", id="one step"),
        pytest.param("shares", {"steps": "1"}, "too little", id="one share"),
        pytest.param("shares", {"total": "0"}, "A depth of 0 is undyed yarn", id="no depth"),
        pytest.param("pulled", {"own": "1 0.5"}, "from the lightest on", id="pulled the wrong way round"),
        pytest.param("pulled", {"own": "1 x"}, "can't be read", id="no number"),
        pytest.param("pulled", {"own": "0 1"}, "from the lightest on", id="an undyed skein"),
        pytest.param("shares", {"grams": "0"}, "", id="no yarn"),
        pytest.param("shares", {"lot": ""}, "Choose one under “Yarn”", id="no lot"),
    ],
)
def test_bad_input_is_a_sentence_and_loses_nothing(maker, kit, kind, typed, sentence):
    answer = send(maker, f"{kit.url}?kind={kind}", "start", **{"lot": kit.yarn.pk, "day": "2026-11-30"} | typed)
    assert answer.status_code == 422
    assert any(sentence in said for said in sentences(answer)), sentences(answer)
    kept = boxes(answer)
    assert all(kept[name] == value for name, value in typed.items()) and kept["day"] == "2026-11-30"
    assert not Run.objects.exists()


@pytest.mark.parametrize("kind", ["shares", "depths", "pulled"])
def test_a_sample_of_less_than_can_be_weighed_is_said(maker, kit, kind):
    """0.0004 g was kept as no yarn at all, which the record refuses: the plan failed with an error."""
    answer = send(maker, f"{kit.url}?kind={kind}", "plan", lot=kit.yarn.pk, grams="0.0004")
    assert answer.status_code == 422 and not Run.objects.exists()
    assert [said.replace("\xa0", " ") for said in sentences(answer)] == ["0.0004 g is too little: write 0.1 g or more."]
    assert boxes(answer)["grams"] == "0.0004"


@pytest.mark.parametrize("junk", BAD.values(), ids=BAD)
@pytest.mark.parametrize("box", ["steps", "lightest", "deepest", "own", "grams"])
def test_junk_is_said_and_kept(maker, kit, box, junk):
    answer = send(maker, f"{kit.url}?kind=pulled", lot=kit.yarn.pk, **{box: junk})
    assert answer.status_code == 422 and sentences(answer)
    assert boxes(answer)[box].strip() == junk.replace("\x00", "")


def test_more_samples_than_yarn_is_said(maker, kit):
    page = send(maker, kit.url, lot=kit.yarn.pk, steps="30", grams="20")
    assert "Sparrow, in samples of 20 g: 30 skeins wanted, 10 free." in text(page)


def test_only_makers_plan_samples(cast, client_of, kit):
    for person in (cast.helper, cast.viewer):
        assert client_of(person).get(kit.url).status_code == 403
        assert client_of(person).get(f"/shelf/lots/{kit.new.pk}/strength/").status_code == 403


@pytest.fixture
def three(cast, kit):
    """The address of the samples of a version of three dyes."""
    dyes = [builders.receive_powder(cast.maker, builders.make_dye(name)).dye for name in ("Plum", "Sand", "Teal")]
    lines = [(dye, "0.5", Basis.OWF) for dye in dyes]
    recipe = builders.recipe(cast.maker, builders.colourway(cast.maker, "Heath"), lines, liquor_ratio=D(20))
    return f"/runs/new/series/{recipe.pk}/"


def cells(answer):
    """The triangle of a page: [(share of the first dye, [the samples' labels])], row by row."""
    rows = html.fromstring(answer.content.decode()).xpath("//table[@class='triangle']/tbody/tr")
    return [
        (
            row.xpath("string(th/text())").replace("\xa0", " "),
            [link.xpath("string(span[@class='hidden'])").replace("\xa0", " ") for link in row.xpath("td/a")],
        )
        for row in rows
    ]


def lead_nowhere(answer):
    """The links of a page's triangle that lead to nothing on it."""
    page = html.fromstring(answer.content.decode())
    links = page.xpath("//table[@class='triangle']//a/@href")
    return [link for link in links if not page.xpath("//*[@id=$id]", id=link.removeprefix("#"))]


def test_shares_of_three_dyes_are_a_triangle(maker, kit, three):
    page = send(maker, three, lot=kit.yarn.pk, steps="3")
    found = cells(page)
    assert [(share, len(labels)) for share, labels in found] == [
        ("100 %", 1),
        ("66.7 %", 2),
        ("33.3 %", 3),
        ("0 %", 4),
    ]
    assert found[0][1] == [": Plum alone"] and found[3][1][0] == ": Sand alone" and found[3][1][3] == ": Teal alone"
    assert found[1][1] == [": 66.7 % Plum, 33.3 % Sand", ": 66.7 % Plum, 33.3 % Teal"]
    assert "Down: Plum. Across: Teal. The rest is Sand." in text(page) and lead_nowhere(page) == []
    page = maker.get(send(maker, three, "plan", lot=kit.yarn.pk, steps="3").url)
    assert cells(page) == found and lead_nowhere(page) == [] and 'style="' not in page.content.decode()
    bars = html.fromstring(page.content.decode()).xpath("//table[@class='triangle']//svg[@role='img']/@aria-label")
    for bar in [bar for bar in bars if ":" in bar]:  # one order of the dyes in all, whatever the amounts
        places = [bar.index(name) for name in ("Plum", "Sand", "Teal") if name in bar]
        assert places and places == sorted(places), bar


def test_other_samples_are_no_triangle(maker, kit, three):
    assert cells(send(maker, kit.url, lot=kit.yarn.pk, steps="6")) == []  # of two dyes
    deep = send(maker, f"{three}?kind=depths", lot=kit.yarn.pk, lightest="0.5", deepest="2", steps="6")
    assert "To measure" in text(deep) and cells(deep) == []


# --- how strong is it


def ladder_url(lot):
    return f"/shelf/lots/{lot.pk}/strength/"


def test_the_ladder_begins_with_the_standard_and_three_percents(maker, kit):
    page = maker.get(ladder_url(kit.new))
    found = boxes(page)
    assert (found["rung-1"], found["rung-2"], found["rung-3"], found["rung-4"]) == ("100", "110", "120", "")
    assert found["recipe"] == str(kit.recipe.pk)
    assert "counts as 100 % strong" in text(page) and "100 / 110 = 90.9 % strong" in text(page)


def begun(maker, kit, **typed):
    """A test whose first sample got its dye."""
    send(maker, ladder_url(kit.new), "start", lot=kit.yarn.pk, vessel=kit.jar.pk, **typed)
    test = StrengthTest.objects.get()
    line = test.run.batches.first().plan.filter(dye__isnull=False).first()
    builders.addition(test.run.by, line.batch, line.lot, line.told, plan_line=line)
    return test


def test_one_touch_picks_the_match_and_corrects_the_lot(maker, kit):
    test = begun(maker, kit)
    assert [rung.pct for rung in test.rungs.all()] == [100, 110, 120]
    page = maker.get(f"/runs/{test.run.code}/")
    assert text(page).count("Matches: ") == 3 and "Between 100 % and 110 %" in text(page)
    answer = maker.post(f"/runs/{test.run.code}/match/", {"pick": str(test.rungs.get(pct=110).pk)}, follow=True)
    assert "110 % matches: Brick lot B-2 is 90.9 % strong from here on." in text(answer)
    assert "the lot is 90.9 % strong" in text(answer)
    marked = html.fromstring(answer.content).xpath("//button[@name='pick'][contains(@class, 'main')]")
    assert [button.text_content() for button in marked] == ["Matches: 110\xa0% of the Brick"]
    lot = maker.get(f"/shelf/lots/{kit.new.pk}/")
    assert "90.91 % of your standard strength" in text(lot) and f"Test {test.run.code}: 110 % matches." in text(lot)


def test_between_two_none_and_a_hue(maker, kit):
    test = begun(maker, kit)
    low, high = (str(test.rungs.get(pct=pct).pk) for pct in (110, 120))
    url = f"/runs/{test.run.code}/match/"
    assert "87 % strong" in text(maker.post(url, {"pick": f"{low}-{high}"}, follow=True))
    answer = maker.post(url, {"pick": "none", "hue": "bluer"}, follow=True)
    assert "None matches" in text(answer) and "Its hue: bluer." in text(answer)
    lot = Lot.objects.with_facts().get(pk=kit.new.pk)
    assert (lot.strength_now, lot.hue_now) == (100, "bluer")


def pick(browser, test, **typed):
    return browser.post(f"/runs/{test.run.code}/match/", typed)


@pytest.mark.parametrize("picked", ["", "999", "x", "1-2-3", "none-none", "-", "9" * 40, "\x00"])
def test_a_pick_of_nothing_is_said_beside_the_samples_and_loses_no_word(maker, kit, picked):
    test = begun(maker, kit)
    answer = pick(maker, test, pick=picked, hue="a shade bluer")
    assert answer.status_code == 422 and not Match.objects.exists()
    assert sentences(answer) == ["Which sample matched was not said: touch one of them."]
    assert boxes(answer)["hue"] == "a shade bluer" and "Error: " in answer.content.decode()
    assert test.run.code in text(answer) and text(answer).count("Matches: ") == 3


def test_the_same_sample_twice_is_no_match(maker, kit):
    test = begun(maker, kit)
    key = str(test.rungs.first().pk)
    assert pick(maker, test, pick=f"{key}-{key}").status_code == 422 and not Match.objects.exists()


def test_samples_that_are_no_neighbours_are_no_match(maker, kit):
    test = begun(maker, kit)
    low, high = test.rungs.first().pk, test.rungs.last().pk
    assert pick(maker, test, pick=f"{low}-{high}").status_code == 422 and not Match.objects.exists()


def test_a_hue_too_long_is_said_and_kept(maker, kit):
    test = begun(maker, kit)
    answer = pick(maker, test, pick="none", hue="x" * 201)
    assert answer.status_code == 422 and not Match.objects.exists()
    assert sentences(answer) == ["“How its hue differs” has 201 characters and 200 fit: shorten it."]
    assert boxes(answer)["hue"] == "x" * 201
    assert html.fromstring(answer.content.decode()).xpath("//details[@open]//input[@name='hue'][@aria-invalid='true']")


def test_a_pick_of_samples_nobody_dyed_yet_is_said_and_kept(maker, kit):
    send(maker, ladder_url(kit.new), "start", lot=kit.yarn.pk, vessel=kit.jar.pk)
    test = StrengthTest.objects.get()
    assert "Matches: " not in text(maker.get(f"/runs/{test.run.code}/"))
    answer = pick(maker, test, pick=str(test.rungs.first().pk), hue="bluer")
    assert answer.status_code == 422 and not Match.objects.exists()
    assert "No dye went into these samples yet" in sentences(answer)[0] and boxes(answer)["hue"] == "bluer"


def test_a_match_that_makes_no_sense_of_a_powder_is_said_beside_the_samples(maker, kit):
    test = begun(maker, kit, **{"rung-1": "20"})
    answer = pick(maker, test, pick=str(test.rungs.first().pk), hue="bluer")
    assert answer.status_code == 422 and "strong: look again which one matches" in sentences(answer)[0]
    assert boxes(answer)["hue"] == "bluer"


def test_a_run_that_tests_no_lot_has_nothing_to_match(maker, kit):
    send(maker, kit.url, "plan", lot=kit.yarn.pk, steps="2")
    assert maker.post(f"/runs/{Run.objects.get().code}/match/", {"pick": "none"}).status_code == 404


def test_only_makers_pick(cast, client_of, maker, kit):
    test = begun(maker, kit)
    helper = client_of(cast.helper)
    assert "Matches: " not in text(helper.get(f"/runs/{test.run.code}/"))
    assert helper.post(f"/runs/{test.run.code}/match/", {"pick": "none"}).status_code == 403


@pytest.mark.parametrize(
    "typed, sentence",
    [
        pytest.param({"rung-2": "", "rung-3": ""}, "needs two samples or more", id="one sample"),
        pytest.param({"rung-2": "100"}, "stands there already", id="twice the same"),
        pytest.param({"rung-2": "100.0004"}, "stands there already", id="twice the same, as it would be kept"),
        pytest.param({"rung-2": "0"}, "too little", id="nothing of it"),
        pytest.param({"rung-2": "500"}, "too much", id="beyond belief"),
        pytest.param({"recipe": ""}, "Choose one under “Dyed like”", id="like nothing"),
        pytest.param({"recipe": "99999"}, "no longer there", id="a version without it"),
    ],
)
def test_a_bad_ladder_is_a_sentence_and_loses_nothing(maker, kit, typed, sentence):
    answer = send(maker, ladder_url(kit.new), "start", **{"lot": kit.yarn.pk, "grams": "12"} | typed)
    assert answer.status_code == 422
    assert any(sentence in said for said in sentences(answer)), sentences(answer)
    kept = boxes(answer)
    assert kept["grams"] == "12"
    assert all(kept[name] == value for name, value in typed.items() if name != "recipe")
    assert not Run.objects.exists()


def test_a_dye_that_no_version_has_is_said(cast, maker):
    lot = builders.receive_powder(cast.maker)
    assert "No version has a line of" in text(maker.get(ladder_url(lot)))


def test_a_dye_that_is_only_in_a_mixed_bottle_says_what_to_write(cast, maker, kit):
    """The colourway is named with what to do, whether or not another version can be used."""
    mix = builders.make_solution("Autumn", [(kit.new.dye, 1), (builders.make_dye("Plum"), 1)])
    way = builders.colourway(cast.maker, "Mudflat")
    mixed = builders.recipe(cast.maker, way, [(mix, 10, Basis.PER_POT)])
    way.pin(mixed)
    lone = builders.receive_powder(cast.maker, mix.parts.get(dye__name="Plum").dye)
    for lot, begins in ((kit.new, "In percent of the Brick"), (lone, "No version has a line of Plum")):
        page = maker.get(ladder_url(lot))
        assert begins in text(page)
        assert f"Mudflat, version 1 has {lot.dye} only in the bottle Autumn" in text(page)
        assert f"/colourways/{way.pk}/write/?from={mixed.pk}" in page.content.decode()
    own = builders.recipe(cast.maker, way, [(mix, 10, Basis.PER_POT), (kit.new.dye, 1, Basis.OWF)])
    way.pin(own)
    assert "only in the bottle" not in text(maker.get(ladder_url(kit.new)))


def test_only_a_powder_has_a_ladder(maker, kit):
    assert maker.get(ladder_url(kit.yarn)).status_code == 404
    assert maker.post("/runs/nothing/match/", {"pick": "none"}).status_code == 404


def test_a_ladder_too_small_to_weigh_leads_to_a_weak_bottle_and_takes_it(maker, kit):
    """0.06 g, 0.066 g and 0.072 g are 0.06, 0.07 and 0.07 g on this scale; of a 1 % bottle they are 6 mL and more."""
    builders.make_tool(step="0.01")
    builders.make_tool("Syringe", "syringe", "0.1", largest=Decimal(10))
    page = send(maker, ladder_url(kit.new), lot=kit.yarn.pk, vessel=kit.jar.pk)
    assert "tell these samples apart" in text(page)
    button = html.fromstring(page.content).xpath("//button[contains(., 'from lot B-2')]")[0]
    made_at = maker.post(button.get("formaction")).url
    form = maker.get(made_at)
    grams = next(name for name in boxes(form) if name == f"lot-{kit.new.pk}")
    back = maker.post(made_at, fields_of(form, grams) | {grams: "2.5"}).url
    bottle = Lot.objects.exclude(solution=None).get()
    assert f"={bottle.pk}" in back
    again = maker.get(back)
    assert "tell these samples apart" not in text(again)
    amounts = html.fromstring(again.content).xpath("//b[contains(@class, 'much')]")
    assert [each.text_content().replace("\xa0", " ").strip() for each in amounts][::2] == ["6 mL", "6.6 mL", "7.2 mL"]


def lots_offered(page):
    """The keys of the lots that a bottle's page has boxes for, in order; those behind a fold apart."""
    tree = html.fromstring(page.content)
    boxes = [box.get("name").split("-") for box in tree.xpath("//form//input[starts-with(@name, 'lot-')]")]
    folded = {box.get("name").split("-")[1] for box in tree.xpath("//details//input[starts-with(@name, 'lot-')]")}
    keys = list(dict.fromkeys(parts[1] for parts in boxes))
    return [int(key) for key in keys if key not in folded], [int(key) for key in keys if key in folded]


def test_the_bottle_of_a_ladder_is_made_of_the_lot_under_test(maker, kit):
    """The older lot stood first, and nothing on the page said which of the two the samples are of."""
    builders.make_tool(step="0.01")
    builders.make_tool("Syringe", "syringe", "0.1", largest=Decimal(10))
    page = send(maker, ladder_url(kit.new), lot=kit.yarn.pk, vessel=kit.jar.pk)
    button = html.fromstring(page.content).xpath("//button[contains(., 'from lot B-2')]")[0]
    made_at = maker.post(button.get("formaction")).url
    form = maker.get(made_at)
    assert "It is wanted of Brick lot B-2." in text(form)
    assert lots_offered(form) == ([kit.new.pk], [kit.old.pk])
    again = maker.get(made_at, {"volume": "100"})
    assert lots_offered(again) == ([kit.old.pk, kit.new.pk], [])  # another address: nothing was asked for
    refused = maker.post(made_at, fields_of(form, f"lot-{kit.new.pk}") | {f"lot-{kit.old.pk}": "banana"})
    assert refused.status_code == 422 and "It is wanted of Brick lot B-2." in text(refused)
    assert html.fromstring(refused.content).xpath("//details[@open]//input[@value='banana']")


@pytest.mark.parametrize("asked", ["x", "999999", "9" * 40, "", "\x00"])
def test_a_lot_that_is_none_of_the_bottles_is_not_wanted(maker, kit, asked):
    bottle = builders.make_solution("Brick 2 %", [(kit.new.dye, 2)])
    page = maker.get(f"/shelf/masters/{bottle.pk}/make/", {"of": asked})
    assert page.status_code == 200 and "It is wanted of" not in text(page)
    assert lots_offered(page) == ([kit.old.pk, kit.new.pk], [])


def test_samples_on_yarn_that_takes_no_dye_of_the_class_say_so(cast, maker, kit):
    cotton = builders.receive_yarn(cast.maker, builders.make_base("Tow", fibres=[("cotton", 100)]), skeins=9)
    for url in (kit.url, f"{kit.url}?kind=pulled", ladder_url(kit.new)):
        page = text(send(maker, url, lot=cotton.pk))
        assert "Tow: None of its fibre takes dye of the class" in page and "It comes to" in page


def test_samples_on_a_base_with_a_factor_of_its_own_say_what_it_does(cast, maker, kit):
    moor = builders.make_base("Moor", fibres=[("wool", 100)], dye_factor_pct=D(92))
    page = text(send(maker, kit.url, lot=builders.receive_yarn(cast.maker, moor, skeins=9).pk))
    assert "Moor: It gets 0.92 times the dye" in page


def test_what_is_too_little_to_measure_is_said_with_its_bottle_before_the_pots(maker, kit):
    builders.make_tool(step="0.01")
    builders.make_tool("Syringe", "syringe", "0.1", largest=Decimal(10))
    page = send(maker, kit.url, lot=kit.yarn.pk, grams="5", steps="3")
    decides = html.fromstring(page.content).xpath("//section[@id='worked']")[0].text_content()
    assert "too little goes in to be measured again" in decides
    assert decides.count("from lot B-1") == 1  # the weakest that a sample wants does for all of them


def test_a_lot_that_was_chosen_outlasts_a_slip(cast, maker, kit):
    ochre = kit.recipe.steps.get(ingredients__dye__name="Ochre").ingredients.get(dye__name="Ochre")
    other = builders.receive_powder(cast.maker, ochre.dye, number="O-2")
    for url in (kit.url, f"/runs/new/plan/{kit.recipe.pk}/"):
        page = maker.post(
            url, {"grams": "banana", "yarn-0-skeins": "banana", f"choose-{ochre.pk}": other.pk, "do": "work"}
        )
        assert page.status_code == 422 and boxes(page)[f"choose-{ochre.pk}"] == str(other.pk)
