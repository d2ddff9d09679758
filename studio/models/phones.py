"""Phones of the studio that its owner has trusted: whoever dyes picks their name there, without a password."""

from django.conf import settings
from django.db import models
from django.db.models import UniqueConstraint


class PhoneQuerySet(models.QuerySet):
    def trusted(self):
        """Those that nobody has stopped trusting, where whoever trusted them is still an owner who can sign in."""
        return self.filter(ended_at__isnull=True, by__is_active=True, by__role="owner")


class Phone(models.Model):
    """A phone or tablet at the sink. It holds a key; what is kept here is only the key's hash.

    `by` is the owner who trusted it. Ending the trust keeps the row, so that it stays known who logged from where.
    """

    name = models.CharField(max_length=60, help_text="Such as: the phone in the stand.")
    key_hash = models.CharField(max_length=64)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    trusted_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = PhoneQuerySet.as_manager()

    class Meta:
        ordering = ["-trusted_at"]
        constraints = [UniqueConstraint("key_hash", name="phone_key_once")]

    def __str__(self):
        return self.name
