"""The answers for what went wrong before a view could speak: a sentence for people, JSON for machines."""

from django.http import HttpResponseBadRequest, JsonResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.views.decorators.csrf import requires_csrf_token

STALE = (
    "This page was open for too long, or you have signed in again since, so what you sent was not taken. Go back: "
    "what you typed is still there. Load a fresh page in another tab, and copy it over."
)


@requires_csrf_token
def csrf_failure(request, reason=""):
    """A form without a token that fits: nothing was stored, and the phone keeps its copy."""
    if wants_json(request):
        return JsonResponse({"error": "csrf", "sentence": STALE}, status=403)
    return render(request, "403_csrf.html", {"sentence": STALE}, status=403)


NOT_UNDERSTOOD = (
    "This can't be understood: it may be too large, or it lost a part on the way. Nothing of it was stored: send it "
    "once more, in smaller parts if there is a lot of it."
)


def bad_request(request, exception=None):
    """What was sent can't be read. So it is not read for this answer either, as Django's own would."""
    if wants_json(request):
        return JsonResponse({"error": "not_understood", "sentence": NOT_UNDERSTOOD}, status=400)
    return HttpResponseBadRequest(render_to_string("400.html"))


def wants_json(request):
    return request.headers.get("Accept", "").startswith("application/json")
