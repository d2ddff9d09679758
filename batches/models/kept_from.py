"""What went back from the journal into the recipes: a log that became a version, a note that was put into one."""

from django.db import models
from django.db.models import UniqueConstraint

from studio.models import Kept

from .outcome import Finish
from .run import Batch, Run


class Captured(Kept):
    """A version that was taken from a log."""

    recipe = models.OneToOneField(
        "recipes.Recipe", primary_key=True, on_delete=models.PROTECT, related_name="captured_from"
    )
    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="captured_as")
    batch = models.ForeignKey(
        Batch, null=True, blank=True, on_delete=models.PROTECT, related_name="captured_as", help_text="Empty: all pots."
    )

    class Meta(Kept.Meta):
        verbose_name = "version taken from a log"
        verbose_name_plural = "versions taken from a log"

    def __str__(self):
        return f"{self.recipe} from {self.run}"


class NotePut(Kept):
    """What was said for the next time, and the version that it was put into."""

    finish = models.ForeignKey(Finish, on_delete=models.PROTECT, related_name="note_put")
    recipe = models.ForeignKey("recipes.Recipe", on_delete=models.PROTECT, related_name="notes_put")
    at = models.DateTimeField()
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")

    class Meta(Kept.Meta):
        verbose_name = "note put into a recipe"
        verbose_name_plural = "notes put into a recipe"
        constraints = [UniqueConstraint("finish", "recipe", name="note_put_once")]

    def __str__(self):
        return f"{self.finish_id} in {self.recipe}"
