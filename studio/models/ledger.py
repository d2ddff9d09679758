"""The ledger: what came, went and was counted. What is on hand is its sum, and nothing else."""

from decimal import Decimal

from django.db import models, transaction
from django.db.models import CheckConstraint, Exists, OuterRef, Q, Sum, UniqueConstraint
from django.utils import timezone

from .fields import ExactDecimalField, Kept, KeptQuerySet, one_of


def still_open(movement):
    """That no share-out settled a movement, and nobody took it back; by the name of its key in the outer query."""
    settled = Movement.objects.filter(settles=OuterRef(movement), reversed_by__isnull=True)
    return ~Exists(settled) & ~Exists(Movement.objects.filter(reverses=OuterRef(movement)))


class MovementQuerySet(KeptQuerySet):
    def open_unweighed(self):
        """Uses whose amount nobody knows yet: left unweighed, neither settled by a share-out nor taken back."""
        return self.filter(still_open("pk"), amount__isnull=True, kind=Movement.Kind.USED)

    def settled_since(self, uses):
        """{key} of those of these unweighed uses (keys) that a share-out settled, or that were taken back."""
        named = self.filter(Q(settles__in=uses, reversed_by__isnull=True) | Q(reverses__in=uses))
        return {key for pair in named.values_list("settles", "reverses") for key in pair if key is not None}


class Movement(Kept):
    """A signed amount of one lot, in the lot's unit; empty for a use that was left unweighed."""

    class Kind(models.TextChoices):
        RECEIVED = "received", "came"
        MADE = "made", "made up"
        MADE_INTO = "made_into", "went into a bottle"
        USED = "used", "used"
        SHARED = "shared", "used, by the weigh-in"
        RETURNED = "returned", "came back"
        TIPPED = "tipped", "thrown away"
        COUNTED = "counted", "put right by a count"
        REVERSED = "reversed", "taken back"

    lot = models.ForeignKey("studio.Lot", on_delete=models.PROTECT, related_name="movements")
    kind = models.CharField(max_length=9, choices=Kind.choices)
    amount = ExactDecimalField(null=True, blank=True)
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")
    reverses = models.OneToOneField("self", null=True, blank=True, on_delete=models.PROTECT, related_name="reversed_by")
    settles = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="settled_by")
    offsets = models.OneToOneField("self", null=True, blank=True, on_delete=models.PROTECT, related_name="offset_by")
    share_out = models.ForeignKey(
        "studio.ShareOut", null=True, blank=True, on_delete=models.PROTECT, related_name="movements"
    )
    count = models.ForeignKey("studio.Count", null=True, blank=True, on_delete=models.PROTECT, related_name="movements")
    into = models.ForeignKey("studio.Lot", null=True, blank=True, on_delete=models.PROTECT, related_name="made_from")
    why = models.CharField(max_length=200, blank=True, default="")

    objects = MovementQuerySet.as_manager()

    class Meta(Kept.Meta):
        ordering = ["at", "pk"]
        indexes = [models.Index(fields=["lot", "at"], name="movement_lot_at")]
        constraints = [
            one_of(
                "kind",
                ["received", "made", "made_into", "used", "shared", "returned", "tipped", "counted", "reversed"],
                name="movement_kind_known",
            ),
            CheckConstraint(
                condition=Q(amount__isnull=False) | Q(kind="used") | Q(kind="reversed"),
                name="movement_only_uses_are_unweighed",
            ),
            CheckConstraint(
                condition=~Q(kind__in=["received", "made", "returned"]) | Q(amount__gt=0),
                name="movement_what_comes_is_positive",
            ),
            CheckConstraint(
                condition=~Q(kind__in=["made_into", "shared", "tipped"]) | Q(amount__lte=0),
                name="movement_what_goes_is_negative",
            ),
            CheckConstraint(
                condition=~Q(kind="used") | Q(amount__isnull=True) | Q(amount__lte=0),
                name="movement_use_is_negative",
            ),
            CheckConstraint(
                condition=Q(kind="reversed", reverses__isnull=False) | Q(reverses__isnull=True) & ~Q(kind="reversed"),
                name="movement_reversal_names_one",
            ),
            CheckConstraint(
                condition=Q(kind="shared", settles__isnull=False, share_out__isnull=False)
                | ~Q(kind="shared") & Q(settles__isnull=True, share_out__isnull=True),
                name="movement_share_settles_one",
            ),
            CheckConstraint(
                condition=Q(kind="counted", count__isnull=False)
                | ~Q(kind="counted") & Q(count__isnull=True, offsets__isnull=True),
                name="movement_count_names_one",
            ),
            CheckConstraint(
                condition=Q(kind="made_into", into__isnull=False) | ~Q(kind="made_into") & Q(into__isnull=True),
                name="movement_into_a_bottle",
            ),
            UniqueConstraint("settles", "share_out", name="movement_settled_once_a_share"),
        ]

    def __str__(self):
        return f"{self.get_kind_display()} {self.amount}"

    @classmethod
    def post(cls, lot, kind, amount, *, at, by, now, **names):
        """Write one movement, and its opposite at the next count if it is dated before one.

        A count says what was there; a late phone that reports an older use must not change what the count said, so the
        same amount goes back at that count. Lock the lot first.
        """
        with transaction.atomic(savepoint=False):
            movement = cls.objects.create(lot=lot, kind=kind, amount=amount, at=at, recorded_at=now, by=by, **names)
            if movement.amount:
                later = Count.objects.filter(lot=lot, at__gte=at)
                if later.exists():  # seldom
                    count = later.order_by("at", "pk").first()
                    cls.objects.create(
                        lot=lot,
                        kind=cls.Kind.COUNTED,
                        amount=-movement.amount,
                        at=count.at,
                        recorded_at=now,
                        by=by,
                        count=count,
                        offsets=movement,
                    )
        return movement

    @classmethod
    def use(cls, lot, amount, *, at, by, now, why=""):
        """Something was taken from the lot; `amount` None means it was left unweighed."""
        return cls.post(lot, cls.Kind.USED, None if amount is None else -amount, at=at, by=by, now=now, why=why)

    def take_back(self, *, by, now, why=""):
        """Undo this movement by a new one that names it, and undo whatever a weigh-in shared out to it.

        Lock the lot first. Raises ValueError for what a count put right and for what was taken back already.
        """
        if self.kind in (self.Kind.COUNTED, self.Kind.REVERSED):
            raise ValueError("This cannot be taken back. Count what is there instead.")
        if Movement.objects.filter(reverses=self).exists():
            raise ValueError("This was taken back already.")
        opposite = None if self.amount is None else -self.amount
        with transaction.atomic():
            for share in self.settled_by.filter(reversed_by__isnull=True):
                share.take_back(by=by, now=now, why=why)
            return Movement.post(
                self.lot, Movement.Kind.REVERSED, opposite, at=self.at, by=by, now=now, reverses=self, why=why
            )


