"""The board on the wall, and the part of it that is fetched anew."""

from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from batches import board as the_board

FRESH_S = 25  # how often it is fetched anew


@never_cache
@require_GET
def board(request):
    cards, more = the_board.cards()
    context = {
        "cards": cards,
        "more": more,
        "many": len(cards) > the_board.MANY,
        "waits": the_board.waiting(),
        "now": timezone.now(),
        "fresh_s": FRESH_S,
    }
    template = "batches/_board.html" if "part" in request.GET else "batches/board.html"
    return render(request, template, context)
