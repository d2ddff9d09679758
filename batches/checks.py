"""Rules of the journal that span rows; see `studio.checks_records`."""

from collections import defaultdict
from datetime import timedelta
from decimal import Decimal

from django.db.models import Exists, F, OuterRef, Q
from django.utils import timezone

from studio.checks_records import Wrong, rules_of
from studio.models import Studio

from . import indexing
from .costing import BEARS_NOTHING
from .models import (
    Addition,
    Batch,
    BatchYarn,
    Captured,
    CostSheet,
    Entry,
    Match,
    Output,
    PlanLine,
    Run,
    Rung,
    Strike,
    Timer,
    TimerEnded,
)

ENDED = {"finished", "abandoned"}


def a_used_version_is_marked():
    for run in Run.objects.filter(recipe__isnull=False).select_related("recipe", "colourway"):
        if run.recipe.used_at is None:
            yield Wrong(run, f"{run} was planned from version {run.recipe.number}, which is not marked as used.")
        if run.recipe.colourway_id != run.colourway_id:
            yield Wrong(run, f"{run} was planned from a version of another colourway.")


def a_pot_is_planned_from_its_own_colourway():
    for batch in Batch.objects.filter(recipe__isnull=False).select_related("run", "recipe__colourway"):
        if batch.recipe.colourway_id != batch.run.colourway_id:
            yield Wrong(batch, f"{batch} was planned from a version of another colourway than its run is of.")
        if batch.recipe.used_at is None:
            yield Wrong(batch, f"{batch} was planned from version {batch.recipe.number}, which is not marked as used.")


def the_newest_writing_of_a_plan_counts():
    for line in PlanLine.every.filter(edition__gt=F("batch__edition")):
        yield Wrong(line, "It is of a later writing of its pot's plan than the one that counts.")
    written = PlanLine.every.filter(batch=OuterRef("pk"), edition=OuterRef("edition"))
    for batch in Batch.objects.filter(~Exists(written), edition__gt=1).select_related("run"):
        yield Wrong(batch, f"The plan of {batch} was written anew, but that writing has no lines.")


def a_later_day_names_the_first():
    for run in Run.objects.filter(day_one__day_one__isnull=False):
        yield Wrong(run, f"{run.code} names as its first day a run that is itself a later day of another.")


def a_run_stands_where_its_pots_stand():
    for run in Run.objects.select_related("colourway").prefetch_related("batches"):
        states = {batch.state for batch in run.batches.all()}
        right = {
            "planned": states <= {"planned"},
            "running": "running" in states and "planned" not in states,
            "finished": states <= ENDED and "finished" in states,
            "abandoned": states <= ENDED,
        }
        if not right[run.state]:
            yield Wrong(
                run, f"{run} is {run.get_state_display()}, but its pots are {', '.join(sorted(states)) or 'none'}."
            )


def a_pot_is_finished_by_its_log():
    finished = set(Entry.objects.standing().filter(kind="finish").values_list("batch", flat=True))
    added = set(Entry.objects.standing().filter(kind="addition").values_list("batch", flat=True))
    for batch in Batch.objects.select_related("run"):
        if (batch.state == "finished") != (batch.pk in finished) and batch.state != "abandoned":
            yield Wrong(batch, f"{batch} is {batch.get_state_display()}, but its log says otherwise.")
        if batch.state == "planned" and batch.pk in added:
            todo = "Start the run, so that its yarn leaves the shelf."
            yield Wrong(batch, f"Something went into {batch}, which has not been started.", todo, soft=True)


def an_entry_has_its_detail():
    for entry in Entry.objects.select_related(*Entry.DETAILS.values()):
        has = {kind for kind, detail in Entry.DETAILS.items() if hasattr(entry, detail)}
        if has != ({entry.kind} if entry.kind in Entry.DETAILS else set()):
            yield Wrong(entry, f"It is an entry of kind {entry.kind}, but says: {', '.join(sorted(has)) or 'nothing'}.")


def what_an_entry_names_is_of_its_pot():
    entries = Entry.objects.all()
    for entry in entries.filter(plan_line__isnull=False).exclude(plan_line__batch=F("batch")):
        yield Wrong(entry, "It ticks a line of another pot's plan.")
    for entry in entries.filter(because__isnull=False).exclude(because__batch__run=F("batch__run")):
        yield Wrong(entry, "It names a check of another run.")
    for detail in ("addition", "reading"):
        named = entries.filter(**{f"{detail}__bath__isnull": False})
        for entry in named.exclude(**{f"{detail}__bath__batch": F("batch")}):
            yield Wrong(entry, "It went into another pot's bath.")
    for entry in entries.filter(move__yarn__isnull=False).exclude(move__yarn__batch=F("batch")):
        yield Wrong(entry, "It moves another pot's yarn.")
    for output in Output.objects.exclude(yarn__batch=F("finish__entry__batch")):
        yield Wrong(output, "Its yarn went into another pot than the one that was finished.")


