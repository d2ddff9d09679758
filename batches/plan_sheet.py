"""A worked-out plan as it is read beside the scale: pots that get the same are one card, its lines in order."""

from collections import Counter
from dataclasses import dataclass, replace
from decimal import Decimal
from urllib.parse import quote, urlencode

from django.urls import reverse
from django.utils import timezone

from recipes.holding import powder_lots, strength_at_standard
from recipes.mixing import usual_volume
from recipes.two_lots import which_of
from studio.models import Dye
from studio.naming import jar_or_bottle, kind_of, lot_among
from studio.units import write_ml, write_number, write_pct

from . import days, hazards
from .models import Batch
from .wording import capital, heat_and_time

FEW_SAMPLES = 6  # shown with all they get; of more each is a line that opens
WEAKER_ML = Decimal(250)  # a bottle made so that a little can be measured is no smaller; common practice, no source


@dataclass
class Card:
    """Pots that get the same amounts. `first`: the `PotPlan` that stands for them."""

    first: object
    pots: list
    lines: list
    called: str = ""  # in words, where the numbers of its pots do not say it

    @property
    def dyes(self):
        """Its `Told` lines that bring dye in."""
        return [told for told in self.lines if told.line.dyes]

    @property
    def ratio(self):
        """ "3.75": mL of bath to 1 g of yarn, as warnings say it; "" where it is not known."""
        return write_number(self.first.ratio, digits=3) if self.first.ratio else ""

    @property
    def name(self):
        if self.called:
            return capital(self.called)
        return capital(days.pots_by_day(_named(pot) for pot in self.pots))


@dataclass(frozen=True)
class Weaker:
    """A bottle still to be made, of which an amount could be measured. `url`: the page that makes it up, by POST."""

    pct: Decimal
    words: str  # "Make up 250 mL of 0.1 % from lot B-12"
    url: str


@dataclass(frozen=True)
class Told:
    """One line of a card. `amount`: whether something goes in; `exact`: as it was reckoned, where that differs."""

    line: object
    amount: bool
    taken_from: str
    exact: object = None
    weaker: object = None  # `Weaker`, where a bottle that could be made would let it be measured

    @property
    def name(self):
        if self.line.water:
            return "Water"
        return str(self.line.substance) if self.line.substance is not None else self.line.words

    @property
    def heat_and_time(self):
        """ "85 °C, 25 min", where no words of the notebook say it."""
        return "" if self.line.words else heat_and_time(self.line)


def cards_of(worked, called=None, back=""):
    """[Card] of a plan's pots, in their order. `called`: what to call those at such places of the plan, from 0.
    `back`: the address to come back to with a bottle.
    """
    found, places, weaker = {}, {}, _weaker_bottles(worked, back)
    for place, pot in enumerate(worked.pots):
        key = _same(pot)
        lines = [replace(told_of(line), weaker=weaker.get(_bottle_for(line))) for line in pot.lines]
        card = found.setdefault(key, Card(pot, [], lines))
        card.pots.append(pot)
        places.setdefault(key, []).append(place)
    for key, card in found.items():
        card.called = called(places[key]) if called else ""
    return list(found.values())


def _bottle_for(line):
    return (line.ingredient.pk, line.weaker_pct) if line.weaker_pct else None


def _weaker_bottles(worked, back):
    """{key of a line: the `Weaker` bottle with enough in it for all lines that it would do for}."""
    found = {}
    for line in (line for pot in worked.pots for line in pot.lines if line.weaker_pct):
        found.setdefault(_bottle_for(line), []).append(line)
    return {key: _weaker(lines, *key, back) for key, lines in found.items()}


