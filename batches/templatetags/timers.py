"""What is due, on every page. All tags of one page share one query."""

from decimal import Decimal
from uuid import uuid4

from django import template
from django.utils import timezone

from batches import timers, wording

register = template.Library()


def for_page(context, **facts):
    request = context.get("request")
    return {"now": timezone.now(), "user": context.get("user"), "request": request} | facts


@register.inclusion_tag("batches/_timers.html", takes_context=True)
def timers_at(context, batch):
    """``{% timers_at batch %}``: on the sink page of this pot: those of its run in full, the others by the way."""
    rows = timers.rows_of_request(context.get("request"))
    own = [row for row in rows if row.run.pk == batch.run_id]
    others = [row for row in rows if row.run.pk != batch.run_id]
    return for_page(context, batch=batch, own=own, others=others, full=True)


@register.inclusion_tag("batches/_ring_here.html", takes_context=True)
def ring_here(context):
    """``{% ring_here %}``: the sound of this phone, and the clock time for its own alarm."""
    rows = timers.rows_of_request(context.get("request"))
    return {"alarm": next((row for row in rows if not row.over), None)}


@register.inclusion_tag("batches/_timers.html", takes_context=True)
def timers_bar(context, script=False):
    """``{% timers_bar script=True %}``: a slim bar with the nearest ones, where any runs.

    `script`: on pages that have not got it by themselves.
    """
    rows = timers.rows_of_request(context.get("request"))
    shown = rows[: timers.FEW]
    return for_page(context, others=shown, more=len(rows) - len(shown), full=False, script=script)


@register.inclusion_tag("batches/_next_timer.html", takes_context=True)
def next_timer(context, batch, line, pots=1):
    """``{% next_timer batch line pots %}``: the button that starts the time of a planned step, in its form.

    Where its timer runs already there is none: the timer's own row ends it.
    """
    runs = [row for row in timers.rows_of_request(context.get("request")) if row.entry.plan_line_id]
    runs = [row for row in runs if row.run.pk == batch.run_id and row.entry.plan_line.position == line.position]
    words = "" if runs else timers.start_words(line)
    minutes = f"{line.minutes:f}" if words else ""
    facts = {"words": words, "minutes": minutes, "running": bool(runs), "pots": pots, "kind": context["kind"]}
    return facts | {"batch": batch, "line": line, "id": uuid4()}


@register.filter
def pot_for(row, batch):
    """``{{ row|pot_for:batch }}``: the pot that a row's buttons send to."""
    return row.pot_for(batch)


@register.filter
def as_minutes(value):
    """``{{ 480|as_minutes }}``: "8 h", as the log will say it."""
    return wording.minutes(Decimal(value))
