"""The page for wet hands: what is next, what can be logged, and the log below; and a page for each thing to log."""

import json
from dataclasses import dataclass
from decimal import Decimal
from uuid import UUID, uuid4

from django.contrib import messages
from django.core.exceptions import PermissionDenied, RequestDataTooBig
from django.http import JsonResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from batches import intake
from batches.forms.entries import THIS
from batches.forms.planned import TickForm
from batches.forms.strikes import StrikeForm, just_now, may_strike
from batches.models import Addition, Batch, Entry, PlanLine, State
from batches.telling import STEPS, amount_of, line_of, lines_of, lot_colour, lot_name
from studio.views.errors import wants_json
from studio.writing import NO_BREAK_SPACE

LINES_SHOWN = 40
RECENT_PLACES = 4


@dataclass(frozen=True)
class Page:
    """One thing to log: its kind in the intake, its words, and which template draws its fields."""

    kind: str
    title: str
    template: str = "batches/sink_entry.html"
    button: str = "Log it"
    cautions: tuple = ()


@dataclass(frozen=True)
class Act:
    """A large button of the sink: the page it opens, its word and its drawing."""

    page: str
    word: str
    drawing: str
    full: bool = False


ACTS = (
    Act("bottle", "Dye", "M12 3C12 3 5.5 10.5 5.5 15a6.5 6.5 0 0 0 13 0C18.5 10.5 12 3 12 3z", full=True),
    Act("other", "Acid / other", "M3.5 16a4.5 4.5 0 1 0 9 0a4.5 4.5 0 1 0-9 0M11.2 12.8 20 4"),
    Act("water", "Water", "M2 10q2.5-4 5 0t5 0 5 0 5 0M2 17q2.5-4 5 0t5 0 5 0 5 0"),
    Act("heat", "Heat", "M7 21q-4-2.5 0-5t0-5 0-5M15 21q-4-2.5 0-5t0-5 0-5"),
    Act("reading", "Reading", "M3 18a9 9 0 0 1 18 0zM12 18l4-6"),
    Act("clear", "Clear?", "M4 12a8 8 0 1 0 16 0a8 8 0 1 0-16 0M4 12h16"),
    Act("move", "Move", "M3 12h17M14 6l6 6-6 6"),
    Act("note", "Note", "M4 6h16M4 12h16M4 18h9"),
    Act("photo", "Photo", "M3 6h18v13H3zM8.5 12.5a3.5 3.5 0 1 0 7 0a3.5 3.5 0 1 0-7 0"),
    Act("work", "Work minutes", "M4 12a8 8 0 1 0 16 0a8 8 0 1 0-16 0M12 7v5l3 3", full=True),
)
QUICK_MINUTES = (5, 15, 30, 60)

PAGES = {
    "bottle": Page("bottle", "Dye from a bottle", "batches/sink_addition.html"),
    "powder": Page("powder", "Dye as powder", "batches/sink_addition.html"),
    "other": Page("other", "Acid or other", "batches/sink_addition.html", cautions=("acid",)),
    "water": Page("water", "Water", "batches/sink_addition.html"),
    "tick": Page("tick", "Another amount", "batches/sink_addition.html"),
    "heat": Page("step", "Heat or another step", cautions=("heat",)),
    "reading": Page("reading", "Reading"),
    "clear": Page("reading", "Is the bath clear?", "batches/sink_clear.html"),
    "move": Page("move", "Move", "batches/sink_move.html", cautions=("heat",)),
    "note": Page("words", "Note"),
    "photo": Page("photo", "Photo", button="Keep the photo"),
    "work": Page("work", "Work", "batches/sink_work.html"),
    "check": Page("check", "Check"),
}
PAGE_OF_KIND = {page.kind: name for name, page in reversed(PAGES.items())}


# The sink


@never_cache
@require_GET
def sink(request, pk):
    batch = the_batch(pk)
    return render(request, "batches/sink.html", board(batch, request.user))


def the_batch(pk):
    return get_object_or_404(Batch.objects.select_related("run__colourway", "vessel"), pk=pk)


