"""The rules of the record that span rows, asked anew of the whole database: `manage.py check --tag records`.

The database itself refuses what one row may not say. What a row must agree on with others is kept by the verbs, and
nobody would see it if a verb were wrong, or if somebody wrote past it. Each rule is a generator of `Wrong`: which row,
what is wrong with it, and what to do. They read every row, so nothing else runs them.
"""

import re
from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal

from django.apps import apps
from django.core.checks import Error, Warning, register
from django.core.files.storage import default_storage
from django.db.models import Sum

from studio.models import Base, Count, Document, Dye, Lot, LotCorrection, Movement, Picture, ShareOut, Solution
from studio.models.fields import FoldedField

ASK = "Nothing was changed by this check. Keep a backup from before it began, and ask for help with the number above."


@dataclass(frozen=True)
class Wrong:
    """One row that breaks a rule: a sentence, and what to do about it. `soft` is odd but no fault of the record."""

    row: object
    what: str
    todo: str = ASK
    soft: bool = False


def rules_of(letter, rules):
    """Register the rules of one app. Their ids are `records.` with a letter and the rule's place in the list.

    They are marked as for deployment, and need a database named, so that no other command runs them; our `check`
    command passes both when it is asked for them.
    """

    def ask_every_rule(app_configs, databases=None, **kwargs):
        found = []
        for number, rule in enumerate(rules if databases else [], 1):
            for wrong in rule():
                kind = Warning if wrong.soft else Error
                row = f"{wrong.row._meta.label} {wrong.row.pk}"
                found.append(kind(wrong.what, hint=wrong.todo, obj=row, id=f"records.{letter}{number:03d}"))
        return found

    register(ask_every_rule, "records", deploy=True)
    return ask_every_rule


def nothing_is_overdrawn():
    for lot in Lot.objects.named().with_on_hand().filter(on_hand__lt=0):
        todo = "Count what is there: the count puts the shelf right."
        yield Wrong(lot, f"More was used of {lot} than was there: {lot.on_hand} {lot.unit}.", todo, soft=True)


def what_came_is_in_the_ledger():
    came = dict(
        Movement.objects.filter(kind__in=["received", "made"]).values_list("lot").annotate(Sum("amount")).order_by()
    )
    for lot in Lot.objects.named():
        if came.get(lot.pk) != lot.received:
            yield Wrong(lot, f"{lot.received} {lot.unit} of {lot} came, but the ledger says {came.get(lot.pk, 0)}.")


def a_reversal_is_the_opposite():
    for movement in Movement.objects.filter(reverses__isnull=False).select_related("reverses"):
        was = movement.reverses
        opposite = None if was.amount is None else -was.amount
        if (movement.lot_id, movement.amount, movement.at) != (was.lot_id, opposite, was.at):
            yield Wrong(movement, f"It takes back movement {was.pk}, but is not its exact opposite.")


def an_offset_is_the_opposite():
    for movement in Movement.objects.filter(offsets__isnull=False).select_related("offsets", "count"):
        was = movement.offsets
        right = was.amount is not None and movement.amount == -was.amount and movement.lot_id == was.lot_id
        if not right or was.at > movement.at:
            yield Wrong(movement, f"It evens out movement {was.pk} at a later count, but is not its exact opposite.")


def a_count_holds():
    ledger, counts = defaultdict(list), defaultdict(dict)
    for count in Count.objects.order_by("pk"):
        counts[count.lot_id][count.at] = count  # of two counts at one time, the later entered is the one that holds
    for lot, at, amount in Movement.objects.filter(lot__in=counts, amount__isnull=False).values_list(
        "lot", "at", "amount"
    ):
        ledger[lot].append((at, amount))
    for lot, held in counts.items():
        for at, count in held.items():
            total = sum((amount for when, amount in ledger[lot] if when <= at), Decimal(0))
            if total != count.amount:
                yield Wrong(
                    count, f"It found {count.amount}, but the ledger of lot {lot} sums to {total} at that time."
                )
    for movement in Movement.objects.filter(count__isnull=False).select_related("count"):
        if (movement.lot_id, movement.at) != (movement.count.lot_id, movement.count.at):
            yield Wrong(movement, f"It belongs to count {movement.count_id}, but has another lot or another time.")


