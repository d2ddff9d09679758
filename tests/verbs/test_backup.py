"""One archive and back: nothing lost, nothing half, nothing overwritten, on either database."""

import io
import json
import stat
import tarfile
import threading
from datetime import timedelta

import pytest
import time_machine
from django.conf import settings
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command
from django.db import connection
from django.db.models import QuerySet

from batches.models import Entry, Run
from studio import backup
from studio.models import Person, Studio
from tests import builders

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def own_folders(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "media"
    settings.BACKUP_ROOT = tmp_path / "backups"


@pytest.fixture
def archive():
    """A backup of a whole day."""
    builders.a_whole_day(builders.make_cast())
    return backup.make(now=builders.hours(5))


def everything():
    """All rows of the studio, but for the count of codes, which a restore moves on."""
    rows = {}
    for model in backup._models():
        fields = [
            field.attname for field in model._meta.concrete_fields if field.attname not in ("run_year", "run_number")
        ]
        rows[model.__name__] = list(QuerySet(model).order_by("pk").values_list(*fields))
    return rows


def all_files():
    return {name: default_storage.open(name).read() for name in backup._stored_names()}


def emptied(settings, tmp_path):
    """Another, empty studio."""
    call_command("flush", interactive=False, verbosity=0)
    settings.MEDIA_ROOT = tmp_path / "new media"


def changed(path, change):
    """The archive with its members changed: a dict of name and bytes goes through `change`."""
    with tarfile.open(path) as tar:
        held = {member.name: tar.extractfile(member).read() for member in tar}
    change(held)
    other = path.with_name("changed.tar")
    with tarfile.open(other, "w") as tar:
        for name, body in held.items():
            member = tarfile.TarInfo(name)
            member.size = len(body)
            tar.addfile(member, io.BytesIO(body))
    return other


def test_everything_comes_back(archive, settings, tmp_path):
    rows, files = everything(), all_files()
    assert len(rows["Entry"]) > 10 and len(files) == 8
    assert {name.split("/")[0] for name in files} == {"pictures", "sounds", "documents"}
    emptied(settings, tmp_path)
    call_command("restore", str(archive), stdout=io.StringIO())
    assert everything() == rows
    assert all_files() == files


def test_new_rows_find_free_keys_after_a_restore(archive, settings, tmp_path):
    emptied(settings, tmp_path)
    backup.restore(archive)
    person = builders.make_person("Nils", "helper")
    builders.receive_powder(person)
    assert person.check_password(builders.PASSWORD)


def test_a_restored_studio_passes_its_own_check(archive, settings, tmp_path):
    emptied(settings, tmp_path)
    backup.restore(archive)
    call_command("check", tags=["records"], databases=["default"], fail_level="WARNING", stdout=io.StringIO())


@pytest.mark.parametrize(("had", "next_code"), [(0, 101), (1, 201), (57, 201), (100, 201), (101, 301)])
def test_codes_jump_so_that_a_tie_is_never_repeated(had, next_code, settings, tmp_path):
    Studio.get()
    Studio.objects.update(run_year=2026, run_number=had)
    path = backup.make()
    emptied(settings, tmp_path)
    backup.restore(path, now=builders.NOON)
    assert Studio.next_code(2026) == f"26-{next_code}"


def test_codes_jump_into_the_new_year_too(settings, tmp_path):
    Studio.get()
    Studio.objects.update(run_year=2026, run_number=57)
    path = backup.make()
    emptied(settings, tmp_path)
    backup.restore(path, now=builders.NOON + timedelta(days=365))
    assert Studio.next_code(2027) == "27-101"


def test_a_studio_with_anything_in_it_is_left_alone(archive, settings, tmp_path):
    emptied(settings, tmp_path)
    builders.make_base("Alone")
    with pytest.raises(CommandError, match="This studio is not empty: it has bases"):
        call_command("restore", str(archive))
    assert not Person.objects.exists()


def test_settings_alone_do_not_make_a_studio_full(archive, settings, tmp_path):
    emptied(settings, tmp_path)
    Studio.get()
    backup.restore(archive)
    assert Run.objects.count() == 2


def _a_row_more(held):
    held["tables/studio_person.jsonl"] += b"{}\n"


def _a_byte_changed(held):
    name = next(name for name in held if name.startswith("media/"))
    held[name] = held[name][:-1] + b"!"


def _a_picture_gone(held):
    del held[next(name for name in held if name.startswith("media/"))]


def _a_file_more(held):
    held["media/more.jpg"] = b"x"


def _up_and_out(held):
    held["media/../../out.txt"] = b"x"


def _from_the_root(held):
    held["/etc/out.txt"] = b"x"


def _no_manifest(held):
    del held["manifest.json"]


def _nothing_told_of_a_file(held):
    manifest = json.loads(held["manifest.json"])
    _in_manifest(files=dict.fromkeys(manifest["files"]))(held)


def _in_manifest(**facts):
    def change(held):
        held["manifest.json"] = json.dumps(json.loads(held["manifest.json"]) | facts).encode()

    return change


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (_a_row_more, "damaged or was changed"),
        (_a_byte_changed, "damaged or was changed"),
        (_a_picture_gone, "not whole"),
        (_a_file_more, "not whole"),
        (_up_and_out, "not part of a backup"),
        (_from_the_root, "not part of a backup"),
        (_no_manifest, "no list of what is in it"),
        (_in_manifest(format=2), "newer Clearbath"),
        (_in_manifest(migrations=["studio.0001_initial", "studio.0999_later"]), "newer Clearbath"),
        (_in_manifest(migrations=[]), "older Clearbath"),
        (_in_manifest(migrations=[{}]), "no list of what is in it"),
        (_in_manifest(files=["media/a"]), "no list of what is in it"),
        (_in_manifest(tables=5), "no list of what is in it"),
        (lambda held: held.update({"manifest.json": b"[" * 100_000}), "no list of what is in it"),
        (_nothing_told_of_a_file, "no list of what is in it"),
    ],
)
def test_a_wrong_archive_is_refused_and_nothing_is_taken(archive, settings, tmp_path, change, said):
    emptied(settings, tmp_path)
    with pytest.raises(backup.BackupRefused, match=said):
        backup.restore(changed(archive, change))
    assert not Person.objects.exists() and not all_files()
    assert not (tmp_path / "out.txt").exists()


