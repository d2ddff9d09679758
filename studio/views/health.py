"""For whatever watches over the server: two answers that tell nothing else."""

import logging
import os
import shutil

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError
from django.http import HttpResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from studio.models import Studio

LEAST_FREE_BYTES = 50_000_000

log = logging.getLogger("studio.health")


@login_not_required
@never_cache
@require_safe
def healthz(request):
    """The program runs."""
    return HttpResponse("ok\n", content_type="text/plain")


@login_not_required
@never_cache
@require_safe
def readyz(request):
    """It could take an entry and a photo now. Why not is for the log alone."""
    if reason := why_not_ready():
        log.error("Not ready: %s.", reason)
        return HttpResponse("not ready\n", content_type="text/plain", status=503)
    return HttpResponse("ready\n", content_type="text/plain")


def why_not_ready():
    try:
        Studio.objects.exists()
    except DatabaseError as error:
        return f"the database does not answer ({error})"
    if not os.access(settings.DATA, os.W_OK):
        return "the data folder cannot be written"
    if shutil.disk_usage(settings.DATA).free < LEAST_FREE_BYTES:
        return "the disk is full"
    return ""
