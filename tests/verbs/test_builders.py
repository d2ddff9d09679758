from decimal import Decimal

from tests import builders


def test_a_small_day_can_be_built(cast):
    powder = builders.receive_powder(cast.maker)
    red = builders.bottle(cast.maker, parts=[(powder, Decimal("2.5"))])
    run = builders.run_with_pots(cast.maker, pots=2, lines=[(red, 40)])
    pot = run.batches.first()
    builders.addition(cast.helper, pot, red, 40)
    builders.finish(cast.maker, pot)
    pot.refresh_from_db()
    assert pot.state == "finished"
    assert builders.on_hand(red) == 210
    assert builders.on_hand(powder) == Decimal("97.5")
