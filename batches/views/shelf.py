"""The shelf, with what plans have spoken for."""

from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from batches.shelf import shelf as everything


@require_safe
def shelf(request):
    return render(request, "batches/shelf.html", {"shelf": everything(timezone.now()), "here": "shelf"})
