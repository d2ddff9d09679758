"""What the entries of a log say: what was read, moved, done, checked, and how long it took.

Each has one verb, `log`, and may say how to `undo` it when its entry is struck. What went in is in `additions`,
photographs are in `photos`, the end of a pot in `outcome`.
"""

from django.db import models, transaction
from django.db.models import CheckConstraint, Q

from recipes.models import RecipeStep
from studio.models import Lot
from studio.models.fields import (
    ExactDecimalField,
    above_zero,
    one_of,
    unknown_or_above_zero,
)

from .baths import Bath
from .log import Detail, Entry, settle_where, strike_if_told
from .run import Batch, Whereabouts


class Reading(Detail):
    """What a thermometer, a strip or an eye said."""

    class Clear(models.TextChoices):
        NOT_SAID = "", "-"
        CLEAR = "clear", "clear"
        NEARLY = "nearly", "nearly clear"
        NOT_YET = "not_yet", "not yet"

    entry = models.OneToOneField(Entry, primary_key=True, on_delete=models.PROTECT, related_name="reading")
    temperature_c = ExactDecimalField(null=True, blank=True)
    ph = ExactDecimalField(null=True, blank=True)
    clear = models.CharField(max_length=7, choices=Clear.choices, blank=True, default="")
    bath = models.ForeignKey("batches.Bath", null=True, blank=True, on_delete=models.PROTECT, related_name="readings")

    class Meta(Detail.Meta):
        constraints = [
            one_of("clear", ["", "clear", "nearly", "not_yet"], name="reading_clear_known"),
            CheckConstraint(
                condition=Q(temperature_c__isnull=False) | Q(ph__isnull=False) | ~Q(clear=""),
                name="reading_says_something",
            ),
            CheckConstraint(
                condition=Q(temperature_c__isnull=True) | Q(temperature_c__gte=-20, temperature_c__lte=200),
                name="reading_temperature_sensible",
            ),
            CheckConstraint(condition=Q(ph__isnull=True) | Q(ph__gte=0, ph__lte=14), name="reading_ph_sensible"),
        ]

    @classmethod
    def log(cls, batch, stamp, **facts):
        with transaction.atomic():
            batch = Batch.lock([batch.pk])[batch.pk]
            now = stamp.clock()
            entry = Entry.write(batch, Entry.Kind.READING, stamp, now=now)
            cls.objects.create(entry=entry, bath=batch.bath_now(), **facts)
            strike_if_told(entry, batch, now)
        return entry


