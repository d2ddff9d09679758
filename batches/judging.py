"""Judging the finished colour: what was found, what is still to do, and what is usually done when it bleeds."""

from dataclasses import dataclass, field

from studio import writing
from studio.units import write_c

from .models import Check, Entry, PhotoTaken

What = Check.What

# In the order in which they are made; what a studio does without cards or a laboratory.
USUAL = (What.RINSE, What.CLOTH, What.RUB_DRY, What.RUB_WET, What.WASH)
BEST_TO_SEE = (PhotoTaken.Stage.DRY, PhotoTaken.Stage.CLOTH, PhotoTaken.Stage.BATH, PhotoTaken.Stage.WET)
SHOW_COLOUR = (What.CLOTH, What.WASH)

# How each is made: common practice, no source.
HOW = {
    What.RINSE: "Rinse in a white bowl, and count the rinses until the water shows no colour.",
    What.CLOTH: "Press a damp white cloth on the yarn for a minute.",
    What.RUB_DRY: "Ten strokes with dry white cotton over a finger.",
    What.RUB_WET: "Ten strokes with damp white cotton over a finger.",
    What.WASH: "Tie a gram or two of the dry yarn to a white cloth: half an hour in warm water with a drop of "
    "neutral soap, two rinses, and dried apart.",
    What.CARDS: "Yarn and cloth beside real grey-scale cards, in daylight from the north; 5 is best. A scale on a "
    "screen or from a printer shows no grade.",
    What.SENT: "As the report gives them; 5 is best.",
    What.REMEDY: "In a few words. It stands with the check that led to it, and asks for that check once more.",
}

# In the order in which they are tried: common practice, no source.
REMEDIES = (
    "Measure the pH of the bath. Acid dyes hold on to wool, silk and nylon at 5 or below.",
    "Add acid, and bring it back to heat for 15 to 20 minutes. Yarn that was steamed is steamed once more.",
    "Rinse cooler and longer, until a white cloth stays clean.",
    "Wash it at 40 °C with neutral soap, and rinse.",
    "Use a fixative or another aftertreatment only as its own data sheet says.",
    "Dye it less deep the next time.",
)


@dataclass
class Made:
    """A check that was made: what led to it, and what was done and tested because of it."""

    entry: Entry
    pots: list = field(default_factory=list)  # the batches it was said for by one touch
    because: object = None
    led_to: list = field(default_factory=list)
    may_strike: bool | None = None

    @property
    def check(self):
        return self.entry.check_made

    @property
    def unanswered(self):
        """It bleeds, and nobody has said what was done about it."""
        return self.check.bleeds and not self.led_to

    @property
    def result(self):
        """What it found, in words: "A trace", "At rinse 3", "4-5 staining"; "" for a remedy."""
        said = self.check
        if said.result:
            return said.get_result_display().capitalize()
        if said.rinses:
            return f"At rinse {said.rinses}"
        grades = [(said.change_grade, "change"), (said.stain_grade, "staining")]
        return ", ".join(f"{grade_words(grade)} {of}" for grade, of in grades if grade is not None)

    @property
    def facts(self):
        """How it was made, in words."""
        said = self.check
        found = [f"at rinse {said.rinses}"] if said.result and said.rinses else []
        if said.standard:
            found.append(f"by {said.standard}")
        if said.water_c is not None:
            found.append(f"water at {write_c(said.water_c, writing.current().system)}")
        return found


@dataclass(frozen=True)
class ToDo:
    """A check that some pots still lack, or that has to be made again because the last one bled."""

    what: str
    pots: tuple
    again: bool = False
    because: object = None

    @property
    def label(self):
        return What(self.what).label


def made(standing):
    """[Made] of a run's standing entries, in order; what one touch said of several pots is one."""
    checks = [entry for entry in standing if entry.kind == Entry.Kind.CHECK]
    touches, found = {}, {}
    for entry in checks:
        one = touches.setdefault(entry.together or entry.pk, Made(entry))
        one.pots.append(entry.batch)
        found[entry.pk] = one
    for one in touches.values():
        one.because = found.get(one.entry.because_id)
        if one.because is not None:
            one.because.led_to.append(one)
    return list(touches.values())


def chains(found):
    """[[Made]]: each check with what was done and tested because of it, in the order in which it was done.

    What reads alike in several pots, found in the same hour, is one chain of all of them.
    """
    alike = {}
    for one in found:
        if one.because is None:
            chain = _chain(one)
            first = alike.setdefault(tuple(_reads(link) for link in chain), chain)
            if first is not chain:
                for link, same in zip(first, chain, strict=True):
                    link.pots = list(dict.fromkeys([*link.pots, *same.pots]))
    return list(alike.values())


def _reads(one):
    said = (one.check.what, one.result, tuple(one.facts), one.entry.words, one.entry.by_id)
    return *said, one.entry.after_finish, one.entry.at.replace(minute=0, second=0, microsecond=0)


def _chain(one):
    """Those that led to another are few, so the chain is followed one by one."""
    return [one, *(later for following in one.led_to for later in _chain(following))]


def pictures(standing):
    """The newest photo entry of each kind, those that are judged by first: dry, of a cloth, of the bath, wet."""
    newest = {entry.photo.stage: entry for entry in standing if entry.kind == Entry.Kind.PHOTO}
    return [newest[stage] for stage in BEST_TO_SEE if stage in newest]


def grade_words(grade):
    """A grade in halves as ISO writes it: 3.5 is "3-4"."""
    whole = int(grade)
    return f"{whole}" if grade == whole else f"{whole}-{whole + 1}"


def to_do(standing, batches):
    """[ToDo] of the usual checks, in their order."""
    last = last_of_each(standing)
    found = []
    for what in USUAL:
        again = tuple(pot for pot in batches if (entry := last.get((pot.pk, what))) and entry.check_made.bleeds)
        if again:
            found.append(ToDo(what, again, again=True, because=last[again[0].pk, what].pk))
        lacking = tuple(pot for pot in batches if (pot.pk, what) not in last)
        if lacking:
            found.append(ToDo(what, lacking))
    return found


def without_dry_photo(standing, batches):
    """The pots that no dry photo shows yet."""
    photos = [entry for entry in standing if entry.kind == Entry.Kind.PHOTO]
    shown = {entry.batch_id for entry in photos if entry.photo.stage == PhotoTaken.Stage.DRY}
    return [pot for pot in batches if pot.pk not in shown]


def last_of_each(standing):
    """{(batch id, which check): its newest entry}: a retest replaces what it answers."""
    checks = [entry for entry in standing if entry.kind == Entry.Kind.CHECK]
    return {(entry.batch_id, entry.check_made.what): entry for entry in checks}


def ever_bled(standing):
    """Whether any cloth or wash check showed colour, whatever a later one of the same pot showed."""
    checks = [entry.check_made for entry in standing if entry.kind == Entry.Kind.CHECK]
    return any(check.bleeds for check in checks if check.what in SHOW_COLOUR)


def bleeds(standing):
    """Whether the last cloth or wash check of any pot still shows colour; None where nothing was tested."""
    last = [entry.check_made.bleeds for (_, what), entry in last_of_each(standing).items() if what in SHOW_COLOUR]
    return any(last) if last else None
