"""The drawn parts of a page, and amounts as this studio writes them.

Colours go into SVG ``fill`` attributes only: the pages forbid inline styles.
"""

from itertools import count

from django import template
from django.urls import NoReverseMatch, reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import mark_safe

from studio import doors, units, writing
from studio import money as coins
from studio.cautions import CAUTIONS, DEFERS
from studio.colourbar import percents, safe_fill, widths

register = template.Library()

HATCH_NUMBERS = count(1)  # ids must differ within a page, and a page may be put together from fragments
NOTHING = ""

SECTIONS = (
    ("journal", "Journal", "batches:journal"),
    ("colourways", "Colourways", "batches:colourways"),
    ("shelf", "Shelf", "batches:shelf"),
    ("prices", "Prices", "batches:prices"),
    ("studio", "Studio", "studio:studio"),
)


# The colour bar and what stands by it


@register.simple_tag
def colourbar(segments, look="", label="Dyes by mass", scale=None):
    """``{% colourbar segments "tall" label="Planned" scale=6.4 %}``: the dyes as a bar, said in words too."""
    segments = [seen(segment) for segment in segments]
    shares = [segment["share"] for segment in segments]
    hatches, rects, joints, left = [], [], [], 0
    for segment, width in zip(segments, widths(shares, scale), strict=True):
        if not width:
            continue
        fill = segment["fill"]
        if segment["share"] is None:
            hatch_id = f"hatch-{fill.strip('#')}-{next(HATCH_NUMBERS)}"
            hatches.append((hatch_id, "currentColor" if fill == "none" else fill))
            fill = f"url(#{hatch_id})"
        if left:
            joints.append((left, left))
        rects.append((left, width, mark_safe(' class="none"') if fill == "none" else "", fill))
        left += width
    return format_html(
        '<svg class="colourbar{}" role="img" aria-label="{}">{}{}{}</svg>',
        f" {look}" if look else "",
        f"{label}: {in_words(segments)}",
        _definitions(hatches),
        format_html_join("", '<rect x="{}%" width="{}%" height="100%"{} fill="{}"/>', rects),
        format_html_join("", '<line x1="{}%" x2="{}%" y2="100%"/>', joints),
    )


def seen(segment):
    """A segment (an object or a dict) as plain values that are safe to draw."""
    get = segment.get if isinstance(segment, dict) else lambda key: getattr(segment, key, None)
    return {
        "name": get("name") or "unnamed",
        "fill": safe_fill(get("fill")),
        "share": None if get("unweighed") else get("share"),
        "amount": get("amount") or "",
    }


def in_words(segments):
    """The bar said: "Brick 60 %, Ochre 40 % of what was weighed, Soot not weighed"."""
    if not segments:
        return "nothing yet"
    weighed, unweighed = [], []
    for segment, percent in zip(segments, percents([segment["share"] for segment in segments]), strict=True):
        if segment["share"] is None:
            unweighed.append(f"{segment['name']} not weighed")
        elif segment["amount"]:
            weighed.append(f"{segment['name']} {segment['amount']}")
        elif percent is not None:
            weighed.append(f"{segment['name']} {percent if percent else 'under 1'}{units.NO_BREAK_SPACE}%")
    if weighed and unweighed and not any(segment["amount"] for segment in segments):
        weighed[-1] += " of what was weighed"
    return ", ".join(weighed + unweighed) or "nothing yet"


def _definitions(hatches):
    if not hatches:
        return ""
    return format_html(
        "<defs>{}</defs>",
        format_html_join(
            "",
            '<pattern id="{}" width="7" height="7" patternUnits="userSpaceOnUse"'
            ' patternTransform="rotate(45)"><rect class="mount" width="7" height="7"/>'
            '<path d="M2 0v7" stroke="{}" stroke-width="4"/></pattern>',
            hatches,
        ),
    )


