"""A page for each thing to log, and the address that all of them, and every machine, send to."""

import json
from dataclasses import dataclass
from uuid import uuid4

from django.contrib import messages
from django.core.exceptions import RequestDataTooBig
from django.http import JsonResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from batches import hazards, intake, timers
from batches.forms.entries import ALL, THIS
from batches.forms.planned import TickForm
from batches.forms.strikes import NOT_YOURS_TO_STRIKE, StrikeForm, just_now, may_strike
from batches.forms.timers import QUICK as TIMER_MINUTES
from batches.last_used import amounts_said, last_used
from batches.models import Batch, Entry, PlanLine
from batches.places import places_for
from batches.telling import line_of, lines_of
from batches.under_way import kind_of
from batches.views.sink import colour_of, name_of, the_batch
from batches.wording import all_words
from recipes.models import HouseStep
from studio.once import number_of
from studio.views.errors import wants_json

QUICK_MINUTES = (5, 15, 30, 60)


@dataclass(frozen=True)
class Page:
    """One thing to log: its kind in the intake, its words, and which template draws its fields."""

    kind: str
    title: str
    template: str = "batches/sink_entry.html"
    button: str = "Log it"
    cautions: tuple = ()


PAGES = {
    "bottle": Page("bottle", "Dye from a bottle", "batches/sink_addition.html"),
    "powder": Page("powder", "Dye as powder", "batches/sink_addition.html", cautions=("powder",)),
    "other": Page("other", "Acid or other", "batches/sink_addition.html", cautions=("acid", "alkali", "mordant")),
    "water": Page("water", "Water", "batches/sink_addition.html"),
    "tick": Page("tick", "Another amount", "batches/sink_addition.html"),
    "heat": Page("step", "Heat or another step", "batches/sink_step.html", cautions=("heat",)),
    "reading": Page("reading", "Reading"),
    "clear": Page("reading", "Is the bath clear?", "batches/sink_clear.html", cautions=("disposal",)),
    "move": Page("move", "Move", "batches/sink_move.html", cautions=("heat", "disposal")),
    "note": Page("words", "Note"),
    "talk": Page("talk", "Spoken note", "batches/talk_entry.html", button="Keep it"),
    "photo": Page("photo", "Photos", "batches/photo_entry.html", button="Keep the photos"),
    "work": Page("work", "Work minutes", "batches/sink_work.html"),
    "check": Page("check", "Check"),
    "timer": Page("timer", "Timer", "batches/sink_timer.html", cautions=("heat",)),
    "skein": Page("skein", "Skein done", "batches/sink_skein.html", button="Skein done"),
}
PAGE_OF_KIND = {page.kind: name for name, page in reversed(PAGES.items())}
WHOLE_RUN = "all"  # what a form that came from the page of all pots says it goes back to


# Its page


@never_cache
@require_GET
def entry(request, pk, name):
    batch = the_batch(pk)
    page = PAGES.get(name)
    if page is None:
        return redirect("batches:sink", pk)
    form = intake.KINDS[page.kind].form(None, batch=batch, person=request.dyeing, initial=initial_of(request, page))
    if isinstance(form, TickForm) and form.the_line() is None:
        return redirect("batches:sink", pk)
    return entry_page(request, batch, name, form)


def initial_of(request, page):
    initial = {"kind": page.kind}
    if request.GET.get("pots") == ALL:
        initial["pots"] = ALL
    if page.kind == "tick":
        initial["line"] = request.GET.get("line", "")
    return initial


def entry_page(request, batch, name, form, status=200, sentence=""):
    page = PAGES[name]
    context = {
        "batch": batch,
        "run": batch.run,
        "page": page,
        "name": name,
        "form": form,
        "everything": "all" in request.GET,
        "refused": sentence,
        "cautions": [*page.cautions, *(hazards.of_vessel(batch.vessel) if name == "heat" else [])],
        "quick": TIMER_MINUTES if name == "timer" else QUICK_MINUTES,
        "second_id": uuid4(),
        "back": WHOLE_RUN if ALL in (request.GET.get("pots"), request.POST.get("back")) else "",
    }
    form.name_pots()
    if page.template == "batches/sink_addition.html":
        offer(context, request, batch, form)
    elif name == "heat":
        context["house_steps"] = [(uuid4(), step) for step in HouseStep.objects.for_method(batch.run.method)]
    return render(request, page.template, context, status=status)


def offer(context, request, batch, form):
    """Fill the page of an addition: jars and bottles, those used last first, then the planned ones; amounts and places
    that were said before.
    """
    line = form.the_line() if isinstance(form, TickForm) else None
    if line is not None:
        context |= of_line(line)
        form.initial["lot"] = line.lot_id
        context["other_lot"] = str(form["lot"].value() or "") != str(line.lot_id or "") if line.is_amount else False
    first = lots_first(form, batch, request.dyeing, line)
    form.offer(first=first, everything=context["everything"], places=places_for(batch, request.dyeing))
    context["hidden_lots"] = form.hidden_lots
    context["said_before"] = said_before(form, batch, context["name"])


