"""What the pages of the shelf draw and say: bottles to scale, jars, amounts of a lot, movements in words."""

from decimal import Decimal

from django import template
from django.utils.html import format_html, format_html_join

from studio import fibres, naming, shelf_words, units, writing
from studio.colourbar import safe_fill, widths

register = template.Library()

FULL_SCALE_ML = Decimal(500)  # the bottle whose drawing fills the board, unless a larger one stands on it
TALLEST_ML = Decimal(1000)  # a carboy would make thimbles of the rest: what is larger is drawn like this
LEAST_SCALE = 0.42
JAR_FULL_G = Decimal(100)  # a drawn jar is full at this weight, unless one on the rack holds more


@register.filter
def of_lot(amount, lot):
    """``{{ held.here|of_lot:lot }}``: an amount of this lot in words: "34 skeins", "86 g", "410 mL"."""
    return shelf_words.said(amount, lot.unit, _skein_g(lot), writing.current().system)


@register.filter
def of_base(grams, base):
    """A weight of a base's yarn in skeins: "8 skeins"."""
    return shelf_words.in_skeins(grams, base.skein_g, writing.current().system)


def _skein_g(lot):
    return lot.skein_g if shelf_words.came_in_skeins(lot.received, lot.skein_g) else None


@register.simple_tag
def content_of(base):
    """The fibre content as entered: "75 % wool, 25 % nylon". For reading, not for a tag."""
    return ", ".join(
        f"{_plain(row.percent)}{units.NO_BREAK_SPACE}% {_fibre_word(row.fibre)}" for row in base.fibres.all()
    )


def _fibre_word(key):
    return fibres.FIBRES.get(key, "Mixed fibres").split(" (")[0].lower()


def _plain(number):
    return f"{number.normalize():f}"


@register.simple_tag
def bottle(held, rack):
    """A bottle drawn to scale with the others on its board, the level in the colour of what is in it."""
    lot = held.lot
    if lot.unit == "g":
        return jar(held, rack)
    largest = max([FULL_SCALE_ML, *(other.lot.received for other in rack if other.lot.unit == "mL")])
    largest = min(largest, TALLEST_ML)
    scale = min(max(float(lot.received / largest) ** (1 / 3), LEAST_SCALE), 1)
    body, neck = round(52 * scale), round(16 * max(scale, 0.8))
    shoulder, tall = round(16 * scale), round(100 * scale)
    top = 2
    throat = round(28 * scale)
    left, right = 4, 4 + body
    n_left = left + (body - neck) // 2
    under = top + 8
    at_shoulder = top + throat
    at_body = at_shoulder + shoulder
    bottom = at_body + tall
    inner_left, inner_right, full = left + 4, right - 4, round(0.94 * (tall - 4))
    floor = bottom - 4
    share = min(max(held.here / lot.received, Decimal(0)), Decimal(1))
    level = max(round(float(share) * full), 1 if held.here > 0 else 0)
    glass = (
        f"M{n_left} {top}h{neck}v8h-2V{at_shoulder}L{right} {at_body}V{bottom}H{left}V{at_body}"
        f"L{n_left + 2} {at_shoulder}V{under}H{n_left}z"
    )
    ticks = "".join(f"M{inner_right - 8} {floor - round(full * step / 5)}h8" for step in range(1, 5))
    liquid = _liquid(held.dyes, inner_left, inner_right, floor - level, level)
    return _drawing(held, body + 8, bottom + 3, liquid, glass, ticks)


@register.simple_tag
def jar(held, rack):
    """A jar of powder; the level is by weight, on one scale for the whole board."""
    largest = max([JAR_FULL_G, *(other.here for other in rack if other.lot.unit == "g")])
    share = min(max(held.here / largest, Decimal(0)), Decimal(1))
    level = max(round(float(share) * 62), 1 if held.here > 0 else 0)
    return _drawing(held, 58, 86, _liquid(held.dyes, 7, 53, 81 - level, level), "M7 2h46v10H7zM3 12h54v73H3z", "")


