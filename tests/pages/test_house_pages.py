"""What a studio usually does and says: kept, changed, put in order, begun with one touch."""

import html
from uuid import uuid4

import pytest

from batches.places import own_or_usual
from recipes import house
from recipes.models import HouseStep, Method, Place
from tests import builders

URL = "/studio/house/"


def text(answer):
    return html.unescape(answer.content.decode())


def add(client, slug, follow=True, **fields):
    return client.post(f"{URL}{slug}/new/", {"once": str(uuid4())} | fields, follow=follow)


def places(method="jar"):
    return list(Place.objects.filter(method=method, retired=False).values_list("words", flat=True))


def test_empty_it_offers_what_is_usual_and_takes_it_over_with_one_touch(maker):
    page = text(maker.get(URL))
    assert "bottom layer" in page and "common practice, no source" in page and "Heat the jars" in page
    after = text(maker.post(f"{URL}places/begin/", {"method": "jar"}, follow=True))
    assert "5 places added." in after and places() == list(house.USUAL_PLACES[Method.JAR])
    maker.post(f"{URL}steps/begin/", {"method": ""})
    assert list(HouseStep.objects.values_list("name", "kind")) == [
        ("Soak", "soak"),
        ("Rinse", "rinse"),
        ("Hang to dry", "dry"),
    ]


def test_touched_twice_nothing_is_there_twice(maker):
    for _ in range(2):
        maker.post(f"{URL}places/begin/", {"method": "jar"})
        maker.post(f"{URL}steps/begin/", {"method": "jar"})
    assert len(places()) == 5 and HouseStep.objects.count() == 2
    assert "These are all there already." in text(maker.post(f"{URL}steps/begin/", {"method": "jar"}, follow=True))


@pytest.mark.parametrize("method", ["", *Method.values])
def test_every_set_can_be_taken_over_whole(maker, method):
    for model, slug in ((Place, "places"), (HouseStep, "steps")):
        usual = house.usual(model, method)
        maker.post(f"{URL}{slug}/begin/", {"method": method})
        assert model.objects.filter(method=method).count() == len(usual)


def test_a_set_keeps_what_is_there_by_the_same_name(maker):
    Place.objects.create(words="Bottom Layer", method="jar")
    maker.post(f"{URL}places/begin/", {"method": "jar"})
    assert places() == ["Bottom Layer", "all of it", "between the layers", "top layer", "one side"]


def test_no_such_set(maker):
    assert "Choose one of the sets" in text(maker.post(f"{URL}places/begin/", {"method": "kettle"}, follow=True))
    assert maker.post(f"{URL}kettles/begin/", {"method": "jar"}).status_code == 404
    assert maker.get(f"{URL}kettles/new/").status_code == 404


def test_one_is_added_changed_and_no_longer_used(maker):
    add(maker, "places", name="  the   gaps ", method="painted")
    place = Place.objects.get()
    assert (place.words, place.method) == ("the gaps", "painted")
    maker.post(f"{URL}places/{place.pk}/", {"name": "between the knots", "method": "painted"})
    place.refresh_from_db()
    assert place.words == "between the knots"
    assert own_or_usual("painted") == ["between the knots"]
    maker.post(f"{URL}places/{place.pk}/", {"name": "between the knots", "method": "painted", "retired": "on"})
    assert tuple(own_or_usual("painted")) == house.USUAL_PLACES[Method.PAINTED]
    assert "No longer used" in text(maker.get(URL))


def test_a_step_with_all_it_says(maker):
    said = {"name": "Warm box", "kind": "hold", "method": "jar", "temperature": "158 F", "minutes": "1 1/2"}
    after = add(maker, "steps", **said, words="Lids loose.")
    step = HouseStep.objects.get()
    assert (step.kind, step.temperature_c, step.minutes) == ("hold", 70, builders.Decimal("1.5"))
    assert "Hold, 70\N{NO-BREAK SPACE}°C, 1.5\N{NO-BREAK SPACE}min. Lids loose." in text(after)
    page = text(maker.get(f"{URL}steps/{step.pk}/"))
    assert 'value="70"' in page and "Lids loose." in page


