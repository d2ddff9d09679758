"""One lot and what can be done about it; and counting many at once."""

from django.contrib import messages
from django.db import transaction
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from studio.cautions import of_substance
from studio.forms.lots import CorrectionForm, CountForm, ShelfCountForm, UndoForm, WasteForm
from studio.models import Count, Lot, Movement
from studio.once import only_once

LEDGER_ROWS = 200
GROUPS = (
    ("Undyed yarn", lambda lot: lot.base_id),
    ("Bottles", lambda lot: lot.solution_id),
    ("Dye powder", lambda lot: lot.dye_id),
    ("Acid and other", lambda lot: lot.assistant_id),
)


def lot_or_404(pk):
    return get_object_or_404(Lot.objects.named().with_on_hand().with_facts().with_unweighed(), pk=pk)


@require_safe
def lot(request, pk):
    lot = lot_or_404(pk)
    ledger = (
        Movement.objects.filter(lot=lot)
        .select_related("by", "into__solution", "reverses", "reversed_by")
        .order_by("-at", "-pk")
    )
    context = {
        "lot": lot,
        "lots": [lot],
        "ledger": ledger[:LEDGER_ROWS],
        "longer": ledger[LEDGER_ROWS : LEDGER_ROWS + 1].exists(),
        "corrections": lot.corrections.select_related("by").order_by("-recorded_at", "-pk"),
        "counted": lot.counts.select_related("by").order_by("-at", "-pk").first(),
        "level": (level := Level(lot)),
        "rack": [level],
        "here": "shelf",
    }
    return render(request, "studio/shelf/lot.html", context | care_of(lot))


class Level:
    """How full a lot is, as its drawing takes it. What plans have taken of it stands on the shelf."""

    def __init__(self, lot):
        self.lot, self.here, self.free, self.dyes = lot, lot.on_hand, lot.on_hand, lot.colours()


def care_of(lot, *more):
    """The cautions for handling a lot, with the data sheets that are known. Yarn needs none."""
    thing = lot.dye or lot.assistant
    return {"care": [*(of_substance(thing) if thing else []), *more], "sheets": [thing] if thing else []}


def _lot_form(request, lot, form_class, title, button, act, care=()):
    """Show or take one of the small forms of a lot. `act(form)` does it and returns what to say."""
    if request.method != "POST":
        form = form_class(lot=lot)
    else:
        form = form_class(request.POST, lot=lot)
        if form.is_valid():

            def once():
                messages.success(request, act(form))
                return lot

            return only_once(request, form.cleaned_data["once"], once)
    context = {"lot": lot, "form": form, "title": title, "button": button, "here": "shelf"}
    status = 422 if form.is_bound else 200
    return render(request, "studio/shelf/lot_form.html", context | dict(care), status=status)


@require_http_methods(["GET", "HEAD", "POST"])
def count(request, pk):
    lot = lot_or_404(pk)

    def take(form):
        said = form.cleaned_data
        Count.take(lot, said["amount"], by=request.dyeing, at=said["at"], why=said["why"])
        return "It is counted, and the shelf says the same now."

    return _lot_form(request, lot, CountForm, f"Count {lot}", "Count it", take)


@require_http_methods(["GET", "HEAD", "POST"])
def correct(request, pk):
    lot = lot_or_404(pk)

    def put_right(form):
        lot.correct(by=request.user, **form.facts())
        return "It is put right from here on. What was reckoned and kept before stays as it was."

    return _lot_form(request, lot, CorrectionForm, f"Put {lot} right", "Put it right", put_right)


@require_http_methods(["GET", "HEAD", "POST"])
def waste(request, pk):
    lot = lot_or_404(pk)

    def throw(form):
        thrown = lot.throw_away(by=request.user, why=form.cleaned_data["why"])
        return "It is off the shelf." if thrown else "There was nothing left of it, so nothing was written."

    return _lot_form(
        request,
        lot,
        WasteForm,
        f"Throw the rest of {lot} away",
        "Throw it away",
        throw,
        care={} if lot.base_id else care_of(lot, "disposal"),
    )


@require_http_methods(["GET", "HEAD", "POST"])
def undo(request, pk, movement_pk):
    """Take back that something was thrown away. Uses are taken back where they were logged."""
    lot = lot_or_404(pk)
    movement = get_object_or_404(Movement, pk=movement_pk, lot=lot, kind=Movement.Kind.TIPPED, reversed_by__isnull=True)

    def take_back(form):
        Lot.lock([lot.pk])
        try:
            movement.take_back(by=request.user, now=timezone.now(), why=form.cleaned_data["why"])
        except ValueError as problem:  # somebody else was faster
            return str(problem)
        return "It is taken back: the lot is on the shelf again."

    return _lot_form(request, lot, UndoForm, "Take back that it was thrown away", "Take it back", take_back)


@require_http_methods(["GET", "HEAD", "POST"])
def count_shelf(request):
    """Every lot that is not used up, one number each."""
    lots = sorted(Lot.objects.named().with_on_hand().filter(on_hand__gt=0), key=_by_kind_and_name)
    if request.method != "POST":
        form = ShelfCountForm(lots=lots)
    else:
        form = ShelfCountForm(request.POST, lots=lots)
        if form.is_valid():
            return only_once(request, form.cleaned_data["once"], lambda: _count_all(request, form))
    groups = [(title, [(lot, form[f"lot-{lot.pk}"]) for lot in lots if of(lot)]) for title, of in GROUPS]
    context = {"form": form, "groups": [group for group in groups if group[1]], "here": "shelf"}
    return render(request, "studio/shelf/count.html", context, status=422 if form.is_bound else 200)


def _by_kind_and_name(lot):
    return str(lot).casefold(), lot.came_at, lot.pk


def _count_all(request, form):
    counts, now = form.counts(), timezone.now()
    with transaction.atomic():
        Lot.lock([lot.pk for lot, _ in counts])
        for lot, amount in counts:
            Count.take(lot, amount, by=request.dyeing, clock=lambda: now)
    number = len(counts)
    messages.success(request, f"{number} {'lot is' if number == 1 else 'lots are'} counted.")
    return reverse("studio:count")
