"""Timers: what is waited for and how long, that it is over, and a little longer."""

from datetime import datetime, timedelta
from decimal import Decimal

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from batches.models import PlanLine, Reading, Timer, TimerEnded
from batches.models.timers import LONGEST_MIN
from studio.forms.fields import NumberField, WhenField, WholeField
from studio.forms.text import tidy
from studio.forms.widgets import Choices

from .entries import ALL, EntryForm, hidden
from .readings import ReadingForm

MORE_MIN = 10
DAY = timedelta(days=1)
CHOOSE = "Choose a timer on the sink page."
OTHER_LOG = "That timer is in another log: open that pot, and end it there."

# What is offered first, in minutes: from a rinse to a night of cooling and a day in the sun.
QUICK = (5, 10, 15, 20, 30, 45, 60, 90, 2 * 60, 4 * 60, 8 * 60, 24 * 60)


class ClockInput(forms.TextInput):
    """The browser's own box for a time of day; a plain one for text that the browser's own would not show."""

    input_type = "time"

    def get_context(self, name, value, attrs):
        context = super().get_context(name, value, {"autocomplete": "off", **(attrs or {})})
        if value and not WhenField.CLOCK.fullmatch(str(value)):
            context["widget"]["type"] = "text"
        return context


class TimerForm(EntryForm):
    """A timer begins: for a line of the plan, or by what it is for; so many minutes, or until a time of day."""

    usual_pots = ALL

    line = hidden(forms.ModelChoiceField, queryset=PlanLine.objects.none())
    what = forms.ChoiceField(label="What for", choices=Timer.What.choices, widget=Choices, required=False)
    quick = hidden(WholeField, least=1, most=LONGEST_MIN)
    minutes = NumberField(label="Minutes", unit="min", least=Decimal("0.5"), most=LONGEST_MIN, required=False)
    until = WhenField(label="Or until", help_text="Such as 19:30.", future=True, required=False, widget=ClockInput)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.initial.setdefault("what", Timer.What.HOLD)
        lines = PlanLine.objects.filter(batch=self.batch, dye=None, assistant=None, solution=None, water=False)
        self.fields["line"].queryset = lines

    def clean(self):
        cleaned = super().clean()
        line = cleaned.get("line")
        cleaned["what"] = cleaned.get("what") or (what_for(line.step) if line else Timer.What.HOLD)
        told = [name for name in ("minutes", "quick", "until") if cleaned.get(name)]
        wrong = {"minutes", "quick", "until"} & self.errors.keys()
        if len(told) > 1:
            self.add_error("minutes", "Say it once: so many minutes, or until when. Empty the other box.")
        elif not told and not wrong and not (line and line.minutes):
            self.add_error("minutes", "Write how many minutes, or until when.")
        if cleaned.get("until"):
            cleaned["until"] = self._ahead(cleaned["until"])
        return cleaned

    def _ahead(self, until):
        """A time of day is the first such time after it began: past midnight tomorrow's, and yesterday's where the
        phone had no network since.
        """
        began = timezone.localtime(self.cleaned_data.get("when") or self.so_long_ago() or self.touched_at())
        if WhenField.CLOCK.fullmatch(tidy(self.data.get("until", "")).strip()):
            until = datetime.combine(began.date(), timezone.localtime(until).time(), tzinfo=began.tzinfo)
            until += DAY if until <= began else timedelta(0)
        if not timedelta(0) < until - began <= timedelta(minutes=LONGEST_MIN):
            self.add_error("until", "That is over already, or too far ahead: write a time such as 19:30.")
        return until

    def facts(self, line=None):
        """What the verb takes; `line`: the planned line of that pot."""
        said = self.cleaned_data
        minutes = said.get("minutes") or said.get("quick") or (None if said.get("until") else said["line"].minutes)
        when = {"due_at": said["until"]} if said.get("until") else {"minutes": Decimal(minutes)}
        return {"what": said["what"], "plan_line": line, **when}


def what_for(step):
    """Which timer is for this kind of step."""
    kinds = {step: what for what, step in Timer.STEPS.items()}
    return kinds.get(step, Timer.What.OTHER)


class OfTimerForm(EntryForm):
    """About a timer, or all those that one touch started. One that has not come in yet is waited for."""

    usual_pots = ALL

    target = forms.UUIDField(widget=forms.HiddenInput, error_messages={"invalid": CHOOSE, "required": CHOOSE})

    def clean(self):
        cleaned = super().clean()
        self.named = []
        if cleaned.get("target"):
            named = Timer.objects.named_by(cleaned["target"]).select_related("entry__batch", "entry__plan_line")
            if any(timer.entry.batch.run_id != self.batch.run_id for timer in named):
                raise ValidationError(OTHER_LOG)
            together = {timer.entry.together for timer in named} - {None}
            if together and self.cleaned_data.get("pots") != "this":
                named = Timer.objects.filter(entry__together__in=together)
                named = named.select_related("entry__batch", "entry__plan_line")
            elif together:
                named = self._of_this_pot(together) or named
            self.named = list(named)
        return cleaned

    def _of_this_pot(self, together):
        here = Timer.objects.filter(entry__together__in=together, entry__batch=self.batch)
        return list(here.select_related("entry__batch", "entry__plan_line"))

    def chosen_pots(self):
        if not self.named:
            return super().chosen_pots() if self.cleaned_data.get("pots") == ALL else [self.batch.pk]
        return [self.batch.pk, *(timer.entry.batch_id for timer in self.named)]

    def targets(self, pots):
        """[(pot, target)] of the timers that still run; of all that were meant where none does. Pots are locked."""
        if not self.named:
            return [(pot, self.cleaned_data["target"]) for pot in pots]
        keys = [timer.pk for timer in self.named]
        running = set(Timer.objects.running().filter(pk__in=keys).values_list("pk", flat=True))
        self.over_already = not running
        meant = [timer for timer in self.named if timer.pk in running] or self.named
        return [(timer.entry.batch, timer.pk) for timer in meant]

    over_already = False


class TimerEndForm(OfTimerForm):
    outcome = forms.ChoiceField(
        choices=[
            (TimerEnded.Outcome.DONE, "Done"),
            (TimerEnded.Outcome.STOPPED, "Stopped, not done"),
        ],
        widget=forms.HiddenInput,
        required=False,
    )

    def facts(self, target):
        return {"target": target, "outcome": self.cleaned_data.get("outcome") or TimerEnded.Outcome.DONE}


class TimerMoreForm(OfTimerForm):
    """So many minutes more. What the timer is for is said too, for the case that it has not come in yet."""

    minutes = hidden(NumberField, least=Decimal("0.5"), most=LONGEST_MIN)
    what = hidden(forms.ChoiceField, choices=Timer.What.choices)

    def facts(self, target):
        said = self.cleaned_data
        return {
            "target": target,
            "minutes": said.get("minutes") or Decimal(MORE_MIN),
            "what": said.get("what") or Timer.What.OTHER,
        }


class LookForm(ReadingForm):
    """A reading; "not yet" may say at once in how many minutes to look again."""

    look = hidden(WholeField, least=1, most=1440)

    def clean(self):
        if self.cleaned_data.get("look"):
            if self.cleaned_data.get("clear") not in ("", Reading.Clear.NOT_YET):
                self.add_error("clear", "Look again only where it is not clear yet: press one of the four.")
            self.cleaned_data["clear"] = Reading.Clear.NOT_YET
        return super().clean()
