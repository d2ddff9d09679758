"""Frozen cost sheets."""

from django.db import models
from django.db.models import CheckConstraint, Q, UniqueConstraint

from studio.models import Kept
from studio.models.fields import above_zero

from .run import Run


class CostSheet(Kept):
    """What a run cost, with the prices of that day.

    Numbered; a later sheet stands beside it, never over it.
    """

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="cost_sheets")
    number = models.PositiveSmallIntegerField()
    currency = models.CharField(max_length=3)
    total_minor = models.BigIntegerField()
    at_least = models.BooleanField(default=False, help_text="Something in it has no known price or amount.")
    said = models.TextField(blank=True, default="", help_text="What is not known, in words.")
    frozen_at = models.DateTimeField()
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")

    class Meta(Kept.Meta):
        ordering = ["run", "-number"]
        constraints = [
            UniqueConstraint("run", "number", name="cost_sheet_number_once"),
            above_zero("number", name="cost_sheet_number_above_zero"),
            CheckConstraint(condition=Q(total_minor__gte=0), name="cost_sheet_not_negative"),
        ]

    def __str__(self):
        return f"Cost sheet {self.number} of {self.run_id}"


class CostLine(Kept):
    """One part of a sheet: what, how much of it, and what it came to.

    The lines of a sheet sum to its total.
    """

    class Kind(models.TextChoices):
        YARN = "yarn", "Yarn"
        DYE = "dye", "Dye"
        ASSISTANT = "assistant", "Assistants"
        ENERGY = "energy", "Energy"
        LABOUR = "labour", "Labour"
        OVERHEAD = "overhead", "Overhead"

    sheet = models.ForeignKey(CostSheet, on_delete=models.PROTECT, related_name="lines")
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=9, choices=Kind.choices)
    words = models.TextField(blank=True, default="")
    minor = models.BigIntegerField(null=True, blank=True, help_text="Empty: its price is not known.")

    class Meta(Kept.Meta):
        ordering = ["position"]
        constraints = [
            UniqueConstraint("sheet", "position", name="cost_line_position_once"),
            CheckConstraint(
                condition=Q(kind__in=["yarn", "dye", "assistant", "energy", "labour", "overhead"]),
                name="cost_line_kind_known",
            ),
            CheckConstraint(condition=Q(minor__isnull=True) | Q(minor__gte=0), name="cost_line_not_negative"),
        ]

    def __str__(self):
        return f"{self.get_kind_display()} {self.minor}"


class CostShare(Kept):
    """What the skeins of one output bear of a sheet. The shares of a sheet sum to its total."""

    sheet = models.ForeignKey(CostSheet, on_delete=models.PROTECT, related_name="shares")
    output = models.ForeignKey("batches.Output", on_delete=models.PROTECT, related_name="cost_shares")
    minor = models.BigIntegerField()
    skeins = models.PositiveIntegerField()

    class Meta(Kept.Meta):
        ordering = ["pk"]
        constraints = [
            UniqueConstraint("sheet", "output", name="cost_share_output_once"),
            CheckConstraint(condition=Q(minor__gte=0), name="cost_share_not_negative"),
            above_zero("skeins", name="cost_share_some_skeins"),
        ]

    def __str__(self):
        return f"{self.minor} over {self.skeins}"

    @property
    def least_each(self):
        """Minor units a skein, rounded down; `dearer` skeins are booked at one more, so that all sum to the
        share.
        """
        return self.minor // self.skeins

    @property
    def dearer(self):
        return self.minor % self.skeins
