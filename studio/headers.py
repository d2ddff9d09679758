"""What we read from a request's headers about the caller, and what we add to every answer's."""

import re
from ipaddress import ip_address

from django.conf import settings
from django.middleware.gzip import GZipMiddleware

# Some proxies write the port behind it.
ADDRESS = re.compile(r"\[(?P<six>[^\]%]+)\](:[0-9]+)?|(?P<four>[0-9.]+):[0-9]+|[0-9a-fA-F:.]+")

PERMISSIONS_POLICY = ", ".join(
    [
        "camera=(self)",
        "microphone=(self)",
        "screen-wake-lock=(self)",
        "geolocation=()",
        "payment=()",
        "usb=()",
    ]
)


def permissions_policy(get_response):
    """Middleware: the phone's camera, its microphone and staying awake are ours; the rest of the device is nobody's."""

    def middleware(request):
        response = get_response(request)
        if request.path.startswith(settings.STATIC_URL):  # a file obeys the page that asks for it
            response.headers.pop("Cross-Origin-Opener-Policy", None)  # said ten times, it would weigh half a kilobyte
        else:
            response.headers.setdefault("Permissions-Policy", PERMISSIONS_POLICY)
        return response

    return middleware


class PackPages(GZipMiddleware):
    """Pages travel compressed, a fifth of their size over slow Wi-Fi; photos, PDFs and archives are so already.

    What a page repeats back and what is secret in it (the token of its forms) would show in its compressed size, so
    that token is masked anew each time and Django adds a random length.
    """

    PACKED = ("text/html", "application/json", "text/plain", "image/svg+xml")

    def process_response(self, request, response):
        if not response.headers.get("Content-Type", "").startswith(self.PACKED):
            return response
        return super().process_response(request, response)


def caller_address(request):
    """The network address of the device that asked, as text.

    Anyone can send X-Forwarded-For, so it counts only behind our own proxy, and then only its last part, the
    one that the proxy itself added. What is no address there is left out: a database may refuse to keep it.
    """
    if settings.BEHIND_PROXY:
        forwarded = request.META.get("HTTP_X_FORWARDED_FOR", "").rpartition(",")[2].strip()
        if found := ADDRESS.fullmatch(forwarded):
            try:
                return str(ip_address(found["six"] or found["four"] or forwarded))
            except ValueError:
                pass
    return request.META.get("REMOTE_ADDR", "")


def attempted_name(request, credentials):
    """The name somebody tried to sign in with, written one way, as capitals do not matter at the door."""
    given = (credentials or {}).get("username") or request.POST.get("username", "")
    return given.strip().casefold()[:255]
