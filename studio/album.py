"""Keeping pictures, spoken notes and documents: their files in the storage first, then the row that names them."""

import hashlib
from uuid import uuid4

from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import IntegrityError, transaction
from django.utils import timezone

from studio import darkroom, sound
from studio.darkroom import develop
from studio.forms.fields import FIRST_YEAR, LAST_YEAR
from studio.models import Document, Picture, Sound
from studio.upload import read_at_most

PDF_STARTS = b"%PDF-"
PDF_ENDS = b"%%EOF"
PDF_TAIL_BYTES = 1024  # ISO 32000-1, annex H: readers look for the end in the last 1024 bytes


class NotADocument(ValueError):
    """A file that can't be kept as a document; the text is a sentence for the person who chose it."""


def keep_picture(file, by, clock=timezone.now, id=None, taken_at=None):
    """Develop an uploaded photo and keep it. The same `id` again gives the picture that was kept.

    `taken_at`: when it was taken, as the phone says; the time in the photo itself stands before it.
    Raises darkroom.NotAPhoto with a sentence. Do this outside a transaction: it takes a moment.
    """
    id = id or uuid4()
    if stored := Picture.objects.filter(pk=id).first():
        return stored
    return keep_photo(develop(file, max_bytes=most_bytes()), by, clock, id, taken_at)


def keep_photo(photo, by, clock=timezone.now, id=None, taken_at=None):
    """Keep a developed photo (darkroom.Photo)."""
    picture = Picture(
        id=id or uuid4(),
        width=photo.width,
        height=photo.height,
        sha256=photo.sha256,
        taken_at=_camera_time(photo.taken_at) or taken_at,
        received_at=clock(),
        by=by,
    )
    for size, jpeg in photo.sizes.items():
        _put(picture.path(size), jpeg)
    return _keep(picture)


def keep_crop(picture, across_pct, down_pct, size_pct, by, clock=timezone.now, id=None):
    """Keep a 4:5 crop of a kept picture, as a picture of its own. The same `id` again gives the crop that was kept.

    The numbers are as `darkroom.frame_of` takes them. The whole picture stays as it is, and a crop is never
    cropped again.
    """
    id = id or uuid4()
    if stored := Picture.objects.filter(pk=id).first():
        return stored
    whole = picture.crop_of or picture
    with default_storage.open(whole.path("large"), "rb") as file:
        sizes, (width, height) = darkroom.crop(file.read(), across_pct, down_pct, size_pct)
    crop = Picture(
        id=id,
        width=width,
        height=height,
        sha256=whole.sha256,
        taken_at=whole.taken_at,
        received_at=clock(),
        by=by,
        crop_of=whole,
        across_pct=across_pct,
        down_pct=down_pct,
        size_pct=size_pct,
    )
    for size, jpeg in sizes.items():
        _put(crop.path(size), jpeg)
    return _keep(crop)


def keep_sound(file, by, clock=timezone.now, id=None):
    """Keep an uploaded spoken note, made anew. The same `id` again gives the one that was kept.

    Raises sound.NotASound with a sentence. Do this outside a transaction: it takes a moment.
    """
    id = id or uuid4()
    if stored := Sound.objects.filter(pk=id).first():
        return stored
    spoken = sound.press(file, max_bytes=most_bytes())
    kept = Sound(id=id, seconds=spoken.seconds, size=len(spoken.m4a), sha256=spoken.sha256, received_at=clock(), by=by)
    _put(kept.path, spoken.m4a)
    return _keep(kept)


def keep_document(file, title, by, clock=timezone.now, id=None):
    """Keep an uploaded PDF. The same `id` again gives the document that was kept. Raises NotADocument."""
    id = id or uuid4()
    if stored := Document.objects.filter(pk=id).first():
        return stored
    raw = _pdf(file)
    digest = hashlib.sha256(raw).hexdigest()
    document = Document(id=id, title=title[:120], size=len(raw), sha256=digest, received_at=clock(), by=by)
    _put(document.path, raw)
    return _keep(document)


def _keep(row):
    try:
        with transaction.atomic():
            row.save()
    except IntegrityError:
        # The same upload came twice at once; the other one's row is there by now.
        stored = type(row).objects.filter(pk=row.pk).first()
        if stored is None:
            raise
        return stored
    return row


def _put(path, content):
    """Write a file under exactly this name: what lies there is of an upload with this id that broke off."""
    default_storage.delete(path)
    stored_as = default_storage.save(path, ContentFile(content))
    if stored_as != path:
        raise OSError(f"The storage kept {path} as {stored_as}.")


def _pdf(file):
    """The bytes of a whole PDF. Only its two ends are looked at; it is served as a download, never shown."""
    most = most_bytes()
    raw = read_at_most(file, most)
    if not raw:
        raise NotADocument("The file is empty: nothing arrived. Choose it again.")
    if len(raw) > most:
        raise NotADocument(f"This file is larger than {settings.UPLOAD_MB} MB. Choose a smaller one.")
    if not raw.startswith(PDF_STARTS):
        raise NotADocument("This file is not a PDF. Choose the PDF, or save the page as one first.")
    if PDF_ENDS not in raw[-PDF_TAIL_BYTES:]:
        raise NotADocument("This PDF is cut off before its end. Fetch it once more, and choose it again.")
    return raw


def most_bytes():
    return settings.UPLOAD_MB * 1_000_000


def _camera_time(naive):
    """The camera's own clock in the studio's zone; one that shows no real time counts as not known."""
    if naive is None or not FIRST_YEAR <= naive.year <= LAST_YEAR:
        return None
    return timezone.make_aware(naive)
