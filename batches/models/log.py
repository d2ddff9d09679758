"""The log: whatever happens to a batch is an entry, and entries are never changed.

A strike-out, a check, a finish are entries that name another one, so author, time, undo, photos and replay are solved
once for all of them. Each kind of entry has one verb, a classmethod `log` of its detail, which locks the batch, then
its lots in key order, then takes the time.
"""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from uuid import UUID, uuid4

from django.db import models, transaction
from django.db.models import CheckConstraint, Exists, OuterRef, Q, UniqueConstraint
from django.utils import timezone

from recipes.models import How, RecipeStep
from studio.models import Content, Kept, Lot, Movement
from studio.models.fields import (
    ExactDecimalField,
    KeptQuerySet,
    above_zero,
    one_of,
    unknown_or_above_zero,
    unknown_or_not_negative,
)

from .run import Batch, Bath, Run, State, Whereabouts

CLOCK_TRUSTED_WITHIN = timedelta(minutes=2)


class TimeFrom(models.TextChoices):
    """Where the time of an entry came from."""

    TOUCH = "touch", "when it was touched"
    SAID = "said", "said later"
    PAPER = "paper", "from paper"
    TOGETHER = "together", "confirmed together"


def corrected(happened_at, *, sent_at, received_at, time_from):
    """When it really happened, on a clock that can be trusted.

    A phone whose clock is more than two minutes off is put right, and nothing is in the future. A time that a person
    said is taken as said; only what the phone's own clock stamped is shifted.
    """
    off = received_at - sent_at if sent_at is not None else timedelta(0)
    if abs(off) > CLOCK_TRUSTED_WITHIN and time_from in (TimeFrom.TOUCH, TimeFrom.TOGETHER):
        happened_at += off
    return min(happened_at, received_at)


@dataclass(frozen=True)
class Stamp:
    """Who did it and when, as the phone or the page says.

    `id` was made by whoever sends it, so twice is once.
    """

    by: object
    id: UUID = field(default_factory=uuid4)
    sent_by: object = None
    happened_at: datetime | None = None
    offset_min: int = 0
    sent_at: datetime | None = None
    time_from: str = TimeFrom.TOUCH
    together: UUID | None = None
    digest: str = ""
    words: str = ""
    clock: object = timezone.now


class EntryQuerySet(KeptQuerySet):
    def with_struck(self):
        """Adds `struck`: a strike-out names it."""
        return self.annotate(struck=Exists(Strike.objects.filter(target=OuterRef("pk"))))

    def standing(self):
        """Entries that nobody struck out, and that are not strike-outs themselves."""
        return self.with_struck().filter(struck=False).exclude(kind=Entry.Kind.STRIKE)

    def in_order(self):
        return self.order_by("at", "received_at", "pk")

    def with_details(self):
        """With all that a line of the log shows, at a fixed number of queries."""
        return self.select_related(
            "by",
            "sent_by",
            "batch",
            "addition__lot__dye",
            "addition__lot__assistant",
            "addition__lot__solution",
            "addition__plan_line",
            "reading",
            "move__yarn__lot__base",
            "move__yarn__base",
            "move__other_batch__run",
            "move__other_batch__vessel",
            "move__kept__solution",
            "step",
            "photo__picture",
            "check_made",
            "work",
            "strike",
            "finish",
        ).prefetch_related("addition__parts__lot__dye", "addition__parts__lot__assistant")


