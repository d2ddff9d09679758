"""How strong a powder lot is: samples at so many percent of its dye, laid beside what is known, and what came of it."""

from django.db import transaction
from django.db.models import Exists, F, OuterRef
from django.utils import timezone

from recipes.holding import powder_lots
from recipes.models import Ingredient, Recipe
from recipes.offers import from_bottle, ingredients_of, lots_for, with_steps, written
from studio.units import write_pct

from . import beginning, verdicts
from .models import StrengthTest
from .series import LONGEST_LABEL, Sample

MOST_MIXED = 5  # versions named whose dye is only in a bottle of several


def rungs_of(recipe, lot, percents):
    """[Sample] of a ladder: so many percent of the dye of `lot`, which is taken for 100 % strong whatever it was said
    to be. `lot`: with `strength_now`. Raises ValueError where the version has no such dye.
    """
    if not any(each.dye_id == lot.dye_id for each in ingredients_of(with_steps(recipe))):
        raise ValueError(f"{recipe} has no line of {lot.dye}: choose a version that names it by itself.")
    as_said = lot.strength_now / 100
    end = f" of the {lot.dye.name}"[: LONGEST_LABEL - 8]
    return [
        Sample(f"{write_pct(pct)}{end}", {lot.dye_id: pct / 100 * as_said}, {lot.dye_id: f"{write_pct(pct)} of"})
        for pct in percents
    ]


def versions_with(dye):
    """The standards of the colourways that have a line of this dye, and the other versions of it after them."""
    found = Recipe.objects.filter(steps__ingredients__dye=dye, colourway__retired=False).select_related("colourway")
    return found.distinct().order_by("colourway__name", "-number")


def only_in_a_mix(dye):
    """[(standard version, the bottle of several dyes)] where this dye has no line of its own.

    No sample of such a version can have more of it alone.
    """
    own = Ingredient.objects.filter(step__recipe=OuterRef("step__recipe"), dye=dye)
    mixed = Ingredient.objects.filter(solution__parts__dye=dye, step__recipe=F("step__recipe__colourway__standard"))
    lines = mixed.filter(~Exists(own), step__recipe__colourway__retired=False)
    lines = lines.select_related("step__recipe__colourway", "solution").order_by("step__recipe__colourway__name", "pk")
    return [(line.step.recipe, line.solution) for line in lines[:MOST_MIXED]]


def taking(recipe, lot, chosen=None):
    """{ingredient pk: lot pk} so that the dye of a powder lot comes from it, or out of a bottle made of it alone: the
    one that is `chosen`, as {ingredient pk: lot pk}, else where the version takes it from a bottle the first.
    """
    found = {}
    for each, offers in _offers_by_line(recipe):
        if each.dye_id != lot.dye_id:
            continue
        own = [offer.lot for offer in offers if set(powder_lots(offer.lot)) == {lot.pk}]
        bottles = [one for one in own if one.is_bottle and (one.on_hand > 0)]
        usual = (bottles[0] if bottles and from_bottle(each) else lot).pk
        wanted = (chosen or {}).get(each.pk)
        found[each.pk] = wanted if wanted in {one.pk for one in bottles} else usual
    return found


def _offers_by_line(recipe):
    offers = lots_for(recipe)
    return [(each, offers.get(each.pk, [])) for each in ingredients_of(recipe)]


def not_told_apart(worked, percents, dye):
    """Why these samples could come out alike, as a sentence; "" where the hands can tell each from the next.

    The amount of the dye that is measured has to follow the percents to half of the least step between them.
    """
    told = [sum(line.told for line in pot.lines if line.substance == dye and line.told) for pot in worked.pots]
    if not told or not all(told):
        return ""
    steps = list(zip(told, told[1:], percents, percents[1:], strict=False))
    off = [abs((after / before) / (high / low) - 1) * 2 >= high / low - 1 for before, after, low, high in steps]
    if not any(off):
        return ""
    unit = next(line.unit for pot in worked.pots for line in pot.lines if line.substance == dye)
    said = ", ".join(written(amount, unit) for amount in told)
    return (
        f"So small an amount of {dye} can't be measured finely enough to tell these samples apart: {said}. Make a weak "
        "bottle of this lot alone and plan them again from it, or make the samples heavier."
    )


def begin_ladder(recipe, worked, pots, percents, lot, *, by, day, clock=timezone.now):
    """The planned run of a strength test, and what it tests."""
    with transaction.atomic():
        run = beginning.from_recipe(recipe, worked, pots, by=by, day=day, clock=clock)
        standard = verdicts.to_match(recipe.colourway)
        batches = run.batches.order_by("number")
        StrengthTest.of_run(
            run,
            lot=lot,
            before_pct=lot.strength_now,
            percents=dict(zip(batches, percents, strict=True)),
            beside=standard and standard.run,
        )
    return run


def match_in_words(match):
    """What to say once a sample was picked."""
    lot, said = match.test.lot, match.words.capitalize()
    strength = match.strength_pct
    if strength is None:
        return f"{said}: the strength of {lot} stays as it was."
    return f"{said}: {lot} is {write_pct(strength, 3)} strong from here on."


def test_of(run):
    """{test, rungs, said, dyed, beside, kept} of a run that tests a lot's strength; None of any other.

    `beside`: the pot that its samples are laid beside, None without one; `kept`: where the snippet of that pot is.
    """
    test = StrengthTest.objects.filter(run=run).select_related("lot__dye").first()
    if test is None:
        return None
    beside = verdicts.of_run(test.beside_id) if test.beside_id else None
    return {
        "test": test,
        "rungs": list(test.rungs.select_related("batch")),
        "said": test.matches.select_related("low", "high", "correction", "by").last(),
        "dyed": test.dyed,
        "beside": beside,
        "kept": verdicts.snippet_of(beside) if beside else "",
    }
