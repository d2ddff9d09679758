"""What a powder lot is wanted for: the colourways that use its dye, and the runs that are planned with it."""

from django import template

from batches import receipts

register = template.Library()


@register.inclusion_tag("batches/_wanted_for.html", takes_context=True)
def wanted_for(context, lots):
    """``{% wanted_for lots %}``: for each powder lot among these (with `hue_now`), what it is for."""
    return {"wanted": receipts.wanted_for(lots), "user": context.get("user"), "request": context.get("request")}
