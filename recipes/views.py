"""Colourways as they are named, and the versions of how to dye them."""

from django.contrib import messages
from django.db import IntegrityError
from django.db.models import prefetch_related_objects
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.models import Assistant, Dye, KeptForever, Solution
from studio.naming import joined
from studio.once import only_once, taken

from . import meaning
from .differences import differences
from .forms import ColourwayForm, VersionForm
from .models import Colourway, Recipe
from .offers import with_steps
from .outline import outline_of, rows_of

HERE = {"here": "colourways"}


@require_http_methods(["GET", "HEAD", "POST"])
def colourway_new(request):
    """Name a colourway; its first version is written on the next page."""
    form = ColourwayForm(request.POST if request.method == "POST" else None)
    if form.is_bound:
        if done := taken_before(form):
            return done
        if form.is_valid() and (done := keep_new(request, form)):
            return done
    return colourway_page(request, form, "A new colourway", "Keep it, and write how it is dyed")


def keep_new(request, form):
    """The way on, or None where somebody took the name in the meantime."""

    def act():
        facts = form.facts() | {"made_at": timezone.now(), "by": request.user}
        return reverse("recipes:write", args=[Colourway.objects.create(**facts).pk])

    try:
        return only_once(request, form.cleaned_data["once"], act)
    except IntegrityError:
        form.add_error("name", form.taken_sentence)
        return None


def taken_before(form):
    """The way to what the first copy of this form made, before the second is judged by what that one changed."""
    form.full_clean()
    once = form.cleaned_data.get("once")
    before = taken(once) if once else None
    return redirect(before.url) if before else None


@require_http_methods(["GET", "HEAD", "POST"])
def colourway_edit(request, pk):
    colourway = get_object_or_404(Colourway, pk=pk)
    form = ColourwayForm(request.POST if request.method == "POST" else None, row=colourway)
    if form.is_bound and form.is_valid():
        try:
            form.keep()
        except IntegrityError:
            form.add_error("name", form.taken_sentence)
        else:
            messages.success(request, f"{colourway.name} is kept.")
            return redirect("recipes:colourway-edit", pk)
    return colourway_page(request, form, f"Change {colourway.name}", "Keep it", colourway)


def colourway_page(request, form, title, button, colourway=None):
    context = {"form": form, "title": title, "button": button, "colourway": colourway} | HERE
    return render(request, "recipes/colourway_form.html", context, status=422 if form.is_bound else 200)


@require_http_methods(["GET", "HEAD", "POST"])
def write(request, pk):
    """Write the next version of a colourway, beginning with the words of an earlier one where there is one."""
    colourway = get_object_or_404(Colourway.objects.select_related("standard"), pk=pk)
    start = beginning(colourway, request.GET.get("from", ""))
    form = VersionForm(request.POST if request.method == "POST" else None, start=start)
    if form.is_bound:
        if done := taken_before(form):
            return done
        if form.is_valid():
            return only_once(request, form.cleaned_data["once"], lambda: write_next(request, form, colourway, start))
    last = colourway.recipes.order_by("-number").values_list("number", flat=True).first() or 0
    return version_page(request, form, colourway, number=last + 1, start=start)


def beginning(colourway, wanted):
    """The version to begin with: the one asked for, else the standard, else the newest, else None."""
    versions = colourway.recipes.all()
    if wanted.isdecimal() and len(wanted) < 18:
        return get_object_or_404(versions, pk=int(wanted))
    return colourway.standard or versions.order_by("-number").first()


def write_next(request, form, colourway, start):
    version = form.write_next(colourway, by=request.user, now=timezone.now(), start=start)
    messages.success(request, f"Version {version.number} is kept.")
    return reverse("recipes:recipe", args=[version.pk])


@require_http_methods(["GET", "HEAD", "POST"])
def recipe_edit(request, pk):
    """Say a version anew while no batch has used it; one that was used begins the next version."""
    version = get_object_or_404(Recipe.objects.select_related("colourway"), pk=pk)
    if version.used_at and request.method != "POST":
        return redirect(next_from(version))
    form = VersionForm(
        request.POST if request.method == "POST" else None, start=version, initial={"note": version.note}
    )
    if form.is_bound:
        if done := taken_before(form):
            return done
        if form.is_valid():
            return only_once(request, form.cleaned_data["once"], lambda: rewrite(request, form, version))
    return version_page(request, form, version.colourway, number=version.number, changes=version)


