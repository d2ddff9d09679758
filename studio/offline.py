"""What a phone keeps of this program so that the sink opens without a network: files, and one page without a person.

Only files that carry a fingerprint in their name are kept, as such a file never changes. So there is no worker
where the storage gives none (while developing).
"""

import hashlib
import re
from functools import cache

from django.conf import settings
from django.contrib.staticfiles.storage import staticfiles_storage
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse

SCRIPTS = "studio/phone.js"  # what the worker itself reads


def has_worker():
    """Whether pages may ask the browser to keep them."""
    return hasattr(staticfiles_storage, "hashed_files")


@cache
def shell():
    """The page that is shown without a network, before what the phone kept is put into it."""
    return render_to_string("studio/shell.html", {"worker": has_worker()})


@cache
def files():
    """The addresses of all that the shell names."""
    named = re.findall(r'(?:href|src)="([^"]+)"', shell())
    return sorted({address for address in named if address.startswith(settings.STATIC_URL)})


@cache
def version():
    """Changes with each file that is kept, with the shell and with the worker."""
    said = "\n".join([shell(), static(SCRIPTS), worker_source(), *files()])
    return hashlib.sha256(said.encode()).hexdigest()[:16]


@cache
def worker_source():
    return render_to_string("studio/worker.js")


def facts():
    """What the worker has to know, as its first lines say it."""
    return {
        "version": version(),
        "shell": reverse("studio:shell"),
        "files": files(),
        "scripts": static(SCRIPTS),
        "static": settings.STATIC_URL,
    }
