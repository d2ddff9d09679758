"""What differs between two versions, in words a dyer would say: "Ochre: 0.3 % owf, before 0.25 % owf (a fifth more)".

Two outlines in, a list of differences out. An outline says each fact, step and line of a version in words already (see
`outline`); here they are matched and compared. What is said of a against b is said of b against a too, the other way
round: the same things are named.
"""

import re
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal

CHANGED, NEW, GONE = "changed", "new", "gone"

# Amounts and what each is called against the other. In between, percent.
LESS_THAN_A_HUNDREDTH = Decimal("0.01")
NEAR = Decimal("0.015")  # "a fifth" is said of 19 and of 21 percent
PARTS = {
    Decimal(1) / 2: "half as much",
    Decimal(2) / 3: "a third less",
    Decimal(3) / 4: "a quarter less",
    Decimal(4) / 5: "a fifth less",
    Decimal(9) / 10: "a tenth less",
    Decimal(11) / 10: "a tenth more",
    Decimal(6) / 5: "a fifth more",
    Decimal(5) / 4: "a quarter more",
    Decimal(4) / 3: "a third more",
    Decimal(3) / 2: "half as much again",
    Decimal(2): "twice as much",
    Decimal(3): "three times as much",
}


@dataclass(frozen=True)
class Aspect:
    """One thing that is said of a fact, a step or a line: its amount, its heat, its place.

    `exact`: said instead of `words` where two differ in `exact` alone. `gist`: what is compared where the same item
    differs in another aspect already, so that words which only repeat that number are not told twice. `amount` is
    compared with another of the same `basis`; `share`, for each g of yarn, with any other. `none`: what to say against
    another where there are no words.
    """

    words: str = ""
    exact: str = ""
    gist: str | None = None
    basis: str = ""
    amount: Decimal | None = None
    share: Decimal | None = None
    none: str = "not said"
    quiet: bool = False  # the notebook's own words: no difference to the yarn
    bare: bool = False  # words that say no more than the rest does: no difference to having none


@dataclass(frozen=True)
class Item:
    """A fact, a step or a line of a version. `key` is equal for what may be the same in two versions.

    `rank`: how much it is a landmark: of two that changed places, the one of lower rank is said to have moved.
    `carrier`: the place in the outline of the step that it goes in with. `called`: its name after "after" and "ahead
    of".
    """

    key: tuple
    name: str
    aspects: dict = field(default_factory=dict)
    fill: str = ""
    rank: int = 1
    carrier: int | None = None
    called: str = ""
    whole: str | None = None  # all that is said of it, where that is not its aspects in a row

    def says(self, *names):
        return tuple(self.aspects[name].words for name in names if name in self.aspects)

    @property
    def words(self):
        """All that is said of it, but for the notebook's own words."""
        if self.whole is not None:
            return self.whole
        return ", ".join(one.words for one in self.aspects.values() if one.words and not one.quiet)


@dataclass(frozen=True)
class Difference:
    """Something that is otherwise now. `was` is empty for what is new, `to` for what is there no longer."""

    kind: str
    name: str
    to: str = ""
    was: str = ""
    more: str = ""
    fill: str = ""
    quiet: bool = False

    @property
    def sentence(self):
        """ "Hold: 45 min, before 30 min", "new: Soot, 0.02 % owf", "no longer: Soot, 0.02 % owf"."""
        if self.kind == CHANGED:
            return f"{self.name}: {self.to}, before {self.was}{f' ({self.more})' if self.more else ''}"
        word, said = ("new", self.to) if self.kind == NEW else ("no longer", self.was)
        return f"{word}: {self.name}{f', {said}' if said else ''}"


def more_or_less(now, before):
    """How an amount stands to another of the same unit: "a fifth more", "12 % less", "2.4 times as much"; "" for equal.

    Raises ValueError where there is nothing to compare with.
    """
    if before <= 0 or now <= 0:
        raise ValueError("Only amounts above zero can be compared.")
    ratio = Decimal(now) / Decimal(before)
    if ratio == 1:
        return ""
    if abs(ratio - 1) < LESS_THAN_A_HUNDREDTH:
        return "under 1\u00a0% more" if ratio > 1 else "under 1\u00a0% less"
    near = min(PARTS, key=lambda part: abs(part - ratio))
    if abs(near - ratio) <= NEAR * near:
        return PARTS[near] if abs(near - ratio) * 1000 <= near else f"about {PARTS[near]}"
    if ratio > 2:
        return f"{_plain(ratio.quantize(Decimal('0.1'), ROUND_HALF_UP))} times as much"
    if ratio * 100 < 1:
        return "less than a hundredth of it"
    if ratio * 2 < 1:
        return f"{_whole(ratio * 100)}\u00a0% of it"
    return f"{_whole(abs(ratio - 1) * 100)}\u00a0% {'more' if ratio > 1 else 'less'}"


