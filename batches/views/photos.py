"""The photographs of a run: all of them and more of them, one by itself, its crop for the cover, two side by side."""

from dataclasses import dataclass

from django.contrib import messages
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from batches import intake
from batches import photos as album_of_run
from batches.forms.photos import CropForm
from batches.models import PhotoTaken
from batches.record import batches_of
from batches.views.judge import pot_of
from batches.views.run import the_run
from studio import album
from studio.darkroom import frame_of
from studio.once import number_of, only_once

HERE = {"here": "journal"}
NOT_OF_THIS_RUN = "That photo is not in this run's log any more, or never was: choose one of these."
TWO_OF_THESE = "One of those photos is not of this run: choose two of these."


def shown_of(run):
    """(pots, photos) of a run."""
    batches = batches_of(run)
    return batches, album_of_run.photos_of(run, batches, album_of_run.log_of_photos(run, batches))


def not_here(request, code):
    messages.error(request, NOT_OF_THIS_RUN)
    return redirect("batches:photos", code)


# All, and more of them


@never_cache
@require_http_methods(["GET", "POST"])
def photos(request, code):
    """All photographs of a run, and the form for more, which go in as every entry does."""
    run = the_run(code)
    batches, shown = shown_of(run)
    batch = pot_of(request.GET.get("pot"), batches)
    answer = take(request, batch) if request.method == "POST" else None
    if answer is not None and answer.ok:
        return kept(request, run, answer)
    form = form_of(request, batch, answer)
    form.name_pots()
    context = {
        "run": run,
        "photos": shown,
        "batches": batches,
        "batch": batch,
        "form": form,
        "refused": answer.sentence if answer else "",
    }
    return render(request, "batches/photos.html", context | HERE, status=answer.status if answer else 200)


def take(request, batch):
    if request.POST.get("kind") != "photo":
        return intake.Answer(intake.WRONG, sentence=intake.UNKNOWN_KIND)
    return intake.take(
        request.POST, request.FILES, batch=batch, person=request.who.named(request.POST.get("by")), sent_by=request.user
    )


def kept(request, run, answer):
    """Back to the photos, with what was kept and what was not."""
    if answer.state == intake.ALREADY:
        messages.success(request, "These were kept already; nothing was added twice.")
    else:
        messages.success(request, answer.form.kept_words(len({entry.batch_id for entry in answer.entries})))
    for sentence in answer.refused:
        messages.error(request, sentence)
    return redirect("batches:photos", run.code)


def form_of(request, batch, answer):
    """The form for more photos, as it was refused or anew."""
    if answer is not None and answer.form is not None:
        return answer.form if answer.state != intake.CLASH else answer.form.as_new()
    return intake.KINDS["photo"].form(None, batch=batch, person=request.dyeing, initial={"kind": "photo"})


# One


@require_GET
def photo(request, code, key):
    run = the_run(code)
    batches, shown = shown_of(run)
    the = album_of_run.find(shown, key)
    if the is None:
        return not_here(request, code)
    before, after = album_of_run.neighbours(shown, the)
    context = {
        "run": run,
        "photo": the,
        "batches": batches,
        "number": shown.index(the) + 1,
        "count": len(shown),
        "previous": before,
        "next": after,
        "said_before": album_of_run.said_before(the),
        "copied": album_of_run.copied_from(the, batches),
    }
    return render(request, "batches/photo.html", context | HERE)


@require_POST
def lead(request, code):
    """Choose which photo leads the run."""
    run = the_run(code)
    key = number_of(request.POST.get("photo", ""))
    the = PhotoTaken.objects.of_run(run).filter(pk=key).select_related("picture").first()
    if the is None:
        return not_here(request, code)
    try:
        the.lead()
    except ValueError as problem:
        messages.error(request, str(problem))
        return redirect("batches:photos", code)
    messages.success(request, "This photo leads the run now.")
    return redirect("batches:photo", code, key)


# Its crop for the cover


@dataclass(frozen=True)
class Crop:
    """A frame in its picture, in px of the large size, as the page draws it."""

    picture: object
    numbers: tuple

    @property
    def frame(self):
        return frame_of(self.picture.width, self.picture.height, *self.numbers)


@never_cache
@require_http_methods(["GET", "POST"])
def crop(request, code, key):
    """Choose the part of a photo that leads: try a crop as often as wanted, then keep it."""
    run = the_run(code)
    batches, shown = shown_of(run)
    the = album_of_run.find(shown, key)
    if the is None:
        return not_here(request, code)
    form = CropForm(request.POST if request.method == "POST" else None, initial=as_crop_before(the.picture))
    if request.method == "POST" and form.is_valid():
        if "look" not in request.POST:
            return keep_crop(request, run, the, form)
        form = CropForm(initial=form.cleaned_data | {"once": form.cleaned_data["once"]})
    context = {"run": run, "photo": the, "form": form, "crop": Crop(the.picture, form.numbers()), "batches": batches}
    return render(request, "batches/photo_crop.html", context | HERE, status=422 if form.is_bound else 200)


def as_crop_before(picture):
    """The numbers of its newest crop, or of the whole."""
    last = picture.as_last_crop()
    numbers = CropForm.WHOLE if last == picture else (last.across_pct, last.down_pct, last.size_pct)
    return dict(zip(("across", "down", "size"), numbers, strict=True))


def keep_crop(request, run, the, form):
    once = form.cleaned_data["once"]
    made = album.keep_crop(the.picture, *form.numbers(), by=request.user, id=once)

    def act():
        the.entry.photo.lead(crop=made)
        return reverse("batches:photo", args=[run.code, the.key])

    try:
        answer = only_once(request, once, act)
    except ValueError as problem:
        messages.error(request, str(problem))
        return redirect("batches:photos", run.code)
    messages.success(request, "This crop leads the run now. The whole photo stays as it is.")
    return answer


# Two side by side


@require_GET
def compare(request, code):
    """Any two photos of a run, and how its yarn looked before."""
    run = the_run(code)
    _, shown = shown_of(run)
    earlier = album_of_run.earlier_sides(run)
    sides = [*earlier, *(album_of_run.side_of(run, photo) for photo in shown)]
    left, right, sentence = chosen(request, run, shown, earlier, sides)
    context = {"run": run, "sides": sides, "left": left, "right": right, "refused": sentence}
    return render(request, "batches/photo_compare.html", context | HERE, status=422 if sentence else 200)


def chosen(request, run, shown, earlier, sides):
    """(left, right, what is to be put right): as asked for, else before and after, else the first and the last."""
    ends = (sides[0], sides[-1]) if len(sides) > 1 else (None, None)
    usual = album_of_run.before_and_after(run, shown, earlier) or ends
    if not {"left", "right"} & request.GET.keys():
        return *usual, ""
    by_key = {side.key: side for side in sides}
    left, right = (by_key.get(number_of(request.GET.get(name, ""))) for name in ("left", "right"))
    if left is None or right is None:
        return *usual, TWO_OF_THESE
    return left, right, ""
