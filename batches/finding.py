"""Finding runs again: by code, colourway, base, dye, lot, or a word of the log."""

from django.db.models import Exists, OuterRef, Q

from .models import AdditionLot, BatchYarn, Entry, Run

MOST_WORDS = 8


def find(text):
    """Runs that every word of `text` is found in somewhere, newest first."""
    runs = Run.objects.all()
    for word in text.split()[:MOST_WORDS]:
        runs = runs.filter(_somewhere(word))
    return runs.newest_first()


def _somewhere(word):
    own = Q(code__icontains=word) | Q(title__icontains=word) | Q(note__icontains=word)
    colourway = Q(colourway__name__icontains=word)
    return own | colourway | Q(Exists(_yarn(word))) | Q(Exists(_dye(word))) | Q(Exists(_words(word)))


def _yarn(word):
    named = (
        Q(lot__base__name__icontains=word)
        | Q(base__name__icontains=word)
        | Q(output__yarn__lot__base__name__icontains=word)
        | Q(words__icontains=word)
        | Q(lot__number__icontains=word)
    )
    return BatchYarn.objects.filter(named, batch__run=OuterRef("pk"))


def _dye(word):
    named = Q(lot__dye__name__icontains=word) | Q(lot__number__icontains=word)
    logged = AdditionLot.objects.filter(named, addition__entry__in=Entry.objects.standing())
    return logged.filter(addition__entry__batch__run=OuterRef("pk"))


def _words(word):
    return Entry.objects.standing().filter(words__icontains=word, batch__run=OuterRef("pk"))


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
