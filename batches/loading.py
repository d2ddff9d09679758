"""Yarn into pots: how many loads, of how many skeins, on which day; and which yarn lot goes where. No Django."""

from collections import Counter
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from studio.units import write_count

MOST_DAYS = 60


@dataclass(frozen=True)
class Vessels:
    """Vessels alike that a run may use: how many, skeins in a load, and how many loads each takes in a day."""

    key: object
    many: int
    takes: int
    loads: int = 1

    @property
    def slots(self):
        """Loads a day of all of them."""
        return self.many * self.loads


@dataclass(frozen=True)
class Loads:
    """Alike loads of one day: so many pots of so many skeins each, in vessels of `key`. Days count from 1."""

    day: int
    key: object
    pots: int
    skeins: int


@dataclass(frozen=True)
class Spare:
    """Skeins to be dyed beyond those wanted: a number, and a percentage of those wanted, rounded up."""

    skeins: int = 0
    pct: Decimal = Decimal(0)

    def of(self, wanted):
        """How many spare skeins, where so many are wanted.

        >>> Spare(pct=Decimal(3)).of(60)
        2
        """
        return self.skeins + int((self.pct * wanted / 100).to_integral_value(ROUND_CEILING))


def fits(fill_ml, ratio, skein_g):
    """How many skeins of `skein_g` [g] go into so much bath [mL] at a liquor ratio [mL to 1 g].

    >>> fits(fill_ml=12_000, ratio=20, skein_g=100)
    6
    """
    return int(Decimal(fill_ml) / (Decimal(ratio) * Decimal(skein_g)))


def spread(skeins, pots):
    """How many skeins each of `pots` pots takes, as equal as whole skeins allow, the fuller ones first.

    >>> spread(7, 2)
    [4, 3]

    Raises ValueError when there is no pot, or a pot would stay empty.
    """
    if pots < 1:
        raise ValueError("Choose at least one pot.")
    if skeins < pots:
        many, number = write_count(skeins, "skein"), write_count(pots, "pot")
        raise ValueError(f"{many} do not fill {number}: choose fewer pots or more skeins.")
    each, over = divmod(skeins, pots)
    return [each + 1] * over + [each] * (pots - over)


# --- loads over vessels and days


