"""A form that makes something is taken once."""

from uuid import uuid4

import pytest
from django.db import IntegrityError
from django.http import QueryDict

from studio.forms.once import OnceForm
from studio.models import Dye, Taken
from studio.once import only_once
from tests.builders import NOON, make_dye


@pytest.fixture
def request_by(cast, rf):
    request = rf.post("/")
    request.user = cast.maker
    return request


def test_the_second_copy_makes_nothing_and_goes_to_the_same_page(request_by):
    number = uuid4()
    made = []

    def act():
        made.append(make_dye())
        return f"/dyes/{made[0].pk}/"

    first, second = only_once(request_by, number, act), only_once(request_by, number, act)
    assert first.status_code == second.status_code == 302
    assert first.url == second.url == f"/dyes/{made[0].pk}/"
    assert len(made) == 1
    assert Dye.objects.count() == 1
    assert Taken.objects.get().by == request_by.user


def test_a_record_is_gone_to_by_its_own_address(request_by):
    class Record:
        def get_absolute_url(self):
            return "/made/"

    assert only_once(request_by, uuid4(), Record).url == "/made/"


def test_of_two_at_the_same_moment_the_later_goes_to_what_the_first_made(request_by, monkeypatch):
    number = uuid4()
    only_once(request_by, number, lambda: "/first/")
    answers = iter([None, Taken.objects.get()])  # neither saw the other when it asked
    monkeypatch.setattr("studio.once.taken", lambda once_id: next(answers))
    assert only_once(request_by, number, lambda: make_dye("Rust") and "/second/").url == "/first/"
    assert not Dye.objects.exists()


def test_what_fails_leaves_the_number_free(request_by):
    number = uuid4()

    def refuse():
        make_dye("Rust")
        raise ValueError("Not today.")

    with pytest.raises(ValueError, match="Not today"):
        only_once(request_by, number, refuse)
    assert not Dye.objects.exists()
    assert only_once(request_by, number, lambda: "/made/").url == "/made/"


def test_a_clash_that_is_not_of_two_copies_is_not_hidden(request_by):
    make_dye("Rust")
    with pytest.raises(IntegrityError):
        only_once(request_by, uuid4(), lambda: make_dye("Rust"))


def test_each_page_has_a_number_of_its_own():
    assert OnceForm()["once"].value() != OnceForm()["once"].value()
    assert 'type="hidden"' in str(OnceForm())


@pytest.mark.parametrize("typed", ["", "once=", "once=1", "once=%F0%9F%A7%B6", "once=" + "a" * 10_000])
def test_a_page_without_its_number_is_refused_and_drawn_with_a_new_one(typed):
    form = OnceForm(QueryDict(typed))
    assert form.errors["once"] == ["This page came without its number, so nothing was taken: send it once more."]
    again = OnceForm({"once": str(form["once"].value())})
    assert again.is_valid()


def test_a_refused_page_keeps_its_number():
    number = str(uuid4())
    assert str(OnceForm({"once": number})["once"].value()) == number


def test_a_page_taken_before_is_answered_before_it_is_judged(cast, client_of):
    page = {"name": "Edda", "role": "helper", "password": "three blue pots", "once": str(uuid4())}
    owner = client_of(cast.owner)
    first = owner.post("/people/new/", page)
    again = owner.post("/people/new/", page)  # by now the name is in use
    assert (again.status_code, again.url) == (first.status_code, first.url)


def test_the_number_of_another_s_page_opens_nothing(cast, client_of):
    number = uuid4()
    Taken(id=number, url="/elsewhere/", at=NOON, by=cast.maker).save()
    answer = client_of(cast.owner).post("/people/new/", {"once": str(number)})
    assert answer.status_code == 422
