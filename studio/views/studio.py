"""The studio's page: its settings for the owner, the facts for everybody else, and the way to what is kept here."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.views.decorators.http import require_http_methods

from studio.doors import allows
from studio.forms.studio import StudioSettingsForm
from studio.models import Studio

LINKS = (
    ("studio:account", "Account", "Your password, and signing out."),
    ("studio:people", "People", "Who signs in, and what they may do."),
    ("batches:weigh-in", "Weigh-in", "Every jar and bottle touched today, one number each."),
    ("batches:export", "Take it all out", "Everything that is kept here, as files."),
)


@require_http_methods(["GET", "HEAD", "POST"])
def settings_page(request):
    studio = Studio.get()
    if not request.user.is_owner:
        return render(request, "studio/studio_facts.html", {"links": links_for(request.user)})
    if request.method != "POST":
        return _page(request, StudioSettingsForm(instance=studio))
    form = StudioSettingsForm(request.POST, instance=studio)
    if not form.is_valid():
        return _page(request, form, status=422)
    form.save()
    messages.success(request, "The settings are kept.")
    return redirect("studio:studio")


def _page(request, form, status=200):
    return render(request, "studio/studio.html", {"form": form, "links": links_for(request.user)}, status=status)


def links_for(person):
    """(address, name, what is there) of the pages behind this one that this person may open."""
    for view_name, name, about in LINKS:
        if allows(person, view_name):
            try:
                yield reverse(view_name), name, about
            except NoReverseMatch:
                continue
