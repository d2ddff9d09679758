"""Stored pictures and documents, for people who are signed in and nobody else."""

from django.core.files.storage import default_storage
from django.http import FileResponse, Http404
from django.shortcuts import get_object_or_404
from django.utils.text import slugify
from django.views.decorators.http import etag, require_safe

from studio.models import Document, Picture

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