def board(batch, person):
    """All that the sink page shows of a pot. A fixed number of queries, however long the plan and the log."""
    pots = list(batch.run.batches.select_related("vessel"))
    plan = plan_of_run(batch.run)
    mine = [line for line in plan if line.batch_id == batch.pk]
    lines, more = log_of(batch, person)
    standing = [line for line in lines if line.struck is None]
    return {
        "batch": batch,
        "run": batch.run,
        "planned": batch.run.state == State.PLANNED,
        "pots": pots,
        "yarns": batch.yarns.named(),
        "next": next_step(batch, mine, plan, pots),
        "to_come": to_come(mine),
        "lines": lines,
        "last": standing[0] if standing else None,
        "more": more,
        "acts": ACTS,
        "cautions": cautions_of(batch),
    }


def log_of(batch, person):
    """(the newest lines of a pot's log with what this person may do about them, whether there are more)"""
    told = batch.entries.with_details().select_related("plan_line__dye", "plan_line__assistant", "plan_line__solution")
    newest = list(told.order_by("-at", "-received_at", "-pk")[: LINES_SHOWN + 1])
    strikes = Entry.objects.filter(batch=batch, kind=Entry.Kind.STRIKE).select_related("strike", "by")
    lines = lines_of([entry for entry in newest[:LINES_SHOWN] if entry.kind != Entry.Kind.STRIKE] + list(strikes))
    for line in lines:
        line.may_strike = line.struck is None and may_strike(person, line.entry)
        line.undo_id = None
    newest_own = next((line for line in lines if line.struck is None), None)
    if newest_own and just_now(person, newest_own.entry):
        newest_own.undo_id = uuid4()
    return lines, len(newest) > LINES_SHOWN


def to_come(mine):
    """The planned lines after the next one, each with the number of its own form."""
    left = [(number, line) for number, line in enumerate(mine, 1) if not line.done]
    return [
        {"number": number, "line": line, "said": f"{name_of(line)}{said_amount(line)}", "id": uuid4()}
        for number, line in left[1:]
    ]


def name_of(line):
    return lot_name(line.lot) if line.lot_id else line.name or STEPS.get(line.step, "")


def said_amount(line):
    return f", {amount_of(line.told, line.unit)}" if line.is_amount and line.told is not None else ""


def plan_of_run(run):
    named = PlanLine.objects.select_related(
        "dye", "assistant", "solution", "lot__dye", "lot__assistant", "lot__solution"
    )
    return list(
        named.prefetch_related("lot__contents__source__dye")
        .filter(batch__run=run)
        .with_done()
        .order_by("position", "batch_id")
    )


def next_step(batch, mine, plan, pots):
    """The first line of the plan that is not done, with its amounts in the other pots that have not had it either."""
    left = [line for line in mine if not line.done]
    if not left:
        return None
    line = left[0]
    waiting = {pot.pk for pot in pots if pot.state in (State.PLANNED, State.RUNNING)} | {batch.pk}
    twins = [
        other
        for other in plan
        if other.position == line.position
        and other.batch_id in waiting
        and not other.done
        and intake.is_twin(line, other)
    ]
    told = [twin.told for twin in twins]
    number, _, unit = amount_of(line.told, line.unit).partition(NO_BREAK_SPACE)
    return {
        "id": uuid4(),
        "figure": number,
        "unit": unit,
        "button": button_words(line, told),
        "line": line,
        "number": len(mine) - len(left) + 1,
        "of": len(mine),
        "name": name_of(line),
        "colour": colour_of(line),
        "pots": len(twins),
        "alike": len(set(told)) == 1,
        "each": [(next(pot for pot in pots if pot.pk == twin.batch_id), twin) for twin in twins],
        "total": sum(told, Decimal(0)) if None not in told else None,
        "powder": bool(line.lot_id and line.lot.dye_id) or (line.dye_id and not line.lot_id),
    }


