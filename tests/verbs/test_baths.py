"""A bath that is used again, and liquor that is kept: what they do to the depth, and what a strike-out takes back."""

from decimal import Decimal

import pytest

from batches import depth
from batches.models import Bath, Entry, Move, Strike
from batches.telling import lines_of
from studio.models import Lot, Solution
from tests import builders
from tests.builders import hours, stamp

IN, OUT = Move.What.LIQUOR_IN, Move.What.LIQUOR_OUT
SENT = {"kind": "move", "id": "0b9b6a8e-4a5e-4a53-9b2e-0d1f2a3b4c5d", "what": OUT, "keep_as": "Walnut liquor"}


@pytest.fixture
def pots(cast):
    return list(builders.run_with_pots(cast.owner, pots=2).batches.order_by("number"))


def depth_of(batch):
    return depth.depths_of([batch])[batch.pk]


def keep(cast, batch, name="Walnut liquor"):
    return Move.log(batch, stamp(cast.owner, hours(1)), what=OUT, volume_ml=Decimal(2000), keep_as=name)


def test_the_next_skeins_go_into_the_same_bath(cast, pots):
    first, second = pots
    Move.log(second, stamp(cast.owner, hours(1)), what=IN, volume_ml=Decimal(6000), other_batch=first)
    assert second.bath_now().continues == first.bath_now()
    assert first.baths.get().end == Bath.End.NEXT
    assert depth_of(second).words == "carry-over unknown" and depth_of(first).words == ""


def test_a_struck_line_leaves_both_baths_as_they_were(cast, pots):
    first, second = pots
    entry = Move.log(second, stamp(cast.owner, hours(1)), what=IN, other_batch=first)
    Strike.log(second, stamp(cast.owner, hours(2)), target=entry.pk)
    assert Bath.objects.filter(continues__isnull=True, end="").count() == 2
    assert depth_of(second).words == ""


def test_kept_liquor_is_a_bottle_of_nobody_knows_what(cast, pots):
    keep(cast, pots[0])
    bottle = Lot.objects.get(solution__name="Walnut liquor")
    assert (bottle.solution.kind, bottle.on_hand_now(), bottle.strength()) == (Solution.Kind.LIQUOR, 2000, None)
    assert pots[0].baths.get().kept_in == bottle


def test_dye_from_kept_liquor_makes_the_depth_unknown(cast, pots):
    keep(cast, pots[0])
    builders.addition(cast.owner, pots[1], Lot.objects.get(solution__kind="liquor"), 500, at=hours(2))
    assert depth_of(pots[1]).words == "carry-over unknown"


def test_a_struck_line_empties_the_bottle_again(cast, pots):
    entry = keep(cast, pots[0])
    Strike.log(pots[0], stamp(cast.owner, hours(2)), target=entry.pk)
    assert Lot.objects.get(solution__kind="liquor").on_hand_now() == 0
    assert pots[0].baths.get().end == ""


def test_the_struck_line_empties_its_own_bottle_and_no_other(cast, pots):
    first, second = keep(cast, pots[0]), keep(cast, pots[0])
    Strike.log(pots[0], stamp(cast.owner, hours(2)), target=first.pk)
    assert first.move.kept.on_hand_now() == 0 and second.move.kept.on_hand_now() == 2000
    assert pots[0].baths.get().kept_in == second.move.kept


def test_some_is_kept_and_the_next_skeins_go_into_the_rest(cast, pots):
    kept = keep(cast, pots[0])
    poured = Move.log(pots[1], stamp(cast.owner, hours(1)), what=IN, other_batch=pots[0])
    assert (pots[0].baths.get().end, pots[0].baths.get().kept_in) == (Bath.End.NEXT, kept.move.kept)
    Strike.log(pots[1], stamp(cast.owner, hours(2)), target=poured.pk)
    assert pots[0].baths.get().end == Bath.End.KEPT
    Strike.log(pots[0], stamp(cast.owner, hours(3)), target=kept.pk)
    assert (pots[0].baths.get().end, pots[0].baths.get().kept_in) == ("", None)


def test_the_log_says_where_liquor_came_from_and_went(cast, pots):
    elsewhere = builders.run_with_pots(cast.owner, pots=1).batches.get()
    told = [
        keep(cast, pots[0]),
        Move.log(pots[1], stamp(cast.owner, hours(1)), what=IN, other_batch=pots[0]),
        Move.log(pots[0], stamp(cast.owner, hours(1)), what=OUT, other_batch=elsewhere),
    ]
    lines = lines_of(list(Entry.objects.filter(pk__in=[entry.pk for entry in told]).in_order().with_details()))
    assert {line.what.replace("\xa0", " ") for line in lines} == {
        "Liquor out, 2 L, kept as Walnut liquor",
        f"Liquor in, from {pots[0].pot_name}",
        f"Liquor out, to {elsewhere.run.code} {elsewhere.pot_name}",
    }


def test_a_name_that_is_taken_is_refused(cast, pots):
    builders.make_solution("Brick 1 %")
    with pytest.raises(ValueError, match="a name of its own"):
        keep(cast, pots[0], "brick 1 %")
    assert not Move.objects.exists()


def test_the_page_keeps_liquor_too(cast, pots, client_of, studio):
    answer = client_of(cast.helper).post(f"/sink/{pots[0].pk}/log/", SENT | {"volume": "1,5", "volume_unit": "L"})
    assert answer.status_code == 302
    assert Lot.objects.get(solution__kind="liquor").received == 1500


def test_a_bottle_needs_a_volume(cast, pots, client_of, studio):
    answer = client_of(cast.helper).post(f"/sink/{pots[0].pk}/log/", SENT)
    assert answer.status_code == 422 and "about how much liquor" in answer.content.decode()
