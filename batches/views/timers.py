"""What is due, fetched anew by a page that stays open: another phone may have begun or ended something."""

from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from batches.models import Batch


@never_cache
@require_GET
def timers(request):
    """The part of the sink page of `pot`, or else the bar of any other page."""
    pot = request.GET.get("pot", "")
    batch = Batch.objects.filter(pk=pot).first() if pot.isdecimal() and len(pot) < 18 else None
    return render(request, "batches/_timers_anew.html", {"batch": batch})