def button_words(line, told):
    """What the one large button says: what it will log, and in how many pots."""
    if not line.is_amount:
        return "Done" if len(told) == 1 else f"Done in {len(told)} pots"
    if len(set(told)) > 1:
        return f"Log as planned in {len(told)} pots"
    if line.told is None:
        return "Log it, not measured"
    amount = amount_of(line.told, line.unit)
    return f"Log {amount}" if len(told) == 1 else f"Log {amount} in each"


def colour_of(line):
    if line.dye_id:
        return line.dye.colour
    return lot_colour(line.lot) if line.lot_id else ""


def cautions_of(batch):
    """What this pot's vessel calls for."""
    if batch.vessel is None:
        return ["heat"]
    found = ["heat"]
    if batch.vessel.kind == "jar":
        found.append("jars")
    if batch.vessel.heater == "microwave":
        found.append("microwave")
    return found


# One thing to log


@never_cache
@require_GET
def entry(request, pk, name):
    batch = the_batch(pk)
    page = PAGES.get(name)
    if page is None:
        return redirect("batches:sink", pk)
    kind = intake.KINDS[page.kind]
    form = kind.form(None, batch=batch, person=request.user, initial=initial_of(request, page))
    return entry_page(request, batch, name, form)


def initial_of(request, page):
    initial = {"kind": page.kind}
    if page.kind == "tick":
        initial["line"] = request.GET.get("line", "")
    if page.kind == "step":
        initial["step"] = "heat"
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
        "sentence": sentence,
        "has_errors": bool(sentence),
        "cautions": page.cautions,
        "powder": name == "powder",
        "quick": QUICK_MINUTES,
        "second_id": uuid4(),
    }
    if page.template == "batches/sink_addition.html":
        offer(context, request, batch, form)
    return render(request, page.template, context, status=status)


def offer(context, request, batch, form):
    """Fill the lists of an addition's page: jars and bottles, planned ones first, and places that were said before."""
    planned = list(
        PlanLine.objects.filter(batch__run_id=batch.run_id, lot__isnull=False)
        .order_by("position")
        .values_list("lot", flat=True)
    )
    chosen = form["lot"].value() if "lot" in form.fields else None
    line = form.the_line() if isinstance(form, TickForm) else None
    if line is not None:
        context["line"] = line
        context["line_name"] = name_of(line)
        context["line_colour"] = colour_of(line)
        if "lot" in form.fields and chosen is None and line.lot_id:
            form.initial["lot"] = line.lot_id
        planned = [line.lot_id] if line.lot_id else planned
        context["powder"] = bool(line.lot_id and line.lot.dye_id)
    first = [int(chosen)] if str(chosen or "").isdecimal() and len(str(chosen)) < 18 else []
    form.offer(
        first=list(dict.fromkeys([*first, *planned]))[:12], everything=context["everything"], places=places_of(batch)
    )
    context["hidden_lots"] = form.hidden_lots


def places_of(batch):
    """Places on the yarn that this run's log and plan have named, the newest first."""
    said = Addition.objects.filter(entry__batch__run_id=batch.run_id).exclude(place="").order_by("-entry__at")
    planned = PlanLine.objects.filter(batch__run_id=batch.run_id).exclude(place="").order_by("position")
    found = [*said.values_list("place", flat=True)[:30], *planned.values_list("place", flat=True)[:30]]
    return list(dict.fromkeys(found))[:RECENT_PLACES]


@never_cache
@require_GET
def strike(request, pk, entry_id):
    batch = the_batch(pk)
    struck = get_object_or_404(Entry.objects.with_details().select_related("plan_line"), pk=entry_id, batch=batch)
    if not may_strike(request.user, struck):
        raise PermissionDenied
    form = StrikeForm(
        None, batch=batch, person=request.user, initial={"kind": "strike", "target": entry_id, "scope": THIS}
    )
    return strike_page(request, batch, form, struck)


def strike_page(request, batch, form, struck, status=200, sentence=""):
    together = Entry.objects.standing().filter(together=struck.together).count() if struck and struck.together else 0
    context = {
        "batch": batch,
        "run": batch.run,
        "form": form,
        "line": line_of(struck) if struck and struck.kind != Entry.Kind.STRIKE else None,
        "together": together if together > 1 else 0,
        "just_now": bool(struck) and just_now(request.user, struck),
        "sentence": sentence,
        "has_errors": bool(sentence),
    }
    return render(request, "batches/sink_strike.html", context, status=status)