def _told_right(held, name, body):
    import hashlib

    held[name] = body
    manifest = json.loads(held["manifest.json"])
    manifest["files"][name] = {"size": len(body), "sha256": hashlib.sha256(body).hexdigest()}
    held["manifest.json"] = json.dumps(manifest).encode()


@pytest.mark.parametrize(
    ("table", "said"),
    [("studio_person", "do not fit together"), ("batches_costline", "do not fit together.*rows, and the list says")],
)
def test_rows_that_do_not_fit_are_refused_as_a_whole(archive, settings, tmp_path, table, said):
    """The hashes are right, but people that others name are gone, or rows are fewer than counted."""
    emptied(settings, tmp_path)
    wrong = changed(archive, lambda held: _told_right(held, f"tables/{table}.jsonl", b""))
    with pytest.raises(backup.BackupRefused, match=said):
        backup.restore(wrong)
    assert not Run.objects.exists()


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [
        ("studio_lot", "received", "a lot"),
        ("studio_lot", "came_at", "yesterday"),
        ("studio_lot", "cost_minor", 10**30),
        ("studio_picture", "id", "../../x"),
    ],
)
def test_a_value_of_no_use_is_refused_with_a_sentence(archive, settings, tmp_path, table, column, value):
    def change(held):
        rows = held[f"tables/{table}.jsonl"].splitlines()
        row = json.dumps(json.loads(rows[0]) | {column: value}).encode()
        _told_right(held, f"tables/{table}.jsonl", b"\n".join([row, *rows[1:]]))

    emptied(settings, tmp_path)
    with pytest.raises(backup.BackupRefused, match="do not fit together"):
        backup.restore(changed(archive, change))
    assert not Person.objects.exists()


