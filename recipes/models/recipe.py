"""Colourways, and the numbered versions of how to dye them."""

from decimal import Decimal

from django.db import models, transaction
from django.db.models import CheckConstraint, F, Max, Q, UniqueConstraint
from django.db.models.functions import Lower
from simple_history.models import HistoricalRecords

from studio.models import KeptForever
from studio.models.fields import ExactDecimalField, FoldedField, above_zero, one_of, unknown_or_above_zero


class Colourway(models.Model):
    """A named colour design."""

    name = models.CharField(max_length=80)
    story = models.TextField(blank=True, default="")
    standard = models.ForeignKey("recipes.Recipe", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")
    retired = models.BooleanField(default=False)
    folded = FoldedField(of=["name"])
    folded_more = FoldedField(of=["name", "story"])

    history = HistoricalRecords(excluded_fields=["folded", "folded_more"])

    class Meta:
        ordering = ["name"]
        constraints = [
            UniqueConstraint(
                Lower("name"),
                name="colourway_name_once",
                violation_error_message="There is a colourway of this name already.",
            )
        ]

    def __str__(self):
        return self.name

    def pin(self, recipe):
        """Make this version the standard: what planning takes unless told otherwise."""
        if recipe.colourway_id != self.pk:
            raise ValueError("Only a version of this colourway can be its standard.")
        self.standard = recipe
        self.save(update_fields=["standard"])

    def next_version(self, *, by, now, **facts):
        """A new, still empty version, numbered after the last.

        Locks the colourway, so two writers get two numbers.
        """
        with transaction.atomic():
            Colourway.objects.select_for_update(no_key=True).get(pk=self.pk)
            last = self.recipes.aggregate(last=Max("number"))["last"] or 0
            return Recipe.objects.create(colourway=self, number=last + 1, made_at=now, by=by, **facts)


class Method(models.TextChoices):
    """How the dye reaches the yarn."""

    POT = "pot", "In the pot"
    JAR = "jar", "In jars"
    PAN = "pan", "In a flat pan"
    PAINTED = "painted", "Hand-painted"
    DIPPED = "dipped", "Dipped"
    OTHER = "other", "Another way"


class VersionQuerySet(models.QuerySet):
    """Rows that say what a recipe version is. Once a batch has used the version, they are only read."""

    def _refuse_used(self):
        if self.filter(**{f"{self.model.to_version}used_at__isnull": False}).exists():
            raise KeptForever(Recipe)

    def update(self, **kwargs):
        self._refuse_used()
        return super().update(**kwargs)

    def bulk_update(self, objs, *args, **kwargs):
        self.filter(pk__in=[row.pk for row in objs])._refuse_used()
        return super().bulk_update(objs, *args, **kwargs)

    def delete(self):
        self._refuse_used()
        return super().delete()

    def bulk_create(self, objs, *args, **kwargs):
        objs = list(objs)
        for row in objs:
            row.refuse_when_used()
        return super().bulk_create(objs, *args, **kwargs)


class PartOfVersion(models.Model):
    """A row that says what a recipe version is. `to_version` is the lookup that leads to the version."""

    objects = VersionQuerySet.as_manager()

    class Meta:
        abstract = True
        base_manager_name = "objects"

    def save(self, *args, **kwargs):
        self.refuse_when_used()
        super().save(*args, **kwargs)

    def delete(self, *args, **kwargs):
        self.refuse_when_used()
        return super().delete(*args, **kwargs)

    def version_key(self):
        """The key of the version that this row is a part of."""
        raise NotImplementedError

    def refuse_when_used(self):
        # Asked of the table: the version in hand may have been read before a batch used it.
        if Recipe.objects.filter(pk=self.version_key(), used_at__isnull=False).exists():
            raise KeptForever(Recipe)


class Recipe(PartOfVersion):
    """One numbered version of how to dye a colourway, on a group of bases.

    Once a batch has used it, it never changes: editing makes the next version.
    """

    class Scales(models.TextChoices):
        WEIGHT = "weight", "By weight: more yarn, more dye"
        POTS = "pots", "By whole pots: each pot or jar gets the same"

    colourway = models.ForeignKey(Colourway, on_delete=models.PROTECT, related_name="recipes")
    number = models.PositiveIntegerField()
    method = models.CharField(max_length=8, choices=Method.choices, default=Method.POT)
    scales = models.CharField(max_length=6, choices=Scales.choices, default=Scales.WEIGHT)
    bases = models.ManyToManyField("studio.Base", blank=True, related_name="recipes", through="RecipeBase")
    skeins = models.PositiveIntegerField(default=1, help_text="How many skeins the notebook's amounts are for.")
    fibre_g = ExactDecimalField(help_text="How much dry yarn the notebook's amounts are for.")
    pots = models.PositiveIntegerField(default=1, help_text="How many pots the notebook's amounts are for.")
    liquor_ratio = ExactDecimalField(null=True, blank=True, help_text="Water to yarn, by mass.")
    note = models.TextField(blank=True, default="")
    notebook = models.ForeignKey("studio.Picture", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    made_from = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="next_versions")
    made_at = models.DateTimeField()
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")
    used_at = models.DateTimeField(
        null=True, blank=True, help_text="When a batch first used it; from then on it is kept as it is."
    )
    folded = FoldedField(of=["note"])

    to_version = ""

    class Meta(PartOfVersion.Meta):
        ordering = ["colourway", "-number"]
        constraints = [
            one_of("method", Method.values, name="recipe_method_known"),
            one_of("scales", ["weight", "pots"], name="recipe_scales_known"),
            UniqueConstraint("colourway", "number", name="recipe_number_once"),
            above_zero("skeins", name="recipe_some_skeins"),
            above_zero("fibre_g", name="recipe_some_fibre"),
            above_zero("pots", name="recipe_some_pots"),
            unknown_or_above_zero("liquor_ratio", name="recipe_liquor_ratio_above_zero"),
            CheckConstraint(condition=Q(made_from__isnull=True) | ~Q(made_from=F("pk")), name="recipe_not_from_itself"),
        ]

    def __str__(self):
        return f"{self.colourway} version {self.number}"

    def version_key(self):
        return self.pk

    def mark_used(self, now):
        """A batch has taken its amounts from this version. Only the first time counts."""
        Recipe.objects.filter(pk=self.pk, used_at__isnull=True).update(used_at=now)
        self.refresh_from_db(fields=["used_at"])

    def write(self, steps):
        """Put these steps in place of what the version says.

        `steps`: pairs of an unsaved RecipeStep and its Ingredients. Refused once a batch has used the version.
        """
        with transaction.atomic():
            held = Recipe.objects.select_for_update(no_key=True).get(pk=self.pk)
            if held.used_at:
                raise KeptForever(Recipe)
            RecipeStep.objects.filter(recipe=self).delete()
            for position, (step, ingredients) in enumerate(steps, 1):
                step.recipe, step.position = self, position
                step.save()
                for place, ingredient in enumerate(ingredients, 1):
                    ingredient.step, ingredient.position = step, place
                    ingredient.save()


class RecipeBase(PartOfVersion):
    """One of the bases that a version is meant for."""

    recipe = models.ForeignKey(Recipe, on_delete=models.CASCADE, related_name="+")
    base = models.ForeignKey("studio.Base", on_delete=models.PROTECT, related_name="+")

    to_version = "recipe__"

    class Meta(PartOfVersion.Meta):
        constraints = [UniqueConstraint("recipe", "base", name="recipe_base_once")]

    def __str__(self):
        return f"{self.recipe_id} on {self.base_id}"

    def version_key(self):
        return self.recipe_id


class RecipeStep(PartOfVersion):
    """Something done, in order; what goes in with it are its ingredients."""

    class Kind(models.TextChoices):
        SOAK = "soak", "Soak"
        SCOUR = "scour", "Scour"
        MORDANT = "mordant", "Mordant"
        STRIP = "strip", "Strip colour"
        ADD = "add", "Add"
        HEAT = "heat", "Heat"
        HOLD = "hold", "Hold"
        COOL = "cool", "Let cool"
        RINSE = "rinse", "Rinse"
        WASH = "wash", "Wash"
        DRY = "dry", "Dry"
        OTHER = "other", "Do"

    recipe = models.ForeignKey(Recipe, on_delete=models.CASCADE, related_name="steps")
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=8, choices=Kind.choices, default=Kind.ADD)
    words = models.CharField(max_length=300, blank=True, default="", help_text="As the notebook says it.")
    temperature_c = ExactDecimalField(null=True, blank=True)
    minutes = ExactDecimalField(null=True, blank=True)

    to_version = "recipe__"

    class Meta(PartOfVersion.Meta):
        ordering = ["position"]
        constraints = [
            one_of(
                "kind",
                ["soak", "scour", "mordant", "strip", "add", "heat", "hold", "cool", "rinse", "wash", "dry", "other"],
                name="recipe_step_kind_known",
            ),
            UniqueConstraint("recipe", "position", name="recipe_step_position_once"),
            unknown_or_above_zero("minutes", name="recipe_step_minutes_above_zero"),
            CheckConstraint(
                condition=Q(temperature_c__isnull=True) | Q(temperature_c__gte=-20, temperature_c__lte=200),
                name="recipe_step_temperature_sensible",
            ),
        ]

    def __str__(self):
        return self.words or self.get_kind_display()

    def version_key(self):
        return self.recipe_id


