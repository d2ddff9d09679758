"""The first hour: what a new studio has done by now, and what comes next. Read from the records; nothing is stored."""

from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse

from recipes.models import Recipe
from studio import units
from studio.doors import allows
from studio.models import Base, Dye, Lot, Studio

BACK_HERE = {"next": "/"}


@dataclass(frozen=True)
class Way:
    """A link to a page that does it."""

    words: str
    url: str


@dataclass(frozen=True)
class Step:
    """One thing to do. `ways`: the pages that do it, the usual one first; none for who may not."""

    title: str
    done: bool
    words: str
    ways: tuple = ()


def first_steps(person):
    """(the steps for this person, the number of the next one or None), for the journal of a studio without runs."""
    steps = [step for step in (_studio(person), _base(person), _dye(person), _run(person)) if step]
    following = next((number for number, step in enumerate(steps, 1) if not step.done and step.ways), None)
    return steps, following


def _studio(person):
    if not person.is_owner:
        return None
    studio = Studio.get()
    way = Way("Change it" if studio.is_said else "Say where the studio is", reverse("studio:first"))
    if not studio.is_said:
        words = "Its country, money, clock and units, so that everything is written as you write it."
        return Step("Where the studio is", False, words, (way,))
    place = studio.time_zone.rpartition("/")[2].replace("_", " ")
    said = (
        f"{studio.name}, on {place} time, in {studio.currency} and {studio.get_system_display().split(':')[0]} units."
    )
    return Step("Where the studio is", True, said.replace("Metric", "metric"), (way,))


def _base(person):
    known = Base.objects.count()
    ways = _ways(person, ("studio:base-new", "Add another" if known else "Write down the first base"))
    words = "An undyed yarn as you buy it: what it is made of, and what a skein weighs."
    if known and not Lot.objects.filter(base__isnull=False).exists():
        ways += _ways(person, ("studio:opening", "Say how much yarn is here"))
    return Step("The first base", bool(known), f"{units.write_count(known, 'base')} here." if known else words, ways)


def _dye(person):
    known = Dye.objects.count()
    ways = _ways(person, ("studio:dye-new", "Add another" if known else "Write down the first dye"))
    words = "Its name as you say it at the pot, its class, and its colour on the fibre."
    return Step("The first dye", bool(known), f"{units.write_count(known, 'dye')} here." if known else words, ways)


def _run(person):
    """The last step, and the whole guide goes when it is done: so here it never is."""
    if not allows(person, "batches:bare-run"):
        return Step("The first run", False, "A maker begins it; from then on it is here, from the pot to the tag.")
    with_recipe = Recipe.objects.exists()
    begin = Way("Start a run", reverse("batches:new-run" if with_recipe else "batches:bare-run"))
    write = Way("Write a colourway first", reverse("recipes:colourway-new"))
    words = "With nothing but a pot, and the log of what goes in. Or from a recipe, with every amount worked out."
    if with_recipe:
        return Step("The first run", False, "A recipe is written: choose it, and every amount is worked out.", (begin,))
    return Step("The first run", False, words, (begin, write))


def _ways(person, *pages):
    back = urlencode(BACK_HERE, safe="/")
    return tuple(Way(words, f"{reverse(page)}?{back}") for page, words in pages if allows(person, page))
