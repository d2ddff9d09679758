"""What a page says of one run at its head."""

from django import template

from batches import depth
from studio.templatetags.parts import colourbar

register = template.Library()


@register.simple_tag
def run_bar(run):
    """``{% run_bar run %}``: its colour bar, for the head of a page. Costs up to five queries, so never in a list."""
    return colourbar(depth.bars_of_runs([run])[run.pk])
