"""What is waited for, as pages show it: one row for what one touch started, when it is due, and what to do then.

All running timers are fetched by one query, once for each request.
"""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from uuid import uuid4

from django.utils import timezone

from recipes.models import RecipeStep
from studio import writing

from .models import Entry, State, Timer
from .telling import STEPS, lines_of
from .under_way import kind_of, pots_in_words
from .wording import all_words, capital, minutes

FORGOTTEN = timedelta(hours=24)  # later than this nobody is at the pot: it waits in the journal, and calls no more
SHORT = 40  # letters of a note that stand for the timer's name
FEW = 3  # rows of the bar under the masthead

# What it is called while it runs, and when it is over.
NAMES = {
    Timer.What.SOAK: ("Soak", "Soak is over"),
    Timer.What.HOLD: ("Hold", "Hold is over"),
    Timer.What.COOL: ("Cooling", "Cooling is over"),
    Timer.What.SUN: ("In the sun", "Time in the sun is over"),
    Timer.What.LOOK: ("Look again", "Look again: is it clear?"),
    Timer.What.OTHER: ("Timer", "Time is up"),
}

# The large button of a planned step, by its kind: what has to be so before the time counts.
STARTS = {
    RecipeStep.Kind.SOAK: "It is in: start",
    RecipeStep.Kind.SCOUR: "It is in: start",
    RecipeStep.Kind.WASH: "It is in: start",
    RecipeStep.Kind.MORDANT: "At heat: start",
    RecipeStep.Kind.HOLD: "At heat: start",
    RecipeStep.Kind.HEAT: "Heat is on: start",
    RecipeStep.Kind.STRIP: "It is in: start",
    RecipeStep.Kind.COOL: "Heat is off: start",
}


@dataclass
class Row:
    """Timers that one touch started and that are due together: one thing to see to, in one or more pots."""

    timers: list
    now: datetime
    ids: tuple = field(default_factory=lambda: (uuid4(), uuid4(), uuid4()))

    @property
    def timer(self):
        return self.timers[0]

    @property
    def entry(self):
        return self.timer.entry

    @property
    def key(self):
        """What an end names to mean all of them."""
        return self.timer.pk

    @property
    def due_at(self):
        return self.timer.due_at

    @property
    def over(self):
        return self.due_at <= self.now

    @property
    def looks(self):
        return self.timer.what == Timer.What.LOOK

    @property
    def names(self):
        """(while it runs, when it is over)"""
        line, words = self.entry.plan_line, self.entry.words.strip()
        if self.looks:
            return NAMES[Timer.What.LOOK]
        if words and len(words) <= SHORT and "\n" not in words:
            name = words.removesuffix(".")
        elif self.timer.what == Timer.What.OTHER and line is not None:
            name = STEPS[line.step] if line.step != RecipeStep.Kind.OTHER else line.words[:SHORT] or STEPS[line.step]
        else:
            return NAMES[self.timer.what]
        return capital(name), f"{capital(name)}: time is up"

    @property
    def name(self):
        return self.names[self.over]

    @property
    def until(self):
        """When it is due, as the clock shows it; with the day where that is another one."""
        due, today, at = timezone.localdate(self.due_at), timezone.localdate(self.now), writing.clock(self.due_at)
        if due == today:
            return at
        return f"tomorrow {at}" if due == today + timedelta(days=1) else f"{writing.day(due)}, {at}"

    @property
    def when(self):
        return f"late since {self.until}" if self.over else f"until {self.until}"

    @property
    def since(self):
        """ "Hold is over since 14:27"."""
        return f"{'To look again' if self.looks else self.names[1]} since {self.until}"

    @property
    def run(self):
        return self.entry.batch.run

    @property
    def pots(self):
        """ "jars 1 to 4", or the one pot's own name."""
        batches = [timer.entry.batch for timer in self.timers]
        return batches[0].pot_name if len(batches) == 1 else pots_in_words(batches)

    @property
    def all_of(self):
        """ "in both pots", "in all 8 jars"; "" for a lone pot."""
        many = len(self.timers)
        if many == 1:
            return ""
        return f"in {all_words(many, kind_of([timer.entry.batch for timer in self.timers]))}"

    @property
    def began(self):
        """How long it was to take, and since when."""
        return f"{minutes(self.timer.minutes)} from {writing.clock(self.entry.at)}"

    @property
    def line_words(self):
        return self.entry.plan_line.words if self.entry.plan_line else ""

    def is_of(self, batch):
        return any(timer.entry.batch_id == batch.pk for timer in self.timers)

    def pot_for(self, batch):
        """The pot to send to: this one, where the row is of it."""
        return batch if self.is_of(batch) else self.entry.batch