@register.simple_tag
def left_of(held):
    """What is left of what came, as a bar: free in ink, promised to plans in stripes, what is used up empty.

    The words beside it say the same, so it is not read out. It needs the stripes of `studio/shelf/_stripes.html`.
    """
    came = max(held.lot.received, held.here)
    here = max(held.here, Decimal(0))
    free = min(max(held.free, Decimal(0)), here)
    parts = (("ink", Decimal(0), free), ("stripes", free, here - free))
    drawn = [(name, round(100 * x / came, 1), round(100 * wide / came, 1)) for name, x, wide in parts if wide]
    rects = format_html_join("", '<rect class="{}" x="{}%" width="{}%" height="100%"/>', drawn)
    return format_html('<svg class="left-of" aria-hidden="true">{}</svg>', rects)


def _liquid(dyes, left, right, top, height):
    """The dyes side by side, widths by mass. What nobody knows is hatched, with the stripes of `_stripes.html`."""
    if not height:
        return ""
    wide = right - left
    if not dyes:
        return format_html('<rect class="unknown" x="{}" y="{}" width="{}" height="{}"/>', left, top, wide, height)
    drawn, x = [], Decimal(left)
    for (colour, _), width in zip(dyes, widths([share for _, share in dyes]), strict=True):
        drawn.append((round(x, 1), top, round(width * wide / 100, 1), height, safe_fill(colour)))
        x += width * wide / 100
    return format_html_join("", '<rect x="{}" y="{}" width="{}" height="{}" fill="{}"/>', drawn)


def _drawing(held, width, height, liquid, glass, ticks):
    lot = held.lot
    of = f" of {of_lot(lot.received, lot)}" if lot.is_bottle else ""
    return format_html(
        '<svg class="bottle" width="{}" height="{}" viewBox="2 0 {} {}" role="img" aria-label="{}: {}{} left">'
        '{}<path class="tick" d="{}"/><path class="glass" d="{}"/></svg>',
        width, height, width, height, lot, of_lot(held.here, lot), of, liquid, ticks, glass,
    )  # fmt: skip


@register.filter
def strong(lot):
    """``{{ lot|strong }}``: "85 % strong" of a powder that is not as strong as the standard; else ""."""
    return naming.lot_strong(lot)


@register.filter
def hue(lot):
    """``{{ lot|hue }}``: how its hue is off, to stand inside a sentence."""
    return naming.lot_hue(lot)


@register.filter
def inside(words):
    """``{{ correction.hue|inside }}``: what somebody wrote, to stand inside a sentence."""
    return naming.inside(words)


@register.filter
def strength(number):
    """A strength as it is said: three figures. "1.02 %"; None is "not known"."""
    return "not known" if number is None else units.write_pct(number)


@register.filter
def moved(movement):
    """What happened, as the first words of a line."""
    words = movement.get_kind_display()
    if movement.kind == movement.Kind.REVERSED:
        words = f"{words}: {movement.reverses.get_kind_display()}"
    return f"Went into {movement.into}" if movement.into_id else words.capitalize()


@register.filter
def change_of(amount, lot):
    """A movement's amount with its sign: "+34 skeins", "−20 mL"."""
    return f"+{of_lot(amount, lot)}" if amount > 0 else of_lot(amount, lot)


@register.filter
def wanted_of(amount, lot):
    """An amount to weigh or pour, to four figures, in the lot's own unit: "5.882 g", "50 mL"."""
    unit = "g" if lot.unit == "g" else "mL"
    return f"{units.write_number(amount, digits=4)}{units.NO_BREAK_SPACE}{unit}"


@register.filter
def three(number):
    return units.write_number(number, digits=3)


@register.filter
def each_filling(filling):
    return shelf_words.each_filling(filling)