def propose(skeins, kinds, days=None):
    """[Loads] of so many skeins over these `Vessels`, in the fewest days they take, or in `days` days.

    There are as many loads as if the largest vessels were filled first, no load holds more than its vessel takes, and
    all are as equal as that and whole skeins allow: 60 skeins over kettles of 16 are four loads of 15.

    >>> propose(60, [Vessels("kettle", many=2, takes=16)])
    [Loads(day=1, key='kettle', pots=2, skeins=15), Loads(day=2, key='kettle', pots=2, skeins=15)]

    Raises ValueError with a sentence where there is nothing to fill, or the days are too few.
    """
    kinds = sorted((kind for kind in kinds if kind.takes and kind.slots), key=lambda kind: -kind.takes)
    if not kinds or skeins < 1:
        raise ValueError("Choose the pots, and say how many skeins one of them takes.")
    least = -(-skeins // sum(kind.slots * kind.takes for kind in kinds))
    if days is not None and days < least:
        raise ValueError(
            f"{write_count(skeins, 'skein')} take {write_count(least, 'day')} in these pots: say more days, more pots, "
            "or to fill them more often in a day."
        )
    if least > MOST_DAYS:
        raise ValueError(f"That would take {least} days in these pots: choose more or larger ones.")
    found = []
    for kind, sizes in _levelled(skeins, _by_kind(skeins, kinds, days or least)):
        found += _over_days(kind, sizes, days or least)
    return _without_free_days(sorted(found, key=lambda one: (one.day, -one.skeins)))


def _by_kind(skeins, kinds, days):
    """[(kind, how many loads)] over all days: as few as hold the skeins, the largest vessels filled first."""
    found = []
    for kind in kinds:
        share = min(skeins, kind.slots * kind.takes * days)
        skeins -= share
        if share:
            found.append((kind, -(-share // kind.takes)))
    return found


def _levelled(skeins, numbers):
    """Pairs of a kind and the sizes of its loads, equal over all kinds but for vessels that take less than that."""
    loads, found = sum(number for _, number in numbers), []
    for kind, number in reversed(numbers):  # the smallest first: what they can't take is left to the larger
        share = min(kind.takes * number, skeins * number // loads)
        found.append((kind, spread(share, number)))
        skeins, loads = skeins - share, loads - number
    return reversed(found)


def _over_days(kind, sizes, days):
    """[Loads] of one kind, as even over the days as they come."""
    found = []
    for day, loads in enumerate(spread(len(sizes), min(len(sizes), days)), 1):
        today, sizes = sizes[:loads], sizes[loads:]
        found += [Loads(day, kind.key, pots, size) for size, pots in Counter(today).items()]
    return found


def _without_free_days(loads):
    """The same with days counted on from one to the next."""
    days = {day: number for number, day in enumerate(sorted({one.day for one in loads}), 1)}
    return [Loads(days[one.day], one.key, one.pots, one.skeins) for one in loads]


def numbered(days):
    """[(day, number)] of loads that are dyed on these days, None for the day where all are of one.

    Days count from 1, the first of them being 1; loads count anew on each day, as each day is a run of its own.

    >>> numbered([3, 3, 5])
    [(1, 1), (1, 2), (2, 1)]
    >>> numbered([3, 3])
    [(None, 1), (None, 2)]
    """
    places = {day: place for place, day in enumerate(sorted(set(days)), 1)}
    taken, found = Counter(), []
    for day in days:
        taken[day] += 1
        found.append((places[day] if len(places) > 1 else None, taken[day]))
    return found


# --- yarn lots over loads


def fill(yarns, pots):
    """[[(key, skeins)]] for each of so many pots of equal loads. `yarns`: as for `share`."""
    yarns = list(yarns)
    return share(yarns, spread(sum(skeins for _, skeins in yarns), pots))


def share(yarns, sizes):
    """[[(key, skeins)]] for loads of these sizes, each yarn kept together as far as it goes.

    `yarns`: pairs of a key, such as a yarn lot's, and how many skeins of it. A yarn that fills some of the loads
    exactly has them to itself; the others follow each other, so that fewer loads are mixed than there are yarns.

    >>> share([("a", 3), ("b", 4)], [4, 3])
    [[('b', 4)], [('a', 3)]]
    """
    loads, left = [[] for _ in sizes], []
    free = list(range(len(sizes)))
    for key, skeins in yarns:
        whole = _that_sum_to(skeins, [sizes[place] for place in free]) if skeins else []
        if whole is None:
            left.append([key, skeins])
            continue
        for place in [free[at] for at in whole]:
            loads[place].append((key, sizes[place]))
            free.remove(place)
    for place in free:
        room = sizes[place]
        while room and left:
            key, skeins = left[0]
            taken = min(room, skeins)
            loads[place].append((key, taken))
            room -= taken
            left[0][1] -= taken
            if not left[0][1]:
                left.pop(0)
    return loads


def _that_sum_to(total, sizes):
    """Places of sizes that sum to the total exactly, the first ones where there is a choice; None where none do."""
    reach = [1]  # bit n of reach[i]: the last i sizes can sum to n
    for size in reversed(sizes):
        reach.append(reach[-1] | reach[-1] << size)
    if not reach[-1] >> total & 1:
        return None
    found = []
    for place, size in enumerate(sizes):
        if size <= total and reach[len(sizes) - place - 1] >> (total - size) & 1:
            found.append(place)
            total -= size
    return found


def mixed(loads, kind_of=lambda key: None):
    """Where yarns of one kind are not of one lot: {kind: {key: [numbers of the loads that hold it, from 1]}}.

    `loads`: as `share` gives them. `kind_of`: what of a key must be the same to be compared, such as its base. Kinds
    with a single key are left out.
    """
    found = {}
    for number, load in enumerate(loads, 1):
        for key, _ in load:
            places = found.setdefault(kind_of(key), {}).setdefault(key, [])
            if number not in places:
                places.append(number)
    return {kind: places for kind, places in found.items() if len(places) > 1}
