"""What every page may say without its view having to fetch it."""

from django.conf import settings
from django.db import DatabaseError

from studio import offline, writing
from studio.models import Studio


def frame(request):
    """The studio, and whether others could listen in. Also makes the filters write as the studio does."""
    studio = getattr(request, "studio", None) or the_studio()
    if studio:
        writing.activate(studio)
    plain_http = settings.BASE_URL.startswith("http:") and not settings.ONLY_HERE
    return {"studio": studio, "plain_http": plain_http, "worker": offline.has_worker()}


def the_studio():
    """The studio's row, or None before there is one: a page that only reads must not write it."""
    try:
        return Studio.objects.first()
    except DatabaseError:  # an error page must still be drawn
        return None
