"""Trusted phones: one touch on a name, everybody a helper there, and no way out of that without a password."""

import re

import pytest
from django.conf import settings
from django.test import Client

from batches.models import Entry
from studio import doors, phones
from studio.models import Person, Phone, Role
from tests import builders
from tests.builders import PASSWORD

pytestmark = pytest.mark.django_db

JSON = {"Accept": "application/json"}
NAME = "the phone in the stand"


@pytest.fixture
def trusting(cast, client_of):
    """A browser in which the owner is signed in, on a phone that they have trusted by its page."""
    browser = client_of(cast.owner)
    answer = browser.post("/phones/trust/", {"name": NAME, "password": PASSWORD})
    assert (answer.status_code, answer.url) == (302, "/people/")
    return browser


@pytest.fixture
def phone(trusting):
    """That phone, with nobody signed in."""
    trusting.post("/sign-out/")
    return trusting


def touch(browser, person, **more):
    return browser.post("/who/", {"by": person.pk} | more)


def session_of(browser):
    return (
        browser.cookies[settings.SESSION_COOKIE_NAME].value if settings.SESSION_COOKIE_NAME in browser.cookies else ""
    )


def elsewhere(browser):
    """The same cookies in another browser: what a thief has."""
    thief = Client()
    for name, cookie in browser.cookies.items():
        thief.cookies[name] = cookie.value
    return thief


# Trusting


def test_an_owner_trusts_the_phone_in_their_hand(trusting, cast):
    kept = Phone.objects.get()
    cookie = trusting.cookies["phone"]
    assert (kept.name, kept.by, kept.ended_at) == (NAME, cast.owner, None)
    assert len(cookie.value) >= 43 and cookie.value not in str(vars(kept))
    assert cookie["httponly"] and cookie["samesite"] == "Lax" and int(cookie["max-age"]) == 400 * 86_400
    page = trusting.get("/people/").content.decode()
    assert NAME in page and "by Oda" in page and "Stop trusting" in page and "this one" in page


def test_the_key_is_kept_from_scripts_and_plain_http_where_there_is_https(monkeypatch):
    from django.http import HttpResponse

    monkeypatch.setattr(settings, "HTTPS", True, raising=False)
    answer = HttpResponse()
    phones.give_key(answer, "k")
    assert answer.cookies["phone"]["secure"]


def test_trusting_takes_the_password(cast, client_of):
    browser = client_of(cast.owner)
    answer = browser.post("/phones/trust/", {"name": NAME, "password": "four dry skeins"})
    assert answer.status_code == 422 and "This is not your password" in answer.content.decode()
    assert NAME in answer.content.decode() and not Phone.objects.exists() and "phone" not in browser.cookies


def test_guessing_the_password_there_is_slowed_down_as_at_the_door(cast, client_of):
    browser = client_of(cast.owner)
    for _ in range(settings.AXES_FAILURE_LIMIT):
        browser.post("/phones/trust/", {"name": NAME, "password": "four dry skeins"})
    answer = browser.post("/phones/trust/", {"name": NAME, "password": PASSWORD})
    assert answer.status_code == 429 and not Phone.objects.exists()


@pytest.mark.parametrize("role", ["maker", "helper", "viewer"])
def test_nobody_but_an_owner_trusts_a_phone_or_ends_it(cast, client_of, trusting, role):
    browser = client_of(getattr(cast, role))
    assert browser.post("/phones/trust/", {"name": NAME, "password": PASSWORD}).status_code == 403
    assert browser.post(f"/phones/{Phone.objects.get().pk}/stop/").status_code == 403
    with pytest.raises(ValueError, match="Only an owner"):
        Phone.trust(name=NAME, by=getattr(cast, role))
    assert Phone.objects.open().count() == 1


def test_trusting_anew_ends_what_was_there_before(trusting):
    trusting.post("/phones/trust/", {"name": "the tablet", "password": PASSWORD})
    assert [one.name for one in Phone.objects.trusted()] == ["the tablet"]


# Touching a name