def of_line(line):
    """What the page says of the planned line that it is about."""
    return {
        "line": line,
        "line_name": name_of(line),
        "line_colour": colour_of(line),
        "cautions": hazards.of_line(line),
        "sheets": hazards.sheets_of_line(line),
    }


def lots_first(form, batch, person, line):
    """Keys of the lots that stand first: the chosen one, the planned line's, those used last here, those planned. What
    this person used last is chosen, in the unit it was measured in.
    """
    if "lot" not in form.fields:
        return []
    planned = PlanLine.objects.filter(batch__run_id=batch.run_id, lot__isnull=False).order_by("position")
    planned = [line.lot_id] if line and line.lot_id else list(planned.values_list("lot", flat=True))
    used = last_used(batch, person, form.fields["lot"].queryset)
    if line is None:
        own = used.own[0] if used.own else None
        form.begin_with(own, used.units.get(own) or used.units.get("", ""), batch.run.method)
    chosen = str(form["lot"].value() or "")
    first = [int(chosen)] if chosen.isdecimal() and len(chosen) < 18 else []
    return list(dict.fromkeys([*first, *used.lots, *planned]))[:12]


def said_before(form, batch, name):
    """[(lot or None, value, words, whether it is of what is chosen)]: amounts to touch instead of typing one."""
    if "amount" not in form.fields or name == "tick":
        return []
    if "lot" not in form.fields:
        which = {"other": "water", "entry__batch__run_id": batch.run_id}
    else:
        which = {"lot__in": [key for key, _ in form.fields["lot"].widget.choices]}
    chosen = str(form["lot"].value() or "") if "lot" in form.fields else ""
    said = amounts_said(form.fields["amount"].offered, **which)
    return [(lot, value, words, str(lot or "") == chosen) for lot, value, words in said]


@never_cache
@require_GET
def strike(request, pk, entry_id):
    batch = the_batch(pk)
    struck = get_object_or_404(Entry.objects.with_details().select_related("plan_line"), pk=entry_id, batch=batch)
    if not may_strike(request.dyeing, struck):
        return render(request, "403.html", {"sentence": NOT_YOURS_TO_STRIKE}, status=403)
    form = StrikeForm(
        None,
        batch=batch,
        person=request.dyeing,
        initial={"kind": "strike", "target": entry_id, "scope": ALL if "all" in request.GET else THIS},
    )
    return strike_page(request, batch, form, struck)


def strike_page(request, batch, form, struck, status=200, sentence=""):
    if struck and just_now(request.dyeing, struck):
        form.fields["reason"].help_text = "It may stay empty: you logged it a moment ago."
    context = {
        "batch": batch,
        "run": batch.run,
        "form": form,
        "line": line_of(struck) if struck and struck.kind != Entry.Kind.STRIKE else None,
        "scopes": scopes_of(batch, struck),
        "refused": sentence,
    }
    return render(request, "batches/sink_strike.html", context, status=status)


def scopes_of(batch, struck):
    """What may be struck where one touch logged several lines: [(scope, words)]; [] where it logged one."""
    if struck is None or struck.together is None:
        return []
    lines = list(Entry.objects.standing().filter(together=struck.together).values_list("batch", flat=True))
    pots = len(set(lines))
    if len(lines) < 2:
        return []
    kind = kind_of(list(batch.run.batches.select_related("vessel")))
    if pots == len(lines):
        return [(THIS, f"Only in {batch.pot_name}"), (ALL, f"In {all_words(pots, kind)}")]
    where = "" if pots == 1 else f", in {pots} {kind}s"
    return [(THIS, "Only this line"), (ALL, f"All {len(lines)} lines of that touch{where}")]


# The one way in


@require_POST
def take(request, pk):
    """Where every page of the sink, and every machine, sends what happened."""
    machine = wants_json(request)
    if is_of_another(request):
        return JsonResponse({"id": None, "error": "other_person", "sentence": OTHER_PERSON}, status=403)
    data = sent_data(request)
    if data is None:
        return JsonResponse({"id": None, "state": "wrong", "errors": {"__all__": [NOT_AN_OBJECT]}}, status=400)
    batch = Batch.objects.filter(pk=pk).order_by("pk").first()  # the pot alone: its run is seldom asked for
    if batch is None:
        return no_such_pot(request, machine, data)
    answer = intake.take(
        data, request.FILES, batch=batch, person=request.who.named(data.get("by")), sent_by=request.user
    )
    if machine:
        return JsonResponse(as_json(answer), status=answer.status)
    if request.htmx:
        return fragment(request, batch, answer)
    return as_page(request, batch, data, answer)


def is_of_another(request):
    """Whether a phone sends what it kept while somebody else was signed in on it."""
    return request.headers.get("X-Person", str(request.user.pk)) != str(request.user.pk)


