"""A new powder lot tested beside the standard: samples at several percents of a dye, and which of them matched."""

from django.db import models, transaction
from django.db.models import CheckConstraint, F, Q
from django.utils import timezone

from recipes import dyeing
from studio.models import Kept, Lot, LotCorrection
from studio.models.fields import ExactDecimalField
from studio.units import write_pct

from .log import Entry
from .run import Batch, Run


class StrengthTest(Kept):
    """A run of samples that was planned to find out how strong a powder lot is.

    The lot is taken for 100 % strong in it, whatever it was said to be: a sample of 110 % got 110 g of it where the
    version asks for 100 g.
    """

    run = models.OneToOneField(Run, primary_key=True, on_delete=models.PROTECT, related_name="strength_test")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="strength_tests")
    before_pct = ExactDecimalField(help_text="What its strength was said to be before.")
    beside = models.ForeignKey(
        Run,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="tested_against",
        help_text="The run whose kept snippet is the colour to match; empty: there is none.",
    )

    class Meta(Kept.Meta):
        verbose_name = "strength test"
        constraints = [
            CheckConstraint(
                condition=Q(before_pct__isnull=False, before_pct__gt=0, before_pct__lte=400),
                name="strength_test_before_sensible",
            ),
            CheckConstraint(
                condition=Q(beside__isnull=True) | ~Q(beside=F("run")), name="strength_test_not_beside_itself"
            ),
        ]

    def __str__(self):
        return f"Strength of {self.lot} in {self.run}"

    @classmethod
    def of_run(cls, run, *, lot, before_pct, percents, beside=None):
        """The test that a planned run of samples is. `percents`: {Batch: percent of the dye that it gets}."""
        with transaction.atomic():
            test = cls.objects.create(run=run, lot=lot, before_pct=before_pct, beside=beside)
            for batch, percent in percents.items():
                Rung.objects.create(test=test, batch=batch, pct=percent)
        return test

    @property
    def dyed(self):
        """Whether any of its samples has been begun. Costs a query."""
        return Entry.objects.that_begin().filter(batch__rung__test=self).exists()

    def say(self, *, by, low=None, high=None, hue="", clock=timezone.now):
        """Say which sample matched: `low`, or something between `low` and `high`; neither: none of them did.

        It corrects the lot's strength, with the run as its reason. Said again, the newest counts; that none matched
        puts back what an earlier word of this test had changed. `hue`: how the lot's hue differs, in words, which
        corrects nothing. Raises ValueError where the samples have not been dyed, or a match makes no sense of a powder.
        """
        with transaction.atomic():
            run = Run.lock(self.run_id)
            if not self.dyed:
                raise ValueError("No dye went into these samples yet: log it, and compare them when they are dry.")
            lot = Lot.lock([self.lot_id])[self.lot_id]
            now = clock()
            pct = self._strength(low, high)
            if pct is None and self.matches.filter(low__isnull=False).exists():
                pct = self.before_pct
            correction = None
            if pct is not None or hue:
                why = f"Test {run.code}: {said_of(low, high)}."
                correction = lot.correct(by=by, strength_pct=pct, hue=hue, why=why, clock=lambda: now)
            return Match.objects.create(test=self, low=low, high=high, correction=correction, at=now, by=by)

    def _strength(self, low, high):
        if low is None:
            return None
        matched = low.pct if high is None else (low.pct + high.pct) / 2
        strength = dyeing.matched_strength_pct(matched)
        if strength > dyeing.STRONGEST_LOT_PCT:
            raise ValueError(
                f"That would make the lot more than {dyeing.STRONGEST_LOT_PCT} % strong: look again which one matches."
            )
        return LotCorrection._meta.get_field("strength_pct").rounded(strength)


def said_of(low, high):
    """ "110 % matches", "between 100 % and 110 %", "none matches"."""
    if low is None:
        return "none matches"
    return (
        f"{write_pct(low.pct)} matches" if high is None else f"between {write_pct(low.pct)} and {write_pct(high.pct)}"
    )


class Rung(Kept):
    """One sample of a strength test: so many percent of what the version says of the dye."""

    batch = models.OneToOneField(Batch, primary_key=True, on_delete=models.PROTECT, related_name="rung")
    test = models.ForeignKey(StrengthTest, on_delete=models.PROTECT, related_name="rungs")
    pct = ExactDecimalField()

    class Meta(Kept.Meta):
        ordering = ["pct"]
        constraints = [CheckConstraint(condition=Q(pct__isnull=False, pct__gt=0), name="rung_above_zero")]

    def __str__(self):
        return write_pct(self.pct)


class Match(Kept):
    """What somebody said of a strength test, the samples dry beside the standard. The newest of a test counts."""

    test = models.ForeignKey(StrengthTest, on_delete=models.PROTECT, related_name="matches")
    low = models.ForeignKey(Rung, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    high = models.ForeignKey(Rung, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    correction = models.OneToOneField(
        LotCorrection, null=True, blank=True, on_delete=models.PROTECT, related_name="match"
    )
    at = models.DateTimeField()
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")

    class Meta(Kept.Meta):
        verbose_name_plural = "matches"
        ordering = ["at", "pk"]
        constraints = [
            CheckConstraint(condition=Q(high__isnull=True) | Q(low__isnull=False), name="match_between_two"),
            CheckConstraint(condition=Q(high__isnull=True) | ~Q(high=F("low")), name="match_two_different"),
            CheckConstraint(condition=Q(low__isnull=True) | Q(correction__isnull=False), name="match_corrects_the_lot"),
        ]

    def __str__(self):
        return said_of(self.low, self.high)

    @property
    def words(self):
        return said_of(self.low, self.high)

    @property
    def strength_pct(self):
        """What the lot's strength was put to; None where it was left alone."""
        return self.correction.strength_pct if self.correction_id else None


def bracket(rungs):
    """[(Rung, Rung)] of neighbours, the paler first."""
    ordered = sorted(rungs, key=lambda rung: rung.pct)
    return list(zip(ordered, ordered[1:], strict=False))
