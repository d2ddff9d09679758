"""How much may be sent at once: asked of what a request says it brings, before a byte of it is kept anywhere.

Without this, anybody could fill the disk: files are put there before a view, or the doorkeeper, is asked.
"""

from django.conf import settings
from django.http import JsonResponse
from django.shortcuts import render

from studio.views.errors import wants_json

FILES_AT_ONCE = 12  # the largest photos one form takes together
WORDS = settings.DATA_UPLOAD_MAX_MEMORY_SIZE + 100_000  # what stands round them


def most_bytes(person):
    """What this person's form may weigh. Who is signed out sends a name and a password."""
    files = FILES_AT_ONCE * settings.UPLOAD_MB * 1_000_000 if person.is_authenticated else 0
    return files + WORDS


def refuse_too_much(get_response):
    """Middleware, after the one that knows the person."""

    def middleware(request):
        size = sent_bytes(request)
        if size > WORDS and size > most_bytes(request.user):
            return too_large(request)
        return get_response(request)

    return middleware


def sent_bytes(request):
    """The size that the request names. One that names none, or nonsense, is read as empty by Django too."""
    try:
        return int(request.META.get("CONTENT_LENGTH") or 0)
    except ValueError:
        return 0


def too_large(request):
    most = FILES_AT_ONCE * settings.UPLOAD_MB
    sentence = f"What you sent is too large, and nothing of it was stored: send {most} MB at most at once."
    if not request.user.is_authenticated:
        sentence = "What you sent is too large, and nothing of it was stored: sign in first."
    if wants_json(request):
        return JsonResponse({"error": "too_large", "sentence": sentence}, status=413)
    return render(request, "413.html", {"sentence": sentence}, status=413)