# The one way in


@require_POST
def take(request, pk):
    """Where every page of the sink, and every machine, sends what happened."""
    machine = wants_json(request)
    data = sent_data(request)
    if data is None:
        return JsonResponse({"id": None, "state": "wrong", "errors": {"__all__": [NOT_AN_OBJECT]}}, status=400)
    batch = Batch.objects.select_related("run__colourway", "vessel").filter(pk=pk).first()
    if batch is None:
        return no_such_pot(request, machine, data)
    answer = intake.take(data, request.FILES, batch=batch, person=request.user)
    if machine:
        return JsonResponse(as_json(answer), status=answer.status)
    if request.htmx:
        return fragment(request, batch, answer)
    return as_page(request, batch, data, answer)


NOT_AN_OBJECT = "Send one JSON object, or the fields of the form."
NO_SUCH_POT = "There is no such pot here, so this was not stored."


def sent_data(request):
    """What was sent as a QueryDict, from a form or from a JSON object; None where it is neither."""
    if request.content_type != "application/json":
        return request.POST
    try:
        said = json.loads(request.body, parse_float=Decimal)
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
    return {"id": str(answer.id) if answer.id else None, "state": answer.state, "errors": answer.errors}


def no_such_pot(request, machine, data):
    if machine:
        return JsonResponse({"id": data.get("id"), "state": "wrong", "errors": {"__all__": [NO_SUCH_POT]}}, status=404)
    messages.error(request, NO_SUCH_POT)
    return redirect("home")


def fragment(request, batch, answer):
    if answer.ok:
        lines = lines_of(list(Entry.objects.filter(pk__in=[entry.pk for entry in answer.entries]).with_details()))
        return render(request, "batches/_log_lines.html", {"lines": lines, "batch": batch}, status=answer.status)
    return render(request, "batches/_refused.html", {"answer": answer}, status=422)


def as_page(request, batch, data, answer):
    """After a form without JavaScript: back to the sink, or the same page with what is to be put right."""
    if answer.ok:
        messages.success(request, said_of(answer))
        return redirect("batches:sink", batch.pk)
    if answer.form is None:
        messages.error(request, answer.sentence)
        return redirect("batches:sink", batch.pk)
    form = answer.form if answer.state != intake.CLASH else answer.form.as_new()
    if isinstance(form, StrikeForm):
        struck = Entry.objects.with_details().filter(pk=target_of(data), batch__run_id=batch.run_id).first()
        return strike_page(request, batch, form, struck, answer.status, answer.sentence)
    name = page_name(data)
    if name is None:  # a button of the sink page itself
        for sentence in sentences_of(answer):
            messages.error(request, sentence)
        return redirect("batches:sink", batch.pk)
    return entry_page(request, batch, name, form, answer.status, answer.sentence)


def page_name(data):
    """Which page it came from: the one it names, or the first of its kind."""
    name = data.get("page", "")
    if name in PAGES and PAGES[name].kind == data.get("kind"):
        return name
    return PAGE_OF_KIND.get(data.get("kind"))


def target_of(data):
    try:
        return UUID(str(data.get("target", ""))[:60])
    except ValueError:
        return None


def sentences_of(answer):
    return [sentence for found in answer.errors.values() for sentence in found]


def said_of(answer):
    """What a person reads at the top of the sink after touching a button."""
    if answer.state == intake.ALREADY:
        return "That was logged already; nothing was added twice."
    first = answer.entries[0]
    if first.kind == Entry.Kind.STRIKE:
        return "Struck out." if len(answer.entries) == 1 else f"{len(answer.entries)} lines struck out."
    lines = lines_of(list(Entry.objects.filter(pk=first.pk).with_details().select_related("plan_line")))
    what = lines[0].what if lines else "Logged"
    more = len(answer.entries) - 1
    return f"Logged: {what}{f', and {more} more' if more else ''}."
