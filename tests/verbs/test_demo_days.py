"""The demo studio is whole at whatever hour, in whatever month and in whichever weekday's night it is told."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.apps import apps
from django.core.checks import run_checks
from django.db import models
from django.utils import timezone

from batches.demo import days, people
from batches.demo.story import Story
from batches.models import Entry, Run

ZONE = ZoneInfo(people.TIME_ZONE)
TO_BE = {"run.day", "lot.use_by", "timer.due_at"}  # what may lie ahead


def dated_later(now):
    """[column that holds a moment or a day after `now`, other than those that may]."""
    found = []
    for model in apps.get_models():
        if model._meta.app_label not in ("studio", "recipes", "batches"):
            continue
        for field in model._meta.fields:
            name = f"{model._meta.model_name}.{field.name}"
            if isinstance(field, models.DateField) and name not in TO_BE:
                latest = now if isinstance(field, models.DateTimeField) else timezone.localtime(now, ZONE).date()
                found += [name] if model.objects.filter(**{f"{field.name}__gt": latest}).exists() else []
    return found


def told_at(*moment, briefly=False):
    now = datetime(*moment, tzinfo=ZONE)
    with time_machine.travel(now, tick=False):
        story = Story(timezone.now())
        story.tell_briefly() if briefly else story.tell()
        return timezone.now(), run_checks(tags=["records"], include_deployment_checks=True, databases=["default"])


def is_whole(now, wrong):
    assert not wrong, "\n".join(map(str, wrong))
    assert not dated_later(now)
    kiln, jars = Run.objects.filter(state="running", colourway__name__in=["Kiln Door", "Quince Ledger"]).order_by("-pk")
    assert kiln.started_at == now - timedelta(minutes=92)
    assert timedelta(hours=1, minutes=50) < now - jars.started_at < timedelta(hours=26)
    for run in (kiln, jars):
        assert run.day == timezone.localtime(run.started_at, ZONE).date()
        assert Entry.objects.filter(batch__run=run).count() > 10
    ferry, *later = Run.objects.filter(state="planned").order_by("pk")
    assert ferry.day == timezone.localtime(now, ZONE).date() + timedelta(days=1)
    assert all(run.day > ferry.day and days.works_on(run.day) for run in later)


@pytest.mark.django_db
@pytest.mark.parametrize(
    "moment",
    [(2028, 2, 29, 0, 10), (2028, 12, 31, 23, 50)],
    ids=["ten past midnight on a leap day", "ten to midnight on the last Sunday of a year"],
)
def test_the_whole_year_is_told_at_any_hour(moment):
    is_whole(*told_at(*moment))
    past = Run.objects.filter(state="finished")
    assert all(days.works_on(run.day) for run in past)


@pytest.mark.django_db
@pytest.mark.parametrize(
    "moment",
    [(2026, 3, 29, 4, 0), (2026, 10, 25, 2, 30), (2027, 1, 1, 7, 0), (2026, 6, 1, 0, 10)],
    ids=["an hour after the clocks went on", "while they go back", "on New Year's Day", "in a Sunday's night in June"],
)
def test_it_is_told_briefly_at_any_hour(moment):
    is_whole(*told_at(*moment, briefly=True))


def test_working_days_leave_out_sunday_and_monday():
    friday = datetime(2026, 11, 27).date()
    assert [days.working_days_after(friday, number).isoformat() for number in (0, 1, 2)] == [
        "2026-11-27",
        "2026-11-28",
        "2026-12-01",
    ]
