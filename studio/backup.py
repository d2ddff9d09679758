"""One archive of database and pictures, and back.

An archive is a plain tar file: `tables/<table>.jsonl` with one row a line, `media/<name>` with every stored file, and
`manifest.json` with the migrations, the number of rows of each table, and the size and SHA-256 of every member. The
rows are the same whichever database wrote them, so an archive made on SQLite restores on PostgreSQL and back. Sessions
and the secret key are not in it: everybody signs in anew.
"""

import base64
import hashlib
import json
import os
import shutil
import sqlite3
import tarfile
import tempfile
from contextlib import contextmanager
from datetime import date, datetime, time
from decimal import Decimal
from pathlib import Path, PurePosixPath
from uuid import UUID

from django.apps import apps
from django.conf import settings
from django.core.exceptions import SuspiciousOperation, ValidationError
from django.core.files import File
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.core.management.color import no_style
from django.db import DatabaseError, connection, connections, transaction
from django.db.migrations.loader import MigrationLoader
from django.db.models import QuerySet
from django.utils import timezone

from studio.models import Studio

FORMAT = 1
NAME = "clearbath-%Y-%m-%d-%H%M%S.tar"
PATTERN = "clearbath-????-??-??-??????.tar"
ROWS_AT_ONCE = 1000
# Codes made after the backup hang on wet yarn, so the count goes on at least this much further.
CODE_GAP = 100


# What rows can raise that no studio wrote: a column that is missing, a number too large, a date that is none.
UNFIT = (
    DatabaseError,
    ValidationError,
    SuspiciousOperation,
    ArithmeticError,
    LookupError,
    AttributeError,
    RecursionError,
    TypeError,
    ValueError,
)


class BackupRefused(Exception):
    """An archive can't be made or taken; the text is a sentence for a person."""


# --- making one


def make(path=None, now=None):
    """Write an archive to `path`, by default into the backup folder. Answers its path.

    It is consistent while the studio is in use: rows come from one moment, files from after it, and files are never
    changed. Raises BackupRefused when it cannot be written.
    """
    now = now or timezone.now()
    path = Path(path) if path else settings.BACKUP_ROOT / timezone.localtime(now).strftime(NAME)
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with _written_whole(path) as target, tarfile.open(fileobj=target, mode="w") as tar:
            models, migrations = _as_migrated()
            manifest = {
                "format": FORMAT,
                "created_at": now.isoformat(),
                "database": connection.vendor,
                "migrations": migrations,
                "tables": {},
                "files": {},
            }
            _add_tables(tar, models, manifest)
            for name in _stored_names():
                with default_storage.open(name) as stored:
                    _add(tar, manifest, f"media/{name}", stored, default_storage.size(name))
            _add_text(tar, "manifest.json", json.dumps(manifest, indent=1, ensure_ascii=False))
    except OSError as error:
        raise BackupRefused(f"The backup cannot be written to {path}: {error.strerror or error}.") from error
    return path


def made_on(day):
    """The newest archive in the backup folder that was made on this day, or None."""
    return max(settings.BACKUP_ROOT.glob(day.strftime("clearbath-%Y-%m-%d-??????.tar")), default=None)


def keep(number):
    """Remove all but the newest archives of the backup folder. Answers how many went."""
    old = sorted(settings.BACKUP_ROOT.glob(PATTERN))[:-number]
    for path in old:
        path.unlink()
    return len(old)


@contextmanager
def _written_whole(path):
    """A file that is there whole or not at all, for its owner's eyes only."""
    handle, part = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")  # mode 600
    try:
        with os.fdopen(handle, "wb") as target:
            yield target
            target.flush()
            os.fsync(target.fileno())
        os.replace(part, path)
        folder = os.open(path.parent, os.O_RDONLY)
        os.fsync(folder)
        os.close(folder)
    finally:
        Path(part).unlink(missing_ok=True)


def _our_apps():
    return {config.label for config in apps.get_app_configs() if Path(config.path).parent == settings.BASE_DIR}


def _models(registry=apps):
    """Every table of this project, with its histories."""
    return [model for model in registry.get_models(include_auto_created=True) if model._meta.app_label in _our_apps()]


def _migrations(nodes):
    return sorted(f"{app}.{name}" for app, name in nodes if app in _our_apps())


def _as_migrated():
    """(tables, migrations) as the database has them now, which before an update is not as the program has them."""
    loader = MigrationLoader(connection)
    applied = [node for node in loader.applied_migrations if node in loader.graph.nodes]
    state = loader.project_state(applied, at_end=True)
    return _models(state.apps), _migrations(applied)


def _stored_names(folder=""):
    try:
        folders, names = default_storage.listdir(folder)
    except FileNotFoundError:
        return
    yield from sorted(f"{folder}{name}" for name in names)
    for inner in sorted(folders):
        yield from _stored_names(f"{folder}{inner}/")