def test_one_touch_opens_the_phone_s_own_session(phone, cast):
    door = phone.get("/sign-in/").content.decode()
    assert "Who is dyeing?" in door and f'value="{cast.helper.pk}"' in door
    answer = touch(phone, cast.helper)
    assert answer.status_code == 302
    page = phone.get("/")
    page = phone.get(page.url) if page.status_code == 302 else page
    assert page.wsgi_request.user == cast.owner and page.wsgi_request.dyeing == cast.helper
    said = " ".join(re.sub("<[^>]+>", "", page.content.decode()).split())
    assert "Hanne, on the phone in the stand" in said


def test_only_those_who_may_log_are_named(phone, cast):
    cast.maker.is_active = False
    cast.maker.save()
    door = phone.get("/sign-in/").content.decode()
    assert f'value="{cast.viewer.pk}"' not in door and f'value="{cast.maker.pk}"' not in door
    for nobody in (cast.viewer.pk, cast.maker.pk, "", "x", "0", "-1", 10**30, "１"):
        answer = phone.post("/who/", {"by": nobody}, headers=JSON)
        assert answer.status_code == 422 and "touch another" in answer.json()["sentence"]
    assert phone.get("/people/").status_code == 302  # still signed out


def test_a_browser_that_is_not_trusted_has_no_names(phone, cast, client_of):
    stranger = Client()
    door = stranger.get("/sign-in/").content.decode()
    assert "Who is dyeing" not in door and cast.helper.name not in door
    assert stranger.post("/who/", {"by": cast.helper.pk}, headers=JSON).status_code == 403
    assert touch(stranger, cast.helper).url == "/sign-in/"
    assert "sessionid" not in stranger.cookies and stranger.get("/").status_code == 302
    for key in ("", "x", Phone.objects.get().key_hash, "k" * 5000, "\ud83d"[:0]):
        stranger.cookies["phone"] = key
        assert stranger.post("/who/", {"by": cast.helper.pk}, headers=JSON).status_code == 403
    signed_in = client_of(cast.helper)
    assert touch(signed_in, cast.maker).status_code == 302
    assert signed_in.get("/account/").wsgi_request.user == cast.helper


def test_a_name_is_touched_with_the_token_of_the_page(phone, cast):
    strict = Client(enforce_csrf_checks=True)
    strict.cookies["phone"] = phone.cookies["phone"].value
    assert strict.post("/who/", {"by": cast.helper.pk}).status_code == 403
    assert strict.get("/people/").status_code == 302


@pytest.mark.parametrize("role", ["owner", "maker", "helper"])
def test_everybody_is_a_helper_there(phone, cast, studio, role):
    touch(phone, getattr(cast, role))
    for address in (
        "/account/",
        "/people/",
        "/phones/trust/",
        "/studio/first/",
        "/prices/",
        "/colourways/",
        "/studio/export/",
    ):
        answer = phone.get(address)
        assert answer.status_code == 403, address
        assert "Sign in with your password" in answer.content.decode()
    for address in ("/account/", "/account/sign-out-everywhere/", f"/people/{cast.helper.pk}/", "/phones/trust/"):
        assert phone.post(address, {"name": "x", "role": "owner"}).status_code == 403, address
    assert phone.get("/people/", headers=JSON).status_code == 403
    assert phone.get("/people/", headers={"HX-Request": "true"}).status_code == 403


def test_every_door_is_shut_there_that_is_shut_to_a_helper(phone, cast, studio):
    touch(phone, cast.owner)
    here = phone.get("/cautions/").wsgi_request.user
    for name, door in doors.table().items():
        for method in ("GET", "POST"):
            expected = Role.HELPER in door.who(method) and not door.own
            assert doors.allows(here, name, method) == expected, (name, method)
    assert not doors.allows(here, "studio:account") and not here.sees_costs and not here.may_make and not here.is_owner


def test_the_cap_is_never_stored(phone, cast):
    touch(phone, cast.maker)
    request = phone.get("/cautions/").wsgi_request
    for person in (request.user, request.dyeing):
        assert person.role_here == Role.HELPER
        person.save()
    assert Person.objects.get(pk=cast.owner.pk).role == Role.OWNER
    assert Person.objects.get(pk=cast.maker.pk).role == Role.MAKER
    assert {one.role for one in Person.history.filter(id=cast.owner.pk)} == {Role.OWNER}


