"""What all pots of a plan take together, what of it is short, and what to do about it: make it, or buy it."""

from decimal import Decimal

from studio import writing
from studio.naming import lot_name
from studio.units import write_pct

from .holding import key_of
from .mixing import grouped, in_words, is_made
from .offers import written
from .plans import LotTotal, Shortage
from .two_lots import with_the_rest


def measured(pots):
    """The lines of all pots that have an amount of a substance."""
    return [line for pot in pots for line in pot.lines if line.exact is not None and not line.water]


def totals_of(pots, choices):
    """[LotTotal]: what all pots take of each lot. Where others are promised more than there is, none is free."""
    from_lots = [line for line in measured(pots) if line.lot is not None]
    return [_total(lines, choices) for lines in grouped(from_lots, lambda line: line.lot.pk)]


def _total(lines, choices):
    lot, offers = lines[0].lot, choices[lines[0].ingredient.pk]
    free = next(offer.free for offer in offers if offer.lot is not None and offer.lot.pk == lot.pk)
    exact, told = (sum(getattr(line, name) for line in lines) for name in ("exact", "told"))
    return LotTotal(lot, lines[0].substance, lines[0].unit, exact, told, max(Decimal(0), free))


def shortages_of(pots, totals, choices, mixing, shelf):
    """[Shortage]: what has no lot, what has too little, and bottles past their date.

    `mixing`: the plan's mixing list. What its bottles and its pots take of one powder is counted together.
    """
    lines = measured(pots)
    powder = _to_buy(lines, totals, mixing, shelf)
    bought = {key_of(one.substance) for one in powder}
    making = {key: one for one in mixing if one.how == "make" for key in one.ingredients}
    missing = [line for line in lines if line.lot is None and line.substance is not None]
    short = [total for total in totals if total.short > 0]
    return [
        *(
            _missing(group, making, choices)
            for group in grouped(missing, lambda line: (line.substance, line.ingredient.strength_pct, is_made(line)))
            if is_made(group[0]) or key_of(group[0].substance) not in bought
        ),
        *(
            _short(total, _line_of(total, lines), making, choices, totals)
            for total in short
            if total.lot.solution_id or key_of(total.substance) not in bought
        ),
        *powder,
        *_by_eye(pots),
        *(_past(total, _line_of(total, lines), making) for total in totals if total.past and not total.short),
    ]


def _line_of(total, lines):
    return next(line for line in lines if line.lot is not None and line.lot.pk == total.lot.pk)


def _missing(lines, making, choices):
    line, need = lines[0], sum(each.told for each in lines)
    name = _name(line.ingredient, None)
    none = f"There is no bottle of {name}" if is_made(line) and line.ingredient.dye_id else f"There is no {name}"
    sentence = f"{none}, and {written(need, line.unit)} is needed."
    if not is_made(line):
        others = len(choices[line.ingredient.pk]) > 1
        sentence += " Choose another lot." if others else f" Buy at least {written(need, line.unit)}."
    return Shortage(sentence, line.substance, None, need, line.unit, **_make(making.get(line.ingredient.pk)))


def _short(total, line, making, choices, totals):
    name = _name(line.ingredient, total.lot)
    sentence = f"{name} is {written(total.short, total.unit)} short: {written(total.told, total.unit)} is needed"
    there, free = total.lot.on_hand, f"{written(total.free, total.unit)} is free"
    if there > total.free:
        left = free if total.free else "none is free"
        promised = "the rest" if total.free else "all of it"
        sentence += f", and of the {written(there, total.unit)} there {left}, as other plans are promised {promised}."
    else:
        sentence += f" and {free}."
    if not total.lot.solution_id:
        others = [each for each in choices[line.ingredient.pk][1:] if each.lot.unit == total.unit and each.free > 0]
        sentence += " Choose another lot, or buy" if others else " Buy"
        sentence += f" at least {written(total.short, total.unit)}."
    made = _make(making.get(line.ingredient.pk)) if total.lot.solution_id else {}
    if total.past:
        anew = ", or make all of it anew" if made else ""
        sentence += f" It is past its use-by date too, {writing.day(total.lot.use_by_now)}: test it first{anew}."
    made |= {"ingredient": line.ingredient, "rest": with_the_rest(total, line.ingredient, choices, totals)}
    return Shortage(sentence, total.substance, total.lot, total.short, total.unit, **made)


def _make(making):
    return {} if making is None else {"make": in_words(making), "making": making}


def _to_buy(lines, totals, mixing, shelf):
    """What the bottles of the mixing list find too little of, counted with what goes in as it is."""
    parts = [part for one in mixing if one.how == "make" and not one.why for part in one.parts]
    lacking = grouped([part for part in parts if part.lot is None], lambda part: key_of(part.substance))
    return [_buy(group, parts, lines, totals, shelf) for group in lacking]


def _buy(lacking, parts, lines, totals, shelf):
    substance, unit, key = lacking[0].substance, lacking[0].unit, key_of(lacking[0].substance)
    made = sum(part.amount for part in parts if key_of(part.substance) == key)
    own = [line for line in lines if not is_made(line) and line.substance is not None and line.unit == unit]
    own = [line for line in own if not line.ingredient.solution_id and key_of(line.substance) == key]
    as_it_is = sum((line.told for line in own), Decimal(0))
    free = sum((max(offer.free, Decimal(0)) for offer in shelf.powders.get(key, [])), Decimal(0))
    short = made + as_it_is - free
    what = f"{substance}, powder," if key[0] == "dye" else str(substance)
    needs = f"{written(made, unit)} for what is to be made"
    needs += f" and {written(as_it_is, unit)} as it is" if as_it_is else ""
    said = f"{what} is {written(short, unit)} short: {needs}, and {written(free, unit)} is free."
    return Shortage(f"{said} Buy at least {written(short, unit)}.", substance, None, short, unit)


def _by_eye(pots):
    """What goes in by eye, and is not there at all."""
    lines = [line for pot in pots for line in pot.lines if line.exact is None and line.substance is not None]
    without = [line for line in lines if line.lot is None and line.ingredient.amount is None]
    for group in grouped(without, lambda line: line.substance):
        name = _name(group[0].ingredient, None)
        yield Shortage(f"There is no {name}: it goes in by eye.", group[0].substance, unit=group[0].unit)


def _past(total, line, making):
    said = f"{lot_name(total.lot)} is past its use-by date, {writing.day(total.lot.use_by_now)}: test it first"
    made = _make(making.get(line.ingredient.pk)) if total.lot.solution_id else {}
    return Shortage(
        f"{said}{', or make it anew' if made else ''}.", total.substance, total.lot, unit=total.unit, **made
    )


def _name(ingredient, lot):
    """ "Ochre, 1 %" for a bottle of one dye; else the substance's name."""
    name = str(ingredient.substance)
    if ingredient.strength_pct is not None and (lot is None or lot.solution_id):
        return f"{name}, {write_pct(ingredient.strength_pct)}"
    return name