def test_a_hollow_file_is_not_blown_up(tmp_path):
    """A sparse member says how large it is and brings next to nothing: a few bytes that would fill the disk."""
    path, header = tmp_path / "hollow.tar", tarfile.TarInfo("media/hollow")
    header.size = 512
    block = bytearray(header.tobuf(tarfile.GNU_FORMAT))
    block[156:157] = tarfile.GNUTYPE_SPARSE
    block[386:398], block[398:410] = b"00000000000\0", b"00000001000\0"  # where the one full part lies
    block[483:495] = b"77777777777\0"  # 8 GB in all
    block[148:156] = b"        "
    block[148:156] = f"{sum(block):06o}\0 ".encode()
    path.write_bytes(bytes(block) + bytes(512) + bytes(1024))
    with tarfile.open(path) as tar:
        assert tar.next().size > 8_000_000_000
    with pytest.raises(backup.BackupRefused, match="not part of a backup"):
        backup.restore(path)


def test_a_link_in_an_archive_is_refused(tmp_path):
    path = tmp_path / "link.tar"
    with tarfile.open(path, "w") as tar:
        member = tarfile.TarInfo("media/link")
        member.type, member.linkname = tarfile.SYMTYPE, "/etc/passwd"
        tar.addfile(member)
    with pytest.raises(backup.BackupRefused, match="not part of a backup"):
        backup.restore(path)


@pytest.mark.parametrize("body", [b"", b"not a tar file at all" * 100])
def test_something_else_is_refused(tmp_path, body):
    path = tmp_path / "other.tar"
    path.write_bytes(body)
    with pytest.raises(backup.BackupRefused):
        backup.restore(path)


def test_a_cut_archive_is_refused(archive):
    archive.write_bytes(archive.read_bytes()[: archive.stat().st_size // 2])
    with pytest.raises(backup.BackupRefused):
        backup.restore(archive)


def test_no_secret_and_no_session_is_inside(archive):
    body = archive.read_bytes()
    assert settings.SECRET_KEY.encode() not in body
    with tarfile.open(archive) as tar:
        assert not [name for name in tar.getnames() if "session" in name or "secret" in name]


def test_only_its_owner_reads_an_archive(archive):
    assert stat.S_IMODE(archive.stat().st_mode) == 0o600
    assert [path.name for path in archive.parent.iterdir()] == [archive.name]


def test_a_backup_that_cannot_be_written_says_where(tmp_path):
    (tmp_path / "a file").write_text("")
    with pytest.raises(CommandError, match="cannot be written to"):
        call_command("backup", to=str(tmp_path / "a file" / "x.tar"))


def test_daily_makes_one_a_day_and_keeps_so_many(settings):
    settings.BACKUPS_KEPT = 3
    for day in range(5):
        for hour in (8, 20):
            with time_machine.travel(builders.NOON.replace(hour=hour) + timedelta(days=day), tick=False):
                call_command("backup", daily=True, stdout=io.StringIO())
    names = sorted(path.name for path in settings.BACKUP_ROOT.iterdir())
    assert names == [f"clearbath-2026-03-{day}-080000.tar" for day in (16, 17, 18)]


def test_an_archive_is_of_one_moment_while_people_write(monkeypatch):
    """A pot is logged to and struck while tables are being written: an entry never comes without its detail."""
    cast = builders.make_cast()
    pot = builders.one_pot(cast.maker)
    powder = builders.receive_powder(cast.maker)
    original, wrote = backup._add, []

    def slow(tar, manifest, name, *rest):
        original(tar, manifest, name, *rest)
        if name == "tables/studio_movement.jsonl":
            writer = threading.Thread(target=write)
            writer.start()
            writer.join()

    def write():
        try:
            builders.addition(cast.helper, pot, powder, 1)
            wrote.append(True)
        finally:
            connection.close()

    monkeypatch.setattr(backup, "_add", slow)
    path = backup.make()
    assert wrote == [True] and Entry.objects.count() == 1
    with tarfile.open(path) as tar:
        lines = {
            name: tar.extractfile(name).read().count(b"\n") for name in tar.getnames() if name.startswith("tables/")
        }
    assert lines["tables/batches_entry.jsonl"] == lines["tables/batches_addition.jsonl"] == 0