class Entry(Kept):
    """One line of a batch's log. What it says is in its detail; plain words need none."""

    class Kind(models.TextChoices):
        ADDITION = "addition", "Addition"
        READING = "reading", "Reading"
        MOVE = "move", "Move"
        STEP = "step", "Step"
        PHOTO = "photo", "Photo"
        CHECK = "check", "Check"
        WORK = "work", "Work"
        STRIKE = "strike", "Struck out"
        FINISH = "finish", "Finish"
        WORDS = "words", "Words"

    id = models.UUIDField(primary_key=True)
    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="entries")
    kind = models.CharField(max_length=8, choices=Kind.choices)
    happened_at = models.DateTimeField(help_text="As the phone or the person said.")
    offset_min = models.SmallIntegerField(default=0, help_text="Minutes east of UTC where it was said.")
    sent_at = models.DateTimeField(null=True, blank=True)
    received_at = models.DateTimeField()
    at = models.DateTimeField(help_text="Orders everything: when it happened, on a clock that can be trusted.")
    time_from = models.CharField(max_length=8, choices=TimeFrom.choices, default=TimeFrom.TOUCH)
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")
    sent_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")
    together = models.UUIDField(null=True, blank=True, db_index=True, help_text="Entries made by one touch share it.")
    plan_line = models.ForeignKey(
        "batches.PlanLine", null=True, blank=True, on_delete=models.PROTECT, related_name="entries"
    )
    because = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="led_to")
    after_finish = models.BooleanField(default=False)
    words = models.TextField(blank=True, default="")
    digest = models.CharField(
        max_length=64, blank=True, default="", help_text="Of what was sent, to tell a replay from a clash."
    )

    objects = EntryQuerySet.as_manager()

    class Meta(Kept.Meta):
        verbose_name = "log entry"
        verbose_name_plural = "log entries"
        ordering = ["at", "received_at", "pk"]
        indexes = [models.Index(fields=["batch", "at"], name="entry_batch_at")]
        constraints = [
            CheckConstraint(
                condition=Q(
                    kind__in=[
                        "addition",
                        "reading",
                        "move",
                        "step",
                        "photo",
                        "check",
                        "work",
                        "strike",
                        "finish",
                        "words",
                    ]
                ),
                name="entry_kind_known",
            ),
            CheckConstraint(condition=Q(time_from__in=TimeFrom.values), name="entry_time_from_known"),
            CheckConstraint(condition=Q(at__lte=models.F("received_at")), name="entry_not_in_the_future"),
            CheckConstraint(condition=Q(offset_min__gte=-1440, offset_min__lte=1440), name="entry_offset_within_a_day"),
            CheckConstraint(condition=~Q(kind="words") | ~Q(words=""), name="entry_words_say_something"),
        ]

    def __str__(self):
        return f"{self.get_kind_display()} {self.at:%d %b %H:%M}"

    @classmethod
    def write(cls, batch, kind, stamp, *, now, **names):
        """The entry itself. Called by the details' verbs, with the batch locked.

        Raises ValueError when the line of the plan is another pot's.
        """
        if names.get("plan_line") is not None and names["plan_line"].batch_id != batch.pk:
            raise ValueError("That line of the plan belongs to another pot.")
        happened_at = stamp.happened_at or now
        return cls.objects.create(
            id=stamp.id,
            batch=batch,
            kind=kind,
            happened_at=happened_at,
            offset_min=stamp.offset_min,
            sent_at=stamp.sent_at,
            received_at=now,
            at=corrected(happened_at, sent_at=stamp.sent_at, received_at=now, time_from=stamp.time_from),
            time_from=stamp.time_from,
            by=stamp.by,
            sent_by=stamp.sent_by or stamp.by,
            together=stamp.together,
            after_finish=batch.finished_at is not None and kind != cls.Kind.FINISH,
            words=stamp.words,
            digest=stamp.digest,
            **names,
        )

    @classmethod
    def log_words(cls, batch, stamp, *, plan_line=None):
        """Plain words. With a line of the plan they say that it was skipped."""
        with transaction.atomic():
            batch = Batch.lock([batch.pk])[batch.pk]
            return cls.write(batch, cls.Kind.WORDS, stamp, now=stamp.clock(), plan_line=plan_line)


class Detail(Kept):
    """What an entry says. Shares the entry's key."""

    class Meta(Kept.Meta):
        abstract = True

    def __str__(self):
        return str(self.pk)


