"""What came out of a batch, and what it is worth doing again."""

from uuid import uuid5

from django.db import models, transaction
from django.db.models import CheckConstraint, Exists, OuterRef, Q

from studio.models import Kept
from studio.models.fields import ExactDecimalField, KeptQuerySet, above_zero, unknown_or_above_zero

from .log import TO_SELL, Detail, Entry, Stamp, Strike, settle_where, strike_if_told
from .run import Batch, BatchYarn, Run, State


class Verdict(models.TextChoices):
    NOT_SAID = "", "Not judged yet"
    STANDARD = "standard", "This is the colour to match"
    AS_GOOD = "as_good", "As good as the colour to match"
    SELL = "sell", "Sell, but don't repeat"
    NEVER = "never", "Never again"


class Finish(Detail):
    """The end of a pot, or skeins of it that were finished on a later day."""

    entry = models.OneToOneField(Entry, primary_key=True, on_delete=models.PROTECT, related_name="finish")
    verdict = models.CharField(max_length=8, choices=Verdict.choices, blank=True, default="")
    next_time = models.TextField(blank=True, default="")
    snippet = models.CharField(max_length=120, blank=True, default="", help_text="Where the kept snippet is.")
    pots_match = models.BooleanField(null=True, blank=True, help_text="Empty: not asked, or one pot only.")
    why_off = models.CharField(max_length=300, blank=True, default="", help_text="Why in and out do not tally.")

    class Meta(Detail.Meta):
        verbose_name_plural = "finishes"
        constraints = [CheckConstraint(condition=Q(verdict__in=Verdict.values), name="finish_verdict_known")]

    @classmethod
    def log(cls, batch, stamp, *, outputs, verdict="", next_time="", snippet="", pots_match=None, why_off=""):
        """Finish a pot, or add what came out later. `outputs`: unsaved Outputs.

        With no outputs, for a pot that is finished already, it only says anew what the pot was judged to be. Raises
        ValueError when in and out do not tally and `why_off` says nothing, when the pot was never started, and when a
        skein is of another pot's yarn.
        """
        with transaction.atomic():
            # The run first: its end follows from its pots', and two phones may finish two pots at once.
            run = Run.lock(batch.run_id)
            batch = Batch.lock([batch.pk])[batch.pk]
            now = stamp.clock()
            if batch.state == State.PLANNED:
                raise ValueError("This pot has not been started. Start it first, so that its yarn leaves the shelf.")
            if any(output.yarn.batch_id != batch.pk for output in outputs):
                raise ValueError("One of these yarns went into another pot. Finish that pot with it.")
            if outputs or batch.state != State.FINISHED:
                _refuse_untold(batch, outputs, why_off)
            entry = Entry.write(batch, Entry.Kind.FINISH, stamp, now=now)
            finish = cls.objects.create(
                entry=entry,
                verdict=verdict,
                next_time=next_time,
                snippet=snippet,
                pots_match=pots_match,
                why_off=why_off,
            )
            for output in outputs:
                output.finish = finish
                output.save()
            if batch.state == State.RUNNING:
                batch.close(now)
                run.close_if_all_finished(now)
            strike_if_told(entry, batch, now)
            settle_where(batch)
        return entry

    @classmethod
    def log_of_pots(cls, batches, *, by, together, outputs, **said):
        """Finish by one touch every pot of a run that something came out of.

        With no outputs, of pots that are all finished, it says anew what each was judged to be. `together`: the UUID of
        the touch; `outputs` and `said` are as for `log`, which may refuse any of them, and then none is finished.
        """
        if not outputs and any(batch.state != State.FINISHED for batch in batches):
            raise ValueError("Say how many skeins came out of at least one pot.")
        with transaction.atomic():
            for batch in sorted(batches, key=lambda batch: batch.pk):
                out = [output for output in outputs if output.yarn.batch_id == batch.pk]
                if out or not outputs:
                    stamp = Stamp(by=by, id=uuid5(together, str(batch.pk)), together=together)
                    cls.log(batch, stamp, outputs=out, **said)

    def undo(self, batch, *, by, now):
        """Unless another finish stands, the pot and its run are open again. Both are locked."""
        if batch.state != State.FINISHED:
            return
        others = Entry.objects.standing().filter(batch=batch, kind=Entry.Kind.FINISH).exclude(pk=self.pk)
        if self.outputs.exists():
            others = others.filter(finish__outputs__isnull=False)
        if others.exists():
            return
        batch.reopen()
        run = Run.lock(batch.run_id)
        if run.state == State.FINISHED:
            run.state, run.finished_at = State.RUNNING, None
            run.save(update_fields=["state", "finished_at"])


