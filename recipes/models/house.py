"""What a studio does and says every time: its own steps, done "as usual", and its names for places on the yarn."""

from django.db import models
from django.db.models import CheckConstraint, Q, UniqueConstraint
from django.db.models.functions import Lower
from simple_history.models import HistoricalRecords

from studio.models.fields import ExactDecimalField, one_of, unknown_or_above_zero

from .recipe import Method, RecipeStep


class HouseQuerySet(models.QuerySet):
    def for_method(self, method):
        """Those that go with a way of dyeing, and those that go with every one."""
        return self.filter(retired=False, method__in=["", method])


class HouseStep(models.Model):
    """A step as this studio always does it: "Soak, 30 min, a drop of wetting agent". One touch logs it as usual."""

    name = models.CharField(max_length=60, help_text="What the button says.")
    kind = models.CharField(max_length=8, help_text="The keys are those of a recipe's steps.")
    method = models.CharField(max_length=8, choices=Method.choices, blank=True, default="")
    temperature_c = ExactDecimalField(null=True, blank=True)
    minutes = ExactDecimalField(null=True, blank=True)
    words = models.CharField(max_length=200, blank=True, default="", help_text="How it is done here.")
    position = models.PositiveSmallIntegerField(default=0)
    retired = models.BooleanField(default=False)

    objects = HouseQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        ordering = ["position", "name"]
        constraints = [
            one_of("kind", [kind for kind in RecipeStep.Kind.values if kind != "add"], name="house_step_kind_known"),
            one_of("method", ["", *Method.values], name="house_step_method_known"),
            UniqueConstraint(
                Lower("name"),
                name="house_step_name_once",
                violation_error_message="There is a step of this name already.",
            ),
            unknown_or_above_zero("minutes", name="house_step_minutes_above_zero"),
            CheckConstraint(
                condition=Q(temperature_c__isnull=True) | Q(temperature_c__gte=-20, temperature_c__lte=200),
                name="house_step_temperature_sensible",
            ),
        ]

    def __str__(self):
        return self.name


class Place(models.Model):
    """What this studio calls a place on the yarn or in the vessel: "bottom layer", "last third"."""

    words = models.CharField(max_length=120)
    method = models.CharField(max_length=8, choices=Method.choices, blank=True, default="")
    position = models.PositiveSmallIntegerField(default=0)
    retired = models.BooleanField(default=False)

    objects = HouseQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        ordering = ["position", "words"]
        constraints = [
            one_of("method", ["", *Method.values], name="place_method_known"),
            UniqueConstraint(
                "method",
                Lower("words"),
                name="place_once_a_method",
                violation_error_message="There is a place of this name already.",
            ),
        ]

    def __str__(self):
        return self.words
