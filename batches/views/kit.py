"""The pages for logging to one pot, together, for a phone that keeps them: the very pages, drawn no second way."""

import re
from html import unescape

from django.http import JsonResponse
from django.urls import reverse
from django.utils.cache import add_never_cache_headers
from django.views.decorators.http import require_GET

from batches import intake, kept_pages
from batches.models import PlanLine
from batches.views import entries
from batches.views.sink import the_batch

MOST_LINES = 12  # planned lines whose own page is kept
TITLE = re.compile(r"<title>(.*?)</title>", re.S)
MAIN = re.compile(r"<main\b.*</main>", re.S)
TOKEN = re.compile(
    r'(name="csrfmiddlewaretoken" value=")[^"]*'
)  # read when sending: not for keeping, and no small thing


@require_GET
def kit(request, pk):
    batch = the_batch(pk)
    kept = [page_of(request, batch, name) for name in entries.PAGES if name != "tick"]
    kept += [page_of(request, batch, "tick", line) for line in lines_left(batch)]
    answer = JsonResponse({"version": kept_pages.version(batch), "pages": [page for page in kept if page]})
    add_never_cache_headers(answer)
    return answer


def lines_left(batch):
    left = PlanLine.objects.filter(batch=batch).with_done().filter(done=False)
    return list(left.order_by("position").values_list("pk", flat=True)[:MOST_LINES])


def page_of(request, batch, name, line=None):
    """{path, title, html} of one page as it is drawn for this person, or None where there is none."""
    page = entries.PAGES[name]
    form = intake.KINDS[page.kind].form(
        None,
        batch=batch,
        person=request.dyeing,
        initial={"kind": page.kind} | ({"line": line} if line else {}),
    )
    drawn = entries.entry_page(request, batch, name, form).content.decode()
    title, main = TITLE.search(drawn), MAIN.search(drawn)
    path = reverse("batches:entry", args=[batch.pk, name]) + (f"?line={line}" if line else "")
    return {"path": path, "title": unescape(title[1]), "html": TOKEN.sub(r"\1", main[0])} if main else None
