"""What a picture shows, in words, for templates."""

from django import template

from batches import photos

register = template.Library()


@register.simple_tag
def cover_alt(run, segments=()):
    """``{% cover_alt run segments %}``: of the picture that leads a run, with the dyes of its colour bar."""
    return photos.alt_of_cover(run, segments) if run.cover_photo_id else run.name


@register.simple_tag
def colourway_alt(colourway, segments=()):
    """``{% colourway_alt colourway segments %}``: of the picture that stands for a colourway."""
    return photos.alt_of(colourway.name, "", segments)


@register.simple_tag
def photo_alt(run, entry):
    """``{% photo_alt run entry %}``: of a photo where it stands in the log, without the dyes."""
    return photos.alt_of(run.name, entry.photo.stage_words, words=entry.words)
