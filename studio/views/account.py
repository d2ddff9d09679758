"""One's own page: the password, and signing out."""

from django.contrib import messages
from django.contrib.auth import logout, update_session_auth_hash
from django.shortcuts import redirect, render
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from studio.forms.door import OwnPasswordForm
from studio.models import Role


@sensitive_post_parameters("old", "password", "again")
@require_http_methods(["GET", "HEAD", "POST"])
def account(request):
    if request.method != "POST":
        return render(request, "studio/account.html", _context(request, OwnPasswordForm(person=request.user)))
    form = OwnPasswordForm(request.POST, person=request.user)
    if not form.is_valid():
        return render(request, "studio/account.html", _context(request, form), status=422)
    request.user.set_new_password(form.cleaned_data["password"])
    update_session_auth_hash(request, request.user)
    messages.success(request, "Your password is changed. Your other devices are signed out.")
    return redirect("studio:account")


def _context(request, form):
    return {"form": form, "about": Role(request.user.role).about, "here": "studio"}


@require_POST
def sign_out_everywhere(request):
    request.user.sign_out_everywhere()
    logout(request)
    messages.success(request, "You are signed out on every device.")
    return redirect("studio:sign-in")
