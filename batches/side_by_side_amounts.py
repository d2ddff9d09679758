"""What went into batches side by side, a row for each: dye and its lots, yarn, assistants, and what has no lot."""

from decimal import Decimal

from recipes.precision import YARN_STEP_G
from studio import units
from studio.naming import lot_hue, powder_lot
from studio.units import NO_BREAK_SPACE

from . import depth
from .closeness import Row, Value, by_ratio
from .models import Addition
from .side_by_side_facts import is_dye, share_of
from .wording import amount_of


def dye_row(columns, dye, lots):
    return Row(dye.name, [dye_value(column, dye, lots) for column in columns], dye.colour, by_ratio)


def dye_value(column, dye, lots):
    """Its depth at the studio's standard strength, with what was weighed of it."""
    part = column.parts.get(dye)
    if part is None:
        return Value("none", Decimal(0), unsure=column.depth.carry_over)
    if part.unweighed and not part.grams:
        return Value("not weighed", Decimal(0), at_least=True)
    share = share_of(column, part, lots)
    if share is None:
        return Value()
    hedge = " ".join(word for word, holds in (("at least", part.unweighed), ("about", part.about)) if holds)
    strengths = {lots[key].strength_now for key in part.lots} - {None, 100}
    weaker = f" of {units.write_pct(strengths.pop(), 4)} strength" if len(strengths) == len(part.lots) == 1 else ""
    return Value(
        f"{hedge} {depth_words(share)}".strip(),
        share,
        step=part.step * 100 / column.fibre_g,
        at_least=part.unweighed,
        unsure=column.depth.carry_over or column.depth.shared,
        sub=f"{amount_of(depth.readable(part.grams), 'g')}{weaker}",
    )


def depth_words(share):
    return f"{units.write_pct(depth.readable(share))}{NO_BREAK_SPACE}owf"


def depth_value(column):
    found = column.depth
    if found.pct is None:
        return Value()
    if found.at_least and not found.dye_g:
        return Value("not weighed", Decimal(0), at_least=True)
    words = found.words
    joined = f"{words}{',' if words and words != found.hedge else ''} {depth_words(found.pct)}".strip()
    step = sum((part.step for one, part in column.parts.items() if is_dye(one)), Decimal(0))
    return Value(
        joined,
        found.pct,
        step=step * 100 / found.fibre_g,
        at_least=found.at_least,
        unsure=found.carry_over or found.shared,
        sub=amount_of(depth.readable(found.dye_g), "g"),
    )


def lots_row(columns, substance, lots, name):
    values = []
    for column in columns:
        part = column.parts.get(substance)
        if part is None:
            values.append(Value("none went in", left_out=True))
            continue
        values.append(Value("; ".join(sorted(lot_words(lots[key]) for key in part.lots))))
    return Row(name, values, substance.colour)


def lot_words(lot):
    """ "lot T-2209, 85 % strong: duller": which one, its strength, and how its hue is off. Of yarn only which one."""
    return f"{powder_lot(lot)}: {lot_hue(lot)}" if lot.hue_now else powder_lot(lot)


def yarn_rows(columns, lots):
    bases, numbers = [], []
    for column in columns:
        bases.append(Value(", ".join(dict.fromkeys(yarn.name for yarn in column.yarns))))
        known = [lot_words(lots[yarn.lot_id]) for yarn in column.yarns if yarn.lot_id]
        numbers.append(Value("; ".join(dict.fromkeys(known))))
    return [Row("Base", bases), Row("Yarn lot", numbers)]


def weight_value(column):
    skeins = [yarn.skeins for yarn in column.yarns]
    counted = units.write_count(sum(skeins), "skein") if skeins and None not in skeins else ""
    if not column.fibre_g:
        return Value(counted)
    return Value(amount_of(column.fibre_g, "g"), column.fibre_g, step=YARN_STEP_G, sub=counted)


def assistant_row(columns, assistant):
    """Compared by the litre where every bath is known, as an acid works in its bath; else by the yarn's weight."""
    by_litre = all(column.water()[0] for column in columns)
    return Row(assistant.name, [assistant_value(column, assistant, by_litre) for column in columns], say=by_ratio)


def assistant_value(column, assistant, by_litre):
    """How much there was in each litre, or for each 100 g of yarn; the amount itself where that is not known."""
    part = column.parts.get(assistant)
    if part is None:
        return Value("none", Decimal(0))
    if part.unweighed and not part.grams:
        return Value("not measured", Decimal(0), at_least=True)
    over = column.water()[0] / 1000 if by_litre else column.fibre_g and column.fibre_g / 100
    if not over:
        return Value(amount_of(part.grams, assistant.unit))
    each = f"{units.write_number(part.grams / over, digits=3)}{NO_BREAK_SPACE}{assistant.unit}"
    hedge = "at least " if part.unweighed else "about " if part.about else ""
    return Value(
        f"{hedge}{each}{'/L' if by_litre else ' for each 100 g'}",
        part.grams / over,
        step=part.step / over,
        at_least=part.unweighed,
        sub=amount_of(depth.readable(part.grams), assistant.unit),
    )


def words_rows(columns):
    """What went in with no lot behind it, in somebody's words."""
    names = dict.fromkeys(one.what for column in columns for one in in_words(column))
    return [Row(name, [words_value(column, name) for column in columns], say=by_ratio) for name in names]


def in_words(column):
    return [one for one in column.additions() if one.other == Addition.Other.WORDS]


def words_value(column, name):
    said = [one for one in in_words(column) if one.what == name]
    known = [one.amount for one in said if one.amount is not None]
    if not said:
        return Value("none", Decimal(0))
    if not known:
        return Value("not measured", Decimal(0), at_least=True)
    total = sum(known, Decimal(0))
    return Value(amount_of(total, said[0].unit), total, at_least=len(known) < len(said))
