"""Signing in and out, and making the first account."""

from datetime import timedelta
from math import ceil

from axes.models import AccessAttempt
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import authenticate, login, logout
from django.contrib.auth.decorators import login_not_required
from django.db import transaction
from django.db.models import Max
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from studio import setup_token
from studio.forms.door import SetUpForm, SignInForm
from studio.headers import attempted_name
from studio.models import Person, Role, Studio
from studio.units import write_count

BACKEND = "django.contrib.auth.backends.ModelBackend"
WRONG = "This name and this password do not go together: check both, and try again."
LONGEST_ADDRESS = 2000


@login_not_required
@sensitive_post_parameters("password")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in(request):
    if request.method == "POST":
        return _sign_in(request)
    if request.user.is_authenticated and not request.user.on_phone:
        return redirect(back_to(request))
    return _sign_in_page(request, SignInForm())


def _sign_in(request):
    form = SignInForm(request.POST)
    if not form.is_valid():
        return _sign_in_page(request, form, status=422)
    typed = form.cleaned_data
    person = authenticate(request, username=typed["username"], password=typed["password"])
    if person is None:
        form.add_error(None, WRONG)
        return _sign_in_page(request, form, status=422)
    # Django goes on with a session that was this person's before: one that leaked must end here, and with it what a
    # trusted phone's own session is held to.
    request.session.flush()
    login(request, person)
    return redirect(first_day(request, person) or back_to(request))


def first_day(request, person):
    """The page of the first day, once for each helper who was going nowhere in particular; else ""."""
    if person.role != Role.HELPER or person.welcomed_at or asked_for(request) not in ("", settings.LOGIN_REDIRECT_URL):
        return ""
    try:
        page = reverse("batches:first-day")
    except NoReverseMatch:  # a room that is not there
        return ""
    Person.objects.filter(pk=person.pk).update(welcomed_at=timezone.now())
    return page


def locked_out(request, response, credentials):
    """What axes shows instead of our own answer after too many wrong passwords."""
    minutes = _minutes_to_wait(request, credentials)
    form = SignInForm(request.POST)
    form.full_clean()
    form.add_error(
        None,
        f"There were too many wrong passwords for this name from here. Wait {write_count(minutes, 'minute')}, "
        "then try again.",
    )
    answer = _sign_in_page(request, form, status=429)
    answer.headers["Retry-After"] = str(minutes * 60)
    return answer


def _minutes_to_wait(request, credentials):
    tries = AccessAttempt.objects.filter(
        username=attempted_name(request, credentials), ip_address=request.axes_ip_address
    )
    last = tries.aggregate(last=Max("attempt_time"))["last"] or timezone.now()
    left = last + settings.AXES_COOLOFF_TIME - timezone.now()
    return max(1, ceil(left / timedelta(minutes=1)))


def _sign_in_page(request, form, status=200):
    if request.who.names:  # or a keyboard would stand before the names
        form.fields["username"].widget.attrs.pop("autofocus", None)
    context = {"form": form, "next": back_to(request), "empty": not Person.objects.exists()}
    return render(request, "studio/sign_in.html", context, status=status)


def back_to(request):
    """Where the person was going: an address of this studio, else the first page."""
    return asked_for(request, LONGEST_ADDRESS) or settings.LOGIN_REDIRECT_URL


def asked_for(request, longest=200):
    """The address of this studio that the page was asked to lead on to, as `?next=/`; "" where there is none."""
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    fits = wanted.startswith("/") and wanted.isprintable() and len(wanted) <= longest
    return wanted if fits and url_has_allowed_host_and_scheme(wanted, allowed_hosts=None) else ""


@require_POST
def sign_out(request):
    logout(request)
    messages.success(request, "You are signed out on this device.")
    return redirect("studio:sign-in")


@login_not_required
@sensitive_post_parameters("password", "again", "key")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def set_up(request):
    """The page behind the one-time link: whoever holds its key makes the owner's account."""
    key = request.POST.get("key") or request.GET.get("key") or ""
    if Person.objects.exists() or not setup_token.verify(key):
        return _shut(request)
    if request.method != "POST":
        return render(request, "studio/set_up.html", {"form": SetUpForm(), "key": key})
    form = SetUpForm(request.POST)
    if not form.is_valid():
        return render(request, "studio/set_up.html", {"form": form, "key": key}, status=422)
    # Of two that send the same key at once, one alone burns it.
    if not setup_token.burn(key):
        return _shut(request)
    owner = make_studio(**form.cleaned_data)
    login(request, owner, backend=BACKEND)
    messages.success(request, f"{form.cleaned_data['studio']} is set up, and you are its owner.")
    return redirect("studio:first")


@transaction.atomic
def make_studio(*, studio, name, password, **_):
    row = Studio.get()
    row.name, row.time_zone = studio, settings.TIME_ZONE
    row.save()
    return Person.objects.create_person(name, password, Role.OWNER)


def _shut(request):
    return render(request, "studio/set_up_shut.html", {"made": Person.objects.exists()}, status=404)
