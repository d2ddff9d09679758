"""Ratios of one run on one machine; `bash tests/run bench` prints them. Nothing here is asserted about seconds."""

import statistics
from datetime import date, timedelta
from decimal import Decimal

import pytest

from batches.models import Batch, BatchYarn, Run
from batches.tag_face import TagFace
from batches.tag_sheet import tag_sheet
from studio.colourbar import Segment
from tests import builders
from tests.bench.saying import say, seconds
from tests.builders import NOON

pytestmark = pytest.mark.bench


def many_runs(owner, lot, begin, number):
    """Finished runs in bulk, each with a pot and its yarn: only the journal's reading is measured."""
    runs = Run.objects.bulk_create(
        Run(
            code=f"z-{begin + n}",
            title=f"Run {n}",
            day=date(2020, 1, 1) + timedelta(days=(begin + n) % 2000),
            state="finished",
            made_at=NOON,
            by=owner,
            started_at=NOON,
            finished_at=NOON,
        )
        for n in range(number)
    )
    pots = Batch.objects.bulk_create(
        Batch(
            run=run, number=1, fibre_g=Decimal(200), state="finished", where="stored", started_at=NOON, finished_at=NOON
        )
        for run in runs
    )
    BatchYarn.objects.bulk_create(
        BatchYarn(
            batch=pot,
            position=1,
            source="lot",
            lot=lot,
            base=lot.base,
            skeins=2,
            grams=Decimal(200),
            skein_g=Decimal(100),
        )
        for pot in pots
    )


@pytest.mark.django_db
def test_journal_of_twenty_thousand_runs(cast, client_of, studio):
    """The journal with 20,000 runs beside the same page with 50."""
    browser = client_of(cast.owner)
    lot = builders.receive_yarn(cast.owner)
    many_runs(cast.owner, lot, 0, 50)
    open_journal = lambda: browser.get("/journal/")  # noqa: E731
    assert open_journal().status_code == 200
    few = statistics.median(seconds(open_journal, 25))
    many_runs(cast.owner, lot, 50, 19_950)
    many = statistics.median(seconds(open_journal, 25))
    say("Journal, 20,000 runs against 50", many / few, 1.5)


def test_tags_in_thousands():
    """2,400 equal tags beside one sheet of them."""
    face = TagFace(
        colourway="Kiln Door",
        base="Tessel 4-ply",
        content="75% wool, 25% polyamide",
        net="100 g / 3.53 oz",
        length="425 m / 465 yd",
        dye_lot="26-118",
        care=("Hand wash cool.", "Dry flat."),
        maker=("Lamp Lane Dyehouse",),
        price="€28.95",
        dyes=(Segment("Brick", "#9c3122", Decimal(3)), Segment("Ochre", "#d39a3c", Decimal(2))),
    )
    for design, sheet in (("label", 24), ("swing", 9)):
        tag_sheet([(face, sheet)], design)
        one = statistics.median(seconds(lambda s=sheet, d=design: tag_sheet([(face, s)], d), 5))
        many = statistics.median(seconds(lambda d=design: tag_sheet([(face, 2400)], d), 5))
        say(f"2,400 equal tags against one sheet, {design}", many / one, 1.3)
