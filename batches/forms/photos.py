"""Forms of the photographs: several at once into the log, a crop for the cover, two side by side."""

from datetime import datetime
from decimal import Decimal

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.datastructures import MultiValueDict

from batches.forms.entries import EntryForm
from batches.models import Entry, PhotoTaken, TimeFrom
from batches.models.log import corrected
from batches.under_way import kind_of
from studio.darkroom import LEAST_CROP_PCT
from studio.forms.fields import FIRST_YEAR, LAST_YEAR, NumberField
from studio.forms.once import OnceForm
from studio.forms.widgets import Choices
from studio.units import write_count

MOST_AT_ONCE = 12
LONGEST_NAME = 60


class Photographs(forms.FileInput):
    """Several photos: those just taken and those chosen, in the boxes `name_taken` and `name`."""

    allow_multiple_selected = True
    template_name = "batches/_photographs.html"

    def value_from_datadict(self, data, files, name):
        if not isinstance(files, MultiValueDict):
            return [files[name]] if files and files.get(name) else []
        return [*files.getlist(f"{name}_taken"), *files.getlist(name)]

    def value_omitted_from_data(self, data, files, name):
        return not self.value_from_datadict(data, files, name)


class Times(forms.MultipleHiddenInput):
    """One time for each file, in their order: as many boxes as there are files. The page has an empty one."""

    def format_value(self, value):
        return value or [""]


class TimesField(forms.Field):
    """[aware datetime or None]: when each file was last written, which for a photo is when it was taken."""

    widget = Times

    def to_python(self, value):
        return [read_time(text) for text in (value or []) if str(text).strip()]


def read_time(text):
    """A time with its zone, as a phone writes it; anything else is not known, and no reason to refuse a photo."""
    try:
        at = datetime.fromisoformat(str(text).strip())
        return at if at.tzinfo and FIRST_YEAR <= at.year <= LAST_YEAR else None
    except (ValueError, OverflowError):
        return None


class PhotographsField(forms.FileField):
    widget = Photographs

    def clean(self, value, initial=None):
        if not value and self.required:
            raise ValidationError("Take a photo or choose one: none has arrived.", code="required")
        return value or []


def limits():
    """What can be sent at once, said before anything is chosen."""
    return (
        f"Up to {MOST_AT_ONCE} at once, {settings.UPLOAD_MB} MB each: JPEG, PNG, WebP or HEIC. Where a photo was taken "
        "is not kept."
    )


def name_of(file, number):
    """What to call a file that was sent: its own name, cut short, or its number."""
    name = "".join(letter for letter in str(file.name or "") if letter.isprintable()).strip()
    if not name:
        return f"Photo {number}"
    return f"“{name if len(name) <= LONGEST_NAME else name[: LONGEST_NAME - 1] + '…'}”"


class WithPhotos(EntryForm):
    """Has a field `photos`. After `intake.develop_photos` it has `pictures`, [(number, Picture)] of those kept, and
    `refused`, a sentence for each that could not be.
    """

    taken_at = TimesField(required=False)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.pictures, self.refused = [], []
        self.fields["photos"].help_text = limits()

    def taken(self, number):
        """When the file of this number, from 1, was taken, by the phone; None where it does not say so of each."""
        times = self.cleaned_data.get("taken_at") or []
        return times[number - 1] if len(times) == len(self.cleaned_data["photos"]) else None

    def own_time(self, picture):
        """When its line happened, as a stamp has it: as somebody said, else when it was taken, if on this pot's days.

        A photo that was sent hours later, or chosen in the evening, stands where it belongs; one from before the pot,
        or from a clock that runs ahead, stands where it was sent.
        """
        sent, now = self.cleaned_data.get("sent_at"), timezone.now()
        said = self.cleaned_data.get("when") or self.so_long_ago()
        if said or picture.taken_at is None or picture.taken_at > (self.cleaned_data.get("happened_at") or now):
            return {}
        # As the log will have it: a phone whose clock is wrong took it by that clock.
        at = corrected(picture.taken_at, sent_at=sent, received_at=now, time_from=TimeFrom.TOUCH)
        return {"happened_at": picture.taken_at} if timezone.localdate(at) >= self.batch.run.day else {}


class PhotoForm(WithPhotos):
    """One or several photos, each an entry of its own."""

    pots_words = ("{} only", "{}, the same photo")

    photos = PhotographsField(label="Photos")
    stage = forms.ChoiceField(label="What it shows", choices=PhotoTaken.Stage.choices, widget=Choices, required=False)
    about = forms.ModelChoiceField(queryset=Entry.objects.none(), widget=forms.HiddenInput, required=False)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["about"].queryset = Entry.objects.filter(batch=self.batch)
        note = self.fields["note"]
        note.label = "In words"
        note.help_text = "Read out to whoever cannot see it. Left empty, the colourway, the stage and the dyes are."
        self.initial.setdefault("stage", self.usual_stage)

    @property
    def usual_stage(self):
        return PhotoTaken.usual_stage(self.batch.where)

    def kept_words(self, pots):
        """What was kept, for a person: "3 photos kept, in each of 2 pots."."""
        kept = f"{write_count(len(self.pictures), 'photo')} kept"
        return f"{kept}, in each of {pots} {kind_of(self.open_pots())}s." if pots > 1 else f"{kept}."

    def facts(self):
        return {"stage": self.cleaned_data.get("stage") or self.usual_stage, "about": self.cleaned_data.get("about")}


class SliderInput(forms.TextInput):
    """A number between two ends, moved by touch or by the arrow keys."""

    input_type = "range"


class SliderField(NumberField):
    """A percentage that a slider gives."""

    def __init__(self, *, least=0, most=100, **kwargs):
        slider = SliderInput({"min": least, "max": most, "step": 1})
        super().__init__(least=least, most=most, unit="%", widget=slider, **kwargs)


class CropForm(OnceForm):
    """Where the crop of a photo lies, as `darkroom.frame_of` takes it."""

    across = SliderField(label="Middle, from left to right")
    down = SliderField(label="Middle, from top to bottom")
    size = SliderField(
        label="How much of it", least=LEAST_CROP_PCT, help_text="To the right: as much as fits. To the left: closer."
    )

    WHOLE = (Decimal(50), Decimal(50), Decimal(100))

    def numbers(self):
        """(across, down, size) as they were sent; where one can't be read, as the form began."""
        known = getattr(self, "cleaned_data", {})
        return tuple(
            known[name] if known.get(name) is not None else self.initial[name] for name in ("across", "down", "size")
        )
