"""The rows of batches side by side, in order, and how each was done: its bath, its heat, its times, its version."""

from decimal import Decimal

from django.urls import reverse

from recipes.models import Method, RecipeStep
from recipes.precision import PH_STEP, TEMPERATURE_STEP_C, TIME_STEP_MIN, WATER_STEP_ML
from studio import units, writing

from . import judging
from .closeness import Row, Value, by_distance, by_ratio
from .models import Addition, Entry
from .side_by_side_amounts import assistant_row, depth_value, dye_row, lots_row, weight_value, words_rows, yarn_rows
from .side_by_side_facts import dyes_first, is_dye
from .wording import amount_of, minutes

TIMES = {
    RecipeStep.Kind.SOAK: "Soak",
    RecipeStep.Kind.SCOUR: "Scour",
    RecipeStep.Kind.MORDANT: "Mordant",
    RecipeStep.Kind.STRIP: "Colour removal",
    RecipeStep.Kind.HEAT: "Heating",
    RecipeStep.Kind.HOLD: "Hold",
    RecipeStep.Kind.COOL: "Cooling",
}
IN_ORDER = (RecipeStep.Kind.MORDANT, RecipeStep.Kind.HEAT, RecipeStep.Kind.HOLD, RecipeStep.Kind.COOL)
BLED = {True: "bleeds", False: "does not bleed", None: ""}


def rows_of(columns, lots):
    substances = list(dict.fromkeys(one for column in columns for one, _ in dyes_first(column.parts)))
    others = list(dict.fromkeys(one for column in columns for one in column.parts if not is_dye(one)))
    rows = [dye_row(columns, dye, lots) for dye in substances]
    rows += [Row("Dye in all", [depth_value(column) for column in columns], say=by_ratio)]
    rows += [lots_row(columns, dye, lots, f"Lot of {dye.name}") for dye in substances]
    rows += yarn_rows(columns, lots)
    rows += [assistant_row(columns, one) for one in others]
    rows += words_rows(columns)
    rows += bath_rows(columns)
    rows += [time_row(columns, kind, name) for kind, name in TIMES.items()]
    rows += [Row("In order", [Value(order_words(column)) for column in columns])]
    rows += [
        Row("Bleeding", [Value(BLED[judging.bleeds(column.entries)]) for column in columns]),
        Row("Version", [version_value(column) for column in columns]),
        Row("How", [Value(Method(column.run.method).label) for column in columns]),
        Row("Vessel", [Value(column.batch.vessel.name if column.batch.vessel_id else "") for column in columns]),
        Row("Yarn in the pot", [weight_value(column) for column in columns], say=by_ratio),
    ]
    if any(column.batch.label for column in columns):
        rows.append(Row("Label", [Value(column.batch.label or "none") for column in columns]))
    return rows


def bath_rows(columns):
    by_yarn = all(column.fibre_g for column in columns)
    degrees = by_distance("°C", "hotter", "cooler")
    return [
        Row(
            "Water to yarn" if by_yarn else "Water", [water_value(column, by_yarn) for column in columns], say=by_ratio
        ),
        Row("pH", [ph_value(column) for column in columns], say=by_distance("", "higher", "lower")),
        Row(
            "Hottest",
            [heat_value(column) for column in columns],
            say=degrees if writing.current().system == "metric" else None,
        ),
    ]


def water_value(column, by_yarn):
    """The bath for each g of yarn, or the bath itself where the weight of some yarn is not known."""
    ml, logged, more = column.water()
    if ml is None:
        return Value()
    hedge = "at least " if more else ""
    said = amount_of(ml, "mL") if logged else f"{amount_of(ml, 'mL')} as planned"
    if not by_yarn:
        return Value(f"{hedge}{said}", ml, WATER_STEP_ML, at_least=more)
    ratio = ml / column.fibre_g
    words = f"{hedge}{units.write_number(ratio, digits=3)}:1"
    return Value(words, ratio, WATER_STEP_ML / column.fibre_g, at_least=more, sub=said)


def ph_value(column):
    """All that was read, in order; compared by the last, when the colour had gone on."""
    read = [reading.ph for reading in column.readings() if reading.ph is not None]
    if not read:
        return Value()
    said = [units.write_number(ph) for ph in read]
    shown = said if len(said) < 5 else [said[0], "…", *said[-2:]]
    return Value(", then ".join(shown), read[-1], PH_STEP)


def heat_value(column):
    """The hottest that was read; where nothing was, what a step of the log says it was heated to."""
    system = writing.current().system
    read = [reading.temperature_c for reading in column.readings() if reading.temperature_c is not None]
    if read:
        return Value(units.write_c(max(read), system), max(read), TEMPERATURE_STEP_C)
    said = [step.temperature_c for step in column.steps(*TIMES) if step.temperature_c is not None]
    if not said:
        return Value()
    return Value(units.write_c(max(said), system), max(said), TEMPERATURE_STEP_C, sub="by the step, not read")


def time_row(columns, kind, name):
    return Row(name, [time_value(column, kind) for column in columns], say=longer_or_shorter)


def longer_or_shorter(now, first):
    return f"{minutes(abs(now - first))} {'longer' if now > first else 'shorter'}"


def time_value(column, kind):
    done = column.steps(kind)
    known = [step.minutes for step in done if step.minutes is not None]
    if not done:
        return Value()
    if not known:
        return Value("done, not timed", at_least=True)
    total, more = sum(known, Decimal(0)), len(known) < len(done)
    sub = f"{len(known)} times" if len(known) > 1 else ""
    return Value(f"{'at least ' if more else ''}{minutes(total)}", total, TIME_STEP_MIN, at_least=more, sub=sub)


def what_it_was(addition):
    """The dyes that it brought in, else the assistants, from whatever bottle; else what it was called."""
    brought = {part.lot.substance for part in addition.parts.all()}
    names = sorted(str(one) for one in ({one for one in brought if is_dye(one)} or brought))
    return " and ".join(names) or addition.name


def order_words(column):
    """What went in and how it was heated, in order, each once in a row: "Ochre, Rust, heat, Citric acid"."""
    said = []
    for entry in column.entries:
        word = ""
        if entry.kind == Entry.Kind.ADDITION and entry.addition.other != Addition.Other.WATER:
            word = what_it_was(entry.addition)
        elif entry.kind == Entry.Kind.STEP and entry.step.kind in IN_ORDER:
            word = RecipeStep.Kind(entry.step.kind).label.lower()
        if word and said[-1:] != [word]:
            said.append(word)
    return ", ".join(said)


def version_value(column):
    recipe = column.batch.recipe
    if recipe is None:
        return Value("no recipe")
    return Value(f"version {recipe.number}", address=reverse("recipes:recipe", args=[recipe.pk]))
