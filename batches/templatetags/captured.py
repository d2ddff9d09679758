"""What went from the journal into the recipes, for pages of either: the button that takes a recipe from a log, and
where a version was taken from. One query each, so never in a list.
"""

from uuid import uuid4

from django import template

from batches.models import Captured

register = template.Library()


@register.inclusion_tag("batches/_capture_button.html", takes_context=True)
def capture_button(context, run, look=""):
    """``{% capture_button run "main" %}``: one touch makes a version of the log, or leads to what has to be said."""
    return {"run": run, "look": look, "once": uuid4(), "csrf_token": context.get("csrf_token")}


@register.simple_tag
def versions_from(run):
    """``{% versions_from run as taken %}``: the versions that were taken from its log, oldest first."""
    found = Captured.objects.filter(run=run).select_related("recipe", "batch__vessel").order_by("recipe__number")
    return list(found)


@register.simple_tag
def taken_from(recipe):
    """``{% taken_from recipe as taken %}``: the `Captured` that says from which log a version was taken, or None."""
    return Captured.objects.filter(recipe=recipe).select_related("run", "batch__vessel").first()
