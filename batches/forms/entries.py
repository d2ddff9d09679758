"""The forms of the log: one for each kind of thing that is said, whichever way it comes in.

All share who, when, which pots and a note. At the pot nothing is required but what happened: an empty time is
now, an empty amount was not measured.
"""

import hashlib
import json
from datetime import timedelta
from decimal import Decimal
from uuid import UUID, uuid4

from babel.numbers import get_decimal_symbol
from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.utils import timezone
from django.utils.text import capfirst

from batches import again
from batches.models import Batch, BatchYarn, Check, Entry, Move, Reading, State, TimeFrom, Whereabouts
from batches.models.log import corrected
from recipes.models import HouseStep, RecipeStep
from studio import units, writing
from studio.forms.base import QuietBoundField, StudioForm
from studio.forms.fields import AmountField, NumberField, WhenField, WholeField, WordsField
from studio.forms.supplies import LocalAmountField, temperatures
from studio.forms.text import tidy
from studio.forms.widgets import Choices
from studio.models import Person

THIS, ALL = "this", "all"
NOT_OF_THE_CONTENT = ("id", "sent_at", "offset")  # they differ when the same thing is sent again
LONGEST_BEFORE = timedelta(days=366)
BATHS_STAND = timedelta(days=3)  # how long a finished pot's bath may still be used again
MOST_AGAIN = 20
NOT_FOUND_AGAIN = "What was to be done again can't be found: log it here as a line of its own."
SET = "set"
AGO = [("", "Now"), ("5", "5 min ago"), ("15", "15 min ago"), ("30", "30 min ago"), (SET, "Set it")]


def hidden(field, **kwargs):
    return field(widget=forms.HiddenInput, required=False, **kwargs)


