"""Yarn that can go into a pot, whatever it comes from: the shelf, an earlier run, a customer, or nobody knows where."""

from dataclasses import dataclass, replace
from decimal import Decimal

from django.db.models import F, OuterRef, Subquery, Sum
from django.db.models.functions import Coalesce

from studio.units import write_g

from .models import BatchYarn, Output, State

Source = BatchYarn.Source
TO_DYE = (Output.Grade.AGAIN, Output.Grade.PREPARED, Output.Grade.SECOND)
NOT_SAID = "Yarn not said yet"


@dataclass(frozen=True)
class Yarn:
    """What is known of a yarn: `skein_g` [g] of a dry skein, None where nobody weighed it; `left` skeins, or None."""

    source: str
    name: str
    skein_g: Decimal | None = None
    skein_m: Decimal | None = None
    lot: object = None
    output: object = None
    base: object = None
    left: Decimal | None = None

    @classmethod
    def of_lot(cls, lot):
        """A yarn lot of the shelf, with `on_hand`."""
        left = lot.on_hand / lot.skein_g
        return cls(Source.LOT, str(lot), lot.skein_g, lot.skein_m, lot=lot, base=lot.base, left=left)

    @classmethod
    def of_output(cls, output):
        """Skeins that came out of an earlier run, with `left`."""
        yarn = output.yarn
        return cls(
            Source.OUTPUT,
            f"{output.name or yarn.batch.run.name} {yarn.batch.run.code}, {yarn.name}",
            output.known_skein_g,
            output.known_skein_m,
            output=output,
            base=yarn.known_base,
            left=Decimal(output.left),
        )

    @classmethod
    def of_row(cls, row):
        """What is in a pot already, by its `BatchYarn`: so much of it is there, and nothing more is taken."""
        skein_g = row.grams / (row.skeins or 1) if row.grams else row.skein_g
        return cls(row.source, row.name, skein_g, row.skein_m, lot=row.lot, output=row.output, base=row.known_base)

    @classmethod
    def in_words(cls, source, words, *, skein_g=None):
        """A customer's own yarn, or one without a label: all that is known of it is what somebody says."""
        return cls(source, words, skein_g)

    def in_samples(self, grams):
        """The same yarn wound off in pieces of so many g, each counted as a skein."""
        if self.skein_g is None:
            return replace(self, skein_g=grams)
        part = grams / self.skein_g
        return replace(
            self,
            name=f"{self.name}, in samples of {write_g(grams)}",
            skein_g=grams,
            skein_m=self.skein_m and self.skein_m * part,
            left=self.left and self.left / part,
        )

    def row(self, skeins):
        """The row of a pot that holds so many skeins of it; None where nobody counted."""
        return BatchYarn(
            source=self.source,
            lot=self.lot,
            output=self.output,
            base=self.base,
            words="" if self.lot or self.output else self.name[:120],
            skeins=skeins,
            grams=self.grams(skeins),
            skein_g=self.skein_g,
            skein_m=self.skein_m,
        )

    def grams(self, skeins):
        return None if self.skein_g is None or skeins is None else self.skein_g * skeins

    def short(self, skeins, promised=Decimal(0)):
        """A sentence where there are fewer skeins than wanted, else "". `promised`: g of the lot that plans have."""
        if self.left is None:
            return ""
        free = int(self.left - (promised / self.skein_g if promised else 0))
        return "" if free >= skeins else f"{self.name}: {skeins} skeins wanted, {max(free, 0)} free."


def to_dye_again():
    """Outputs that can go into a pot again, the newest first, with `left`: skeins that no later run has taken."""
    taken = (
        BatchYarn.objects.filter(output=OuterRef("pk"))
        .exclude(batch__run__state=State.ABANDONED)
        .order_by()
        .values("output")
        .annotate(total=Sum("skeins"))
        .values("total")
    )
    return (
        Output.objects.standing()
        .filter(grade__in=TO_DYE)
        .annotate(left=F("skeins") - Coalesce(Subquery(taken), 0))
        .filter(left__gt=0)
        .select_related("yarn__batch__run__colourway", "yarn__lot__base", "yarn__base", "yarn__output__yarn__lot__base")
        .order_by("-pk")
    )