def _weaker(lines, ingredient_pk, pct, back):
    """One of them; as large as usual where less would do, so that its powder can be weighed."""
    need = sum(100 * (line.dye_g if line.dye_g is not None else line.exact) / pct for line in lines)
    volume = usual_volume(max(need, WEAKER_ML))
    powder = lines[0].lot if lines[0].lot is not None and lines[0].lot.dye_id else None
    words = f"Make up {write_ml(volume)} of {write_pct(pct)}{f' from {lot_among(powder)}' if powder else ''}"
    lots = powder_lots(lines[0].lot).values() if lines[0].lot is not None else ()
    url = _describe_url(lines[0].substance, pct, volume, back, [f"choose-{ingredient_pk}"], lots)
    return Weaker(pct, words, url)


def _same(pot):
    load, vessel = pot.load, pot.load.vessel
    told = tuple(line.told for line in pot.lines)
    return vessel and vessel.pk, load.label, load.fibre_g, load.skeins, pot.water_ml, told


def told_of(line):
    amount = line.substance is not None or line.water
    differs = amount and line.exact is not None and line.exact != line.told
    return Told(line, amount, taken_from(line), line.exact if differs else None)


def taken_from(line):
    """What a line's jar or bottle is called, where that says more than the substance's own name."""
    name = _called(line.lot) if line.lot else ""
    return "" if name == str(line.substance) else name


def _called(lot):
    """What to reach for; of a bottle of weak or strong powder also how it colours, by which it is measured."""
    name, made, counts = jar_or_bottle(lot), lot.strength(), strength_at_standard(lot)
    if not lot.is_bottle or not made or not counts or write_pct(made) == write_pct(counts):
        return name
    return f"{name}, colours like {write_pct(counts)}"


def takes_of(worked):
    """[(what the jar or bottle is called, `LotTotal`)] of all pots together."""
    named = [(_called(total.lot), total) for total in worked.totals]
    often = Counter(name for name, _ in named)
    return [(f"{name}: {which_of(total.lot)}" if often[name] > 1 else name, total) for name, total in named]


def problems_of(cards):
    """[(what it is of, sentence)]: what can't be measured as it is planned, each once however many pots it is in."""
    found = [(told.name, told.line.problem) for card in cards for told in card.lines if told.line.problem]
    return list(dict.fromkeys(found))


def weakest_of(cards):
    """[(what it is of, `Weaker`)]: of each substance the weakest bottle that a line wants, which does for all lines."""
    wanted = [(told.name, told.weaker) for card in cards for told in card.lines if told.weaker]
    return list(dict(sorted(wanted, key=lambda one: -one[1].pct)).items())


def shown(worked, last_day, back="", called=None):
    """What a page shows of a worked-out plan, by the names that its templates know.

    `last_day`: when its last pot is dyed. `back`: the address that making up a bottle leads back to. `called`: as of
    `cards_of`.
    """
    care, sheets = hazards.of_plan(worked)
    cards = cards_of(worked, called, back)
    return {
        "worked": worked,
        "cards": cards,
        "in_lines": len(cards) > FEW_SAMPLES and all(card.first.load.sample for card in cards),
        "most_dye_g": max((pot.dye_g for pot in worked.pots), default=None) or None,
        "problems": problems_of(cards),
        "weaker": weakest_of(cards),
        "pots_kind": kind_of([pot.load.vessel for pot in worked.pots]),
        "surer_once": any(one.surer or one.chosen for one in worked.once),
        "takes": takes_of(worked),
        "short": worked.shortages,
        "too_old": any(one.lot is not None and not one.short for one in worked.shortages),
        "care": care,
        "sheets": sheets,
        **to_make(worked, back, last_day),
    }


@dataclass(frozen=True)
class ToMake:
    """A bottle of the mixing list. `url`: the page that makes it up; `new`: it is described by that first."""

    making: object
    url: str = ""
    new: bool = False
    use_by: object = None  # of one made today
    last_day: object = None  # of the plan
    pots: tuple = ()  # pairs of pots in words and what each of them takes, where it is made for a whole run

    @property
    def parts(self):
        """[(what goes in, from which jar or bottle in words)]"""
        return [(part, _from_lot(part)) for part in self.making.parts]

    @property
    def too_old(self):
        """Whether one made today would be past its date on the last day of the plan."""
        return self.use_by is not None and self.last_day is not None and self.use_by < self.last_day

    @property
    def most_lots(self):
        """From how many lots one substance of it comes, of the one that comes from most."""
        lots = {}
        for part in self.making.parts:
            if part.lot is not None:
                lots.setdefault(part.substance, set()).add(part.lot.pk)
        return max(map(len, lots.values()), default=0)