class Move(Detail):
    """Yarn or liquor went in or out, or the yarn is somewhere else now."""

    class What(models.TextChoices):
        YARN_IN = "yarn_in", "Yarn in"
        YARN_OUT = "yarn_out", "Yarn out"
        LIQUOR_IN = "liquor_in", "Liquor in"
        LIQUOR_OUT = "liquor_out", "Liquor out"
        WHERE = "where", "The yarn is now"

    entry = models.OneToOneField(Entry, primary_key=True, on_delete=models.PROTECT, related_name="move")
    what = models.CharField(max_length=10, choices=What.choices)
    where = models.CharField(max_length=8, choices=Whereabouts.choices, blank=True, default="")
    yarn = models.ForeignKey("batches.BatchYarn", null=True, blank=True, on_delete=models.PROTECT, related_name="moves")
    skeins = models.PositiveIntegerField(null=True, blank=True)
    grams = ExactDecimalField(null=True, blank=True)
    volume_ml = ExactDecimalField(null=True, blank=True)
    other_batch = models.ForeignKey(
        Batch, null=True, blank=True, on_delete=models.PROTECT, related_name="moves_from_elsewhere"
    )
    kept = models.OneToOneField(
        Lot, null=True, blank=True, on_delete=models.PROTECT, related_name="kept_by", help_text="Of kept liquor."
    )

    class Meta(Detail.Meta):
        constraints = [
            one_of("what", ["yarn_in", "yarn_out", "liquor_in", "liquor_out", "where"], name="move_what_known"),
            CheckConstraint(
                condition=Q(what="where", where__in=Whereabouts.values) | ~Q(what="where") & Q(where=""),
                name="move_says_where",
            ),
            CheckConstraint(
                condition=Q(skeins__isnull=True) | Q(what__in=["yarn_in", "yarn_out"]),
                name="move_skeins_are_yarn",
            ),
            CheckConstraint(
                condition=Q(volume_ml__isnull=True) | Q(what__in=["liquor_in", "liquor_out"]),
                name="move_volume_is_liquor",
            ),
            CheckConstraint(condition=Q(kept__isnull=True) | Q(what="liquor_out"), name="move_only_liquor_is_kept"),
            unknown_or_above_zero("volume_ml", name="move_volume_above_zero"),
            unknown_or_above_zero("grams", name="move_weight_above_zero"),
        ]

    @classmethod
    def log(cls, batch, stamp, *, what, where="", other_batch=None, keep_as="", **facts):
        """Something moved. Liquor from another pot makes this pot's bath go on from that one's; liquor that went out
        and is kept becomes a bottle called `keep_as`, whose contents nobody knows.

        Raises ValueError when a bottle of that name holds something else.
        """
        with transaction.atomic():
            locked = Batch.lock([batch.pk, *([other_batch.pk] if other_batch else [])])
            batch = locked[batch.pk]
            now = stamp.clock()
            entry = Entry.write(batch, Entry.Kind.MOVE, stamp, now=now)
            if what == cls.What.LIQUOR_IN and other_batch:
                Bath.go_on(batch, locked[other_batch.pk])
            if what == cls.What.LIQUOR_OUT and keep_as:
                facts["kept"] = Bath.keep(batch, keep_as, facts["volume_ml"], by=stamp.by, at=entry.at, now=now)
            cls.objects.create(entry=entry, what=what, where=where, other_batch=other_batch, **facts)
            strike_if_told(entry, batch, now)
            settle_where(batch)
        return entry

    def lots_to_undo(self):
        return [self.kept_id] if self.kept_id else []

    def undo(self, batch, *, by, now):
        if self.what == self.What.LIQUOR_IN and self.other_batch_id:
            Bath.stop_going_on(batch, self.other_batch)
        elif self.kept_id:
            Bath.keep_no_more(batch, self.kept, by=by, now=now)


class StepDone(Detail):
    """A step that was done. The kinds are those of a recipe's steps."""

    entry = models.OneToOneField(Entry, primary_key=True, on_delete=models.PROTECT, related_name="step")
    kind = models.CharField(max_length=8)
    temperature_c = ExactDecimalField(null=True, blank=True)
    minutes = ExactDecimalField(null=True, blank=True)
    house_step = models.ForeignKey(
        "recipes.HouseStep",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="done",
        help_text="Done as usual here.",
    )
    called = models.CharField(
        max_length=60, blank=True, default="", help_text="The name of the house's step as it was that day."
    )

    class Meta(Detail.Meta):
        verbose_name = "step done"
        verbose_name_plural = "steps done"
        constraints = [
            one_of("kind", RecipeStep.Kind.values, name="step_done_known"),
            unknown_or_above_zero("minutes", name="step_done_minutes_above_zero"),
            CheckConstraint(
                condition=Q(temperature_c__isnull=True) | Q(temperature_c__gte=-20, temperature_c__lte=200),
                name="step_done_temperature_sensible",
            ),
            CheckConstraint(
                condition=Q(house_step__isnull=True, called="") | Q(house_step__isnull=False) & ~Q(called=""),
                name="step_done_as_usual_has_a_name",
            ),
        ]

    @classmethod
    def log(cls, batch, stamp, *, kind, plan_line=None, house_step=None, called="", **facts):
        """A step was done; of the house's own, `called` is its name that day where that was not today."""
        called = called or (house_step.name if house_step is not None else "")
        with transaction.atomic():
            batch = Batch.lock([batch.pk])[batch.pk]
            now = stamp.clock()
            entry = Entry.write(batch, Entry.Kind.STEP, stamp, now=now, plan_line=plan_line)
            cls.objects.create(entry=entry, kind=kind, house_step=house_step, called=called, **facts)
            strike_if_told(entry, batch, now)
            settle_where(batch)
        return entry