# In and out of it


def test_a_password_gives_the_rest_back_and_only_a_password(phone, cast):
    touch(phone, cast.helper)
    before = session_of(phone)
    assert "Sign in with a password" in phone.get("/sign-in/").content.decode()
    phone.post("/sign-in/", {"username": "Oda", "password": "four dry skeins"})
    assert phone.get("/people/").status_code == 403
    phone.post("/sign-in/", {"username": "Oda", "password": PASSWORD})
    page = phone.get("/people/")
    assert page.status_code == 200 and page.wsgi_request.dyeing == cast.owner
    assert session_of(phone) != before
    assert phone.session.get("phone") is None


def test_another_name_ends_the_session_with_a_password(trusting, cast):
    before = session_of(trusting)
    assert trusting.get("/people/").status_code == 200
    assert touch(trusting, cast.owner).status_code == 302  # one's own changes nothing
    assert trusting.get("/people/").status_code == 200 and session_of(trusting) == before
    touch(trusting, cast.helper)
    assert session_of(trusting) != before
    assert trusting.get("/people/").status_code == 403
    touch(trusting, cast.owner)
    assert trusting.get("/people/").status_code == 403
    thief = Client()
    thief.cookies[settings.SESSION_COOKIE_NAME] = before
    assert thief.get("/people/").status_code == 302  # the session that had more is gone for good


def test_the_owner_s_session_is_the_phone_s_whoever_was_signed_in(trusting, cast):
    trusting.post("/sign-in/", {"username": "Mats", "password": PASSWORD})
    trusting.post("/sign-out/")
    trusting.post("/sign-in/", {"username": "Mats", "password": PASSWORD})
    touch(trusting, cast.helper)
    request = trusting.get("/cautions/").wsgi_request
    assert (request.user, request.dyeing) == (cast.owner, cast.helper)


def test_a_session_that_somebody_planted_is_not_gone_on_with(phone, cast):
    planted = Client()
    touch(planted, cast.helper)
    planted.get("/sign-in/")
    phone.cookies[settings.SESSION_COOKIE_NAME] = "plantedplantedplantedplantedplant"
    touch(phone, cast.helper)
    assert session_of(phone) not in ("", "plantedplantedplantedplantedplant")


def test_touching_a_name_is_no_sign_in(phone, cast):
    Person.objects.filter(pk=cast.owner.pk).update(last_login=None)
    for _ in range(settings.AXES_FAILURE_LIMIT - 1):
        phone.post("/sign-in/", {"username": "Oda", "password": "four dry skeins"})
        touch(phone, cast.owner)
    assert Person.objects.get(pk=cast.owner.pk).last_login is None
    phone.post("/sign-in/", {"username": "Oda", "password": "four dry skeins"})
    assert phone.post("/sign-in/", {"username": "Oda", "password": PASSWORD}).status_code == 429


def test_it_is_worth_nothing_without_the_phone_s_key(phone, cast):
    touch(phone, cast.helper)
    thief = elsewhere(phone)
    assert thief.get("/cautions/").status_code == 200
    del thief.cookies["phone"]
    assert thief.get("/cautions/").status_code == 302
    assert phone.get("/cautions/").status_code == 302  # and the session is over, whoever holds it


def ends(cast):
    def stop(browser):
        owner = Client()
        owner.force_login(cast.owner, backend=phones.BACKEND)
        assert owner.post(f"/phones/{Phone.objects.get().pk}/stop/").url == "/people/"

    def demote(browser):
        second = Person.objects.create_person("Ilse", PASSWORD, Role.OWNER)
        assert second.is_owner
        cast.owner.change(name="Oda", role=Role.MAKER, active=True)
        cast.owner.change(name="Oda", role=Role.OWNER, active=True)  # an owner again: the phone is not

    def shut_out(browser):
        Person.objects.create_person("Ilse", PASSWORD, Role.OWNER)
        cast.owner.change(name="Oda", role=Role.OWNER, active=False)
        cast.owner.change(name="Oda", role=Role.OWNER, active=True)

    def new_password(browser):
        cast.owner.set_new_password("eleven dry hanks")

    def by_command(browser):
        cast.owner.set_password("eleven dry hanks")
        cast.owner.save()

    return {
        "stopped": stop,
        "demoted": demote,
        "shut out": shut_out,
        "another password": new_password,
        "another password by the command": by_command,
        "signed out everywhere": lambda browser: cast.owner.sign_out_everywhere(),
    }