@contextmanager
def _one_moment():
    """The alias of a connection that sees the database as it is now, whatever is written meanwhile."""
    settings.DATA.mkdir(mode=0o700, parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=settings.DATA, prefix="backup-") as folder:
        still = connection.copy("backup")
        if connection.vendor == "sqlite":
            copy = Path(folder) / "copy.sqlite3"
            connection.ensure_connection()
            with sqlite3.connect(copy) as target:
                connection.connection.backup(target)
            target.close()
            still.settings_dict = {**still.settings_dict, "NAME": str(copy)}
        connections["backup"] = still
        try:
            with transaction.atomic(using="backup"):
                if still.vendor == "postgresql":
                    with still.cursor() as cursor:
                        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
                yield "backup"
        finally:
            still.close()
            del connections["backup"]


def _add_tables(tar, models, manifest):
    with _one_moment() as alias, tempfile.TemporaryFile() as rows:
        for model in models:
            table = model._meta.db_table
            rows.seek(0)
            rows.truncate()
            columns = [field.attname for field in model._meta.concrete_fields]
            number = 0
            for row in QuerySet(model, using=alias).order_by("pk").values_list(*columns).iterator(ROWS_AT_ONCE):
                line = json.dumps(dict(zip(columns, row, strict=True)), default=_plain, ensure_ascii=False)
                rows.write(line.encode() + b"\n")
                number += 1
            size = rows.tell()
            rows.seek(0)
            manifest["tables"][table] = number
            _add(tar, manifest, f"tables/{table}.jsonl", rows, size)


def _plain(value):
    if isinstance(value, Decimal | UUID):
        return str(value)
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, bytes | memoryview):
        return base64.b64encode(value).decode()
    raise TypeError(f"{type(value).__name__} has no place in an archive")


class _Hashing:
    """A file that is hashed while it is read."""

    def __init__(self, source):
        self.source, self.sha256 = source, hashlib.sha256()

    def read(self, size=-1):
        part = self.source.read(size)
        self.sha256.update(part)
        return part


def _add(tar, manifest, name, source, size):
    member = tarfile.TarInfo(name)
    member.size, member.mode = size, 0o600
    hashing = _Hashing(source)
    tar.addfile(member, hashing)
    manifest["files"][name] = {"size": size, "sha256": hashing.sha256.hexdigest()}


def _add_text(tar, name, text):
    with tempfile.TemporaryFile() as source:
        size = source.write(text.encode())
        source.seek(0)
        _add(tar, {"files": {}}, name, source, size)


# --- taking one


def restore(path, now=None):
    """Put an archive into a new, empty studio. Answers its manifest.

    Everything is checked before anything is touched: the names of the members, their sizes and hashes, the migrations,
    and that the studio is empty. Rows go in within one transaction with their numbers counted and their keys followed,
    so a failure leaves the studio empty. Raises BackupRefused.
    """
    settings.DATA.mkdir(mode=0o700, parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=settings.DATA, prefix="restore-") as folder:
        folder = Path(folder)
        _unpack(path, folder)
        manifest = _read_manifest(folder)
        _compare(folder, manifest)
        _refuse_other_schema(manifest)
        _make_tables()
        _refuse_full_studio()
        try:
            with transaction.atomic():
                _load(folder, manifest)
                _jump_codes(now or timezone.now())
                _put_files_back(folder, manifest)
        except UNFIT as error:
            raise BackupRefused(
                f"The rows in this archive do not fit together, and nothing was taken: {error}"
            ) from error
    return manifest


def _unpack(path, folder):
    try:
        with tarfile.open(path, mode="r:") as tar:
            for member in tar:
                target = folder / _safe(member)
                if target.exists():
                    raise BackupRefused(f"This archive holds {member.name} twice. Take another one.")
                target.parent.mkdir(parents=True, exist_ok=True)
                with tar.extractfile(member) as source, target.open("wb") as sink:
                    shutil.copyfileobj(source, sink)
    except (tarfile.TarError, EOFError) as error:
        raise BackupRefused(f"{path} is not a whole backup of a studio. Take another one.") from error
    except OSError as error:
        raise BackupRefused(f"{path} cannot be read: {error.strerror or error}.") from error


def _safe(member):
    """The member's path inside the archive, refused where it could lead anywhere else."""
    parts = PurePosixPath(member.name).parts
    known = member.name == "manifest.json" or (len(parts) > 1 and parts[0] in ("tables", "media"))
    # A hollow (sparse) file brings a few bytes and would be as large on the disk as it says.
    plain = member.isfile() and not member.issparse()
    if not (plain and known) or ".." in parts or "\\" in member.name or "\0" in member.name:
        raise BackupRefused(f"This archive holds {member.name!r}, which is not part of a backup. Nothing was taken.")
    return PurePosixPath(member.name)


