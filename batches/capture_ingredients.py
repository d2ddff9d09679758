"""What went in, as a recipe's ingredient: the substance behind a bottle, and how strong it was that day."""

from recipes.holding import standard_g
from recipes.models import How, Ingredient
from studio.models import Assistant
from studio.models.bench import filling_of


def made_of(lot, said):
    """The columns of the ingredient that this lot is for, but for its amount. Its `unit` is that of its own amounts."""
    facts = {"how": said.how, "place": said.place}
    if lot.dye_id:
        if said.how == How.PAINTED:
            facts["how"] = How.DISSOLVED  # powder is painted on only once it is a bottle
        return {"dye": lot.dye, "unit": "g", **facts}
    if lot.assistant_id:
        return {"assistant": lot.assistant, "unit": lot.assistant.unit, **facts}
    bottle = {"solution": lot.solution, "unit": lot.unit, **facts}
    sources = [content.source for content in lot.contents.all()]
    held = {(source.dye or source.assistant) for source in sources if source is not None}
    if None in sources or len(held) != 1 or lot.unit == "g":
        return bottle
    (thing,) = held
    if isinstance(thing, Assistant) and thing.unit != "g":
        return bottle
    facts["strength_pct"] = Ingredient._meta.get_field("strength_pct").rounded(strength_that_day(lot))
    if not facts["strength_pct"]:
        return bottle
    if isinstance(thing, Assistant):
        return {"assistant": thing, "unit": "g", **facts}
    return {"dye": thing, "unit": "mL" if said.how == How.PAINTED else "g", **facts}


def strength_that_day(lot):
    """How strong a bottle of one substance was [% w/v], its powder counted at the studio's standard strength."""
    return sum(standard_g(one) for one in lot.contents.all())


def grams_by_measure(measure, dye_id, fillings, scales):
    """What so many fillings of a measure hold of a dye [g]; None where it was never weighed with it.

    `measure`: with its weighings prefetched.
    """
    weighings = [one for one in measure.weighings.all() if one.dye_id == dye_id]
    return filling_of(weighings, scales).of(fillings)[0] if weighings else None
