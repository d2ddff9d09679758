"""The studio's page: its settings for the owner, the facts for everybody else, and the way to what is kept here."""

from django.conf import settings
from django.contrib import messages
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.views.decorators.http import require_http_methods, require_safe

from studio import territory
from studio.cautions import CAUTIONS, DEFERS
from studio.doors import allows
from studio.forms.first import FirstStudioForm, proposed_for
from studio.forms.studio import StudioSettingsForm
from studio.models import Studio

LINKS = (
    ("studio:account", "Account", "Your password, and signing out."),
    ("studio:people", "People", "Who signs in, and what they may do."),
    ("recipes:house", "What you usually do and say", "Steps as usual and places on the yarn, for the sink."),
    ("batches:weigh-in", "Weigh-in", "Every jar and bottle touched today, one number each."),
    ("batches:board", "Board", "For a tablet on the wall: every pot, what is next, due and waited for."),
    ("recipes:sums", "The sums", "Depth, stock, bath, cost and price, each with your own numbers."),
    ("studio:cautions", "The cautions", "Powder, acid, heat and what is left over."),
    ("batches:export", "Take it all out", "Everything that is kept here, as files."),
)


@require_http_methods(["GET", "HEAD", "POST"])
def settings_page(request):
    studio = Studio.get()
    if not request.user.is_owner:
        return render(request, "studio/studio_facts.html", {"links": links_for(request.user)})
    if request.method != "POST":
        everywhere = request.GET.get("zones") == "all"
        return _page(request, StudioSettingsForm(instance=studio, everywhere=everywhere))
    form = StudioSettingsForm(request.POST, instance=studio)
    if not form.is_valid():
        return _page(request, form, status=422)
    form.save()
    messages.success(request, "The settings are kept.")
    return redirect("studio:studio")


@require_http_methods(["GET", "HEAD", "POST"])
def first(request):
    """Where the studio is, asked once at the beginning: a country proposes, the owner looks and keeps it."""
    studio, languages = Studio.get(), territory.languages_of(request.headers.get("Accept-Language", ""))
    if request.method != "POST":
        form = FirstStudioForm(instance=studio, initial=_first_values(studio, languages))
    elif "propose" in request.POST:
        country = request.POST.get("country", "")
        typed = {"name": request.POST.get("name", ""), "country": country}
        form = FirstStudioForm(instance=studio, initial=proposed_for(country, languages, settings.TIME_ZONE) | typed)
    else:
        form = FirstStudioForm(request.POST, instance=studio)
        if form.is_valid():
            form.save()
            messages.success(request, "That is the studio.")
            return redirect("home")
    return render(request, "studio/first.html", {"form": form}, status=422 if form.is_bound else 200)


def _first_values(studio, languages):
    """What was kept before; in a new studio what the browser's language lets one guess, and nothing else."""
    if studio.is_said:
        return {"country": studio.locale.partition("_")[2]}
    return proposed_for(territory.country_of(languages), languages, settings.TIME_ZONE)


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


@require_safe
def cautions(request):
    """Every caution in one place."""
    context = {"cautions": CAUTIONS.values(), "defers": DEFERS, "here": "studio"}
    return render(request, "studio/cautions.html", context)