OTHER_PERSON = "Somebody else kept this on the phone, and it is not sent as yours. It goes when they sign in here."
NOT_AN_OBJECT = "Send one JSON object, or the fields of the form."
NO_SUCH_POT = "There is no such pot here, so this was not stored."


def sent_data(request):
    """What was sent as a QueryDict, from a form or from a JSON object; None where it is neither."""
    if request.content_type != "application/json":
        return request.POST
    try:
        # A number stays the text that it is, and its box reads it: one out of this world is then said to be so.
        said = json.loads(request.body, parse_float=str, parse_int=str, parse_constant=str)
    except (ValueError, RecursionError, RequestDataTooBig):
        return None
    if not isinstance(said, dict):
        return None
    data = QueryDict(mutable=True)
    for name, value in said.items():
        data.setlist(name, [as_text(part) for part in value] if isinstance(value, list) else [as_text(value)])
    return data


def as_text(value):
    """One JSON value as a form would have sent it."""
    if value is None or value is False:
        return ""
    return "on" if value is True else str(value)


def as_json(answer):
    said = {"id": str(answer.id) if answer.id else None, "state": answer.state, "errors": answer.errors}
    return said | {"refused": list(answer.refused)} if answer.refused else said


def no_such_pot(request, machine, data):
    if machine:
        return JsonResponse({"id": data.get("id"), "state": "wrong", "errors": {"__all__": [NO_SUCH_POT]}}, status=404)
    messages.error(request, NO_SUCH_POT)
    return redirect("home")


def fragment(request, batch, answer):
    if answer.ok:
        lines = lines_of(list(Entry.objects.filter(pk__in=[entry.pk for entry in answer.entries]).with_details()))
        context = {"lines": lines, "batch": batch, "not_kept": answer.refused}
        return render(request, "batches/_log_lines.html", context, status=answer.status)
    return render(request, "batches/_refused.html", {"answer": answer, "refused": answer.sentence}, status=422)


def as_page(request, batch, data, answer):
    """After a form without JavaScript: back to the sink, or the same page with what is to be put right."""
    if answer.ok:
        messages.success(request, said_of(answer))
        for sentence in answer.refused:
            messages.error(request, sentence)
        return redirect(sink_of(data), batch.pk)
    if answer.form is None:
        messages.error(request, answer.sentence)
        return redirect(sink_of(data), batch.pk)
    form = answer.form if answer.state != intake.CLASH else answer.form.as_new()
    if isinstance(form, StrikeForm):
        struck = (
            Entry.objects.with_details().filter(pk=number_of(data.get("target")), batch__run_id=batch.run_id).first()
        )
        return strike_page(request, batch, form, struck, answer.status, answer.sentence)
    name = page_name(data)
    if name is None:  # a button of the sink page itself
        for sentence in sentences_of(answer):
            messages.error(request, sentence)
        return redirect(sink_of(data), batch.pk)
    return entry_page(request, batch, name, form, answer.status, answer.sentence)


def sink_of(data):
    """Which of the two pages of the sink it came from: one pot's, or all pots'."""
    return "batches:sink-all" if data.get("back") == WHOLE_RUN else "batches:sink"


def page_name(data):
    """Which page it came from: the one it names, or the first of its kind."""
    name = data.get("page", "")
    if name in PAGES and PAGES[name].kind == data.get("kind"):
        return name
    return PAGE_OF_KIND.get(data.get("kind"))


def sentences_of(answer):
    return [sentence for found in answer.errors.values() for sentence in found]


def said_of(answer):
    """What a person reads at the top of the sink after touching a button."""
    if answer.state == intake.ALREADY:
        return "That was logged already; nothing was added twice."
    first = answer.entries[0]
    if first.kind == Entry.Kind.STRIKE:
        return "Struck out." if len(answer.entries) == 1 else f"{len(answer.entries)} lines struck out."
    if first.kind == Entry.Kind.PHOTO:
        return answer.form.kept_words(len({entry.batch_id for entry in answer.entries}))
    if sentence := timers.said_of(answer):
        return sentence
    lines = lines_of(list(Entry.objects.filter(pk=first.pk).with_details(first.kind).select_related("plan_line")))
    what = lines[0].what if lines else "Logged"
    if first.kind == Entry.Kind.SKEIN and len(answer.entries) > 1:
        return f"Logged: {what}, with its photo."
    also = f" {answer.form.also_said()}".rstrip() if hasattr(answer.form, "also_said") else ""
    more, pots = len(answer.entries) - 1, len({entry.batch_id for entry in answer.entries})
    if more and pots == more + 1:
        return f"Logged: {what}, in each of {pots} {kind_of(answer.form.open_pots())}s.{also}"
    return f"Logged: {what}{f', and {more} more lines' if more > 1 else ', and one more line' if more else ''}.{also}"
