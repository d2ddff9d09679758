"""Lots: everything bought or made. One delivery line, or one bottle, is one lot with one cost."""

from collections import defaultdict
from decimal import Decimal

from django.db import models, transaction
from django.db.models import CheckConstraint, Exists, OuterRef, Q, Subquery, Sum, Value
from django.db.models.functions import Coalesce
from django.urls import reverse
from django.utils import timezone

from studio.naming import lot_number

from .fields import (
    ExactDecimalField,
    Kept,
    KeptQuerySet,
    above_zero,
    exactly_one,
    unknown_or_above_zero,
    unknown_or_not_negative,
)
from .ledger import Movement

HUNDRED = Decimal(100)


class Delivery(Kept):
    """Goods that came together, and what was paid for carriage and duty on top of their prices."""

    supplier = models.CharField(max_length=120, blank=True, default="")
    reference = models.CharField(max_length=80, blank=True, default="", help_text="Invoice or order number.")
    came_at = models.DateTimeField()
    extras_minor = models.BigIntegerField(
        default=0, help_text="Carriage and duty, in minor units, shared over the lots by value."
    )
    recorded_at = models.DateTimeField()
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")

    class Meta(Kept.Meta):
        verbose_name_plural = "deliveries"
        constraints = [CheckConstraint(condition=Q(extras_minor__gte=0), name="delivery_extras_not_negative")]

    def __str__(self):
        return f"{self.supplier} {self.came_at:%d %b %Y}".strip()


def _newest_known(column):
    """The newest correction of a lot that says something about this column."""
    silent = {column: ""} if column == "hue" else {f"{column}__isnull": True}
    said = LotCorrection.objects.filter(lot=OuterRef("pk")).exclude(**silent)
    return Subquery(said.order_by("-recorded_at", "-pk").values(column)[:1])


class LotQuerySet(KeptQuerySet):
    def with_on_hand(self):
        """Adds `on_hand`, the sum of the ledger, in the lot's own unit."""
        total = (
            Movement.objects.filter(lot=OuterRef("pk"))
            .order_by()
            .values("lot")
            .annotate(total=Sum("amount"))
            .values("total")
        )
        zero = Value(Decimal(0), output_field=ExactDecimalField())
        return self.annotate(on_hand=Coalesce(Subquery(total), zero))

    def with_facts(self):
        """Adds `cost_now`, `strength_now`, `use_by_now` and `tare_now`: what it came with, as corrected since; and
        `hue_now`: how its hue differs from the studio's standard, in words, "" where nobody said so.
        """
        return self.annotate(
            cost_now=Coalesce(_newest_known("cost_minor"), "cost_minor"),
            strength_now=Coalesce(_newest_known("strength_pct"), "strength_pct"),
            use_by_now=Coalesce(_newest_known("use_by"), "use_by"),
            tare_now=Coalesce(_newest_known("tare_g"), "tare_g"),
            hue_now=Coalesce(_newest_known("hue"), Value("")),
        )

    def with_unweighed(self):
        """Adds `has_unweighed`: something was taken from it that no weighing has settled yet."""
        return self.annotate(has_unweighed=Exists(Movement.objects.open_unweighed().filter(lot=OuterRef("pk"))))

    def in_use(self):
        """Lots that still hold something. Needs `with_on_hand`."""
        return self.filter(on_hand__gt=0)

    def named(self):
        """With all that a lot's name needs, so that a list costs one query."""
        return self.select_related("base", "dye", "assistant", "solution").prefetch_related(
            "contents__source__dye", "contents__source__assistant"
        )


