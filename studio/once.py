"""A form that makes something is taken once, however often its page is sent."""

from uuid import UUID

from django.db import IntegrityError, transaction
from django.shortcuts import redirect
from django.utils import timezone

from studio.models import Taken


def only_once(request, once_id, act):
    """Run `act` and go to the page of what it made; for a form taken before, go to that same page.

    `once_id`: the UUID that came with the page. `act()` returns a url or a record with `get_absolute_url`, and
    what it raises reaches the caller with nothing stored.
    """
    try:
        url = _take(request.user, once_id, act)
    except IntegrityError:
        # Two copies at the same moment: the database let one through, and what the other did is undone.
        before = taken(once_id)
        if before is None:
            raise
        url = before.url
    return redirect(url)


def taken_before(request):
    """Where this very page went when this person sent it before, or None."""
    number = number_of(request.POST.get("once"))
    before = taken(number) if number else None  # a page without its number is told so by its form
    return before.url if before and before.by_id == request.user.pk else None


class OnceMiddleware:
    """Answers a page that was taken before with where it went, before its view can find fault with it.

    By then the name it gave is in use, and the yarn it took is gone. So no view has to ask.
    """

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        return self.get_response(request)

    def process_view(self, request, view, args, kwargs):
        before = taken_before(request) if request.method == "POST" else None
        return redirect(before) if before else None


def number_of(said):
    """The number, a UUID, that a page or a phone gave to what it sent; None for what is none."""
    try:
        return UUID(str(said)[:60])
    except ValueError:
        return None


def taken(once_id):
    return Taken.objects.filter(pk=once_id).first()


@transaction.atomic
def _take(person, once_id, act):
    if before := taken(once_id):
        return before.url
    made = act()
    url = made if isinstance(made, str) else made.get_absolute_url()
    Taken(id=once_id, url=url, at=timezone.now(), by=person).save()
    return url
