"""Pots, scales and spoons."""

from collections import defaultdict
from decimal import Decimal
from typing import NamedTuple

from django.db import models
from django.db.models import CheckConstraint, Q, UniqueConstraint
from django.db.models.functions import Lower
from simple_history.models import HistoricalRecords

from studio.fillings import Filling, filling_from

from .fields import ExactDecimalField, Kept, above_zero, one_of, unknown_or_above_zero


class Vessel(models.Model):
    """A pot, jar, pan or painting table."""

    class Kind(models.TextChoices):
        POT = "pot", "Pot"
        JAR = "jar", "Jar"
        PAN = "pan", "Flat pan"
        BASIN = "basin", "Basin or bucket"
        TABLE = "table", "Table or foil"

    class Heater(models.TextChoices):
        NONE = "", "No heat"
        HOB = "hob", "Hob or plate"
        GAS = "gas", "Gas ring"
        OWN = "own", "Its own element"
        STEAM = "steam", "Steamer"
        OVEN = "oven", "Oven"
        MICROWAVE = "microwave", "Microwave"
        SUN = "sun", "Sun or warm box"

    name = models.CharField(max_length=60)
    kind = models.CharField(max_length=8, choices=Kind.choices, default=Kind.POT)
    volume_ml = ExactDecimalField(null=True, blank=True, help_text="To the brim.")
    fill_ml = ExactDecimalField(null=True, blank=True, help_text="What it usually holds when dyeing.")
    skeins = models.PositiveSmallIntegerField(null=True, blank=True, help_text="How many skeins it usually takes.")
    heater = models.CharField(max_length=10, choices=Heater.choices, blank=True, default="")
    how_many = models.PositiveSmallIntegerField(default=1, help_text="Alike ones, such as eight jars.")
    note = models.TextField(blank=True, default="")
    retired = models.BooleanField(default=False)

    history = HistoricalRecords()

    class Meta:
        ordering = ["name"]
        constraints = [
            one_of("kind", ["pot", "jar", "pan", "basin", "table"], name="vessel_kind_known"),
            one_of(
                "heater", ["", "hob", "gas", "own", "steam", "oven", "microwave", "sun"], name="vessel_heater_known"
            ),
            UniqueConstraint(
                Lower("name"),
                name="vessel_name_once",
                violation_error_message="There is a pot of this name already.",
            ),
            unknown_or_above_zero("volume_ml", name="vessel_volume_above_zero"),
            unknown_or_above_zero("fill_ml", name="vessel_fill_above_zero"),
            CheckConstraint(
                condition=Q(volume_ml__isnull=True) | Q(fill_ml__isnull=True) | Q(fill_ml__lte=models.F("volume_ml")),
                name="vessel_fill_within_volume",
            ),
            above_zero("how_many", name="vessel_at_least_one"),
        ]

    def __str__(self):
        return self.name


class Tool(models.Model):
    """A scale, syringe or cylinder: what it reads in steps of, and how much it takes."""

    class Kind(models.TextChoices):
        SCALE = "scale", "Scale"
        SYRINGE = "syringe", "Syringe"
        CYLINDER = "cylinder", "Cylinder or jug"

    name = models.CharField(max_length=60)
    kind = models.CharField(max_length=8, choices=Kind.choices)
    step = ExactDecimalField(help_text="Smallest mark or figure, in g for a scale and mL for the rest.")
    largest = ExactDecimalField(null=True, blank=True, help_text="The most it takes at once.")
    note = models.TextField(blank=True, default="")
    retired = models.BooleanField(default=False)

    history = HistoricalRecords()

    class Meta:
        ordering = ["kind", "step"]
        constraints = [
            UniqueConstraint(
                Lower("name"),
                name="tool_name_once",
                violation_error_message="There is a tool of this name already.",
            ),
            CheckConstraint(condition=Q(kind__in=["scale", "syringe", "cylinder"]), name="tool_kind_known"),
            above_zero("step", name="tool_step_above_zero"),
            CheckConstraint(
                condition=Q(largest__isnull=True) | Q(largest__gte=models.F("step")),
                name="tool_largest_above_step",
            ),
        ]

    def __str__(self):
        return self.name

    @property
    def unit(self):
        return "g" if self.kind == self.Kind.SCALE else "mL"

    @classmethod
    def scales(cls):
        return list(cls.objects.filter(kind=cls.Kind.SCALE, retired=False))

    @classmethod
    def step_for(cls, amount, unit, tools):
        """The step of the finest of `tools` that takes this amount at once; the finest of all when none does."""
        fitting = [tool for tool in tools if tool.unit == unit]
        roomy = [tool for tool in fitting if tool.largest is None or tool.largest >= amount]
        return min(
            (tool.step for tool in roomy or fitting),
            default=Decimal("0.01") if unit == "g" else Decimal("0.5"),
        )


class MeasureQuerySet(models.QuerySet):
    def with_what_they_hold(self):
        """[Measure], each with its `held`: what `holds` says. Three queries, however many."""
        scales = Tool.scales()
        weighings = MeasureWeighing.objects.select_related("dye").order_by("dye__name", "pk")
        found = list(self.prefetch_related(models.Prefetch("weighings", weighings)))
        for measure in found:
            measure.held = measure.holds(scales)
        return found


class Measure(models.Model):
    """A spoon, dropper or pinch of the studio's own.

    What it holds is known only by weighing it, dye by dye.
    """

    name = models.CharField(max_length=60)
    note = models.TextField(blank=True, default="")
    retired = models.BooleanField(default=False)

    objects = MeasureQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        ordering = ["name"]
        constraints = [UniqueConstraint(Lower("name"), name="measure_name_once")]

    def __str__(self):
        return self.name

    def holds(self, scales=None):
        """[Holds] by dye, from its weighings. `scales`: the studio's, where they are at hand already.

        Costs a query unless `weighings` was prefetched, and one for the scales.
        """
        by_dye = defaultdict(list)
        for weighing in self.weighings.all():
            by_dye[weighing.dye].append(weighing)
        scales = Tool.scales() if scales is None else scales
        return [Holds(dye, filling_of(weighings, scales)) for dye, weighings in by_dye.items()]

    def holds_of(self, dye_id):
        """The `Filling` with one dye; None where it was never weighed with it. Costs two queries.

        What it holds of another dye says nothing: powders pack differently.
        """
        weighings = list(self.weighings.filter(dye=dye_id)) if dye_id else []
        return filling_of(weighings, Tool.scales()) if weighings else None


class Holds(NamedTuple):
    """What one filling of a measure holds of one dye."""

    dye: object
    filling: Filling


def filling_of(weighings, scales):
    """The `Filling` that these weighings of one measure with one dye come to."""
    step = Tool.step_for(max(weighing.grams for weighing in weighings), "g", scales)
    return filling_from([(weighing.fillings, weighing.grams) for weighing in weighings], step)


class MeasureWeighing(Kept):
    """Some fillings of a measure with one dye, weighed together."""

    measure = models.ForeignKey(Measure, on_delete=models.PROTECT, related_name="weighings")
    dye = models.ForeignKey("studio.Dye", on_delete=models.PROTECT, related_name="+")
    fillings = models.PositiveSmallIntegerField()
    grams = ExactDecimalField()
    at = models.DateTimeField()
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")

    class Meta(Kept.Meta):
        constraints = [
            above_zero("fillings", name="measure_weighing_some_fillings"),
            above_zero("grams", name="measure_weighing_some_grams"),
        ]

    def __str__(self):
        return f"{self.fillings} of {self.measure}: {self.grams} g"