def next_from(version):
    return f"{reverse('recipes:write', args=[version.colourway_id])}?from={version.pk}"


def rewrite(request, form, version):
    """The version as it is said now; where a batch has used it meanwhile, the next one."""
    try:
        form.rewrite(version)
        messages.success(request, f"Version {version.number} is kept.")
        return reverse("recipes:recipe", args=[version.pk])
    except KeptForever:
        made = form.write_next(version.colourway, by=request.user, now=timezone.now(), start=version)
        messages.success(
            request,
            f"A batch has used version {version.number}, so that one stays as it is: this is version {made.number}.",
        )
        return reverse("recipes:recipe", args=[made.pk])


def version_page(request, form, colourway, **context):
    context = {"form": form, "colourway": colourway, "on_shelf": names_on_shelf()} | context | HERE
    return render(request, "recipes/version_form.html", context, status=422 if form.is_bound else 200)


def names_on_shelf():
    """[(name, colour or "")] that the words of a version may use, dyes first. Three queries."""
    dyes = Dye.objects.filter(retired=False).values_list("name", "colour")
    others = [*Assistant.objects.filter(retired=False), *Solution.objects.filter(retired=False)]
    return [*dyes.order_by("name"), *((str(each), "") for each in others)]


@require_safe
def recipe(request, pk):
    """One version: what the notebook says, and what that means for any weight."""
    with_its_own = Recipe.objects.select_related("colourway__standard", "by", "made_from")
    version = with_steps(get_object_or_404(with_its_own, pk=pk))
    standard = version.colourway.standard
    before = version.made_from or (standard if standard and standard.pk != version.pk else None)
    dyes = meaning.dyes_g(version)
    known = [grams for _, grams in dyes if grams is not None]
    powders = meaning.powders(version)
    context = {
        "recipe": version,
        "colourway": version.colourway,
        "bases": list(version.bases.all()),
        "steps": rows_of(version, [(step, step.ingredients.all()) for step in version.steps.all()]),
        "segments": meaning.segments(dyes, meaning.estimated_dyes(version)),
        "dye_g": sum(known),
        "depth_pct": 100 * sum(known) / version.fibre_g,
        "at_least": len(known) < len(dyes),
        "powder_words": in_words(powders),
        "care": [*(["powder"] if powders else []), *meaning.cautions(version)],
        "sheets": meaning.handled(version),
        "is_standard": version.colourway.standard_id == version.pk,
        "estimated": meaning.estimated(version),
        "before": before,
        "changed": changed_from(before, version) if before else None,
        "others": version.colourway.recipes.exclude(pk__in=[each.pk for each in (version, before) if each]).order_by(
            "-number"
        ),
    }
    return render(request, "recipes/recipe.html", context | HERE)


def changed_from(before, after):
    """What is otherwise in `after`, [Difference]."""
    prefetch_related_objects([before, after], "bases")
    return differences(outline_of(with_steps(before)), outline_of(with_steps(after)))


@require_safe
def difference(request, pk, other):
    """Any two versions: what is otherwise in the first, against the other."""
    versions = Recipe.objects.select_related("colourway__standard", "by")
    chosen = [request.GET.get(name, "") for name in ("version", "against")]
    if all(key.isdecimal() and len(key) < 18 for key in chosen):
        return redirect("recipes:difference", *map(int, chosen))
    version, against = get_object_or_404(versions, pk=pk), get_object_or_404(versions, pk=other)
    ways = list(dict.fromkeys([version.colourway_id, against.colourway_id]))
    found = changed_from(against, version)
    context = {
        "recipe": version,
        "against": against,
        "one_way": len(ways) == 1,
        "changed": found,
        "versions": versions.filter(colourway__in=ways).order_by("colourway__name", "-number"),
    }
    return render(request, "recipes/difference.html", context | HERE)


def in_words(powders):
    """ "Soot and Citric acid are handled as dry powder." """
    names = [thing.name for thing in powders]
    return f"{joined(names)} {'is' if len(names) == 1 else 'are'} handled as dry powder." if names else ""


@require_POST
def pin(request, pk):
    """Make a version the standard of its colourway."""
    version = get_object_or_404(Recipe.objects.select_related("colourway__standard"), pk=pk)
    before = version.colourway.standard
    version.colourway.pin(version)
    was = f" Before it was version {before.number}." if before and before != version else ""
    messages.success(request, f"Version {version.number} is the standard now: runs are planned from it.{was}")
    return redirect("recipes:recipe", pk)
