"""Bases: undyed yarns as sold."""

from decimal import Decimal

from django.db import models, transaction
from django.db.models import CheckConstraint, Q, UniqueConstraint
from django.db.models.functions import Lower
from simple_history.models import HistoricalRecords

from studio import fibres

from .fields import ExactDecimalField, FoldedField, above_zero, unknown_or_above_zero, unknown_or_not_negative


class Base(models.Model):
    """An undyed yarn as sold: what it is made of, and what a skein of it weighs and measures."""

    name = models.CharField(max_length=80)
    make_up = models.CharField(
        max_length=80, blank=True, default="", help_text="Ply and thickness, such as 4-ply or DK."
    )
    skein_g = ExactDecimalField(default=Decimal(100))
    skein_m = ExactDecimalField(null=True, blank=True)
    superwash = models.BooleanField(default=False)
    supplier = models.CharField(max_length=120, blank=True, default="")
    supplier_label = models.TextField(
        blank=True, default="", help_text="What the mill's own label says, word for word."
    )
    price_minor = models.BigIntegerField(
        null=True, blank=True, help_text="Usual price of a dyed first, in minor units."
    )
    low_skeins = models.PositiveIntegerField(null=True, blank=True)
    dye_factor_pct = ExactDecimalField(
        default=Decimal(100),
        help_text="How much dye this base wants for the same colour, against the studio's usual: 100 is as much.",
    )
    note = models.TextField(blank=True, default="")
    retired = models.BooleanField(default=False)
    folded = FoldedField(of=["name"])
    folded_more = FoldedField(of=["name", "make_up", "supplier", "note"])

    history = HistoricalRecords(excluded_fields=["folded", "folded_more"])

    class Meta:
        ordering = ["name"]
        constraints = [
            UniqueConstraint(
                Lower("name"),
                name="base_name_once",
                violation_error_message="There is a base of this name already.",
            ),
            above_zero("skein_g", name="base_skein_has_weight"),
            unknown_or_above_zero("skein_m", name="base_skein_length_above_zero"),
            unknown_or_not_negative("price_minor", name="base_price_not_negative"),
            CheckConstraint(
                condition=Q(dye_factor_pct__gte=25, dye_factor_pct__lte=400), name="base_dye_factor_sensible"
            ),
        ]

    def __str__(self):
        return self.name

    def shares(self):
        """Its fibre content as plain shares for `fibres`. Costs a query unless `fibres` was prefetched."""
        return [row.share() for row in self.fibres.all()]

    def write_fibres(self, rows):
        """Put this fibre content (unsaved BaseFibres, with positions) in place of what was said before."""
        with transaction.atomic():
            self.fibres.all().delete()
            for row in rows:
                row.base = self
                row.save()

    def complete(self):
        """Whether the fibre content adds up to 100 %. Incomplete content stops a tag, never a pot."""
        return sum((row.percent for row in self.fibres.all()), Decimal(0)) == 100

    def dyeable_pct(self, dye_class):
        """How much of this base takes a class of dye, in percent of its fibre; None while the content is incomplete."""
        return fibres.dyeable_pct(self.shares(), dye_class) if self.complete() else None


class BaseFibre(models.Model):
    """One fibre of a base and its share."""

    base = models.ForeignKey(Base, on_delete=models.CASCADE, related_name="fibres")
    position = models.PositiveSmallIntegerField()
    fibre = models.CharField(max_length=30)
    percent = ExactDecimalField()
    decorative = models.BooleanField(default=False)
    functional = models.BooleanField(default=False)
    virgin = models.BooleanField(default=False)
    recycled = models.BooleanField(default=False)
    breed = models.CharField(max_length=60, blank=True, default="")

    history = HistoricalRecords()

    class Meta:
        ordering = ["position"]
        constraints = [
            UniqueConstraint("base", "position", name="base_fibre_position_once"),
            CheckConstraint(condition=Q(percent__gt=0, percent__lte=100), name="base_fibre_percent_to_100"),
            CheckConstraint(condition=~Q(fibre=""), name="base_fibre_named"),
            CheckConstraint(condition=Q(virgin=False) | Q(recycled=False), name="base_fibre_virgin_or_recycled"),
        ]

    def __str__(self):
        return f"{self.percent} % {self.fibre}"

    def share(self):
        return fibres.Share(
            self.fibre,
            self.percent,
            decorative=self.decorative,
            functional=self.functional,
            virgin=self.virgin,
            recycled=self.recycled,
            breed=self.breed,
        )
