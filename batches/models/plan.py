"""The plan of a pot: its lines as they were frozen, and what they have spoken for on the shelf."""

from decimal import Decimal

from django.db import models, transaction
from django.db.models import CheckConstraint, Exists, F, OuterRef, Q, Subquery, Sum, UniqueConstraint

from recipes.models import How, RecipeStep
from studio import units, writing
from studio.models import Kept
from studio.models.fields import (
    ExactDecimalField,
    KeptQuerySet,
    above_zero,
    one_of,
    unknown_or_above_zero,
    unknown_or_not_negative,
)

from .log import Detail, Entry, strike_if_told
from .run import Batch, BatchYarn, State


class PlanLineQuerySet(KeptQuerySet):
    def with_done(self):
        """Adds how far a line is, by standing entries that name it: to weigh, then `weighed`, then in, `done`."""
        named = Entry.objects.standing().filter(plan_line=OuterRef("pk"))
        return self.annotate(
            done=Exists(named.exclude(kind__in=Entry.GETTING_READY)),
            weighed=Exists(named.filter(kind=Entry.Kind.WEIGHED)),
        )

    def with_stands(self):
        """Adds `stands`: how much stands weighed beside the pot, by the newest standing entry; None for nothing."""
        weighed = Weighed.objects.standing().filter(entry__plan_line=OuterRef("pk"))
        newest = weighed.order_by("-entry__at", "-entry__received_at", "-entry").values("amount")[:1]
        return self.annotate(stands=Subquery(newest))

    def named(self):
        """With all that the name of a line needs, and what its jar or bottle is of."""
        return self.select_related("dye", "assistant", "solution", "lot__dye", "lot__assistant", "lot__solution")

    def with_bottles(self):
        """Named, with what a bottle holds, which `lot_name` may have to say of it. Two queries more."""
        return self.named().prefetch_related("lot__contents__source__dye")

    def promised(self):
        return self.filter(batch__state__in=[State.PLANNED, State.RUNNING], lot__isnull=False)


class PlanLineManager(models.Manager.from_queryset(PlanLineQuerySet)):
    """Lines of the plan that counts. Those of an earlier writing stay, for the entries that name them."""

    def get_queryset(self):
        return super().get_queryset().filter(edition=F("batch__edition"))


