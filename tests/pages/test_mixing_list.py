"""From a plan to the bottles it needs, and back with them chosen."""

import re
from datetime import timedelta
from decimal import Decimal
from functools import partial
from urllib.parse import parse_qs, urlsplit

import pytest
from django.db import IntegrityError, connection
from django.utils import timezone
from lxml import html

from batches import plan_sheet
from recipes import bottles
from recipes.models import Basis, How
from studio.models import Lot, Solution
from tests import builders
from tests.pages.run_forms import boxes, fields_of, sentences, words


@pytest.fixture
def plan(cast, maker):
    """Works out 1.2 % of ochre from a 1 % bottle on four skeins in two pots. There is powder, and no bottle."""
    ochre = builders.make_dye("Ochre")
    builders.receive_powder(cast.maker, ochre, number="O-7", strength_pct=Decimal(80))
    line = builders.ingredient(ochre, "1.2", strength_pct=Decimal(1), how=How.BOTTLE)
    recipe = builders.colourway(cast.maker).next_version(by=cast.maker, now=builders.NOON, fibre_g=Decimal(100))
    recipe.write([(builders.RecipeStep(), [line])])
    yarn = builders.receive_yarn(cast.maker, skeins=12)
    address = f"/runs/new/plan/{recipe.pk}/"
    said = {"yarn-0-lot": yarn.pk, "yarn-0-skeins": "4", "pots": "2", "do": "work"}

    def work(**more):
        return maker.post(address, fields_of(maker.get(address), "pots") | said | more)

    work.ochre, work.address = ochre, address
    return work


def button_of(page, section="mixing"):
    (found,) = html.fromstring(page.content.decode()).xpath(
        f'//section[@aria-labelledby="{section}"]//*[contains(@class, "button")]'
    )
    return found


def test_the_list_says_what_to_weigh_and_leads_to_the_bottle(maker, plan):
    master = builders.make_solution("Ochre 1 %", [(plan.ochre, 1)], keeps_days=90)
    page = plan()
    said = words(page).replace("\xa0", " ")
    assert "500 mL of Ochre, 1 %" in said
    assert "6.25 g of Ochre, powder, lot O-7, 80 % strong" in said
    assert "Dry powder" in said  # its caution stands with it
    link = button_of(page).get("href")
    assert urlsplit(link).path == f"/shelf/masters/{master.pk}/make/"
    filled = boxes(maker.get(link))
    assert filled["volume"] == "500"
    assert "6.25 g" in words(maker.get(link)).replace("\xa0", " ")


def test_a_bottle_made_for_a_plan_is_chosen_in_it(maker, plan):
    builders.make_solution("Ochre 1 %", [(plan.ochre, 1)])
    link = button_of(plan()).get("href")
    box = next(name for name in boxes(maker.get(link)) if name.startswith("lot-"))
    answer = maker.post(link, fields_of(maker.get(link), box) | {box: "6.25"})
    bottle = Lot.objects.get(solution__isnull=False)
    assert answer.url.startswith(f"{plan.address}?")
    assert answer.url.endswith(f"={bottle.pk}")
    page = maker.get(answer.url)
    said = words(page)
    assert "To measure" in said and "no bottle" not in said and "Mixing list" not in said
    assert boxes(page)["yarn-0-skeins"] == "4" and boxes(page)["pots"] == "2"


@pytest.mark.parametrize("described", [True, False])
def test_a_plan_too_long_for_an_address_stays_open_beside_the_bottle(maker, plan, monkeypatch, described):
    if described:
        builders.make_solution("Ochre 1 %", [(plan.ochre, 1)])
    assert "tab of its own" not in words(plan()) and "come back here" in words(plan())
    monkeypatch.setattr(plan_sheet, "LONGEST", 20)
    page = plan()
    button = button_of(page)
    assert "Each bottle opens in a tab of its own" in words(page) and "come back here" not in words(page)
    assert (button.get("target") or button.get("formtarget")) == "_blank"
    assert "back=" not in (button.get("href") or button.get("formaction"))


def test_the_plan_one_comes_back_to_can_be_kept(maker, plan):
    builders.make_solution("Ochre 1 %", [(plan.ochre, 1)])
    back = parse_qs(urlsplit(button_of(plan()).get("href")).query)["back"][0]
    page = maker.get(back)
    assert page.status_code == 200
    answer = maker.post(plan.address, fields_of(page, "pots") | {"do": "plan"})
    assert answer.status_code == 302 and answer.url.startswith("/runs/")


def test_a_bottle_nobody_described_yet_is_described_on_the_way(maker, plan):
    button = button_of(plan())
    assert button.tag == "button"
    answer = maker.post(button.get("formaction"))
    master = Solution.objects.get()
    assert master.name == "Ochre 1 %"
    assert [(part.dye, part.g_per_100) for part in master.parts.all()] == [(plan.ochre, 1)]
    assert urlsplit(answer.url).path == f"/shelf/masters/{master.pk}/make/"
    assert maker.post(button.get("formaction")).url == answer.url  # and not a second time
    assert Solution.objects.count() == 1
    assert boxes(maker.get(answer.url))["back"].startswith(plan.address)


