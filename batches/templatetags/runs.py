"""What a page says of one run at its head."""

from django import template

from batches import depth
from studio.templatetags.parts import colourbar

register = template.Library()


@register.filter
def graded(output, skeins):
    """``{{ output|graded:skeins }}``: "1 first", "2 samples or snippets", "3 back to the customer"."""
    one = output.get_grade_display()
    many = output.OF_MANY.get(output.grade) if skeins != 1 else None
    return f"{skeins} {many or one[:1].lower() + one[1:]}"


@register.simple_tag
def run_bar(run):
    """``{% run_bar run %}``: its colour bar, for the head of a page. Costs up to five queries, so never in a list."""
    return colourbar(depth.bars_of_runs([run])[run.pk])
