"""The demo studio's calendar: its days count back from today, and it works from Tuesday to Saturday."""

from datetime import datetime, time, timedelta

from django.utils import timezone

WEEK = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
CLOSED = ("mon", "sun")

# Of each month: what the cold tap gives [°C], and what the yard looks like from the door.
TAP_C = (7, 6, 7, 9, 12, 14, 16, 17, 15, 13, 10, 8)
YARD = (
    "Ice on the yard.",
    "Grey and raw, the door kept shut.",
    "Wind; nothing dries outside.",
    "First skeins on the line outside.",
    "Door open all day.",
    "Long light, dry by evening.",
    "Hot; the steam had nowhere to go.",
    "Thunder about, finished before it.",
    "Still warm enough to dry outside.",
    "Wet leaves in the yard, drying on the rack.",
    "Dark by five.",
    "Short day, lamps on.",
)


class Days:
    """Moments of the studio's year, by its own clock. None of them is later than `now`."""

    def __init__(self, now):
        self.now = now

    @property
    def zone(self):
        return timezone.get_current_timezone()

    @property
    def today(self):
        return timezone.localtime(self.now).date()

    def day(self, weeks, name):
        """The Tuesday, or whichever it is, of so many weeks ago."""
        monday = self.today - timedelta(days=self.today.weekday(), weeks=weeks)
        return monday + timedelta(days=WEEK.index(name))

    def at(self, day, clock):
        """That day at "9:20"."""
        hour, minute = map(int, clock.split(":"))
        return timezone.make_aware(datetime.combine(day, time(hour, minute)))

    def this_morning(self, clock="8:40"):
        """The last time it was that early, with two hours gone since: before breakfast that is yesterday's."""
        moment = self.at(self.today, clock)
        if moment > self.now - timedelta(hours=2):
            moment = self.at(self.today - timedelta(days=1), clock)
        return moment


def works_on(day):
    return WEEK[day.weekday()] not in CLOSED


def working_days_after(day, days):
    """So many of the studio's working days later."""
    while days:
        day += timedelta(days=1)
        days -= works_on(day)
    return day


def tap_c(day):
    return TAP_C[day.month - 1]


def yard(day):
    return YARD[day.month - 1]
