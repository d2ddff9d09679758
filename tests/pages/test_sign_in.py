"""Signing in and out, one's own password, and what happens after too many wrong ones."""

import re
from datetime import timedelta

import pytest
import time_machine
from django.conf import settings
from django.utils import timezone

from studio.models import Person, Role
from tests.builders import PASSWORD

ADDRESS = "/sign-in/"


def sign_in(client, name="Oda", password=PASSWORD, **more):
    return client.post(ADDRESS, {"username": name, "password": password, **more})


def signed_in(client):
    return client.get("/account/").status_code == 200


def test_the_right_name_and_password_let_in(cast, client):
    answer = sign_in(client)
    assert (answer.status_code, answer.url) == (302, "/")
    assert signed_in(client)


@pytest.mark.parametrize("name", ["oda", "ODA", "  Oda "])
def test_capitals_and_spaces_of_the_name_do_not_matter(cast, client, name):
    assert sign_in(client, name).status_code == 302


def test_capitals_beyond_a_to_z_do_not_matter_either(db, client):
    Person.objects.create_person("Åsa", PASSWORD, Role.MAKER)
    assert sign_in(client, "åsa").status_code == 302


def test_a_wrong_password_keeps_the_name_and_says_what_to_do(cast, client):
    answer = sign_in(client, password="seven dry skeins")
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "check both, and try again." in page
    assert 'value="Oda"' in page
    assert "seven dry skeins" not in page


def test_an_unknown_name_is_answered_like_a_wrong_password(cast, client):
    known, unknown = sign_in(client, password="no"), sign_in(client, "Nobody", password="no")
    assert known.context["form"].errors == unknown.context["form"].errors


@pytest.mark.parametrize("role", [role for role in Role if role != Role.OWNER])
def test_who_may_not_sign_in_any_more_stays_out(cast, client, role):
    person = getattr(cast, role.value)
    person.change(name=person.name, role=person.role, active=False)
    assert sign_in(client, person.name).status_code == 422


@pytest.mark.parametrize(
    ("name", "password", "sentence"),
    [("", PASSWORD, "Fill in “Name”."), ("Oda", "", "Fill in “Password”."), ("\x00", "\x00", "Fill in “Name”.")],
)
def test_an_empty_box_is_named(cast, client, name, password, sentence):
    answer = sign_in(client, name, password)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()


@pytest.mark.parametrize(
    "text", ["x" * 10_000, "🧶" * 3000, "' OR 1=1 --", "\ud800".encode("utf-8", "replace").decode()]
)
def test_absurd_text_is_refused_without_breaking(cast, client, text):
    assert sign_in(client, text, text).status_code == 422


@pytest.mark.parametrize(
    "going", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)", "/" * 5000, ""]
)
def test_one_is_never_sent_elsewhere(cast, client, going):
    assert sign_in(client, next=going).url == "/"


def test_the_boxes_can_be_filled_and_pasted_by_a_password_keeper(client, db):
    page = client.get(ADDRESS).content.decode()
    assert 'autocomplete="username"' in page
    assert 'autocomplete="current-password"' in page
    assert "maxlength" not in page


def test_typing_begins_in_the_name_unless_something_is_to_put_right(cast, client):
    name = r'<input[^>]*name="username"[^>]*autofocus'
    assert re.search(name, client.get("/sign-in/").content.decode())
    assert not re.search(name, sign_in(client, password="wrong").content.decode())


def test_the_session_has_a_new_key_even_for_the_same_person(cast, client):
    sign_in(client)
    before = client.session.session_key
    sign_in(client)
    assert client.session.session_key != before
    assert signed_in(client)


def test_signing_out_takes_a_form_and_ends_the_session(cast, client):
    sign_in(client)
    assert client.get("/sign-out/").status_code == 405
    assert signed_in(client)
    assert client.post("/sign-out/", follow=True).status_code == 200
    assert not signed_in(client)


