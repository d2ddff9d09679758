"""Judge: does it bleed, does it rub off; what was done about it; how it looks dry."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from batches import intake, judging
from batches.forms.strikes import may_strike
from batches.models import Check, PhotoTaken, State
from batches.record import batches_of, log_of, standing_of
from batches.under_way import kind_of
from batches.verdicts import outcome_of
from batches.views.run import the_run
from studio.once import number_of

What = Check.What
TAKEN = ("check", "photo")

# What is asked for each check, besides the pots, a note and who made it when.
FIELDS = {
    What.RINSE: ("rinses", "result"),
    What.CLOTH: ("result",),
    What.RUB_DRY: ("result",),
    What.RUB_WET: ("result",),
    What.WASH: ("result", "water"),
    What.CARDS: ("change_grade", "stain_grade", "standard"),
    What.SENT: ("change_grade", "stain_grade", "standard"),
    What.REMEDY: (),
}


@never_cache
@require_http_methods(["GET", "POST"])
def judge(request, code):
    """What the checks of a run found, what is still to do, and one check to log. It goes in as every entry does."""
    the = the_run(code)
    if the.state == State.PLANNED:
        messages.error(request, "Nothing has been dyed yet, so there is nothing to judge. Start the run first.")
        return redirect("batches:run", code)
    batches = batches_of(the)
    batch = pot_of(request.GET.get("pot"), batches)
    answer = take(request, batch) if request.method == "POST" else None
    if answer is not None and answer.ok:
        messages.success(request, said_of(answer))
        for sentence in answer.refused:
            messages.error(request, sentence)
        return redirect(f"{reverse('batches:judge', args=[code])}?pot={batch.number}")
    context = page(request, the, batches, batch, answer)
    return render(request, "batches/judge.html", context, status=answer.status if answer else 200)


def pot_of(said, batches):
    """The pot of this number, or the first."""
    return next((batch for batch in batches if str(batch.number) == said), batches[0])


def take(request, batch):
    if request.POST.get("kind") not in TAKEN:
        return intake.Answer(intake.WRONG, sentence=intake.UNKNOWN_KIND)
    return intake.take(
        request.POST, request.FILES, batch=batch, person=request.who.named(request.POST.get("by")), sent_by=request.user
    )


def said_of(answer):
    if answer.state == intake.ALREADY:
        return "That was logged already; nothing was added twice."
    pots = len({entry.batch_id for entry in answer.entries})
    return "Logged." if pots == 1 else f"Logged for {pots} {kind_of(answer.form.open_pots())}s."


def page(request, the, batches, batch, answer):
    standing = standing_of(log_of(the, batches))
    waiting = judging.to_do(standing, batches)
    what, form = check_form(request, batch, answer, waiting)
    photo = photo_form(request, batch, answer)
    for drawn in (form, photo):
        drawn.name_pots()
    return {
        "here": "journal",
        "run": the,
        "batches": batches,
        "batch": batch,
        "chains": judging.chains(marked(judging.made(standing), request.dyeing)),
        "pictures": judging.pictures(standing)[:3],
        "to_do": waiting,
        "without_photo": judging.without_dry_photo(standing, batches),
        "bleeds": judging.bleeds(standing),
        "remedies": judging.REMEDIES,
        "what": what,
        "how": judging.HOW[what],
        "others": [other for other in What if other != what],
        "form": form,
        "fields": [form[name] for name in FIELDS[what]],
        "photo": photo,
        "forms": [form, photo],
        "refused": answer.sentence if answer else "",
        "has_errors": bool(answer),
        "outcome": outcome_of(standing),
    }


def marked(made, person):
    """With `may_strike`: whether this person may strike the check out."""
    for one in made:
        one.may_strike = may_strike(person, one.entry)
    return made


def check_form(request, batch, answer, waiting):
    """(Which check, its form): as it was refused, or else the one asked for, or else the first still to do."""
    if answer is not None and isinstance(answer.form, intake.KINDS["check"].form):
        form = answer.form if answer.state != intake.CLASH else answer.form.as_new()
        what = known(form["what"].value()) or What.CLOTH
    else:
        what = known(request.GET.get("check")) or (waiting[0].what if waiting else What.CLOTH)
        initial = {"kind": "check", "what": what, "because": number_of(request.GET.get("because"))}
        form = intake.KINDS["check"].form(None, batch=batch, person=request.dyeing, initial=initial)
    if what == What.RINSE:
        form.fields["result"].label = "Or what still comes off"
    if what == What.REMEDY:
        form.fields["note"].label = "What was done"
    return what, form


def photo_form(request, batch, answer):
    """The form for a dry photo, as it was refused or anew."""
    if answer is not None and isinstance(answer.form, intake.KINDS["photo"].form):
        form = answer.form if answer.state != intake.CLASH else answer.form.as_new()
    else:
        initial = {"kind": "photo", "stage": PhotoTaken.Stage.DRY}
        form = intake.KINDS["photo"].form(None, batch=batch, person=request.dyeing, initial=initial)
    form.auto_id = "photo_%s"  # both forms of the page have a note
    return form


def known(what):
    return What(what) if what in What.values else None
