"""Stored files: photographs in three sizes, sound notes, and documents such as safety data sheets."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import CheckConstraint, F, Q

from studio.darkroom import LEAST_CROP_PCT

from .fields import ExactDecimalField, Kept, above_zero


class Picture(Kept):
    """A photograph as it is kept: upright, in sRGB, without its metadata, in three sizes.

    The files are named by the picture's own random id, so that a name says nothing and cannot be guessed.

    A crop, such as for a cover, is a picture of its own that names the whole one and says where its frame lay: the
    middle, in percent of the whole's width and height, and its size in percent of the largest frame that fits.
    """

    SIZES = ("large", "record", "thumb")

    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    width = models.PositiveIntegerField(help_text="px, of the large size")
    height = models.PositiveIntegerField(help_text="px, of the large size")
    sha256 = models.CharField(max_length=64, db_index=True, help_text="of the file as it was sent")
    taken_at = models.DateTimeField(null=True, blank=True)
    received_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    crop_of = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="crops")
    across_pct = ExactDecimalField(null=True, blank=True)
    down_pct = ExactDecimalField(null=True, blank=True)
    size_pct = ExactDecimalField(null=True, blank=True)

    class Meta(Kept.Meta):
        constraints = [
            above_zero("width", name="picture_has_width"),
            above_zero("height", name="picture_has_height"),
            CheckConstraint(
                condition=Q(crop_of__isnull=True, across_pct__isnull=True, down_pct__isnull=True, size_pct__isnull=True)
                | Q(crop_of__isnull=False, across_pct__isnull=False, down_pct__isnull=False, size_pct__isnull=False),
                name="picture_crop_says_where",
            ),
            CheckConstraint(condition=Q(crop_of__isnull=True) | ~Q(crop_of=F("pk")), name="picture_crop_of_another"),
            CheckConstraint(
                condition=Q(crop_of__isnull=True)
                | Q(across_pct__gte=0, across_pct__lte=100, down_pct__gte=0, down_pct__lte=100),
                name="picture_crop_within",
            ),
            CheckConstraint(
                condition=Q(crop_of__isnull=True) | Q(size_pct__gte=LEAST_CROP_PCT, size_pct__lte=100),
                name="picture_crop_not_too_small",
            ),
        ]

    def __str__(self):
        return f"Photo {self.id}"

    @property
    def whole_id(self):
        """The key of the picture that this is a crop of, or its own."""
        return self.crop_of_id or self.pk

    def as_last_crop(self):
        """Its newest crop, or itself where it never was cropped. Costs a query."""
        return self.crops.order_by("-received_at", "-pk").first() or self

    def path(self, size):
        """Where a size lies in the storage."""
        return f"pictures/{self.id.hex[:2]}/{self.id.hex}-{size}.jpg"

    def shape(self, size):
        """(width, height) in px of a size, for the page to keep the place free."""
        widest = {"record": 600, "thumb": 300}.get(size, self.width)
        width = min(widest, self.width)
        return width, max(1, round(self.height * width / self.width))


class Document(Kept):
    """A stored PDF, such as a safety data sheet."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    title = models.CharField(max_length=120)
    size = models.PositiveIntegerField(help_text="bytes")
    sha256 = models.CharField(max_length=64)
    received_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta(Kept.Meta):
        constraints = [above_zero("size", name="document_not_empty")]

    def __str__(self):
        return self.title

    @property
    def path(self):
        return f"documents/{self.id.hex}.pdf"


class Sound(Kept):
    """A spoken note as it is kept: made anew from what was sent, without its metadata."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    seconds = ExactDecimalField()
    size = models.PositiveIntegerField(help_text="bytes")
    sha256 = models.CharField(max_length=64, db_index=True, help_text="of the file as it was sent")
    received_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta(Kept.Meta):
        constraints = [
            above_zero("size", name="sound_not_empty"),
            above_zero("seconds", name="sound_takes_time"),
        ]

    def __str__(self):
        return f"Sound {self.id}"

    @property
    def path(self):
        return f"sounds/{self.id.hex[:2]}/{self.id.hex}.m4a"