def _whole(number):
    return number.quantize(Decimal(1), ROUND_HALF_UP)


def _plain(number):
    return f"{number:f}".removesuffix(".0")


# Two versions


def differences(before, after):
    """[Difference] of two outlines, each (facts, items in order): the facts first, then in the order of `after`."""
    facts = [
        one
        for pair in zip(before[0], after[0], strict=True)
        if (one := _changed(*pair, pair[1].name)) and not one.quiet
    ]
    old, new = before[1], after[1]
    pairs = match(old, new)
    moved = _moved(pairs, old, new)
    partner = dict(pairs)
    several = {item.key for items in (old, new) for item in items if [one.key for one in items].count(item.key) > 1}
    said = []
    for i, j in pairs:
        name = _which(old[i], new[j], several)
        said.append(
            ((j, 0, 0), _changed(old[i], new[j], name, [*_place(i, j, moved), *_carried(i, j, old, new, partner)]))
        )
    for j in sorted(set(range(len(new))) - {j for _, j in pairs}):
        said.append(((j, 0, 0), Difference(NEW, new[j].name, to=new[j].words, fill=new[j].fill)))
    for i in sorted(set(range(len(old))) - {i for i, _ in pairs}):
        after_it = max((j for k, j in pairs if k < i), default=-1)
        said.append(((after_it, 1, i), Difference(GONE, old[i].name, was=old[i].words, fill=old[i].fill)))
    return facts + [one for _, one in sorted(said, key=lambda row: row[0]) if one]


def _which(old, new, several):
    """Its name, with its place where there are `several` of it and each keeps its own."""
    place, before = (item.aspects["place"].words if "place" in item.aspects else "" for item in (new, old))
    return f"{new.name} ({place})" if new.key in several and place and place == before else new.name


def _changed(old, new, name, places=()):
    """The `Difference` of two that are the same thing, or None. `places`: pairs of words of where it stands."""
    differ = [kind for kind in new.aspects if _differ(old.aspects[kind], new.aspects[kind])]
    differ = [kind for kind in differ if not _only_written_down(old.aspects[kind], new.aspects[kind])]
    told = [kind for kind in differ if not (old.aspects[kind].quiet and new.aspects[kind].quiet)]
    first = [kind for kind in told if new.aspects[kind].gist is None]
    if first:  # words that only repeat what differs already are left out
        told = [kind for kind in told if kind in first or old.aspects[kind].gist != new.aspects[kind].gist]
    quiet = not told and not places
    if quiet and not differ:
        return None
    told = differ if quiet else told
    sides = [_both(old.aspects[kind], new.aspects[kind]) for kind in told] + list(places)
    more = [how for kind in told if (how := _more(old.aspects[kind], new.aspects[kind]))]
    to, was = (", ".join(side) for side in zip(*sides, strict=True))
    return Difference(CHANGED, name, to, was, ", ".join(more), new.fill or old.fill, quiet)


def _differ(old, new):
    return (old.words, old.exact, old.basis, old.amount) != (new.words, new.exact, new.basis, new.amount)


def _only_written_down(old, new):
    """Whether words that say nothing new came to what had none, as a version that was taken from a log has none."""
    return not (old.words and new.words) and all(one.bare or not one.words for one in (old, new))


def _both(old, new):
    """(now, before) in words that differ."""
    if old.words == new.words and (old.exact or new.exact):
        return new.exact or new.words, old.exact or old.words
    return new.words or new.none, old.words or old.none


def _more(old, new):
    pairs = [(new.amount, old.amount)] if old.basis == new.basis else []
    for now, before in [*pairs, (new.share, old.share)]:
        if now and before:
            return more_or_less(now, before) or ("as much as before" if new.basis != old.basis else "")
    return ""


# Which is which


