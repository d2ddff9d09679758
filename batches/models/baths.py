"""The baths of a pot: which one goes on from which, and what became of it."""

from django.db import models
from django.db.models import CheckConstraint, F, Q

from studio.models import Lot, Solution
from studio.models.fields import ExactDecimalField, one_of, unknown_or_above_zero

from .run import STRUCK, Batch


class Bath(models.Model):
    """Water with something in it. Made without being asked for; a usual day has one for each pot."""

    class Kind(models.TextChoices):
        SOAK = "soak", "Soak"
        SCOUR = "scour", "Scour"
        MORDANT = "mordant", "Mordant"
        DYE = "dye", "Dye"
        STRIP = "strip", "Colour removal"
        RINSE = "rinse", "Rinse"
        FIX = "fix", "Fix"

    class End(models.TextChoices):
        TIPPED = "tipped", "tipped"
        NEXT = "next", "next skeins go in"
        KEPT = "kept", "kept in a bottle"

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="baths")
    kind = models.CharField(max_length=8, choices=Kind.choices, default=Kind.DYE)
    vessel = models.ForeignKey("studio.Vessel", null=True, blank=True, on_delete=models.PROTECT, related_name="baths")
    water_ml = ExactDecimalField(null=True, blank=True, help_text="About how much.")
    continues = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="continued_by")
    began_at = models.DateTimeField()
    end = models.CharField(max_length=6, choices=End.choices, blank=True, default="")
    kept_in = models.ForeignKey(
        "studio.Lot", null=True, blank=True, on_delete=models.PROTECT, related_name="kept_baths"
    )

    class Meta:
        ordering = ["began_at", "pk"]
        constraints = [
            one_of("kind", ["soak", "scour", "mordant", "dye", "strip", "rinse", "fix"], name="bath_kind_known"),
            one_of("end", ["", "tipped", "next", "kept"], name="bath_end_known"),
            unknown_or_above_zero("water_ml", name="bath_water_above_zero"),
            CheckConstraint(condition=Q(continues__isnull=True) | ~Q(continues=F("pk")), name="bath_not_from_itself"),
            CheckConstraint(
                # Some of it may be kept, and the next skeins go into the rest.
                condition=Q(kept_in__isnull=True) | Q(end__in=["kept", "next"]),
                name="bath_kept_in_a_bottle",
            ),
        ]

    def __str__(self):
        return f"{self.get_kind_display()} bath of {self.batch_id}"

    @classmethod
    def go_on(cls, batch, other):
        """The bath of `other` was poured into this pot: what is in it now, nobody can count. Both are locked."""
        bath, before = batch.bath_now(), other.bath_now()
        if bath is None or before is None or bath.continues_id:
            return
        bath.continues, before.end = before, cls.End.NEXT
        bath.save(update_fields=["continues"])
        before.save(update_fields=["end"])

    @classmethod
    def stop_going_on(cls, batch, other):
        """That line was struck out."""
        for bath in batch.baths.filter(continues__batch=other).select_related("continues"):
            before, bath.continues = bath.continues, None
            before.end = cls.End.KEPT if before.kept_in_id else ""
            bath.save(update_fields=["continues"])
            before.save(update_fields=["end"])

    @classmethod
    def keep(cls, batch, name, volume_ml, *, by, at, now):
        """Liquor that went out is kept: a bottle whose contents nobody knows. The batch is locked."""
        master = Solution.objects.filter(name__iexact=name).first()
        if master is None:
            master = Solution.objects.create(name=name, kind=Solution.Kind.LIQUOR)
        if master.kind != Solution.Kind.LIQUOR:
            raise ValueError(f"{master.name} is a bottle of something else: give the kept liquor a name of its own.")
        bottle = Lot.make_bottle(master, volume=volume_ml, parts=[], by=by, made_at=at, clock=lambda: now)
        bath = batch.bath_now()
        if bath is not None:  # a pot that was given up before it began has none
            bath.end, bath.kept_in = bath.end or cls.End.KEPT, bottle
            bath.save(update_fields=["end", "kept_in"])
        return bottle

    @classmethod
    def keep_no_more(cls, batch, bottle, *, by, now):
        """That line was struck out: the bottle was never filled, so nothing is in it."""
        bottle.throw_away(by=by, why=STRUCK, clock=lambda: now)
        for bath in batch.baths.filter(kept_in=bottle):
            bath.kept_in, bath.end = None, "" if bath.end == cls.End.KEPT else bath.end
            bath.save(update_fields=["end", "kept_in"])
