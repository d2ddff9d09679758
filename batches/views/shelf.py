"""The shelf, with what plans have spoken for."""

from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from batches.shelf import shelf as everything
from studio.forms.text import tidy

MOST_WORDS = 80


@require_safe
def shelf(request):
    whole = everything(timezone.now())
    words = tidy(request.GET.get("q", "")).strip()[:MOST_WORDS]
    shown = whole.only(words) if words else whole
    return render(request, "batches/shelf.html", {"shelf": shown, "whole": whole, "words": words, "here": "shelf"})