@pytest.mark.parametrize(
    ("query", "sentence"),
    [
        ("", "Fill in “Strength”."),
        ("strength=1", "Say what the bottle is to be of"),
        ("dye=1", "Fill in “Strength”."),
        ("dye=99999&strength=1", "is no longer there"),
        ("dye=x&strength=1", "is no longer there"),
        ("dye=1&assistant=1&strength=1", "is no longer there"),
        ("dye=1&strength=x", "can't be read as a number"),
        ("dye=1&strength=0", "too little"),
        ("dye=1&strength=101", "too much"),
        ("dye=1&strength=1&dye=%00", "Say what the bottle is to be of"),
        ("dye=" + "9" * 40, "is no longer there"),
    ],
)
def test_what_no_bottle_can_be_of_is_said_and_not_described(maker, plan, query, sentence):
    query = query.replace("dye=1&", f"dye={plan.ochre.pk}&")
    answer = maker.post(f"/shelf/bottles/describe/?{query}&back=/runs/new/plan/1/%3Fpots%3D2")
    assert answer.status_code == 422 and sentence in sentences(answer)[0]
    assert 'href="/runs/new/plan/1/?pots=2"' in answer.content.decode()
    assert not Solution.objects.exists()


@pytest.mark.parametrize("same", [True, False])
def test_a_bottle_that_somebody_else_describes_at_the_same_moment(monkeypatch, plan, same):
    def refused(**facts):
        monkeypatch.undo()
        monkeypatch.setattr(bottles, "_alone", meanwhile)
        raise IntegrityError

    def meanwhile(*facts):  # it is looked for again once the other one is there
        monkeypatch.undo()
        builders.make_solution("Ochre 1 %", [(plan.ochre if same else builders.make_dye("Soot"), 1)])
        return bottles._alone(*facts)

    monkeypatch.setattr(Solution.objects, "create", refused)
    made = bottles.master_for(plan.ochre, Decimal(1))
    assert (made.name, Solution.objects.count()) == (("Ochre 1 %", 1) if same else ("Ochre 1 %, 2", 2))
    assert [(part.dye, part.g_per_100) for part in made.parts.all()] == [(plan.ochre, 1)]


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one write at a time")
@pytest.mark.django_db(transaction=True)
def test_two_presses_at_once_describe_one_bottle():
    for number in range(6):
        dye = builders.make_dye(f"Ochre {number}")
        raised = builders.at_once(*[partial(bottles.master_for, dye, Decimal(1))] * 2)
        assert (raised, Solution.objects.filter(parts__dye=dye).count()) == ([], 1)


@pytest.mark.parametrize(
    "back", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)", "/\\elsewhere.example"]
)
def test_nobody_is_sent_elsewhere_with_a_bottle(cast, maker, plan, back):
    master = builders.make_solution("Ochre 1 %", [(plan.ochre, 1)])
    link = f"/shelf/masters/{master.pk}/make/"
    page = maker.get(link, {"volume": "500", "back": back})
    assert "back" not in boxes(page)
    box = next(name for name in boxes(page) if name.startswith("lot-"))
    answer = maker.post(link, fields_of(page, box) | {box: "6.25", "back": back})
    assert re.fullmatch(r"/shelf/lots/\d+/", answer.url)


def test_all_the_solution_of_a_run_can_be_made_at_once(maker, plan):
    builders.make_solution("Ochre 1 %", [(plan.ochre, 1)], keeps_days=2)
    said = words(plan()).replace("\xa0", " ")
    assert "Make all the solution of the run at once" in said
    assert "550 mL of Ochre, 1 %" in said and "240 mL for pots 1 and 2, each. 480 mL in all." in said


def test_a_runs_stock_that_would_not_keep_until_its_day_is_said(maker, plan):
    builders.make_solution("Ochre 1 %", [(plan.ochre, 1)], keeps_days=2)
    soon, later = (str(timezone.localdate() + timedelta(days=days)) for days in (1, 9))
    assert "not until the last day" not in words(plan(day=soon))
    assert "not until the last day" in words(plan(day=later))


def test_a_basis_that_no_bottle_is_for_lists_nothing(cast, maker):
    dye = builders.receive_powder(cast.maker).dye
    recipe = builders.recipe(cast.maker, lines=[(dye, 1, Basis.OWF)])
    yarn = builders.receive_yarn(cast.maker, skeins=12)
    address = f"/runs/new/plan/{recipe.pk}/"
    page = maker.post(
        address, fields_of(maker.get(address), "pots") | {"yarn-0-lot": yarn.pk, "yarn-0-skeins": "4", "do": "work"}
    )
    assert "Mixing list" not in words(page) and "at once" not in words(page)


def test_a_mix_of_two_dyes_comes_of_one_lot_of_each(cast, maker, plan):
    slate = builders.receive_powder(cast.maker, builders.make_dye("Slate")).dye
    mix = builders.make_solution("Moss mix", [(plan.ochre, 1), (slate, 1)])
    recipe = builders.colourway(cast.maker).next_version(by=cast.maker, now=builders.NOON, fibre_g=Decimal(100))
    recipe.write([(builders.RecipeStep(), [builders.ingredient(mix, 40, Basis.PER_SKEIN, unit="mL", how=How.BOTTLE)])])
    address = f"/runs/new/plan/{recipe.pk}/"
    said = fields_of(maker.get(address), "pots") | {"yarn-0-skeins": "4", "pots": "2", "do": "work"}
    said["yarn-0-lot"] = builders.receive_yarn(cast.maker, skeins=12).pk
    page = words(maker.post(address, said))
    assert "Make all the solution of the run at once" in page and "Slate, powder" in page
    assert "No one lot has enough" not in page
