"""The form of a spoken note."""

from django import forms
from django.conf import settings

from batches.forms.entries import EntryForm
from studio.sound import MOST_SECONDS


class Recording(forms.FileInput):
    """Record now, where the browser offers it, or choose a recording."""

    def __init__(self):
        super().__init__({"accept": "audio/*", "capture": True, "data-record": True, "data-most": MOST_SECONDS})


def limits():
    return (
        f"Up to {MOST_SECONDS // 60} minutes and {settings.UPLOAD_MB} MB: M4A, WebM, Ogg, MP3 or WAV. Where it was "
        "recorded is not kept."
    )


class TalkForm(EntryForm):
    """What was said at the pot, as a recording. After `intake.keep_talk` it has the `kept` Sound."""

    pots_words = ("{} only", "{}, the same note")
    kept = None

    sound = forms.FileField(
        label="The recording", widget=Recording, error_messages={"required": "Record something, or choose a recording."}
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["sound"].help_text = limits()
        note = self.fields["note"]
        note.label = "In words"
        note.help_text = "What it says, in short: by these words it is found, and read by whoever cannot hear it."

    def facts(self):
        return {"sound": self.kept}
