"""The photographs of a run as its pages show them: what each says, its neighbours, what was copied from it, before and
after.
"""

from dataclasses import dataclass, field

from studio.models import Picture
from studio.naming import joined

from . import depth
from .models import Entry, PhotoTaken, Run, TimeFrom
from .telling import line_of, lines_of
from .whole_log import days_of, said_of

Stage = PhotoTaken.Stage
MOST_DYES = 6


def alt_of(name, stage_words, segments=(), words=""):
    """What a picture shows, for who cannot see it: the words that somebody gave it, or else the colourway's name, the
    stage, and its dyes by mass: "Kiln Door, dry: brick, ochre, rust and plum".
    """
    if words:
        return " ".join(words.split())
    names = list(dict.fromkeys(said_small(segment.name) for segment in segments))
    more = len(names) - MOST_DYES
    if more > 1:
        names = [*names[:MOST_DYES], f"{more} more"]
    said = f"{name}, {stage_words}" if stage_words else name
    return f"{said}: {joined(names)}" if names else said


def said_small(name):
    """A dye's name inside a sentence: "Sea Moss" is "sea moss"; a name with capitals of its own stays."""
    return name.lower() if all(word[1:] == word[1:].lower() for word in name.split()) else name


def alt_of_cover(run, segments=()):
    """What the picture that leads a run shows. `run` came with its `cover_photo` and that one's entry."""
    photo = run.cover_photo
    dyes = segments if photo.stage in PhotoTaken.OF_THE_YARN else ()
    return alt_of(run.name, photo.stage_words, dyes, photo.entry.words)


@dataclass
class Photo:
    """One photograph of a run: the first line of the log that shows it, and the pots of all lines that do."""

    entry: Entry
    alt: str
    segments: list  # of its colour bar; empty where the picture is not of the dyed yarn
    pots: list = field(default_factory=list)
    keys: list = field(default_factory=list)  # of those lines
    leads: bool = False

    @property
    def key(self):
        return self.entry.pk

    @property
    def picture(self):
        return self.entry.photo.picture

    @property
    def stage(self):
        return self.entry.photo.stage

    @property
    def title(self):
        return self.entry.photo.get_stage_display()

    @property
    def thumb(self):
        return self.picture.shape("thumb")

    @property
    def record(self):
        return self.picture.shape("record")


def photos_of(run, batches, standing):
    """[Photo] of a run, the oldest first; a picture that is shown in several pots is one.

    `standing`: entries in order, with their details, and with their batches as in `batches`. Four queries where there
    are photos.
    """
    shown = [entry for entry in standing if entry.kind == Entry.Kind.PHOTO]
    found = {}
    bars = bars_of(run, batches) if shown else {}
    for entry in shown:
        photo = found.get(entry.photo.picture_id)
        if photo is None:
            photo = found[entry.photo.picture_id] = Photo(entry, "", [])
        photo.pots.append(entry.batch)
        photo.keys.append(entry.pk)
    for photo in found.values():
        if photo.stage in PhotoTaken.OF_THE_YARN:
            photo.segments = bars[photo.pots[0].pk if len(photo.pots) == 1 else None]
        photo.alt = alt_of(run.name, stage_and_pot(photo, batches), photo.segments, photo.entry.words)
        photo.leads = run.cover_photo_id in photo.keys
    return list(found.values())


def stage_and_pot(photo, batches):
    """ "dry", or "dry, Tall pot 2" where there are several pots and it shows one."""
    words = photo.entry.photo.stage_words
    return f"{words}, {photo.pots[0].pot_name}" if len(batches) > 1 and len(photo.pots) == 1 else words


def bars_of(run, batches):
    """{batch key: segments} of the colour bars of each pot, and of all together at None."""
    fed = depth.fed_of_batches(batches) if len(batches) > 1 else {}
    whole = depth.segments(depth.fed_of_run(run))
    bars = {batch.pk: depth.segments(fed.get(batch.pk, [])) for batch in batches} if fed else {}
    return dict.fromkeys((batch.pk for batch in batches), whole) | bars | {None: whole}


