"""Runs and batches: a day's work on one colourway, each pot of it, and the yarn in it."""

from django.db import models, transaction
from django.db.models import CheckConstraint, F, Prefetch, Q, UniqueConstraint
from django.utils import timezone

from recipes.models import Hold, Method, Recipe
from studio.models import Lot, Movement, Studio
from studio.models.fields import (
    ExactDecimalField,
    above_zero,
    one_of,
    unknown_or_above_zero,
)

from .index import Stale

STRUCK = "struck out of the log"  # why stock came back, in the ledger


class State(models.TextChoices):
    PLANNED = "planned", "planned"
    RUNNING = "running", "in the pot"
    FINISHED = "finished", "finished"
    ABANDONED = "abandoned", "given up"


class Whereabouts(models.TextChoices):
    """Where the yarn is."""

    SHELF = "shelf", "still on the shelf"
    SOAKING = "soaking", "soaking"
    IN_POT = "in_pot", "in the pot"
    COOLING = "cooling", "cooling"
    RINSING = "rinsing", "rinsing"
    DRYING = "drying", "drying"
    TO_CHECK = "to_check", "to check"
    TO_TAG = "to_tag", "to tag"
    STORED = "stored", "on the shelf"


WAITS = {Whereabouts.TO_CHECK: "waits to be checked", Whereabouts.TO_TAG: "waits for its tags"}  # in a sentence


class RunQuerySet(models.QuerySet):
    def newest_first(self):
        return self.order_by("-day", "-pk")

    def open(self):
        return self.filter(state__in=[State.PLANNED, State.RUNNING])

    def for_rows(self):
        """With all that a row of the journal shows, at a fixed number of queries however many rows."""
        batches = Batch.objects.select_related("vessel").prefetch_related(Prefetch("yarns", BatchYarn.objects.named()))
        shown = self.select_related("colourway", "cover", "cover_photo__entry", "recipe")
        return shown.prefetch_related(Prefetch("batches", batches))