def to_make(worked, back, last_day):
    """What a plan's page shows of the bottles to be made. `back`: the address to come back to with a bottle."""
    stock = [_to_make(making, back) for making in worked.stock]
    mixing_care, mixing_sheets = hazards.of_mixing(worked.mixing)
    stock_care, stock_sheets = hazards.of_mixing(worked.stock)
    return {
        "comes_back": bool(back),
        "others_once": [one for one in worked.once if not one.surer and not one.chosen],
        "to_make": [_to_make(making, back) for making in worked.mixing],
        "run_stock": [replace(one, last_day=last_day, pots=_each_pot(one.making, worked)) for one in stock],
        "mixing_care": mixing_care,
        "mixing_sheets": mixing_sheets,
        "stock_care": stock_care,
        "stock_sheets": stock_sheets,
    }


def _from_lot(part):
    return str(part.substance) if part.lot is None else jar_or_bottle(part.lot)


def _each_pot(making, worked):
    """Pairs of pots in words and what each of them takes, pots that take the same together."""
    found = {}
    for pot, each in zip(worked.pots, making.each, strict=True):
        if each:
            found.setdefault(each, []).append(_named(pot))
    return tuple((days.pots_by_day(pots), len(pots), each) for each, pots in found.items())


def _named(pot):
    """(its day or None, the Batch that it will be) of a `PotPlan`."""
    return pot.load.day, Batch(number=pot.number, vessel=pot.load.vessel)


def _to_make(making, back):
    if making.how != "make":
        return ToMake(making)
    wanted_as = [f"choose-{key}" for key in making.ingredients]
    lots = [lot for part in making.parts if part.lot is not None for lot in powder_lots(part.lot).values()]
    if making.master is not None:
        url = make_url(making.master, making.volume, back, wanted_as, lots)
        return ToMake(making, url, use_by=making.master.use_by(timezone.localdate()))
    url = _describe_url(making.substance, making.strength_pct, making.volume, back, wanted_as, lots)
    return ToMake(making, url, True)


def _describe_url(substance, strength_pct, volume, back, wanted_as, lots):
    """Where a bottle that nobody described yet is described, and then made up of these powder lots."""
    column = "dye" if isinstance(substance, Dye) else "assistant"
    said = {column: substance.pk, "strength": write_number(strength_pct, digits=9)}
    return f"{reverse('recipes:bottle-describe')}?{_query(volume, back, wanted_as, lots, said)}"


def make_url(master, volume, back="", wanted_as=(), lots=()):
    """The page that makes a bottle up of these powder lots, filled in for this volume (mL, g of a dry mix)."""
    return f"{reverse('recipes:bottle-make', args=[master.pk])}?{_query(volume, back, wanted_as, lots)}"


def _query(volume, back, wanted_as, lots, said=()):
    of = [("of", lot.pk) for lot in dict.fromkeys(lots)]
    more = [("back", back), *(("as", name) for name in wanted_as)] if back else []
    return urlencode([*dict(said).items(), ("volume", write_number(volume, digits=9)), *of, *more])


NEVER_KEPT = ("csrfmiddlewaretoken", "once", "do", "more")
LONGEST = 2400  # of an address that travels in another's query: servers take some 4000 signs in all


def address_of(path, data):
    """The address that works a plan out again as it was asked: what was typed, in the query. "" where that is too much
    for an address, as of a plan of very many loads.
    """
    said = [(name, value) for name in data for value in data.getlist(name) if value and name not in NEVER_KEPT]
    address = f"{path}?{urlencode(said)}"
    return address if len(quote(address, safe="")) <= LONGEST else ""