class Addition(Detail):
    """Something went in.

    `amount` is in `unit`; empty was not measured. What the person typed stands beside it.
    """

    class Other(models.TextChoices):
        NONE = "", "-"
        WATER = "water", "Water"
        WORDS = "words", "Something without a lot"

    entry = models.OneToOneField(Entry, primary_key=True, on_delete=models.PROTECT, related_name="addition")
    lot = models.ForeignKey(Lot, null=True, blank=True, on_delete=models.PROTECT, related_name="additions")
    other = models.CharField(max_length=5, choices=Other.choices, blank=True, default="")
    what = models.CharField(max_length=120, blank=True, default="", help_text="In words, where there is no lot.")
    amount = ExactDecimalField(null=True, blank=True)
    unit = models.CharField(max_length=2, choices=[("g", "g"), ("mL", "mL")], blank=True, default="")
    typed = models.CharField(max_length=60, blank=True, default="", help_text="As it was typed, such as 1 1/2 tbsp.")
    typed_unit = models.CharField(max_length=12, blank=True, default="")
    taps = models.PositiveSmallIntegerField(null=True, blank=True)
    strength_pct = ExactDecimalField(
        places=6, null=True, blank=True, help_text="What the bottle held, or the powder's strength, that day."
    )
    how = models.CharField(max_length=9, choices=How.choices, default=How.ADDED)
    place = models.CharField(max_length=120, blank=True, default="")
    bath = models.ForeignKey("batches.Bath", null=True, blank=True, on_delete=models.PROTECT, related_name="additions")
    plan_line = models.ForeignKey(
        "batches.PlanLine", null=True, blank=True, on_delete=models.PROTECT, related_name="additions"
    )
    movement = models.OneToOneField(Movement, null=True, blank=True, on_delete=models.PROTECT, related_name="addition")

    class Meta(Detail.Meta):
        constraints = [
            one_of("how", How.values, name="addition_how_known"),
            one_of("unit", ["", "g", "mL"], name="addition_unit_known"),
            CheckConstraint(
                condition=Q(lot__isnull=False, other="", movement__isnull=False)
                | Q(lot__isnull=True, other="water", movement__isnull=True)
                | Q(lot__isnull=True, other="words", movement__isnull=True) & ~Q(what=""),
                name="addition_one_substance",
            ),
            unknown_or_not_negative("amount", name="addition_amount_not_negative"),
            CheckConstraint(
                condition=Q(amount__isnull=True) | Q(unit__in=["g", "mL"]), name="addition_amount_has_unit"
            ),
            unknown_or_above_zero("taps", name="addition_taps_above_zero"),
        ]

    @classmethod
    def log(cls, batch, stamp, *, lot=None, amount=None, unit="", plan_line=None, bath=None, **facts):
        """Something went in. The log is never refused for what the shelf says: it happened.

        Raises ValueError when the line of the plan or the bath is another pot's.
        """
        if bath is not None and bath.batch_id != batch.pk:
            raise ValueError("That bath belongs to another pot.")
        with transaction.atomic():
            batch = Batch.lock([batch.pk])[batch.pk]
            if lot is not None:
                Lot.hold([lot.pk])
            if lot is not None and lot.is_bottle:
                held = Content.objects.select_related("source").only("lot", "source__dye", "g_per_100")
                models.prefetch_related_objects([lot], models.Prefetch("contents", held))
            now = stamp.clock()
            entry = Entry.write(batch, Entry.Kind.ADDITION, stamp, now=now, plan_line=plan_line)
            movement = Movement.use(lot, amount, at=entry.at, by=stamp.by, now=now) if lot is not None else None
            addition = cls.objects.create(
                entry=entry,
                lot=lot,
                amount=amount,
                unit=lot.unit if lot is not None else unit,
                strength_pct=cls._strength(lot, entry.at),
                plan_line=plan_line,
                bath=bath or batch.bath_now(),
                movement=movement,
                **facts,
            )
            if lot is not None and amount is not None:
                AdditionLot.trace(addition, addition.amount)
            strike_if_told(entry, batch, now)
            # From anywhere else an addition moves nothing, however late it comes.
            if batch.where == Whereabouts.SOAKING:
                settle_where(batch)
        return entry

    @staticmethod
    def _strength(lot, at):
        if lot is None:
            return None
        if lot.is_bottle:
            return lot.strength()
        return Lot.objects.with_facts().get(pk=lot.pk).strength_now

    @property
    def name(self):
        if self.lot_id:
            return str(self.lot.substance)
        return "Water" if self.other == self.Other.WATER else self.what