def _read_manifest(folder):
    try:
        manifest = json.loads((folder / "manifest.json").read_text())
        known = manifest["format"] == FORMAT
        told = [of["sha256"] for of in manifest["files"].values()]
        whole = isinstance(manifest["tables"], dict) and all(isinstance(text, str) for text in told)
        migrations = all(isinstance(name, str) for name in manifest["migrations"])
    except (OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError) as error:
        raise BackupRefused("This archive has no list of what is in it. Take another one.") from error
    if not (whole and migrations):
        raise BackupRefused("This archive has no list of what is in it that can be read. Take another one.")
    if not known:
        raise BackupRefused("This archive was made by a newer Clearbath. Update this one first, then restore.")
    return manifest


def _compare(folder, manifest):
    found = {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()} - {"manifest.json"}
    odd = sorted(found ^ set(manifest["files"]))
    if odd:
        raise BackupRefused(
            f"This archive is not whole: {odd[0]} is missing from it or from its list. Take another one."
        )
    for name, told in manifest["files"].items():
        with (folder / name).open("rb") as source:
            if hashlib.file_digest(source, "sha256").hexdigest() != told["sha256"]:
                raise BackupRefused(f"{name} in this archive is damaged or was changed. Take another one.")


def _refuse_other_schema(manifest):
    here, there = set(_migrations(MigrationLoader(None).disk_migrations)), set(manifest["migrations"])
    if there - here:
        raise BackupRefused("This archive was made by a newer Clearbath. Update this one first, then restore.")
    if here - there:
        raise BackupRefused(
            "This archive was made by an older Clearbath. Restore it with that version, then update: the update brings "
            "the rows up to date."
        )
    if set(manifest["tables"]) != {model._meta.db_table for model in _models()}:
        raise BackupRefused(
            "This archive has other tables than this Clearbath. Restore it with the version that made it."
        )


def _make_tables():
    """A database that no studio was started on yet has no tables to put the rows into."""
    if Studio._meta.db_table not in connection.introspection.table_names():
        call_command("migrate", interactive=False, verbosity=0, skip_checks=True)


def _refuse_full_studio():
    kept = {Studio, Studio.history.model}  # the settings, which are there as soon as a page was opened
    for model in sorted(_models(), key=lambda model: hasattr(model, "history_type")):
        if model not in kept and QuerySet(model).exists():
            raise BackupRefused(
                f"This studio is not empty: it has {model._meta.verbose_name_plural}. Restore into a new data folder "
                "or an empty database, so that nothing is overwritten."
            )


def _load(folder, manifest):
    QuerySet(Studio).delete()
    QuerySet(Studio.history.model).delete()
    for model in _models():
        table = model._meta.db_table
        number = 0
        with (folder / "tables" / f"{table}.jsonl").open(encoding="utf-8") as lines:
            for rows in _in_parts(json.loads(line) for line in lines):
                _insert(model, rows)
                number += len(rows)
        if number != manifest["tables"][table]:
            raise ValueError(f"{table} has {number} rows, and the list says {manifest['tables'][table]}.")
    connection.check_constraints()
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), _models()):
            cursor.execute(statement)


def _in_parts(rows):
    part = []
    for row in rows:
        part.append(row)
        if len(part) == ROWS_AT_ONCE:
            yield part
            part = []
    if part:
        yield part


def _insert(model, rows):
    # Past the models' own `save`: a row comes back as it was, with its own times.
    fields = model._meta.concrete_fields
    quote = connection.ops.quote_name
    columns = ", ".join(quote(field.column) for field in fields)
    marks = ", ".join(["%s"] * len(fields))
    values = [
        [field.get_db_prep_save(field.to_python(row[field.attname]), connection) for field in fields] for row in rows
    ]
    with connection.cursor() as cursor:
        cursor.executemany(f"INSERT INTO {quote(model._meta.db_table)} ({columns}) VALUES ({marks})", values)


def _jump_codes(now):
    studio = Studio.get()
    year = max(studio.run_year, timezone.localtime(now).year)
    number = studio.run_number if studio.run_year == year else 0
    number = (number // CODE_GAP + (1 if number % CODE_GAP == 0 else 2)) * CODE_GAP
    QuerySet(Studio).update(run_year=year, run_number=number)


def _put_files_back(folder, manifest):
    for name in manifest["files"]:
        if name.startswith("media/"):
            stored = name.removeprefix("media/")
            # The studio is empty, so a file of this name is what an interrupted restore left behind.
            if default_storage.exists(stored):
                default_storage.delete(stored)
            with (folder / name).open("rb") as source:
                if default_storage.save(stored, File(source)) != stored:
                    raise ValueError(f"{stored} could not be stored under its own name.")
