"""The journal's index, as a book has one: where each word stands, and what is shown of a run that is found.

It holds nothing of its own: `batches.indexing` makes all of it from the record, and can make it anew. A set of runs is
kept as a row of bits, so that "all of these words" is one AND, and how many there are is known without reading a run.
"""

from django.db import models
from django.db.models import CheckConstraint, Q, UniqueConstraint

from studio.models.fields import ExactDecimalField, unknown_or_not_negative


class Index(models.Model):
    """The index as a whole: one row, locked by whoever brings it up to date, and made with the first run in it."""

    rules = models.PositiveSmallIntegerField(help_text="Which rules its words were made by; others make it stale.")
    runs = models.PositiveIntegerField(default=0, help_text="How many places were given to runs.")
    lots = models.PositiveIntegerField(default=0, help_text="How many lots are in it.")

    class Meta:
        verbose_name_plural = "indexes"

    def __str__(self):
        return "index"


class StaleQuerySet(models.QuerySet):
    def mark(self, *runs):
        """These runs (keys) have changed. Waits for nobody, and nobody for it: each mark is a row of its own."""
        for run in runs:
            self.create(run_id=run)


class Stale(models.Model):
    """A run that has changed since it was put into the index."""

    run = models.ForeignKey("batches.Run", on_delete=models.CASCADE, related_name="+", db_index=False)

    objects = StaleQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "stale"

    def __str__(self):
        return f"run {self.run_id}"


class IndexYear(models.Model):
    """The runs of a year in the order of their days: see `batches.bits.Year`."""

    year = models.PositiveSmallIntegerField(primary_key=True)
    days = models.BinaryField()
    runs = models.BinaryField()
    places = models.BinaryField()

    def __str__(self):
        return str(self.year)


class IndexWord(models.Model):
    """Where something stands: a word, the beginning of one, a dye, a method, a year.

    `word` is UTF-8, as bytes sort alike in every database. `runs` are the places of runs, and `lots` the keys of lots,
    as rows of bits, the least first.
    """

    word = models.BinaryField()
    runs = models.BinaryField(default=b"")
    lots = models.BinaryField(default=b"")

    class Meta:
        constraints = [UniqueConstraint("word", name="index_word_once")]

    def __str__(self):
        return bytes(self.word).decode()


class IndexCard(models.Model):
    """What is shown of a run that was found, and what stands in the index for it."""

    run = models.OneToOneField("batches.Run", primary_key=True, on_delete=models.CASCADE, related_name="card")
    place = models.PositiveIntegerField(help_text="Which bit is its own, in every set of the index.")
    day = models.DateField()
    words = models.TextField(help_text="All that the index holds for it, a line each.")
    lines = models.TextField(blank=True, default="", help_text="What its people wrote, a line each.")
    folded = models.TextField(blank=True, default="", help_text="The same lines, folded.")
    whereabouts = models.CharField(max_length=200, blank=True, default="", help_text="Where its yarn is, in words.")
    skeins = models.PositiveIntegerField(null=True, blank=True)
    firsts = models.PositiveIntegerField(default=0)
    seconds = models.PositiveIntegerField(default=0)

    class Meta:
        indexes = [models.Index(fields=["place"], name="index_card_place")]

    def __str__(self):
        return f"card of run {self.run_id}"

    def entries(self):
        """The keys of what stands in the index for it."""
        return self.words.encode().split(b"\n")


class IndexPart(models.Model):
    """A dye of a card's colour bar, in the bar's order; or one of its yarns: a base, its own words, or both."""

    card = models.ForeignKey(IndexCard, on_delete=models.CASCADE, related_name="parts")
    position = models.PositiveSmallIntegerField()
    dye = models.ForeignKey("studio.Dye", null=True, blank=True, on_delete=models.CASCADE, related_name="+")
    base = models.ForeignKey("studio.Base", null=True, blank=True, on_delete=models.CASCADE, related_name="+")
    words = models.CharField(max_length=120, blank=True, default="")
    grams = ExactDecimalField(places=6, null=True, blank=True)
    unweighed = models.BooleanField(default=False)

    class Meta:
        ordering = ["card", "position"]
        constraints = [
            UniqueConstraint("card", "position", name="index_part_position_once"),
            CheckConstraint(
                condition=Q(dye__isnull=False, base__isnull=True, words="")
                | Q(dye__isnull=True, base__isnull=False)
                | Q(dye__isnull=True, base__isnull=True) & ~Q(words=""),
                name="index_part_dye_or_yarn",
            ),
            unknown_or_not_negative("grams", name="index_part_grams_not_negative"),
        ]

    def __str__(self):
        return f"{self.dye_id or self.base_id or self.words}"
