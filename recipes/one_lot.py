"""One lot of a dye for a whole run: what a plan says where it draws on two, and where a lot's hue is another."""

from studio.naming import lot_hue, lot_name, powder_lot

from .holding import powder_lots


def lot_warnings(pots):
    """Sentences for the dyes that a plan's pots take from more than one powder lot, and for lots of another hue."""
    powders, taken = {}, {}
    for pot in pots:
        for line in pot.lines:
            for powder in powder_lots(line.lot).values() if line.lot is not None else ():
                powders.setdefault(powder.dye, {})[powder.pk] = powder
                taken.setdefault(powder.dye, {})[line.lot.pk] = line.lot
    found = [_two_lots(dye, list(lots.values()), taken[dye]) for dye, lots in powders.items() if len(lots) > 1]
    return found + [_hue(dye, powder) for dye, lots in powders.items() for powder in lots.values() if powder.hue_now]


def _two_lots(dye, lots, taken):
    which = " and ".join(powder_lot(lot) for lot in lots)
    bottles = [lot for lot in taken.values() if lot.is_bottle]
    through = f", in {' and '.join(dict.fromkeys(lot_name(lot) for lot in bottles))}" if bottles else ""
    return (
        f"{dye} comes from {'two' if len(lots) == 2 else len(lots)} powder lots here{through}: {which}. Strength is "
        "allowed for, a hue is not: take one lot for what has to match, or dye a sample first."
    )


def _hue(dye, lot):
    which = powder_lot(lot)
    closed = f"{which}," if ", " in which else which
    return (
        f"The {dye} of {closed} has another hue: {lot_hue(lot)}. No amount of it puts that right: dye a sample first."
    )
