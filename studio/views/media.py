"""Stored pictures, spoken notes and documents, for people who are signed in and nobody else."""

import re

from django.core.files.storage import default_storage
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.text import slugify
from django.views.decorators.http import etag, require_safe

from studio.models import Document, Picture, Sound

# A kept file never changes, so a browser may keep its copy; but only this person's browser.
KEEP = "private, max-age=31536000, immutable"
# Should something other than a picture ever get in: it can run nothing and reach nothing.
HARMLESS = "default-src 'none'; sandbox"


@require_safe
@etag(lambda request, id, size: f'"{id.hex}-{size}"')
def picture(request, id, size):
    if size not in Picture.SIZES:
        raise Http404("There is no such size of a picture.")
    path = get_object_or_404(Picture, pk=id).path(size)
    return _served(FileResponse(_open(path), content_type="image/jpeg"))


ONE_RANGE = re.compile(r"bytes=(?:(?P<first>[0-9]{1,15})-(?P<last>[0-9]{1,15})?|-(?P<end>[0-9]{1,15}))")


@require_safe
@etag(lambda request, id: f'"{id.hex}"')
def sound(request, id):
    """A spoken note, whole or the part that is asked for: some browsers play nothing that can't be had in parts."""
    with _open(get_object_or_404(Sound, pk=id).path) as file:
        whole = file.read()  # under a megabyte
    part = part_asked_for(request, len(whole), f'"{id.hex}"')
    if part is None:
        response = HttpResponse(whole, content_type=M4A)
    elif not part:
        response = HttpResponse(status=416, content_type=M4A)
        response.headers["Content-Range"] = f"bytes */{len(whole)}"
    else:
        response = HttpResponse(whole[part.start : part.stop], status=206, content_type=M4A)
        response.headers["Content-Range"] = f"bytes {part.start}-{part.stop - 1}/{len(whole)}"
    response.headers["Accept-Ranges"] = "bytes"
    return _served(response)


M4A = "audio/mp4"


def part_asked_for(request, size, tag):
    """Which bytes are wanted, as a range; an empty one where there are no such bytes; None where all are wanted.

    RFC 9110, 14.2: what can't be understood, several parts at once, and a part of another file are answered whole.
    """
    found = ONE_RANGE.fullmatch(request.headers.get("Range", "").strip())
    if found is None or request.method != "GET" or request.headers.get("If-Range", tag) != tag:
        return None
    if found["end"] is not None:
        return range(max(size - int(found["end"]), 0), size)
    first = int(found["first"])
    if found["last"] is not None and int(found["last"]) < first:
        return None
    return range(first, size if found["last"] is None else min(int(found["last"]) + 1, size))


@require_safe
@etag(lambda request, id: f'"{id.hex}"')
def document(request, id):
    found = get_object_or_404(Document, pk=id)
    name = f"{slugify(found.title) or 'document'}.pdf"
    return _served(FileResponse(_open(found.path), content_type="application/pdf", as_attachment=True, filename=name))


def _open(path):
    try:
        return default_storage.open(path, "rb")
    except FileNotFoundError:
        raise Http404("The file of this record is missing.") from None


def _served(response):
    response.headers["Cache-Control"] = KEEP
    response.headers["Content-Security-Policy"] = HARMLESS
    response.headers["X-Content-Type-Options"] = "nosniff"
    return response