def a_share_out_sums():
    for shared in ShareOut.objects.select_related("opening", "closing").prefetch_related("movements__settles"):
        parts = list(shared.movements.all())
        total = -sum((part.amount for part in parts), Decimal(0))
        if parts and total != shared.used_g - shared.measured_g:
            yield Wrong(shared, f"Its shares sum to {total}, but {shared.used_g - shared.measured_g} was to be shared.")
        if {shared.opening.lot_id, shared.closing.lot_id, *(part.lot_id for part in parts)} != {shared.lot_id}:
            yield Wrong(shared, "Its weighings or shares are of another lot.")
        if shared.used_g != shared.opening.gross_g - shared.closing.gross_g:
            yield Wrong(shared, "What it says was used is not the difference of its weighings.")
        if any(part.settles.amount is not None or part.settles.lot_id != part.lot_id for part in parts):
            yield Wrong(shared, "One of its shares settles something that was not an unweighed use of this lot.")


def a_bottle_holds_what_went_in():
    bottles = Lot.objects.filter(solution__isnull=False).prefetch_related("contents", "made_from__lot__contents")
    for bottle in bottles:
        grams, unknown = defaultdict(Decimal), not bottle.made_from.all()
        for movement in bottle.made_from.all():
            traced, complete = movement.lot.holds(-movement.amount)
            unknown = unknown or not complete
            for source, g in traced.items():
                grams[source] += g
        held, known = bottle.holds(bottle.received)
        # Per 100 it is kept to a billionth, so half of one, in what was made, is no difference.
        close = bottle.received * Decimal("1e-11")
        if known == unknown or any(abs(grams[source] - held.get(source, 0)) > close for source in {*grams, *held}):
            yield Wrong(bottle, f"{bottle} does not hold what went into it.")


def a_correction_fits():
    for correction in LotCorrection.objects.filter(strength_pct__isnull=False, lot__dye__isnull=True):
        yield Wrong(correction, "It corrects the strength of something that is no dye powder.")


def fibres_stay_within_100():
    for base in Base.objects.prefetch_related("fibres"):
        total = sum((row.percent for row in base.fibres.all()), Decimal(0))
        if total > 100:
            todo = "Open the base and put the percentages right, so that they sum to 100."
            yield Wrong(base, f"The fibres of {base} sum to {total} %.", todo)


def a_solution_stays_within_100():
    for solution in Solution.objects.prefetch_related("parts"):
        total = sum((row.g_per_100 for row in solution.parts.all()), Decimal(0))
        if total > 100:
            yield Wrong(
                solution, f"{solution} would hold {total} g in 100.", "Open the bottle and put its parts right."
            )


def a_colour_can_be_drawn():
    for dye in Dye.objects.all():
        if not re.fullmatch("#[0-9a-f]{6}", dye.colour):
            yield Wrong(
                dye, f"The colour of {dye} is written {dye.colour!r}.", "Open the dye and choose its colour again."
            )


def a_name_is_folded():
    for model in apps.get_models():
        folded = [field for field in model._meta.concrete_fields if isinstance(field, FoldedField)]
        for row in model.objects.all() if folded else ():
            if any(getattr(row, field.attname) != field.folded(row) for field in folded):
                yield Wrong(row, f"{row} is not found by its name.", "Open it and save it once more.")


def files_are_there():
    todo = "Put the file back from a backup: its name is in the archive under media/."
    for picture in Picture.objects.all():
        for size in Picture.SIZES:
            if not default_storage.exists(picture.path(size)):
                yield Wrong(picture, f"The file {picture.path(size)} is missing.", todo)
    for document in Document.objects.all():
        if not default_storage.exists(document.path):
            yield Wrong(document, f"The file {document.path} is missing.", todo)


RULES = [
    nothing_is_overdrawn,
    what_came_is_in_the_ledger,
    a_reversal_is_the_opposite,
    an_offset_is_the_opposite,
    a_count_holds,
    a_share_out_sums,
    a_bottle_holds_what_went_in,
    a_correction_fits,
    fibres_stay_within_100,
    a_solution_stays_within_100,
    a_colour_can_be_drawn,
    a_name_is_folded,
    files_are_there,
]
ask = rules_of("S", RULES)
