"""A painted skein is done: one touch, and a photo of it where there is a hand free."""

from batches.models import PhotoTaken
from studio.forms.fields import WholeField

from .photos import PhotographsField, WithPhotos


class SkeinForm(WithPhotos):
    """Its number, where it is said, and its photos."""

    number = WholeField(label="Which skein", least=1, most=2000, required=False, help_text="Empty: the next one.")
    photos = PhotographsField(label="Its photo", required=False)

    @property
    def stage(self):
        return PhotoTaken.Stage.WET
