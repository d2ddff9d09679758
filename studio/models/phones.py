"""Phones of the studio that its owner has trusted: whoever dyes picks their name there, without a password."""

import hashlib
import secrets

from django.conf import settings
from django.db import models
from django.db.models import UniqueConstraint
from django.utils import timezone
from django.utils.crypto import constant_time_compare

from .people import Role

KEY_BYTES = 32


def hash_of(key):
    """What is kept of a phone's key. The key is as random as the hash is long, so it needs no slow one."""
    return hashlib.sha256(key.encode()).hexdigest()


class PhoneQuerySet(models.QuerySet):
    def open(self):
        """Those that nobody has stopped trusting."""
        return self.filter(ended_at__isnull=True)

    def trusted(self):
        """[Phone] still trusted: nobody stopped it, and whoever trusted it is an owner who can sign in, with the
        password of that day and without having signed out everywhere since. One query.
        """
        standing = self.open().filter(by__is_active=True, by__role=Role.OWNER).select_related("by")
        return [phone for phone in standing if constant_time_compare(phone.by_hash, phone.by.get_session_auth_hash())]

    def with_key(self, key):
        """The trusted phone that holds this key, or None."""
        return next(iter(self.filter(key_hash=hash_of(key)).trusted()), None)

    def end(self, now=None):
        """Stop trusting these, at once. Returns how many were trusted."""
        return self.open().update(ended_at=now or timezone.now())


class Phone(models.Model):
    """A phone or tablet at the sink. It holds a key; what is kept here is only the key's hash.

    `by` is the owner who trusted it, and `by_hash` what their sessions were checked against on that day: another
    password, or signing out everywhere, makes another one. Ending the trust keeps the row, so that it stays known
    which phones there were.
    """

    name = models.CharField(max_length=60, help_text="Such as: the phone in the stand.")
    key_hash = models.CharField(max_length=64)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="trusted_phones")
    by_hash = models.CharField(max_length=80)
    trusted_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = PhoneQuerySet.as_manager()

    class Meta:
        ordering = ["-trusted_at"]
        constraints = [UniqueConstraint("key_hash", name="phone_key_once")]

    def __str__(self):
        return self.name

    @classmethod
    def trust(cls, *, name, by, clock=timezone.now):
        """(Phone, its key). The key is to be found nowhere but on the phone.

        Raises ValueError where it is not an owner who trusts it.
        """
        if not by.is_owner:
            raise ValueError("Only an owner of the studio can trust a phone.")
        key = secrets.token_urlsafe(KEY_BYTES)
        facts = {"key_hash": hash_of(key), "by_hash": by.get_session_auth_hash(), "trusted_at": clock()}
        return cls.objects.create(name=name, by=by, **facts), key