class OutputQuerySet(KeptQuerySet):
    def standing(self):
        """Outputs of finishes that nobody struck out."""
        # Asked of each output by itself: a list of all standing entries would grow with the studio's years.
        return self.exclude(Exists(Strike.objects.filter(target=OuterRef("finish"))))


def tally(batch, outputs=()):
    """[(BatchYarn, skeins in, skeins out)] of a batch, with these new outputs added to what stands.

    Skeins in are None for a yarn that was never counted.
    """
    rows = []
    stood = list(Output.objects.standing().filter(yarn__batch=batch))
    for yarn in batch.yarns.named():
        out = sum(output.skeins for output in [*stood, *outputs] if output.yarn_id == yarn.pk)
        rows.append((yarn, yarn.skeins, out))
    return rows


def _refuse_untold(batch, outputs, why_off):
    if why_off:
        return
    off = [
        (yarn, went_in, out) for yarn, went_in, out in tally(batch, outputs) if went_in is not None and went_in != out
    ]
    if off:
        said = "; ".join(f"{yarn.name}: {went_in} went in, {out} came out" for yarn, went_in, out in off)
        raise ValueError(f"{said}. Put the numbers right, or say why they differ.")


class Output(Kept):
    """Skeins that came out, alike in yarn and grade."""

    class Grade(models.TextChoices):
        FIRST = "first", "First"
        SECOND = "second", "Second"
        SAMPLE = "sample", "Sample or snippet"
        AGAIN = "again", "To be dyed again"
        PREPARED = "prepared", "Prepared (mordanted or undyed)"
        LOST = "lost", "Lost or spoilt"
        CUSTOMER = "customer", "Back to the customer"

    SELLABLE = tuple(map(Grade, TO_SELL))
    OF_MANY = {Grade.FIRST: "firsts", Grade.SECOND: "seconds", Grade.SAMPLE: "samples or snippets"}

    finish = models.ForeignKey(Finish, on_delete=models.PROTECT, related_name="outputs")
    yarn = models.ForeignKey(BatchYarn, on_delete=models.PROTECT, related_name="outputs")
    grade = models.CharField(max_length=8, choices=Grade.choices)
    skeins = models.PositiveIntegerField()
    skein_g = ExactDecimalField(null=True, blank=True)
    skein_m = ExactDecimalField(null=True, blank=True)
    name = models.CharField(
        max_length=80, blank=True, default="", help_text="A name of its own, where it is not the colourway's."
    )

    objects = OutputQuerySet.as_manager()

    class Meta(Kept.Meta):
        ordering = ["pk"]
        constraints = [
            above_zero("skeins", name="output_some_skeins"),
            CheckConstraint(
                condition=Q(grade__in=["first", "second", "sample", "again", "prepared", "lost", "customer"]),
                name="output_grade_known",
            ),
            unknown_or_above_zero("skein_g", name="output_skein_weight_above_zero"),
            unknown_or_above_zero("skein_m", name="output_skein_length_above_zero"),
        ]

    def __str__(self):
        return f"{self.skeins} {self.get_grade_display().lower()} {self.yarn.name}"

    @property
    def known_skein_g(self):
        """What a skein weighs [g]: as it was weighed, else as its yarn is said to; None where nobody knows."""
        return self.skein_g or self.yarn.skein_g or (self.yarn.lot.skein_g if self.yarn.lot_id else None)

    @property
    def known_skein_m(self):
        """How long a skein is [m], likewise."""
        return self.skein_m or self.yarn.skein_m or (self.yarn.lot.skein_m if self.yarn.lot_id else None)

    @property
    def sellable(self):
        return self.grade in self.SELLABLE
