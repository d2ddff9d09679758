"""Stored files: photographs in three sizes, and documents such as safety data sheets."""

import uuid

from django.conf import settings
from django.db import models

from .fields import Kept, above_zero


class Picture(Kept):
    """A photograph as it is kept: upright, in sRGB, without its metadata, in three sizes.

    The files are named by the picture's own random id, so that a name says nothing and cannot be guessed.
    """

    SIZES = ("large", "record", "thumb")

    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    width = models.PositiveIntegerField(help_text="px, of the large size")
    height = models.PositiveIntegerField(help_text="px, of the large size")
    sha256 = models.CharField(max_length=64, db_index=True, help_text="of the file as it was sent")
    taken_at = models.DateTimeField(null=True, blank=True)
    received_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta(Kept.Meta):
        constraints = [
            above_zero("width", name="picture_has_width"),
            above_zero("height", name="picture_has_height"),
        ]

    def __str__(self):
        return f"Photo {self.id}"

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
