"""Finding runs again: by code, colourway, base, dye, lot, or a word of the log."""

import re

from django.db.models import Exists, OuterRef, Q

from .models import BatchYarn, Entry, PlanLine, Run

MOST_WORDS = 8
GONE_IN = (
    "addition__what",
    "addition__lot__number",
    "addition__lot__dye__name",
    "addition__lot__assistant__name",
    "addition__lot__solution__name",
    "addition__lot__contents__source__number",
    "addition__lot__contents__source__dye__name",
)
SAID_AT_FINISH = ("finish__next_time", "finish__snippet", "finish__why_off", "finish__outputs__name")
POT_OF_TAG = re.compile(r"(\d{2}-\d{3,})-\d{1,3}")


def words_of(text):
    """The words to look for, each once: those that are used, and those left out because they were too many."""
    words = list(dict.fromkeys(text.split()))
    return words[:MOST_WORDS], words[MOST_WORDS:]


def find(words):
    """Runs in which every one of `words` is found somewhere, newest first."""
    runs = Run.objects.all()
    for word in words:
        runs = runs.filter(_somewhere(word))
    return runs.newest_first()


def _somewhere(word):
    own = Q(code__icontains=run_code(word)) | Q(title__icontains=word) | Q(note__icontains=word)
    colourway = Q(colourway__name__icontains=word)
    return own | colourway | Q(Exists(_yarn(word))) | Q(Exists(_planned(word))) | Q(Exists(_logged(word)))


def run_code(word):
    """The run's code in a dye lot as a tag says it: "26-118-2" is pot 2 of "26-118"."""
    pot = POT_OF_TAG.fullmatch(word)
    return pot[1] if pot else word


def _yarn(word):
    named = (
        Q(lot__base__name__icontains=word)
        | Q(base__name__icontains=word)
        | Q(output__yarn__lot__base__name__icontains=word)
        | Q(words__icontains=word)
        | Q(lot__number__icontains=word)
    )
    return BatchYarn.objects.filter(named, batch__run=OuterRef("pk"))


def _planned(word):
    named = Q(dye__name__icontains=word) | Q(solution__name__icontains=word)
    return PlanLine.objects.filter(named, batch__run=OuterRef("pk"))


def _logged(word):
    """In a standing line of the log: its words, what went in (weighed or not), or what was said at the finish."""
    said = Q(words__icontains=word)
    for name in (*GONE_IN, *SAID_AT_FINISH):
        said |= Q(**{f"{name}__icontains": word})
    return Entry.objects.standing().filter(said, batch__run=OuterRef("pk"))


def bases_of(run):
    """The names of the yarns of a run whose batches and yarns were prefetched, each once, in order."""
    names = dict.fromkeys(yarn.name for batch in run.batches.all() for yarn in batch.yarns.all())
    return list(names)


def skeins_of(run):
    """How many skeins a run holds, of those that were counted; None where nobody counted any."""
    counted = [yarn.skeins for batch in run.batches.all() for yarn in batch.yarns.all() if yarn.skeins]
    return sum(counted) if counted else None


def where_of(run):
    """Where the yarn of a run is, each place once."""
    return list(dict.fromkeys(batch.get_where_display() for batch in run.batches.all()))
