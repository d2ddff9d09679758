"""How pages say an amount, a length of time and a time of day."""

from decimal import ROUND_HALF_UP, Decimal

from django.utils import timezone

from studio import units, writing
from studio.units import NO_BREAK_SPACE

LONG = 180  # minutes; shorter ones are said in minutes, as a hold is


def capital(text):
    return text[:1].upper() + text[1:]


def amount_of(value, unit):
    """An amount in g or mL as this studio writes it; unknown is said."""
    if value is None:
        return "not measured"
    system = writing.current().system
    return units.write_ml(value, system) if unit == "mL" else units.write_g(value, system)


def weight(g):
    """A weight as the scale showed it, to the last digit."""
    return precise(g, "g")


def precise(amount, unit):
    """An amount in g or mL as it was measured, to the last digit."""
    return f"{units.write_number(amount, digits=10)}{NO_BREAK_SPACE}{unit}"


def minutes(value):
    """Minutes as somebody would say them: hours of a day in the sun, halves of a short piece of work."""
    if value >= LONG:
        hours, rest = divmod(int(value.to_integral_value(ROUND_HALF_UP)), 60)
        return f"{hours}{NO_BREAK_SPACE}h" + (f" {rest}{NO_BREAK_SPACE}min" if rest else "")
    step = Decimal("0.5") if value < 10 else Decimal(1)
    return f"{units.write_number(value, step)}{NO_BREAK_SPACE}min" if value >= step / 2 else "under half a minute"


def heat_and_time(line):
    """ "85 °C, 25 min" of a step, or of an amount that goes in so; "" where it says neither."""
    return conditions(line.temperature_c, line.minutes)


def conditions(celsius, long):
    """How hot [°C] and how long [min], of what is known: "85 °C, 45 min"."""
    said = [] if celsius is None else [units.write_c(celsius, writing.current().system)]
    return ", ".join(said + ([] if long is None else [minutes(long)]))


def together_words(pots, kind="pot"):
    """ "each of both pots", "each of the 6 jars": what is said of all is never their sum."""
    return f"each of both {kind}s" if pots == 2 else f"each of the {pots} {kind}s"


def all_words(pots, kind="pot"):
    """ "both pots", "all 6 jars" """
    return f"both {kind}s" if pots == 2 else f"all {pots} {kind}s"


def until(due_at, began):
    """A time of day; with its day where it began on another one."""
    same_day = timezone.localdate(due_at) == timezone.localdate(began)
    return writing.clock(due_at) if same_day else f"{writing.day(due_at)}, {writing.clock(due_at)}"


def play_time(seconds):
    """ "0:42", as players write it; what is under a second counts as one."""
    minutes_long, rest = divmod(max(1, int(seconds.to_integral_value(ROUND_HALF_UP))), 60)
    return f"{minutes_long}:{rest:02}"