class EntryForm(StudioForm):
    """Who did it, when, in which pots; what was sent, and the number it was sent under.

    `usual_pots` is meant where nothing is said: planned lines go to all pots, the rest to this one.
    """

    bound_field_class = QuietBoundField
    usual_pots = THIS
    pots_words = ("{} only", "All {} pots, the same in each")
    padded = ()  # names of boxes that large keys on the page write into

    id = forms.UUIDField(widget=forms.HiddenInput)
    kind = forms.CharField(widget=forms.HiddenInput)
    sent_at = hidden(WhenField, future=True)
    offset = hidden(WholeField, least=-840, most=840)
    happened_at = hidden(WhenField, future=True)
    pots = forms.ChoiceField(choices=[(THIS, THIS), (ALL, ALL)], widget=Choices, required=False, label="Which pots")
    ago = forms.ChoiceField(label="When", choices=AGO, widget=Choices, required=False)
    when = WhenField(label="The day and the time", required=False)
    paper = forms.BooleanField(label="The time is from paper notes", required=False)
    on_page = forms.UUIDField(widget=forms.HiddenInput, required=False)  # the photo of the notes it was copied from
    by = forms.ModelChoiceField(queryset=Person.objects.none(), label="Who did it", required=False, empty_label=None)
    note = WordsField(label="Note", rows=2, max_length=2000, required=False)

    def __init__(self, data=None, files=None, *, batch, person, **kwargs):
        self.batch, self.person = batch, person
        initial = {"id": uuid4(), "by": person.pk, "pots": self.usual_pots} | kwargs.pop("initial", {})
        super().__init__(data, files, initial=initial, **kwargs)
        # Where a name is touched and no password said, it is one of those that can be touched.
        on_phone = person.on_phone
        self.fields["by"].queryset = Person.objects.who_dye() if on_phone else Person.objects.filter(is_active=True)
        for name in self.padded:
            self.fields[name].widget.attrs["data-pad"] = get_decimal_symbol(writing.current().locale)

    def name_pots(self):
        """Say which pots there are to choose from. For a page that draws the form; not needed to read what was sent."""
        others = self.open_pots()
        if len(others) < 2:
            self.fields["pots"].widget = forms.HiddenInput()
            return
        this, together = self.pots_words
        words = together.format(len(others)).replace("All 2 pots", "Both pots")
        self.fields["pots"].choices = [(THIS, this.format(self.batch.pot_name)), (ALL, words)]

    def open_pots(self):
        """This pot and those of its run that are as far: unfinished ones, or all of a run that is over."""
        if not hasattr(self, "_open_pots"):
            pots = list(Batch.objects.filter(run_id=self.batch.run_id).order_by("pk"))
            over = (State.FINISHED, State.ABANDONED)
            if self.batch.state not in over:
                pots = [pot for pot in pots if pot.state not in over]
            self._open_pots = pots
        return self._open_pots

    def chosen_pots(self):
        """The keys of the pots that were meant."""
        meant = self.cleaned_data.get("pots") or self.usual_pots
        return [pot.pk for pot in self.open_pots()] if meant == ALL else [self.batch.pk]

    # --- what was sent

    def sent_id(self):
        """The number that came with it, or None where it is not one."""
        try:
            return UUID(str(self.data.get("id", ""))[:60])
        except ValueError:
            return None

    def digest(self):
        """A fingerprint of what was sent, so that a replay is told from something else under the same number.

        Empty fields are left out: a page of an older version, without them, says the same.
        """
        said = {"batch": str(self.batch.pk)}
        for name, field in self.fields.items():
            value = self._plain(field.widget.value_from_datadict(self.data, self.files, self.add_prefix(name)))
            if value and name not in NOT_OF_THE_CONTENT:
                said[name] = value
        return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()

    @staticmethod
    def _plain(value):
        if isinstance(value, tuple):  # an amount and its unit
            typed = tidy(str(value[0] or "")).strip()
            return [typed, tidy(str(value[1] or ""))] if typed else ""
        if isinstance(value, list):
            said = [file_digest(part) if hasattr(part, "chunks") else str(part) for part in value]
            return said if any(said) else ""
        if hasattr(value, "chunks"):
            return file_digest(value)
        return "" if value in (None, False) else tidy(str(value)).strip()

    def as_new(self):
        """The same page with what was typed, under a number of its own."""
        data = self.data.copy()
        data["id"] = str(uuid4())
        return type(self)(data, None, batch=self.batch, person=self.person)

    # --- who and when

    def clean_when(self):
        when = self.cleaned_data["when"]
        if when is not None and when.date() < self.batch.run.day - LONGEST_BEFORE:
            raise ValidationError("That is long before this pot: check the day, and write it again.")
        return when

    def clean_on_page(self):
        """The entry of that photo, where it is of this run; a line does not wait for its page."""
        key = self.cleaned_data["on_page"]
        pages = Entry.objects.filter(kind=Entry.Kind.PHOTO, batch__run_id=self.batch.run_id)
        return pages.filter(pk=key).first() if key else None

    def clean(self):
        cleaned = super().clean()
        ago, when = cleaned.get("ago"), cleaned.get("when")
        if when and ago not in (None, "", SET):
            self.add_error(
                "when", f"Choose “{dict(AGO)[SET]}” for this time, or empty it: “{dict(AGO)[ago]}” is chosen."
            )
        elif not when and "when" not in self.errors:
            if cleaned.get("paper"):
                self.add_error("when", "Write the time that the paper says, or take the tick away.")
            elif ago == SET:
                self.add_error("when", "Write when it was, or choose “Now”.")
        return cleaned

    def stamped(self):
        """Who and when, as `Stamp` takes it."""
        said = self.cleaned_data
        when = said.get("when") or self.so_long_ago()
        time_from = (TimeFrom.PAPER if said.get("paper") else TimeFrom.SAID) if when else TimeFrom.TOUCH
        happened_at = when or said.get("happened_at")
        offset = said.get("offset")
        if offset is None:
            offset = int(timezone.localtime(happened_at or timezone.now()).utcoffset().total_seconds() // 60)
        return {
            "by": said.get("by") or self.person,
            "happened_at": happened_at,
            "offset_min": offset,
            "sent_at": said.get("sent_at"),
            "time_from": time_from,
            "words": said.get("note", ""),
            "because": said.get("on_page"),
        }

    def touched_at(self):
        """When it was touched, by our clock: however late it is sent, and by whatever clock the phone goes."""
        now, sent_at = timezone.now(), self.cleaned_data.get("sent_at")
        touched = self.cleaned_data.get("happened_at") or sent_at or now
        return corrected(touched, sent_at=sent_at, received_at=now, time_from=TimeFrom.TOUCH)

    def so_long_ago(self):
        """The moment that "15 min ago" was, counted from the touch; None where that is not said."""
        ago = self.cleaned_data.get("ago")
        return None if ago in (None, "", SET) else self.touched_at() - timedelta(minutes=int(ago))


def file_digest(file):
    found = hashlib.sha256()
    for chunk in file.chunks():
        found.update(chunk)
    file.seek(0)
    return found.hexdigest()


class ReadingForm(EntryForm):
    padded = ("temperature", "ph")

    temperature = LocalAmountField(temperatures, label="Temperature", least=-20, most=200, required=False)
    ph = NumberField(label="pH", help_text="Of a spoonful that has cooled.", least=0, most=14, required=False)
    clear = forms.ChoiceField(
        label="Is the bath clear?",
        choices=[(value, capfirst(label)) for value, label in Reading.Clear.choices if value],
        widget=Choices,
        required=False,
    )

    def clean(self):
        cleaned = super().clean()
        if not self.errors and not (
            cleaned.get("temperature") or cleaned.get("ph") is not None or cleaned.get("clear")
        ):
            if self.data.get("page") == "clear":
                self.add_error("clear", "Say how clear the bath is: press one of the three.")
            else:
                self.add_error("temperature", "Write a temperature or a pH, or say how clear the bath is.")
        return cleaned

    def facts(self):
        said = self.cleaned_data
        return {
            "temperature_c": celsius(said.get("temperature")),
            "ph": said.get("ph"),
            "clear": said.get("clear") or "",
        }


def celsius(amount):
    return None if amount is None else units.to_c(*amount)


FIRST_STEPS = ("heat", "hold", "cool")


def steps():
    """What is done to a pot, the usual first: [(kind, word)]."""
    words = dict(RecipeStep.Kind.choices) | {RecipeStep.Kind.OTHER.value: "Something else"}
    del words[RecipeStep.Kind.ADD]
    return [(kind, words.pop(kind)) for kind in FIRST_STEPS] + list(words.items())


class StepForm(EntryForm):
    padded = ("temperature", "minutes")

    step = forms.ChoiceField(label="What was done", choices=steps, widget=Choices)
    temperature = LocalAmountField(temperatures, label="Temperature", least=-20, most=200, required=False)
    minutes = NumberField(label="How long", unit="min", least=Decimal("0.1"), most=20160, required=False)

    def clean(self):
        cleaned = super().clean()
        if cleaned.get("step") == RecipeStep.Kind.OTHER and not cleaned.get("note") and "note" not in self.errors:
            self.add_error("note", "Write what was done, and choose it again.")
        return cleaned

    def facts(self):
        said = self.cleaned_data
        return {"kind": said["step"], "temperature_c": celsius(said.get("temperature")), "minutes": said.get("minutes")}


class UsualForm(EntryForm):
    """A step of the studio's own, done as usual."""

    pots_words = ("{} only", "All {} pots")

    house_step = forms.ModelChoiceField(
        queryset=HouseStep.objects.all(), label="As usual", widget=Choices, empty_label=None
    )

    def facts(self):
        step = self.cleaned_data["house_step"]
        known = {"temperature_c": step.temperature_c, "minutes": step.minutes}
        return {"kind": step.kind, "house_step": step} | known


class SourcesField(forms.Field):
    """Ids of what is to be said again, or the numbers it was sent under, which is all that a phone without a network
    knows. As UUIDs.
    """

    widget = forms.MultipleHiddenInput

    def to_python(self, value):
        try:
            return [UUID(str(said)[:60]) for said in value or ()][:MOST_AGAIN]
        except ValueError:
            raise ValidationError(NOT_FOUND_AGAIN) from None


class AgainForm(EntryForm):
    """The same as another pot of this run has just had."""

    source = SourcesField()

    def clean_source(self):
        keys = self.cleaned_data["source"]
        named = Entry.objects.with_details().filter(Q(pk__in=keys) | Q(together__in=keys))
        found = list(named.filter(batch__run_id=self.batch.run_id).in_order())
        known = {entry.pk for entry in found} | {entry.together for entry in found}
        of_one_pot = len({entry.batch_id for entry in found}) == 1
        if not of_one_pot or not known >= set(keys) or not all(again.may_be_repeated(entry) for entry in found):
            raise ValidationError(NOT_FOUND_AGAIN)
        return found


class MoveForm(EntryForm):
    """The yarn is somewhere else now; or yarn or liquor went in or out."""

    what = forms.ChoiceField(label="What moved", choices=Move.What.choices, widget=Choices, required=False)
    where = forms.ChoiceField(
        label="Where the yarn is now",
        choices=[(value, label) for value, label in Whereabouts.choices if value != Whereabouts.SHELF],
        widget=Choices,
        required=False,
    )
    skeins = WholeField(label="Skeins", least=0, most=2000, stepper=True, required=False)
    weight = AmountField(
        ("g", "oz"), label="Weight of the yarn", above_zero=True, least=Decimal("0.001"), most=500_000, required=False
    )
    volume = AmountField(
        ("L", "mL", "fl_oz"),
        label="How much liquor",
        above_zero=True,
        least=Decimal("0.001"),
        most=500_000,
        required=False,
    )
    yarn = forms.ModelChoiceField(
        queryset=BatchYarn.objects.none(), label="Which yarn", required=False, empty_label="All of it"
    )
    other_batch = forms.ModelChoiceField(
        queryset=Batch.objects.none(),
        label="From or to",
        required=False,
        empty_label="No other pot",
        help_text="A bath that is used again comes from the pot it was in.",
    )
    keep_as = WordsField(
        label="Keep the liquor in a bottle called",
        max_length=80,
        required=False,
        help_text="Empty: it is not kept. What a kept liquor holds, nobody knows.",
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["yarn"].queryset = BatchYarn.objects.named().filter(batch=self.batch)
        self.fields["other_batch"].queryset = (
            Batch.objects.filter(
                Q(run__state__in=[State.PLANNED, State.RUNNING]) | Q(finished_at__gt=timezone.now() - BATHS_STAND)
            )
            .exclude(pk=self.batch.pk)
            .select_related("run__colourway", "vessel")
            .order_by("-run__day", "run_id", "number")
        )

    def clean(self):
        cleaned = super().clean()
        what = cleaned.get("what") or Move.What.WHERE
        cleaned["what"] = what
        if what == Move.What.WHERE and not cleaned.get("where") and "where" not in self.errors:
            self.add_error("where", "Choose where the yarn is now.")
        if what not in (Move.What.YARN_IN, Move.What.YARN_OUT):
            self._only("skeins", "Skeins go with “Yarn in” or “Yarn out”: choose one of those, or empty this.")
            self._only("weight", "A weight goes with “Yarn in” or “Yarn out”: choose one of those, or empty this.")
        if what not in (Move.What.LIQUOR_IN, Move.What.LIQUOR_OUT):
            self._only("volume", "A volume goes with “Liquor in” or “Liquor out”: choose one of those, or empty this.")
        if cleaned.get("keep_as") and what != Move.What.LIQUOR_OUT:
            self.add_error("keep_as", "Only liquor that went out is kept: choose “Liquor out”, or empty this.")
        elif cleaned.get("keep_as") and not cleaned.get("volume") and "volume" not in self.errors:
            self.add_error("volume", "Say about how much liquor the bottle holds.")
        if cleaned.get("yarn") and cleaned.get("pots") == ALL:
            self.add_error("yarn", f"This yarn is in one pot only: choose “{self.batch.pot_name} only”.")
        return cleaned

    def _only(self, name, sentence):
        if self.cleaned_data.get(name) is not None:
            self.add_error(name, sentence)

    def facts(self):
        said = self.cleaned_data
        weight, volume = said.get("weight"), said.get("volume")
        return {
            "what": said["what"],
            "where": (said.get("where") or "") if said["what"] == Move.What.WHERE else "",
            "skeins": said.get("skeins"),
            "grams": units.to_g(*weight) if weight else None,
            "volume_ml": units.to_ml(*volume) if volume else None,
            "yarn": said.get("yarn"),
            "other_batch": said.get("other_batch"),
            "keep_as": said.get("keep_as") or "",
        }


class WordsForm(EntryForm):
    pots_words = ("{} only", "All {} pots")

    note = WordsField(label="Note", rows=4, max_length=4000)


class WorkForm(EntryForm):
    """Minutes of hands. Said for all pots, they are split over them."""

    usual_pots = ALL
    pots_words = ("{} only", "All {} pots, split evenly")
    padded = ("minutes",)

    minutes = NumberField(label="Minutes", unit="min", least=Decimal("0.1"), most=1440, required=False)
    quick = hidden(WholeField, least=1, most=1440)

    def clean(self):
        cleaned = super().clean()
        if cleaned.get("minutes") and cleaned.get("quick"):
            self.add_error(
                "minutes", "One number is written and another was touched: empty the box, or log what it says."
            )
        minutes = cleaned.get("minutes") or cleaned.get("quick")
        if minutes is None and not {"minutes", "quick"} & self.errors.keys():
            self.add_error("minutes", "Write how many minutes it took.")
        cleaned["minutes"] = None if minutes is None else Decimal(minutes)
        return cleaned


HALVES = [
    (f"{half / 2:g}", f"{half / 2:g}" if half % 2 == 0 else f"{half // 2}-{half // 2 + 1}") for half in range(2, 11)
]


class CheckForm(EntryForm):
    """Does it bleed, does it rub off; grades only from real cards or a laboratory."""

    what = forms.ChoiceField(label="Which check", choices=Check.What.choices, widget=Choices)
    result = forms.ChoiceField(
        label="What came off",
        choices=[(value, capfirst(label)) for value, label in Check.Result.choices if value],
        widget=Choices,
        required=False,
    )
    rinses = WholeField(label="Ran clear at rinse", least=1, most=50, stepper=True, required=False)
    water = LocalAmountField(temperatures, label="Water", least=0, most=100, required=False)
    change_grade = forms.ChoiceField(
        label="Change of colour",
        help_text="By the grey scale, 5 is none; leave it without one.",
        choices=[("", "Not judged"), *HALVES],
        required=False,
    )
    stain_grade = forms.ChoiceField(
        label="Staining",
        help_text="By the grey scale, 5 is none; leave it without one.",
        choices=[("", "Not judged"), *HALVES],
        required=False,
    )
    standard = WordsField(
        label="Which method", help_text="Such as a standard wash at 40.", max_length=80, required=False
    )
    because = forms.ModelChoiceField(queryset=Entry.objects.none(), widget=forms.HiddenInput, required=False)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["because"].queryset = Entry.objects.filter(batch__run_id=self.batch.run_id)

    def clean(self):
        cleaned = super().clean()
        what, graded = cleaned.get("what"), bool(cleaned.get("change_grade") or cleaned.get("stain_grade"))
        if (
            what in ("cloth", "rub_dry", "rub_wet", "wash")
            and not cleaned.get("result")
            and "result" not in self.errors
        ):
            self.add_error("result", "Say what came off: nothing, a trace, some, a lot, or still running.")
        if (
            what == "rinse"
            and not cleaned.get("rinses")
            and not cleaned.get("result")
            and not {"rinses", "result"} & self.errors.keys()
        ):
            self.add_error("rinses", "Say at which rinse the water ran clear, or what still came off.")
        if what in ("cards", "sent") and not graded:
            self.add_error("change_grade", "Choose a grade that the cards or the report gave.")
        if what in ("cards", "sent") and not cleaned.get("standard") and "standard" not in self.errors:
            self.add_error("standard", "Name the method the grade is by, such as the number of a standard.")
        if what and what not in ("cards", "sent") and graded:
            self.add_error(
                "change_grade",
                "Grades are read from grey-scale cards or a report: choose one of those, or leave the grades out.",
            )
        if what == "remedy" and not cleaned.get("note") and "note" not in self.errors:
            self.add_error("note", "Write what was done about it.")
        return cleaned

    def facts(self):
        said = self.cleaned_data
        return {
            "what": said["what"],
            "result": said.get("result") or "",
            "rinses": said.get("rinses"),
            "water_c": celsius(said.get("water")),
            "change_grade": Decimal(said["change_grade"]) if said.get("change_grade") else None,
            "stain_grade": Decimal(said["stain_grade"]) if said.get("stain_grade") else None,
            "standard": said.get("standard", ""),
            "because": said.get("because"),
        }