class Run(models.Model):
    """A day's work on one colourway, in one or more pots. Never deleted."""

    code = models.CharField(max_length=12, unique=True)
    colourway = models.ForeignKey(
        "recipes.Colourway", null=True, blank=True, on_delete=models.PROTECT, related_name="runs"
    )
    recipe = models.ForeignKey("recipes.Recipe", null=True, blank=True, on_delete=models.PROTECT, related_name="runs")
    title = models.CharField(
        max_length=120, blank=True, default="", help_text="What to call it while it has no colourway."
    )
    method = models.CharField(max_length=8, choices=Method.choices, default=Method.POT)
    day = models.DateField(help_text="The day it is dyed, or is to be.")
    day_one = models.ForeignKey(
        "self",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="later_days",
        help_text="The run of the first day, where the work was planned over several days.",
    )
    spares = models.PositiveIntegerField(
        default=0,
        help_text="Skeins planned beyond those that are wanted, over all days; said of the first day's run alone.",
    )
    state = models.CharField(max_length=9, choices=State.choices, default=State.PLANNED)
    made_at = models.DateTimeField()
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")
    started_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    note = models.TextField(blank=True, default="")
    why_abandoned = models.CharField(max_length=300, blank=True, default="")
    cover = models.ForeignKey("studio.Picture", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    cover_photo = models.ForeignKey(
        "batches.PhotoTaken",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="The photo that leads; `cover` is it or a crop of it.",
    )
    cover_chosen = models.BooleanField(default=False, help_text="By hand; else it follows the log.")

    objects = RunQuerySet.as_manager()

    class Meta:
        ordering = ["-day", "-pk"]
        indexes = [
            models.Index(fields=["-day", "-id"], name="run_newest"),
            models.Index(fields=["state", "-day"], name="run_state_newest"),
        ]
        constraints = [
            one_of("method", Method.values, name="run_method_known"),
            CheckConstraint(condition=Q(state__in=State.values), name="run_state_known"),
            CheckConstraint(
                condition=~Q(state="running") | Q(started_at__isnull=False), name="run_running_has_started"
            ),
            CheckConstraint(
                condition=~Q(state="finished") | Q(finished_at__isnull=False), name="run_finished_has_an_end"
            ),
            CheckConstraint(
                condition=Q(recipe__isnull=True) | Q(colourway__isnull=False), name="run_recipe_has_colourway"
            ),
            CheckConstraint(condition=Q(day_one__isnull=True) | ~Q(day_one=F("pk")), name="run_not_its_own_day_one"),
            CheckConstraint(condition=Q(day_one__isnull=True) | Q(spares=0), name="run_spares_of_the_first_day"),
            CheckConstraint(
                condition=Q(cover__isnull=True, cover_photo__isnull=True)
                | Q(cover__isnull=False, cover_photo__isnull=False),
                name="run_cover_shows_a_photo",
            ),
            CheckConstraint(
                condition=Q(cover_chosen=False) | Q(cover__isnull=False), name="run_chosen_cover_is_a_picture"
            ),
        ]

    def __str__(self):
        return f"{self.code} {self.name}"

    def save(self, *args, **kwargs):
        super().save(*args, **kwargs)
        Stale.objects.mark(self.pk)

    @property
    def name(self):
        return self.colourway.name if self.colourway_id else self.title or "Not named yet"

    @classmethod
    def plan(cls, *, by, day, pots, clock=timezone.now, **facts):
        """A planned run.

        `pots`: for each pot a dict with its facts, `yarns` (unsaved BatchYarns) and `lines` (unsaved PlanLines). Its
        `recipe` is the run's unless its own is said.
        """
        with transaction.atomic():
            now = clock()
            # Of the year in which it is given: a run written up late must not call an old year's count back.
            code = Studio.next_code(timezone.localtime(now).year)
            run = cls.objects.create(code=code, made_at=now, by=by, day=day, **facts)
            pots = [{"recipe": run.recipe} | pot for pot in pots]
            for recipe in {pot["recipe"] for pot in pots} - {None}:
                recipe.mark_used(now)
            for number, pot in enumerate(pots, 1):
                yarns, lines = pot.pop("yarns", []), pot.pop("lines", [])
                Batch.objects.create(run=run, number=number, **pot).write_plan(yarns, lines)
        return run

    @classmethod
    def lock(cls, pk):
        """The run, locked. A verb that changes a run locks it before its batches."""
        return cls.objects.select_for_update(no_key=True).get(pk=pk)

    @classmethod
    def lock_all(cls, pks):
        """The runs, locked in key order."""
        return list(cls.objects.select_for_update(no_key=True).filter(pk__in=set(pks)).order_by("pk"))

    def start(self, *, by, clock=timezone.now):
        """Begin: the plan is frozen and the yarn leaves the shelf. Starting a started run changes nothing."""
        with transaction.atomic():
            run = Run.lock(self.pk)
            batches = run.lock_batches()
            if run.state != State.PLANNED:
                self.refresh_from_db()
                return
            yarns = list(BatchYarn.objects.filter(batch__run=run).order_by("pk"))
            lots = Lot.lock([yarn.lot_id for yarn in yarns if yarn.lot_id])
            now = clock()
            for yarn in yarns:
                yarn.leave_shelf(lots, by=by, now=now)
            for batch in batches:
                batch.begin(now)
            run.state, run.started_at = State.RUNNING, now
            run.save(update_fields=["state", "started_at"])
        self.refresh_from_db()

    def dye_on(self, day):
        """Plan it for another day. Raises ValueError once it has been started, or was given up."""
        with transaction.atomic():
            run = Run.lock(self.pk)
            if run.state != State.PLANNED:
                raise ValueError("Only a planned run can be moved to another day.")
            run.day = day
            run.save(update_fields=["day"])
        self.refresh_from_db()

    def show(self, photo, picture, *, chosen):
        """Let a photo lead, as `picture`, which is it or a crop of it; None for both: no photo leads. It is locked."""
        self.cover, self.cover_photo, self.cover_chosen = picture, photo, chosen
        self.save(update_fields=["cover", "cover_photo", "cover_chosen"])

    def lock_batches(self):
        """Its batches, locked in key order."""
        return list(Batch.lock(self.batches.values_list("pk", flat=True)).values())

    def abandon(self, *, why, by, clock=timezone.now):
        """Give the run up.

        Yarn that never left the shelf is free again; yarn in a pot is told by a finish as lost or otherwise.
        Giving up a run that was given up changes nothing. Raises ValueError for a finished one.
        """
        with transaction.atomic():
            run = Run.lock(self.pk)
            batches = run.lock_batches()
            if run.state == State.FINISHED:
                raise ValueError("This run is finished. Strike out a finish first if it is not.")
            if run.state != State.ABANDONED:
                now = clock()
                run.state, run.finished_at, run.why_abandoned = State.ABANDONED, now, why
                run.save(update_fields=["state", "finished_at", "why_abandoned"])
                for batch in batches:
                    if batch.state != State.FINISHED:
                        batch.state, batch.finished_at = State.ABANDONED, now
                        batch.save(update_fields=["state", "finished_at"])
        self.refresh_from_db()

    def close_if_all_finished(self, now):
        """The run ends with its last pot. One that was given up stays so."""
        if (
            self.state == State.RUNNING
            and not self.batches.exclude(state__in=[State.FINISHED, State.ABANDONED]).exists()
        ):
            self.state, self.finished_at = State.FINISHED, now
            self.save(update_fields=["state", "finished_at"])


class Batch(models.Model):
    """One pot, jar or table set of a run."""

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="batches")
    number = models.PositiveSmallIntegerField()
    label = models.CharField(
        max_length=60,
        blank=True,
        default="",
        help_text="What sets it apart from the others of its run: 110 % of the red.",
    )
    recipe = models.ForeignKey(
        "recipes.Recipe",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="batches",
        help_text="The version that its plan was worked out from.",
    )
    hold = models.CharField(
        max_length=8,
        choices=Hold.choices,
        default=Hold.TOTAL,
        help_text="What its plan held the depth on.",
    )
    scales = models.CharField(
        max_length=6,
        choices=Recipe.Scales.choices,
        blank=True,
        default="",
        help_text="What its plan followed; empty: as the version says.",
    )
    edition = models.PositiveSmallIntegerField(default=1, help_text="Which writing of its plan counts: the newest.")
    vessel = models.ForeignKey("studio.Vessel", null=True, blank=True, on_delete=models.PROTECT, related_name="batches")
    fibre_g = ExactDecimalField(null=True, blank=True, help_text="Weight of fibre, dry; empty is not known.")
    water_ml = ExactDecimalField(null=True, blank=True, help_text="Planned bath.")
    state = models.CharField(max_length=9, choices=State.choices, default=State.PLANNED)
    where = models.CharField(max_length=8, choices=Whereabouts.choices, default=Whereabouts.SHELF)
    started_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["run", "number"]
        verbose_name_plural = "batches"
        constraints = [
            UniqueConstraint("run", "number", name="batch_number_once"),
            above_zero("number", name="batch_number_above_zero"),
            above_zero("edition", name="batch_edition_above_zero"),
            one_of("hold", Hold.values, name="batch_hold_known"),
            one_of("scales", ["", *Recipe.Scales.values], name="batch_scales_known"),
            unknown_or_above_zero("fibre_g", name="batch_fibre_above_zero"),
            unknown_or_above_zero("water_ml", name="batch_water_above_zero"),
            CheckConstraint(condition=Q(state__in=State.values), name="batch_state_known"),
            CheckConstraint(condition=Q(where__in=Whereabouts.values), name="batch_where_known"),
        ]

    def __str__(self):
        return f"{self.run.code} pot {self.number}"

    @property
    def where_said(self):
        """Where the yarn is, to go on from "the yarn": "is cooling", "waits to be checked"."""
        return WAITS.get(self.where) or f"is {self.get_where_display()}"

    @property
    def pot_name(self):
        """What to call it on a page: its own vessel's name, or its number; with its label, where it has one."""
        return f"{self.vessel_name} ({self.label})" if self.label else self.vessel_name

    @property
    def by_number(self):
        """ "pot 2", "jar 3 (110 % of the red)": as what it is, and by its number, whatever its vessel is called."""
        named = f"{self.vessel.kind if self.vessel_id else 'pot'} {self.number}"
        return f"{named} ({self.label})" if self.label else named

    @property
    def vessel_name(self):
        """The same without its label."""
        if self.vessel_id and self.vessel.how_many == 1:
            named_so = self.number == 1 or self.vessel.name.endswith(f" {self.number}")
            return self.vessel.name if named_so else f"{self.vessel.name} {self.number}"
        return f"{self.vessel.kind.capitalize() if self.vessel_id else 'Pot'} {self.number}"

    @classmethod
    def lock(cls, pks):
        """Batches by key, locked in key order."""
        return {
            batch.pk: batch
            for batch in cls.objects.select_for_update(no_key=True).filter(pk__in=set(pks)).order_by("pk")
        }

    def write_plan(self, yarns, lines):
        """Put the yarn and the amounts of the plan down. Only while the batch is planned."""
        if self.state != State.PLANNED:
            raise ValueError("This pot has been started: its plan stays as it is.")
        for row_of, rows in ((self.yarns, yarns), (self.plan, lines)):
            for position, row in enumerate(rows, 1):
                row.batch, row.position = self, position
            row_of.bulk_create(rows)

    @classmethod
    def replan(cls, plans, *, recipe, hold=Hold.TOTAL, scales="", clock=timezone.now):
        """Write the plans of pots that are still to come anew, as their next edition, worked out from this version.

        `plans`: {Batch as it was read: (planned bath [mL] or None, unsaved PlanLines)}. `hold` and `scales`: what they
        were worked out by, as a pot keeps it. What was done of the old plan by then, such as a soak or the water, is
        left out of the new one. Raises ValueError where a pot is begun or over, or was planned anew since it was read.
        """
        with transaction.atomic():
            runs = {read.run_id for read in plans}
            Run.lock_all(runs)
            batches = cls.lock([read.pk for read in plans])
            Lot.lock({line.lot_id for _, lines in plans.values() for line in lines if line.lot_id})
            now = clock()
            for read, (water_ml, lines) in plans.items():
                batch = batches[read.pk]
                if batch.state not in (State.PLANNED, State.RUNNING) or batch.entries.that_begin().exists():
                    raise ValueError(f"{read.pot_name} was begun meanwhile: look at the pots still to come again.")
                if batch.edition != read.edition:
                    raise ValueError(f"{read.pot_name} was planned anew meanwhile: look at its plan as it is now.")
                batch.recipe, batch.water_ml, batch.hold, batch.scales = recipe, water_ml, hold, scales
                batch._write_anew(lines)
            recipe.mark_used(now)
            Stale.objects.mark(*runs)

    def _write_anew(self, lines):
        """The next edition of its plan, of which it knows all but the lines. The batch is locked."""
        done = list(self.plan.all().with_done().filter(done=True).order_by("position"))
        self.edition += 1
        self.save(update_fields=["edition", "recipe", "water_ml", "hold", "scales"])
        if self.water_ml is not None and not any(line.water for line in done):
            self.baths.filter(end="", continues__isnull=True).update(water_ml=self.water_ml)
        anew = []
        for position, line in enumerate(lines, 1):
            same = next((old for old in done if line.is_the_same_act(old)), None)
            if same is not None:
                done.remove(same)
                continue
            line.batch, line.position, line.edition = self, position, self.edition
            anew.append(line)
        self.plan.bulk_create(anew)

    def begin(self, now):
        """The pot is started: its yarn is wet from here on, and a first bath is there without being asked for."""
        self.state, self.started_at, self.where = State.RUNNING, now, Whereabouts.SOAKING
        self.save(update_fields=["state", "started_at", "where"])
        self.baths.create(vessel=self.vessel, water_ml=self.water_ml, began_at=now)

    def close(self, now):
        self.state, self.finished_at = State.FINISHED, now
        self.save(update_fields=["state", "finished_at"])

    def reopen(self):
        self.state, self.finished_at = State.RUNNING, None
        self.save(update_fields=["state", "finished_at"])

    def go(self, where):
        """The yarn is somewhere else now."""
        if self.where != where:
            self.where = where
            self.save(update_fields=["where"])

    def weigh(self):
        """Take the weight of fibre from its yarns, now that more is known of them. The batch is locked."""
        weights = list(self.yarns.values_list("grams", flat=True))
        self.fibre_g = None if None in weights else sum(weights)
        self.save(update_fields=["fibre_g"])

    def bath_now(self):
        """The bath that additions go into, by its keys alone. Costs a query."""
        return self.baths.order_by("-began_at", "-pk").only("batch").first()