class PlanLine(Kept):
    """One substance, or one thing to do, of a pot's plan: the exact amount, and the one told to the hands.

    A frozen copy: it does not follow the recipe. Amounts are in the unit of `unit`. Where the plan of a pot still to
    come was written anew, its lines are those of the newest `edition`; `every` has the earlier ones too.
    """

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="plan")
    edition = models.PositiveSmallIntegerField(default=1)
    position = models.PositiveSmallIntegerField()
    step = models.CharField(max_length=8, help_text="Which kind of step; the keys are those of a recipe's steps.")
    words = models.CharField(max_length=300, blank=True, default="")
    dye = models.ForeignKey("studio.Dye", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    assistant = models.ForeignKey("studio.Assistant", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    solution = models.ForeignKey("studio.Solution", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    water = models.BooleanField(default=False)
    lot = models.ForeignKey("studio.Lot", null=True, blank=True, on_delete=models.PROTECT, related_name="plan_lines")
    exact = ExactDecimalField(places=6, null=True, blank=True)
    told = ExactDecimalField(null=True, blank=True)
    estimated = models.BooleanField(default=False, help_text="The recipe has its amount only by estimate.")
    unit = models.CharField(max_length=2, blank=True, default="", choices=[("g", "g"), ("mL", "mL")])
    dye_g = ExactDecimalField(
        places=6,
        null=True,
        blank=True,
        help_text="Dye in the exact amount, at the studio's standard strength.",
    )
    basis = models.CharField(
        max_length=120, blank=True, default="", help_text="How the recipe says it, such as 0.30 % owf."
    )
    how = models.CharField(max_length=9, blank=True, default="")
    place = models.CharField(max_length=120, blank=True, default="")
    temperature_c = ExactDecimalField(null=True, blank=True)
    minutes = ExactDecimalField(null=True, blank=True)

    pour_ml = ExactDecimalField(
        null=True,
        blank=True,
        help_text="Where it was weighed once for all pots and dissolved: how much of that goes in here.",
    )
    note = models.TextField(blank=True, default="", help_text="What to mind: dilute first.")

    every = PlanLineQuerySet.as_manager()
    objects = PlanLineManager()

    class Meta(Kept.Meta):
        base_manager_name = "every"
        default_manager_name = "objects"
        ordering = ["position"]
        constraints = [
            one_of("step", RecipeStep.Kind.values, name="plan_line_step_known"),
            one_of("how", ["", *How.values], name="plan_line_how_known"),
            one_of("unit", ["", "g", "mL"], name="plan_line_unit_known"),
            UniqueConstraint("batch", "edition", "position", name="plan_line_position_once"),
            unknown_or_above_zero("pour_ml", name="plan_line_pour_above_zero"),
            unknown_or_not_negative("exact", name="plan_line_exact_not_negative"),
            unknown_or_not_negative("told", name="plan_line_told_not_negative"),
            CheckConstraint(condition=Q(told__isnull=True) | Q(unit__in=["g", "mL"]), name="plan_line_told_has_unit"),
        ]

    def __str__(self):
        """As the hands are told it: "60 mL Plum"."""
        if self.told is None:
            return self.name
        write = units.write_ml if self.unit == "mL" else units.write_g
        return f"{write(self.told, writing.current().system)} {self.name}"

    @property
    def to_go_in(self):
        """What the next hand puts in: what stands weighed, else what was told. Needs `with_stands`."""
        return self.told if self.stands is None else self.stands

    @property
    def by_estimate(self):
        """Whether the amount to go in is still the recipe's estimate, as nobody has weighed it. Needs `with_done`."""
        return self.estimated and self.told is not None and not self.weighed

    @property
    def substance(self):
        return self.dye or self.assistant or self.solution

    @property
    def is_amount(self):
        """Whether something goes in, rather than something being done."""
        return self.water or bool(self.dye_id or self.assistant_id or self.solution_id)

    @property
    def is_measured(self):
        """Whether a scale or a syringe measures it ahead of its step. Water is measured where it is poured."""
        return self.is_amount and not self.water and bool(self.told)

    def is_the_same_act(self, other):
        """Whether both say to do the same thing, of which nothing goes in but water."""
        if self.substance is not None or other.substance is not None:
            return False
        said = ("step", "water") if self.water else ("step", "words", "water", "temperature_c", "minutes")
        return all(getattr(self, name) == getattr(other, name) for name in said)

    @property
    def name(self):
        if self.water:
            return "Water"
        return str(self.substance) if self.is_amount else self.words


class Weighed(Detail):
    """An amount of the plan stands weighed or drawn up beside the pot. It is not in: nothing leaves the shelf by this.

    `amount` is in the unit of the line. It may be another one than was told.
    """

    entry = models.OneToOneField(Entry, primary_key=True, on_delete=models.PROTECT, related_name="weighed")
    amount = ExactDecimalField()

    class Meta(Detail.Meta):
        verbose_name = "amount weighed ahead"
        verbose_name_plural = "amounts weighed ahead"
        constraints = [above_zero("amount", name="weighed_above_zero")]

    @classmethod
    def log(cls, batch, stamp, *, plan_line, amount=None):
        """So much of the line stands ready; no amount is as told. Raises ValueError where none was told either."""
        amount = plan_line.told if amount is None else amount
        if not amount:
            raise ValueError(f"The plan tells no amount of {plan_line.name}: write how much was weighed.")
        with transaction.atomic():
            batch = Batch.lock([batch.pk])[batch.pk]
            now = stamp.clock()
            entry = Entry.write(batch, Entry.Kind.WEIGHED, stamp, now=now, plan_line=plan_line)
            cls.objects.create(entry=entry, amount=amount)
            strike_if_told(entry, batch, now)
        return entry


def promised_by_lot(without=()):
    """{lot id: amount} that planned and running pots have spoken for and not yet taken.

    `without`: pots whose plans are being written anew, so that what they promised of dyes is free for them.
    """
    promised = {}
    for row in BatchYarn.objects.promised().values("lot").annotate(total=Sum("grams")):
        promised[row["lot"]] = promised.get(row["lot"], Decimal(0)) + row["total"]
    for row in (
        PlanLine.objects.promised()
        .exclude(batch__in=without)
        .with_done()
        .filter(done=False, told__isnull=False)
        .values("lot")
        .annotate(total=Sum("told"))
    ):
        promised[row["lot"]] = promised.get(row["lot"], Decimal(0)) + row["total"]
    return promised
