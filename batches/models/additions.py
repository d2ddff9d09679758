"""What went in, and which bought lots that was."""

from django.db import models, transaction
from django.db.models import CheckConstraint, Exists, OuterRef, Q, UniqueConstraint

from recipes.models import How
from studio.models import Kept, Lot, Movement
from studio.models.fields import (
    ExactDecimalField,
    KeptQuerySet,
    one_of,
    unknown_or_above_zero,
    unknown_or_not_negative,
)
from studio.models.ledger import still_open

from .index import Stale
from .log import Detail, DetailQuerySet, Entry, Strike, settle_where, strike_if_told
from .run import STRUCK, Batch, Whereabouts


class AdditionQuerySet(DetailQuerySet):
    def open_unweighed(self):
        """Those whose amount nobody knows yet, as `Movement.objects.open_unweighed` has it; by a plain join, which no
        database has to guess the size of.
        """
        return self.filter(still_open("movement"), movement__amount__isnull=True, movement__kind=Movement.Kind.USED)


class Addition(Detail):
    """Something went in.

    `amount` is in `unit`; empty was not measured. What the person typed stands beside it.
    """

    class Other(models.TextChoices):
        NONE = "", "-"
        WATER = "water", "Water"
        WORDS = "words", "Something without a lot"

    entry = models.OneToOneField(Entry, primary_key=True, on_delete=models.PROTECT, related_name="addition")
    lot = models.ForeignKey(Lot, null=True, blank=True, on_delete=models.PROTECT, related_name="additions")
    other = models.CharField(max_length=5, choices=Other.choices, blank=True, default="")
    what = models.CharField(max_length=120, blank=True, default="", help_text="In words, where there is no lot.")
    amount = ExactDecimalField(null=True, blank=True)
    unit = models.CharField(max_length=2, choices=[("g", "g"), ("mL", "mL")], blank=True, default="")
    typed = models.CharField(max_length=60, blank=True, default="", help_text="As it was typed, such as 1 1/2 tbsp.")
    typed_unit = models.CharField(max_length=12, blank=True, default="")
    taps = models.PositiveSmallIntegerField(null=True, blank=True)
    measure = models.ForeignKey(
        "studio.Measure", null=True, blank=True, on_delete=models.PROTECT, related_name="additions"
    )
    fillings = ExactDecimalField(null=True, blank=True, help_text="Of the measure.")
    spread_g = ExactDecimalField(
        places=6, null=True, blank=True, help_text="How far off the amount may be by the measure: standard deviation."
    )
    strength_pct = ExactDecimalField(
        places=6, null=True, blank=True, help_text="What the bottle held, or the powder's strength, that day."
    )
    estimated = models.BooleanField(
        default=False, help_text="As much as the plan told, which had it by estimate, and nobody weighed it."
    )
    how = models.CharField(max_length=9, choices=How.choices, default=How.ADDED)
    place = models.CharField(max_length=120, blank=True, default="")
    bath = models.ForeignKey("batches.Bath", null=True, blank=True, on_delete=models.PROTECT, related_name="additions")
    plan_line = models.ForeignKey(
        "batches.PlanLine", null=True, blank=True, on_delete=models.PROTECT, related_name="additions"
    )
    movement = models.OneToOneField(Movement, null=True, blank=True, on_delete=models.PROTECT, related_name="addition")

    objects = AdditionQuerySet.as_manager()

    class Meta(Detail.Meta):
        constraints = [
            one_of("how", How.values, name="addition_how_known"),
            one_of("unit", ["", "g", "mL"], name="addition_unit_known"),
            CheckConstraint(
                condition=Q(lot__isnull=False, other="", movement__isnull=False)
                | Q(lot__isnull=True, other="water", movement__isnull=True)
                | Q(lot__isnull=True, other="words", movement__isnull=True) & ~Q(what=""),
                name="addition_one_substance",
            ),
            unknown_or_not_negative("amount", name="addition_amount_not_negative"),
            CheckConstraint(
                condition=Q(amount__isnull=True) | Q(unit__in=["g", "mL"]), name="addition_amount_has_unit"
            ),
            unknown_or_above_zero("taps", name="addition_taps_above_zero"),
            CheckConstraint(
                condition=Q(measure__isnull=True, fillings__isnull=True, spread_g__isnull=True)
                | Q(measure__isnull=False, lot__isnull=False, fillings__isnull=False, fillings__gt=0),
                name="addition_measure_says_how_many",
            ),
            unknown_or_not_negative("spread_g", name="addition_spread_not_negative"),
            CheckConstraint(
                condition=Q(estimated=False) | Q(amount__isnull=False), name="addition_estimated_is_an_amount"
            ),
        ]

    @classmethod
    def log(cls, batch, stamp, *, lot=None, amount=None, unit="", plan_line=None, bath=None, **facts):
        """Something went in. The log is never refused for what the shelf says: it happened.

        By a measure of the studio's own come `measure`, `fillings`, and `spread_g`, how far off `amount` may be.

        Raises ValueError when the line of the plan or the bath is another pot's.
        """
        if bath is not None and bath.batch_id != batch.pk:
            raise ValueError("That bath belongs to another pot.")
        if lot is not None and lot.is_bottle:
            lot.know_contents()
        with transaction.atomic():
            batch = Batch.lock([batch.pk])[batch.pk]
            if lot is not None:
                Lot.hold([lot.pk])
            now = stamp.clock()
            entry = Entry.write(batch, Entry.Kind.ADDITION, stamp, now=now, plan_line=plan_line)
            movement = Movement.use(lot, amount, at=entry.at, by=stamp.by, now=now) if lot is not None else None
            addition = cls.objects.create(
                entry=entry,
                lot=lot,
                amount=amount,
                unit=lot.unit if lot is not None else unit,
                strength_pct=cls._strength(lot),
                plan_line=plan_line,
                bath=bath or batch.bath_now(),
                movement=movement,
                **facts,
            )
            if lot is not None and amount is not None:
                AdditionLot.trace(addition, addition.amount)
            strike_if_told(entry, batch, now)
            # From anywhere else an addition moves nothing, however late it comes.
            if batch.where == Whereabouts.SOAKING:
                settle_where(batch)
        return entry

    def lots_to_undo(self):
        return [self.lot_id] if self.lot_id else []

    def undo(self, batch, *, by, now):
        if self.movement is not None:
            self.movement.take_back(by=by, now=now, why=STRUCK)

    @staticmethod
    def _strength(lot):
        if lot is None:
            return None
        if lot.is_bottle:
            return lot.strength()
        return Lot.objects.with_facts().get(pk=lot.pk).strength_now

    @property
    def by_measure(self):
        """Whether its amount is what a measure of the studio's own holds: known, but not weighed."""
        return self.measure_id is not None and self.amount is not None

    @property
    def about(self):
        """Whether its amount is known without anybody having weighed it."""
        return self.by_measure or self.estimated

    @property
    def name(self):
        if self.lot_id:
            return str(self.lot.substance)
        return "Water" if self.other == self.Other.WATER else self.what