def match(old, new):
    """[(place in `old`, place in `new`)] of what is the same in both, in the order of `new`.

    Of one key those that are alike go together first, then those alike in their words, place or heat, then the others
    in their order. Steps in words of their own go together only where they share at least half of those.
    """
    found = []
    for key in dict.fromkeys(item.key for item in new):
        left = [i for i, item in enumerate(old) if item.key == key]
        right = [j for j, item in enumerate(new) if item.key == key]
        for alike in ROUNDS:
            pairs = _pair(left, right, old, new, alike)
            found += pairs
            left = [i for i in left if i not in {one for one, _ in pairs}]
            right = [j for j in right if j not in {one for _, one in pairs}]
        found += _by_words(left, right, old, new) if key[0] == "words" else list(zip(left, right, strict=False))
    return sorted(found, key=lambda pair: pair[1])


ROUNDS = (
    lambda item: item.says(*item.aspects),
    lambda item: item.says("amount", "place", "temperature", "minutes"),
    lambda item: item.says("amount") or None,
    lambda item: item.says("place") if any(item.says("place")) else None,
    lambda item: item.says("temperature") if any(item.says("temperature")) else None,
    lambda item: item.says("how") or None,
)


def _pair(left, right, old, new, alike):
    """The first of each that are `alike` go together, then the second; what says nothing of it (None) is left."""
    waiting = {}
    for i in left:
        waiting.setdefault(alike(old[i]), []).append(i)
    pairs = []
    for j in right:
        said = alike(new[j])
        if said is not None and waiting.get(said):
            pairs.append((waiting[said].pop(0), j))
    return pairs


def _by_words(left, right, old, new):
    scored = []
    for i in left:
        for j in right:
            a, b = _words(old[i].words), _words(new[j].words)
            share = len(a & b) / max(1, len(a | b))
            if share >= 0.5:
                scored.append((-share, abs(i - j), i + j, min(i, j), i, j))
    pairs = []
    for *_, i, j in sorted(scored):
        if i not in {one for one, _ in pairs} and j not in {one for _, one in pairs}:
            pairs.append((i, j))
    return pairs


def _words(text):
    return set(re.findall(r"\w+", text.casefold()))


# In which order


def _moved(pairs, old, new):
    """{place in `new`: the place in `new` that it has changed sides with} of what does not go in where it went in.

    What stays is the weightiest row of pairs that stand in the same order in both. Among equals the choice is by what
    they are, never by which version is which, so that both directions tell of the same ones.
    """
    order = sorted(
        range(len(pairs)), key=lambda k: sorted(_told(item) for item in (old[pairs[k][0]], new[pairs[k][1]]))
    )
    tie = {k: 1 << place for place, k in enumerate(order)}
    weigh = [new[j].rank * (1 << (len(pairs) + 1)) + tie[k] for k, (_, j) in enumerate(pairs)]
    best, link = [], []
    for k, (i, _) in enumerate(pairs):  # by their place in `new`
        before = [m for m in range(k) if pairs[m][0] < i]
        last = max(before, key=lambda m: best[m], default=None)
        best.append(weigh[k] + (best[last] if last is not None else 0))
        link.append(last)
    stays, k = set(), max(range(len(pairs)), key=lambda m: best[m], default=None)
    while k is not None:
        stays.add(k)
        k = link[k]
    return {pairs[k][1]: _passed(k, stays, pairs, old, new) for k in range(len(pairs)) if k not in stays}


def _told(item):
    return (item.key[0], item.name, item.words)


def _passed(k, stays, pairs, old, new):
    """("after the heat", "ahead of the heat"): the landmark it has changed sides with, a step rather than a line."""
    i, j = pairs[k]
    crossed = [m for m in stays if (pairs[m][0] < i) != (pairs[m][1] < j)]
    nearest = min(crossed, key=lambda m: (-new[pairs[m][1]].rank, abs(pairs[m][1] - j), pairs[m][1]))
    called = new[pairs[nearest][1]].called
    after, ahead = f"after {called}", f"ahead of {called}"
    return (after, ahead) if pairs[nearest][1] < j else (ahead, after)


def _place(i, j, moved):
    return [moved[j]] if j in moved else []


def _carried(i, j, old, new, partner):
    """[(now, before)]: with which step it goes in, where that is another one and both are there in both versions."""
    was, now = old[i].carrier, new[j].carrier
    there = was is None or was in partner
    here = now is None or now in set(partner.values())
    if not (there and here) or (None if was is None else partner[was]) == now:
        return []
    return [tuple("by itself" if at is None else f"with {of[at].called}" for at, of in ((now, new), (was, old)))]
