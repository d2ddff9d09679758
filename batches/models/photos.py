"""Photographs in the log, and which of them leads a run.

A dry photo shows the colour; a wet one is darker and deeper than the yarn will ever be again. So the newest dry photo
leads a run unless somebody chose another, and where there is none the colour bar does.
"""

from django.db import models, transaction
from django.db.models import OuterRef, Subquery

from studio.models.fields import one_of

from .log import Detail, DetailQuerySet, Entry, strike_if_told
from .run import Batch, Run, Whereabouts


class PhotoQuerySet(DetailQuerySet):
    def of_run(self, run):
        return self.filter(entry__batch__run=run)

    def newest_of_yarn(self, runs):
        """{run id: the newest standing photo of its yarn, wet or dry, with its picture and entry}. One query."""
        newest = self.standing().filter(entry__batch__run=OuterRef("pk"), stage__in=PhotoTaken.OF_THE_YARN)
        newest = newest.order_by("-entry__at", "-entry__received_at", "-entry").values("pk")[:1]
        keys = Run.objects.filter(pk__in=[run.pk for run in runs]).annotate(newest=Subquery(newest)).values("newest")
        found = self.filter(pk__in=keys).select_related("picture", "entry__batch")
        return {photo.entry.batch.run_id: photo for photo in found}

    def dry_first(self):
        """Those that may lead without being chosen, the best first. A wet one never does."""
        dry = self.standing().filter(stage=PhotoTaken.Stage.DRY)
        return dry.order_by("-entry__at", "-entry__received_at", "-entry")


class PhotoTaken(Detail):
    """A photograph of the batch. Several entries may show the same picture: one for each pot in it."""

    class Stage(models.TextChoices):
        BEFORE = "before", "Before dyeing"
        WET = "wet", "Wet"
        DRY = "dry", "Dry"
        BATH = "bath", "The bath"
        CLOTH = "cloth", "A white cloth"
        PAPER = "paper", "A page of notes"

    # Of these the colour bar says what the colour is made of.
    OF_THE_YARN = (Stage.WET, Stage.DRY)

    entry = models.OneToOneField(Entry, primary_key=True, on_delete=models.PROTECT, related_name="photo")
    picture = models.ForeignKey("studio.Picture", on_delete=models.PROTECT, related_name="shown_in")
    stage = models.CharField(max_length=6, choices=Stage.choices, default=Stage.WET)
    about = models.ForeignKey(Entry, null=True, blank=True, on_delete=models.PROTECT, related_name="photos")

    objects = PhotoQuerySet.as_manager()

    class Meta(Detail.Meta):
        verbose_name = "photo"
        constraints = [
            one_of("stage", ["before", "wet", "dry", "bath", "cloth", "paper"], name="photo_stage_known"),
        ]

    @property
    def stage_words(self):
        """The stage inside a sentence."""
        return self.get_stage_display().lower()

    @classmethod
    def usual_stage(cls, where):
        """What a photo most likely shows while the yarn is there."""
        if where in (Whereabouts.SHELF, Whereabouts.SOAKING):
            return cls.Stage.BEFORE
        dry = (Whereabouts.TO_CHECK, Whereabouts.TO_TAG, Whereabouts.STORED)
        return cls.Stage.DRY if where in dry else cls.Stage.WET

    @classmethod
    def log(cls, batch, stamp, *, picture, stage, about=None):
        """Show a picture in the log. A dry one leads the run unless another was chosen."""
        with transaction.atomic():
            run = Run.lock(batch.run_id)
            batch = Batch.lock([batch.pk])[batch.pk]
            now = stamp.clock()
            entry = Entry.write(batch, Entry.Kind.PHOTO, stamp, now=now)
            cls.objects.create(entry=entry, picture=picture, stage=stage, about=about)
            cls.settle_cover(run)
            strike_if_told(entry, batch, now)
        return entry

    def undo(self, batch, *, by, now):
        """The next best leads where this one led. The run and the batch are locked."""
        self.settle_cover(Run.lock(batch.run_id))

    def lead(self, crop=None):
        """This photo leads its run from here on, chosen by hand: as `crop`, else as it was last cropped, else whole.

        Raises ValueError when it was struck out, and when `crop` is of another picture.
        """
        with transaction.atomic():
            run = Run.lock(Run.objects.get(batches__entries=self.pk).pk)
            if not type(self).objects.standing().filter(pk=self.pk).exists():
                raise ValueError("That photo is not in this run's log any more: choose another.")
            if crop is not None and crop.crop_of_id != self.picture_id:
                raise ValueError("That crop is of another photo: crop this one.")
            run.show(self, crop or self.picture.as_last_crop(), chosen=True)
        return run

    @classmethod
    def settle_cover(cls, run):
        """Let the right photo lead: the chosen one while it stands, else the newest dry one, else none.

        Nothing else sets a cover that nobody chose. The run is locked.
        """
        photos = cls.objects.of_run(run).select_related("picture")
        if run.cover_chosen:
            # The picture may be shown in several pots: it leads while one of those lines stands.
            same = photos.standing().filter(picture=run.cover_photo.picture_id).order_by("entry__at", "entry").first()
            if same is not None:
                if same.pk != run.cover_photo_id:
                    run.show(same, run.cover, chosen=True)
                return
        best = photos.dry_first().first()
        if best is None or best.pk != run.cover_photo_id:
            run.show(best, best.picture.as_last_crop() if best else None, chosen=False)
