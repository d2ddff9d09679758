"""Each hazard is cautioned against on every page that handles it, once, and on no page that doesn't."""

from decimal import Decimal
from html import unescape

import pytest
from django.urls import reverse

from batches.models import Run
from recipes.models import RecipeStep
from studio.cautions import CAUTIONS, DEFERS, of_substance
from studio.models import Measure
from tests import builders
from tests.pages.run_forms import fields_of


@pytest.fixture
def kept(cast):
    """A shelf with one of each hazard, a version that uses them, and pots that stand in heat."""
    brick = builders.make_dye("Brick", sheet_url="https://example.org/brick")
    citric = builders.make_assistant("Citric acid", kind="acid", unit="g", sheet_url="https://example.org/citric")
    alum = builders.make_assistant("Alum", kind="mordant", unit="g")
    soda = builders.make_assistant("Soda ash", kind="alkali", unit="g")
    made = {"dye": brick, "acid": citric, "mordant": alum, "alkali": soda}
    made["powder_lot"] = builders.receive_powder(cast.owner, brick)
    made["acid_lot"] = builders.receive_assistant(cast.owner, citric)
    made["mordant_lot"] = builders.receive_assistant(cast.owner, alum)
    made["yarn_lot"] = builders.receive_yarn(cast.owner, skeins=50)
    made["bottle"] = builders.bottle(cast.owner, [(made["powder_lot"], Decimal(5))], volume=500)
    made["measure"] = Measure.objects.create(name="Small spoon")
    way = builders.colourway(cast.owner)
    made["recipe"] = way.next_version(by=cast.owner, now=builders.NOON, fibre_g=Decimal(100))
    made["recipe"].write(
        [
            (RecipeStep(kind="mordant"), [builders.ingredient(alum, 10)]),
            (RecipeStep(), [builders.ingredient(brick, 1), builders.ingredient(citric, 2)]),
            (RecipeStep(kind="heat", words="Heat slowly"), []),
        ]
    )
    return made


def run_in(cast, kind="pot", heater="hob", lines=(), start=True):
    """The first pot of a run in such a vessel, with this plan."""
    vessel = builders.make_vessel(kind=kind, heater=heater)
    yarn = builders.shelf_yarn(builders.receive_yarn(cast.owner))
    pots = [{"fibre_g": Decimal(200), "vessel": vessel, "yarns": [yarn], "lines": list(lines)}]
    run = Run.plan(by=cast.maker, day=builders.DAY, pots=pots)
    if start:
        run.start(by=cast.maker)
    return run.batches.get()


def cautioned(client, address, **asked):
    """The hazards that a page cautions against, and that it says each of them once."""
    answer = client.get(address, asked)
    assert answer.status_code == 200
    page = unescape(answer.content.decode())
    found = {key for key, caution in CAUTIONS.items() if caution.words in page}
    assert all(page.count(CAUTIONS[key].words) == 1 for key in found)
    assert (DEFERS in page) == bool(found)
    return found


ON_THE_SHELF = [
    ("batches:shelf", None, {"powder"}),
    ("studio:dye", "dye", {"powder"}),
    ("studio:assistant", "acid", {"acid"}),
    ("studio:assistant", "mordant", {"mordant"}),
    ("studio:assistant", "alkali", {"alkali"}),
    ("studio:lot", "powder_lot", {"powder"}),
    ("studio:lot", "acid_lot", {"acid"}),
    ("studio:lot", "mordant_lot", {"mordant"}),
    ("studio:lot", "yarn_lot", set()),
    ("studio:lot", "bottle", set()),
    ("studio:lot-waste", "powder_lot", {"powder", "disposal"}),
    ("studio:lot-waste", "acid_lot", {"acid", "disposal"}),
    ("studio:lot-waste", "bottle", {"disposal"}),
    ("studio:lot-waste", "yarn_lot", set()),
    ("studio:delivery-new", None, {"powder"}),
    ("studio:measure", "measure", {"powder"}),
    ("recipes:recipe", "recipe", {"powder", "acid", "mordant", "heat"}),
]


@pytest.mark.parametrize(("name", "what", "hazards"), ON_THE_SHELF)
def test_the_pages_of_the_shelf_caution(cast, client_of, kept, name, what, hazards):
    address = reverse(name, args=[kept[what].pk] if what else [])
    assert cautioned(client_of(cast.owner), address) == hazards


def test_a_recipe_with_powder_names_it(cast, client_of, kept):
    page = client_of(cast.owner).get(reverse("recipes:recipe", args=[kept["recipe"].pk])).content.decode()
    assert "handled as dry powder" in page and "respirator" in page
    assert "https://example.org/brick" in page and "https://example.org/citric" in page


def test_making_a_bottle_cautions_against_what_goes_in_with_its_sheet(cast, client_of, kept):
    solution = builders.make_solution("Brick and citric", [(kept["dye"], 1), (kept["acid"], 2)])
    address = reverse("recipes:bottle-make", args=[solution.pk])
    assert cautioned(client_of(cast.helper), address) == {"powder", "acid"}
    page = client_of(cast.helper).get(address).content.decode()
    assert "https://example.org/brick" in page and "https://example.org/citric" in page


