"""What an attacker sends, and that it gets them nothing."""

import subprocess
import sys

import pytest
from django.conf import settings
from django.test import Client

from studio.access_log import AccessLog
from studio.log import spelt_out

MB = 1_000_000


# The log


@pytest.mark.parametrize("sign", ["\n", "\r", "\x85", "\u2028", "\x1b[31m", "\x00", "\u202e"])
def test_no_sign_forges_or_hides_a_line_of_the_log(sign):
    assert spelt_out(f"a{sign}b").isprintable()
    assert spelt_out("Åsa 🧶 90 °C") == "Åsa 🧶 90 °C"


def test_an_address_cannot_begin_a_line_of_the_server_s_log(monkeypatch):
    monkeypatch.setattr(AccessLog.__base__, "atoms", lambda self, *args: {"U": "/x\nFORGED 200", "M": 3})
    assert AccessLog.atoms(object.__new__(AccessLog)) == {"U": "/x\\nFORGED 200", "M": 3}


def test_the_server_is_started_with_that_log():
    assert "--logger-class studio.access_log.AccessLog" in (settings.BASE_DIR / "studio/run").read_text()


# Large bodies: refused by what they say they are, before a byte of them is on the disk


def send(client, path, size, **more):
    return client.generic("POST", path, b"", "multipart/form-data; boundary=x", CONTENT_LENGTH=str(size), **more)


@pytest.mark.parametrize("path", ["/sign-in/", "/set-up/", "/account/", "/no-such-page/"])
def test_nobody_fills_the_disk_without_signing_in(client, db, path):
    answer = send(client, path, 2 * MB)
    assert answer.status_code == 413
    assert "too large" in answer.content.decode()


def test_who_is_signed_in_sends_a_dozen_photos_and_no_more(cast, client_of):
    phone = client_of(cast.helper)
    assert send(phone, "/account/", 12 * settings.UPLOAD_MB * MB).status_code == 422
    answer = send(phone, "/account/", 13 * settings.UPLOAD_MB * MB)
    assert answer.status_code == 413
    assert "300 MB" in answer.content.decode()


def test_a_machine_is_told_in_its_own_way(cast, client_of):
    answer = send(client_of(cast.helper), "/sink/1/log/", 10_000 * MB, headers={"Accept": "application/json"})
    assert answer.status_code == 413
    assert answer.json()["error"] == "too_large"


@pytest.mark.parametrize("size", ["", "-5", "many", "1e9"])
def test_a_size_that_is_none_breaks_nothing(client, db, size):
    assert send(client, "/sign-in/", size).status_code in (400, 403, 422)


# Headers


@pytest.mark.parametrize("host", ["evil.example", "testserver"])
def test_an_answer_given_before_any_page_carries_the_policy_too(client, db, settings, host):
    settings.SECURE_SSL_REDIRECT = True
    answer = client.get("/sign-in/", headers={"Host": host})
    assert answer.status_code in (301, 400)
    assert "frame-ancestors 'none'" in answer["Content-Security-Policy"]
    assert "geolocation=()" in answer["Permissions-Policy"]


# The data folder


def test_the_database_is_for_its_own_account_wherever_it_lies(tmp_path):
    """Also where the folder was made by somebody else, and the server is started by something else than `run`."""
    tmp_path.chmod(0o755)
    told = {"PATH": "/usr/bin:/bin", "CLEARBATH_DATA": str(tmp_path)}
    command = [sys.executable, "manage.py", "prepare"]
    subprocess.run(command, cwd=settings.BASE_DIR, env=told, check=True, capture_output=True, umask=0o022)
    open_to_all = [path.name for path in tmp_path.rglob("*") if path.is_file() and path.stat().st_mode & 0o077]
    assert not open_to_all


# What can't be read


@pytest.mark.parametrize(
    ("kind", "sent"),
    [
        ("application/x-www-form-urlencoded; charset=utf-7", "username=Oda"),
        ("application/x-www-form-urlencoded", "&".join(f"field{n}=1" for n in range(3500))),
        ("application/x-www-form-urlencoded", "username=" + "x" * 1_060_000),
        ("multipart/form-data", "no boundary"),
    ],
)
def test_what_can_t_be_read_is_said_to_people_and_machines(db, kind, sent):
    browser = Client(enforce_csrf_checks=True, raise_request_exception=False)
    browser.get("/sign-in/")
    page = browser.post("/sign-in/", sent, content_type=kind)
    said = browser.post("/sign-in/", sent, content_type=kind, headers={"accept": "application/json"})
    assert (page.status_code, said.status_code) == (400, 400)
    assert "can’t be understood" in page.content.decode()
    assert said.json()["error"] == "not_understood" and "Nothing of it was stored" in said.json()["sentence"]


@pytest.mark.parametrize("before", ["http://[::1", "http://evil.example//evil.example/", "javascript:alert(1)", "//["])
def test_where_somebody_comes_from_may_be_anything(client, db, before):
    answer = client.post("/account/", {"name": "Oda"}, headers={"referer": before})
    assert answer.status_code == 302 and answer.headers["Location"].startswith("/sign-in/?next=")
    assert client.get(answer.headers["Location"]).status_code == 200
