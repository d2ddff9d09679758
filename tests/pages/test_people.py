"""The owner's pages for the people of the studio."""

from uuid import uuid4

import pytest

from studio import doors
from studio.models import LastOwner, Person, Role
from tests.builders import PASSWORD


@pytest.fixture
def owner(cast, client_of):
    return client_of(cast.owner)


def newcomer(**changed):
    return {"name": "Edda", "role": "helper", "password": "three blue pots", "once": str(uuid4())} | changed


def edit(person, **changed):
    return {"name": person.name, "role": person.role, "is_active": "on"} | changed


def signed_in(client):
    return client.get("/account/").status_code == 200


def test_a_newcomer_can_sign_in_with_the_first_password(owner, client_of):
    answer = owner.post("/people/new/", newcomer(), follow=True)
    assert "Edda can sign in now." in answer.content.decode()
    person = Person.objects.get(name="Edda")
    assert person.role == Role.HELPER
    assert client_of(None).post("/sign-in/", {"username": "edda", "password": "three blue pots"}).status_code == 302


def test_the_same_page_sent_twice_makes_one_person(owner):
    page = newcomer()
    assert [owner.post("/people/new/", page).url for _ in "ab"] == ["/people/", "/people/"]
    assert Person.objects.filter(name="Edda").count() == 1


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"name": ""}, "Fill in “Name”."),
        ({"name": "\u200b\u200d"}, "Fill in “Name”."),
        ({"name": "O\u200bda\u202e"}, "Somebody named Oda is here already"),
        ({"name": "oda"}, "Somebody named Oda is here already: write a name that differs."),
        ({"name": "x" * 10_000}, "60 fit"),
        ({"role": ""}, "Choose one under “What they may do”."),
        ({"role": "admin"}, "What was chosen under “What they may do” is no longer there"),
        ({"password": "edda"}, "write 10 characters or more."),
        ({"once": ""}, "send it once more."),
        ({"once": "🧶"}, "send it once more."),
    ],
)
def test_bad_input_is_said_and_nothing_is_lost(owner, changed, sentence):
    answer = owner.post("/people/new/", newcomer(**changed))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert ("three blue pots" in page) == ("password" not in changed)
    assert Person.objects.count() == 4


def test_a_role_is_changed_and_remembered(owner, cast):
    owner.post(f"/people/{cast.helper.pk}/", edit(cast.helper, role="maker", name="Hanne B"))
    cast.helper.refresh_from_db()
    assert (cast.helper.role, cast.helper.name) == (Role.MAKER, "Hanne B")
    latest = cast.helper.history.latest()
    assert (latest.history_user, latest.role) == (cast.owner, "maker")


def test_who_may_no_longer_sign_in_is_out_at_once_and_not_deleted(owner, cast, client_of):
    phone = client_of(cast.maker)
    owner.post(f"/people/{cast.maker.pk}/", edit(cast.maker, is_active=""))
    assert not signed_in(phone)
    assert Person.objects.filter(pk=cast.maker.pk).exists()
    owner.post(f"/people/{cast.maker.pk}/", edit(cast.maker))
    assert not signed_in(phone)  # let in again, but not by the old session
    assert client_of(None).post("/sign-in/", {"username": "Mats", "password": PASSWORD}).status_code == 302


@pytest.mark.parametrize("changed", [{"role": "maker"}, {"is_active": ""}])
def test_the_last_owner_stays_owner(owner, cast, changed):
    answer = owner.post(f"/people/{cast.owner.pk}/", edit(cast.owner, **changed))
    assert answer.status_code == 422
    assert "Make somebody else an owner first." in answer.content.decode()
    cast.owner.refresh_from_db()
    assert (cast.owner.role, cast.owner.is_active) == (Role.OWNER, True)


def test_an_owner_who_may_not_sign_in_does_not_count(cast):
    cast.maker.change(name="Mats", role=Role.OWNER, active=False)
    with pytest.raises(LastOwner):
        cast.owner.change(name="Oda", role=Role.VIEWER, active=True)
    cast.maker.change(name="Mats", role=Role.OWNER, active=True)
    cast.owner.change(name="Oda", role=Role.VIEWER, active=True)
    assert cast.owner.role == Role.VIEWER


def test_an_owner_who_hands_over_lands_on_a_page_that_is_still_theirs(owner, cast):
    cast.maker.change(name="Mats", role=Role.OWNER, active=True)
    answer = owner.post(f"/people/{cast.owner.pk}/", edit(cast.owner, role="maker"), follow=True)
    assert answer.status_code == 200


def test_a_new_password_ends_their_sessions(owner, cast, client_of):
    phone = client_of(cast.viewer)
    owner.post(f"/people/{cast.viewer.pk}/password/", {"password": "three blue pots"})
    assert not signed_in(phone)
    assert client_of(None).post("/sign-in/", {"username": "Vera", "password": "three blue pots"}).status_code == 302


def test_a_poor_new_password_is_said(owner, cast):
    answer = owner.post(f"/people/{cast.viewer.pk}/password/", {"password": "vera"})
    assert answer.status_code == 422
    assert "write 10 characters or more." in answer.content.decode()


def test_ones_own_password_is_changed_where_the_old_one_is_asked(owner, cast):
    assert owner.post(f"/people/{cast.owner.pk}/password/", {"password": "three blue pots"}).url == "/account/"
    cast.owner.refresh_from_db()
    assert cast.owner.check_password(PASSWORD)


def test_the_owner_signs_anybody_out_everywhere(owner, cast, client_of):
    phone, other = client_of(cast.helper), client_of(cast.viewer)
    owner.post(f"/people/{cast.helper.pk}/sign-out-everywhere/")
    assert not signed_in(phone)
    assert signed_in(other)


@pytest.mark.parametrize("pk", [999_999, 10**30])
@pytest.mark.parametrize("page", ["", "password/", "sign-out-everywhere/"])
def test_nobody_there_is_not_found(owner, pk, page):
    assert owner.post(f"/people/{pk}/{page}").status_code == 404


def test_the_list_costs_the_same_however_many_there_are(owner, cast, django_assert_max_num_queries):
    for number in range(20):
        Person.objects.create_person(f"Guest {number}", PASSWORD, Role.VIEWER)
    with django_assert_max_num_queries(7):
        page = owner.get("/people/").content.decode()
    assert "Guest 19" in page


def test_what_each_role_may_do_stands_on_the_page_of_people_and_ones_own_on_the_account(cast, client_of):
    page = client_of(cast.owner).get("/people/").content.decode()
    assert all(role.about in page for role in Role)
    for person in (cast.owner, cast.maker, cast.helper, cast.viewer):
        mine = client_of(person).get("/account/").content.decode()
        assert [role for role in Role if role.about in mine] == [person.role]


def test_the_words_of_a_role_agree_with_the_doors():
    table = doors.table()
    for name, role, words in (
        ("batches:cost", Role.HELPER, "no costs"),
        ("recipes:recipe", Role.HELPER, "or recipes"),
        ("batches:cost", Role.VIEWER, "no costs"),
    ):
        assert role not in table[name].read and words in role.about
    assert Role.VIEWER in table["recipes:recipe"].read and Role.HELPER in table["batches:judge"].write
    assert [name for name, door in table.items() if Role.VIEWER in door.write and None not in door.write] == [
        name for name, door in table.items() if name in ("studio:account", "studio:account-sign-out", "studio:sign-out")
    ]