class Lot(Kept):
    """One delivery of a base, a dye powder or an assistant; or one bottle made up.

    Amounts are in g, or in mL where `unit` says so; a yarn's amounts are in g, `skein_g` to the skein.
    """

    class Unit(models.TextChoices):
        G = "g", "g"
        ML = "mL", "mL"

    delivery = models.ForeignKey(Delivery, null=True, blank=True, on_delete=models.PROTECT, related_name="lots")
    base = models.ForeignKey("studio.Base", null=True, blank=True, on_delete=models.PROTECT, related_name="lots")
    dye = models.ForeignKey("studio.Dye", null=True, blank=True, on_delete=models.PROTECT, related_name="lots")
    assistant = models.ForeignKey(
        "studio.Assistant", null=True, blank=True, on_delete=models.PROTECT, related_name="lots"
    )
    solution = models.ForeignKey(
        "studio.Solution", null=True, blank=True, on_delete=models.PROTECT, related_name="lots"
    )
    number = models.CharField(
        max_length=60, blank=True, default="", help_text="The supplier's lot number, or the bottle's label."
    )
    unit = models.CharField(max_length=2, choices=Unit.choices)
    received = ExactDecimalField(help_text="What came or was made, in `unit`.")
    skein_g = ExactDecimalField(null=True, blank=True, help_text="Yarn only: nominal weight of a skein.")
    skein_m = ExactDecimalField(null=True, blank=True, help_text="Yarn only: nominal length of a skein.")
    strength_pct = ExactDecimalField(
        null=True, blank=True, help_text="Powder only: against the studio's standard, 100."
    )
    cost_minor = models.BigIntegerField(
        null=True, blank=True, help_text="Landed cost of the whole lot; empty is not known."
    )
    tare_g = ExactDecimalField(null=True, blank=True, help_text="Weight of the empty container.")
    came_at = models.DateTimeField()
    use_by = models.DateField(null=True, blank=True)
    continues = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="continued_by")
    recorded_at = models.DateTimeField()
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")
    note = models.TextField(blank=True, default="")

    objects = LotQuerySet.as_manager()

    class Meta(Kept.Meta):
        ordering = ["came_at", "pk"]
        constraints = [
            exactly_one("base", "dye", "assistant", "solution", name="lot_one_substance"),
            above_zero("received", name="lot_received_something"),
            CheckConstraint(condition=Q(unit__in=["g", "mL"]), name="lot_unit_known"),
            CheckConstraint(
                condition=Q(base__isnull=True, dye__isnull=True) | Q(unit="g"),
                name="lot_yarn_and_powder_in_g",
            ),
            CheckConstraint(
                condition=Q(base__isnull=True) | Q(skein_g__gt=0, skein_g__isnull=False),
                name="lot_yarn_has_skein_weight",
            ),
            unknown_or_above_zero("skein_m", name="lot_skein_length_above_zero"),
            CheckConstraint(
                condition=Q(base__isnull=False) | Q(skein_g__isnull=True, skein_m__isnull=True),
                name="lot_skeins_are_yarn",
            ),
            CheckConstraint(
                condition=Q(dye__isnull=True, strength_pct__isnull=True)
                | Q(dye__isnull=False, strength_pct__isnull=False, strength_pct__gt=0, strength_pct__lte=400),
                name="lot_powder_has_strength",
            ),
            unknown_or_not_negative("cost_minor", name="lot_cost_not_negative"),
            unknown_or_not_negative("tare_g", name="lot_tare_not_negative"),
            CheckConstraint(
                condition=Q(solution__isnull=True) | Q(delivery__isnull=True, cost_minor__isnull=True),
                name="lot_bottle_is_made",
            ),
            CheckConstraint(
                condition=Q(continues__isnull=True) | Q(solution__isnull=False),
                name="lot_only_bottles_continue",
            ),
        ]

    def __str__(self):
        return f"{self.substance}{f' {lot_number(self)}' if self.number and not self.solution_id else ''}"

    @property
    def substance(self):
        """The base, dye, assistant or master that this is a lot of."""
        return self.base or self.dye or self.assistant or self.solution

    @property
    def is_bottle(self):
        return self.solution_id is not None

    # --- making lots

    @classmethod
    def receive(cls, *, by, came_at, received, clock=timezone.now, base=None, dye=None, assistant=None, **facts):
        """A delivery line, or an opening stock: the lot, and what came of it in the ledger."""
        if base is not None:
            facts = {"skein_g": base.skein_g, "skein_m": base.skein_m, **facts}
        if dye is not None and facts.get("strength_pct") is None:
            facts["strength_pct"] = HUNDRED
        unit = assistant.unit if assistant is not None else cls.Unit.G
        now = clock()
        with transaction.atomic():
            lot = cls.objects.create(
                base=base,
                dye=dye,
                assistant=assistant,
                unit=unit,
                received=received,
                came_at=came_at,
                recorded_at=now,
                by=by,
                **facts,
            )
            Movement.post(lot, Movement.Kind.RECEIVED, lot.received, at=came_at, by=by, now=now)
        return lot

    @classmethod
    def make_bottle(cls, solution, *, volume, parts, by, made_at=None, clock=timezone.now, continues=None, **facts):
        """Make up a bottle: weigh, dissolve, bring to `volume` (mL; g for a dry mix).

        `parts` are pairs of a lot and how much of it went in, in that lot's unit: powder for a fresh bottle,
        another bottle for a dilution, the rest of the old one for a top-up (then `continues` names it). What
        the new bottle holds per 100 is traced to bought lots now, so that no later change of a master rewrites
        it. Kept liquor, whose contents nobody knows, is made with no parts. Raises ValueError for a part of
        nothing.
        """
        parts = [(lot, cls._meta.get_field("received").rounded(amount)) for lot, amount in parts]
        for lot, amount in parts:
            if amount <= 0:
                raise ValueError(f"Say how much of {lot} goes into the bottle, above zero.")
        with transaction.atomic():
            lots = cls.lock([lot.pk for lot, _ in parts])
            now = clock()
            made_at = made_at or now
            bottle = cls.objects.create(
                solution=solution,
                unit=solution.unit,
                received=volume,
                came_at=made_at,
                recorded_at=now,
                by=by,
                continues=continues,
                **facts,
            )
            grams, unknown = cls._traced([(lots[lot.pk], amount) for lot, amount in parts])
            for lot, amount in parts:
                Movement.post(lots[lot.pk], Movement.Kind.MADE_INTO, -amount, at=made_at, by=by, now=now, into=bottle)
            Movement.post(bottle, Movement.Kind.MADE, bottle.received, at=made_at, by=by, now=now)
            places = Content._meta.get_field("g_per_100")
            for source_id, g in sorted(grams.items()):
                # What is thinned below a billionth of a gram in 100 mL is gone; the table would take it for zero.
                if per_100 := places.rounded(g * HUNDRED / bottle.received):
                    Content.objects.create(lot=bottle, source_id=source_id, g_per_100=per_100)
            if unknown or not parts:
                Content.objects.create(lot=bottle, source=None, g_per_100=None)
        return bottle

    @staticmethod
    def _traced(parts):
        """(grams by bought lot, whether something in it is not known) of what goes into a bottle."""
        grams, unknown = defaultdict(Decimal), False
        for lot, amount in parts:
            traced, complete = lot.holds(amount)
            unknown = unknown or not complete
            for source_id, g in traced.items():
                grams[source_id] += g
        return grams, unknown

    def know_contents(self):
        """Fetch what `strength` and `holds` ask of a bottle, which never changes: no lock is needed. Costs a query."""
        held = self.contents.select_related("source").only("lot", "source__dye", "g_per_100")
        # As a prefetch leaves it, at half its price: this stands in the way of every entry.
        len(held)  # asked now, and not with the lots locked
        vars(self).setdefault("_prefetched_objects_cache", {})["contents"] = held

    def holds(self, amount):
        """({bought lot id: g}, all known?) in this much of the lot. Costs a query for a bottle."""
        if not self.is_bottle:
            return {self.pk: amount}, True
        contents = list(self.contents.all())
        known = [content for content in contents if content.source_id is not None]
        grams = {content.source_id: amount * content.g_per_100 / HUNDRED for content in known}
        return grams, len(known) == len(contents)

    # --- what it is now
    # --------------------------------------------------------------------------------------------

    @classmethod
    def lock(cls, pks):
        """The lots by key, locked in key order: the order in which every verb locks, so that none waits for
        another in a ring.
        """
        return {
            lot.pk: lot for lot in cls.objects.select_for_update(no_key=True).filter(pk__in=set(pks)).order_by("pk")
        }

    @classmethod
    def hold(cls, pks):
        """Lock lots whose facts are known already, in the same order: a lot itself never changes."""
        held = cls.objects.select_for_update(no_key=True).filter(pk__in=set(pks)).order_by("pk")
        list(held.values_list("pk", flat=True))

    def on_hand_now(self):
        """What the ledger says is left, in the lot's unit. Costs a query."""
        return self.movements.aggregate(total=Sum("amount"))["total"] or Decimal(0)

    def throw_away(self, amount=None, *, by, at=None, why="", clock=timezone.now):
        """So much of it, or whatever is left, goes to waste. Returns the movement; None where nothing was left."""
        with transaction.atomic():
            Lot.lock([self.pk])
            now = clock()
            amount = self.on_hand_now() if amount is None else amount
            if amount <= 0:
                return None
            return Movement.post(self, Movement.Kind.TIPPED, -amount, at=at or now, by=by, now=now, why=why)

    def correct(self, *, by, why="", clock=timezone.now, **said):
        """Put right what a lot came with: `cost_minor`, `strength_pct`, `use_by`, `tare_g`; None says nothing. `hue`
        notes in words how its hue differs.
        """
        return LotCorrection.objects.create(lot=self, recorded_at=clock(), by=by, why=why, **said)

    def is_past(self, day=None):
        """Whether its use-by date, as it was said last, is over on a day; without one on today. Needs `with_facts`."""
        return self.use_by_now is not None and self.use_by_now < (day or timezone.localdate())

    def empty_g(self):
        """Weight of the empty container [g] as it was said last, or None. Asks a query unless `corrections` were
        prefetched or the lot comes `with_facts`.
        """
        if hasattr(self, "tare_now"):
            return self.tare_now
        said = [correction.tare_g for correction in self.corrections.all() if correction.tare_g is not None]
        return said[-1] if said else self.tare_g

    def get_absolute_url(self):
        return reverse("studio:lot", args=[self.pk])

    def colours(self):
        """(colour, share) of the dyes that can be seen in a jar or bottle, most first."""
        if self.dye_id:
            return ((self.dye.colour, Decimal(1)),)
        shares = defaultdict(Decimal)
        for content in self.contents.all() if self.is_bottle else ():
            if content.source is not None and content.source.dye_id:
                shares[content.source.dye.colour] += content.g_per_100
        return tuple(sorted(shares.items(), key=lambda share: -share[1]))

    def strength(self):
        """Strength in percent, g of dye in 100 mL, as it was really made; None where nobody knows.

        Grams of assistants in a painting bottle are not dye and do not count.
        """
        contents = [content for content in self.contents.all() if content.source_id is None or content.source.dye_id]
        if not self.is_bottle or not contents or any(content.source_id is None for content in contents):
            return None
        return sum((content.g_per_100 for content in contents), Decimal(0))


