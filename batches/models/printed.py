"""Tags as they were printed."""

from django.db import models
from django.db.models import CheckConstraint, Q

from studio.models import Kept
from studio.models.fields import above_zero


class TagPrint(Kept):
    """A sheet of equal tags: every word on them is kept as it was printed."""

    output = models.ForeignKey("batches.Output", on_delete=models.PROTECT, related_name="tag_prints")
    copies = models.PositiveIntegerField()
    design = models.CharField(max_length=12)
    paper = models.CharField(max_length=6)
    colourway = models.CharField(max_length=120)
    base = models.CharField(max_length=120)
    content = models.CharField(max_length=300)
    weight = models.CharField(max_length=60)
    length = models.CharField(max_length=60, blank=True, default="")
    dye_lot = models.CharField(max_length=24)
    care = models.TextField(blank=True, default="")
    maker = models.TextField(blank=True, default="")
    price_minor = models.BigIntegerField(null=True, blank=True)
    currency = models.CharField(max_length=3, blank=True, default="")
    printed_at = models.DateTimeField()
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")

    class Meta(Kept.Meta):
        ordering = ["printed_at", "pk"]
        constraints = [
            above_zero("copies", name="tag_print_some_copies"),
            CheckConstraint(
                condition=Q(price_minor__isnull=True) | Q(price_minor__gte=0, currency__gt=""),
                name="tag_print_price_has_currency",
            ),
            CheckConstraint(condition=~Q(content="") & ~Q(dye_lot=""), name="tag_print_says_content_and_lot"),
        ]

    def __str__(self):
        return f"{self.copies} tags, lot {self.dye_lot}"
