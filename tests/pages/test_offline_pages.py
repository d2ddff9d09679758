"""What a phone is given to work without a network, and whose entries it may send."""

import re
from uuid import uuid4

import pytest

from batches.models import Entry
from studio.settings import CONTENT_SECURITY_POLICY
from tests import builders


@pytest.fixture
def pot(cast):
    return builders.one_pot(cast.maker)


def test_the_shell_knows_nobody(cast, studio, client_of):
    answer = client_of(cast.owner).get("/shell/")
    page = answer.content.decode()
    assert cast.owner.name not in page and "csrfmiddlewaretoken" not in page and not answer.cookies
    assert "data-pot=" not in page and "data-person=" not in page


def test_no_worker_without_files_that_carry_a_fingerprint(client_of, db):
    assert client_of(None).get("/sw.js").status_code == 404


def test_the_manifest_has_icons_that_exist_and_locks_no_orientation(client_of, db):
    said = client_of(None).get("/app.webmanifest").json()
    assert said["display"] == "standalone" and "orientation" not in said
    assert {icon.get("purpose") for icon in said["icons"]} == {None, "maskable"}
    assert all(client_of(None).get(icon["src"]).status_code == 200 for icon in said["icons"])
    assert {"worker-src", "manifest-src"} <= CONTENT_SECURITY_POLICY["DIRECTIVES"].keys()


def test_a_phone_learns_who_is_signed_in_with_a_fresh_token(cast, studio, client_of):
    answer = client_of(cast.helper).get("/signed-in/", headers={"Accept": "application/json"})
    assert answer.json() == {"person": cast.helper.pk, "name": cast.helper.name}
    assert answer.cookies["csrf"].value


def test_what_somebody_else_kept_is_not_stored(cast, studio, client_of, pot):
    said = {"id": str(uuid4()), "kind": "words", "note": "of another"}
    headers = {"Accept": "application/json", "X-Person": str(cast.owner.pk)}
    answer = client_of(cast.maker).post(f"/sink/{pot.pk}/log/", said, headers=headers)
    assert (answer.status_code, answer.json()["error"]) == (403, "other_person")
    assert not Entry.objects.exists()


def test_the_pages_of_a_pot_come_together_and_as_they_are(cast, studio, client_of, pot):
    client = client_of(cast.maker)
    kit = client.get(f"/sink/{pot.pk}/kit/").json()
    assert f'data-kit="{kit["version"]}"' in client.get(f"/sink/{pot.pk}/").content.decode()
    paths = [page["path"] for page in kit["pages"]]
    assert f"/sink/{pot.pk}/add/note/" in paths and len(paths) > 10
    assert all(page["html"].startswith("<main") and page["title"] for page in kit["pages"])
    tokens = [re.findall(r'name="csrfmiddlewaretoken" value="([^"]*)"', page["html"]) for page in kit["pages"]]
    assert all(found and not any(found) for found in tokens), "a phone reads its token when it sends"


def said_numbers(kit):
    """The numbers that the forms of a kit would send theirs under."""
    return [number for page in kit["pages"] for number in re.findall(r'name="id" value="([^"]+)"', page["html"])]


def test_no_two_forms_that_are_kept_have_one_number(cast, studio, client_of, pot):
    client = client_of(cast.maker)
    numbers = [said_numbers(client.get(f"/sink/{pot.pk}/kit/").json()) for _ in range(2)]
    assert len(numbers[0]) > 10
    assert len(set(sum(numbers, []))) == len(sum(numbers, []))


def test_what_is_kept_of_a_pot_is_of_that_pot_and_for_that_person(cast, studio, client_of, pot):
    other = builders.one_pot(cast.owner)
    for person in (cast.maker, cast.helper, cast.owner):
        client = client_of(person)
        for mine, theirs in ((pot, other), (other, pot)):
            for page in client.get(f"/sink/{mine.pk}/kit/").json()["pages"]:
                assert page["path"].startswith(f"/sink/{mine.pk}/add/")
                assert f'data-pot="{mine.pk}" ' in page["html"] and f'data-person="{person.pk}"' in page["html"]
                assert f"/sink/{theirs.pk}/" not in page["html"]  # another pot may be a choice, and no more than that