def what_is_learned_of_a_run_is_of_its_pots():
    for captured in Captured.objects.filter(batch__isnull=False).exclude(batch__run=F("run")):
        yield Wrong(captured, "It was taken from the log of a pot of another run.")
    for rung in Rung.objects.exclude(batch__run=F("test")):
        yield Wrong(rung, "It is a sample of another run than the one that tests the lot.")
    for match in Match.objects.filter(low__isnull=False).exclude(low__test=F("test")):
        yield Wrong(match, "It picks a sample of another test.")
    for match in Match.objects.filter(high__isnull=False).exclude(high__test=F("test")):
        yield Wrong(match, "It picks a sample of another test.")


def an_addition_is_traced():
    lots = Addition.objects.filter(lot__isnull=False).select_related("entry", "lot", "movement")
    for addition in lots.prefetch_related("lot__contents", "parts", "movement__settled_by"):
        movement, amount = addition.movement, addition.amount
        took = None if amount is None else -amount
        if (movement.lot_id, movement.amount, movement.at) != (addition.lot_id, took, addition.entry.at):
            yield Wrong(addition, "What it took from the shelf is not what it says.")
        told = [(None, amount or Decimal(0))]
        told += [(share.share_out_id, -share.amount) for share in movement.settled_by.all()]
        right = {
            (share, source): part
            for share, total in told
            for source, part in addition.lot.holds(total)[0].items()
            if share is not None or amount is not None
        }
        parts = {(part.share_out_id, part.lot_id): part.amount for part in addition.parts.all()}
        places = Decimal("0.000001")
        if any(abs(right.get(key, 0) - parts.get(key, 0)) > places for key in {*right, *parts}):
            yield Wrong(addition, "The lots it is traced to do not sum to what went in.")


def a_strike_reaches_its_line():
    entries = {entry.pk: entry for entry in Entry.objects.select_related("addition__movement__reversed_by")}
    touches = {entry.together for entry in entries.values()}
    for strike in Strike.objects.select_related("entry"):
        struck = entries.get(strike.target)
        if struck is None and strike.target in touches:
            continue  # it came before a touch of several lines, and each of those has a strike-out of its own
        elif struck is None:
            if strike.entry.received_at < timezone.now() - timedelta(days=1):
                todo = "Ask who struck it whether a phone still holds entries that were not sent."
                yield Wrong(strike, "It strikes out a line that has not come in for more than a day.", todo, soft=True)
        elif struck.kind == "strike":
            yield Wrong(strike, "It strikes out a strike-out.")
        elif struck.batch_id != strike.entry.batch_id:
            yield Wrong(strike, "It strikes out a line of another pot.")
        elif hasattr(struck, "addition") and struck.addition.movement and not _taken_back(struck.addition.movement):
            yield Wrong(strike, "What the struck line took from the shelf was not put back.")


def _taken_back(movement):
    return hasattr(movement, "reversed_by")


def a_cover_is_of_its_run():
    struck = set(Strike.objects.values_list("target", flat=True))
    shown = Run.objects.filter(cover__isnull=False).select_related("cover", "cover_photo__entry__batch")
    for run in shown:
        photo = run.cover_photo
        if photo.entry.batch.run_id != run.pk or photo.picture_id != run.cover.whole_id or photo.pk in struck:
            yield Wrong(run, f"{run.code} is led by a picture that no standing photo of its own log shows.")


def a_cost_sheet_sums():
    for sheet in CostSheet.objects.select_related("run").prefetch_related("lines", "shares__output__yarn__batch"):
        lines = sum(line.minor or 0 for line in sheet.lines.all())
        if lines != sheet.total_minor:
            yield Wrong(sheet, f"Its lines sum to {lines} minor units, its total is {sheet.total_minor}.")
        shares = list(sheet.shares.all())
        # Of samples and lost skeins alone none bears anything: all of it is a loss.
        bearing = [share for share in shares if share.output.grade not in BEARS_NOTHING]
        if shares and sum(share.minor for share in shares) != (sheet.total_minor if bearing else 0):
            yield Wrong(sheet, f"What its skeins bear does not sum to its total of {sheet.total_minor} minor units.")
        if any(line.minor is None for line in sheet.lines.all()) and not sheet.at_least:
            yield Wrong(sheet, "One of its prices is not known, but it does not say that the cost is at least so much.")
        if any(share.output.yarn.batch.run_id != sheet.run_id for share in shares):
            yield Wrong(sheet, "It is borne by skeins of another run.")


