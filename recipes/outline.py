"""A version in words: its steps and lines as a page shows them; and its facts, steps and lines to be compared."""

import re

from studio import units, writing
from studio.units import NO_BREAK_SPACE

from . import meaning
from .baths import own_ratio
from .differences import Aspect, Item
from .models import Basis, How, RecipeStep

ADD, OTHER = RecipeStep.Kind.ADD, RecipeStep.Kind.OTHER
STEP, DYE, ASSISTANT, WATER = 4, 3, 2, 1  # of which rank each is as a landmark
CALLED = {
    "soak": "the soak",
    "scour": "the scour",
    "mordant": "the mordant",
    "strip": "the stripping",
    "heat": "the heat",
    "hold": "the hold",
    "cool": "the cooling",
    "rinse": "the rinse",
    "wash": "the wash",
    "dry": "the drying",
}


def rows_of(version, steps):
    """[{step, words, whether its heat or time is to be said, lines}] as a page shows a version in order.

    `steps`: pairs of a step and its ingredients, which may not be kept yet. Amounts are for the version's own yarn.
    """
    bath = meaning.bath_line(steps)
    return [_row(version, steps, step, ingredients, bath) for step, ingredients in steps]


def _row(version, steps, step, ingredients, bath):
    lines = [
        {
            "ingredient": each,
            "fill": each.dye.colour if each.dye_id else "",
            "means": meaning.basis_words(each),
            "exact": meaning.exact_words(each),
            "own": meaning.own_here(version, each, steps),
            "unit": meaning.own_unit(each),
            "bath": each is bath,
        }
        for each in ingredients
    ]
    said = step.words.rstrip(":") or ("" if step.kind == ADD else step.get_kind_display())
    # Words of a notebook say their heat and minutes themselves.
    more = not step.words and (step.temperature_c is not None or step.minutes is not None)
    return {"step": step, "words": said, "said": more, "lines": lines}


def outline_of(recipe):
    """(facts, items) of a version whose steps and ingredients were prefetched, as `offers.with_steps` does.

    Costs a query for its bases where those were not.
    """
    items = []
    for step in recipe.steps.all():
        carrier = None
        if step.words or step.kind != ADD:
            carrier = len(items)
            items.append(_step(step))
        for ingredient in step.ingredients.all():
            items.append(_line(recipe, ingredient, step if carrier is None else None, carrier))
    return _facts(recipe, items), items


def _facts(recipe, items):
    yarn = ", ".join(
        [
            units.write_count(recipe.skeins, "skein"),
            units.write_g(recipe.fibre_g, writing.current().system),
            units.write_count(recipe.pots, "pot"),
        ]
    )
    bases = sorted(base.name for base in recipe.bases.all())
    ratio = own_ratio(recipe)
    # Where a line of the notebook says the water, it is compared there.
    in_a_line = any(item.key == ("water",) and item.aspects["amount"].words == _ratio(ratio) for item in items)
    return [
        _fact("How", recipe.get_method_display()),
        _fact("Scales", recipe.get_scales_display()),
        _fact("Written for", yarn, exact=_digits(recipe.fibre_g, "g")),
        Item(
            ("fact", "Water to yarn"),
            "Water to yarn",
            {"amount": Aspect(_ratio(ratio), amount=ratio, share=ratio, none="not said", quiet=in_a_line)},
        ),
        _fact("For", ", ".join(bases), none="no base said"),
        _fact("Note", recipe.note.strip(), none="none"),
        _fact("Page of the notebook", f"picture {recipe.notebook_id}" if recipe.notebook_id else "", none="none"),
    ]


def _ratio(ratio):
    return "" if ratio is None else f"{units.write_number(ratio)}:1"


def _fact(name, words, exact="", none="not said"):
    return Item(("fact", name), name, {"words": Aspect(words, exact=exact, none=none)})