class AdditionLot(Kept):
    """How much of a bought lot an addition brought in: the one table behind colour bar, depth by dye, cost and trace.
    """

    addition = models.ForeignKey(Addition, on_delete=models.PROTECT, related_name="parts")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="addition_parts")
    amount = ExactDecimalField(places=6, help_text="In the bought lot's unit.")
    share_out = models.ForeignKey(
        "studio.ShareOut", null=True, blank=True, on_delete=models.PROTECT, related_name="addition_parts"
    )

    class Meta(Kept.Meta):
        constraints = [
            CheckConstraint(condition=Q(amount__isnull=False, amount__gte=0), name="addition_lot_not_negative"),
            UniqueConstraint("addition", "lot", "share_out", name="addition_lot_once_a_share"),
            UniqueConstraint("addition", "lot", condition=Q(share_out__isnull=True), name="addition_lot_once_measured"),
        ]

    def __str__(self):
        return f"{self.amount} of {self.lot_id}"

    @classmethod
    def trace(cls, addition, amount, share_out=None):
        """Write down which bought lots this much of the addition's lot came from."""
        held, _ = addition.lot.holds(amount)
        cls.objects.bulk_create(
            cls(addition=addition, lot_id=lot_id, amount=grams, share_out=share_out)
            for lot_id, grams in sorted(held.items())
        )


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


# Where a step leaves the yarn, by its kind. A step that is not named here leaves it where it is.
AFTER_STEP = {
    "soak": Whereabouts.SOAKING,
    "scour": Whereabouts.IN_POT,
    "mordant": Whereabouts.IN_POT,
    "heat": Whereabouts.IN_POT,
    "hold": Whereabouts.IN_POT,
    "cool": Whereabouts.COOLING,
    "rinse": Whereabouts.RINSING,
    "wash": Whereabouts.RINSING,
    "dry": Whereabouts.DRYING,
}


class StepDone(Detail):
    """A step that was done. The kinds are those of a recipe's steps."""

    entry = models.OneToOneField(Entry, primary_key=True, on_delete=models.PROTECT, related_name="step")
    kind = models.CharField(max_length=8)
    temperature_c = ExactDecimalField(null=True, blank=True)
    minutes = ExactDecimalField(null=True, blank=True)

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
        ]

    @classmethod
    def log(cls, batch, stamp, *, kind, plan_line=None, **facts):
        with transaction.atomic():
            batch = Batch.lock([batch.pk])[batch.pk]
            now = stamp.clock()
            entry = Entry.write(batch, Entry.Kind.STEP, stamp, now=now, plan_line=plan_line)
            cls.objects.create(entry=entry, kind=kind, **facts)
            strike_if_told(entry, batch, now)
            settle_where(batch)
        return entry


class PhotoTaken(Detail):
    """A photograph of the batch. Several entries may show the same picture: one for each pot in it."""

    class Stage(models.TextChoices):
        WET = "wet", "Wet, in the pot or out of it"
        DRY = "dry", "Dry"
        BATH = "bath", "The bath"
        CLOTH = "cloth", "A white cloth or a rub"
        PAPER = "paper", "A page of notes"

    entry = models.OneToOneField(Entry, primary_key=True, on_delete=models.PROTECT, related_name="photo")
    picture = models.ForeignKey("studio.Picture", on_delete=models.PROTECT, related_name="shown_in")
    stage = models.CharField(max_length=5, choices=Stage.choices, default=Stage.WET)
    about = models.ForeignKey(Entry, null=True, blank=True, on_delete=models.PROTECT, related_name="photos")

    class Meta(Detail.Meta):
        verbose_name = "photo"
        constraints = [
            one_of("stage", ["wet", "dry", "bath", "cloth", "paper"], name="photo_stage_known"),
        ]

    @classmethod
    def log(cls, batch, stamp, *, picture, stage, about=None):
        """Show a picture in the log. A dry photo becomes the run's cover while it has none."""
        with transaction.atomic():
            run = Run.lock(batch.run_id) if stage == cls.Stage.DRY else None
            batch = Batch.lock([batch.pk])[batch.pk]
            now = stamp.clock()
            entry = Entry.write(batch, Entry.Kind.PHOTO, stamp, now=now)
            cls.objects.create(entry=entry, picture=picture, stage=stage, about=about)
            if run is not None and run.cover_id is None:
                run.cover = picture
                run.save(update_fields=["cover"])
            strike_if_told(entry, batch, now)
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
        with transaction.atomic():
            batch = Batch.lock([batch.pk])[batch.pk]
            now = stamp.clock()
            entry = Entry.write(batch, Entry.Kind.CHECK, stamp, now=now, because=because)
            cls.objects.create(entry=entry, **facts)
            strike_if_told(entry, batch, now)
        return entry

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
        with transaction.atomic():
            batch = Batch.lock([batch.pk])[batch.pk]
            now = stamp.clock()
            entry = Entry.write(batch, Entry.Kind.WORK, stamp, now=now)
            cls.objects.create(entry=entry, minutes=minutes)
            strike_if_told(entry, batch, now)
        return entry