@register.simple_tag
def swatch(fill):
    """``{% swatch dye.colour %}Brick``: a square of the dye's colour; its name must stand beside it."""
    return format_html(
        '<svg class="swatch" viewBox="0 0 10 10" aria-hidden="true"><rect width="10" height="10" fill="{}"/></svg>',
        safe_fill(fill),
    )


@register.simple_tag
def dyes(segments):
    """``{% dyes segments %}``: the names with their swatches, and the amount where a segment has one."""
    rows = [seen(segment) for segment in segments]
    if not rows:
        return ""
    items = format_html_join(
        "",
        "<li>{}{}{}</li>",
        ((swatch(row["fill"]), row["name"], _amount_of(row)) for row in rows),
    )
    return format_html('<ul class="dyes">{}</ul>', items)


def _amount_of(row):
    if row["amount"]:
        return format_html(' <span class="num">{}</span>', row["amount"])
    return mark_safe(' <span class="soft">not weighed</span>') if row["share"] is None else ""


RINGS = {
    "clear": ("clear", '<circle cx="8" cy="8" r="7"/>'),
    "nearly": ("nearly clear", '<path class="dye" d="M1 8a7 7 0 0 0 14 0z"/><circle cx="8" cy="8" r="7"/>'),
    "not_yet": ("not clear yet", '<circle class="dye" cx="8" cy="8" r="7"/><circle cx="8" cy="8" r="7"/>'),
}


@register.simple_tag
def ring(state, words=""):
    """``{% ring "nearly" %}``: how clear the bath is: clear, nearly or not_yet; drawn, and said in words."""
    if state not in RINGS:
        return ""
    usual, drawing = RINGS[state]
    return format_html(
        '<span class="word"><svg viewBox="0 0 16 16" aria-hidden="true">{}</svg>{}</span>',
        mark_safe(drawing),
        words or usual,
    )


MOST_UNFOLDED = 2


@register.inclusion_tag("parts/cautions.html")
def caution(kind, about="", sheet=""):
    """``{% caution "powder" about="Soot is weighed as powder." sheet=dye.sheet_url %}``"""
    found = CAUTIONS[kind]
    return {"found": [(about or found.title, found.words)], "defers": DEFERS, "sheet": sheet}


@register.inclusion_tag("parts/cautions.html")
def cautions(*kinds, sheets=(), about="", titles=False):
    """``{% cautions page.cautions "disposal" sheets=substances %}``: each once, as one part of the page.

    ``kinds``: keys, or lists of them. ``sheets``: dyes and assistants, whose data sheets are linked where known.
    ``about``: stands in for the title of the first. More than a few are folded to their titles; so
    are all with ``titles``, on a page where much else is read.
    """
    wanted = {key for kind in kinds for key in ([kind] if isinstance(kind, str) else kind or ())}
    found = [(each.title, each.words) for key, each in CAUTIONS.items() if key in wanted]
    if found and about:
        found[0] = (about, found[0][1])
    known = [thing for thing in dict.fromkeys(sheets or ()) if thing.sheet_url or thing.sheet_id]
    return {"found": found, "defers": DEFERS, "sheets": known, "folded": titles or len(found) > MOST_UNFOLDED}


# The frame


@register.simple_tag(takes_context=True)
def may(context, view_name, method="GET"):
    """``{% may "batches:prices" as allowed %}``: may this person open that page? Hides, never protects."""
    person = getattr(context.get("request"), "user", None) or context.get("user")
    return person is not None and doors.allows(person, view_name, method)


@register.inclusion_tag("parts/nav.html", takes_context=True)
def sections(context):
    """The links of the masthead. A view may set ``here`` to a section's key; else the address decides."""
    links = []
    for key, word, view_name in SECTIONS:
        if may(context, view_name):
            try:
                links.append({"key": key, "word": word, "url": reverse(view_name)})
            except NoReverseMatch:
                continue
    request = context.get("request")
    path = request.path if getattr(request, "resolver_match", None) else ""
    above = [link for link in links if path.startswith(link["url"])]
    here = context.get("here") or max(above, key=lambda link: len(link["url"]), default={"key": ""})["key"]
    for link in links:
        if link["key"] == here:
            link["current"] = "page" if path == link["url"] else "true"
    return {"links": links}


