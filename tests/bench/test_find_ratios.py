"""Finding among twenty thousand runs, beside a bare count of them on the same connection."""

import random
import time
from datetime import date

import pytest

from batches import finding, indexing
from batches.models import Run
from studio.models import Base, Dye
from tests.bench import years
from tests.bench.test_ratios import p95, say

pytestmark = pytest.mark.bench

ROUNDS = 12


def questions():
    """Fifty that a studio asks: common words and rare ones, several, codes, filters, misses."""
    rare = years.Notes(random.Random(118)).words
    base, dye = Base.objects.get(name="Wren DK").pk, Dye.objects.get(name="Ochre").pk
    words = [
        *("bath", "slow", "the", "blue", "vinegar", "heat", "binder", "be", "s"),  # in thousands of runs
        *("wren", "ochre", "rust fast", "low tide", "kiln door", "grun", "Grün", "sparrow lace", "quern", "moss"),
        *(rare[400], rare[1500], rare[-1], rare[-40], f"{rare[900]} bath", f"{rare[2000]} {rare[2100]}"),
        *("wren ochre bath", "tide rust slow even", "pale deep split", "low tide wren dk 4-ply", "too pale again"),
        *("14-00118", "19-10", "1900118", "14-00118-1", "0217", "B-0217", "Y-1203", "118"),
        *("zebra", "ochtre", "spqrow", "wren zebra bath", "99-99999", "%"),
    ]
    narrowed = [
        ("", {"base": base}),
        ("", {"dye": dye, "verdict": "never"}),
        ("", {"fibre": "silk", "method": "painted"}),
        ("", {"first": date(2019, 3, 1), "last": date(2019, 3, 31)}),
        ("bath", {"base": base, "dye": dye}),
        ("slow blue", {"verdict": "standard", "method": "pot", "first": date(2020, 1, 1)}),
        ("tide", {"fibre": "cotton", "last": date(2016, 12, 31)}),
        ("spot", {"base": base, "dye": dye, "method": "dipped", "verdict": "never", "first": date(2025, 6, 1)}),
    ]
    return [(word, {}) for word in words] + narrowed


@pytest.fixture
def many(cast, studio):
    years.make(cast.owner)
    indexing.rebuild()
    return cast


def in_turn(*acts):
    """Seconds that each took, one after the other, so that all see the same machine."""
    taken = [[] for _ in acts]
    for times, act in zip(taken, acts, strict=True):
        begin = time.perf_counter()
        act()
        times.append(time.perf_counter() - begin)
    return taken


@pytest.mark.django_db
def test_finding_against_a_bare_count(many, client_of, rf):
    counts, finds = [], []
    asked = questions()
    slow = {}
    for turn in range(ROUNDS):
        for text, filters in asked:
            one, other = in_turn(Run.objects.count, lambda t=text, f=filters: finding.find(finding.Question.of(t, **f)))
            if turn:
                counts += one
                finds += other
                slow.setdefault((text, *filters), []).append(other[0])
    say(f"Finding among 20,000 runs, {len(asked)} questions, p95 against a bare count's", p95(finds) / p95(counts), 5)
    print(f"    count p95 {p95(counts) * 1e3:.2f} ms, find p95 {p95(finds) * 1e3:.2f} ms")
    for name, taken in sorted(slow.items(), key=lambda item: -min(item[1]))[:8]:
        print(f"    {min(taken) * 1e3:.2f} ms at best: {name}")
