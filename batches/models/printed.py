"""Tags as they were printed."""

from django.db import models
from django.db.models import CheckConstraint, Q, UniqueConstraint

from studio.models import Kept
from studio.models.fields import ExactDecimalField, above_zero, unknown_or_not_negative


class TagPrint(Kept):
    """Equal tags of one printing: every word on them is kept as it was printed, so that they can be printed again.

    Tags that share `sheet` were printed together.
    """

    sheet = models.UUIDField(db_index=True)
    output = models.ForeignKey("batches.Output", on_delete=models.PROTECT, related_name="tag_prints")
    copies = models.PositiveIntegerField()
    design = models.CharField(max_length=12)
    paper = models.CharField(max_length=6)
    start_at = models.PositiveSmallIntegerField(default=1)
    colourway = models.CharField(max_length=120)
    base = models.CharField(max_length=120)
    content = models.CharField(max_length=300)
    weight = models.CharField(max_length=60)
    length = models.CharField(max_length=60, blank=True, default="")
    dye_lot = models.CharField(max_length=24)
    care = models.TextField(blank=True, default="")
    maker = models.TextField(blank=True, default="")
    notes = models.TextField(blank=True, default="", help_text="What the market asks for besides the fibre line.")
    grade = models.CharField(max_length=20, blank=True, default="")
    hand_dyed = models.CharField(max_length=200, blank=True, default="")
    price = models.CharField(max_length=40, blank=True, default="", help_text="As it was written.")
    unit_price = models.CharField(max_length=40, blank=True, default="")
    price_minor = models.BigIntegerField(null=True, blank=True)
    currency = models.CharField(max_length=3, blank=True, default="")
    printed_at = models.DateTimeField()
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")

    class Meta(Kept.Meta):
        ordering = ["printed_at", "pk"]
        constraints = [
            above_zero("copies", name="tag_print_some_copies"),
            above_zero("start_at", name="tag_print_starts_somewhere"),
            CheckConstraint(
                condition=Q(price_minor__isnull=True) | Q(price_minor__gte=0, currency__gt=""),
                name="tag_print_price_has_currency",
            ),
            CheckConstraint(condition=~Q(content="") & ~Q(dye_lot=""), name="tag_print_says_content_and_lot"),
        ]

    def __str__(self):
        return f"{self.copies} tags, lot {self.dye_lot}"


class TagDye(Kept):
    """One dye of the colour bar on a printed tag."""

    tag_print = models.ForeignKey(TagPrint, on_delete=models.PROTECT, related_name="dyes")
    position = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=80)
    fill = models.CharField(max_length=7, blank=True, default="")
    share = ExactDecimalField(places=6, null=True, blank=True, help_text="g; empty was not weighed.")

    class Meta(Kept.Meta):
        ordering = ["position"]
        constraints = [
            UniqueConstraint("tag_print", "position", name="tag_dye_position_once"),
            unknown_or_not_negative("share", name="tag_dye_not_negative"),
        ]

    def __str__(self):
        return self.name