@register.inclusion_tag("parts/errors.html", takes_context=True)
def errors(context, *forms):
    """What is to put right, of the given forms or else of the page's ``form``, ``formset`` and ``forms``.

    A page's ``refused`` says why the whole of it was refused, and stands first.
    """
    found = list(forms) or [context.get("form"), context.get("formset"), *(context.get("forms") or ())]
    refused = context.get("refused")
    # A page may name the same form twice: as its `form` and among its `forms`.
    wrong = [problem for form in dict.fromkeys(found) if form is not None for problem in problems_of(form)]
    wrong = [problem for problem in dict.fromkeys(wrong) if problem[1] != refused]
    return {"problems": [("", refused), *wrong] if refused else wrong}


@register.simple_tag(takes_context=True)
def error_prefix(context):
    """ "Error: " first in the title of a page that came back with something to put right."""
    refused = any(message.level_tag == "error" for message in context.get("messages") or ())
    return "Error: " if refused or context.get("has_errors") or errors(context)["problems"] else ""


def problems_of(form):
    """(id of the field to go to or "", sentence) for everything wrong with a form or a set of them."""
    if hasattr(form, "management_form"):
        own = [("", sentence) for sentence in form.non_form_errors()]
        return own + [problem for each in [*form.forms, *form.beside] for problem in problems_of(each)]
    if not getattr(form, "is_bound", False):
        return []
    found = [("", sentence) for sentence in form.non_field_errors()]
    for field in form:
        target = "" if field.is_hidden else getattr(field, "target", field.id_for_label)
        found += [(target, sentence) for sentence in field.errors]
    return found


# Amounts, money and times. None is a value: it is written "not known", never 0.


def _written(write, value, *more):
    if value is None or value == NOTHING:
        return "not known"
    return write(value, *more)


@register.filter
def g(value):
    return _written(units.write_g, value, writing.current().system)


@register.filter
def ml(value):
    return _written(units.write_ml, value, writing.current().system)


@register.filter
def m(value):
    return _written(units.write_m, value, writing.current().system)


@register.filter
def celsius(value):
    return _written(units.write_c, value, writing.current().system)


@register.filter
def amount(value):
    """A typed ``units.Amount``, in the unit it was typed in."""
    return _written(units.write_amount, value)


@register.filter
def number(value):
    return _written(units.write_number, value)


@register.filter
def percent(value):
    return _written(units.write_pct, value, 4)


@register.filter
def depth(value):
    """A depth of shade, with the digits that mean something: "0.99 % owf"."""
    return _written(lambda pct: f"{units.write_pct(pct)}{units.NO_BREAK_SPACE}owf", value)


@register.filter
def money(value, currency=None):
    """Major units: ``Decimal("12.50")|money`` -> "€12.50"."""
    now = writing.current()
    return _written(coins.write_money, value, currency or now.currency, now.locale)


@register.filter
def minor(value, currency=None):
    """Minor units as stored: ``1250|minor`` -> "€12.50"."""
    currency = currency or writing.current().currency
    return _written(lambda known: money(coins.from_minor(known, currency), currency), value)


@register.filter
def day(value):
    """A day, short: "9 Oct", with its year unless it is this one."""
    return _written(writing.day, value)


@register.filter
def clock(value):
    """A time of day: "14:31", or "2:31 PM" where the studio's locale writes so."""
    return _written(writing.clock, value)


@register.filter
def when(value):
    """A time: "14:31" today, "9 Oct, 14:31" on another day."""
    return _written(writing.when, value)
