"""Every form of every page, sent with what people and machines really type: never a crash, and nothing typed is lost.

The pages are found by walking the addresses, so a new form is covered the day it is written.
"""

from urllib.parse import urlsplit
from uuid import uuid4

import pytest
from django.db import transaction
from django.urls import URLPattern, get_resolver, reverse
from lxml import html

from batches.demo.story import Story
from batches.models import Batch, Entry, Run, TagPrint
from recipes.models import Recipe
from studio import doors
from studio.models import Base, Dye, Lot, Person, Picture, Studio

JUNK = {
    "empty": "",
    "spaces": "   ",
    "negative": "-5",
    "absurd": "99999999999999999999",
    "wrong unit": "3 bananas",
    "ambiguous": "1,000",
    "emoji": "🧶",
    "long": "x" * 10_000,
    "nul": "a\x00b\x1f",
    "markup": "<script>alert(1)</script>",
    "quotes": "'\";--",
    "not a number": "NaN",
    "a time": "2026-13-45T99:99",
}
TYPED = ("text", "search", "password", "url", "email", "tel", "date", "time", "datetime-local", "number", None)
HIDDEN_TOO = ("hidden", "radio", "select")


def patterns(resolver, prefix=""):
    for part in resolver.url_patterns:
        if isinstance(part, URLPattern):
            yield f"{prefix}{part.name}", part
        else:
            yield from patterns(part, f"{part.namespace}:" if part.namespace else prefix)


def sample(name, argument):
    """A value for an address's argument, from what the demo studio holds."""
    run = Run.objects.filter(state="finished").first()
    if argument == "code":
        running = Run.objects.filter(state="running").first()
        return (running if name in ("batches:finish", "batches:judge") else run).code
    if argument in ("id", "picture_id") and "picture" in name:
        return Picture.objects.first().pk
    if argument == "entry_id":
        return Entry.objects.filter(kind="addition", batch__state="running").first().pk
    if argument == "recipe_pk" or name.startswith("recipes:"):
        return (
            Recipe.objects.first().pk if "bottle" not in name else Lot.objects.filter(solution__isnull=False).first().pk
        )
    if name.startswith("batches:") and argument == "pk":
        return {"batches:colourway": Recipe.objects.first().colourway_id}.get(
            name, Batch.objects.filter(state="running").first().pk
        )
    kinds = {"base": Base, "dye": Dye, "person": Person}
    for word, model in kinds.items():
        if word in name:
            return model.objects.order_by("-pk").first().pk
    return {"size": "thumb", "sheet": getattr(TagPrint.objects.first(), "sheet", uuid4()), "name": "bottle"}.get(
        argument, Lot.objects.filter(solution__isnull=False).first().pk if "lot" in name else 1
    )


def addresses():
    """(view name, path) of every page that the owner may open."""
    for name, pattern in patterns(get_resolver()):
        door = doors.table().get(name)
        if door is None or "owner" not in door.read or name in ("studio:sign-in",):
            continue
        arguments = {argument: sample(name, argument) for argument in pattern.pattern.converters}
        yield name, reverse(name, kwargs=arguments)


def forms_of(path, page):
    """(action, fields, names to type in) of each form of a page that sends something."""
    if "html" not in page.headers.get("Content-Type", ""):
        return
    for form in html.fromstring(page.content).forms:
        if (form.method or "get").lower() != "post" or "sign-out" in (form.action or ""):
            continue
        fields = {
            key: value for key, value in form.fields.items() if value is not None and key != "csrfmiddlewaretoken"
        }
        typed = [
            box.name
            for box in form.inputs
            if box.name and (box.tag == "textarea" or box.tag == "input" and box.get("type") in TYPED)
        ]
        chosen = [
            box.name
            for box in form.inputs
            if box.name
            and (box.tag == "select" or getattr(box, "type", "") in HIDDEN_TOO)
            and box.name != "csrfmiddlewaretoken"
        ]
        yield urlsplit(form.action or path).path or path, fields, sorted(set(typed)), sorted(set(chosen))


def send(browser, action, fields):
    """The answer, with everything that it stored undone again."""
    with transaction.atomic():
        answer = browser.post(action, fields)
        transaction.set_rollback(True)
    return answer


def kept(answer, name, junk):
    """Whether the page that came back still holds what was typed in this box."""
    shown = html.fromstring(answer.content)
    boxes = shown.xpath("//*[@name=$name]", name=name)
    if not boxes:
        return True  # the page that came back has no such box: it moved on
    values = [box.text_content() if box.tag == "textarea" else box.get("value", "") for box in boxes]
    return any(value.strip() == junk.strip() for value in values)


def faults(browser, name, path):
    """Sentences about what went wrong with a page's forms."""
    page = browser.get(path)
    if page.status_code >= 500:
        yield f"{name}: {page.status_code} when opened"
    for action, fields, typed, chosen in forms_of(path, page):
        tries = [(kind, {**fields, **dict.fromkeys(typed, junk)}) for kind, junk in JUNK.items()] if typed else []
        tries += [(f"foreign {field}", {**fields, field: junk}) for field in chosen for junk in ("999999", "zzz", "")]
        tries.append(("nothing at all", {}))
        for kind, sent in tries:
            answer = send(browser, action, sent)
            if answer.status_code >= 500:
                yield f"{name} -> {action}: {answer.status_code} for {kind}"
            elif answer.status_code == 422 and kind in ("wrong unit", "ambiguous", "emoji", "negative"):
                lost = [field for field in typed if "password" not in field and not kept(answer, field, JUNK[kind])]
                if lost:
                    yield f"{name} -> {action}: {kind} typed in {', '.join(lost)} was lost"


@pytest.mark.django_db
def test_every_form_survives_what_is_typed(client_of):
    Story().tell()
    Studio.get()
    browser = client_of(Person.objects.get(name="Oda"))
    browser.raise_request_exception = False
    found = [fault for name, path in addresses() for fault in faults(browser, name, path)]
    assert not found, "\n".join(found)
