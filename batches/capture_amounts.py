"""What went into a pot, as lines of a recipe: how much of the substance itself, and how that is known."""

from decimal import Decimal

from recipes.models import How, RecipeStep
from studio import units

from .capture_ingredients import grams_by_measure, made_of
from .capture_lines import Line, Part, to_do
from .capture_steps import reads_as
from .models import Addition
from .telling import shared_g

Kind = RecipeStep.Kind


def addition(pot, entry):
    """[Line] of one thing that went in; [] for none of it."""
    said = entry.addition
    if said.other == Addition.Other.WORDS:
        return _in_words(entry, said)
    if said.amount is not None and not said.amount:
        return []
    if said.lot_id is None:
        water = {"water": True, "how": How.ADDED, "place": said.place}
        return _went_in(pot, entry, Line((), Kind.ADD, made_of=water, unit="mL", name="water"))
    lot = pot.lots[said.lot_id]
    line = Line((), Kind.ADD, made_of=made_of(lot, said), lot=lot)
    made = line.ingredient()
    line.unit, line.name = made.unit or lot.unit, str(made.substance)
    return _went_in(pot, entry, line)


def _in_words(entry, said):
    how_much = f"{units.write_number(said.amount, digits=9)} {said.unit} of " if said.amount else ""
    words = f"{how_much}{said.what}{f', {said.place}' if said.place else ''}"
    words = next(
        (one for one in (f"Stir in {words}", f"Stir in: {words}") if reads_as(one, Kind.OTHER, None, None)),
        f"Do: put in {words}",
    )
    return to_do(entry, Kind.OTHER, None, None, words, same=("words", said.what.casefold(), said.place))


def _went_in(pot, entry, line):
    """[The line] with what this pot had of it, and by what others are the same."""
    said, made = entry.addition, line.ingredient()
    same = (made.dye_id, made.assistant_id, made.solution_id, made.water, made.how, said.place.casefold())
    if made.how == How.PAINTED:
        same = (*same, made.strength_pct)
    line.same, line.place = ("in", *same), said.place
    part, amount = Part([entry]), said.amount
    if said.plan_line is not None:  # how hot and how long is told with an amount, and not asked again when it goes in
        part.temperature_c, part.minutes = said.plan_line.temperature_c, said.plan_line.minutes
    if amount is None:
        amount, by = _known_since(pot, said, line.lot)
        part.estimated = amount is not None
        line.by = {by} if by else set()
    elif said.by_measure:
        part.estimated = True
        line.by = {"measure"}
    elif said.estimated:
        part.estimated = True
    if amount is None:
        part.unknown.append(said)
    else:
        part.logged, part.own = amount, line.own_of(amount)
    line.parts = {entry.batch_id: part}
    return [line]


def _known_since(pot, said, lot):
    """(amount in the lot's unit, how that is known) of what nobody weighed: by a weigh-in, or by a measure."""
    if lot is None:
        return None, ""
    if (grams := shared_g(said)) is not None and grams > 0:
        if not lot.is_bottle:
            return grams, "weigh-in"
        held = sum((one.g_per_100 for one in lot.contents.all() if one.g_per_100), Decimal(0))
        if held:
            return grams * 100 / held, "weigh-in"
    if said.measure_id and said.fillings and lot.dye_id:
        grams = grams_by_measure(pot.measures[said.measure_id], lot.dye_id, said.fillings, pot.scales)
        return (grams, "measure") if grams is not None else (None, "")
    return None, ""