class BatchYarnQuerySet(models.QuerySet):
    def named(self):
        return self.select_related(
            "lot__base", "output__yarn__lot__base", "output__yarn__base", "output__yarn__batch__run__colourway", "base"
        )

    def promised(self):
        """Yarn that plans have spoken for and that is still on the shelf."""
        return self.filter(batch__run__state=State.PLANNED, lot__isnull=False)


class BatchYarn(models.Model):
    """Yarn in a pot. Several bases in one pot are several rows: finish, cost and tags go by row."""

    class Source(models.TextChoices):
        LOT = "lot", "From the shelf"
        OUTPUT = "output", "Dyed, prepared or stripped before"
        CUSTOMER = "customer", "A customer's own"
        UNLABELLED = "unlabelled", "Without a label"

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="yarns")
    position = models.PositiveSmallIntegerField()
    source = models.CharField(max_length=10, choices=Source.choices)
    lot = models.ForeignKey("studio.Lot", null=True, blank=True, on_delete=models.PROTECT, related_name="batch_yarns")
    output = models.ForeignKey(
        "batches.Output", null=True, blank=True, on_delete=models.PROTECT, related_name="dyed_again"
    )
    words = models.CharField(
        max_length=120,
        blank=True,
        default="",
        help_text="The customer, or what an unlabelled yarn looks like.",
    )
    base = models.ForeignKey("studio.Base", null=True, blank=True, on_delete=models.PROTECT, related_name="batch_yarns")
    skeins = models.PositiveIntegerField(null=True, blank=True)
    grams = ExactDecimalField(null=True, blank=True, help_text="Dry; empty is not known.")
    skein_g = ExactDecimalField(null=True, blank=True)
    skein_m = ExactDecimalField(null=True, blank=True)
    movement = models.OneToOneField(
        "studio.Movement", null=True, blank=True, on_delete=models.PROTECT, related_name="batch_yarn"
    )

    objects = BatchYarnQuerySet.as_manager()

    class Meta:
        ordering = ["position"]
        constraints = [
            UniqueConstraint("batch", "position", name="batch_yarn_position_once"),
            CheckConstraint(
                condition=Q(source="lot", lot__isnull=False, output__isnull=True)
                | Q(source="output", lot__isnull=True, output__isnull=False)
                | Q(source__in=["customer", "unlabelled"], lot__isnull=True, output__isnull=True) & ~Q(words=""),
                name="batch_yarn_one_source",
            ),
            CheckConstraint(
                condition=~Q(source="lot") | Q(grams__isnull=False, grams__gt=0),
                name="batch_yarn_shelf_yarn_has_weight",
            ),
            unknown_or_above_zero("grams", name="batch_yarn_weight_above_zero"),
            unknown_or_above_zero("skein_g", name="batch_yarn_skein_above_zero"),
            CheckConstraint(condition=Q(movement__isnull=True) | Q(source="lot"), name="batch_yarn_only_lots_move"),
        ]

    def __str__(self):
        if self.skeins and self.known_base is None:
            return f"{self.skeins} skein{'' if self.skeins == 1 else 's'}: {self.name}"
        return f"{self.skeins or ''} {self.name}".strip()

    @property
    def name(self):
        """The base's name, or the words for a yarn that has none."""
        base = self.known_base
        if base is None:
            return self.words
        return f"{base.name} ({self.words})" if self.source == self.Source.CUSTOMER else base.name

    @property
    def came_from(self):
        """The earlier run that these skeins came out of, or None."""
        return self.output.yarn.batch.run if self.output_id else None

    @property
    def known_base(self):
        if self.base_id:
            return self.base
        if self.lot_id:
            return self.lot.base
        if self.output_id:
            return self.output.yarn.known_base
        return None

    def turn_out_to_be(self, lot, skeins, *, by, clock=timezone.now):
        """Say which yarn lot an unlabelled yarn was, once somebody knows: it leaves the shelf as of the start.

        Raises ValueError when the yarn has been said already.
        """
        with transaction.atomic():
            batch = Batch.lock([self.batch_id])[self.batch_id]
            lots = Lot.lock([lot.pk])
            now = clock()
            self.refresh_from_db()
            if self.source != self.Source.UNLABELLED:
                raise ValueError("Which yarn this is has been said already.")
            lot = lots[lot.pk]
            self.source, self.lot, self.base_id, self.words = self.Source.LOT, lot, lot.base_id, ""
            self.skeins, self.grams = skeins, lot.skein_g * skeins
            self.skein_g, self.skein_m = lot.skein_g, lot.skein_m
            if batch.started_at is not None:
                self.movement = Movement.use(lot, self.grams, at=batch.started_at, by=by, now=now)
            self.save()
            batch.weigh()
            Stale.objects.mark(batch.run_id)

    def turn_out_to_be_of(self, base, skeins):
        """Say which base an unlabelled yarn is, though no lot of the shelf has it: so it can be tagged.

        What it was said to weigh stays; otherwise it is so many skeins of the base. Raises ValueError when the yarn is
        from a lot.
        """
        with transaction.atomic():
            batch = Batch.lock([self.batch_id])[self.batch_id]
            self.refresh_from_db()
            if self.source != self.Source.UNLABELLED:
                raise ValueError("Which yarn this is has been said already.")
            self.base, self.skeins = base, skeins
            self.grams = self.grams or base.skein_g * skeins
            self.skein_g, self.skein_m = self.grams / skeins, base.skein_m
            self.save()
            batch.weigh()
            Stale.objects.mark(batch.run_id)

    def leave_shelf(self, lots, *, by, now):
        """Take the yarn out of its lot. The lots are locked already."""
        if self.lot_id:
            self.movement = Movement.use(lots[self.lot_id], self.grams, at=now, by=by, now=now)
            self.save(update_fields=["movement"])
