"""How this studio writes: units, currency, locale. Set once a request, read by the template filters."""

from contextvars import ContextVar
from dataclasses import dataclass


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