class AdditionLotQuerySet(KeptQuerySet):
    def standing(self):
        """Of additions that nobody struck out."""
        return self.exclude(Exists(Strike.objects.filter(target=OuterRef("addition"))))


class AdditionLot(Kept):
    """How much of a bought lot an addition brought in: the table behind colour bar, depth by dye, cost and trace."""

    addition = models.ForeignKey(Addition, on_delete=models.PROTECT, related_name="parts")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="addition_parts")
    amount = ExactDecimalField(places=6, help_text="In the bought lot's unit.")
    share_out = models.ForeignKey(
        "studio.ShareOut", null=True, blank=True, on_delete=models.PROTECT, related_name="addition_parts"
    )

    objects = AdditionLotQuerySet.as_manager()

    class Meta(Kept.Meta):
        constraints = [
            CheckConstraint(condition=Q(amount__isnull=False, amount__gte=0), name="addition_lot_not_negative"),
            UniqueConstraint("addition", "lot", "share_out", name="addition_lot_once_a_share"),
            UniqueConstraint("addition", "lot", condition=Q(share_out__isnull=True), name="addition_lot_once_measured"),
        ]

    def __str__(self):
        return f"{self.amount} of {self.lot_id}"

    @classmethod
    def trace(cls, addition, amount, share_out=None):
        """Write down which bought lots this much of the addition's lot came from."""
        if share_out is not None:
            Stale.objects.mark(Batch.objects.get(entries=addition.pk).run_id)
        held, _ = addition.lot.holds(amount)
        cls.objects.bulk_create(
            cls(addition=addition, lot_id=lot_id, amount=grams, share_out=share_out)
            for lot_id, grams in sorted(held.items())
        )
