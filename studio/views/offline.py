"""What a phone asks for to work without a network: the worker, its one page, the manifest, a fresh token."""

import json

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import etag, require_safe

from studio import offline

PAPER = "#f8f8f6"


@login_not_required
@require_safe
@etag(lambda request: f'"{offline.version()}"')
def worker(request):
    """The service worker. It stands at the top, as it may only serve what is below its own address.

    After an update of the program a phone hears of a newer one within the hour; its pages are new at once.
    """
    if not offline.has_worker():
        raise Http404
    said = f'"use strict";\nconst OURS = {json.dumps(offline.facts())};\n{offline.worker_source()}'
    return HttpResponse(
        said,
        content_type="text/javascript",
        headers={"Cache-Control": "max-age=3600", "Service-Worker-Allowed": "/"},
    )


@login_not_required
@require_safe
def shell(request):
    return HttpResponse(offline.shell(), headers={"Cache-Control": "no-cache"})


@login_not_required
@require_safe
def manifest(request):
    """How the studio looks among the phone's own programs."""
    said = {
        "id": "/",
        "name": "Clearbath",
        "short_name": "Clearbath",
        "description": "The batch journal of a dye studio.",
        "start_url": reverse("home"),
        "scope": "/",
        "display": "standalone",
        "background_color": PAPER,
        "theme_color": PAPER,
        "icons": [
            {"src": static("studio/mark.svg"), "sizes": "any", "type": "image/svg+xml"},
            icon("mark-192.png", 192),
            icon("mark-512.png", 512),
            icon("mark-full-192.png", 192, purpose="maskable"),
            icon("mark-full-512.png", 512, purpose="maskable"),
        ],
    }
    answer = JsonResponse(said, headers={"Cache-Control": "max-age=86400"})
    answer.headers["Content-Type"] = "application/manifest+json"
    return answer


def icon(name, size, **more):
    return {"src": static(f"studio/{name}"), "sizes": f"{size}x{size}", "type": "image/png"} | more


@never_cache
@require_safe
def signed_in(request):
    """Who is signed in here, with a fresh token beside it (in the cookie) for what waits to be sent."""
    get_token(request)
    return JsonResponse({"person": request.user.pk, "name": request.user.name})