def test_the_bench_cautions_once_there_are_jars_or_a_microwave(cast, client_of):
    builders.make_vessel(kind="pot")
    assert cautioned(client_of(cast.viewer), reverse("studio:bench")) == set()
    builders.make_vessel(kind="jar", heater="microwave")
    assert cautioned(client_of(cast.viewer), reverse("studio:bench")) == {"jars", "microwave"}


@pytest.mark.parametrize(
    ("step", "what", "hazards"),
    [
        ("add", "powder_lot", {"powder"}),
        ("add", "acid_lot", {"acid"}),
        ("mordant", "mordant_lot", {"mordant", "heat"}),
        ("add", "bottle", set()),
        ("heat", None, {"heat"}),
        ("rinse", None, set()),
    ],
)
def test_the_next_step_at_the_sink_cautions(cast, client_of, kept, step, what, hazards):
    line = builders.plan_line(kept[what], 5, step=step) if what else builders.plan_line(step=step)
    batch = run_in(cast, lines=[line])
    assert cautioned(client_of(cast.helper), reverse("batches:sink", args=[batch.pk])) == hazards


@pytest.mark.parametrize(
    ("kind", "heater", "hazards"),
    [("jar", "sun", {"jars"}), ("pan", "microwave", {"microwave"}), ("jar", "microwave", {"jars", "microwave"})],
)
def test_what_stands_in_heat_is_cautioned_against_at_the_sink(cast, client_of, kind, heater, hazards):
    batch = run_in(cast, kind, heater)
    assert cautioned(client_of(cast.helper), reverse("batches:sink", args=[batch.pk])) == hazards
    heating = reverse("batches:entry", args=[batch.pk, "heat"])
    assert cautioned(client_of(cast.helper), heating) == hazards | {"heat"}


@pytest.mark.parametrize(
    ("name", "hazards"),
    [
        ("bottle", set()),
        ("powder", {"powder"}),
        ("other", {"acid", "alkali", "mordant"}),
        ("heat", {"heat"}),
        ("move", {"heat", "disposal"}),
        ("clear", {"disposal"}),
        ("note", set()),
    ],
)
def test_the_forms_at_the_sink_caution(cast, client_of, kept, name, hazards):
    batch = run_in(cast)
    assert cautioned(client_of(cast.helper), reverse("batches:entry", args=[batch.pk, name])) == hazards


def test_finishing_and_giving_up_caution_about_what_is_left_over(cast, client_of):
    run = builders.run_with_pots(cast.maker, pots=1)
    for name in ("batches:finish", "batches:run-abandon"):
        assert cautioned(client_of(cast.owner), reverse(name, args=[run.code])) == {"disposal"}


def test_a_planned_run_that_is_given_up_has_nothing_to_pour(cast, client_of):
    run = builders.run_with_pots(cast.maker, pots=1, start=False)
    assert cautioned(client_of(cast.owner), reverse("batches:run-abandon", args=[run.code])) == set()


def test_the_plan_cautions_against_what_it_weighs_and_heats(cast, client_of, kept):
    jars = builders.make_vessel(kind="jar", heater="sun", fill_ml=5000)
    address = reverse("batches:plan", args=[kept["recipe"].pk])
    maker = client_of(cast.maker)
    assert cautioned(maker, address) == set()
    said = {"yarn-0-lot": kept["yarn_lot"].pk, "yarn-0-skeins": "2", "pots": "1", "vessel": jars.pk, "do": "work"}
    page = unescape(maker.post(address, fields_of(maker.get(address), "pots") | said).content.decode())
    found = {key for key, caution in CAUTIONS.items() if page.count(caution.words) == 1}
    assert found == {"powder", "acid", "mordant", "heat", "jars"}
    assert "https://example.org/brick" in page


def test_many_cautions_on_a_page_are_folded_to_their_titles(cast, client_of, kept):
    page = client_of(cast.owner).get(reverse("recipes:recipe", args=[kept["recipe"].pk])).content.decode()
    assert page.count("<details><summary><b>") >= 3
    page = client_of(cast.owner).get(reverse("studio:lot-waste", args=[kept["powder_lot"].pk])).content.decode()
    assert "<details>" not in page


@pytest.mark.parametrize("role", ["owner", "maker", "helper", "viewer"])
def test_everybody_can_read_all_the_cautions(cast, client_of, role):
    client = client_of(getattr(cast, role))
    assert cautioned(client, reverse("studio:cautions")) == set(CAUTIONS)
    assert reverse("studio:cautions") in client.get(reverse("studio:bench")).content.decode()


@pytest.mark.parametrize(
    ("kind", "hazards"),
    [
        ("acid", ["acid"]),
        ("alkali", ["alkali"]),
        ("mordant", ["mordant"]),
        ("salt", []),
        ("wetting", []),
        ("other", []),
    ],
)
def test_what_an_assistant_calls_for(db, kind, hazards):
    assert of_substance(builders.make_assistant(kind=kind)) == hazards


def test_a_dye_is_powder(db):
    assert of_substance(builders.make_dye()) == ["powder"]
