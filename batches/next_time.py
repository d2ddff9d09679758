"""What was said for the next time when a run was finished, and which version it was put into."""

from dataclasses import dataclass, field

from django.db import transaction

from recipes.models import Recipe

from .models import Entry, Finish, NotePut, Run

MOST = 48


@dataclass
class Note:
    """Words of one run, said of one or more of its pots by one touch or several. `put`: the versions that have it."""

    run: Run
    words: str
    finishes: list = field(default_factory=list)
    put: list = field(default_factory=list)

    @property
    def key(self):
        """Of its address: the first finish that said it."""
        return self.finishes[0].pk

    @property
    def newest(self):
        """The number of the newest version that has it; 0: none has."""
        return max((version.number for version in self.put), default=0)


def notes_of(colourway):
    """[Note] of all runs of a colourway, newest first. Two queries."""
    said = Entry.objects.standing().filter(kind=Entry.Kind.FINISH, batch__run__colourway=colourway)
    return _together(said.exclude(finish__next_time=""))


def open_notes(colourway):
    """[Note] that are in no version yet, newest first: what to read before it is planned again."""
    return [note for note in notes_of(colourway) if not note.put]


def note_by(run, key):
    """The `Note` of a run that this finish says; None where there is none, or it was struck out."""
    said = Entry.objects.standing().filter(kind=Entry.Kind.FINISH, batch__run=run).exclude(finish__next_time="")
    return next((note for note in _together(said) if key in {finish.pk for finish in note.finishes}), None)


def _together(entries):
    shown = entries.select_related("finish", "batch__run__recipe").order_by(
        "-batch__run__day", "-batch__run", "at", "pk"
    )
    found = {}
    for entry in shown[: MOST * 8]:
        run, words = entry.batch.run, entry.finish.next_time.strip()
        found.setdefault((run.pk, words), Note(run, words)).finishes.append(entry.finish)
    notes = list(found.values())[:MOST]
    by_finish = {finish.pk: note for note in notes for finish in note.finishes}
    puts = NotePut.objects.filter(finish__in=by_finish).select_related("recipe").order_by("recipe__number")
    for put in puts:
        versions = by_finish[put.finish_id].put
        if put.recipe not in versions:
            versions.append(put.recipe)
    return notes


class AlreadyPut(ValueError):
    """Somebody else put the note into a version in the meantime."""


def put_in_next(note, write, *, by, now, known=None):
    """The version that `write()` makes, which has the note from the beginning.

    `known`: the newest version with the note that whoever writes this one knows of, by its number; None: the note's.
    Raises `AlreadyPut` where there is a newer one.
    """
    with transaction.atomic():
        Run.lock(note.run.pk)  # before the colourway, which the next version locks
        known = note.newest if known is None else known
        note.put = _versions_with(note)
        if note.newest > known:
            raise AlreadyPut(
                f"This note was put into version {note.newest} in the meantime: look at that one. Keep this one too "
                "only if it is to be another."
            )
        version = write()
        put(note, version, by=by, now=now)
    return version


def _versions_with(note):
    keys = [finish.pk for finish in note.finishes]
    return list(Recipe.objects.filter(notes_put__finish__in=keys).distinct().order_by("number"))


def put(note, version, *, by, now):
    """The note is in this version from now on. Saying so twice says it once."""
    with transaction.atomic():
        Run.lock(note.run.pk)
        there = set(NotePut.objects.filter(recipe=version).values_list("finish", flat=True))
        for finish in Finish.objects.filter(pk__in=[one.pk for one in note.finishes]).exclude(pk__in=there):
            NotePut.objects.create(finish=finish, recipe=version, at=now, by=by)