class Count(Kept):
    """At this time there was this much of a lot."""

    lot = models.ForeignKey("studio.Lot", on_delete=models.PROTECT, related_name="counts")
    amount = ExactDecimalField()
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")
    why = models.CharField(max_length=200, blank=True, default="")

    class Meta(Kept.Meta):
        ordering = ["at", "pk"]
        indexes = [models.Index(fields=["lot", "at"], name="count_lot_at")]
        constraints = [CheckConstraint(condition=Q(amount__isnull=False, amount__gte=0), name="count_not_negative")]

    def __str__(self):
        return f"{self.amount} at {self.at:%d %b}"

    @classmethod
    def take(cls, lot, amount, *, by, at=None, why="", clock=timezone.now):
        """Count a lot: the ledger is put right at that time, so that its sum there is what was seen.

        A count older than a later one shifts the ledger before it only: the later count still holds.
        """
        with transaction.atomic():
            type(lot).lock([lot.pk])
            now = clock()
            at = min(at or now, now)
            count = cls.objects.create(lot=lot, amount=amount, at=at, recorded_at=now, by=by, why=why)
            known = Movement.objects.filter(lot=lot, at__lte=at).aggregate(total=Sum("amount"))["total"]
            off = count.amount - (known or Decimal(0))
            if off:
                Movement.objects.create(
                    lot=lot,
                    kind=Movement.Kind.COUNTED,
                    amount=off,
                    at=at,
                    recorded_at=now,
                    by=by,
                    count=count,
                    why=why,
                )
                later = cls.objects.filter(lot=lot, at__gt=at).order_by("at", "pk").first()
                if later is not None:
                    Movement.objects.create(
                        lot=lot,
                        kind=Movement.Kind.COUNTED,
                        amount=-off,
                        at=later.at,
                        recorded_at=now,
                        by=by,
                        count=later,
                        why=why,
                    )
        return count