def _step(step):
    """A step by its kind; a thing to do, and what goes in together, is known by the notebook's words."""
    words = step.words.strip().rstrip(":")
    own = step.kind in (ADD, OTHER) and words
    quoted = f"“{words}”" if words else ""
    aspects = _conditions(step)
    name = step.get_kind_display()
    gist = _without_heat_and_time(words)
    said_anyway = not own and set(gist.split()) <= {*name.casefold().split(), "at", "for"}
    aspects["words"] = Aspect(quoted, gist=gist, none="no words of its own", bare=said_anyway)
    return Item(
        ("words" if own else "step", step.kind),
        name,
        aspects,
        rank=STEP,
        called=quoted if own else CALLED.get(step.kind, f"“{name}”"),
        whole=quoted or None,
    )


HEAT = re.compile(r"\d+([.,]\d+)?\s*°\s*[cf]?")
TIME = re.compile(r"\d+([.,]\d+)?\s*(minutes|minute|min|hours|hour|h)\b")


def _without_heat_and_time(words):
    """What a step's words say besides what its own columns say: "Hold at 85 °C for 45 min" is "hold at for"."""
    return " ".join(TIME.sub("", HEAT.sub("", words.casefold())).split())


def _conditions(step):
    """How hot and how long, of a step or of a line that says so itself."""
    heat, minutes = step.temperature_c, step.minutes
    hot = "" if heat is None else units.write_c(heat, writing.current().system)
    long = "" if minutes is None else f"{units.write_number(minutes)}{NO_BREAK_SPACE}min"
    return {
        "temperature": Aspect(hot, exact=_digits(heat, "°C"), none="no heat said"),
        "minutes": Aspect(long, exact=_digits(minutes, "min"), none="no time said"),
    }


def _digits(number, unit):
    return "" if number is None else f"{units.write_number(number, digits=12)}{NO_BREAK_SPACE}{unit}"


def _line(recipe, ingredient, step, carrier):
    """`step`: the step it is alone in, whose heat and time are its own; None where `carrier` says them."""
    substance = ingredient.substance
    key = ("water",) if ingredient.water else (substance._meta.model_name, substance.pk)
    aspects = {
        "amount": _amount(recipe, ingredient),
        "how": _how(ingredient),
        "place": Aspect(ingredient.place, none="no place said"),
        **(_conditions(step) if step is not None else {}),
        "typed": Aspect(f"“{ingredient.typed}”" if ingredient.typed else "", quiet=True, bare=True),
    }
    if step is None:
        aspects |= {name: Aspect() for name in ("temperature", "minutes")}
    fill = ingredient.dye.colour if ingredient.dye_id else ""
    rank = WATER if ingredient.water else ASSISTANT if ingredient.assistant_id else DYE
    called = "the water" if ingredient.water else ingredient.name
    if ingredient.place:
        called = f"{called} ({ingredient.place})"
    return Item(key, ingredient.name, aspects, fill, rank, carrier, called)


def _how(ingredient):
    """That something was added, or came from the bottle, goes without saying, but not where it was otherwise before."""
    how = ingredient.get_how_display()
    silent = ingredient.how in (How.ADDED, How.BOTTLE)
    return Aspect("" if silent else how, exact=how, none=how)


def _amount(recipe, ingredient):
    """How much: of a dye as dye, whatever bottle it comes from; `share` for each g of the notebook's own yarn."""
    own = meaning.own_here(recipe, ingredient)
    amount = ingredient.amount
    if amount is not None and ingredient.dye_id and ingredient.unit == "mL":
        amount = amount * ingredient.strength_pct / 100
    return Aspect(
        meaning.basis_words(ingredient),
        exact=_exact(ingredient),
        basis=f"{ingredient.basis} {meaning.own_unit(ingredient)}",
        amount=amount,
        share=None if own is None else own / recipe.fibre_g,
    )


def _exact(ingredient):
    """With all its digits, for two that read alike and are not."""
    if ingredient.amount is None:
        return f"by eye, {ingredient.get_basis_display()}"
    strength = "" if ingredient.strength_pct is None else f" of {_digits(ingredient.strength_pct, '%')}"
    if ingredient.basis == Basis.OWF:
        return f"{_digits(ingredient.amount, '% owf')}{strength}"
    return f"{_digits(ingredient.amount, ingredient.unit)} {ingredient.get_basis_display()}{strength}"
