"""Short things said of a batch: a painted skein is done, a spoken note, an answer to what the evening asks."""

from django.db import models
from django.db.models import CheckConstraint, Q

from studio.models.fields import one_of, unknown_or_above_zero

from .log import Detail, Entry


class SkeinDone(Detail):
    """A painted skein is done. With its photo, this is its record: what went where on it shows there."""

    entry = models.OneToOneField(Entry, primary_key=True, on_delete=models.PROTECT, related_name="skein_done")
    number = models.PositiveSmallIntegerField(null=True, blank=True, help_text="Which skein, counted from 1.")

    class Meta(Detail.Meta):
        verbose_name = "skein done"
        verbose_name_plural = "skeins done"
        constraints = [unknown_or_above_zero("number", name="skein_done_number_above_zero")]

    @classmethod
    def log(cls, batch, stamp, *, number=None):
        return cls.enter(batch, stamp, Entry.Kind.SKEIN, number=number)


class Talk(Detail):
    """A spoken note, kept as a file. What was said is for ears; the entry's words may sum it up."""

    entry = models.OneToOneField(Entry, primary_key=True, on_delete=models.PROTECT, related_name="talk")
    sound = models.ForeignKey("studio.Sound", on_delete=models.PROTECT, related_name="heard_in")

    class Meta(Detail.Meta):
        verbose_name = "spoken note"

    @classmethod
    def log(cls, batch, stamp, *, sound):
        return cls.enter(batch, stamp, Entry.Kind.TALK, sound=sound)


class Answer(Detail):
    """What somebody said when the evening asked about an entry: each thing is asked once.

    "Don't know" is an answer. `about` is the entry that was asked about; for a photo, `line` is the one it belongs to.
    A planned line that nobody ticked has no entry: then the answer's own entry names the line.
    """

    class Question(models.TextChoices):
        PHOTO = "photo", "What does this photo show?"
        AMOUNT = "amount", "How much was it?"
        END = "end", "When was it over?"
        LONG = "long", "How long was it?"
        WHERE = "where", "Where is the yarn now?"
        LINE = "line", "Did it go in?"

    entry = models.OneToOneField(Entry, primary_key=True, on_delete=models.PROTECT, related_name="answer")
    question = models.CharField(max_length=6, choices=Question.choices)
    about = models.ForeignKey(Entry, null=True, blank=True, on_delete=models.PROTECT, related_name="answers")
    line = models.ForeignKey(Entry, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    known = models.BooleanField(help_text="Empty: nobody knows.")

    class Meta(Detail.Meta):
        constraints = [
            one_of("question", ["photo", "amount", "end", "long", "where", "line"], name="answer_question_known"),
            CheckConstraint(
                condition=Q(about__isnull=False) & ~Q(question="line") | Q(about__isnull=True, question="line"),
                name="answer_about_an_entry",
            ),
            CheckConstraint(condition=Q(line__isnull=True) | Q(question="photo"), name="answer_line_of_a_photo"),
        ]

    @classmethod
    def log(cls, batch, stamp, *, question, about=None, line=None, plan_line=None, known=True):
        """Raises ValueError for a planned line of another pot."""
        facts = {"question": question, "about": about, "line": line, "known": known}
        return cls.enter(batch, stamp, Entry.Kind.ANSWER, names={"plan_line": plan_line}, **facts)