class LotCorrection(Kept):
    """Something learned about a lot after it came: price, strength, hue, a later use-by date, its empty container.

    The newest counts.
    """

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="corrections")
    cost_minor = models.BigIntegerField(null=True, blank=True)
    strength_pct = ExactDecimalField(null=True, blank=True)
    use_by = models.DateField(null=True, blank=True)
    tare_g = ExactDecimalField(null=True, blank=True)
    hue = models.CharField(
        max_length=200, blank=True, default="", help_text="How its hue differs, in words: no amount can put that right."
    )
    why = models.CharField(max_length=200, blank=True, default="")
    recorded_at = models.DateTimeField()
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")

    class Meta(Kept.Meta):
        ordering = ["recorded_at", "pk"]
        constraints = [
            CheckConstraint(
                condition=Q(cost_minor__isnull=False)
                | Q(strength_pct__isnull=False)
                | Q(use_by__isnull=False)
                | Q(tare_g__isnull=False)
                | ~Q(hue=""),
                name="lot_correction_says_something",
            ),
            unknown_or_not_negative("cost_minor", name="lot_correction_cost_not_negative"),
            unknown_or_not_negative("tare_g", name="lot_correction_tare_not_negative"),
            CheckConstraint(
                condition=Q(strength_pct__isnull=True) | Q(strength_pct__gt=0, strength_pct__lte=400),
                name="lot_correction_strength_sensible",
            ),
        ]

    def __str__(self):
        return f"Correction of {self.lot}"


