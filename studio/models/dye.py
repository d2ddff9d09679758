"""Dyes, assistants, and the master of every bottle."""

from datetime import timedelta
from decimal import Decimal

from django.core.validators import RegexValidator
from django.db import models, transaction
from django.db.models import CheckConstraint, Q, UniqueConstraint
from django.db.models.functions import Lower
from simple_history.models import HistoricalRecords

from studio.naming import kept_together

from .fields import ExactDecimalField, FoldedField, above_zero, exactly_one

COLOUR = RegexValidator(r"^#[0-9a-f]{6}$", "Write a colour as # and six figures, such as #9c3122.")


class DyeClass(models.TextChoices):
    """How a dye holds to fibre. The keys are those of `studio.fibres`."""

    ACID_LEVELLING = "acid_levelling", "Acid, levelling"
    ACID_MILLING = "acid_milling", "Acid, milling"
    METAL_COMPLEX = "metal_complex", "1:2 metal complex"
    REACTIVE = "reactive", "Reactive"
    DIRECT = "direct", "Direct"
    DISPERSE = "disperse", "Disperse"
    BASIC = "basic", "Basic"
    NATURAL = "natural", "Natural, with a mordant"


class Dye(models.Model):
    """A dye powder as bought, whatever its lots."""

    name = models.CharField(max_length=80)
    dye_class = models.CharField(max_length=20, choices=DyeClass.choices)
    colour = models.CharField(
        max_length=7, validators=[COLOUR], help_text="How it looks on the fibre, for the colour bar."
    )
    supplier = models.CharField(max_length=120, blank=True, default="")
    sheet_url = models.URLField(max_length=400, blank=True, default="", help_text="Its safety data sheet.")
    sheet = models.ForeignKey("studio.Document", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    note = models.TextField(blank=True, default="")
    retired = models.BooleanField(default=False)
    folded = FoldedField(of=["name"])
    folded_more = FoldedField(of=["name", "supplier", "note"])

    history = HistoricalRecords(excluded_fields=["folded", "folded_more"])

    class Meta:
        ordering = ["name"]
        constraints = [
            UniqueConstraint(
                Lower("name"),
                name="dye_name_once",
                violation_error_message="There is a dye of this name already.",
            ),
            CheckConstraint(condition=Q(dye_class__in=DyeClass.values), name="dye_class_known"),
        ]

    def __str__(self):
        return self.name


class Assistant(models.Model):
    """Acid, salt, soda ash, mordant, wetting agent: whatever goes in that is neither dye nor water."""

    class Kind(models.TextChoices):
        ACID = "acid", "Acid"
        ALKALI = "alkali", "Alkali"
        SALT = "salt", "Salt"
        MORDANT = "mordant", "Mordant"
        WETTING = "wetting", "Wetting agent"
        OTHER = "other", "Something else"

    class Unit(models.TextChoices):
        G = "g", "Weighed, in g"
        ML = "mL", "Measured, in mL"

    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=8, choices=Kind.choices)
    unit = models.CharField(max_length=2, choices=Unit.choices)
    strength_pct = ExactDecimalField(null=True, blank=True, help_text="Of a liquid, g in 100 mL: vinegar is often 5.")
    supplier = models.CharField(max_length=120, blank=True, default="")
    sheet_url = models.URLField(max_length=400, blank=True, default="")
    sheet = models.ForeignKey("studio.Document", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    note = models.TextField(blank=True, default="")
    retired = models.BooleanField(default=False)
    folded = FoldedField(of=["name"])
    folded_more = FoldedField(of=["name", "supplier", "note"])

    history = HistoricalRecords(excluded_fields=["folded", "folded_more"])

    class Meta:
        ordering = ["name"]
        constraints = [
            UniqueConstraint(
                Lower("name"),
                name="assistant_name_once",
                violation_error_message="This is on the shelf already.",
            ),
            CheckConstraint(
                condition=Q(kind__in=["acid", "alkali", "salt", "mordant", "wetting", "other"]),
                name="assistant_kind_known",
            ),
            CheckConstraint(condition=Q(unit__in=["g", "mL"]), name="assistant_unit_known"),
        ]

    def __str__(self):
        return self.name


class Solution(models.Model):
    """The master of a bottle: what it should hold. Each bottle made from it is a lot of its own."""

    class Kind(models.TextChoices):
        STOCK = "stock", "Stock solution"
        PAINTING = "painting", "Painting bottle"
        LIQUOR = "liquor", "Kept liquor"
        DRY = "dry", "Dry mix"

    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=8, choices=Kind.choices, default=Kind.STOCK)
    keeps_days = models.PositiveIntegerField(null=True, blank=True)
    note = models.TextField(blank=True, default="")
    retired = models.BooleanField(default=False)
    folded = FoldedField(of=["name"])
    folded_more = FoldedField(of=["name", "note"])

    history = HistoricalRecords(excluded_fields=["folded", "folded_more"])

    class Meta:
        ordering = ["name"]
        constraints = [
            UniqueConstraint(
                Lower("name"),
                name="solution_name_once",
                violation_error_message="There is a bottle of this name already.",
            ),
            CheckConstraint(condition=Q(kind__in=["stock", "painting", "liquor", "dry"]), name="solution_kind_known"),
        ]

    def __str__(self):
        return kept_together(self.name)

    @property
    def unit(self):
        return "g" if self.kind == self.Kind.DRY else "mL"

    @property
    def only_part(self):
        """The part of a solution that holds nothing else and is still made; None of a mix, and of what is mixed dry."""
        parts = list(self.parts.all())
        return parts[0] if len(parts) == 1 and not self.retired and self.kind != self.Kind.DRY else None

    def use_by(self, made_on):
        """The last day of a bottle that is made on this one; None where nobody said how long it keeps."""
        return made_on + timedelta(days=self.keeps_days) if self.keeps_days else None

    def write_parts(self, rows):
        """Put these parts (unsaved SolutionParts) in place of what it held before. Bottles already made keep theirs."""
        with transaction.atomic():
            self.parts.all().delete()
            for row in rows:
                row.solution = self
                row.save()


LEAST_PART = Decimal("0.000001")  # g in 100 mL: the last digit that a part of a master is kept to


class SolutionPart(models.Model):
    """One substance of a bottle's master, in g per 100 mL of finished solution (per 100 g of a dry mix)."""

    solution = models.ForeignKey(Solution, on_delete=models.CASCADE, related_name="parts")
    dye = models.ForeignKey(Dye, null=True, blank=True, on_delete=models.PROTECT, related_name="solution_parts")
    assistant = models.ForeignKey(
        Assistant, null=True, blank=True, on_delete=models.PROTECT, related_name="solution_parts"
    )
    g_per_100 = ExactDecimalField(places=6)

    class Meta:
        ordering = ["-g_per_100", "pk"]
        constraints = [
            exactly_one("dye", "assistant", name="solution_part_one_substance"),
            above_zero("g_per_100", name="solution_part_above_zero"),
            CheckConstraint(condition=Q(g_per_100__lte=100), name="solution_part_to_100"),
            UniqueConstraint("solution", "dye", name="solution_part_dye_once"),
            UniqueConstraint("solution", "assistant", name="solution_part_assistant_once"),
        ]

    def __str__(self):
        return f"{self.g_per_100} % {self.dye or self.assistant}"