def test_signing_out_everywhere_ends_every_session(cast, client_of):
    phone, laptop, other = client_of(cast.helper), client_of(cast.helper), client_of(cast.maker)
    laptop.post("/account/sign-out-everywhere/")
    assert not signed_in(phone)
    assert not signed_in(laptop)
    assert signed_in(other)


# Too many wrong passwords


def try_wrongly(client, times, name="Oda"):
    for _ in range(times):
        answer = sign_in(client, name, "wrong")
    return answer


def test_after_too_many_tries_the_page_says_how_long_to_wait(cast, client):
    answer = try_wrongly(client, settings.AXES_FAILURE_LIMIT)
    page = answer.content.decode()
    assert answer.status_code == 429
    assert "Wait 10 minutes, then try again." in page
    assert 'value="Oda"' in page
    assert sign_in(client).status_code == 429


def test_the_wait_is_counted_down_and_ends(cast, client):
    with time_machine.travel(timezone.now(), tick=False) as clock:
        try_wrongly(client, settings.AXES_FAILURE_LIMIT)
        clock.shift(timedelta(minutes=9, seconds=30))
        assert "Wait 1 minute, then" in sign_in(client).content.decode()
        clock.shift(timedelta(minutes=1))
        assert sign_in(client).status_code == 302


def test_capitals_do_not_give_more_tries(cast, client):
    for name in ["Oda", "oda", "ODA", "oDA"] * (settings.AXES_FAILURE_LIMIT // 4):
        sign_in(client, name, "wrong")
    assert sign_in(client).status_code == 429


def test_nobody_can_lock_another_out_from_another_address(cast, client, client_of):
    try_wrongly(client, settings.AXES_FAILURE_LIMIT)
    elsewhere = client_of(None)
    elsewhere.defaults["REMOTE_ADDR"] = "192.0.2.7"
    assert sign_in(elsewhere).status_code == 302
    assert sign_in(client, "Mats").status_code == 302


def test_a_right_password_forgets_the_wrong_ones(cast, client):
    try_wrongly(client, settings.AXES_FAILURE_LIMIT - 1)
    sign_in(client)
    assert try_wrongly(client, settings.AXES_FAILURE_LIMIT - 1).status_code == 422


# One's own password


def change(client, old=PASSWORD, new="nine dry skeins", again=None):
    return client.post("/account/", {"old": old, "password": new, "again": new if again is None else again})


def test_a_changed_password_keeps_this_device_and_ends_the_others(cast, client_of):
    phone, laptop = client_of(cast.maker), client_of(cast.maker)
    assert change(laptop).status_code == 302
    assert signed_in(laptop)
    assert not signed_in(phone)
    assert sign_in(client_of(None), "Mats", "nine dry skeins").status_code == 302


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"old": "wrong"}, "This is not your present password: type it again."),
        ({"again": "eight dry skeins"}, "The two passwords differ"),
        ({"new": "short"}, "write 10 characters or more."),
        ({"new": "password123"}, "among the first that are guessed"),
        ({"new": "x" * 5000}, "characters and 4000 fit"),
        ({"new": ""}, "Fill in “New password”."),
    ],
)
def test_a_password_that_will_not_do_is_said(cast, client_of, typed, sentence):
    laptop = client_of(cast.maker)
    answer = change(laptop, **typed)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    cast.maker.refresh_from_db()
    assert cast.maker.check_password(PASSWORD)


def test_a_password_like_the_name_is_refused(db, client_of):
    person = Person.objects.create_person("Wilhelmina Oort", PASSWORD, Role.HELPER)
    answer = change(client_of(person), new="wilhelmina oort")
    assert "too much like the name" in answer.content.decode()


def test_passwords_of_any_kind_are_taken_whole(cast, client_of):
    new = "  " + "Ünï🧶" * 20 + "  "
    assert change(client_of(cast.maker), new=new).status_code == 302
    assert sign_in(client_of(None), "Mats", new).status_code == 302
    assert sign_in(client_of(None), "Mats", new.strip()).status_code == 422