@pytest.mark.parametrize(
    "how",
    [
        "stopped",
        "demoted",
        "shut out",
        "another password",
        "another password by the command",
        "signed out everywhere",
    ],
)
def test_the_end_of_the_trust_is_the_end_at_once(phone, cast, how):
    touch(phone, cast.helper)
    stolen = elsewhere(phone)
    assert stolen.get("/cautions/").status_code == 200
    ends(cast)[how](phone)
    assert phone.get("/cautions/").status_code == 302
    assert stolen.post("/who/", {"by": cast.helper.pk}, headers=JSON).status_code == 403
    assert "Who is dyeing" not in stolen.get("/sign-in/").content.decode()
    assert not Phone.objects.trusted()


def test_who_may_not_sign_in_any_more_is_out_at_once(phone, cast):
    touch(phone, cast.helper)
    cast.helper.change(name="Hanne", role=Role.HELPER, active=False)
    assert phone.get("/cautions/").status_code == 302
    touch(phone, cast.maker)
    cast.maker.change(name="Mats", role=Role.VIEWER, active=True)
    assert phone.get("/cautions/").status_code == 302


def test_the_log_says_which_phone_and_who_and_no_name(cast, client_of, caplog):
    caplog.set_level("INFO")
    browser = client_of(cast.owner)
    browser.post("/phones/trust/", {"name": NAME, "password": PASSWORD})
    browser.post(f"/phones/{Phone.objects.get().pk}/stop/")
    said = [record.getMessage() for record in caplog.records if record.name == "studio.phones"]
    phone, owner = Phone.objects.get().pk, cast.owner.pk
    assert said == [
        f"phone {phone} trusted by person {owner}",
        f"phone {phone} no longer trusted, said by person {owner}",
    ]
    assert not browser.cookies["phone"].value


def test_no_page_there_is_kept_by_the_browser_for_who_comes_next(trusting):
    assert "no-store" in trusting.get("/cautions/").headers["Cache-Control"]


# Logging


@pytest.fixture
def pot(cast, studio):
    return builders.one_pot(cast.maker)


def log(browser, pot, **fields):
    from uuid import uuid4

    sent = {"id": str(uuid4()), "kind": "words", "note": "Looks even."} | fields
    answer = browser.post(f"/sink/{pot.pk}/log/", sent, headers=JSON)
    return answer, Entry.objects.filter(pk=sent["id"]).first()


def test_each_line_says_who_did_it_and_whose_session_sent_it(phone, cast, pot):
    touch(phone, cast.helper)
    _, first = log(phone, pot)
    touch(phone, cast.maker)
    _, second = log(phone, pot)
    _, third = log(phone, pot, by=cast.helper.pk)  # a phone that was offline names who it was
    assert [(one.by, one.sent_by) for one in (first, second, third)] == [
        (cast.helper, cast.owner),
        (cast.maker, cast.owner),
        (cast.helper, cast.owner),
    ]


def test_nobody_is_named_there_who_could_not_be_touched(phone, cast, pot):
    touch(phone, cast.helper)
    for nobody in (cast.viewer.pk, 10**30, "x"):
        answer, kept = log(phone, pot, by=nobody)
        assert answer.status_code == 422 and kept is None
        assert "by" in answer.json()["errors"]