def log_of_photos(run, batches):
    """The standing lines of a run's log that show photographs, in order."""
    by_key = {batch.pk: batch for batch in batches}
    found = Entry.objects.standing().filter(batch__run=run, kind=Entry.Kind.PHOTO).in_order()
    entries = list(found.select_related("photo__picture", "by"))
    for entry in entries:
        entry.batch = by_key[entry.batch_id]
    return entries


def find(photos, key):
    """The photo that this line of the log shows, or None."""
    return next((photo for photo in photos if key in photo.keys), None)


def neighbours(photos, photo):
    """(the one before, the one after), None at the ends."""
    place = photos.index(photo)
    return photos[place - 1] if place else None, photos[place + 1] if place + 1 < len(photos) else None


def said_before(photo):
    """The `Line` that the log of its pot says last before this photo was taken, or None. Three queries."""
    entry = photo.entry
    earlier = Entry.objects.standing().filter(batch=entry.batch, at__lte=entry.at).exclude(kind=Entry.Kind.PHOTO)
    told = earlier.with_details().select_related("plan_line__dye", "plan_line__assistant", "plan_line__solution")
    found = told.order_by("-at", "-received_at", "-pk").first()
    return line_of(found) if found else None


def copied_from(photo, batches):
    """[Day] of the standing lines that were copied from this page of notes, as the run's log says them. A fixed number
    of queries, none for a photo of anything else.
    """
    if photo.stage != Stage.PAPER:
        return []
    copied = Entry.objects.standing().filter(because__in=photo.keys, time_from=TimeFrom.PAPER).in_order()
    told = copied.with_details().select_related("plan_line__dye", "plan_line__assistant", "plan_line__solution")
    return days_of(said_of(lines_of(told), batches))


# Before and after


@dataclass(frozen=True)
class Side:
    """One half of two pictures side by side."""

    key: object  # of the photo's line
    picture: Picture
    alt: str
    caption: str
    at: object
    segments: list
    run: Run

    @property
    def thumb(self):
        return self.picture.shape("thumb")


def side_of(run, photo, segments=None):
    """A photo of a run as one half; the one that leads as it leads, which may be a crop."""
    picture = run.cover if photo.leads else photo.picture
    return Side(photo.key, picture, photo.alt, photo.title, photo.entry.at, segments or photo.segments, run)


def earlier_sides(run):
    """[Side]: how the yarn looked that came out of earlier runs and was dyed again or stripped in this one.

    These are the covers of those runs, where they are dry.
    """
    earlier = Run.objects.filter(
        batches__yarns__outputs__dyed_again__batch__run=run, cover_photo__stage=PhotoTaken.Stage.DRY
    ).exclude(pk=run.pk)
    found = list(earlier.select_related("colourway", "cover", "cover_photo__entry").order_by("-day", "-pk").distinct())
    bars = depth.bars_of_runs(found) if found else {}
    return [
        Side(
            one.cover_photo_id,
            one.cover,
            alt_of_cover(one, bars[one.pk]),
            f"{one.name} {one.code}, {one.cover_photo.stage_words}",
            one.cover_photo.entry.at,
            bars[one.pk],
            one,
        )
        for one in found
    ]


def before_and_after(run, photos, earlier):
    """(Side, Side), or None where the run lacks one of them. `photos`: of the run; `earlier`: its `earlier_sides`."""
    dry = [photo for photo in photos if photo.stage == Stage.DRY]
    after = next((photo for photo in dry if photo.leads), dry[-1] if dry else None)
    undyed = next((photo for photo in photos if photo.stage == Stage.BEFORE), None)
    bar = earlier[0].segments if earlier else None
    before = side_of(run, undyed, bar) if undyed else next(iter(earlier), None)
    return (before, side_of(run, after)) if before and after else None