class Strike(Detail):
    """Another entry is wrong. It stays readable; what it took from the shelf goes back.

    `target` is the other entry's id and no foreign key: from a phone a strike-out can arrive before what it names, and
    then waits for it.
    """

    entry = models.OneToOneField(Entry, primary_key=True, on_delete=models.PROTECT, related_name="strike")
    target = models.UUIDField(unique=True)
    reason = models.CharField(max_length=200, blank=True, default="")

    class Meta(Detail.Meta):
        constraints = [CheckConstraint(condition=~Q(target=models.F("entry")), name="strike_not_itself")]

    @classmethod
    def log(cls, batch, stamp, *, target, reason=""):
        """Strike out the entry whose id is `target`.

        Raises ValueError for a strike-out, which is not itself struck (log the thing again instead), and for a line
        that is struck out already.
        """
        with transaction.atomic():
            named = Entry.objects.filter(pk=target).first()
            if named is None or named.kind == Entry.Kind.FINISH:
                Run.lock(named.batch.run_id if named else batch.run_id)
            held = named.batch_id if named else batch.pk
            batch = Batch.lock([held])[held]
            # Asked again: while this waited for the pot, the line may have come in, or been struck by somebody else.
            struck = Entry.objects.filter(pk=target).first()
            if struck is not None and struck.batch_id != batch.pk:
                batch = Batch.lock([struck.batch_id])[struck.batch_id]
            if struck is not None and struck.kind == Entry.Kind.STRIKE:
                raise ValueError("A strike-out cannot be struck out. Log the line again instead.")
            if cls.objects.filter(target=target).exists():
                raise ValueError("This line is struck out already.")
            if struck is not None:
                _lock_lot_of(struck)
            now = stamp.clock()
            entry = Entry.write(batch, Entry.Kind.STRIKE, stamp, now=now)
            cls.objects.create(entry=entry, target=target, reason=reason)
            if struck is not None:
                _undo(struck, batch, by=stamp.by, now=now)
                settle_where(batch)
        return entry


def _lock_lot_of(entry):
    addition = Addition.objects.filter(pk=entry.pk).first()
    if addition is not None and addition.lot_id:
        Lot.lock([addition.lot_id])


def strike_if_told(entry, batch, now):
    """A strike-out of this entry may have come before it."""
    early = Strike.objects.filter(target=entry.pk).only("entry").first()
    if early is not None:
        _undo(entry, batch, by=early.entry.by, now=now)


def _undo(entry, batch, *, by, now):
    """What an entry took from the shelf goes back; a struck finish opens the pot again. The batch is locked."""
    addition = Addition.objects.filter(pk=entry.pk).select_related("movement__lot").first()
    if addition is not None and addition.movement is not None:
        addition.movement.take_back(by=by, now=now, why="struck out of the log")
    if entry.kind == Entry.Kind.MOVE:
        move = Move.objects.get(pk=entry.pk)
        if move.what == Move.What.LIQUOR_IN and move.other_batch_id:
            Bath.stop_going_on(batch, move.other_batch)
        elif move.kept_id:
            Bath.keep_no_more(batch, move.kept, by=by, now=now)
    if entry.kind == Entry.Kind.FINISH:
        from .outcome import Finish

        Finish.undo(entry, batch)


def settle_where(batch):
    """Put the yarn where the log says it is, going through its lines in order.

    So a line that comes late counts in its place, and a struck one not at all. The batch is locked. Costs a query.
    """
    if batch.state == State.PLANNED:
        return
    where = Whereabouts.SOAKING
    told = batch.entries.standing().filter(kind__in=["addition", "step", "move", "finish"]).in_order()
    told = told.annotate(outputs=models.Count("finish__outputs"))
    for kind, step, place, outputs in told.values_list("kind", "step__kind", "move__where", "outputs"):
        if kind == Entry.Kind.FINISH:
            # A finish without skeins only says anew how the pot turned out, and moves nothing.
            where = Whereabouts.TO_TAG if outputs else where
        elif kind == Entry.Kind.ADDITION and where == Whereabouts.SOAKING:
            where = Whereabouts.IN_POT
        else:
            where = place or AFTER_STEP.get(step, where)
    batch.go(where)
