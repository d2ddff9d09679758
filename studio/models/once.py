"""Forms that make something are taken once, however often a page is sent."""

from django.db import models

from .fields import Kept


class Taken(Kept):
    """A form, known by the id its page was given, has been taken; a second copy is answered with the same page."""

    id = models.UUIDField(primary_key=True)
    url = models.CharField(max_length=300)
    at = models.DateTimeField()
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")

    class Meta(Kept.Meta):
        verbose_name = "taken form"

    def __str__(self):
        return str(self.id)
