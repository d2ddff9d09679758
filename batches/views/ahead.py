"""Weighing ahead: what the plans of a day want, jar by jar."""

from urllib.parse import urlencode
from uuid import uuid4

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from batches import ahead, intake
from batches.forms.planned import WeighedForm
from batches.forms.strikes import just_now, may_strike
from batches.models import Batch
from batches.views.day_sheet import day_of
from batches.views.entries import said_of, sentences_of

TAKEN = ("weighed", "all_weighed", "strike")


@never_cache
@require_http_methods(["GET", "POST"])
def weigh_ahead(request):
    """Planned amounts to weigh, and that one stands weighed. It goes in as every entry does.

    `?day=2026-11-30`: of that day; today's, with what is left from before, without it. `jar`, `page`: which jar is open
    where they are many. `line`: of which amount another one is to be written.
    """
    answer = take(request) if request.method == "POST" else None
    if answer is not None and answer.ok:
        messages.success(request, said_of(answer))
        return redirect(f"{address(request)}{anchor(request.POST)}")
    return page(request, answer)


def address(request, **more):
    """The page of the same day, with the same jar open."""
    day, jar = day_of(request.GET.get("day", "")), request.POST.get("jar") or request.GET.get("jar", "")
    asked = {"day": day and day.isoformat(), "jar": jar if is_key(jar) else "", "page": request.GET.get("page")}
    said = urlencode({name: value for name, value in (asked | more).items() if value})
    return f"{reverse('batches:weigh-ahead')}{'?' if said else ''}{said}"


def anchor(data):
    jar = data.get("jar", "")
    return f"#{jar}" if is_key(jar) else ""


def is_key(jar):
    return jar.replace("-", "").isalnum() and jar.isascii() and len(jar) < 80


def take(request):
    pot = request.POST.get("pot", "")
    batch = get_object_or_404(Batch.objects.select_related("run"), pk=pot if pot.isdecimal() and len(pot) < 18 else 0)
    if request.POST.get("kind") not in TAKEN:
        return intake.Answer(intake.WRONG, sentence=intake.UNKNOWN_KIND)
    person = request.who.named(request.POST.get("by"))
    return intake.take(request.POST, {}, batch=batch, person=person, sent_by=request.user)


def page(request, answer):
    today, asked = timezone.localdate(), request.GET.get("day", "")
    shown = ahead.day_ahead(max(day_of(asked) or today, today), today)
    form = refused_form(answer)
    line = form.data.get("line", "") if form is not None else request.GET.get("line", "")
    key = request.POST.get("jar") or request.GET.get("jar", "")
    ahead.open_jars(shown, line=line, key=key, number=request.GET.get("page"))
    for jar in shown.jars:
        jar.address = address(request, jar=jar.key, page=None)
        for one in jar.part or ():
            dress(one, request.dyeing)
            one.address = address(request, jar=jar.key, page=jar.part.number, line=one.line.pk)
            one.form = form_of(one, request.dyeing, line, form)
    for several in [*shown.pots, *(one for jar in shown.jars for one in jar.together)]:
        several.id = uuid4()
    beside = form is not None and any(one.form is form for jar in shown.jars for one in jar.part or ())
    keys, sheets = ahead.cautions_of(shown)
    context = {
        "here": "journal",
        "today": today,
        "shown": shown,
        "no_day": asked if asked and day_of(asked) is None else "",
        "days": [one for one in ahead.days_left(today) if one.day != shown.day],
        "cautions": keys,
        "sheets": sheets,
        "forms": [answer.form] if answer and answer.form is not None and not beside else [],
        "form": form if beside else None,
        "refused": " ".join([*sentences_of(answer), *written(answer.form)]) if answer and not beside else "",
    }
    return render(request, "batches/weigh_ahead.html", context, status=answer.status if answer else 200)


def refused_form(answer):
    """The form of one amount that was refused, under a number of its own where the old one is taken."""
    if answer is None or not isinstance(answer.form, WeighedForm) or answer.sentence:
        return None
    form = answer.form if answer.state != intake.CLASH else answer.form.as_new()
    form.auto_id = f"line{form.data.get('line', '')}_%s"
    return form


def written(form):
    """What was written in an amount that has no place on the page any more, as somebody else has weighed it."""
    typed = form.data.get("amount", "").strip() if isinstance(form, WeighedForm) else ""
    return [f"You wrote “{typed[:40]}”."] if typed else []


def dress(one, person):
    """Say whether this person may take a portion back, and whether without a word."""
    one.id = uuid4()
    one.may_strike = one.entry is not None and may_strike(person, one.entry)
    one.just_now = one.may_strike and just_now(person, one.entry)


def form_of(one, person, line, refused):
    """The form of another amount, of the one line that is asked for. One at a time: what is typed there gets sent."""
    if one.entry is not None or str(one.line.pk) != line:
        return None
    form = refused or WeighedForm(None, batch=one.batch, person=person, auto_id=f"line{line}_%s")
    form.fields["amount"].begins_with(one.line.unit or "g")
    return form
