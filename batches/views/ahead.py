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

    `?day=2026-11-30`: of that day; today's, with what is left from before, without it.
    """
    answer = take(request) if request.method == "POST" else None
    if answer is not None and answer.ok:
        messages.success(request, said_of(answer))
        return redirect(f"{address(request)}{anchor(request.POST)}")
    return page(request, answer)


def address(request):
    """The page of the same day."""
    day = day_of(request.GET.get("day", ""))
    said = f"?{urlencode({'day': day.isoformat()})}" if day else ""
    return f"{reverse('batches:weigh-ahead')}{said}"


def anchor(data):
    jar = data.get("jar", "")
    return f"#{jar}" if jar.replace("-", "").isalnum() and jar.isascii() else ""


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
    refused = refused_form(answer)
    for one in (one for jar in shown.jars for one in jar.portions):
        dress(one, request.dyeing, refused)
    for pot in shown.pots:
        pot.id = uuid4()
    keys, sheets = ahead.cautions_of(shown)
    context = {
        "here": "journal",
        "today": today,
        "shown": shown,
        "no_day": asked if asked and day_of(asked) is None else "",
        "days": [one for one in ahead.days_left(today) if one.day != shown.day],
        "cautions": keys,
        "sheets": sheets,
        "forms": [answer.form] if answer and answer.form is not None and refused is None else [],
        "form": refused,
        "refused": " ".join(sentences_of(answer)) if answer and refused is None else "",
    }
    return render(request, "batches/weigh_ahead.html", context, status=answer.status if answer else 200)


def refused_form(answer):
    """The form of one amount that was refused, under a number of its own where the old one is taken."""
    if answer is None or not isinstance(answer.form, WeighedForm):
        return None
    form = answer.form if answer.state != intake.CLASH else answer.form.as_new()
    line = form.data.get("line", "")
    form.auto_id = f"line{line}_%s"
    return form if not answer.sentence else None


def dress(one, person, refused):
    """Give a portion its form, and say whether this person may take it back, and whether without a word."""
    one.id, one.again_id = uuid4(), uuid4()
    one.may_strike = one.entry is not None and may_strike(person, one.entry)
    one.just_now = one.may_strike and just_now(person, one.entry)
    if refused is not None and refused.data.get("line") == str(one.line.pk):
        one.form = refused
    elif one.entry is None:
        one.form = WeighedForm(None, batch=one.batch, person=person, auto_id=f"line{one.line.pk}_%s")
    if one.entry is None:
        one.form.fields["amount"].begins_with(one.line.unit or "g")
