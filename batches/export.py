"""Everything the studio holds, in formats that any program opens: one CSV a table, and the photographs and sheets."""

import io
import tempfile
import zipfile

from django.apps import apps
from django.core.files.storage import default_storage

from studio import spreadsheet
from studio.models import Document, Picture, Sound, Taken

from .models import Index, IndexCard, IndexPart, IndexWord, IndexYear, Stale

OURS = ("studio", "recipes", "batches")
LEFT_OUT = {
    "password",
    "last_login",
    "sessions_since",
    "welcomed_at",
    "key_hash",
    "by_hash",
    "digest",
    "folded",
    "folded_more",
}
BOOKKEEPING = (Taken, Index, IndexYear, IndexWord, IndexCard, IndexPart, Stale)
CHUNK = 500
ABOUT = """These are all the records of {studio}, as they were on {day}.

One CSV file for each kind of record, named by its room and its kind: studio-lot.csv holds every delivery line and
every bottle, batches-entry.csv every line of every log. The first row names the columns; a column ending in _id
holds the "id" of a row in another file. Amounts are in g and mL, temperatures in degrees Celsius, times in UTC, and
money in the smallest unit of its currency. An apostrophe before a text that begins with =, +, - or @ keeps a
spreadsheet from running it.

The photographs lie in the folder pictures, named by the id of their row in studio-picture.csv, and the spoken notes
likewise in the folder sounds.
"""


def tables():
    """The models whose rows are the studio's own, history and bookkeeping of pages left out."""
    for label in OURS:
        for model in apps.get_app_config(label).get_models(include_auto_created=True):
            if model not in BOOKKEEPING and not model.__name__.startswith("Historical"):
                yield model


def columns_of(model):
    return [field for field in model._meta.concrete_fields if field.name not in LEFT_OUT]


def csv_of(model):
    """A table's lines of CSV, the names of the columns first. Read in chunks: a log grows long."""
    names = [field.attname for field in columns_of(model)]
    yield from spreadsheet.lines([names])
    yield from spreadsheet.lines(model._base_manager.order_by("pk").values_list(*names).iterator(chunk_size=CHUNK))


def write(studio, day):
    """A zip file, open at its beginning, of everything. The caller closes it."""
    file = tempfile.TemporaryFile()  # noqa: SIM115  the answer that sends it closes it
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("about.txt", ABOUT.format(studio=studio.name, day=day.isoformat()))
        for model in tables():
            with archive.open(f"{model._meta.app_label}-{model._meta.model_name}.csv", "w") as table:
                table.writelines(line.encode() for line in csv_of(model))
        for picture in Picture.objects.iterator(chunk_size=CHUNK):
            add(archive, picture.path("large"), f"pictures/{picture.pk}.jpg")
        for sound in Sound.objects.iterator(chunk_size=CHUNK):
            add(archive, sound.path, f"sounds/{sound.pk}.m4a")
        for document in Document.objects.iterator(chunk_size=CHUNK):
            add(archive, document.path, f"documents/{document.pk}.pdf")
    file.seek(0)
    return file


def add(archive, path, name):
    """A stored file as it is; photographs do not get smaller by packing."""
    if default_storage.exists(path):
        with default_storage.open(path) as stored, archive.open(zipfile.ZipInfo(name), "w") as to:
            while piece := stored.read(io.DEFAULT_BUFFER_SIZE * 16):
                to.write(piece)
