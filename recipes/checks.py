"""Rules of colourways and recipes that span rows; see `studio.checks_records`."""

from django.db.models import F

from studio.checks_records import Wrong, rules_of

from .models import Colourway


def a_standard_is_a_version_of_its_colourway():
    for colourway in Colourway.objects.filter(standard__isnull=False).exclude(standard__colourway=F("pk")):
        yield Wrong(
            colourway,
            f"The standard of {colourway} is a version of another colourway.",
            "Open the colourway and make one of its own versions the standard.",
        )


RULES = [a_standard_is_a_version_of_its_colourway]
ask = rules_of("R", RULES)