class Basis(models.TextChoices):
    """What an amount follows when the recipe is scaled."""

    OWF = "owf", "% of the fibre's weight"
    PER_L = "per_l", "for each litre of bath"
    PER_SKEIN = "per_skein", "for each skein"
    PER_POT = "per_pot", "for each pot"
    FIXED = "fixed", "in all, whatever the weight"
    RATIO = "ratio", "times the fibre's weight"


class Hold(models.TextChoices):
    """What the depths of a plan are of."""

    TOTAL = "total", "All of the yarn"
    DYEABLE = "dyeable", "The part that takes the dye"


class How(models.TextChoices):
    """How something goes onto the yarn or into the bath."""

    BOTTLE = "bottle", "from the bottle"
    DISSOLVED = "dissolved", "dissolved"
    SPRINKLED = "sprinkled", "sprinkled dry"
    PAINTED = "painted", "painted on"
    DIPPED = "dipped", "dipped"
    ADDED = "added", "added"


LEAST_KEPT = Decimal("0.000001")  # of an amount or a strength of a line: less would be kept as none


class Ingredient(PartOfVersion):
    """One substance of a step: what the notebook said, and what that means for any weight.

    `amount` is in % for `owf`, in g or mL (`unit`) for the other bases, and in mL of bath per g of fibre for `ratio`.
    For a dye, `amount` is always dye: 40 mL of a 1 % bottle is 0.4 g. `strength_pct` is the bottle it was meant for. A
    painted line holds strength and volume: its `amount` is mL, and scaling leaves both as they are for each skein.
    """

    step = models.ForeignKey(RecipeStep, on_delete=models.CASCADE, related_name="ingredients")
    position = models.PositiveSmallIntegerField()
    dye = models.ForeignKey("studio.Dye", null=True, blank=True, on_delete=models.PROTECT, related_name="ingredients")
    assistant = models.ForeignKey(
        "studio.Assistant", null=True, blank=True, on_delete=models.PROTECT, related_name="ingredients"
    )
    solution = models.ForeignKey(
        "studio.Solution", null=True, blank=True, on_delete=models.PROTECT, related_name="ingredients"
    )
    water = models.BooleanField(default=False)
    basis = models.CharField(max_length=9, choices=Basis.choices)
    amount = ExactDecimalField(places=6, null=True, blank=True, help_text="Empty: the notebook does not say.")
    unit = models.CharField(max_length=2, choices=[("%", "%"), ("g", "g"), ("mL", "mL"), (":1", "to 1")])
    strength_pct = ExactDecimalField(places=6, null=True, blank=True)
    how = models.CharField(max_length=9, choices=How.choices, default=How.ADDED)
    place = models.CharField(max_length=120, blank=True, default="")
    estimated = models.BooleanField(default=False)
    typed = models.CharField(max_length=300, blank=True, default="", help_text="The notebook's own words.")

    to_version = "step__recipe__"

    class Meta(PartOfVersion.Meta):
        ordering = ["position"]
        constraints = [
            one_of("basis", Basis.values, name="ingredient_basis_known"),
            one_of("how", How.values, name="ingredient_how_known"),
            UniqueConstraint("step", "position", name="ingredient_position_once"),
            CheckConstraint(
                condition=Q(water=True, dye__isnull=True, assistant__isnull=True, solution__isnull=True)
                | Q(water=False, dye__isnull=False, assistant__isnull=True, solution__isnull=True)
                | Q(water=False, dye__isnull=True, assistant__isnull=False, solution__isnull=True)
                | Q(water=False, dye__isnull=True, assistant__isnull=True, solution__isnull=False),
                name="ingredient_one_substance",
            ),
            unknown_or_above_zero("amount", name="ingredient_amount_above_zero"),
            unknown_or_above_zero("strength_pct", name="ingredient_strength_above_zero"),
            CheckConstraint(
                condition=Q(basis="owf", unit="%")
                | Q(basis="ratio", unit=":1", water=True)
                | ~Q(basis__in=["owf", "ratio"]) & Q(unit__in=["g", "mL"]),
                name="ingredient_unit_fits_basis",
            ),
            CheckConstraint(
                condition=~Q(how="painted")
                | Q(water=True)
                | Q(unit="mL", strength_pct__isnull=False, strength_pct__gt=0)
                | Q(solution__isnull=False)
                | Q(assistant__isnull=False),
                name="ingredient_painted_has_strength",
            ),
        ]

    def __str__(self):
        return self.typed or f"{self.amount} {self.unit} {self.substance}"

    def version_key(self):
        return self.step.recipe_id

    @property
    def substance(self):
        """The dye, assistant or bottle; None for water."""
        return self.dye or self.assistant or self.solution

    @property
    def name(self):
        return "Water" if self.water else str(self.substance)