@pytest.mark.parametrize(
    ("slug", "fields", "sentence"),
    [
        ("places", {"name": "BOTTOM läyer", "method": "jar"}, "“bottom layer” is there already: write another"),
        ("places", {"name": "Old place", "method": "jar"}, "no longer used: open it, and take that tick away"),
        ("places", {"name": "", "method": "jar"}, "Fill in"),
        ("places", {"name": "x" * 200, "method": "jar"}, "shorten it"),
        ("places", {"name": "x", "method": "kettle"}, "no longer there"),
        ("steps", {"name": "presoak", "kind": "soak"}, "“Presoak” is there already"),
        ("steps", {"name": "New", "kind": "add"}, "no longer there"),
        ("steps", {"name": "New", "kind": "heat", "temperature": "900"}, "too much"),
        ("steps", {"name": "New", "kind": "heat", "minutes": "0"}, "too little"),
        ("steps", {"name": "New", "kind": "heat", "minutes": "long"}, ""),
    ],
)
def test_a_slip_is_said_and_kept_on_the_page(maker, slug, fields, sentence):
    Place.objects.create(words="bottom layer", method="jar")
    Place.objects.create(words="old place", method="jar", retired=True)
    HouseStep.objects.create(name="Presoak", kind="soak")
    before = Place.objects.count(), HouseStep.objects.count()
    answer = add(maker, slug, follow=False, **fields)
    assert answer.status_code == 422 and sentence in text(answer)
    assert fields["name"] in text(answer)
    assert (Place.objects.count(), HouseStep.objects.count()) == before


def test_the_same_place_may_be_said_of_two_ways_of_dyeing(maker):
    add(maker, "places", name="top layer", method="jar")
    add(maker, "places", name="top layer", method="pot")
    assert Place.objects.count() == 2


def test_its_own_name_may_be_kept(maker):
    place = Place.objects.create(words="top layer", method="jar")
    assert maker.post(f"{URL}places/{place.pk}/", {"name": "Top layer", "method": "jar"}).status_code == 302


def test_a_form_sent_twice_adds_one(maker):
    once = str(uuid4())
    for _ in range(2):
        maker.post(f"{URL}places/new/", {"once": once, "name": "ends", "method": "painted"}, follow=True)
    assert Place.objects.count() == 1


# In order


def test_up_and_down_within_a_way_of_dyeing(maker):
    """Positions as they may be by now: all alike, and others between."""
    for words in ("a", "b", "c"):
        Place.objects.create(words=words, method="jar")
        Place.objects.create(words=f"pot {words}", method="pot")
    c = Place.objects.get(words="c")
    maker.post(f"{URL}places/{c.pk}/move/", {"to": "up"})
    assert places() == ["a", "c", "b"] and places("pot") == ["pot a", "pot b", "pot c"]
    maker.post(f"{URL}places/{c.pk}/move/", {"to": "up"})
    maker.post(f"{URL}places/{c.pk}/move/", {"to": "up"})  # it is the first already
    assert places() == ["c", "a", "b"]
    maker.post(f"{URL}places/{c.pk}/move/", {"to": "down"})
    assert places() == ["a", "c", "b"] and places("pot") == ["pot a", "pot b", "pot c"]
    assert maker.post(f"{URL}places/9999/move/", {"to": "up"}).status_code == 404


def test_one_that_is_no_longer_used_is_passed_over(maker):
    for words in ("a", "b", "c"):
        Place.objects.create(words=words, method="jar", retired=words == "b")
    maker.post(f"{URL}places/{Place.objects.get(words='c').pk}/move/", {"to": "up"})
    assert places() == ["c", "a"]
    maker.post(f"{URL}places/{Place.objects.get(words='b').pk}/move/", {"to": "up"})
    assert places() == ["c", "a"]


def test_a_new_one_comes_last(maker):
    for words in ("z", "a"):
        add(maker, "places", name=words, method="jar")
    assert places() == ["z", "a"]


# Who, and how much it asks


def test_makers_only(cast, client_of):
    for person, status in ((cast.owner, 200), (cast.helper, 403), (cast.viewer, 403)):
        client = client_of(person)
        assert client.get(URL).status_code == status
        linked = URL in client.get("/studio/").content.decode(), URL in client.get("/shelf/bench/").content.decode()
        assert linked == (status == 200, status == 200)
        if status == 403:
            assert client.post(f"{URL}places/begin/", {"method": "jar"}).status_code == 403
            assert client.post(f"{URL}places/new/", {"name": "x"}).status_code == 403
    assert not Place.objects.exists()


def test_it_asks_no_more_for_a_long_list(maker, django_assert_max_num_queries):
    for n in range(30):
        Place.objects.create(words=f"place {n}", method="jar")
        HouseStep.objects.create(name=f"step {n}", kind="soak")
    maker.get(URL)
    with django_assert_max_num_queries(9):
        assert maker.get(URL).status_code == 200
