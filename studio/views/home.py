"""The first page."""

from django.shortcuts import redirect
from django.urls import NoReverseMatch
from django.views.decorators.http import require_safe


@require_safe
def home(request):
    try:
        return redirect("batches:journal")
    except NoReverseMatch:
        return redirect("studio:studio")
