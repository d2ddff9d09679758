"""The README's commands for a certificate of the studio's own, really run, and what comes of them really used.

Held against: RFC 5280 (4.2.1.6 names, 4.2.1.9 basic constraints, 4.2.1.10 name constraints; checked by OpenSSL, which
shares nothing with this project), RFC 8375 (`home.arpa`), RFC 1918 (private addresses), and the phone makers' rules for
TLS certificates: at most 825 days, the name as a subject alternative name, use as a server said
(support.apple.com/103769).
"""

import re
import shutil
import socket
import ssl
import subprocess
import threading
from datetime import UTC, datetime
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(shutil.which("openssl") is None, reason="needs the command openssl")

README = Path(__file__).resolve().parents[2] / "README.md"
NAME, ADDRESS = "studio.home.arpa", "192.168.1.20"
MOST_DAYS = 825


def blocks():
    """What the README tells to paste or to save, in its order."""
    section = README.read_text(encoding="utf-8").split("### A certificate of your own\n", 1)[1].split("\n### ")[0]
    return re.findall(r"^```\n(.*?)^```\n", section, re.DOTALL | re.MULTILINE)


def bash(commands, folder):
    return subprocess.run(["bash", "-euc", commands], cwd=folder, check=True, capture_output=True, text=True).stdout


def made(folder, change=lambda text: text):
    """The folder after the first two blocks were pasted."""
    root, studio = (change(text) for text in blocks()[:2])
    bash(root + studio, folder)
    return folder / "own-certificate"


@pytest.fixture(scope="module")
def own(tmp_path_factory):
    return made(tmp_path_factory.mktemp("own"))


def verified(folder, *options, certificate="studio.crt"):
    """Whether OpenSSL takes the certificate for a server's, by this root and at this day."""
    command = [
        "openssl",
        "verify",
        "-x509_strict",
        "-CAfile",
        "root.crt",
        "-purpose",
        "sslserver",
        *options,
        certificate,
    ]
    answer = subprocess.run(command, cwd=folder, capture_output=True, text=True)
    return answer.returncode == 0, answer.stdout + answer.stderr


def text_of(folder, certificate):
    return bash(f"openssl x509 -in {certificate} -noout -text", folder)


def test_the_certificate_holds_for_the_name_and_the_address_and_nothing_else(own):
    assert verified(own, "-verify_hostname", NAME)[0]
    assert verified(own, "-verify_ip", ADDRESS)[0]
    assert not verified(own, "-verify_hostname", "other.home.arpa")[0]
    assert not verified(own, "-verify_ip", "192.168.1.21")[0]


def test_it_says_what_phones_ask_for(own):
    said = text_of(own, "studio.crt")
    assert "TLS Web Server Authentication" in said and f"DNS:{NAME}, IP Address:{ADDRESS}" in said
    assert "CA:FALSE" in said and "ecdsa-with-SHA256" in said
    dates = bash("openssl x509 -in studio.crt -noout -startdate -enddate", own)
    start, end = (datetime.strptime(each, "%b %d %H:%M:%S %Y GMT") for each in re.findall(r"=(.*)", dates))
    assert (end - start).days <= MOST_DAYS
    assert (end - datetime.now(UTC).replace(tzinfo=None)).days > 2 * 365, "every two years is enough, says the README"


def test_the_root_can_not_vouch_for_anybody_else(own):
    """What a thief of the root could do with it: nothing outside home names and private addresses."""
    for subject in ("DNS:dyes.example.org", "IP:203.0.113.7"):
        extensions = f"authorityKeyIdentifier = keyid\nsubjectAltName = {subject}\nextendedKeyUsage = serverAuth\n"
        (own / "thief.cnf").write_text(extensions)
        bash(
            "openssl req -new -config own.cnf -subj /CN=thief -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes "
            "-keyout thief.key -out thief.csr; "
            "openssl x509 -req -in thief.csr -CA root.crt -CAkey root.key -CAcreateserial -extfile thief.cnf "
            "-out thief.crt",
            own,
        )
        taken, said = verified(own, certificate="thief.crt")
        assert not taken and "permitted subtree violation" in said


def test_nobody_else_on_the_computer_can_read_the_keys(own):
    assert own.stat().st_mode & 0o077 == 0
    for key in ("root.key", "studio.key"):
        assert (own / key).stat().st_mode & 0o077 == 0


def test_without_a_name_the_address_alone_does(tmp_path):
    """As the README says to do where the router gives out no names."""
    folder = made(tmp_path, lambda text: text.replace(f"DNS:{NAME}, ", "").replace(NAME, ADDRESS))
    assert verified(folder, "-verify_ip", ADDRESS)[0], verified(folder, "-verify_ip", ADDRESS)[1]
    assert "DNS:studio" not in text_of(folder, "studio.crt")


def shake_hands(own, name, trusting):
    """Whether a client that trusts this root, or none of ours, gets through to a server with the certificate."""
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(own / "studio.crt", own / "studio.key")
    client = ssl.create_default_context(cafile=own / "root.crt" if trusting else None)
    ours, theirs = socket.socketpair()

    def serve():
        try:
            server.wrap_socket(ours, server_side=True).close()
        except OSError:
            ours.close()

    answering = threading.Thread(target=serve)
    answering.start()
    try:
        with client.wrap_socket(theirs, server_hostname=name) as through:
            return through.version()
    finally:
        theirs.close()
        answering.join(10)


def test_a_client_that_has_the_root_gets_through(own):
    assert shake_hands(own, NAME, trusting=True) == "TLSv1.3"
    assert shake_hands(own, ADDRESS, trusting=True) == "TLSv1.3"


@pytest.mark.parametrize(("name", "trusting"), [(NAME, False), ("other.home.arpa", True)])
def test_one_without_the_root_or_for_another_name_does_not(own, name, trusting):
    with pytest.raises(ssl.SSLCertVerificationError):
        shake_hands(own, name, trusting)


def test_the_web_server_in_front_is_given_what_the_program_reads(own):
    """The files that were made, the name, and the headers that settings and sign-ins rest on."""
    install, server = blocks()[2:4]
    for made_file, kept in re.findall(r"install -m \d+ (?:-D )?(\S+) (\S+)", install):
        assert (own / made_file).exists()
        assert kept in server or kept.rsplit("/", 1)[0] in server, kept
    assert server.count(f"server_name {NAME};") == 2
    for line in (
        "proxy_pass http://127.0.0.1:8000;",
        "proxy_set_header Host $host;",
        "proxy_set_header X-Forwarded-Proto $scheme;",
        "proxy_set_header X-Forwarded-For $proxy_add_x_forwarded_for;",
    ):
        assert line in server
    assert blocks()[4].startswith(f"CLEARBATH_BASE_URL=https://{NAME} CLEARBATH_BEHIND_PROXY=yes bash studio/run")