def yarn_left_the_shelf():
    for yarn in BatchYarn.objects.filter(source="lot").select_related("batch__run", "movement"):
        started, left = yarn.batch.started_at is not None, yarn.movement is not None
        if started != left:
            yield Wrong(yarn, f"{yarn.batch} and the shelf do not agree on whether its yarn has left the shelf.")
        elif left and (yarn.movement.lot_id, yarn.movement.amount) != (yarn.lot_id, -yarn.grams):
            yield Wrong(yarn, f"The yarn that left the shelf for {yarn.batch} is not the yarn that is in it.")


def no_skein_is_dyed_twice_at_once():
    used = defaultdict(int)
    again = BatchYarn.objects.filter(output__isnull=False, skeins__isnull=False).exclude(batch__state="abandoned")
    for output, skeins in again.values_list("output", "skeins"):
        used[output] += skeins
    for output in Output.objects.filter(pk__in=used).select_related("yarn__lot__base", "yarn__base"):
        if used[output.pk] > output.skeins:
            todo = "Look at the runs that dyed these skeins again, and say in words what is right."
            yield Wrong(
                output, f"{used[output.pk]} of these {output.skeins} skeins went into a pot again.", todo, soft=True
            )


def codes_are_behind_the_count():
    studio = Studio.objects.filter(pk=1).first()
    if studio is None:
        return
    year = f"{studio.run_year % 100:02d}-"
    for run in Run.objects.filter(Q(code__startswith=year)):
        number = run.code.removeprefix(year)
        if not number.isdigit() or int(number) > studio.run_number:
            yield Wrong(run, f"The code {run.code} is ahead of the count, which is at {studio.run_number}.")


def the_index_says_what_the_record_says():
    for row, what in indexing.odd_cards():
        yield Wrong(row, what, "Run: manage.py reindex. It makes the index anew from the record.")


def a_timer_is_due_when_its_minutes_are_over():
    for timer in Timer.objects.select_related("entry"):
        off = timer.due_at - timer.entry.at - timedelta(minutes=float(timer.minutes))
        if abs(off) > timedelta(seconds=1):
            yield Wrong(timer, "It is due at another time than its minutes say.")


def an_end_reaches_its_timer():
    started = dict(Timer.objects.values_list("entry", "entry__batch"))
    touches = set(Timer.objects.values_list("entry__together", flat=True))
    others = set(Entry.objects.exclude(kind=Entry.Kind.TIMER).values_list("pk", flat=True))
    for end in TimerEnded.objects.select_related("entry"):
        if end.target in touches:
            continue  # it came before a touch that left out a pot where such a timer ran, or was done
        elif end.target in started:
            if end.entry.batch_id != started[end.target]:
                yield Wrong(end, "It ends a timer of another pot.")
        elif end.target in others:
            yield Wrong(end, "It ends a line of the log that is no timer.")
        elif end.entry.received_at < timezone.now() - timedelta(days=1):
            todo = "Ask who ended it whether a phone still holds entries that were not sent."
            yield Wrong(end, "It ends a timer that has not come in for more than a day.", todo, soft=True)


RULES = [
    a_used_version_is_marked,
    a_run_stands_where_its_pots_stand,
    a_pot_is_finished_by_its_log,
    an_entry_has_its_detail,
    what_an_entry_names_is_of_its_pot,
    what_is_learned_of_a_run_is_of_its_pots,
    an_addition_is_traced,
    a_strike_reaches_its_line,
    a_cost_sheet_sums,
    yarn_left_the_shelf,
    no_skein_is_dyed_twice_at_once,
    codes_are_behind_the_count,
    a_cover_is_of_its_run,
    the_index_says_what_the_record_says,
    a_timer_is_due_when_its_minutes_are_over,
    an_end_reaches_its_timer,
    a_pot_is_planned_from_its_own_colourway,
    the_newest_writing_of_a_plan_counts,
    a_later_day_names_the_first,
]
ask = rules_of("B", RULES)
