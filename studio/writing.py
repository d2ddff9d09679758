"""How this studio writes: units, currency, locale, and so days and times. Set once a request, for all that write."""

from contextvars import ContextVar
from dataclasses import dataclass

from babel.dates import format_skeleton, format_time
from django.utils import timezone


@dataclass(frozen=True)
class Writing:
    system: str = "metric"
    spoons: str = "metric"
    currency: str = "EUR"
    locale: str = "en_GB"


USUAL = Writing()
_writing = ContextVar("writing", default=USUAL)


def activate(studio):
    """Write as ``studio`` does from here on in this request."""
    _writing.set(Writing(studio.system, studio.spoons, studio.currency, studio.locale))


def current():
    return _writing.get()


def deactivate():
    _writing.set(USUAL)


def day(value):
    """A day, short: "9 Oct", with its year unless it is this one. Of a time: its day where the studio is."""
    local = _local(value)
    this_year = local.year == timezone.localdate().year
    return format_skeleton("MMMd" if this_year else "yMMMd", local, locale=current().locale)


def clock(at):
    """A time of day: "14:31", or "2:31 PM" where the studio's locale writes so."""
    return format_time(_local(at), "short", locale=current().locale)


def when(at):
    """A time: "14:31" today, "9 Oct, 14:31" on another day."""
    today = _local(at).date() == timezone.localdate()
    return clock(at) if today else f"{day(at)}, {clock(at)}"


def _local(value):
    """Without its zone, which the writer would otherwise turn into its own."""
    if hasattr(value, "utcoffset") and timezone.is_aware(value):
        return timezone.make_naive(value)
    return value
