"""Trusting a phone, and touching a name on it."""

from django.contrib import messages
from django.contrib.auth import authenticate
from django.contrib.auth.decorators import login_not_required
from django.http import JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from studio import phones
from studio.forms.phones import TrustForm
from studio.models import Phone
from studio.views.door import back_to, first_day
from studio.views.errors import wants_json

NOT_TRUSTED = "This phone is not trusted, or no longer: sign in with your password."
NOT_HERE = "That name does not dye here, or no longer: touch another one."
WRONG = "This is not your password: type it again."


@login_not_required
@never_cache
@require_POST
def who(request):
    """A name was touched. One's own name changes nothing for who signed in with a password."""
    phone = request.who.phone
    if phone is None:
        return _refused(request, NOT_TRUSTED, "studio:sign-in", 403)
    person = next((one for one in request.who.names if str(one.pk) == request.POST.get("by")), None)
    if person is None:
        return _refused(request, NOT_HERE, back_to(request), 422)
    since = request.who.since
    if request.who.by_touch or person != request.user:
        since = phones.touch(request, phone, person, now=timezone.now())
    if wants_json(request):
        answer = JsonResponse({"by": person.pk, "since": since})
    else:
        answer = redirect(first_day(request, person) or back_to(request))
    phones.give_key(answer, request.COOKIES[phones.COOKIE])
    return answer


def _refused(request, sentence, to, status):
    if wants_json(request):
        return JsonResponse({"error": "not_here", "sentence": sentence}, status=status)
    messages.error(request, sentence)
    return redirect(to)


@sensitive_post_parameters("password")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def trust(request):
    """An owner trusts the device in their hand. Their password is asked for: the phone may lie about, unlocked."""
    form = TrustForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        typed = form.cleaned_data
        # Counted like a sign-in, so that nobody tries passwords here instead.
        if authenticate(request, username=request.user.name, password=typed["password"]) == request.user:
            return _trusted(request, typed["name"])
        form.add_error("password", WRONG)
    context = {"form": form, "phone": request.who.phone, "here": "studio"}
    return render(request, "studio/phone_trust.html", context, status=422 if form.is_bound else 200)


def _trusted(request, name):
    phone, key = phones.trust(request, name)
    messages.success(
        request, f"This is {phone.name} now, and it is trusted. Sign out, and whoever dyes touches a name."
    )
    answer = redirect("studio:people")
    phones.give_key(answer, key)
    return answer


@require_POST
def stop(request, pk):
    phone = get_object_or_404(Phone, pk=pk)
    is_this = request.who.phone == phone
    phones.stop(request, phone)
    messages.success(request, f"{phone.name} is no longer trusted: names can't be touched there any more.")
    answer = redirect("studio:people")
    if is_this:
        phones.take_key(answer)
    return answer