class Check(Detail):
    """A test of the finished colour: does it bleed, does it rub off, is it fast.

    `result` is in plain words. Grades, in halves (3.5 is "3-4"), only from real grey-scale cards or a laboratory. A
    remedy and a retest name, in the entry's `because`, the check that led to them.
    """

    class What(models.TextChoices):
        RINSE = "rinse", "Rinse ran clear"
        CLOTH = "cloth", "Damp white cloth"
        RUB_DRY = "rub_dry", "Dry rub"
        RUB_WET = "rub_wet", "Wet rub"
        WASH = "wash", "Wash with white cloth"
        CARDS = "cards", "Grey-scale cards"
        SENT = "sent", "Test sent out"
        REMEDY = "remedy", "What was done about it"

    class Result(models.TextChoices):
        NOT_SAID = "", "-"
        NONE = "none", "nothing"
        TRACE = "trace", "a trace"
        SOME = "some", "some"
        A_LOT = "a_lot", "a lot"
        RUNNING = "running", "still running"

    entry = models.OneToOneField(Entry, primary_key=True, on_delete=models.PROTECT, related_name="check_made")
    what = models.CharField(max_length=8, choices=What.choices)
    result = models.CharField(max_length=8, choices=Result.choices, blank=True, default="")
    rinses = models.PositiveSmallIntegerField(null=True, blank=True, help_text="At which rinse the water ran clear.")
    water_c = ExactDecimalField(null=True, blank=True)
    change_grade = ExactDecimalField(null=True, blank=True)
    stain_grade = ExactDecimalField(null=True, blank=True)
    standard = models.CharField(
        max_length=80, blank=True, default="", help_text="Which method, such as the number of a standard."
    )

    class Meta(Detail.Meta):
        constraints = [
            one_of(
                "what",
                ["rinse", "cloth", "rub_dry", "rub_wet", "wash", "cards", "sent", "remedy"],
                name="check_what_known",
            ),
            one_of("result", ["", "none", "trace", "some", "a_lot", "running"], name="check_result_known"),
            CheckConstraint(
                condition=~Q(what__in=["cloth", "rub_dry", "rub_wet", "wash"]) | ~Q(result=""),
                name="check_says_a_result",
            ),
            CheckConstraint(
                condition=~Q(what="rinse") | Q(rinses__isnull=False) | ~Q(result=""),
                name="check_rinse_says_when",
            ),
            CheckConstraint(
                condition=Q(change_grade__isnull=True, stain_grade__isnull=True) | Q(what__in=["cards", "sent"]),
                name="check_grades_from_cards",
            ),
            CheckConstraint(
                condition=~Q(what__in=["cards", "sent"]) | Q(change_grade__isnull=False) | Q(stain_grade__isnull=False),
                name="check_cards_give_a_grade",
            ),
            CheckConstraint(
                condition=Q(change_grade__isnull=True) | Q(change_grade__gte=1, change_grade__lte=5),
                name="check_change_grade_1_to_5",
            ),
            CheckConstraint(
                condition=Q(stain_grade__isnull=True) | Q(stain_grade__gte=1, stain_grade__lte=5),
                name="check_stain_grade_1_to_5",
            ),
        ]

    @classmethod
    def log(cls, batch, stamp, *, because=None, **facts):
        return cls.enter(batch, stamp, Entry.Kind.CHECK, names={"because": because}, **facts)

    @property
    def bleeds(self):
        return self.result in (self.Result.SOME, self.Result.A_LOT, self.Result.RUNNING)


class Work(Detail):
    """Minutes of hands, split over the pots that shared them."""

    entry = models.OneToOneField(Entry, primary_key=True, on_delete=models.PROTECT, related_name="work")
    minutes = ExactDecimalField()

    class Meta(Detail.Meta):
        constraints = [above_zero("minutes", name="work_above_zero")]

    @classmethod
    def log(cls, batch, stamp, *, minutes):
        return cls.enter(batch, stamp, Entry.Kind.WORK, minutes=minutes)
