"""Where the studio is: its time zone, units, money and language, for as long as one request takes."""

from zoneinfo import ZoneInfo

from django.utils import timezone

from studio import writing
from studio.context import the_studio


def in_the_studio(get_response):
    """Middleware: forms read, and pages write, as the studio does. `request.studio` is its row, or None."""

    def middleware(request):
        request.studio = the_studio()
        try:
            if request.studio:
                writing.activate(request.studio)
                set_clock(request.studio)
            return get_response(request)
        finally:
            writing.deactivate()
            timezone.deactivate()

    return middleware


def set_clock(studio):
    try:
        timezone.activate(ZoneInfo(studio.time_zone))
    except (KeyError, ValueError, OSError):
        timezone.deactivate()  # a zone this computer no longer knows: the server's own, and no broken page