@pytest.mark.parametrize("who", ["helper", "maker", "owner"])
def test_each_strikes_their_own_lines_and_no_others(phone, cast, pot, who):
    me = getattr(cast, who)
    other = cast.maker if who != "maker" else cast.helper
    touch(phone, me)
    _, mine = log(phone, pot)
    _, theirs = log(phone, pot, by=other.pk)
    page = phone.get(f"/sink/{pot.pk}/").content.decode()
    assert f"/strike/{mine.pk}/" in page or f'value="{mine.pk}"' in page
    assert f"/strike/{theirs.pk}/" not in page
    answer, _ = log(phone, pot, kind="strike", target=str(theirs.pk), reason="wrong", note="")
    assert answer.status_code == 403
    answer, _ = log(phone, pot, kind="strike", target=str(mine.pk), note="")
    assert answer.status_code == 201


def test_one_s_own_stays_one_s_own_when_another_name_is_touched(phone, cast, pot):
    touch(phone, cast.helper)
    _, mine = log(phone, pot)
    touch(phone, cast.maker)
    answer, _ = log(phone, pot, kind="strike", target=str(mine.pk), reason="x", note="")
    assert answer.status_code == 403
    # Hanne took it back where there was no network; by the time it arrives the maker's name is touched.
    answer, struck = log(phone, pot, kind="strike", target=str(mine.pk), note="", by=cast.helper.pk)
    assert answer.status_code == 201 and struck.by == cast.helper


def test_who_trusted_the_phone_and_is_a_helper_now_strikes_nothing_that_others_did_there(phone, cast, client_of, pot):
    touch(phone, cast.maker)
    _, theirs = log(phone, pot)
    own = client_of(cast.owner)
    _, for_another = log(own, pot, by=cast.maker.pk)
    cast.owner.role = "helper"
    cast.owner.save()
    own = client_of(cast.owner)
    answer, _ = log(own, pot, kind="strike", target=str(theirs.pk), note="", reason="x")
    assert answer.status_code == 403 and (theirs.by_touch, for_another.by_touch) == (True, False)
    answer, _ = log(own, pot, kind="strike", target=str(for_another.pk), note="")  # said by who was signed in
    assert answer.status_code == 201


def test_elsewhere_who_did_it_is_said_as_before(cast, client_of, pot):
    browser = client_of(cast.helper)
    _, one = log(browser, pot, by=cast.viewer.pk)
    assert (one.by, one.sent_by) == (cast.viewer, cast.helper)


def test_the_names_stand_on_the_sink_with_the_one_touched(phone, cast, pot):
    touch(phone, cast.helper)
    page = phone.get(f"/sink/{pot.pk}/").content.decode()
    pressed = re.findall(r'data-by="(\d+)" aria-pressed="true"', page)
    assert pressed == [str(cast.helper.pk)]
    assert len(re.findall(r"<button[^>]* data-by=", page)) == 3


def test_many_names_are_folded_and_the_one_touched_is_not(phone, cast, pot):
    people = [Person.objects.create_person(f"Z{number:02}", None, Role.HELPER) for number in range(9)]
    touch(phone, people[7])
    page = phone.get(f"/sink/{pot.pk}/").content.decode()
    first, _, rest = page.partition("more names")
    assert len(re.findall("<button[^>]* data-by=", first)) == 4 and len(re.findall("<button[^>]* data-by=", rest)) == 8
    assert f'data-by="{people[7].pk}" aria-pressed="true"' in first


def test_as_many_queries_however_many_people_and_phones(phone, cast, pot, client_of, django_assert_num_queries):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    touch(phone, cast.helper)
    counts = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as few:
            phone.get(f"/sink/{pot.pk}/")
        with CaptureQueriesContext(connection) as people_page:
            client_of(cast.owner).get("/people/")
        counts.append((len(few), len(people_page)))
        for number in range(6):
            Person.objects.create_person(f"Z{len(counts)}{number}", None, Role.HELPER)
            Phone.trust(name=f"phone {number}", by=cast.owner)
    assert counts[0] == counts[1]


def test_the_names_alone_ask_for_no_keyboard(phone, cast):
    assert "autofocus" not in phone.get("/sign-in/").content.decode()
    assert "autofocus" in Client().get("/sign-in/").content.decode()


# The first day