def rows(now=None, since=FORGOTTEN):
    """[Row] of all timers that are waited for, the first due first. One query."""
    now = now or timezone.now()
    found = {}
    running = Timer.objects.running().filter(due_at__gt=now - since)
    for timer in running.exclude(entry__batch__state__in=[State.FINISHED, State.ABANDONED]).for_rows():
        key = (timer.entry.together or timer.pk, timer.due_at)
        found.setdefault(key, Row([], now)).timers.append(timer)
    return list(found.values())


def rows_of_request(request):
    """The rows, fetched once for a page; none for who may not log."""
    person = getattr(request, "user", None)
    if person is None or not person.is_authenticated or not person.may_log:
        return []
    if not hasattr(request, "timer_rows"):
        request.timer_rows = rows()
    return request.timer_rows


def ends_in(entries, now):
    """{key of a timer: when it was over}, by the standing entries of a run; one that runs is not over before `now`.

    What ends a timer is said in `TimerQuerySet.running`. Costs no query.
    """
    found = {}
    for timer in (entry for entry in entries if entry.kind == Entry.Kind.TIMER):
        later = [entry for entry in entries if entry.batch_id == timer.batch_id and _ends(entry, timer)]
        found[timer.pk] = max(timer.at, min((entry.at for entry in later), default=now))
    return found


def _ends(entry, timer):
    if entry.kind == Entry.Kind.ENDED:
        return entry.timer_ended.target in (timer.pk, timer.together or timer.pk)
    if entry.at <= timer.at:
        return False
    if entry.kind == Entry.Kind.FINISH:
        return True
    if entry.kind == Entry.Kind.READING and timer.timer.what == Timer.What.LOOK:
        return bool(entry.reading.clear)
    by_hand = entry.kind not in Entry.GETTING_READY
    return by_hand and timer.plan_line_id is not None and entry.plan_line_id == timer.plan_line_id


def start_words(line):
    """What the button says that starts the time of a planned step: "At heat: start 45 min"; "" where it has none."""
    if line is None or line.is_amount or not line.minutes:
        return ""
    return f"{STARTS.get(line.step, 'Start')} {minutes(line.minutes)}"


def said_of(answer):
    """What a person reads after a touch that began or ended timers; "" where it was about something else.

    `answer`: of the intake, with its entries.
    """
    begun = [entry.pk for entry in answer.entries if entry.kind == Entry.Kind.TIMER]
    if begun:
        row = Row(list(Timer.objects.filter(entry__in=begun).for_rows()), timezone.now())
        where = f", {row.pots}" if len(row.timers) > 1 else ""
        return f"{row.names[0]}{where}: until {row.until}. A locked phone may not ring: set its own alarm as well."
    ended = [entry for entry in answer.entries if entry.kind == Entry.Kind.ENDED]
    if not ended:
        return ""
    if getattr(answer.form, "over_already", False):
        return "That timer was over already. This was kept beside it; no step was logged twice."
    steps = Entry.objects.filter(kind=Entry.Kind.STEP, together__in={entry.together for entry in ended} - {None})
    lines = lines_of(list(steps.with_details().select_related("plan_line")))
    if not lines:
        return "The timer has ended."
    pots = f", in each of {len(lines)} {kind_of(answer.form.open_pots())}s" if len(lines) > 1 else ""
    return f"Logged: {lines[0].what}{pots}."