class Content(Kept):
    """What a bottle holds per 100 mL (or 100 g of a dry mix), traced to a bought lot; both empty where nobody knows."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="contents")
    source = models.ForeignKey(Lot, null=True, blank=True, on_delete=models.PROTECT, related_name="held_in")
    g_per_100 = ExactDecimalField(places=9, null=True, blank=True)

    class Meta(Kept.Meta):
        ordering = ["-g_per_100", "pk"]
        constraints = [
            CheckConstraint(
                condition=Q(source__isnull=True, g_per_100__isnull=True)
                | Q(source__isnull=False, g_per_100__isnull=False, g_per_100__gt=0),
                name="content_known_or_not",
            ),
            models.UniqueConstraint("lot", "source", name="content_source_once"),
            models.UniqueConstraint("lot", condition=Q(source__isnull=True), name="content_unknown_once"),
        ]

    def __str__(self):
        return f"{self.g_per_100} g in 100 of {self.lot_id}"


class Weighing(Kept):
    """Gross weight of a lot's container, with what is in it."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="weighings")
    gross_g = ExactDecimalField()
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")

    class Meta(Kept.Meta):
        ordering = ["at", "pk"]
        constraints = [above_zero("gross_g", name="weighing_above_zero")]

    def __str__(self):
        return f"{self.gross_g} g"


class ShareOut(Kept):
    """What two weighings of a container said about the unweighed uses between them."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="share_outs")
    opening = models.ForeignKey(Weighing, on_delete=models.PROTECT, related_name="opens")
    closing = models.OneToOneField(Weighing, on_delete=models.PROTECT, related_name="closes")
    used_g = ExactDecimalField(help_text="Opening less closing weight; negative when the container grew heavier.")
    measured_g = ExactDecimalField(help_text="Weighed and measured uses between the two.")
    said = models.CharField(max_length=300, blank=True, default="", help_text="What stood in the way, in words.")
    recorded_at = models.DateTimeField()
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")

    class Meta(Kept.Meta):
        constraints = [
            CheckConstraint(condition=~Q(opening=models.F("closing")), name="share_out_two_weighings"),
            CheckConstraint(condition=Q(measured_g__gte=0), name="share_out_measured_not_negative"),
        ]

    def __str__(self):
        return f"{self.used_g} g of {self.lot_id}"
