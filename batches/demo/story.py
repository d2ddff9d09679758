"""A small invented studio, so that a newcomer sees what a kept journal looks like.

Everything here is made up: the people, the place, the yarns, dyes and colourways. It goes in through the same verbs
that the pages use, with a clock that is set back, so every rule of the record holds for it too. Its year is told in
chapters, each in a file of its own; the days are counted back from the day it is told.
"""

from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils import timezone

from batches import export, indexing

from . import busy_months, habits, once_more, people, plants_and_paint, second_chances, settling_in, shelf, today
from .people import PASSWORD, is_demo, is_empty
from .teller import Teller

__all__ = ["PASSWORD", "Story", "is_demo", "is_empty"]


class Story:
    """The year, told as of `now`: nothing in it is later, but what is planned for tomorrow."""

    def __init__(self, now=None):
        self.studio = Teller(now or timezone.now())

    def tell(self):
        """The whole year. Returns the owner."""
        with timezone.override(ZoneInfo(people.TIME_ZONE)):
            self.open()
            told = settling_in.tell(self.studio)
            plants_and_paint.tell(self.studio, told)
            second_chances.tell(self.studio, told)
            busy_months.tell(self.studio)
            today.tell(self.studio)
            once_more.kiln_doors_to_come(self.studio)
        indexing.survey(export.tables())
        return self.studio.who("Oda")

    def tell_briefly(self):
        """A few weeks and today: a page of every kind has something to show, and it is quickly told."""
        with timezone.override(ZoneInfo(people.TIME_ZONE)):
            self.open()
            settling_in.tell(self.studio)
            second_chances.quince_jars(self.studio)
            today.tell(self.studio)
        indexing.survey(export.tables())
        return self.studio.who("Oda")

    def open(self):
        self.studio.people = people.open_the_studio()
        with transaction.atomic():
            shelf.put_up()
            habits.put_down()
            shelf.take_delivery(52, self.studio.days, self.studio.who("Oda"))
            shelf.weigh_the_spoon(self.studio.days, self.studio.who("Wim"))
