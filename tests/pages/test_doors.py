"""Every address of the program, and who may open it."""

from uuid import UUID

import pytest
from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.urls import get_resolver, reverse

from studio import doors
from studio.models import Role

ANYTHING = {"Int": 999_999, "UUID": UUID(int=7), "Slug": "thumb", "String": "x", "Path": "x"}
SIGN_IN = "/sign-in/"


def all_views(resolver=None, namespace=""):
    """view name -> (its view, example values for its address), of every address there is."""
    found = {}
    for entry in (resolver or get_resolver()).url_patterns:
        if hasattr(entry, "url_patterns"):
            inner = f"{namespace}{entry.namespace}:" if entry.namespace else namespace
            found |= all_views(entry, inner)
        else:
            kinds = {part: type(how).__name__ for part, how in entry.pattern.converters.items()}
            values = {part: ANYTHING[kind.removesuffix("Converter")] for part, kind in kinds.items()}
            found[f"{namespace}{entry.name}"] = (entry.callback, values)
    return found


VIEWS = all_views()


def test_every_view_has_a_row_and_every_row_a_view():
    assert set(VIEWS) == set(doors.table())


@pytest.mark.parametrize("name", sorted(VIEWS))
def test_open_to_all_is_said_in_the_table_and_at_the_view(name):
    said = None in doors.table()[name].read | doors.table()[name].write
    assert said == (not getattr(VIEWS[name][0], "login_required", True))


@pytest.mark.parametrize("method", ["GET", "HEAD", "POST"])
@pytest.mark.parametrize("name", sorted(VIEWS))
def test_each_role_gets_what_the_table_says(cast, studio, client_of, name, method):
    address = reverse(name, kwargs=VIEWS[name][1])
    door = doors.table()[name]
    people = {None: None, **{role: getattr(cast, role.value) for role in Role}}
    for role, person in people.items():
        answer = client_of(person).generic(method, address)
        expected = "let in" if role in door.who(method) else "nothing to do" if not door.who(method) else "refused"
        expected = "sent to sign in" if role is None and expected != "let in" else expected
        if method == "HEAD" and expected == "let in" and outcome(answer) == "nothing to do":
            continue  # a view may have no use for HEAD
        assert outcome(answer) == expected, f"{role} {method} {address}: {answer.status_code}"


def outcome(answer):
    """Let in is the page's own answer, whether it finds anything there or likes what was sent."""
    if answer.status_code == 302 and answer.url.startswith(f"{SIGN_IN}?next="):
        return "sent to sign in"
    if answer.status_code == 405:
        return "nothing to do"
    return "refused" if answer.status_code in (401, 403) else "let in"


@pytest.mark.parametrize("name", sorted(VIEWS))
def test_a_machine_is_never_sent_to_the_sign_in_page(cast, client_of, name):
    address = reverse(name, kwargs=VIEWS[name][1])
    door = doors.table()[name]
    for method in ("GET", "POST"):
        if None in door.who(method):
            continue
        answer = client_of(None).generic(method, address, headers={"Accept": "application/json"})
        assert answer.status_code == 401
        assert answer.json()["error"] == "signed_out"
        assert answer.json()["sentence"].endswith(".")
        for person in (cast.viewer, cast.helper):
            if door.who(method) and person.role not in door.who(method):
                answer = client_of(person).generic(method, address, headers={"Accept": "application/json"})
                assert answer.status_code == 403
                assert answer.json()["error"] == "not_allowed"


def test_a_view_without_a_row_is_shut_even_to_the_owner(cast, client_of, monkeypatch):
    rows = {name: door for name, door in doors.table().items() if name != "studio:account"}
    monkeypatch.setattr(doors, "table", lambda: rows)
    assert client_of(cast.owner).get("/account/").status_code == 403
    assert not doors.allows(cast.owner, "studio:account")


def test_nobody_signed_out_is_let_in_by_the_table(db):
    assert not doors.allows(AnonymousUser(), "studio:account")
    assert doors.allows(AnonymousUser(), "studio:sign-in")


def test_the_refusal_names_who_may(cast, client_of):
    page = client_of(cast.helper).get("/people/")
    assert page.status_code == 403
    assert "Only the studio&#x27;s owner may do this:" in page.content.decode()


@pytest.mark.parametrize(
    ("roles", "sentence"),
    [
        (doors.OWNERS, "Only the studio's owner may do this:"),
        (doors.MAKERS, "Only owners and makers may do this."),
        (doors.LOGGERS, "Only owners, makers and helpers may do this."),
        (doors.NOBODY, "Nobody may open this page."),
    ],
)
def test_a_sentence_for_each_set_of_roles(roles, sentence):
    assert doors.who_may(roles).startswith(sentence)


def test_after_signing_in_one_is_back_where_one_was(cast, client):
    address = client.get("/people/?by=role").url
    answer = client.post(address, {"username": "Oda", "password": "seven wet skeins", "next": "/people/?by=role"})
    assert address == "/sign-in/?next=/people/%3Fby%3Drole"
    assert answer.url == "/people/?by=role"


@pytest.mark.parametrize(
    "elsewhere",
    [
        "//elsewhere.example",
        "/\\elsewhere.example",
        "\\\\elsewhere.example",
        "https://elsewhere.example/",
        "https:elsewhere.example",
        "javascript:alert(1)",
        "elsewhere",  # no address: it would be taken for the name of a page
        "batches:journal",
        "?by=role",
        "/people\x00/",
        "/people/\nSet-Cookie: a=b",
    ],
)
def test_after_signing_in_nobody_is_led_elsewhere(cast, client, elsewhere):
    answer = client.post("/sign-in/", {"username": "Oda", "password": "seven wet skeins", "next": elsewhere})
    assert (answer.status_code, answer.url) == (302, "/")


def test_a_form_sent_after_signing_out_says_that_nothing_was_stored(db, client):
    answer = client.post("/account/", headers={"Referer": "http://testserver/account/"}, follow=True)
    assert answer.redirect_chain == [("/sign-in/?next=/account/", 302)]
    assert "what you sent was not stored" in answer.content.decode()


def test_htmx_is_sent_to_the_page_and_not_given_it_as_a_fragment(db, client):
    headers = {"HX-Request": "true", "HX-Current-URL": "http://testserver/people/"}
    answer = client.get("/people/", headers=headers)
    assert answer.headers["HX-Redirect"] == "/sign-in/?next=/people/"


def test_a_page_that_takes_nothing_says_so(cast, client_of):
    assert client_of(cast.owner).post("/people/").status_code == 405
    assert client_of(cast.owner).get("/sign-out/").status_code == 405


def test_two_apps_may_not_list_the_same_page(monkeypatch):
    monkeypatch.setattr(doors, "our_modules", lambda name: [doors, doors])
    with pytest.raises(LookupError, match="same page"):
        doors.table.__wrapped__()


def test_the_doorkeeper_stands_before_the_library_s_own():
    order = settings.MIDDLEWARE
    ours = order.index("studio.doors.DoorMiddleware")
    assert ours < order.index("django.contrib.auth.middleware.LoginRequiredMiddleware")
