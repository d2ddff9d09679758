"""The one-time link that makes the owner's account."""

import pytest
from django.conf import settings

from studio import setup_token
from studio.models import Person, Role, Studio

ADDRESS = "/set-up/"


@pytest.fixture
def key(db):
    setup_token.path().unlink(missing_ok=True)
    yield setup_token.make()
    setup_token.path().unlink(missing_ok=True)


def typed(key, **changed):
    password = "seven wet skeins"
    return {"key": key, "studio": "Marsh Lane", "name": "Oda", "password": password, "again": password} | changed


def test_the_link_opens_the_page_and_the_page_makes_the_owner(client, key):
    address = setup_token.link().removeprefix(settings.BASE_URL)
    assert client.get(address).status_code == 200
    answer = client.post(ADDRESS, typed(key))
    assert (answer.status_code, answer.url) == (302, "/studio/first/")
    owner = Person.objects.get()
    assert (owner.name, owner.role, Studio.get().name) == ("Oda", Role.OWNER, "Marsh Lane")
    assert client.get("/people/").status_code == 200


def test_the_key_is_used_up(client, key):
    client.post(ADDRESS, typed(key))
    assert not setup_token.verify(key)
    assert client.get(ADDRESS, {"key": key}).status_code == 404


def test_with_an_account_there_is_nothing_to_set_up(client, cast, key):
    answer = client.get(ADDRESS, {"key": key})
    assert answer.status_code == 404
    assert "There is an owner’s account already" in answer.content.decode()
    assert client.post(ADDRESS, typed(key)).status_code == 404
    assert Person.objects.count() == 4


@pytest.mark.parametrize("wrong", ["", "x", "x" * 10_000, "ключ", "\x00"])
def test_a_wrong_key_makes_nothing_and_says_where_the_right_one_is(client, key, wrong):
    for answer in (client.get(ADDRESS, {"key": wrong}), client.post(ADDRESS, typed(wrong))):
        assert answer.status_code == 404
        assert "This set-up link does not fit" in answer.content.decode()
    assert not Person.objects.exists()
    assert setup_token.verify(key)


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"studio": ""}, "Fill in “The studio&#x27;s name”."),
        ({"name": "   "}, "Fill in “Your name”."),
        ({"name": "x" * 61}, "has 61 characters and 60 fit"),
        ({"password": "short", "again": "short"}, "write 10 characters or more."),
        ({"again": "other"}, "The two passwords differ"),
        ({"name": "seven wet skeins"}, "too much like the name"),
    ],
)
def test_bad_input_is_said_and_the_key_still_works(client, key, changed, sentence):
    answer = client.post(ADDRESS, typed(key, **changed))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page.replace("’", "'")
    assert f'name="key" value="{key}"' in page
    assert not Person.objects.exists()
    assert client.post(ADDRESS, typed(key)).status_code == 302


def test_of_two_that_send_the_key_one_makes_an_account(client, client_of, key, monkeypatch):
    first = client_of(None).post(ADDRESS, typed(key))
    monkeypatch.setattr(setup_token, "verify", lambda token: True)  # as if both had asked before either burned it
    Person.objects.all().delete()
    second = client.post(ADDRESS, typed(key, name="Mats"))
    assert (first.status_code, second.status_code) == (302, 404)
    assert not Person.objects.exists()


def test_the_sign_in_page_says_when_there_is_no_account(client, db):
    assert "Nobody has an account here yet." in client.get("/sign-in/").content.decode()
