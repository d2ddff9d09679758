"""A painted skein is done: one touch, and a photo of it where there is a hand free."""

from batches.models import PhotoTaken
from studio.forms.fields import WholeField

from .entries import EntryForm
from .photos import PhotographsField, limits


class SkeinForm(EntryForm):
    """After `intake.develop_any_photos` it has `pictures` and `refused`, as a `PhotoForm` has."""

    number = WholeField(label="Which skein", least=1, most=2000, required=False, help_text="Empty: the next one.")
    photos = PhotographsField(label="Its photo", required=False)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.pictures, self.refused = [], []
        self.fields["photos"].help_text = limits()

    @property
    def stage(self):
        return PhotoTaken.Stage.WET