def test_a_helper_is_shown_the_first_day_once(cast, client):
    first = client.post("/sign-in/", {"username": "Hanne", "password": PASSWORD, "next": "/"})
    again = client.post("/sign-in/", {"username": "Hanne", "password": PASSWORD, "next": "/"})
    assert (first.url, again.url) == ("/first-day/", "/")
    assert client.post("/sign-in/", {"username": "Mats", "password": PASSWORD, "next": "/"}).url == "/"


def test_also_where_her_name_is_only_touched(phone, cast, pot):
    assert touch(phone, cast.helper, next=f"/sink/{pot.pk}/").url == f"/sink/{pot.pk}/"  # not while she is at work
    assert touch(phone, cast.helper).url == "/first-day/"
    assert touch(phone, cast.helper).url == "/"


def test_the_first_day_says_what_to_do_and_whom_to_ask(cast, client_of, pot):
    browser = client_of(cast.helper)
    page = " ".join(re.sub("<[^>]+>", " ", browser.get("/first-day/").content.decode()).split())
    for said in (
        "The first day, Hanne",
        "Undo",
        "lungs",
        "Acid goes into water",
        "steam scald",
        "sealed jar",
        "microwave",
    ):
        assert said in page
    assert "safety data sheet, local rules" in page and "Mats or Oda . Ask" in page and pot.run.code in page
    assert "The first day" in browser.get("/cautions/").content.decode()
    assert "The first day" not in client_of(cast.maker).get("/cautions/").content.decode()


# No money, and no way to a shut page


MONEY = re.compile(r"[€£$]|\b(?:EUR|GBP|USD)\b")
NOT_FOR_PAGES = ("/pictures/", "/documents/", "/static/", "/who/", "/sign-out/", "#", "http", "mailto:")


@pytest.fixture
def whole_day(cast):
    run = builders.a_whole_day(cast)
    bottle = builders.bottle(cast.maker)
    builders.run_with_pots(cast.maker, pots=2, title="Low Tide", lines=[(bottle, 30), (bottle, 20)])
    return run


@pytest.mark.parametrize("where", ["signed in", "on the phone", "the owner on the phone"])
def test_a_helper_reads_no_price_and_is_led_to_no_shut_page(request, cast, client_of, whole_day, where):
    if where == "signed in":
        browser = client_of(cast.helper)
    else:
        browser = request.getfixturevalue("phone")
        touch(browser, cast.owner if "owner" in where else cast.helper)
    seen, waiting = set(), ["/journal/", "/shelf/", "/studio/", "/first-day/", "/weigh-in/", "/find/?q=a"]
    while waiting:
        address = waiting.pop()
        if address in seen or address.startswith(NOT_FOR_PAGES):
            continue
        seen.add(address)
        answer = browser.get(address, follow=True)
        assert answer.status_code == 200, f"a link leads to {address}: {answer.status_code}"
        if "text/html" not in answer.headers.get("Content-Type", ""):
            continue
        page = answer.content.decode()
        if not address.startswith("/sums/"):  # worked examples, with no number of this studio
            said = re.sub(r"<[^>]+>", " ", re.sub(r"<(script|head)\b.*?</\1>", " ", page, flags=re.S))
            assert not MONEY.search(said), f"{address}: {MONEY.search(said)[0]} in the words"
        base = answer.request["PATH_INFO"]
        for link in re.findall(r'(?:href|action)="([^"]*)"', page):
            link = link.replace("&amp;", "&").partition("#")[0]
            if link.startswith("?"):
                link = base + link
            if link and link not in seen and not is_post_only(link):
                waiting.append(link)
    assert len(seen) > 30, sorted(seen)
    for passed in ("/sink/", "/add/tick/", "/runs/", "/judge/", "/lots/", "/photos/"):
        assert [one for one in seen if passed in one], passed
    for shut in ("/colourways/", "/recipes/", "/prices/", "/studio/export/", "/cost/", "/tags/"):
        assert not [one for one in seen if shut in one], shut


def is_post_only(address):
    from django.urls import Resolver404, resolve

    try:
        view = resolve(address.partition("?")[0]).view_name
    except Resolver404:
        return False
    return not doors.table()[view].read
