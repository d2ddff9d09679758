"""What a jar or bottle holds, as it colours: grams of each dye at the studio's standard strength.

10 g of an 85 % lot colour like 8.5 g of the standard. Lots come `with_facts`, with their contents and the sources of
those likewise, as `bottles.with_contents` reads them.
"""

from decimal import Decimal

from studio.models import Dye, Lot, SolutionPart

from . import dyeing


def key_of(thing):
    """("dye", 3): a dye or an assistant, or the one that a lot or a master's part is of, as a key."""
    if isinstance(thing, Lot | SolutionPart):
        return ("dye", thing.dye_id) if thing.dye_id else ("assistant", thing.assistant_id)
    return ("dye" if isinstance(thing, Dye) else "assistant", thing.pk)


def standard_g(content):
    """g in 100 mL (100 g of a dry mix) of what a `Content` says, at standard strength; of an assistant as it is."""
    source = content.source
    return dyeing.at_standard_strength(content.g_per_100, source.strength_now) if source.dye_id else content.g_per_100


def held(lot):
    """{substance key: g in 1 g or mL of the lot, at standard strength}; None where nobody knows all of it."""
    if not lot.is_bottle:
        return {key_of(lot): _in_powder(lot) if lot.dye_id else Decimal(1)}
    found = {}
    for content in lot.contents.all():
        if content.source is None:
            return None
        key = key_of(content.source)
        found[key] = found.get(key, Decimal(0)) + standard_g(content) / 100
    return found


def strength_at_standard(lot):
    """Percent of dye in a bottle as it colours, at the studio's standard strength; None where nobody knows."""
    found = held(lot)
    if not found:
        return None
    return 100 * sum((grams for key, grams in found.items() if key[0] == "dye"), Decimal(0))


def powder_lots(lot):
    """{key: powder lot} of the dye in a lot: itself, or what a bottle was made from."""
    if lot.dye_id:
        return {lot.pk: lot}
    return {content.source_id: content.source for content in _dyes_of(lot)}


def dyes_in(lot):
    """{Dye: g in 1 g or mL} of a lot, at standard strength, of what is known to be in it."""
    if lot.dye_id:
        return {lot.dye: _in_powder(lot)}
    found = {}
    for content in _dyes_of(lot):
        found[content.source.dye] = found.get(content.source.dye, Decimal(0)) + standard_g(content) / 100
    return found


def _in_powder(lot):
    return dyeing.at_standard_strength(Decimal(1), lot.strength_now)


def _dyes_of(bottle):
    return [content for content in bottle.contents.all() if content.source is not None and content.source.dye_id]
