"""The plainest views, to measure the others against: sign-in checked, one insert or one count, one answer."""

from uuid import uuid4

from django.http import JsonResponse
from django.urls import include, path
from django.utils import timezone

from batches.models import Run
from studio import doors
from studio.models import Taken


def insert(request):
    Taken.objects.create(id=uuid4(), url="/", at=timezone.now(), by=request.user)
    return JsonResponse({}, status=201)


def count(request):
    return JsonResponse({"runs": Run.objects.count()})


urlpatterns = [
    path("", include("studio.urls")),
    path("bare-insert/", insert, name="bare-insert"),
    path("bare-count/", count, name="bare-count"),
]

doors.table()["bare-insert"] = doors.Door(read=doors.NOBODY, write=doors.EVERYONE)
doors.table()["bare-count"] = doors.Door(read=doors.EVERYONE)
